package follow_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/follow"
	"tautline/geo/track"
)

func Example() {
	// Out along a street for 1 km and back on the same side of it.
	plane := earth.NewPlane(earth.LatLon{Lat: 47, Lon: 11})
	var drawn []track.Fix
	for _, east := range []float64{0, 1000, 0} {
		drawn = append(drawn, track.Fix{At: plane.From(orb.Point{east, 0})})
	}
	c, err := course.New("there and back", drawn)
	if err != nil {
		fmt.Println(err)
		return
	}
	// A fix every 20 s at 4 m/s, 3 m left of the line on the way out.
	var fixes []follow.Fix
	for at := 0.0; at <= 2000; at += 80 {
		p := plane.From(orb.Point{min(at, 2000-at), 3})
		fixes = append(fixes, follow.Fix{P: c.Plane.To(p), T: at / 4})
	}
	m, err := follow.Along(c, fixes, follow.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, i := range []int{5, 20} { // the same place on the street
		fmt.Printf("fix %d: at %.0f m, %+.0f m to the left\n", i, m.At[i], m.Off[i])
	}
	fmt.Printf("finish after %.0f s\n", m.FinishTime)
	// Output:
	// fix 5: at 400 m, +3 m to the left
	// fix 20: at 1600 m, -3 m to the left
	// finish after 500 s
}
