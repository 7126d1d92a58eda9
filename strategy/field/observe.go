package field

import (
	"math"
	"sort"

	"tautline/geo/follow"
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

// observe looks where a record that has been laid along the course crosses
// the stations and how far it reaches at the turn-arounds. It takes the
// recorded shape as it is: what is wrong with one record averages out over
// many, and what does not is the matter of Judge.
func (g *Ground) observe(fixes []follow.Fix, m *follow.Match) observation {
	n := len(fixes)
	o := observation{make([]uint8, len(g.stations)), make([]float64, len(g.stations)), make([]float64, len(g.arounds))}
	for k := range o.reach {
		o.reach[k] = math.NaN()
	}
	// Along the line, never decreasing; between matched fixes in proportion.
	at := make([]float64, n)
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
	if last < 0 {
		return o
	}
	first := sort.Search(n, func(i int) bool { return !math.IsInf(at[i], -1) })
	at, fixes = at[:last+1], fixes[:last+1]
	quiet := func(a, b int) bool { // no signal somewhere between these fixes
		for i := max(a, 0); i < b && i+1 < len(fixes); i++ {
			if fixes[i+1].T-fixes[i].T > lost {
				return true
			}
			// Without times a long step stands for a lost signal.
			if math.IsNaN(fixes[i].T) && math.Hypot(fixes[i+1].P[0]-fixes[i].P[0], fixes[i+1].P[1]-fixes[i].P[1]) > 90 {
				return true
			}
		}
		return false
	}
	const near = 45.0 // m along the line around a station in which its crossing is looked for
	lo, hi := first, first
	for j, s := range g.stations {
		if s.at < at[first]+1 || s.at > at[last]-1 {
			continue
		}
		for lo < last && at[lo+1] < s.at-near {
			lo++
		}
		for hi = max(hi, lo); hi < last && at[hi] <= s.at+near; {
			hi++
		}
		var found [8]float64
		crossings := 0
		side := func(i int) float64 {
			return (fixes[i].P[0]-s.point[0])*s.dir[0] + (fixes[i].P[1]-s.point[1])*s.dir[1]
		}
		a := side(lo)
		for i := lo; i < hi; i++ {
			b := side(i + 1)
			if a < 0 && b >= 0 {
				t := a / (a - b)
				x := fixes[i].P[0] + t*(fixes[i+1].P[0]-fixes[i].P[0]) - s.point[0]
				y := fixes[i].P[1] + t*(fixes[i+1].P[1]-fixes[i].P[1]) - s.point[1]
				if v := s.dir[0]*y - s.dir[1]*x; math.Abs(v) < farthest && crossings < len(found) && fixes[i+1].T-fixes[i].T < lost || math.Abs(v) < farthest && crossings < len(found) && math.IsNaN(fixes[i].T) {
					found[crossings] = v
					crossings++
				}
			}
			a = b
		}
		switch {
		case crossings > 0:
			o.seen[j], o.y[j] = across, found[crossings/2]
		case !quiet(lo, hi):
			o.seen[j] = leftOut
		}
	}
	for k, a := range g.arounds {
		o.reach[k] = reachOf(a, at, fixes, quiet)
	}
	return o
}

// reachOf is how far beyond a turn-around's furthest point the record goes in
// the direction of the way out, m, below 0 when it turned before.
func reachOf(a around, at []float64, fixes []follow.Fix, quiet func(a, b int) bool) float64 {
	lo := sort.SearchFloat64s(at, a.from)
	hi := sort.SearchFloat64s(at, a.to)
	if lo == 0 || math.IsInf(at[lo-1], -1) || hi >= len(at) || hi-lo < 2 || quiet(lo-1, hi) {
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
	// Between two fixes the runner went on and came back: what the time
	// between them allows at the speed on the two legs was run beyond them.
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
