package follow

import (
	"fmt"
	"math"
	"slices"

	"tautline/geo/course"
)

// match turns the chainages on the chord line into a Match.
func (m *model) match(c *course.Course, at []float64, o Options) *Match {
	r := &Match{At: at, Off: make([]float64, len(at)), Back: m.back, Scatter: math.NaN()}
	where := place{c: c}
	top := math.Inf(-1)
	var off, steps []float64
	last := -1
	for i := range at {
		r.Off[i] = math.NaN()
		if math.IsNaN(at[i]) {
			continue
		}
		s, d := where.foot(m.fixes[i], at[i], m.index.exact)
		if s < top-m.back {
			// Several steps back in a row: a runner going back along the
			// course, which is not a way along it.
			at[i] = math.NaN()
			continue
		}
		at[i], r.Off[i] = s, d
		top = max(top, s)
		off = append(off, math.Abs(d))
		if last >= 0 && s > at[last] {
			steps = append(steps, s-at[last])
		}
		last = i
	}
	r.FixShare = float64(len(off)) / float64(len(at))
	if len(off) > 0 {
		r.Scatter = sigmaOf(median(off))
	}
	usual := 0.0
	if len(steps) > 0 {
		usual = median(steps)
	}
	m.spans(r, usual, o)
	r.StartIndex = crossing(r, o.StartAt, m.back, true)
	r.FinishIndex = crossing(r, o.FinishAt, m.back, false)
	return r
}

// place finds exact feet on the course near given chainages.
type place struct {
	c    *course.Course
	from int // piece from which the last search began
}

// foot gives the chainage and the signed distance of the point of the course
// that is nearest to a fix, near the chainage found on the chords.
func (w *place) foot(f Fix, s float64, exact bool) (at, off float64) {
	pts, ch := w.c.Points, w.c.Chainage
	last := len(pts) - 2
	around := 0.5 // to see both pieces that meet at a corner
	if !exact {
		around = 4
	}
	i := w.from
	if i > last || ch[i] > s-around || (i+8 <= last && ch[i+8] < s-around) {
		i, _ = w.c.Leg(s - around)
	}
	for i < last && ch[i+1] < s-around {
		i++
	}
	w.from = i
	best := math.Inf(1)
	for ; i <= last && (ch[i] <= s+around || math.IsInf(best, 1)); i++ {
		a, b := pts[i], pts[i+1]
		ux, uy := b[0]-a[0], b[1]-a[1]
		length := math.Hypot(ux, uy)
		ux, uy = ux/length, uy/length
		dx, dy := f.P[0]-a[0], f.P[1]-a[1]
		along, across := dx*ux+dy*uy, dy*ux-dx*uy
		inside := along
		if i > 0 {
			inside = max(0, inside)
		}
		if i < last {
			inside = min(length, inside)
		}
		over := along - inside
		d := math.Sqrt(over*over + across*across)
		if d < best-1e-9 {
			best = d
			at = ch[i] + inside/length*(ch[i+1]-ch[i])
			off = math.Copysign(d, across)
			if over > 0 && i < last {
				// Outside a corner the side is that of the two
				// directions together, not of either.
				n := pts[i+2]
				vx, vy := n[0]-b[0], n[1]-b[1]
				v := math.Hypot(vx, vy)
				tx, ty := ux+vx/v, uy+vy/v
				if side := (f.P[1]-b[1])*tx - (f.P[0]-b[0])*ty; side != 0 {
					off = math.Copysign(d, side)
				}
			}
		}
	}
	return at, off
}

// spans finds the parts of the record without a gap and what they leave out.
func (m *model) spans(r *Match, usual float64, o Options) {
	far := max(leastGap, 4*usual, 1.5*m.back)
	last, lost := -1, 0
	var cur Span
	covered := o.StartAt // up to here
	share := 0.0
	low, high := 0.0, 0.0 // least and greatest chainage of the span
	var why Why
	first := true
	finish := func() {
		cur.Last, cur.To = last, r.At[last]
		r.Spans = append(r.Spans, cur)
		from, to := max(low, covered), min(high, o.FinishAt)
		if to <= from {
			return
		}
		unremarked := m.back
		if first {
			unremarked = max(2*m.back, far)
		}
		if from-covered > unremarked {
			r.Missing = append(r.Missing, Gap{covered, from, why})
		}
		first = false
		share += to - from
		covered = to
	}
	for i, s := range r.At {
		if math.IsNaN(s) {
			lost++
			continue
		}
		if last < 0 {
			cur, low, high = Span{First: i, From: s}, s, s
			why = BeforeRecord
			if lost > someFixes {
				why = OffCourse
			}
		} else if gap, w := m.gap(last, i, s-r.At[last], lost, far); gap {
			finish()
			cur, low, high, why = Span{First: i, From: s}, s, s, w
		}
		low, high = min(low, s), max(high, s)
		last, lost = i, 0
	}
	if last >= 0 {
		finish()
	}
	r.Share = min(1, share/(o.FinishAt-o.StartAt))
	why = AfterRecord
	if last < 0 || lost > someFixes {
		why = OffCourse
	}
	if last < 0 || o.FinishAt-covered > max(2*m.back, far) {
		r.Missing = append(r.Missing, Gap{covered, o.FinishAt, why})
	}
}

