package measure_test

import (
	"fmt"
	"strings"

	"tautline/strategy/measure"
)

// Two rides of a course, the bicycle calibrated before and after: the constant
// of the day is counts for a kilometre with the short-course factor in it.
func Example() {
	s, err := measure.Read("ride.toml", strings.NewReader(`
rules = "usatf-procedures"
[course]
distance = "10 km"
[calibration]
length = "300 m"
[[session]]
before = ["0-3300", "3400-6700", "6800-10100", "10200-13500"]
after = ["0-3299", "3400-6699", "6800-10099", "10200-13499"]
[[session.ride]]
pieces = ["20000-30200"]
[[session.ride]]
pieces = ["20000-30150"]
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := s.Work()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("rides agree: %t, %.2f %% apart\n", r.Agree, 100*r.Spread)
	fmt.Printf("the length that counts: %.1f m of %.0f m\n", r.Counted, r.Official)
	// Output:
	// rides agree: true, 0.05 % apart
	// the length that counts: 10003.6 m of 10000 m
}
