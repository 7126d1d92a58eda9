package buildup_test

import (
	"fmt"
	"strings"
	"time"

	"tautline/report/buildup"
	"tautline/strategy/quantity"
	"tautline/strategy/season"
)

// The races of a season stand on the line that leads to its goal.
func ExamplePage() {
	goal := time.Date(2027, 10, 17, 0, 0, 0, 0, time.UTC)
	p, err := season.Choose(season.Calendar{
		Goal:  season.Race{Name: "Velmarrow Marathon", Date: goal, Distance: quantity.Marathon},
		Races: []season.Candidate{{Race: season.Race{Name: "Osier Half", Date: goal.AddDate(0, 0, -35), Distance: quantity.HalfMarathon}}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	b, err := buildup.Page(p, quantity.Metric)
	if err != nil {
		fmt.Println(err)
		return
	}
	for line := range strings.Lines(string(b)) {
		for _, tag := range []string{"<title>", "<h2>", "<section><h2>"} {
			if strings.HasPrefix(line, tag) {
				fmt.Println(strings.NewReplacer(tag, "", "</title>", "", "</h2>", "").Replace(strings.TrimSpace(line)))
			}
		}
	}
	// Output:
	// Velmarrow Marathon, 42.195 km, 17 October 2027
	// 12 September 2027: Osier Half, 21.098 km, all out
	// Taper
	// Cautions
}
