package taut_test

import (
	"testing"

	"tautline/geo/earth"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/geo/track"
)

// A gate near the kerb is a legal road that cannot be a metre narrower; saying
// how sure the line is must not fail over it.
func TestAGateAtTheKerbLeavesTheLineItsDoubts(t *testing.T) {
	plane := earth.NewPlane(earth.LatLon{Lat: 47, Lon: 9})
	var fixes []track.Fix
	for k := range 11 {
		fixes = append(fixes, track.Fix{At: plane.From([2]float64{float64(k) * 50, 0})})
	}
	spec := road.Default()
	spec.Gates = []road.Gate{{At: 250, From: 5, To: 3}}
	r, base := solve(t, mustCourse(t, fixes), spec)
	variants := taut.Sensitivity(r, base)
	if len(variants) != 4 {
		t.Fatalf("%d variants, want 4", len(variants))
	}
	for _, v := range variants {
		if v.Length <= 0 || v.Length-base.Length != v.Difference {
			t.Errorf("%s by %g and %g m: %g m long, %g m apart from %g m", v.Name, v.Width, v.Radius, v.Length, v.Difference, base.Length)
		}
	}
	if w := variants[0].Width; w <= -taut.WidthStep || w > 0 {
		t.Errorf("narrower by %g m, where a whole metre closes the gate", w)
	}
}
