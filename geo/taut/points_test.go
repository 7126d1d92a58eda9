package taut_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"tautline/geo/earth"
	"tautline/geo/road"
	"tautline/geo/track"
)

// To a point and back on the same straight road is twice the way to the
// point, whichever way the road lies: the string lies back on itself there.
func TestOutToAPointAndBackIsTwiceTheWay(t *testing.T) {
	plane := earth.NewPlane(earth.LatLon{Lat: 47, Lon: 8})
	for degrees := 0; degrees < 360; degrees += 7 {
		s, c := math.Sincos(float64(degrees) * math.Pi / 180)
		var fixes []track.Fix
		for _, d := range []float64{0, 1000, 0} {
			fixes = append(fixes, track.Fix{At: plane.From(orb.Point{d * c, d * s}), Height: math.NaN()})
		}
		_, l := solve(t, mustCourse(t, fixes), road.Default())
		if math.Abs(l.Length-2000) > 0.001 {
			t.Errorf("towards %d degrees: %.4f m", degrees, l.Length)
		}
	}
}
