package road

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// section is a piece of the course between turn-arounds: the polyline that
// both edges of the road are offset from. It is lengthened straight on at
// both ends so that a corner close to an end is built like any other.
type section struct {
	p   []orb.Point
	s   []float64   // chainage of every vertex
	u   []orb.Point // unit direction of every piece
	len []float64   // planar length of every piece
	cum []float64   // planar length to every vertex
	th  []float64   // turn at every vertex, 0 at the ends
	// Prefix sums of turning, so that the turning of a window is one
	// subtraction: to the left, to the right.
	left, right []float64
	// The next vertex at or after, and the last at or before, that turns to a
	// side.
	nextLeft, nextRight, prevLeft, prevRight []int32

	// The heading of every piece, unwrapped, against the first, and its
	// largest and smallest value in every block of pieces.
	head      []float64
	high, low []float64

	far float64 // no core is farther from the course

	from, to float64 // chainage of the section without the lengthening

	// What the Spec says of every piece.
	l, r []edge

	scratch [][2]float64
}

// edge is one edge of the road along one piece.
type edge struct {
	at    float64 // lateral position of the edge itself, left positive
	out   float64 // +1 for a left edge, -1 for a right edge: the side the road is not on
	r     float64 // radius of its corners
	c     float64 // clearance
	kind  EdgeKind
	drawn bool // taken from a drawn kerb
}

// core is the lateral position of the line from which the edge is grown back
// with round corners.
func (e edge) core() float64 { return e.at + e.out*e.r }

// limit brings the core no farther out than d from the drawn course: first
// the corner radius gives way, then the road's width.
func (e edge) limit(d float64) edge {
	if e.out*e.core() <= d {
		return e
	}
	e.r = math.Max(0, d-e.out*e.at)
	if e.out*e.at > d {
		e.at = e.out * d
	}
	return e
}

func sub(a, b orb.Point) orb.Point              { return orb.Point{a[0] - b[0], a[1] - b[1]} }
func along(a, u orb.Point, t float64) orb.Point { return orb.Point{a[0] + t*u[0], a[1] + t*u[1]} }
func dot(a, b orb.Point) float64                { return a[0]*b[0] + a[1]*b[1] }
func cross(a, b orb.Point) float64              { return a[0]*b[1] - a[1]*b[0] }
func norm(a orb.Point) float64                  { return math.Sqrt(a[0]*a[0] + a[1]*a[1]) }
func leftOf(u orb.Point) orb.Point              { return orb.Point{-u[1], u[0]} }
func mix(a, b orb.Point, t float64) orb.Point {
	return orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
}

// angleBetween is the turn from direction u to direction w, in (-π, π].
func angleBetween(u, w orb.Point) float64 {
	c, d := cross(u, w), dot(u, w)
	if d > 0.9 { // most turns are small, and this is several times quicker
		return math.Asin(max(-1, min(1, c)))
	}
	return math.Atan2(c, d)
}

// newSection measures a polyline without repeated points.
func newSection(p []orb.Point, s []float64) *section {
	n := len(p)
	buf := make([]float64, 5*n)
	q := &section{p: p, s: s, u: make([]orb.Point, n-1),
		len: buf[:n-1], cum: buf[n : 2*n], th: buf[2*n : 3*n], left: buf[3*n : 4*n], right: buf[4*n : 5*n]}
	for i := range n - 1 {
		d := sub(p[i+1], p[i])
		q.len[i] = norm(d)
		q.u[i] = orb.Point{d[0] / q.len[i], d[1] / q.len[i]}
		q.cum[i+1] = q.cum[i] + q.len[i]
		if i > 0 {
			q.th[i] = angleBetween(q.u[i-1], q.u[i])
		}
		q.left[i+1] = q.left[i] + max(0, q.th[i])
		q.right[i+1] = q.right[i] - min(0, q.th[i])
	}
	blocks := (n + block - 1) / block
	heads := make([]float64, n+2*blocks)
	q.head, q.high, q.low = heads[:n-1], heads[n:n+blocks], heads[n+blocks:]
	for i := range n - 1 {
		h := q.left[i+1] - q.right[i+1]
		q.head[i] = h
		b := i / block
		if i%block == 0 {
			q.high[b], q.low[b] = h, h
		}
		q.high[b], q.low[b] = max(q.high[b], h), min(q.low[b], h)
	}
	const straight = 1e-6 // radians
	ints := make([]int32, 4*n)
	q.nextLeft, q.nextRight, q.prevLeft, q.prevRight = ints[:n], ints[n:2*n], ints[2*n:3*n], ints[3*n:]
	l, r := int32(n), int32(n)
	for i := n - 1; i >= 0; i-- {
		if q.th[i] > straight {
			l = int32(i)
		} else if q.th[i] < -straight {
			r = int32(i)
		}
		q.nextLeft[i], q.nextRight[i] = l, r
	}
	l, r = 0, 0
	for i := range n {
		if q.th[i] > straight {
			l = int32(i)
		} else if q.th[i] < -straight {
			r = int32(i)
		}
		q.prevLeft[i], q.prevRight[i] = l, r
	}
	return q
}

