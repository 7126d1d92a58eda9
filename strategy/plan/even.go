package plan

import (
	"math"
	"sort"

	"tautline/strategy/effort"
)

// EvenEffort is a course as it is run at even effort by one model, on one day
// and with one share of extra distance: no effort flex, no crowd, no stops. It
// is not changed after Even and is safe for concurrent use.
type EvenEffort struct {
	course *Course
	day    effort.Day
	scale  float64          // own metres per official metre
	ground []effort.Stretch // what each stretch of the course asks
}

// Even makes a course ready for the model, the day and the extra distance of
// the settings; their goal, deviations and stops are checked and do not matter
// otherwise. Errors are *inputerr.Error.
func Even(c *Course, s Settings) (*EvenEffort, error) {
	if err := s.Check(c); err != nil {
		return nil, err
	}
	return newEven(c, s, s.Model.Ready()), nil
}

func newEven(c *Course, s Settings, m effort.Ready) *EvenEffort {
	e := &EvenEffort{course: c, day: s.Day, scale: c.Shortest / c.Official * (1 + s.Extra), ground: make([]effort.Stretch, len(c.gradient))}
	for j := range e.ground {
		e.ground[j] = m.Stretch(effort.Conditions{Gradient: c.gradient[j], Heading: c.heading[j], Sheltered: c.sheltered[j]})
	}
	return e
}

// Own is the length of the athlete's own path between two official distances,
// m.
func (e *EvenEffort) Own(from, to float64) float64 { return (to - from) * e.scale }

// Time is the running time in seconds from one official distance to another at
// a flat speed in m/s.
func (e *EvenEffort) Time(from, to, flat float64) float64 {
	c := e.course
	var t float64
	j := max(0, sort.SearchFloat64s(c.edge, from)-1)
	for ; j < len(e.ground) && c.edge[j] < to; j++ {
		a, b := math.Max(from, c.edge[j]), math.Min(to, c.edge[j+1])
		if b > a {
			t += e.stretchTime(j, flat) * (b - a) / (c.edge[j+1] - c.edge[j])
		}
	}
	return t * e.slowed(flat)
}

// FlatSpeed is the flat speed in m/s at which Time is the wanted one, to 1e-10
// of it. ok is false when that is beyond what anyone runs.
func (e *EvenEffort) FlatSpeed(from, to, seconds float64) (flat float64, ok bool) {
	return solve(func(u float64) float64 { return e.Time(from, to, u) }, seconds)
}

// stretchTime is the time on a mild day for a stretch at a flat-equivalent
// speed.
func (e *EvenEffort) stretchTime(j int, u float64) float64 {
	return (e.course.edge[j+1] - e.course.edge[j]) * e.scale / e.ground[j].Speed(u)
}

// slowed is what the day makes of a second of a mild one at a flat speed.
func (e *EvenEffort) slowed(flat float64) float64 {
	return 1 + e.day.Slowing(flat, e.course.Official).Value
}

// solve finds the flat speed at which a time, which falls as the speed grows,
// is the wanted one, to 1e-10 of the speed. It keeps a bracket and cuts it
// where the straight line through its ends says, or in half when that has not
// halved it in two steps. Time is nearly in proportion to 1/speed, so few steps
// are needed. ok is false when no speed from slowest to fastest will do.
func solve(time func(float64) float64, want float64) (speed float64, ok bool) {
	// In p = 1/speed the function is close to a straight line through 0.
	lo, hi := 1/fastest, 1/slowest
	f := func(p float64) float64 { return time(1/p) - want }
	yLo, yHi := f(lo), f(hi)
	if !(yLo <= 0 && yHi >= 0) {
		return 0, false
	}
	p, side, width := lo, 0, hi-lo
	for step := 1; step <= 200; step++ {
		last := p
		p = lo + (hi-lo)*yLo/(yLo-yHi)
		if step%3 == 0 {
			if hi-lo > width/2 {
				p, side = (lo+hi)/2, 0
			}
			width = hi - lo
		}
		if !(p > lo && p < hi) {
			break // an end is the root to the last digit
		}
		y := f(p)
		if y == 0 || math.Abs(p-last) <= 1e-10*p {
			break
		}
		// The end that stays counts half, or the line would keep it for ever.
		if y < 0 {
			if lo, yLo = p, y; side < 0 {
				yHi /= 2
			}
			side = -1
		} else {
			if hi, yHi = p, y; side > 0 {
				yLo /= 2
			}
			side = 1
		}
	}
	return 1 / p, true
}
