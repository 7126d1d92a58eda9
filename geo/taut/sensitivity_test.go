package taut

import (
	"testing"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/road"
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
	c, err := course.New("street", fixes)
	if err != nil {
		t.Fatal(err)
	}
	spec := road.Default()
	spec.Gates = []road.Gate{{At: 250, From: 5, To: 3}}
	r, err := road.Build(c, spec)
	if err != nil {
		t.Fatal(err)
	}
	base, err := Solve(r)
	if err != nil {
		t.Fatal(err)
	}
	variants := Sensitivity(r, base)
	if len(variants) != 4 {
		t.Fatalf("%d variants, want 4", len(variants))
	}
	for _, v := range variants {
		if v.Length <= 0 || v.Length-base.Length != v.Difference {
			t.Errorf("%s by %g and %g m: %g m long, %g m apart from %g m", v.Name, v.Width, v.Radius, v.Length, v.Difference, base.Length)
		}
	}
	if w := variants[0].Width; w <= -WidthStep || w > 0 {
		t.Errorf("narrower by %g m, where a whole metre closes the gate", w)
	}
}