// node is a vertex of an edge's core. Between two nodes both the place and the
// chainage served run linearly; equal places with different chainages are a
// fan round a corner, different places at the same chainage a step or the
// outside of a corner.
type node struct {
	s    float64
	p    orb.Point
	r, c float64 // corner radius and clearance of the piece that follows
}

// piece is a valid part of an offset line.
type piece struct {
	s0, s1 float64
	a, b   orb.Point
	e      int // which piece of the course
	// Round the outside of a corner: centre, radius and the two directions.
	centre   orb.Point
	radius   float64 // 0 for a straight piece
	from, by float64 // direction of a, turn to that of b
}

// block is how many pieces are passed over at once where none can matter.
const block = 16

// narrowly is the turn T in radians up to which the course counts as going on.
// What turns by less than it in all, and by A towards the edge, stays clear of
// the circle of radius d beyond 2 d sin A / cos² T < staysClear d A.
const (
	narrowly   = 0.5
	staysClear = 2.6
)

// rightRound is the turn in radians from which a course that bends away from
// an edge may come round to it from the other side.
const rightRound = 1.5

// soft is the turn in radians up to which a vertex is joined by one point,
// the meeting of the two offset lines, on either side.
const soft = 0.02

// reach is how many times the offset distance along the course another piece
// can lie and still be taken for the same place. Farther along, the road has
// come back to where it was: a lap, a crossing, the way back.
const reach = 12

// meets is the distance in metres at which two ends are the same point but for
// rounding; to it comes the small tip of a soft joint.
const meets = 1e-4

func tolerance(e edge) float64 { return meets + soft*soft/7*math.Abs(e.core()) }

// gap is a part of the course where a core cannot pass: a disc of the offset
// distance does not fit between two parts of the course.
type gap struct{ from, to float64 }

// offset gives the valid pieces of the line at lateral distance lam[i] (left
// positive) beside the pieces from to to-1 of the section. A point of it is
// valid if no other part of the course within reach lies nearer than that
// part's own distance, which cuts away exactly what bends tighter than the
// distance turn inside out.
func (q *section) offset(lam []edge, from, to int) []piece {
	out := make([]piece, 0, (to-from)+8)
	var cuts [][2]float64
	lo, hi := from, from
	for i := from; i < to; i++ {
		d := lam[i].core()
		n := leftOf(q.u[i])
		o := along(q.p[i], n, d)
		x0, x1 := 0.0, q.len[i]
		softBack := i > 0 && math.Abs(q.th[i]) < soft && lam[i-1].core() == d
		softAhead := i+2 < len(q.p) && math.Abs(q.th[i+1]) < soft && lam[i+1].core() == d
		if softBack {
			x0 = d * halfTan(q.th[i])
		}
		if softAhead {
			x1 -= d * halfTan(q.th[i+1])
		}
		cuts = cuts[:0]
		if d != 0 {
			w := reach * math.Abs(d)
			for lo < i && q.cum[i]-q.cum[lo+1] > w {
				lo++
			}
			for lo > 0 && q.cum[i]-q.cum[lo] <= w {
				lo--
			}
			hi = max(hi, i)
			for hi < len(q.len)-1 && q.cum[hi+1]-q.cum[i+1] <= w {
				hi++
			}
			for hi > i && q.cum[hi]-q.cum[i+1] > w {
				hi--
			}
			l := parallel{q: q, lam: lam, i: i, d: d, sign: math.Copysign(1, d), w: w, o: o, u: q.u[i], x0: x0, x1: x1, cuts: cuts}
			if !l.ahead(hi, softAhead) {
				l.behind(lo, softBack)
			}
			cuts = l.cuts
		}
		if x1 > x0 {
			if len(cuts) == 0 && (softBack || softAhead) {
				// Soft joints keep the chainage of their vertex.
				s0, s1 := q.s[i], q.s[i+1]
				out = append(out, piece{s0: s0, s1: s1, a: along(o, q.u[i], x0), b: along(o, q.u[i], x1), e: i})
			} else {
				out = q.keep(out, cuts, i, o, x0, x1)
			}
		}
		// The outside of a corner: an arc round it from one line to the next.
		if i+2 < len(q.p) && i+1 < to && !softAhead {
			d2 := lam[i+1].core()
			if d*q.th[i+1] < 0 && d2*q.th[i+1] < 0 {
				out = q.outside(out, lam, i, d, d2, lo, hi)
			}
		}
	}
	return out
}

