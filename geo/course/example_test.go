package course_test

import (
	"fmt"
	"math"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/track"
)

func Example() {
	var drawn []track.Fix
	for _, at := range []earth.LatLon{{Lat: 47, Lon: 11}, {Lat: 47.001, Lon: 11}, {Lat: 47.001, Lon: 11.001}} {
		drawn = append(drawn, track.Fix{At: at, Height: math.NaN()})
	}
	c, err := course.New("Mill corner", drawn)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f m long\n", c.Length())
	fmt.Printf("after 150 m heading %.0f degrees from east\n", c.Heading(150)*180/math.Pi)
	// Output:
	// 187.23 m long
	// after 150 m heading 0 degrees from east
}
