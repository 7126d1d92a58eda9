package review_test

import (
	"math/rand/v2"
	"testing"

	"tautline/geo/gpxfile"
	"tautline/geo/simulate"
	"tautline/geo/track"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// raceOn is the race on a simulated course, drawn with these points on a road
// that is said to be so wide with corner kerbs of such a radius, m.
func raceOn(drawn []track.Fix, width, radius float64) (*race.Race, error) {
	s := &sheet.Sheet{}
	s.Road.Width, s.Road.CornerRadius = &width, &radius
	return race.Prepare("course", &gpxfile.File{Lines: []track.Line{{Name: "course", Segments: [][]track.Fix{drawn}}}}, s)
}

// anyRun is a race on a simulated course, and the run of anybody in it.
func anyRun(t *testing.T, kind simulate.Kind, length float64, rng *rand.Rand) (*race.Race, simulate.Truth) {
	t.Helper()
	c := simulate.RandomCourse(kind, length, rng)
	r, err := raceOn(c.Fixes(), c.Width, c.CornerRadius)
	if err != nil {
		t.Fatalf("%v course: %v", kind, err)
	}
	truth, err := anyRunner(rng).Run(simulate.Along(r.Road, r.Line), rng)
	if err != nil {
		t.Fatalf("%v course: %v", kind, err)
	}
	return r, truth
}

// anyRunner draws a runner from those whom a race may see: from one who holds
// the line to one who keeps 4 m from it in the turns, from 2.5 to 4.5 m/s.
func anyRunner(rng *rand.Rand) simulate.Runner {
	return simulate.Runner{
		ApexMiss: 4 * rng.Float64(), ApexSpread: 0.8 * rng.Float64(),
		WeaveSD: 0.1 + 0.7*rng.Float64(), WeaveLength: 15 + 45*rng.Float64(),
		DriftSD: 2 * rng.Float64(), DriftLength: 100 + 400*rng.Float64(),
		Speed: 2.5 + 2*rng.Float64(), SpeedSD: 0.05 * rng.Float64(), SpeedLength: 300 + 1500*rng.Float64(),
	}
}