// halfTan is the tangent of half an angle smaller than soft.
func halfTan(th float64) float64 {
	h := th / 2
	return h * (1 + h*h/3*(1+0.4*h*h)) // |th| < soft: relative error below 1e-10
}

// parallel is the line beside piece i at its core's distance, o + x u with
// x0 <= x <= x1, and what lies too near to other pieces of the course and is
// cut out of it: intervals of x.
type parallel struct {
	q      *section
	lam    []edge
	i      int
	d      float64 // lateral distance, left positive
	sign   float64 // of d
	w      float64 // how far along the course anything can be in the way
	o, u   orb.Point
	x0, x1 float64
	cuts   [][2]float64
}

// turnIn is the turning towards the edge at the vertices from a to b.
func (l *parallel) turnIn(a, b int) float64 {
	if b < a {
		return 0
	}
	if l.sign > 0 {
		return l.q.left[b+1] - l.q.left[a]
	}
	return l.q.right[b+1] - l.q.right[a]
}

// turnAll is the turning to either side at the vertices from a to b.
func (l *parallel) turnAll(a, b int) float64 {
	if b < a {
		return 0
	}
	return l.q.left[b+1] - l.q.left[a] + l.q.right[b+1] - l.q.right[a]
}

// limit is how far along the course anything between the vertices a and b can
// be in the way: see staysClear.
func (l *parallel) limit(a, b int) float64 {
	if l.turnAll(a, b) < narrowly {
		return staysClear * math.Abs(l.d) * l.turnIn(a, b)
	}
	return math.Inf(1)
}

// clear is within how many metres along the course of vertex k nothing can be
// in the way, because it is farther than the largest distance by as much.
func (l *parallel) clear(k int) float64 {
	g := sub(l.q.p[k], l.o)
	x, y := dot(l.u, g), cross(l.u, g)
	dx := max(l.x0-x, x-l.x1, 0)
	if dx == 0 {
		return 0
	}
	return math.Sqrt(dx*dx+y*y) - l.q.far
}

// swing is how far the course has turned since the line's own piece: towards
// the edge and to either side, radians.
type swing struct{ in, either float64 }

// with is the swing when the course turns to a, positive towards the edge.
func (s swing) with(a float64) swing {
	return swing{max(s.in, a), max(s.either, math.Abs(a))}
}

// passes says that what is some metres along the course cannot be in the way
// of cores up to far from it.
func (s swing) passes(metres, far float64) bool {
	return s.either < narrowly && metres > staysClear*far*s.in
}

// ahead cuts out what lies too near to the pieces from i+1 to hi, and says
// whether nothing is left. A soft joint with the next piece cuts nothing.
func (l *parallel) ahead(hi int, soft bool) bool {
	q, i := l.q, l.i
	// Nothing before the course first turns towards this side can be in the
	// way, unless it has turned right round the other way.
	first := int(q.nextRight[i+1])
	if l.sign > 0 {
		first = int(q.nextLeft[i+1])
	}
	if first > i+1 && l.turnAll(i+1, min(first-1, hi)) > rightRound {
		first = i + 1
	}
	far := l.limit(i+1, hi)
	if far <= 0 {
		return false
	}
	skip := 0.0 // m along the course, up to where nothing is in the way
	var turned swing
	for j := first; j <= hi; j++ {
		if j == i+1 {
			turned = turned.with(l.sign * (q.head[j] - q.head[i]))
			if !soft {
				l.slab(j)
			}
			continue
		}
		metres := q.cum[j] - q.cum[i+1]
		if metres > far {
			break
		}
		if turned.either < narrowly {
			if j%block == 0 || j <= first+1 {
				all := turned.with(l.sign * (q.high[j/block] - q.head[i])).with(l.sign * (q.low[j/block] - q.head[i]))
				if all.passes(metres, q.far) {
					turned = all
					j |= block - 1
					continue
				}
			}
			turned = turned.with(l.sign * (q.head[j] - q.head[i]))
			if turned.passes(metres, q.far) {
				continue
			}
		}
		if q.cum[j+1] < skip {
			continue
		}
		if c := l.clear(j); c > 0 {
			skip = q.cum[j] + c
			if q.cum[j+1] < skip {
				continue
			}
		}
		l.disc(j, math.Min(l.sign*l.lam[j-1].core(), l.sign*l.lam[j].core()))
		l.slab(j)
		if covered(l.cuts, l.x0, l.x1) {
			return true
		}
	}
	return false
}

