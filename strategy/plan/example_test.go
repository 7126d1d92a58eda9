package plan_test

import (
	"fmt"

	"tautline/geo/interval"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

// ramp climbs by 30 m from 1 km to 2 km and is level elsewhere.
type ramp struct{}

func (ramp) Height(at float64) float64 { return 30 * min(1, max(0, (at-1000)/1000)) }

func (r ramp) Climb(from, to float64) interval.Estimate {
	return interval.Exact(r.Height(to) - r.Height(from))
}

func (ramp) Descent(from, to float64) interval.Estimate { return interval.Exact(0) }

func Example() {
	c, err := plan.NewCourse(plan.Route{Name: "Mill run", Official: 3000, Shortest: 3000, Ground: ramp{}})
	if err != nil {
		fmt.Println(err)
		return
	}
	marks, err := plan.Every(quantity.Kilometre, quantity.Kilometre, "km", c.Official)
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := plan.Make(c, marks, plan.Settings{Goal: 15 * 60, Model: effort.Default()})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range p.Splits {
		fmt.Printf("%s: %.0f s, climb %.0f m\n", s.Mark, s.Split, s.Climb.Value)
	}
	// Output:
	// 1 km: 284 s, climb 0 m
	// 2 km: 333 s, climb 30 m
	// finish: 284 s, climb 0 m
}
