package review

import (
	"fmt"
	"math"
	"sort"

	"tautline/geo/interval"
	"tautline/geo/taut"
	"tautline/strategy/quantity"
)

// turns sums up the sections of each turn.
func (a *account) turns() {
	v := a.v
	for k, t := range a.r.Line.Turns {
		turn := Turn{Turn: t, Lost: interval.Exact(math.NaN())}
		var half, metres, seconds float64
		for _, s := range a.res.Sections {
			if s.Turn != k {
				continue
			}
			turn.Extra.Value += s.Extra.Value
			half = math.Hypot(half, halfWidth(s.Extra))
			if !s.Missing {
				turn.Seen = true
				metres += (s.To-s.From)/a.scale + s.Extra.Value
				seconds += index(a.clock, s.Last) - index(a.clock, s.First)
			}
		}
		turn.Extra = widen(around(turn.Extra.Value, half), a.byTurn[k])
		if seconds > 0 && metres > 0 {
			turn.Lost = turn.Extra.Scale(seconds / metres)
		}
		turn.Outside = a.outside(t)
		v.Turns = append(v.Turns, turn)
	}
	for i := range v.Turns {
		v.Turns[i].How = how(v.Turns[i])
	}
}

// outside is how far outside the line the likely path passes a turn.
func (a *account) outside(t taut.Turn) interval.Estimate {
	path := a.v.Path
	i := sort.Search(len(path), func(i int) bool { return path[i].Along >= t.At })
	if i == len(path) {
		return interval.Exact(math.NaN())
	}
	return path[i].Off.Scale(-float64(t.Side))
}

// how says how to run a turn better, or that one record does not tell.
func how(t Turn) string {
	const telling = 0.5 // m, the least that is worth a word
	side := t.Side.String()
	switch {
	case !t.Seen:
		return "the record does not show this turn"
	case t.Extra.High < 2*telling:
		return "well run"
	case t.Extra.Low <= 0:
		return "one record cannot tell how wide this was"
	case math.Abs(t.Angle) > 2.6:
		return fmt.Sprintf("slow down before the turn and go round close, on the %s", side)
	}
	// Some 30 and 50 m before the turn; seconds are the same in miles.
	back := 10
	if math.Abs(t.Angle) < 0.8 {
		back = 15
	}
	return fmt.Sprintf("move over to the %s kerb some %d s before it and hold it until the road runs straight", side, back)
}

// marks says how far ahead of each mark the watch was.
func (a *account) marks() {
	v := a.v
	every := a.o.Mark
	name := "km"
	if every == 0 {
		every = quantity.Kilometre
	} else if math.Abs(every-quantity.Mile) < 1e-6 {
		name = "mile"
	}
	scale := 1.0
	if v.Recorded > 0 {
		scale = v.Watch / v.Recorded
	}
	// Between two fixes the record is taken as straight. Over a whole section
	// it must not be: who slows on a hill, or stands, leaves more fixes there.
	number := make([]float64, len(a.cum))
	for i := range number {
		number[i] = float64(i)
	}
	fixes := NewClock(Along(a.r, v.Match), number, nil)
	before := 0.0
	for n := 1; float64(n)*every < v.Start-1; n++ {
		at := float64(n) * every
		x := fixes.At(at / v.Start * a.r.Line.Length)
		if math.IsNaN(x) {
			continue
		}
		ahead := index(a.cum, x)*scale - at
		v.Marks = append(v.Marks, Mark{fmt.Sprintf("%s %d", name, n), at, ahead, ahead - before})
		before = ahead
	}
}
