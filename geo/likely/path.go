package likely

import (
	"math"
	"sort"

	"tautline/geo/interval"
)

// Place is where on the road the runner likely was: metres off the reference
// line, left positive, with its 90 % interval, kept on the permitted road.
type Place struct {
	Along float64
	Off   interval.Estimate
}

// How runners move across a road, for the picture of the path only.
const (
	roam       = 1.7  // m, standard deviation about the line
	roamLength = 60.0 // m
	apart      = 4.0  // m between the places of the path
)

// path is the likely place across the road all along the record: a Kalman
// smoother (Rauch, Tung and Striebel 1965) of an exponential process along the
// line. The receiver's error is correlated, so a fix counts only as much as
// its share of the time the error lasts. What is expected before a fix is seen
// is the way that goes with the extra distance of the turns.
func (p *placed) path(r *Reference, n Noise, sections []Section) []Place {
	expected := r.swings(sections)
	variance := n.Wander*n.Wander + n.StepVar
	each := variance * math.Max(1, 30/p.dt)
	slow := sdSlow * sdSlow
	type state struct{ at, m, v, pm, pv, f float64 }
	var states []state
	m, v := 0.0, roam*roam
	last := math.Inf(-1)
	for i := range p.fixes {
		if p.s[i]-last < apart && i > 0 {
			continue
		}
		f := 0.0
		if !math.IsInf(last, -1) {
			f = math.Exp(-math.Abs(p.s[i]-last) / roamLength)
		}
		mean := expected(p.s[i])
		pm, pv := f*m, f*f*v+(1-f*f)*roam*roam
		// Fixes between two places count with the place.
		share := math.Max(1, math.Min((p.s[i]-last)/math.Max(p.step, 0.5), 50))
		k := pv / (pv + each/share)
		m, v = pm+k*(p.y[i]-mean-pm), (1-k)*pv
		states = append(states, state{p.s[i], m, v, pm, pv, f})
		last = p.s[i]
	}
	out := make([]Place, len(states))
	for i := len(states) - 1; i >= 0; i-- {
		s := &states[i]
		if i+1 < len(states) {
			next := states[i+1]
			g := s.v * next.f / next.pv
			s.m += g * (next.m - next.pm)
			s.v += g * g * (next.v - next.pv)
		}
		left, right := r.reach(s.at)
		// The error that lasts cannot be told from a habit of keeping to one side.
		e := interval.Normal(s.m+expected(s.at), math.Sqrt(s.v+slow*roam*roam/(slow+roam*roam)))
		hold := func(x float64) float64 { return min(max(x, right), left) }
		out[i] = Place{s.at, interval.Estimate{Value: hold(e.Value), Low: hold(e.Low), High: hold(e.High)}}
	}
	return out
}

// swings gives the place across the road, left positive, of a runner who goes
// round every turn as far outside as the extra distance says and is back on
// the line some way before and behind it.
func (r *Reference) swings(sections []Section) func(along float64) float64 {
	const taper = 25.0 // m
	outside := make([]float64, len(r.Turns))
	for _, s := range sections {
		if s.Turn >= 0 {
			t := r.Turns[s.Turn]
			outside[s.Turn] -= s.Extra.Value / math.Max(math.Abs(t.Angle), 0.3) * math.Copysign(1, t.Angle)
		}
	}
	return func(along float64) float64 {
		var y float64
		k := sort.Search(len(r.Turns), func(k int) bool { return r.Turns[k].To > along-taper })
		for ; k < len(r.Turns) && r.Turns[k].From < along+taper; k++ {
			d := math.Max(0, math.Max(r.Turns[k].From-along, along-r.Turns[k].To))
			c := math.Cos(math.Pi / 2 * d / taper)
			if v := outside[k] * c * c; math.Abs(v) > math.Abs(y) {
				y = v
			}
		}
		return y
	}
}
