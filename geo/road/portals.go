package road

import (
	"math"

	"github.com/paulmach/orb"
)

// slight is the turn in radians up to which the inside of a corner between two
// neighbouring pieces is one node instead of a fan of its own.
const slight = 0.1

// chain turns valid pieces into the nodes of an edge's core.
func (q *section) chain(ps []piece, lam []edge) []node {
	ns := make([]node, 0, len(ps)+8)
	add := func(s float64, p orb.Point, e edge, near float64) {
		if n := len(ns); n > 0 {
			m := &ns[n-1]
			if math.Abs(m.p[0]-p[0])+math.Abs(m.p[1]-p[1]) < near {
				if s-m.s < 1e-9 {
					m.r, m.c = e.r, e.c
					return
				}
				p = m.p // the centre of a fan is one point
			}
			s = math.Max(s, m.s)
			if near > 1e-6 && m.r+m.c > e.r+e.c {
				m.r, m.c = e.r, e.c // the wall of a step takes the smaller room
			}
		}
		ns = append(ns, node{s, p, e.r, e.c})
	}
	for i := 0; i < len(ps); i++ {
		p := &ps[i]
		e := lam[p.e]
		if n := len(ns); p.radius > 0 && math.Abs(p.by) < 0.3 && e.out*e.core() > 0 && n > 1 && ns[n-1].p == p.a && ns[n-2].p != p.a && i+1 < len(ps) {
			// A short arc between two straight pieces: the point where they
			// would meet stands for it.
			if q := &ps[i+1]; q.radius == 0 && norm(sub(q.a, p.b)) < 1e-6 {
				ns[n-1] = node{p.s0, onCircle(p.centre, p.radius/math.Cos(p.by/2), p.from+p.by/2), lam[q.e].r, lam[q.e].c}
				add(q.s1, q.b, lam[q.e], 1e-9)
				i++
				continue
			}
		}
		if i > 0 && p.radius == 0 {
			if b := &ps[i-1]; b.radius == 0 && b.e == p.e-1 && math.Abs(q.th[p.e]) < slight && math.Abs(b.b[0]-p.a[0])+math.Abs(b.b[1]-p.a[1]) < tolerance(e) {
				m := &ns[len(ns)-1]
				m.s, m.r, m.c = max(m.s, q.s[p.e]), e.r, e.c
				add(p.s1, p.b, e, 1e-9)
				continue
			}
		}
		add(p.s0, p.a, e, tolerance(e))
		if p.radius > 0 {
			// Corners of the polygon that the arc is drawn into.
			step := 0.3
			if e.out*e.core() < 0 {
				step = 0.03 // a lane's edge across the course: runners press on it
			}
			n := math.Ceil(math.Abs(p.by) / step)
			h := p.by / n / 2
			for k := range int(n) {
				add(p.s0, onCircle(p.centre, p.radius/math.Cos(h), p.from+h*float64(2*k+1)), e, 1e-9)
			}
		}
		add(p.s1, p.b, e, 1e-9)
	}
	return ns
}

// post is a thing on the road that the runner must leave on one side: a gate's
// end, a cone to turn round, the end of a median.
type post struct {
	s    float64
	left bool // it limits the left end of the portals
	p    orb.Point
	rho  float64
}

// cord is a portal between the two cores, before room for corner radius and
// clearance is taken off: place in the cores by index.
type cord struct {
	s      float64
	l, r   orb.Point
	kl, kr int // node at or before
}

// cutter takes corner radius and clearance off the ends of cords.
type cutter struct {
	l, r     core
	posts    []post
	kerbs    bool            // only the corner radius: gives the kerbs themselves
	repaired func(s float64) // told where there is no room; may be nil
	out      []Portal
}

// core is one edge's core: its nodes, where it bends, and how much of that
// towards the road.
type core struct {
	ns         []node
	left       bool
	cum        []float64   // length to every node
	in, all    []float64   // turning up to and with every node: towards the road, in all
	next, prev []int32     // the first node after, the last at or before, that turns towards the road
	most       float64     // the largest radius and clearance
	dir        []orb.Point // direction and length of the piece after every node
	len        []float64
}

