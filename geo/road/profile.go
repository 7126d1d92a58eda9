package road

import (
	"math"
	"slices"

	"tautline/geo/course"
)

// profile is what the Spec says of the road at one chainage.
type profile struct {
	kerbLeft, kerbRight float64 // lateral positions of the kerbs
	l, r                edge    // the edges of the permitted part
	by                  int     // the last stretch that had a say, -1 if none
}

// marks are the chainages at which the profile may change, with both ends of
// the course, in order.
func (sp *Spec) marks(c *course.Course) []float64 {
	m := []float64{0, c.Length()}
	for i := range sp.Stretches {
		for _, v := range []float64{sp.Stretches[i].From, sp.Stretches[i].To} {
			if v > 0 && v < c.Length() {
				m = append(m, v)
			}
		}
	}
	slices.Sort(m)
	return slices.Compact(m)
}

// resolveOn is resolve on a course. Beyond its ends the road is that of the
// ends, and what a stretch says that ends with the course still holds there.
func (sp *Spec) resolveOn(c *course.Course, s float64) profile {
	return sp.resolve(max(0, min(math.Nextafter(c.Length(), 0), s)))
}

// resolve works out the road at a chainage from the defaults and all
// stretches that hold there, from their beginning to just before their end.
func (sp *Spec) resolve(s float64) profile {
	x := profile{kerbLeft: sp.Width / 2, kerbRight: -sp.Width / 2, by: -1}
	part, radius := sp.Part, sp.CornerRadius
	var laneL, laneR *float64
	var kindL, kindR EdgeKind
	for i := range sp.Stretches {
		t := &sp.Stretches[i]
		if s < t.From || s >= t.To {
			continue
		}
		x.by = i
		if t.Width != 0 {
			x.kerbLeft, x.kerbRight = t.Width/2, -t.Width/2
		}
		if t.Left != nil {
			x.kerbLeft = *t.Left
		}
		if t.Right != nil {
			x.kerbRight = *t.Right
		}
		if t.Part != AutoPart {
			part = t.Part
		}
		if t.LaneLeft != nil {
			laneL = t.LaneLeft
		}
		if t.LaneRight != nil {
			laneR = t.LaneRight
		}
		if t.CornerRadius != nil {
			radius = *t.CornerRadius
		}
		if t.LeftEdge != AutoEdge {
			kindL = t.LeftEdge
		}
		if t.RightEdge != AutoEdge {
			kindR = t.RightEdge
		}
	}
	x.l = edge{at: x.kerbLeft, out: 1}
	x.r = edge{at: x.kerbRight, out: -1}
	autoL, autoR := Kerb, Kerb
	middle := (x.kerbLeft + x.kerbRight) / 2
	switch part {
	case RightHalf:
		x.l.at, autoL = middle, PaintedLine
	case LeftHalf:
		x.r.at, autoR = middle, PaintedLine
	case Lane:
		if laneL != nil {
			x.l.at, autoL = *laneL, Cone
		}
		if laneR != nil {
			x.r.at, autoR = *laneR, Cone
		}
	}
	x.l.kind, x.r.kind = kindL.or(autoL), kindR.or(autoR)
	x.l.c, x.r.c = sp.Clearance.Of(x.l.kind), sp.Clearance.Of(x.r.kind)
	// Only the road's own kerb is rounded at corners; a painted line or a row
	// of cones across the road turns at a point.
	if x.l.at == x.kerbLeft && x.l.kind != Cone {
		x.l.r = radius
	}
	if x.r.at == x.kerbRight && x.r.kind != Cone {
		x.r.r = radius
	}
	return x
}
