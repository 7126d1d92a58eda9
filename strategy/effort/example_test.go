package effort_test

import (
	"fmt"

	"tautline/strategy/effort"
)

func Example() {
	m := effort.Default().Ready()
	const flatSpeed = 1000.0 / 300 // m/s, five minutes a kilometre
	for _, gradient := range []float64{0.05, 0, -0.05} {
		speed := m.Stretch(effort.Conditions{Gradient: gradient}).Speed(flatSpeed)
		fmt.Printf("%+.0f %%: %.0f s a kilometre\n", 100*gradient, 1000/speed)
	}
	// What 5:30 up a gradient of 5 % is worth on the level.
	fmt.Printf("%.0f s\n", 1000/m.Stretch(effort.Conditions{Gradient: 0.05}).FlatSpeed(1000.0/330))
	// Output:
	// +5 %: 390 s a kilometre
	// +0 %: 300 s a kilometre
	// -5 %: 272 s a kilometre
	// 254 s
}
