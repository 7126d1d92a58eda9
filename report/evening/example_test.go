package evening_test

import (
	"fmt"
	"strings"
	"time"

	"tautline/report/evening"
	"tautline/report/text"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

// The page holds what is known; where the pens are not, it says how to find a
// place without them.
func ExampleText() {
	c, err := plan.NewCourse(plan.Route{Name: "Osier Three", Official: 3000, Shortest: 3000})
	if err != nil {
		fmt.Println(err)
		return
	}
	marks, _ := evening.Marks(c.Official, quantity.Metric)
	p, err := plan.Make(c, marks, plan.Settings{Name: "Ottoline Varga", Goal: 720, Model: effort.Default()})
	if err != nil {
		fmt.Println(err)
		return
	}
	s := &evening.Sheet{Race: "Osier Three", Date: time.Date(2027, 5, 9, 0, 0, 0, 0, time.UTC), Plan: p}
	page, _, _ := strings.Cut(string(evening.Text(s, text.Screen{Width: 72})), "\nCautions")
	fmt.Print(page)
	// Output:
	// Ottoline Varga · Osier Three · 9 May 2027
	//
	// Goal 12:00: even effort is 4:00/km on the level.
	//
	// Start
	// Stand where your pace belongs, to one side; the pens of this start are
	// not known (--pens FILE).
	//
	// Splits
	// Own path 3 km, half way in 6:00.
	//
	// mark    split  clock  pace  flat
	// 1 km     4:00   4:00  4:00  4:00
	// 2 km     4:00   8:00  4:00  4:00
	// finish   4:00  12:00  4:00  4:00
	//
	// Paces are per km of your own path; flat is what the pace is worth on the
	// level.
}
