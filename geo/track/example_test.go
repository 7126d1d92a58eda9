package track_test

import (
	"fmt"
	"math"
	"time"

	"tautline/geo/earth"
	"tautline/geo/track"
)

func Example() {
	gun := time.Date(2031, 5, 4, 9, 0, 0, 0, time.UTC)
	// The watch was stopped once, which began a second segment.
	line := track.Line{Name: "Mill run", Segments: [][]track.Fix{
		{{At: earth.LatLon{Lat: 47, Lon: 11}, Height: 512.5, Time: gun}},
		{{At: earth.LatLon{Lat: 47.001, Lon: 11}, Height: math.NaN(), Time: gun.Add(40 * time.Second)}},
	}}
	for _, f := range line.Fixes() {
		fmt.Println(f.At.Lat, f.HasTime(), f.HasHeight())
	}
	// Output:
	// 47 true true
	// 47.001 true false
}
