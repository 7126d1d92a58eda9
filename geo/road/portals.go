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
// clearance is taken off: place in the chains by index.
type cord struct {
	s      float64
	l, r   orb.Point
	kl, kr int // node at or before
}

// cutter takes corner radius and clearance off the ends of cords.
type cutter struct {
	l, r     []node
	sl, sr   shape
	posts    []post
	kerbs    bool // only the corner radius: gives the kerbs themselves
	repaired func(s float64)
	out      []Portal
	foreign  bool // the last cut was bound by something else than its own piece
}

// shape is where along a chain it bends, and how much of that towards the
// road.
type shape struct {
	cum        []float64   // length to every node
	in, all    []float64   // turning up to and with every node: towards the road, in all
	next, prev []int32     // the first node after, the last at or before, that turns towards the road
	most       float64     // the largest radius and clearance
	dir        []orb.Point // direction and length of the piece after every node
	len        []float64
}

// shapeOf measures a chain; the road is on the right of a left edge.
func shapeOf(ns []node, left bool) shape {
	n := len(ns)
	buf := make([]float64, 4*n)
	ints := make([]int32, 2*n)
	s := shape{cum: buf[:n], in: buf[n : 2*n], all: buf[2*n : 3*n], len: buf[3*n:], dir: make([]orb.Point, n), next: ints[:n], prev: ints[n:]}
	var dir orb.Point
	for i := range ns {
		s.most = max(s.most, ns[i].r+ns[i].c)
		if i == 0 {
			continue
		}
		d := sub(ns[i].p, ns[i-1].p)
		l := norm(d)
		s.cum[i] = s.cum[i-1] + l
		s.in[i], s.all[i] = s.in[i-1], s.all[i-1]
		s.prev[i] = s.prev[i-1]
		if l < 1e-9 {
			continue
		}
		d = orb.Point{d[0] / l, d[1] / l}
		s.dir[i-1], s.len[i-1] = d, l
		if dir != (orb.Point{}) {
			a := angleBetween(dir, d)
			if left {
				a = -a
			}
			// The turn is at the node before this piece.
			if a > 1e-6 {
				s.in[i-1] += a
				s.in[i] += a
				s.prev[i-1] = int32(i - 1)
				s.prev[i] = int32(i - 1)
			}
			a = math.Abs(a)
			s.all[i-1] += a
			s.all[i] += a
		}
		dir = d
	}
	next := int32(n)
	for i := n - 1; i >= 0; i-- {
		s.next[i] = next
		if i > 0 && s.in[i] > s.in[i-1] {
			next = int32(i)
		}
	}
	return s
}

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

// exit finds how far along the ray from a core the road begins.
func (c *cutter) exit(ns []node, k int, o, d orb.Point, s float64, isLeft bool) (t float64, centre orb.Point, round bool, rho float64) {
	foreign := false
	try := func(j int) {
		b := j + 1
		if b >= len(ns) {
			b = j
		}
		r := c.rho(&ns[j])
		if r <= 0 {
			return
		}
		if t > 0 {
			// Most pieces are not even near the end found so far.
			pa, g := sub(along(o, d, t), ns[j].p), sub(ns[b].p, ns[j].p)
			x, l2 := dot(pa, g), dot(g, g)
			r2 := r * r * (1 - 1e-9)
			switch {
			case x <= 0:
				if dot(pa, pa) >= r2 {
					return
				}
			case x < l2:
				if y := cross(pa, g); y*y >= r2*l2 {
					return
				}
			default:
				if pb := sub(pa, g); dot(pb, pb) >= r2 {
					return
				}
			}
		}
		in, ex, ce, ro, hit := capsule(o, d, ns[j].p, ns[b].p, r)
		if hit && in <= t+1e-9 && ex > t+1e-9 {
			if ex > t+1e-4 && j != k && j != k-1 && j != k+1 {
				foreign = true
			}
			t, centre, round, rho = ex, ce, ro, r
		}
	}
	sh := &c.sl
	if !isLeft {
		sh = &c.sr
	}
	// The ray starts on its own piece, which makes that one simple.
	own := c.rho(&ns[k])
	if v, l := sh.dir[k], sh.len[k]; own > 0 {
		g := sub(o, ns[k].p)
		x, ds, dc := dot(g, v), math.Abs(cross(v, d)), dot(v, d)
		end := -1.0 // beyond either end the round end counts
		if l > 0 && ds > 1e-9 {
			end = x + own/ds*dc
		}
		// An end on the straight part next to an arc is given to the arc: the
		// string touches both or neither.
		if near := 0.03 * own; end > 0 && end < l {
			t = own / ds
			if end < near {
				centre, round, rho = ns[k].p, true, own
			} else if end > l-near {
				centre, round, rho = ns[k+1].p, true, own
			}
		} else {
			centre, round, rho = ns[k].p, true, own
			if l > 0 && (end > l/2 || end < 0 && ds <= 1e-9 && dc > 0) {
				centre = ns[k+1].p
			}
			w := sub(centre, o)
			y := cross(d, w)
			t = dot(d, w) + math.Sqrt(math.Max(0, own*own-y*y))
		}
	}
	if k > 0 {
		try(k - 1)
	}
	if k+1 < len(ns) {
		try(k + 1)
	}
	// Others can only be in the way where the edge bends towards the road.
	far := 2.2*own + 0.5
	ahead, behind := max(k+2, int(sh.next[k])), min(k-2, int(sh.prev[k])-1)
	for range 3 {
		before := t
		for j := ahead; j < len(ns); j++ {
			l := sh.cum[j] - sh.cum[k]
			if l >= far {
				break
			}
			if a := sh.in[j] - sh.in[k]; a < 0.5 && sh.all[j]-sh.all[k] < 0.5 && l > 2.6*sh.most*a+1e-9 {
				continue
			}
			try(j)
		}
		for j := behind; j >= 0; j-- {
			l := sh.cum[k] - sh.cum[j+1]
			if l >= far {
				break
			}
			if a := sh.in[k] - sh.in[j]; a < 0.5 && sh.all[k]-sh.all[j] < 0.5 && l > 2.6*sh.most*a+1e-9 {
				continue
			}
			try(j)
		}
		if t == before {
			break
		}
	}
	for i := range c.posts {
		p := &c.posts[i]
		if p.left != isLeft || math.Abs(p.s-s) > p.rho+1e-6 || c.kerbs {
			continue
		}
		w := sub(p.p, o)
		y := cross(d, w)
		if p.rho == 0 {
			if x := dot(d, w); math.Abs(y) < 1e-6 && x > t {
				t, round, foreign = x, false, true
			}
			continue
		}
		if y*y < p.rho*p.rho {
			if x := dot(d, w) + math.Sqrt(p.rho*p.rho-y*y); x > t {
				t, centre, round, rho, foreign = x, p.p, true, p.rho, true
			}
		}
	}
	if !round {
		rho = 0
	}
	c.foreign = c.foreign || foreign
	return
}

