package field

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"tautline/geo/follow"
	"tautline/strategy/review"
)

// What a record says of a station.
const (
	unseen  = iota // before or after the record, without signal, or too far off
	across         // the record crosses the road there
	leftOut        // the record goes on without having been there
)

// observation is what one record says of the places along the line.
type observation struct {
	seen  []uint8
	y     []float64 // m left of the line at each station
	reach []float64 // m beyond each turn-around, NaN where not seen
}

// lost is the time between two fixes, s, from which the signal counts as lost.
const lost = 25.0

// farthest is how far off the line, in metres, a crossing still counts as one
// of this street.
const farthest = 70.0

// smoothing is what the review of a record says of the filter that its receiver
// put it through.
type smoothing struct {
	filtered float64 // probability that there was one
	cut      float64 // m of length that filter and sampling cut off at a turn-around; below 0 what a filter swings out
}

// smoothingOf reads it off a review. All turn-arounds are given the usual one of
// them: a runner is about as fast at all, and where one was missed the review
// takes what is missing for the filter's doing, or cannot judge it. When it can
// judge none, the street corners say what the filter does.
func (g *Ground) smoothingOf(v *review.Review) smoothing {
	back := make([]bool, len(g.Race.Line.Turns))
	for _, a := range g.arounds {
		back[a.turn] = true
	}
	var cuts, corners []float64
	for _, s := range v.Sections {
		if s.Turn < 0 || s.Missing {
			continue
		}
		t := g.Race.Line.Turns[s.Turn]
		switch angle := math.Abs(t.Angle); {
		case back[s.Turn]:
			cuts = append(cuts, s.Lost)
		case angle > 1.2 && angle < 2.4 && t.To-t.From < longestCorner:
			corners = append(corners, s.Lost*averagedOff(math.Pi)/averagedOff(angle))
		}
	}
	if len(cuts) == 0 {
		cuts = corners
	}
	if len(cuts) == 0 {
		return smoothing{}
	}
	// Of two the lesser.
	slices.SortFunc(cuts, func(a, b float64) int { return cmp.Compare(math.Abs(a), math.Abs(b)) })
	return smoothing{v.Noise.Filter, cuts[(len(cuts)-1)/2]}
}

// averagedOff is what an average over a length takes off a sharp turn by an
// angle in radians, as a share of that length: 1 - ∫|1-u+u exp(iθ)|du over u from
// 0 to 1. Other filters share out alike between turns, to a tenth or so.
func averagedOff(angle float64) float64 {
	const n = 50
	sum := 0.0
	for i := range n {
		u := (float64(i) + 0.5) / n
		sum += math.Hypot(1-u+u*math.Cos(angle), u*math.Sin(angle))
	}
	return 1 - sum/n
}

// observe looks where a record that has been laid along the course crosses
// the stations and how far it reaches at the turn-arounds. It takes the
// recorded shape as it is, but for what a filter did to the tips of
// turn-arounds: what else is wrong with one record averages out over many, and
// what does not is the matter of Judge.
func (g *Ground) observe(fixes []follow.Fix, m *follow.Match, f smoothing) observation {
	o := observation{make([]uint8, len(g.stations)), make([]float64, len(g.stations)), make([]float64, len(g.arounds))}
	for k := range o.reach {
		o.reach[k] = math.NaN()
	}
	p := g.lay(fixes, m)
	if len(p.at) == 0 {
		return o
	}
	first, last := p.first, len(p.at)-1
	const near = 45.0 // m along the line around a station in which its crossing is looked for
	lo, hi := first, first
	for j, s := range g.stations {
		if s.at < p.at[first]+1 || s.at > p.at[last]-1 {
			continue
		}
		for lo < last && p.at[lo+1] < s.at-near {
			lo++
		}
		for hi = max(hi, lo); hi < last && p.at[hi] <= s.at+near; {
			hi++
		}
		if y, crossed := p.crossing(s, lo, hi); crossed {
			o.seen[j], o.y[j] = across, y
		} else if !p.quiet(lo, hi) {
			o.seen[j] = leftOut
		}
	}
	for k, a := range g.arounds {
		o.reach[k] = p.reach(a, f)
	}
	return o
}

// passage is a record laid along the line.
type passage struct {
	fixes []follow.Fix // up to the last that was matched
	at    []float64    // m along the line at each, never decreasing; -Inf before the first that was matched
	first int          // the first that was matched
}

