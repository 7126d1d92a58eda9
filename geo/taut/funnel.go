package taut

import (
	"math"
	"slices"

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
	// left and right are the vertices of the last portal's ends.
	left, right int32
}

// same in metres is how near two points are the same place. Ends of portals that
// are worked out twice, as where two stretches meet or where the road comes to
// a post, differ in the last digits: the direction from one to the other says
// nothing, and a funnel that takes it for a bend turns inside out.
const same = 1e-6

// tiny in metres is how far a point may lie off a line and be taken to lie on
// it: far above what rounding does to coordinates, far below what a string
// feels.
const tiny = 1e-9

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
	// The chain on the own side stays convex. An end that is back at a vertex
	// is that vertex.
	for !f.isAt(f.deque[end], p) && end != f.apex &&
		(sg*f.turns(f.deque[end+step], f.deque[end], p) <= 0 || f.sameWay(f.deque[end], f.deque[end+step], p)) {
		end += step
	}
	if k := f.deque[end]; f.isAt(k, p) {
		f.ends(side, end)
		if f.v[k].side == side {
			f.stays(k, portal)
		}
		return
	}
	if end == f.apex {
		// Past the apex: the string bends round the other side.
		last := f.hi
		if side == Right {
			last = f.lo
		}
		for f.apex != last && sg*f.turns(f.deque[f.apex], f.deque[f.apex+step], p) < 0 && !f.onLine(f.deque[f.apex], f.deque[f.apex+step], p) {
			f.apex += step
			if k := f.deque[f.apex]; f.isAt(k, p) {
				f.ends(side, f.apex)
				return
			}
		}
		end = f.apex
	}
	f.v = append(f.v, vertex{p: p, parent: f.deque[end], portal: int32(portal), side: side})
	f.deque[end-step] = int32(len(f.v) - 1)
	f.ends(side, end-step)
}

// ends sets where the funnel ends on a side.
func (f *funnel) ends(side Side, at int) {
	if side == Left {
		f.lo, f.left = at, f.deque[at]
	} else {
		f.hi, f.right = at, f.deque[at]
	}
}

// isAt says whether a vertex and a point are the same place.
func (f *funnel) isAt(k int32, p orb.Point) bool {
	return (k != origin || f.fixedStart) && distance(f.v[k].p, p) <= same
}

// line says how b and c lie as seen from a: 1 in the same direction, -1 in
// opposite directions, 0 neither. On a line only the last digits tell left
// from right, as at a step of the road's width or a gate.
func (f *funnel) line(a, b int32, c orb.Point) int {
	if (a == origin || b == origin) && !f.fixedStart {
		return 0
	}
	pa, pb := f.v[a].p, f.v[b].p
	ux, uy, vx, vy := pb[0]-pa[0], pb[1]-pa[1], c[0]-pa[0], c[1]-pa[1]
	if math.Abs(ux*vy-uy*vx) > tiny*math.Max(math.Hypot(ux, uy), math.Hypot(vx, vy)) {
		return 0
	}
	if ux*vx+uy*vy > 0 {
		return 1
	}
	return -1
}

// sameWay says that an edge which has come from b to a goes straight back to c.
func (f *funnel) sameWay(a, b int32, c orb.Point) bool { return f.line(a, b, c) > 0 }

// onLine says that the apex a lies on one line with b and c, as with the ends
// of a portal: c is reached without going round b.
func (f *funnel) onLine(a, b int32, c orb.Point) bool { return f.line(a, b, c) != 0 }

// advance narrows the funnel by a portal. The road from the last portal to it
// is two triangles, one for each end that is added: of the two ways to cut it
// the one is taken in which both lie ahead.
func (f *funnel) advance(i int) {
	p := &f.portals[i]
	l, r := f.v[f.left].p, f.v[f.right].p
	newLeft, newRight := distance(l, p.Left.P) > same, distance(r, p.Right.P) > same
	if newLeft && newRight {
		leftFirst := math.Min(area(l, r, p.Left.P), area(p.Left.P, r, p.Right.P))
		if leftFirst < 0 && math.Min(area(l, r, p.Right.P), area(l, p.Right.P, p.Left.P)) > leftFirst {
			f.add(p.Right.P, i, Right)
			f.add(p.Left.P, i, Left)
			return
		}
	}
	if newLeft {
		f.add(p.Left.P, i, Left)
	} else {
		f.stays(f.left, i)
	}
	if newRight {
		f.add(p.Right.P, i, Right)
	} else {
		f.stays(f.right, i)
	}
}

// stays notes that an end of a portal is where it was. If only the later one
// says that it lies on an arc, that holds for both.
func (f *funnel) stays(k int32, portal int) {
	v := &f.v[k]
	was, is := f.end(v), f.portals[portal].Left
	if v.side == Right {
		is = f.portals[portal].Right
	}
	if was.Radius == 0 && is.Radius > 0 && !isPoint(&f.portals[v.portal]) {
		v.portal = int32(portal)
	}
}

// end is the portal's end that a vertex stands for.
func (f *funnel) end(v *vertex) road.End {
	if v.side == Right {
		return f.portals[v.portal].Right
	}
	return f.portals[v.portal].Left
}

// area is twice that of a triangle, positive where c lies ahead of the portal
// from a on the left to b on the right.
func area(a, b, c orb.Point) float64 {
	return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0])
}

// distance between two points of the plane, m.
func distance(a, b orb.Point) float64 { return math.Hypot(b[0]-a[0], b[1]-a[1]) }

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
	f.left, f.right = v, v
}

// isPoint says whether a portal is one point, to which all strings are tied.
func isPoint(p *road.Portal) bool {
	return distance(p.Left.P, p.Right.P) < 1e-9
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
		case i == 0:
			f.add(p.Left.P, i, Left)
			f.add(p.Right.P, i, Right)
		default:
			f.advance(i)
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
		v := &f.v[k]
		contacts = append(contacts, contact{f.end(v), int(v.portal), v.side})
	}
	if f.fixedStart {
		contacts = append(contacts, contact{road.End{P: f.portals[0].Left.P}, 0, Left})
	}
	slices.Reverse(contacts)
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
