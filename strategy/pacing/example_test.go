package pacing_test

import (
	"fmt"

	"tautline/strategy/effort"
	"tautline/strategy/pacing"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

func Example() {
	c, err := plan.NewCourse(plan.Route{Name: "Mill run", Official: 3000, Shortest: 3000})
	if err != nil {
		fmt.Println(err)
		return
	}
	race := []pacing.Passing{{Name: "1 km", At: 1000, Elapsed: 280}, {Name: "2 km", At: 2000, Elapsed: 580}, {Name: "finish", At: 3000, Elapsed: 900}}
	j, err := pacing.Judge(c, plan.Settings{Model: effort.Default()}, race, nil, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range j.Splits {
		fmt.Printf("%s: effort %+.0f %%, %+.0f s on even\n", s.Mark, 100*s.Harder, s.Ahead)
	}
	for _, sentence := range j.Verdict(quantity.Metric) {
		fmt.Println(sentence)
	}
	// Output:
	// 1 km: effort +7 %, +20 s on even
	// 2 km: effort +0 %, +20 s on even
	// finish: effort -6 %, +0 s on even
	// Effort was uneven: 7 % harder than the race as a whole in the split to 1 km, 6 % easier in the one to finish.
	// It faded: the second half was 9 % easier than the first.
}
