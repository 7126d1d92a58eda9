package interval_test

import (
	"fmt"

	"tautline/geo/interval"
)

func Example() {
	wide := interval.Normal(12, 2) // m, with a standard deviation of 2 m
	fmt.Printf("%.1f m (%.1f to %.1f)\n", wide.Value, wide.Low, wide.High)
	// The seconds that these metres cost a runner of 4 m/s.
	lost := wide.Scale(1.0 / 4)
	fmt.Printf("%.1f s, perhaps 3.5: %v, perhaps 4: %v\n", lost.Value, lost.Holds(3.5), lost.Holds(4))
	// Output:
	// 12.0 m (8.7 to 15.3)
	// 3.0 s, perhaps 3.5: true, perhaps 4: false
}
