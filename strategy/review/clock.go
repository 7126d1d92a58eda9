package review

import (
	"math"
	"sort"

	"tautline/geo/follow"
	"tautline/geo/record"
	"tautline/strategy/race"
)

// Clock tells when a runner was where: metres along the shortest line against
// seconds from crossing the start line. The zero Clock knows nothing.
type Clock struct{ along, time, stood []float64 }

// NewClock takes places in the order they were passed, in metres along the
// shortest line, and the seconds at them; NaN where either is not known. A
// place is passed when the runner is first seen there or beyond, so what lies
// behind an earlier place, or runs against the clock, is passed over. stood are
// the seconds spent standing up to each place; nil is none.
func NewClock(along, time, stood []float64) Clock {
	var c Clock
	for i := range along {
		if math.IsNaN(along[i]) || math.IsNaN(time[i]) {
			continue
		}
		if n := len(c.along); n > 0 && (along[i] <= c.along[n-1] || time[i] < c.time[n-1]) {
			continue
		}
		c.along, c.time = append(c.along, along[i]), append(c.time, time[i])
		if stood != nil {
			c.stood = append(c.stood, stood[i])
		}
	}
	return c
}

// gapLimit is the distance without fixes, m, over which no time is given.
const gapLimit = 400

// Known tells whether any way was timed.
func (c Clock) Known() bool { return len(c.along) > 1 }

// Ends are the first and the last place with a time; NaN without.
func (c Clock) Ends() (first, last float64) {
	if len(c.along) == 0 {
		return math.NaN(), math.NaN()
	}
	return c.along[0], c.along[len(c.along)-1]
}

// At is the time at a place, s, NaN where the record does not show it.
func (c Clock) At(along float64) float64 { return c.read(c.time, along) }

// Stood is the time spent standing up to a place, s, NaN where the record does
// not show it.
func (c Clock) Stood(along float64) float64 {
	if c.stood == nil {
		return c.read(make([]float64, len(c.along)), along)
	}
	return c.read(c.stood, along)
}

func (c Clock) read(values []float64, along float64) float64 {
	i := sort.SearchFloat64s(c.along, along)
	if i == 0 || i == len(c.along) || c.along[i]-c.along[i-1] > gapLimit {
		return math.NaN()
	}
	t := (along - c.along[i-1]) / (c.along[i] - c.along[i-1])
	return values[i-1] + t*(values[i]-values[i-1])
}

// Along are the places of the fixes in metres along the shortest line: below
// zero before the start line, beyond its length after the finish line, NaN
// where a fix was not matched.
func Along(r *race.Race, m *follow.Match) []float64 {
	out := make([]float64, len(m.At))
	for i, at := range m.At {
		out[i] = r.Along(at)
	}
	return out
}

// clockFrom is the clock of a record that was followed along a race.
func clockFrom(r *race.Race, rec record.Record, m *follow.Match, seconds []float64, stands stops) Clock {
	if !rec.Timed || math.IsNaN(m.StartTime) {
		return Clock{}
	}
	times := make([]float64, len(seconds))
	for i, t := range seconds {
		times[i] = t - m.StartTime
	}
	return NewClock(Along(r, m), times, stands.before)
}