// newCore measures a chain of nodes; the road is on the right of a left edge.
func newCore(ns []node, left bool) core {
	n := len(ns)
	buf := make([]float64, 4*n)
	ints := make([]int32, 2*n)
	c := core{ns: ns, left: left, cum: buf[:n], in: buf[n : 2*n], all: buf[2*n : 3*n], len: buf[3*n:], dir: make([]orb.Point, n), next: ints[:n], prev: ints[n:]}
	var dir orb.Point
	for i := range ns {
		c.most = max(c.most, ns[i].r+ns[i].c)
		if i == 0 {
			continue
		}
		d := sub(ns[i].p, ns[i-1].p)
		l := norm(d)
		c.cum[i] = c.cum[i-1] + l
		c.in[i], c.all[i] = c.in[i-1], c.all[i-1]
		c.prev[i] = c.prev[i-1]
		if l < 1e-9 {
			continue
		}
		d = orb.Point{d[0] / l, d[1] / l}
		c.dir[i-1], c.len[i-1] = d, l
		if dir != (orb.Point{}) {
			a := angleBetween(dir, d)
			if left {
				a = -a
			}
			// The turn is at the node before this piece.
			if a > 1e-6 {
				c.in[i-1] += a
				c.in[i] += a
				c.prev[i-1] = int32(i - 1)
				c.prev[i] = int32(i - 1)
			}
			a = math.Abs(a)
			c.all[i-1] += a
			c.all[i] += a
		}
		dir = d
	}
	next := int32(n)
	for i := n - 1; i >= 0; i-- {
		c.next[i] = next
		if i > 0 && c.in[i] > c.in[i-1] {
			next = int32(i)
		}
	}
	return c
}

// rho is the room that the piece after a node takes.
func (c *cutter) rho(n *node) float64 {
	if c.kerbs {
		return n.r
	}
	return n.r + n.c
}

// capsule gives the part of the ray o + t d that lies within rho of the
// segment from a to b, and the centre if it leaves that part through the
// round end.
func capsule(o, d, a, b orb.Point, rho float64) (in, ex float64, centre orb.Point, round, hit bool) {
	in, ex = math.Inf(1), math.Inf(-1)
	wa := sub(a, o)
	if y := cross(d, wa); y*y < rho*rho {
		x, h := dot(d, wa), math.Sqrt(rho*rho-y*y)
		in, ex, centre, round, hit = x-h, x+h, a, true, true
	}
	g := sub(b, a)
	l2 := dot(g, g)
	if l2 < 1e-18 {
		return
	}
	wb := sub(b, o)
	if y := cross(d, wb); y*y < rho*rho {
		x, h := dot(d, wb), math.Sqrt(rho*rho-y*y)
		in = math.Min(in, x-h)
		if x+h > ex {
			ex, centre, round = x+h, b, true
		}
		hit = true
	}
	l := math.Sqrt(l2)
	v := orb.Point{g[0] / l, g[1] / l}
	k, m := dot(v, d), -dot(v, wa)
	k2, m2 := cross(v, d), -cross(v, wa)
	lo, hi := clip(math.Inf(-1), math.Inf(1), k, m, 0, l)
	lo, hi = clip(lo, hi, k2, m2, -rho, rho)
	if hi > lo {
		hit = true
		in = math.Min(in, lo)
		if hi > ex+1e-9 {
			ex, round = hi, false
		}
	}
	return
}

// ray leads from a core across the road. It finds how far along it the road
// begins: beyond all room that is taken.
type ray struct {
	o, d    orb.Point // begin, unit direction
	t       float64   // m, where the road begins as far as it is known
	centre  orb.Point // of the arc that t lies on
	rho     float64   // its radius
	round   bool      // t lies on an arc
	foreign bool      // t is bound by something else than the ray's own piece
}

// exit finds where the road begins on the way from the point o of a core,
// beside its node k, at chainage s, in a direction.
func (c *cutter) exit(e *core, k int, o, d orb.Point, s float64) ray {
	y := ray{o: o, d: d}
	own := c.rho(&e.ns[k])
	if own > 0 {
		y.leaveOwn(e, k, own)
	}
	if k > 0 {
		c.leave(&y, e, k-1, k)
	}
	if k+1 < len(e.ns) {
		c.leave(&y, e, k+1, k)
	}
	c.leaveOthers(&y, e, k, 2.2*own+0.5)
	if !c.kerbs {
		c.leavePosts(&y, e.left, s)
	}
	if !y.round {
		y.rho = 0
	}
	return y
}

