package plan

import (
	"fmt"
	"math"

	"tautline/geo/earth"
	"tautline/geo/heights"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// FromRace describes a race that has been laid out as a route: along its
// shortest legal line, on the road's surface. A certified official distance
// outranks the map: the line is then taken as 0.1 % longer than it. Without an
// official distance the line's own length is taken. notes are sentences for
// people about what was assumed.
func FromRace(r *race.Race, ground *heights.Profile) (route Route, notes []string) {
	line := r.Line
	first, last := line.At[0], line.At[len(line.At)-1]
	route = Route{
		Name: r.Name, Official: r.Official, Shortest: line.Length,
		Along: line.Along, At: line.At, Heading: r.Course.Heading,
	}
	if ground != nil && ground.Known() {
		route.Ground = ground
		route.Shortest = ground.Surface(first, last, line.Length)
		for _, h := range ground.Hills() {
			route.Hills = append(route.Hills, climbs(ground, h.Foot, h.Crest)...)
		}
		notes = append(notes, ground.Notes()...)
	} else {
		notes = append(notes, "the course has no heights: it is planned as level")
	}
	switch {
	case route.Official == 0:
		route.Official = route.Shortest
		notes = append(notes, "no official distance is given: marks are set along the shortest legal line, "+quantity.Distance(route.Shortest, quantity.Metric))
	case r.Certified:
		route.Shortest = route.Official * (1 + race.LaidLong)
		notes = append(notes, fmt.Sprintf("the distance is certified: the shortest line is taken as %s, 0.1 %% beyond the official distance as such courses are laid out", quantity.Distance(route.Shortest, quantity.Metric)))
	}
	return route, notes
}

// What a runner calls a climb, within a rise of the ground: choices, not
// measurements.
const (
	climbGradient = 0.01  // as a mean over climbWindow
	climbWindow   = 100.0 // m
	climbEasing   = 200.0 // m; where it eases off for less than this it is still one climb
	climbRise     = 5.0   // m, the least
)

// climbs finds the climbs within a rise of the ground. A rise that goes on over
// a plateau, or drags along a road that looks level, is no climb there: the
// foot is where it begins to go up and the crest where it stops.
func climbs(ground Ground, foot, crest float64) []Hill {
	const step = 10.0
	var out []Hill
	at := func(x float64) float64 { return ground.Height(math.Max(foot, math.Min(crest, x))) }
	from, to := math.NaN(), math.NaN()
	end := func() {
		if !math.IsNaN(from) && ground.Height(to)-ground.Height(from) >= climbRise {
			out = append(out, Hill{Foot: from, Crest: to})
		}
		from, to = math.NaN(), math.NaN()
	}
	for a := foot; a < crest; a += step {
		b := math.Min(a+step, crest)
		middle := (a + b) / 2
		// Where the window reaches over an end of the rise only the part
		// inside counts.
		low, high := math.Max(foot, middle-climbWindow/2), math.Min(crest, middle+climbWindow/2)
		if high > low && (at(high)-at(low)) >= climbGradient*(high-low) {
			if math.IsNaN(from) {
				from = a
			}
			to = b
		} else if !math.IsNaN(to) && a-to >= climbEasing {
			end()
		}
	}
	end()
	return out
}

// Places gives where on the earth an official distance of a course lies, on the
// shortest legal line of the race it was made from.
func Places(r *race.Race, c *Course) func(official float64) earth.LatLon {
	return func(official float64) earth.LatLon {
		return r.Course.Plane.From(r.Line.PointAt(c.alongAt(official)))
	}
}

// SheetStops are the stops that a race sheet asks for.
func SheetStops(s *sheet.Sheet) []Stop {
	var stops []Stop
	for _, a := range s.Aid {
		if a.Stop > 0 {
			stops = append(stops, Stop{Name: a.Name, At: a.At, Seconds: a.Stop.Seconds()})
		}
	}
	return stops
}

// ForAthlete lays what an athlete file says over settings. What it does not say
// stays; a goal that the settings have already stays too.
func (s Settings) ForAthlete(a *athlete.Athlete) Settings {
	s.Name = a.Name
	if s.Goal == 0 && s.FlatPace == 0 {
		s.Goal = a.Goal.Seconds()
	}
	for _, v := range []struct {
		from *float64
		to   *float64
		plus float64
	}{
		{a.Settings.DownhillCredit, &s.Model.Credit, 0},
		{a.Settings.DownhillLimit, &s.Model.Cap, 1},
		{a.Settings.EffortFlex, &s.Model.Flex, 0},
		{a.Settings.WatchReadsLong, &s.WatchLong, 0},
		{a.Settings.UsualExtra, &s.Extra, 0},
	} {
		if v.from != nil {
			*v.to = *v.from + v.plus
		}
	}
	return s
}

// Limits of Carry.
const (
	carryExponent = 1.06
	carryUpTo     = 22000.0 // m, a half marathon and a little
	carryRatio    = 5.0     // of the two distances
	sameDistance  = 0.10    // two distances this near each other are one
)

// Carry takes the flat pace of a race to another distance, by Riegel's power
// law of race times with the exponent 1.06, well calibrated up to the half
// marathon (Vickers and Vertosick 2016). Beyond that it is at least ten minutes
// too fast for half of recreational marathon runners, so it refuses unless the
// distances are nearly the same.
func Carry(e Equal, official float64) (flatPace float64, err error) {
	ratio := official / e.Official
	near := math.Abs(ratio-1) <= sameDistance
	if !near && (official > carryUpTo || e.Official > carryUpTo) {
		return 0, bad("give --goal or --effort, or a race of about the same distance",
			"a race of %s tells too little about %s", quantity.Distance(e.Official, quantity.Metric), quantity.Distance(official, quantity.Metric))
	}
	if !(ratio <= carryRatio && ratio >= 1/carryRatio) {
		return 0, bad("give a race nearer to it in length",
			"a race of %s tells too little about %s", quantity.Distance(e.Official, quantity.Metric), quantity.Distance(official, quantity.Metric))
	}
	return e.FlatPace * math.Pow(ratio, carryExponent-1), nil
}

// Describe says in a few words how effort is reckoned.
func Describe(m effort.Model) string {
	up, _ := m.Uphill.Info()
	down, _ := m.Downhill.Info()
	text := up.Title
	if m.Uphill != m.Downhill {
		text += " uphill, " + down.Title + " downhill"
	}
	text += ", downhill credit " + quantity.Percent(m.Credit, 0) + " up to " + quantity.Percent(m.Cap-1, 0)
	if m.Flex > 0 {
		text += ", effort flex " + quantity.Percent(m.Flex, 0)
	}
	if m.Air.K > 0 {
		text += ", wind"
	}
	return text
}
