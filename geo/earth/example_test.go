package earth_test

import (
	"fmt"

	"tautline/geo/earth"
)

func Example() {
	// Two places 700 m apart, over the antimeridian.
	a, b := earth.LatLon{Lat: -17, Lon: 179.997}, earth.LatLon{Lat: -17, Lon: -179.9964}
	metres := earth.Distance(a, b)
	fmt.Printf("on the map %.2f m\n", metres)
	fmt.Printf("climbing by 35 m at 1600 m: %.2f m\n", earth.OnSurface(metres, 1600, 35))
	plane := earth.NewPlane(a)
	fmt.Printf("east of the first: %.2f m\n", plane.To(b)[0])
	// Output:
	// on the map 702.81 m
	// climbing by 35 m at 1600 m: 703.85 m
	// east of the first: 702.81 m
}