// behind cuts out what lies too near to the pieces from i-1 down to lo, as
// ahead does for those that follow.
func (l *parallel) behind(lo int, soft bool) {
	q, i := l.q, l.i
	first := int(q.prevRight[i]) - 1
	if l.sign > 0 {
		first = int(q.prevLeft[i]) - 1
	}
	if first < i-1 && l.turnAll(max(first+2, lo+1), i) > rightRound {
		first = i - 1
	}
	far := l.limit(lo+1, i)
	if far <= 0 {
		return
	}
	skip := math.Inf(1)
	var turned swing
	for j := first; j >= lo; j-- {
		if j == i-1 {
			turned = turned.with(l.sign * (q.head[i] - q.head[j]))
			if !soft {
				l.slab(j)
			}
			continue
		}
		metres := q.cum[i] - q.cum[j+1]
		if metres > far {
			return
		}
		if turned.either < narrowly {
			if j%block == block-1 || j >= first-1 {
				all := turned.with(l.sign * (q.head[i] - q.high[j/block])).with(l.sign * (q.head[i] - q.low[j/block]))
				if all.passes(metres, q.far) {
					turned = all
					j &^= block - 1
					continue
				}
			}
			turned = turned.with(l.sign * (q.head[i] - q.head[j]))
			if turned.passes(metres, q.far) {
				continue
			}
		}
		if q.cum[j] > skip {
			continue
		}
		if c := l.clear(j + 1); c > 0 {
			skip = q.cum[j+1] - c
			if q.cum[j] > skip {
				continue
			}
		}
		l.disc(j+1, math.Min(l.sign*l.lam[j+1].core(), l.sign*l.lam[j].core()))
		l.slab(j)
		if covered(l.cuts, l.x0, l.x1) {
			return
		}
	}
}

// shave makes touching not count as being too near.
const shave = 1 - 1e-9

// disc cuts out what lies within r of vertex k and within reach of it along
// the course.
func (l *parallel) disc(k int, r float64) {
	if r <= 0 {
		return
	}
	r *= shave
	g := sub(l.q.p[k], l.o)
	y := cross(l.u, g)
	h2 := r*r - y*y
	if h2 <= 0 {
		return
	}
	x := dot(l.u, g)
	h := math.Sqrt(h2)
	off := l.q.cum[k] - l.q.cum[l.i]
	lo, hi := math.Max(x-h, off-l.w), math.Min(x+h, off+l.w)
	if hi <= l.x0 || lo >= l.x1 || hi <= lo {
		return
	}
	l.cuts = append(l.cuts, [2]float64{lo, hi})
}

// slab cuts out what lies beside piece j nearer than that piece's own distance,
// and within reach along the course.
func (l *parallel) slab(j int) {
	q := l.q
	r := l.sign * l.lam[j].core() * shave
	if r <= 0 {
		return
	}
	v := q.u[j]
	c, s := dot(l.u, v), cross(l.u, v) // direction of j as seen from the line
	g := sub(l.o, q.p[j])
	// In the frame of j the point at x has x·c + a along, -x·s + b across.
	a, b := dot(g, v), cross(v, g)
	lo, hi := l.x0-1, l.x1+1
	lo, hi = clip(lo, hi, -s, b, -r, r)
	if hi <= lo {
		return
	}
	lo, hi = clip(lo, hi, c, a, 0, q.len[j])
	if hi <= lo {
		return
	}
	lo, hi = clip(lo, hi, c-1, q.cum[j]+a-q.cum[l.i], -l.w, l.w)
	if hi <= lo || hi <= l.x0 || lo >= l.x1 {
		return
	}
	l.cuts = append(l.cuts, [2]float64{lo, hi})
}

