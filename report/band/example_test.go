package band_test

import (
	"fmt"
	"strings"

	"tautline/report/band"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
)

// A goal becomes splits, a stop for a drink among them, and those a band to
// print and cut out.
func Example() {
	c, err := plan.NewCourse(plan.Route{Name: "Quarrymouth Three", Official: 3000, Shortest: 3000})
	if err != nil {
		fmt.Println(err)
		return
	}
	marks, _ := plan.Every(1000, 1000, "km", c.Official)
	p, err := plan.Make(c, marks, plan.Settings{
		Name: "Ottoline Varga", Goal: 735, Model: effort.Default(), Stops: []plan.Stop{{At: 1500, Seconds: 15}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for line := range strings.Lines(string(band.CSV(p))) {
		fmt.Println(strings.Join(strings.Split(line, ",")[:6], " "))
	}
	sheet, err := band.Page([]*plan.Plan{p}, nil, band.Options{Course: c})
	fmt.Println(strings.Count(string(sheet), "<svg"), "sheet of paper,", strings.Count(string(sheet), "goal 12:15"), "with the goal on it,", err)
	// Output:
	// athlete mark to_m split_s elapsed_s clock
	// Ottoline Varga 1 km 1000.0 240 240 4:00
	// Ottoline Varga 2 km 2000.0 255 495 8:15
	// Ottoline Varga finish 3000.0 240 735 12:15
	// 1 sheet of paper, 1 with the goal on it, <nil>
}