// leaveOwn takes the ray out of the room of the piece that it starts on, which
// is simple.
func (y *ray) leaveOwn(e *core, k int, own float64) {
	v, l := e.dir[k], e.len[k]
	g := sub(y.o, e.ns[k].p)
	x, ds, dc := dot(g, v), math.Abs(cross(v, y.d)), dot(v, y.d)
	end := -1.0 // beyond either end the round end counts
	if l > 0 && ds > 1e-9 {
		end = x + own/ds*dc
	}
	// An end on the straight part next to an arc is given to the arc: the
	// string touches both or neither.
	if near := 0.03 * own; end > 0 && end < l {
		y.t = own / ds
		if end < near {
			y.centre, y.round, y.rho = e.ns[k].p, true, own
		} else if end > l-near {
			y.centre, y.round, y.rho = e.ns[k+1].p, true, own
		}
	} else {
		y.centre, y.round, y.rho = e.ns[k].p, true, own
		if l > 0 && (end > l/2 || end < 0 && ds <= 1e-9 && dc > 0) {
			y.centre = e.ns[k+1].p
		}
		w := sub(y.centre, y.o)
		h := cross(y.d, w)
		y.t = dot(y.d, w) + math.Sqrt(math.Max(0, own*own-h*h))
	}
}

// leave takes the ray out of the room of piece j, where that lies in its way;
// the ray's own piece is k.
func (c *cutter) leave(y *ray, e *core, j, k int) {
	b := j + 1
	if b >= len(e.ns) {
		b = j
	}
	r := c.rho(&e.ns[j])
	if r <= 0 {
		return
	}
	if y.t > 0 {
		// Most pieces are not even near the end found so far.
		pa, g := sub(along(y.o, y.d, y.t), e.ns[j].p), sub(e.ns[b].p, e.ns[j].p)
		x, l2 := dot(pa, g), dot(g, g)
		r2 := r * r * (1 - 1e-9)
		switch {
		case x <= 0:
			if dot(pa, pa) >= r2 {
				return
			}
		case x < l2:
			if h := cross(pa, g); h*h >= r2*l2 {
				return
			}
		default:
			if pb := sub(pa, g); dot(pb, pb) >= r2 {
				return
			}
		}
	}
	in, ex, centre, round, hit := capsule(y.o, y.d, e.ns[j].p, e.ns[b].p, r)
	if hit && in <= y.t+1e-9 && ex > y.t+1e-9 {
		if ex > y.t+1e-4 && j != k && j != k-1 && j != k+1 {
			y.foreign = true
		}
		y.t, y.centre, y.round, y.rho = ex, centre, round, r
	}
}

// leaveOthers takes the ray out of the room of the pieces within far metres
// along the core that are not next to its own, k. They can only be in the way
// where the edge bends towards the road.
func (c *cutter) leaveOthers(y *ray, e *core, k int, far float64) {
	ahead, behind := max(k+2, int(e.next[k])), min(k-2, int(e.prev[k])-1)
	// One piece may lead the ray into the room of another that was passed.
	for range 3 {
		before := y.t
		for j := ahead; j < len(e.ns); j++ {
			l := e.cum[j] - e.cum[k]
			if l >= far {
				break
			}
			if a := e.in[j] - e.in[k]; a < narrowly && e.all[j]-e.all[k] < narrowly && l > staysClear*e.most*a+1e-9 {
				continue
			}
			c.leave(y, e, j, k)
		}
		for j := behind; j >= 0; j-- {
			l := e.cum[k] - e.cum[j+1]
			if l >= far {
				break
			}
			if a := e.in[k] - e.in[j]; a < narrowly && e.all[k]-e.all[j] < narrowly && l > staysClear*e.most*a+1e-9 {
				continue
			}
			c.leave(y, e, j, k)
		}
		if y.t == before {
			break
		}
	}
}

