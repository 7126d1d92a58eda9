package season

import (
	"math"
	"slices"

	"tautline/strategy/athlete"
)

// ForAthlete fills what the calendar does not say from an athlete's file: the
// longest run, the weekly distance, and the marathons run before the goal.
func (c Calendar) ForAthlete(a *athlete.Athlete) Calendar {
	if c.LongestRun == 0 {
		c.LongestRun = a.LongestRun
	}
	if c.Weekly == 0 {
		c.Weekly = a.Weekly
	}
	c.Past = slices.Clone(c.Past)
	for _, r := range a.Races {
		known := slices.ContainsFunc(c.Past, func(p Race) bool { return p.Date.Equal(r.Date) })
		if isMarathon(r.Distance) && !r.Date.IsZero() && r.Date.Before(c.Goal.Date) && !known {
			c.Past = append(c.Past, Race{Name: r.Name, Date: r.Date, Distance: r.Distance, Climb: math.NaN()})
		}
	}
	return c
}