// someFixes is how many fixes in a row a receiver may throw aside before the
// runner is taken to be elsewhere, when they last no longer than someTime
// seconds. A single fix proves nothing however long it stands alone.
const (
	someFixes = 5
	someTime  = 30.0
)

// gap tells whether the record leaves the course between two matched fixes
// with lost unmatched ones between them, and why.
func (m *model) gap(i, j int, way float64, lost int, far float64) (bool, Why) {
	dt := m.fixes[j].T - m.fixes[i].T
	if lost > someFixes || (lost > 1 && dt > someTime) {
		return true, OffCourse
	}
	if way <= far {
		return false, ""
	}
	if lost > 0 {
		return true, OffCourse
	}
	if t := m.between(i, j); way > t.high+2*m.beta {
		return true, LeftOut
	}
	return true, NoFixes
}

// crossing gives the fractional number of the fix at which a line was crossed:
// the last time for the start, since runners shuffle about it, and the first
// time for the finish, NaN when never.
func crossing(r *Match, line, near float64, start bool) float64 {
	found := math.NaN()
	first, last := -1, -1
	for i, s := range r.At {
		if math.IsNaN(s) {
			continue
		}
		if first < 0 {
			first = i
		}
		if last >= 0 && r.At[last] < line && s >= line {
			found = float64(last) + (line-r.At[last])/(s-r.At[last])*float64(i-last)
			if !start {
				return found
			}
		}
		last = i
	}
	if !math.IsNaN(found) || first < 0 {
		return found
	}
	// A watch that was started on the line shows its first fix anywhere
	// near it.
	if start {
		if s := r.At[first]; s >= line && s <= line+2*near {
			return extended(r, first, line, +1)
		}
	} else if s := r.At[last]; s < line && s >= line-2*near {
		return extended(r, last, line, -1)
	}
	return math.NaN()
}

// extended continues the pace of the record's first or last matched fixes to a
// line just beyond them, but not beyond the record.
func extended(r *Match, i int, line float64, step int) float64 {
	const ground = 30.0 // m, long enough that noise does not set the pace
	n := len(r.At)
	for j := i + step; j >= 0 && j < n; j += step {
		if d := math.Abs(r.At[j] - r.At[i]); d >= ground {
			pace := float64(j-i) / (r.At[j] - r.At[i])
			return max(0, min(float64(n-1), float64(i)+(line-r.At[i])*pace))
		}
	}
	return float64(i)
}

// clock reads the times of the crossings.
func (r *Match) clock(fixes []Fix) {
	at := func(x float64) float64 {
		if math.IsNaN(x) {
			return math.NaN()
		}
		i := min(int(x), len(fixes)-1)
		j := min(i+1, len(fixes)-1)
		return fixes[i].T + (x-float64(i))*(fixes[j].T-fixes[i].T)
	}
	r.StartTime, r.FinishTime = at(r.StartIndex), at(r.FinishIndex)
}

// turnRound puts a match of the fixes in reverse order back into theirs.
func (r *Match) turnRound() {
	last := len(r.At) - 1
	slices.Reverse(r.At)
	slices.Reverse(r.Off)
	slices.Reverse(r.Spans)
	for i, s := range r.Spans {
		r.Spans[i] = Span{last - s.Last, last - s.First, s.To, s.From}
	}
	for i, g := range r.Missing {
		switch g.Why {
		case BeforeRecord:
			r.Missing[i].Why = AfterRecord
		case AfterRecord:
			r.Missing[i].Why = BeforeRecord
		}
	}
	r.StartIndex = float64(last) - r.StartIndex
	r.FinishIndex = float64(last) - r.FinishIndex
	r.Reversed = true
}

// explain writes the notes.
func (r *Match) explain(o Options) {
	say := func(format string, args ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, args...)) }
	if r.Reversed {
		say("the record runs the course in the reverse direction")
	}
	if len(r.Spans) == 0 {
		say("the record does not follow the course anywhere")
		return
	}
	if r.Share < 0.1 {
		say("the record follows only %.1f %% of the course: it may be of something else", 100*r.Share)
	}
	for _, g := range r.Missing {
		stretch := fmt.Sprintf("from %.2f to %.2f km of the course", (g.From-o.StartAt)/1000, (g.To-o.StartAt)/1000)
		switch g.Why {
		case NoFixes:
			say("the record has no fixes %s", stretch)
		case OffCourse:
			say("the record is off the course %s", stretch)
		case LeftOut:
			say("the record leaves out the part %s", stretch)
		case BeforeRecord:
			say("the record begins later and has nothing %s", stretch)
		case AfterRecord:
			say("the record ends earlier and has nothing %s", stretch)
		}
	}
}
