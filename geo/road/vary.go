package road

import (
	"math"
	"slices"
)

// Vary gives the Spec of the same race on a road that is wider by width
// metres, half of it on each side, with corner radii larger by radius metres.
// Negative values make it narrower and sharper: a radius no smaller than 0, a
// width no smaller than the clearances need. Lane edges, gates, turn-arounds
// and drawn kerbs stay.
func (sp Spec) Vary(width, radius float64) Spec {
	least := 2*math.Max(sp.Clearance.Kerb, math.Max(sp.Clearance.Cone, sp.Clearance.Line)) + 0.1
	// Half of the road may be all that is permitted.
	least *= 2
	wide := func(w float64) float64 {
		return math.Min(maxWidth, math.Max(w+width, math.Min(w, least)))
	}
	round := func(r float64) float64 { return math.Min(maxRadius, math.Max(0, r+radius)) }
	out := sp
	out.Width = wide(sp.Width)
	out.CornerRadius = round(sp.CornerRadius)
	out.Stretches = slices.Clone(sp.Stretches)
	for i := range out.Stretches {
		t := &out.Stretches[i]
		if t.Width != 0 {
			t.Width = wide(t.Width)
		}
		if t.CornerRadius != nil {
			r := round(*t.CornerRadius)
			t.CornerRadius = &r
		}
		// Kerbs given by their places move by half the change each, lane edges
		// that a narrower road would leave outside move with the kerb.
		if t.Left != nil {
			x := *t.Left + width/2
			t.Left = &x
		}
		if t.Right != nil {
			x := *t.Right - width/2
			t.Right = &x
		}
	}
	for i := range out.Stretches {
		t := &out.Stretches[i]
		if t.Part != Lane {
			continue
		}
		x := out.resolve((t.From + t.To) / 2)
		if t.LaneLeft != nil && *t.LaneLeft > x.kerbLeft {
			v := x.kerbLeft
			t.LaneLeft = &v
		}
		if t.LaneRight != nil && *t.LaneRight < x.kerbRight {
			v := x.kerbRight
			t.LaneRight = &v
		}
	}
	return out
}
