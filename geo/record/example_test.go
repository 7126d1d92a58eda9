package record_test

import (
	"fmt"
	"time"

	"tautline/geo/earth"
	"tautline/geo/record"
	"tautline/geo/track"
)

func ExampleClean() {
	at := func(lat float64, second int) track.Fix {
		return track.Fix{At: earth.LatLon{Lat: lat}, Time: time.Date(2031, 5, 4, 9, 0, second, 0, time.UTC)}
	}
	r := record.Clean(track.Line{Segments: [][]track.Fix{{at(47, 0), at(47, 0), at(47.0001, 3), at(47.0002, 6)}}})
	fmt.Println(len(r.Fixes), r.Timed)
	fmt.Println(r.Notes[0])
	// Output:
	// 3 true
	// 1 fix that repeats the time of the one before was dropped
}