// clip cuts [lo, hi] down to where from < k x + m < to.
func clip(lo, hi, k, m, from, to float64) (float64, float64) {
	if math.Abs(k) < 1e-12 {
		if m <= from || m >= to {
			return 0, -1
		}
		return lo, hi
	}
	a, b := (from-m)/k, (to-m)/k
	if a > b {
		a, b = b, a
	}
	return math.Max(lo, a), math.Min(hi, b)
}

// keep appends what the cuts leave of the line beside piece i.
func (q *section) keep(out []piece, cuts [][2]float64, i int, o orb.Point, x0, x1 float64) []piece {
	emit := func(a, b float64) {
		out = append(out, piece{s0: q.chainage(i, a), s1: q.chainage(i, b),
			a: along(o, q.u[i], a), b: along(o, q.u[i], b), e: i})
	}
	left(cuts, x0, x1, emit)
	return out
}

// covered says whether one of the last cuts alone takes all of [x0, x1].
func covered(cuts [][2]float64, x0, x1 float64) bool {
	for n := len(cuts); n > 0 && n > len(cuts)-3; n-- {
		if c := cuts[n-1]; c[0] <= x0 && c[1] >= x1 {
			return true
		}
	}
	return false
}

// left calls emit for every part of [x0, x1] outside all cuts, in order.
func left(cuts [][2]float64, x0, x1 float64, emit func(a, b float64)) {
	x := x0
	for x < x1 {
		// The cuts are few; the first free place is found by walking through them.
		moved := true
		for moved {
			moved = false
			for _, c := range cuts {
				if c[0] <= x && c[1] > x {
					x, moved = c[1], true
				}
			}
		}
		if x >= x1 {
			return
		}
		end := x1
		for _, c := range cuts {
			if c[0] > x && c[0] < end {
				end = c[0]
			}
		}
		if end-x > 1e-9 {
			emit(x, end)
		}
		x = end
		if end == x1 {
			return
		}
	}
}

// chainage of the foot at x along piece i, kept within the piece.
func (q *section) chainage(i int, x float64) float64 {
	t := max(0, min(1, x/q.len[i]))
	return q.s[i] + t*(q.s[i+1]-q.s[i])
}

// outside appends the arc round the outer corner between piece i at d and the
// next at d2. Where the two differ the arc takes the smaller.
func (q *section) outside(out []piece, lam []edge, i int, d, d2 float64, lo, hi int) []piece {
	v, s := q.p[i+1], q.s[i+1]
	sign := math.Copysign(1, d)
	rad := math.Min(math.Abs(d), math.Abs(d2))
	n := leftOf(q.u[i])
	from := math.Atan2(sign*n[1], sign*n[0])
	by := q.th[i+1]
	buf := q.scratch[:0]
	w, here := reach*rad, q.cum[i+1]
	clear := func(k int) float64 { return norm(sub(q.p[k], v)) - rad - q.far }
	skip := 0.0
	for j := i + 2; j <= hi && q.cum[j] < here+w; j++ {
		if q.cum[j+1] < skip {
			continue
		}
		if c := clear(j); c > 0 {
			if skip = q.cum[j] + c; q.cum[j+1] < skip {
				continue
			}
		}
		buf = arcInDisc(buf, v, rad, from, by, q.p[j], math.Min(sign*lam[j-1].core(), sign*lam[j].core())*shave)
		buf = arcInSlab(buf, v, rad, from, by, q.p[j], q.u[j], 0, math.Min(q.len[j], here+w-q.cum[j]), sign*lam[j].core()*shave)
		if covered(buf, 0, math.Abs(by)) {
			q.scratch = buf
			return out
		}
	}
	skip = math.Inf(1)
	for j := i - 1; j >= lo && q.cum[j+1] > here-w; j-- {
		if q.cum[j] > skip {
			continue
		}
		if c := clear(j + 1); c > 0 {
			if skip = q.cum[j+1] - c; q.cum[j] > skip {
				continue
			}
		}
		buf = arcInDisc(buf, v, rad, from, by, q.p[j+1], math.Min(sign*lam[j+1].core(), sign*lam[j].core())*shave)
		buf = arcInSlab(buf, v, rad, from, by, q.p[j], q.u[j], math.Max(0, here-w-q.cum[j]), q.len[j], sign*lam[j].core()*shave)
		if covered(buf, 0, math.Abs(by)) {
			q.scratch = buf
			return out
		}
	}
	q.scratch = buf
	left(buf, 0, math.Abs(by), func(x, y float64) {
		x, y = math.Copysign(x, by), math.Copysign(y, by)
		out = append(out, piece{s0: s, s1: s, a: onCircle(v, rad, from+x), b: onCircle(v, rad, from+y), e: i + 1,
			centre: v, radius: rad, from: from + x, by: y - x})
	})
	return out
}

