package taut

import (
	"math"

	"tautline/geo/road"
)

// passingPoints leaves out portals next to a point that pass through it, as
// those at a turning point do: who touches the point has passed them. Left in,
// they would meet the string exactly behind itself, where no orientation test
// can tell left from right. The first and the last portal stay. The argument
// is not changed.
func passingPoints(portals []road.Portal) []road.Portal {
	drop := map[int]bool{}
	for i := 1; i+1 < len(portals); i++ {
		if portals[i].Left.P != portals[i].Right.P {
			continue
		}
		for k := i - 1; k > 0 && through(&portals[k], &portals[i]); k-- {
			drop[k] = true
		}
		for k := i + 1; k+1 < len(portals) && through(&portals[k], &portals[i]); k++ {
			drop[k] = true
		}
	}
	if len(drop) == 0 {
		return portals
	}
	kept := make([]road.Portal, 0, len(portals)-len(drop))
	for i, p := range portals {
		if !drop[i] {
			kept = append(kept, p)
		}
	}
	return kept
}

// through tells whether a portal that is no point itself passes a point.
func through(p, point *road.Portal) bool {
	a, b, q := p.Left.P, p.Right.P, point.Left.P
	dx, dy := b[0]-a[0], b[1]-a[1]
	l := math.Hypot(dx, dy)
	if l < same {
		return false
	}
	t := ((q[0]-a[0])*dx + (q[1]-a[1])*dy) / l
	return t > -same && t < l+same && math.Abs((q[0]-a[0])*dy-(q[1]-a[1])*dx)/l < same
}