// leavePosts takes the ray out of the room of the posts on its side.
func (c *cutter) leavePosts(y *ray, left bool, s float64) {
	for i := range c.posts {
		p := &c.posts[i]
		if p.left != left || math.Abs(p.s-s) > p.rho+1e-6 {
			continue
		}
		w := sub(p.p, y.o)
		h := cross(y.d, w)
		if p.rho == 0 {
			if x := dot(y.d, w); math.Abs(h) < 1e-6 && x > y.t {
				y.t, y.round, y.foreign = x, false, true
			}
			continue
		}
		if h*h < p.rho*p.rho {
			if x := dot(y.d, w) + math.Sqrt(p.rho*p.rho-h*h); x > y.t {
				y.t, y.centre, y.round, y.rho, y.foreign = x, p.p, true, p.rho, true
			}
		}
	}
}

// end is the portal's end where the road begins.
func (y *ray) end() End {
	e := End{P: along(y.o, y.d, y.t)}
	if y.round {
		e.Centre, e.Radius = y.centre, y.rho
	}
	return e
}

// bound is a portal, and whether it is bound by something else than the pieces
// that its cord starts on.
type bound struct {
	Portal
	foreign bool
}

// cut gives the portal of a cord.
func (c *cutter) cut(q cord) bound {
	p := bound{Portal: Portal{At: q.s}}
	g := sub(q.r, q.l)
	w := norm(g)
	if w < 1e-9 {
		p.Left.P, p.Right.P = q.l, q.l
		return p
	}
	d := orb.Point{g[0] / w, g[1] / w}
	l := c.exit(&c.l, q.kl, q.l, d, q.s)
	r := c.exit(&c.r, q.kr, q.r, orb.Point{-d[0], -d[1]}, q.s)
	p.foreign = l.foreign || r.foreign
	if l.t+r.t > w {
		// No room: what there is, is shared, and the road is a point wide.
		x := w * l.t / (l.t + r.t)
		p.Left.P = along(q.l, d, x)
		p.Right.P = p.Left.P
		if c.repaired != nil {
			c.repaired(q.s)
		}
		return p
	}
	p.Left, p.Right = l.end(), r.end()
	return p
}

// arcStep is the angle in radians between two samples of an arc of radius
// rho. The string that only grazes an arc between two samples is short by at
// most rho·step³/24, here under 0.03 mm.
func arcStep(rho float64) float64 {
	if rho <= 0 {
		return 0.1
	}
	return max(0.02, min(0.1, math.Cbrt(6e-4/rho)))
}

// follow appends the portals of cords, and as many between them as it takes.
func (c *cutter) follow(cs []cord) {
	p := c.cut(cs[0])
	c.out = append(c.out, p.Portal)
	for i := 1; i < len(cs); i++ {
		p = c.between(cs[i-1], cs[i], p)
	}
}

// between appends the portals after cord a, whose portal is pa, up to and with
// cord b, and gives that of b.
func (c *cutter) between(a, b cord, pa bound) bound {
	if n, at := c.fan(a, b); n > 1 {
		prev := a
		for i := 1; i < n; i++ {
			next := at(i)
			pa = c.step(prev, next, pa, 0)
			prev = next
		}
		a = prev
	}
	return c.step(a, b, pa, 0)
}

// fan says into how many parts the turn between two cords that share an end
// is to be cut, and gives the cord at each cut.
func (c *cutter) fan(a, b cord) (int, func(i int) cord) {
	var pivot, from, to orb.Point
	var rho float64
	lp := a.l == b.l
	switch {
	case lp && a.r != b.r:
		pivot, from, to = a.l, a.r, b.r
		rho = c.rho(&c.l.ns[a.kl])
	case a.r == b.r && !lp:
		pivot, from, to = a.r, a.l, b.l
		rho = c.rho(&c.r.ns[a.kr])
	default:
		return 1, nil
	}
	for i := range c.posts {
		if c.posts[i].p == pivot {
			rho = math.Max(rho, c.posts[i].rho)
		}
	}
	u, w := sub(from, pivot), sub(to, pivot)
	ang := math.Atan2(cross(u, w), dot(u, w))
	n := int(math.Ceil(math.Abs(ang) / arcStep(rho)))
	if n <= 1 || rho <= 0 || math.Abs(ang) > 3 {
		return 1, nil
	}
	return n, func(i int) cord {
		sn, cs := math.Sincos(ang * float64(i) / float64(n))
		d := orb.Point{cs*u[0] - sn*u[1], sn*u[0] + cs*u[1]}
		g := sub(to, from)
		t := 0.5
		if den := cross(d, g); den != 0 {
			t = max(0, min(1, cross(u, d)/den))
		}
		q := cord{s: a.s + t*(b.s-a.s), kl: a.kl, kr: a.kr}
		m := mix(from, to, t)
		if lp {
			q.l, q.r = pivot, m
		} else {
			q.l, q.r = m, pivot
		}
		return q
	}
}