// cut gives the portal of a cord.
func (c *cutter) cut(q cord) (p Portal, foreign bool) {
	c.foreign = false
	g := sub(q.r, q.l)
	w := norm(g)
	p.At = q.s
	if w < 1e-9 {
		p.Left.P, p.Right.P = q.l, q.l
		return p, false
	}
	d := orb.Point{g[0] / w, g[1] / w}
	tl, cl, roundL, rhoL := c.exit(c.l, q.kl, q.l, d, q.s, true)
	tr, cr, roundR, rhoR := c.exit(c.r, q.kr, q.r, orb.Point{-d[0], -d[1]}, q.s, false)
	if tl+tr > w {
		// No room: what there is, is shared, and the road is a point wide.
		x := w * tl / (tl + tr)
		p.Left.P = along(q.l, d, x)
		p.Right.P = p.Left.P
		if c.repaired != nil {
			c.repaired(q.s)
		}
		return p, c.foreign
	}
	p.Left = End{P: along(q.l, d, tl)}
	if roundL {
		p.Left.Centre, p.Left.Radius = cl, rhoL
	}
	p.Right = End{P: along(q.r, d, -tr)}
	if roundR {
		p.Right.Centre, p.Right.Radius = cr, rhoR
	}
	return p, c.foreign
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

// between appends the portals after cord a up to and with cord b.
func (c *cutter) between(a, b cord, pa Portal, fa bool) (Portal, bool) {
	if n, at := c.fan(a, b); n > 1 {
		prev := a
		for i := 1; i < n; i++ {
			next := at(i)
			pa, fa = c.step(prev, next, pa, fa, 0)
			prev = next
		}
		return c.step(prev, b, pa, fa, 0)
	}
	return c.step(a, b, pa, fa, 0)
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
		rho = c.rho(&c.l[a.kl])
	case a.r == b.r && !lp:
		pivot, from, to = a.r, a.l, b.l
		rho = c.rho(&c.r[a.kr])
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

// follow is how far in metres an edge may lie off the line between the ends of
// two portals. Where it turns round a corner the corner's own arc counts.
const follow = 5e-4

// step appends the portal of b and, where the edge between a and b is bound
// by something in between, as many as it takes to follow it.
func (c *cutter) step(a, b cord, pa Portal, fa bool, depth int) (Portal, bool) {
	pb, fb := c.cut(b)
	if (fa || fb) && depth < 12 && norm(sub(a.l, b.l))+norm(sub(a.r, b.r)) > 1e-3 {
		m := cord{s: (a.s + b.s) / 2, l: mix(a.l, b.l, 0.5), r: mix(a.r, b.r, 0.5), kl: a.kl, kr: a.kr}
		pm, _ := c.cut(m)
		if intrudes(pm.Left.P, pa.Left.P, pb.Left.P, 1) || intrudes(pm.Right.P, pa.Right.P, pb.Right.P, -1) {
			pm, fm := c.step(a, m, pa, fa, depth+1)
			return c.step(m, b, pm, fm, depth+1)
		}
	}
	c.out = append(c.out, pb)
	return pb, fb
}

// intrudes says whether an edge stands out into the road at p, between the
// ends a and b of two portals: side is 1 for a left edge. Where it falls back
// instead, a portal between the two would not hold the string.
func intrudes(p, a, b orb.Point, side float64) bool {
	g := sub(b, a)
	l := norm(g)
	if l < 1e-9 {
		return norm(sub(p, a)) > follow
	}
	return side*cross(g, sub(p, a)) < -follow*l
}

// cords joins two chains by chainage between from and to. Extra chainages get
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
