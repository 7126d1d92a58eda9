package review_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"tautline/geo/earth"
	"tautline/geo/record"
	"tautline/geo/simulate"
	"tautline/geo/track"
	"tautline/strategy/review"
)

// The town of these tests, in metres.
var town = earth.NewPlane(earth.LatLon{Lat: 47, Lon: -29})

// drawnIn is a course through points of the town.
func drawnIn(points ...orb.Point) []track.Fix {
	out := make([]track.Fix, len(points))
	for i, p := range points {
		out[i] = track.Fix{At: town.From(p), Height: math.NaN()}
	}
	return out
}

// runAlong is the record of somebody who ran through points of the town at
// 3.6 m/s, one fix a second, with an error that fades in a minute.
func runAlong(rng *rand.Rand, points ...orb.Point) []track.Fix {
	var way []orb.Point
	left := 0.0 // m to the next fix
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		l := math.Hypot(b[0]-a[0], b[1]-a[1])
		for ; left <= l; left += 3.6 {
			way = append(way, orb.Point{a[0] + left/l*(b[0]-a[0]), a[1] + left/l*(b[1]-a[1])})
		}
		left -= l
	}
	wrong := faded(1.5, 60, 0.3)(len(way), rng)
	out := make([]track.Fix, len(way))
	for i, p := range way {
		out[i] = track.Fix{At: town.From(orb.Point{p[0] + wrong[i][0], p[1] + wrong[i][1]}), Height: math.NaN(),
			Time: time.Date(2031, 5, 4, 9, 0, i, 0, time.UTC)}
	}
	return out
}

func itemOf(v *review.Review, cause string) float64 {
	for _, i := range v.Ledger {
		if i.Cause == cause {
			return i.Metres.Value
		}
	}
	return 0
}

// An out and back of 3 km on a street of 8 m whose turn-around was made too
// soon: what was run is less than the line by twice that.
func TestTurningBeforeTheTurnAroundIsLessThanTheCourse(t *testing.T) {
	r, err := raceOn(drawnIn(orb.Point{0, 0}, orb.Point{1500, 0}, orb.Point{0, 0}), 8, 5)
	if err != nil {
		t.Fatal(err)
	}
	for k, early := range []float64{0, 25, 50, 100, 300} {
		const seed = 94200
		rng := simulate.Rand(seed+uint64(k), 7)
		end := 1500 - early
		fixes := runAlong(rng, orb.Point{-30, -1}, orb.Point{end, -1}, orb.Point{end + 1, 0}, orb.Point{end, 1}, orb.Point{-30, 1})
		v := reviewOf(t, r, fixes, review.Options{})
		truth := 2*end + 2*(math.Sqrt2-1) - r.Line.Length
		if !v.Extra.Holds(truth) || math.Abs(v.Extra.Value-truth) > 12 {
			t.Errorf("seed %d, turned %g m early: extra %v, in truth %.1f m", seed+k, early, v.Extra, truth)
		}
	}
}

// A block of which a corner was cut off across a square.
func TestACornerCutOffIsLessThanTheCourse(t *testing.T) {
	r, err := raceOn(drawnIn(orb.Point{0, 0}, orb.Point{1000, 0}, orb.Point{1000, 1000}), 8, 5)
	if err != nil {
		t.Fatal(err)
	}
	for k, cut := range []float64{0, 100, 300} {
		const seed = 94300
		rng := simulate.Rand(seed+uint64(k), 7)
		fixes := runAlong(rng, orb.Point{-30, 1}, orb.Point{999 - cut, 1}, orb.Point{999, 1 + cut}, orb.Point{999, 1030})
		v := reviewOf(t, r, fixes, review.Options{})
		truth := (999 - cut) + cut*math.Sqrt2 + (999 - cut) - r.Line.Length
		if !v.Extra.Holds(truth) || math.Abs(v.Extra.Value-truth) > 12 {
			t.Errorf("seed %d, cut from %g m before the corner: extra %v, in truth %.1f m", seed+k, cut, v.Extra, truth)
		}
		said := slices.ContainsFunc(v.Notes, func(n string) bool { return strings.HasPrefix(n, "part of the course was not run") })
		if off := itemOf(v, "off the course"); (off < -20) != (cut > 0) || said != (cut > 0) {
			t.Errorf("seed %d, cut from %g m before the corner: %.0f m off the course", seed+k, cut, off)
		}
	}
}

// Ten minutes at an aid station are no distance, and not the runner's.
func TestStandingIsBookedToTheWatch(t *testing.T) {
	r, err := raceOn(drawnIn(orb.Point{0, 0}, orb.Point{3000, 0}), 8, 5)
	if err != nil {
		t.Fatal(err)
	}
	const seed = 94400
	rng := simulate.Rand(seed, 7)
	fixes := runAlong(rng, orb.Point{-20, 0}, orb.Point{3020, 0})
	half := len(fixes) / 2
	at := town.To(fixes[half].At)
	var stood []track.Fix
	for i := range 600 {
		stood = append(stood, track.Fix{At: town.From(orb.Point{at[0] + 0.5*rng.NormFloat64(), at[1] + 0.5*rng.NormFloat64()}), Height: math.NaN(),
			Time: fixes[half].Time.Add(time.Duration(i+1) * time.Second)})
	}
	for i := half + 1; i < len(fixes); i++ {
		fixes[i].Time = fixes[i].Time.Add(600 * time.Second)
	}
	fixes = append(append(append([]track.Fix{}, fixes[:half+1]...), stood...), fixes[half+1:]...)
	v := reviewOf(t, r, fixes, review.Options{})
	if standing, gaps := itemOf(v, "standing"), itemOf(v, "gaps"); standing < 300 || math.Abs(gaps) > 40 {
		t.Errorf("seed %d: standing %.0f m, gaps %.0f m of a record of %.0f m", seed, standing, gaps, v.Recorded)
	}
	if math.Abs(v.Extra.Value) > 15 {
		t.Errorf("seed %d: extra %v", seed, v.Extra)
	}
}

func TestAWatchThatCannotHaveShownThatIsRefused(t *testing.T) {
	r, err := raceOn(drawnIn(orb.Point{0, 0}, orb.Point{3000, 0}), 8, 5)
	if err != nil {
		t.Fatal(err)
	}
	rec := record.Clean(track.Line{Segments: [][]track.Fix{runAlong(simulate.Rand(94500, 7), orb.Point{-20, 0}, orb.Point{3020, 0})}})
	for shown, refused := range map[float64]bool{3: true, 30: true, 3010: false, 2900: false, 1600: false, 30100: true, math.NaN(): true} {
		_, err := review.Of(r, rec, review.Options{Watch: shown})
		var w *review.WatchError
		if errors.As(err, &w) != refused {
			t.Errorf("a watch that showed %g m: %v", shown, err)
		}
	}
}