func onCircle(c orb.Point, r, angle float64) orb.Point {
	sn, cs := math.Sincos(angle)
	return orb.Point{c[0] + r*cs, c[1] + r*sn}
}

// arcInDisc appends what part of an arc round v (from a direction, by an
// angle) lies within r of w, as angles from its beginning.
func arcInDisc(cuts [][2]float64, v orb.Point, rad, from, by float64, w orb.Point, r float64) [][2]float64 {
	g := sub(w, v)
	d := norm(g)
	if r <= 0 || d >= rad+r || d <= rad-r || d < 1e-9 {
		if r > 0 && d <= r-rad {
			cuts = append(cuts, [2]float64{-1, 7})
		}
		return cuts
	}
	half := math.Acos(max(-1, min(1, (rad*rad+d*d-r*r)/(2*rad*d))))
	mid := math.Atan2(g[1], g[0]) - from
	if by < 0 {
		mid = -mid
	}
	mid = math.Remainder(mid, 2*math.Pi)
	for _, turn := range [3]float64{-2 * math.Pi, 0, 2 * math.Pi} {
		if lo, hi := mid+turn-half, mid+turn+half; hi > 0 && lo < math.Abs(by) {
			cuts = append(cuts, [2]float64{lo, hi})
		}
	}
	return cuts
}

// arcInSlab appends what part of an arc lies beside the piece from p along u
// nearer than r.
func arcInSlab(cuts [][2]float64, v orb.Point, rad, from, by float64, p, u orb.Point, begin, end, r float64) [][2]float64 {
	if r <= 0 {
		return cuts
	}
	w := sub(v, p)
	x0, y0 := dot(w, u), cross(u, w)
	if x0 < begin-rad || x0 > end+rad || math.Abs(y0) > r+rad {
		return cuts
	}
	total := math.Abs(by)
	base := math.Atan2(u[1], u[0])
	// Angles at which the circle crosses one of the four sides.
	var at [10]float64
	n := 0
	put := func(angle float64) {
		a := angle + base - from
		if by < 0 {
			a = -a
		}
		a = math.Mod(a, 2*math.Pi)
		if a < 0 {
			a += 2 * math.Pi
		}
		if a > 0 && a < total {
			at[n] = a
			n++
		}
	}
	for _, y := range [2]float64{-r, r} {
		if k := (y - y0) / rad; k > -1 && k < 1 {
			a := math.Asin(k)
			put(a)
			put(math.Pi - a)
		}
	}
	for _, x := range [2]float64{begin, end} {
		if k := (x - x0) / rad; k > -1 && k < 1 {
			a := math.Acos(k)
			put(a)
			put(-a)
		}
	}
	at[n], at[n+1] = 0, total
	n += 2
	slices.Sort(at[:n])
	for i := 1; i < n; i++ {
		m := (at[i-1] + at[i]) / 2
		if by < 0 {
			m = -m
		}
		sn, cs := math.Sincos(from + m - base)
		if x, y := x0+rad*cs, y0+rad*sn; x > begin && x < end && math.Abs(y) < r {
			cuts = append(cuts, [2]float64{at[i-1], at[i]})
		}
	}
	return cuts
}

// gaps finds where consecutive pieces neither meet nor make a step.
func gaps(ps []piece, lam []edge) []gap {
	var gs []gap
	for k := 1; k < len(ps); k++ {
		a, b := &ps[k-1], &ps[k]
		if math.Abs(a.b[0]-b.a[0])+math.Abs(a.b[1]-b.a[1]) < tolerance(lam[a.e]) {
			continue
		}
		d := math.Abs(lam[a.e].core() - lam[b.e].core())
		if d > 0 && (b.s0-a.s1 < 1e-6 || norm(sub(a.b, b.a)) < 1.5*d) {
			continue
		}
		gs = append(gs, gap{a.s1, b.s0})
	}
	return gs
}
