package start_test

import (
	"fmt"

	"tautline/strategy/start"
)

func Example() {
	a, err := start.Advise(
		start.Line{Width: 8, Pens: []start.Pen{
			{Name: "front", Fastest: 0.2, Slowest: 0.3, People: 800},
			{Name: "back", Fastest: 0.3, Slowest: 0.45, People: 2000},
		}},
		start.Runner{Pace: 0.33, Distance: 21097.5},
		nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	b := a.Best
	fmt.Println("pen:", a.Line.Pens[b.Pen].Name)
	fmt.Printf("from gun to mat: %.0f s (%.0f to %.0f)\n", b.Delay.Value, b.Delay.Low, b.Delay.High)
	fmt.Printf("the crowd costs %.0f s\n", b.Crowd.Value)
	// Output:
	// pen: back
	// from gun to mat: 72 s (55 to 91)
	// the crowd costs 21 s
}
