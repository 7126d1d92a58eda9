package plan

import (
	"fmt"
	"math"

	"tautline/geo/earth"
	"tautline/geo/heights"
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
