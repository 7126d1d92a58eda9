package demo_test

import (
	"fmt"

	"tautline/strategy/demo"
)

func Example() {
	truth, err := demo.Known()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range truth.Runners {
		fmt.Printf("%s: %s\n", r.File, r.What)
	}
	// Output:
	// careful.gpx: runs the line: close to every apex, straight in between, on a good watch
	// wide.gpx: runs where there is room: outside at turns and across the road in between, on a good watch that smooths
	// poor-watch.gpx: runs nearly as well as the careful one; the watch was started in the corral, adds up every fix and goes blind under the railway
}