// lay puts the fixes of a record in their places along the line, those between
// two matched ones in proportion. Nothing matched gives an empty passage.
func (g *Ground) lay(fixes []follow.Fix, m *follow.Match) passage {
	at := make([]float64, len(fixes))
	last, high := -1, 0.0
	scale := g.length / g.Race.Line.Length
	for i := range at {
		if math.IsNaN(m.At[i]) {
			continue
		}
		v := math.Max(g.Race.Along(m.At[i])*scale, high)
		if last < 0 {
			for k := range i {
				at[k] = math.Inf(-1)
			}
		} else {
			for k := last + 1; k < i; k++ {
				at[k] = high + (v-high)*float64(k-last)/float64(i-last)
			}
		}
		at[i], high, last = v, v, i
	}
	first := sort.Search(len(fixes), func(i int) bool { return !math.IsInf(at[i], -1) })
	return passage{fixes[:last+1], at[:last+1], first}
}

// quiet tells whether there is no signal somewhere between two fixes.
func (p *passage) quiet(a, b int) bool {
	for i := max(a, 0); i < b && i+1 < len(p.fixes); i++ {
		q, r := &p.fixes[i], &p.fixes[i+1]
		if r.T-q.T > lost {
			return true
		}
		// Without times a long step stands for a lost signal.
		if math.IsNaN(q.T) && math.Hypot(r.P[0]-q.P[0], r.P[1]-q.P[1]) > 90 {
			return true
		}
	}
	return false
}

// crossing is where between two fixes a record crosses a station, m left of the
// line; the middle one of several.
func (p *passage) crossing(s station, lo, hi int) (y float64, crossed bool) {
	var found [8]float64
	crossings := 0
	ahead := func(i int) float64 {
		q := p.fixes[i].P
		return (q[0]-s.point[0])*s.dir[0] + (q[1]-s.point[1])*s.dir[1]
	}
	a := ahead(lo)
	for i := lo; i < hi && crossings < len(found); i++ {
		b := ahead(i + 1)
		if a < 0 && b >= 0 {
			q, r := &p.fixes[i], &p.fixes[i+1]
			t := a / (a - b)
			x := q.P[0] + t*(r.P[0]-q.P[0]) - s.point[0]
			y := q.P[1] + t*(r.P[1]-q.P[1]) - s.point[1]
			if v := s.dir[0]*y - s.dir[1]*x; math.Abs(v) < farthest && (r.T-q.T < lost || math.IsNaN(q.T)) {
				found[crossings] = v
				crossings++
			}
		}
		a = b
	}
	return found[crossings/2], crossings > 0
}

// reach is how far beyond a turn-around's furthest point the record goes in
// the direction of the way out, m, below 0 when it turned before. A crowd of
// watches that smooth would move a turn-around that nobody has moved, so what
// the filter took is given back: by as much as the tip lies short, the way out
// and the way back lose alike.
func (p *passage) reach(a around, f smoothing) float64 {
	at, fixes := p.at, p.fixes
	lo := sort.SearchFloat64s(at, a.from)
	hi := sort.SearchFloat64s(at, a.to)
	if lo == 0 || math.IsInf(at[lo-1], -1) || hi >= len(at) || hi-lo < 2 || p.quiet(lo-1, hi) {
		return math.NaN()
	}
	lo, hi = lo-1, min(hi, len(at)-1)
	x := func(i int) float64 {
		return (fixes[i].P[0]-a.apex[0])*a.dir[0] + (fixes[i].P[1]-a.apex[1])*a.dir[1]
	}
	tip := lo
	for i := lo; i <= hi; i++ {
		if x(i) > x(tip) {
			tip = i
		}
	}
	if tip == lo || tip == hi {
		return math.NaN()
	}
	sampled := p.between(x, lo, hi, tip)
	// What is cut holds what was lost between fixes as well, and is a mean over
	// filters that come into question and none, so it is not weighed again once
	// a filter is as likely as not.
	weight := math.Max(0, math.Min(1, 2*f.filtered))
	return (1-weight)*sampled + weight*(x(tip)+f.cut/2)
}

// between is how far the runner went who was recorded at the furthest fix, the
// tip of those from lo to hi, when nothing but the time between fixes hides
// it; x is how far each went, m. Between two fixes the runner went on and came
// back: what the time between them allows at the speed on the two legs was run
// beyond them.
func (p *passage) between(x func(i int) float64, lo, hi, tip int) float64 {
	fixes := p.fixes
	other := tip + 1
	if x(tip-1) > x(tip+1) {
		other = tip - 1
	}
	dt := math.Abs(fixes[other].T - fixes[tip].T)
	if math.IsNaN(dt) {
		return x(tip)
	}
	var speeds []float64
	for i := max(lo, tip-12); i < min(hi, tip+12); i++ {
		if d := fixes[i+1].T - fixes[i].T; d > 0 {
			speeds = append(speeds, math.Hypot(fixes[i+1].P[0]-fixes[i].P[0], fixes[i+1].P[1]-fixes[i].P[1])/d)
		}
	}
	sort.Float64s(speeds)
	v := speeds[len(speeds)/2]
	return math.Max(x(tip), math.Min(x(tip)+v*dt/2, (x(tip)+x(other)+v*dt)/2))
}
