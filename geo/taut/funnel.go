package taut

import (
	"math"

	"github.com/paulmach/orb"

	"tautline/geo/road"
)

// contact is a point of the taut string: an end of a portal that it touches.
type contact struct {
	road.End
	portal int
	side   Side
}

// The string starts at a point at infinity behind the start line and ends at
// one ahead of the finish line, both square to their lines: of all strings
// from far away the shortest part beyond the line is the shortest from
// anywhere on the line. Points at infinity are directions; orientation tests
// with them are exact.
type funnel struct {
	portals []road.Portal
	from    orb.Point // direction of travel across the first portal
	to      orb.Point // direction of travel across the last
	// fixed says that the string starts, or ends, at a point: the first, or
	// last, portal is one.
	fixedStart, fixedEnd bool

	v      []vertex
	deque  []int32
	lo, hi int // the funnel is deque[lo..hi]: left end to right end
	apex   int // place in the deque
}

// vertex is a portal end that has been on the funnel, with the one before it
// on the shortest path to it.
type vertex struct {
	p      orb.Point
	parent int32
	portal int32
	side   Side
}

// origin is the vertex that the string starts from: at infinity behind the
// start line, or the start itself where that is a point.
const origin = 0

// turns gives the sign of the turn a→b→c: positive to the left. a may be the
// origin.
func (f *funnel) turns(a, b int32, c orb.Point) float64 {
	pb := f.v[b].p
	if a == origin && !f.fixedStart {
		return f.from[0]*(c[1]-pb[1]) - f.from[1]*(c[0]-pb[0])
	}
	pa := f.v[a].p
	return (pb[0]-pa[0])*(c[1]-pb[1]) - (pb[1]-pa[1])*(c[0]-pb[0])
}

// turnsTo is turns for the target at infinity ahead of the finish.
func (f *funnel) turnsTo(a, b int32) float64 {
	if a == origin && !f.fixedStart {
		return f.from[0]*f.to[1] - f.from[1]*f.to[0]
	}
	pa, pb := f.v[a].p, f.v[b].p
	return (pb[0]-pa[0])*f.to[1] - (pb[1]-pa[1])*f.to[0]
}

// add narrows the funnel by the end of a portal on one side. Every vertex
// enters and leaves the deque at most once, so all portals together take time
// in proportion to their number.
func (f *funnel) add(p orb.Point, portal int, side Side) {
	sg := float64(side)
	end, step := f.lo, 1 // from the left end inwards
	if side == Right {
		end, step = f.hi, -1
	}
	// The chain on the own side stays convex.
	for end != f.apex && sg*f.turns(f.deque[end+step], f.deque[end], p) <= 0 {
		end += step
	}
	if end == f.apex {
		// Past the apex: the string bends round the other side.
		last := f.hi
		if side == Right {
			last = f.lo
		}
		for f.apex != last && sg*f.turns(f.deque[f.apex], f.deque[f.apex+step], p) < 0 {
			f.apex += step
		}
		end = f.apex
	}
	f.v = append(f.v, vertex{p: p, parent: f.deque[end], portal: int32(portal), side: side})
	end -= step
	f.deque[end] = int32(len(f.v) - 1)
	if side == Left {
		f.lo = end
	} else {
		f.hi = end
	}
}

// reach finds the vertex before a target: a point, or nil for the one at
// infinity ahead of the finish.
func (f *funnel) reach(target *orb.Point) int32 {
	turns := func(a, b int32) float64 {
		if target == nil {
			return f.turnsTo(a, b)
		}
		return f.turns(a, b, *target)
	}
	end := f.lo
	for end != f.apex && turns(f.deque[end+1], f.deque[end]) <= 0 {
		end++
	}
	if end == f.apex {
		for end != f.hi && turns(f.deque[end], f.deque[end+1]) < 0 {
			end++
		}
	}
	return f.deque[end]
}

// restart makes a vertex the only one of the funnel.
func (f *funnel) restart(v int32) {
	f.lo = len(f.deque) / 2
	f.hi, f.apex = f.lo, f.lo
	f.deque[f.lo] = v
}

func isPoint(p *road.Portal) bool {
	return math.Hypot(p.Left.P[0]-p.Right.P[0], p.Left.P[1]-p.Right.P[1]) < 1e-9
}

// path gives the contacts of the shortest string through all portals, in
// order. Without any (a straight road) it gives a point of the string.
func (f *funnel) path() (contacts []contact, through orb.Point) {
	n := len(f.portals)
	f.v = make([]vertex, 1, 2*n+2)
	f.deque = make([]int32, 4*n+8)
	f.fixedStart, f.fixedEnd = isPoint(&f.portals[0]), isPoint(&f.portals[n-1])
	f.v[origin].p = f.portals[0].Left.P
	f.restart(origin)
	for i := range f.portals {
		p := &f.portals[i]
		switch {
		case i == 0 && f.fixedStart, i == n-1 && f.fixedEnd:
		case isPoint(p):
			// All strings pass here: what comes after starts anew.
			f.v = append(f.v, vertex{p: p.Left.P, parent: f.reach(&p.Left.P), portal: int32(i), side: Left})
			f.restart(int32(len(f.v) - 1))
		default:
			if i == 0 || p.Left.P != f.portals[i-1].Left.P || isPoint(&f.portals[i-1]) {
				f.add(p.Left.P, i, Left)
			}
			if i == 0 || p.Right.P != f.portals[i-1].Right.P || isPoint(&f.portals[i-1]) {
				f.add(p.Right.P, i, Right)
			}
		}
	}
	var end int32
	if f.fixedEnd {
		end = f.reach(&f.portals[n-1].Left.P)
	} else {
		end = f.reach(nil)
	}
	if end == origin && !f.fixedStart && !f.fixedEnd {
		l, r := f.v[f.deque[f.apex-1]].p, f.v[f.deque[f.apex+1]].p
		return nil, orb.Point{(l[0] + r[0]) / 2, (l[1] + r[1]) / 2}
	}
	if f.fixedEnd {
		p := f.portals[n-1].Left
		contacts = append(contacts, contact{road.End{P: p.P}, n - 1, Left})
	}
	for k := end; k != origin; k = f.v[k].parent {
		v := f.v[k]
		p := &f.portals[v.portal]
		e := p.Left
		if v.side == Right {
			e = p.Right
		}
		contacts = append(contacts, contact{e, int(v.portal), v.side})
	}
	if f.fixedStart {
		contacts = append(contacts, contact{road.End{P: f.portals[0].Left.P}, 0, Left})
	}
	for i, j := 0, len(contacts)-1; i < j; i, j = i+1, j-1 {
		contacts[i], contacts[j] = contacts[j], contacts[i]
	}
	return contacts, contacts[0].P
}

// ahead is the direction of travel square across a portal; a portal that is a
// point has none, and gives the direction from it to the way on.
func ahead(p *road.Portal, otherwise orb.Point) orb.Point {
	dx, dy := p.Right.P[0]-p.Left.P[0], p.Right.P[1]-p.Left.P[1]
	if l := math.Hypot(dx, dy); l > 1e-9 {
		return orb.Point{-dy / l, dx / l}
	}
	return otherwise
}
