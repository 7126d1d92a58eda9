package heights_test

import (
	"fmt"
	"math"

	"tautline/geo/heights"
)

func Example() {
	// A hill of 40 m in the middle of 4 km, with a ripple of 1 m on it.
	var samples []heights.Sample
	var summed, last float64
	for i := 0; i <= 400; i++ {
		h := 20*(1-math.Cos(2*math.Pi*float64(i)/400)) + float64(i*i%7-3)/3
		if i > 0 {
			summed += max(0, h-last)
		}
		last = h
		samples = append(samples, heights.Sample{At: 10 * float64(i), Height: h})
	}
	road, err := heights.New(samples, 4000, heights.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("rises summed: %.0f m\n", summed)
	fmt.Printf("climb of the road: %.0f m\n", road.Climb(0, 4000).Value)
	fmt.Printf("gradient at 1 km: %.1f %%\n", 100*road.Gradient(1000))
	// Output:
	// rises summed: 120 m
	// climb of the road: 40 m
	// gradient at 1 km: 3.2 %
}
