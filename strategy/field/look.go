package field

import (
	"math"

	"tautline/geo/follow"
	"tautline/geo/record"
	"tautline/strategy/review"
)

// Look is what one record says.
type Look struct {
	row    Row
	o      observation
	extras []float64 // m at each turn, NaN where not seen
}

// Look reviews one record. key stands for its content, so that a record that
// comes twice counts once; name is what it is listed under.
func (g *Ground) Look(key, name string, rec record.Record) (*Look, error) {
	r := g.Race
	v, err := review.Of(r, rec, review.Options{})
	if err != nil {
		return nil, err
	}
	l := &Look{o: g.observe(v.Fixes, v.Match, g.smoothingOf(v)), extras: make([]float64, len(v.Turns))}
	for k, t := range v.Turns {
		l.extras[k] = math.NaN()
		if t.Seen {
			l.extras[k] = t.Extra.Value
		}
	}
	measured := r.Official
	if measured == 0 {
		measured = r.Line.Length
	}
	l.row = Row{
		Key: key, Name: name, Share: int64(math.Round(v.Share * 1e6)), Recorded: mm(v.Recorded),
		Ran: mm(v.Ran.Value), RanLow: mm(v.Ran.Low), RanHigh: mm(v.Ran.High),
		Extra: mm(v.Extra.Value), ExtraLow: mm(v.Extra.Low), ExtraHigh: mm(v.Extra.High),
		Surplus: mm(v.Recorded - measured), Left: g.left(l.o, v.Match, v.Noise.Wander),
	}
	return l, nil
}

// mm rounds metres to millimetres; what is no number is 0.
func mm(v float64) int64 {
	if math.IsNaN(v) || math.Abs(v) > 1e9 {
		return 0
	}
	return int64(math.Round(v * 1000))
}

// left finds where a record leaves the permitted road by more than its
// receiver can be wrong: wander is the standard deviation of the error that
// changes within a minute.
func (g *Ground) left(o observation, m *follow.Match, wander float64) []Span {
	const (
		least = 4   // stations in a row
		slow  = 8   // m, more than the error that lasts for the whole record
		part  = 60. // m of the course, the least that is called left out
	)
	limit := slow + 4*math.Min(wander, 8)
	var out []Span
	first, end, count, how := -1, 0, 0, How("")
	flush := func() {
		if first >= 0 && count >= least {
			out = append(out, Span{int64(g.stations[first].at), int64(g.stations[end].at), how})
		}
		first, count = -1, 0
	}
	for j, s := range g.stations {
		if s.flank {
			continue
		}
		var now How
		switch {
		case !s.judged:
			// The legs of a turn-around lie too close; it has its own test.
		case o.seen[j] == across && o.y[j] > s.left+limit:
			now = g.side(s.at, 1)
		case o.seen[j] == across && o.y[j] < s.right-limit:
			now = g.side(s.at, -1)
		}
		if now == "" || first >= 0 && now != how {
			flush()
		}
		if now != "" {
			if first < 0 {
				first, how = j, now
			}
			end, count = j, count+1
		}
	}
	flush()
	scale := g.length / g.Race.Line.Length
	for _, gap := range m.Missing {
		from, to := g.Race.Along(gap.From)*scale, g.Race.Along(gap.To)*scale
		// At the ends a watch may have been started late or stopped early.
		if (gap.Why == follow.LeftOut || gap.Why == follow.OffCourse) && to-from > part && from > part && to < g.length-part {
			out = append(out, Span{int64(from), int64(to), Skipped})
		}
	}
	for k, a := range g.arounds {
		if d := o.reach[k]; d < -(limit + 4) {
			// The part that was skipped is told once, by its cause.
			kept := out[:0]
			for _, s := range out {
				if s.How != Skipped || float64(s.To) < a.from || float64(s.From) > a.to {
					kept = append(kept, s)
				}
			}
			out = append(kept, Span{int64(a.at + d), int64(a.at - d), TurnedEarly})
		}
	}
	return out
}

// side says what leaving the road to a side means at a place: in a turn, its
// inside is cut.
func (g *Ground) side(at float64, side float64) How {
	const around = 60.0
	scale := g.length / g.Race.Line.Length
	for _, t := range g.Race.Line.Turns {
		if at > t.From*scale-around && at < t.To*scale+around && math.Abs(t.Angle) < 2.6 {
			if float64(t.Side) == side {
				return Cut
			}
			return Wide
		}
	}
	return Crossed
}
