package season_test

import (
	"fmt"
	"time"

	"tautline/strategy/season"
)

func Example() {
	goal := time.Date(2031, 10, 12, 0, 0, 0, 0, time.UTC)
	weeksBefore := func(n int, name string, metres float64) season.Candidate {
		return season.Candidate{Race: season.Race{Name: name, Date: goal.AddDate(0, 0, -7*n), Distance: metres}}
	}
	p, err := season.Choose(season.Calendar{
		Goal: season.Race{Name: "Harbour Marathon", Date: goal, Distance: 42195},
		Races: []season.Candidate{
			weeksBefore(9, "Mill Ten", 10000),
			weeksBefore(5, "Lake Half", 21097.5),
			weeksBefore(1, "Castle Half", 21097.5),
		},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, e := range p.Entries {
		fmt.Println(e.Name+":", e.Effort)
		for _, c := range e.Conflicts {
			fmt.Printf("  %s (%s)\n", c.What, p.Why(c))
		}
	}
	// Output:
	// Mill Ten: all out
	// Lake Half: all out
	// Castle Half: leave it
	//   it is 1 week before the goal, less than 2 weeks (common practice, last_race_weeks)
	//   its 13 easy days reach into the goal (common practice, easy_days)
}
