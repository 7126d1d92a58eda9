package adjust_test

import (
	"fmt"
	"math"
	"time"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/road"
	"tautline/geo/track"
	"tautline/strategy/adjust"
)

// Cones keep runners on the right half before a left-hand corner: what the
// course would be short of without them.
func ExampleWorths() {
	plane := earth.NewPlane(earth.LatLon{Lat: 47, Lon: -27.5})
	var drawn []track.Fix
	for _, p := range [][2]float64{{0, 0}, {500, 0}, {500, 500}} {
		drawn = append(drawn, track.Fix{At: plane.From(p), Height: math.NaN(), Time: time.Time{}})
	}
	c, err := course.New("corner", drawn)
	if err != nil {
		fmt.Println(err)
		return
	}
	spec := road.Default()
	spec.Stretches = []road.Stretch{{From: 300, To: 700, Part: road.RightHalf}}
	worths, err := adjust.Worths(c, spec, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, w := range worths {
		fmt.Printf("%s %d is worth %.1f m\n", w.Item, w.Index+1, w.Metres)
	}
	// Output:
	// stretch 1 is worth 10.0 m
}