// sag is how far in metres an edge may lie off the line between the ends of
// two portals. Where it turns round a corner the corner's own arc counts.
const sag = 5e-4

// step appends the portal of b and, where the edge between a and b is bound
// by something in between, as many as it takes to follow it.
func (c *cutter) step(a, b cord, pa bound, depth int) bound {
	pb := c.cut(b)
	if (pa.foreign || pb.foreign) && depth < 12 && norm(sub(a.l, b.l))+norm(sub(a.r, b.r)) > 1e-3 {
		m := cord{s: (a.s + b.s) / 2, l: mix(a.l, b.l, 0.5), r: mix(a.r, b.r, 0.5), kl: a.kl, kr: a.kr}
		pm := c.cut(m)
		if intrudes(pm.Left.P, pa.Left.P, pb.Left.P, 1) || intrudes(pm.Right.P, pa.Right.P, pb.Right.P, -1) {
			pm = c.step(a, m, pa, depth+1)
			return c.step(m, b, pm, depth+1)
		}
	}
	c.out = append(c.out, pb.Portal)
	return pb
}

// intrudes says whether an edge stands out into the road at p, between the
// ends a and b of two portals: side is 1 for a left edge. Where it falls back
// instead, a portal between the two would not hold the string.
func intrudes(p, a, b orb.Point, side float64) bool {
	g := sub(b, a)
	l := norm(g)
	if l < 1e-9 {
		return norm(sub(p, a)) > sag
	}
	return side*cross(g, sub(p, a)) < -sag*l
}

// cords joins two cores by chainage between from and to. Extra chainages get
// a cord of their own.
func cords(l, r []node, from, to float64, extra []float64) []cord {
	il, ir, ie := 0, 0, 0
	// The last node at or before from; among nodes at the same chainage the last.
	for il+1 < len(l) && l[il+1].s <= from {
		il++
	}
	for ir+1 < len(r) && r[ir+1].s <= from {
		ir++
	}
	at := func(ns []node, k int, s float64) orb.Point {
		if k+1 >= len(ns) || s <= ns[k].s {
			return ns[k].p
		}
		a, b := &ns[k], &ns[k+1]
		if a.p == b.p || b.s <= a.s {
			return a.p
		}
		return mix(a.p, b.p, (s-a.s)/(b.s-a.s))
	}
	out := make([]cord, 0, len(l)+len(r)+len(extra)+2)
	add := func(s float64) {
		q := cord{s: s, l: at(l, il, s), r: at(r, ir, s), kl: il, kr: ir}
		if n := len(out); n > 0 && out[n-1].l == q.l && out[n-1].r == q.r {
			out[n-1].kl, out[n-1].kr = il, ir
			return
		}
		out = append(out, q)
	}
	add(from)
	for {
		s := to
		if il+1 < len(l) && l[il+1].s < s {
			s = l[il+1].s
		}
		if ir+1 < len(r) && r[ir+1].s < s {
			s = r[ir+1].s
		}
		for ie < len(extra) && extra[ie] <= from {
			ie++
		}
		if ie < len(extra) && extra[ie] < s {
			s = extra[ie]
			ie++
			add(s)
			continue
		}
		if s >= to {
			break
		}
		if ie < len(extra) && extra[ie] == s {
			ie++
		}
		// All nodes at this chainage: the points of a step or of the outside of
		// a corner, on both sides in step.
		nl, nr := 0, 0
		for il+nl+1 < len(l) && l[il+nl+1].s <= s {
			nl++
		}
		for ir+nr+1 < len(r) && r[ir+nr+1].s <= s {
			nr++
		}
		for i, j := 0, 0; i < nl || j < nr; add(s) {
			a, b := (i+1)*nr, (j+1)*nl
			if i < nl && (a <= b || j == nr) {
				i++
				il++
			}
			if j < nr && (b <= a || i == nl && a > b) {
				j++
				ir++
			}
		}
	}
	add(to)
	return out
}
