package road

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"

	"tautline/geo/course"
)

// Build works out the permitted road of a course. A Spec that cannot be kept
// gives an *Error; what had to be repaired in the drawing is said in
// Road.Warnings.
func Build(c *course.Course, spec Spec) (*Road, error) {
	if err := spec.Validate(c); err != nil {
		return nil, err
	}
	b := &builder{r: &Road{Course: c, Spec: spec}, kerbs: make([]kerbUse, len(spec.Kerbs))}
	b.r.StartAt, b.r.FinishAt = spec.lines(c)
	secs, turns, err := b.split()
	if err != nil {
		return nil, err
	}
	for i, q := range secs {
		if q.to <= b.r.StartAt || q.from >= b.r.FinishAt {
			continue
		}
		var after *turn
		if i < len(turns) && q.to < b.r.FinishAt {
			after = &turns[i]
		}
		var before *turn
		if i > 0 && q.from > b.r.StartAt {
			before = &turns[i-1]
		}
		if err := b.section(q, before, after); err != nil {
			return nil, err
		}
		if after != nil {
			b.r.backs = append(b.r.backs, TurnBack{after.s, after.kind, after.clockwise})
			b.turn(after)
		}
	}
	if err := b.unusedKerb(); err != nil {
		return nil, err
	}
	b.r.Portals = b.uncross(b.r.Portals)
	sort.SliceStable(b.r.Warnings, func(i, j int) bool { return b.r.Warnings[i].At < b.r.Warnings[j].At })
	return b.r, nil
}

// builder is a Road in the making.
type builder struct {
	r     *Road
	kerbs []kerbUse // of the drawn kerbs, by the same index
}

// warn notes what was repaired at a chainage.
func (b *builder) warn(s float64, format string, a ...any) {
	w := Warning{At: s, What: fmt.Sprintf(format, a...)}
	// One warning per place and kind is enough.
	for i := len(b.r.Warnings) - 1; i >= 0 && i >= len(b.r.Warnings)-4; i-- {
		if b.r.Warnings[i].What == w.What && math.Abs(b.r.Warnings[i].At-s) < 30 {
			return
		}
	}
	if len(b.r.Warnings) < maxWarnings {
		b.r.Warnings = append(b.r.Warnings, w)
	}
}

// maxWarnings bounds the list for a drawing that is broken throughout.
const maxWarnings = 200

// section builds the portals along one section, between the turn-arounds
// before and after it; nil where it begins at the start line or ends at the
// finish line.
func (b *builder) section(q *section, before, after *turn) error {
	q, coreL, coreR := b.cores(b.dress(q))
	coreL, coreR, err := b.drawn(q, coreL, coreR)
	if err != nil {
		return err
	}
	from, to := math.Max(q.from, b.r.StartAt), math.Min(q.to, b.r.FinishAt)
	b.r.parts = append(b.r.parts, part{q, coreL, coreR, from, to})

	ct := cutter{l: newCore(coreL, true), r: newCore(coreR, false)}
	ct.repaired = func(s float64) {
		b.warn(s, "the clearances leave no room between the edges here; the line is drawn through the middle")
	}
	posts, square := b.gates(q, from, to)
	for _, t := range []*turn{before, after} {
		if t != nil && t.kind != AtPoint {
			posts = append(posts, post{t.s, !t.clockwise, t.p, t.rho})
		}
	}
	ct.posts = posts
	cs := cords(coreL, coreR, from, to, besides(posts))
	first := len(b.r.Portals)
	ct.out = slices.Grow(b.r.Portals, len(cs)+len(cs)/4)
	ct.follow(cs)
	b.r.Portals = ct.out
	if before == nil {
		square = append(square, from)
	}
	if after == nil {
		square = append(square, to)
	}
	for _, s := range square {
		b.square(q, &ct, first, s)
	}
	return nil
}

// cores gives the two cores of a dressed section, and the section with its
// edges as they fit.
func (b *builder) cores(q *section) (fitted *section, l, r []node) {
	plain := func() (*section, []node, []node) {
		q, left, right := b.fit(q)
		return q, q.chain(left, q.l), q.chain(right, q.r)
	}
	cuts := b.cuts(q)
	if len(cuts) == 0 {
		return plain()
	}
	warned := slices.Clone(b.r.Warnings)
	fitted, l, r, ok := b.joined(q, cuts)
	if ok && faults(l, r, q.from, q.to) == 0 {
		return fitted, l, r
	}
	// A drawing so crooked that corners run into each other.
	told := b.r.Warnings
	b.r.Warnings = warned
	whole, wl, wr := plain()
	if ok && faults(l, r, q.from, q.to) <= faults(wl, wr, q.from, q.to) {
		b.r.Warnings = told
		return fitted, l, r
	}
	return whole, wl, wr
}

// faults counts where the road between two cores has no room, or does not go
// on from one portal to the next.
func faults(l, r []node, from, to float64) int {
	n := 0
	ct := cutter{l: newCore(l, true), r: newCore(r, false), repaired: func(float64) { n++ }}
	ct.follow(cords(l, r, from, to, nil))
	for i := 1; i < len(ct.out); i++ {
		if !ordered(&ct.out[i-1], &ct.out[i]) {
			n++
		}
	}
	return n
}

// fit offsets the edges of a dressed section, made narrower where their discs
// do not fit, to the pieces of the two cores.
func (b *builder) fit(q *section) (fitted *section, left, right []piece) {
	const rounds = 4 // narrowing one place may leave no room at the next
	for round := 0; ; round++ {
		left, right = q.offset(q.l, 0, len(q.len)), q.offset(q.r, 0, len(q.len))
		gl, gr := gaps(left, q.l), gaps(right, q.r)
		both := slices.Concat(gl, gr)
		if len(both) == 0 {
			return q, left, right
		}
		if round == rounds {
			for _, g := range both {
				if g.to > q.from && g.from < q.to {
					b.warn(g.from, "the drawing is too tangled to follow the road's edge; the edge is straight for %.0f m", g.to-g.from)
				}
			}
			return q, left, right
		}
		var at []float64
		for _, g := range both {
			at = append(at, g.from, g.to)
		}
		q = q.divide(at)
		for _, g := range gl {
			q.narrow(q.l, g)
		}
		for _, g := range gr {
			q.narrow(q.r, g)
		}
	}
}

// gates gives the ends of the gates between two chainages as posts, where they
// stand on the road, and the places of the gates.
func (b *builder) gates(q *section, from, to float64) (posts []post, at []float64) {
	for i := range b.r.Spec.Gates {
		g := &b.r.Spec.Gates[i]
		s := onto(b.r.Course, g.At)
		if s < from || s > to {
			continue
		}
		rho := b.r.Spec.Clearance.Of(g.Edge.or(Cone))
		p, n := q.point(s), q.normal(s)
		prof := b.r.Spec.resolveOn(b.r.Course, s)
		if x := math.Max(g.From, g.To); x < prof.l.at {
			posts = append(posts, post{s, true, along(p, n, x), rho})
		}
		if x := math.Min(g.From, g.To); x > prof.r.at {
			posts = append(posts, post{s, false, along(p, n, x), rho})
		}
		at = append(at, s)
	}
	return posts, at
}

// besides gives the chainages at and beside posts, in order, at which portals
// follow their clearance.
func besides(posts []post) []float64 {
	var at []float64
	for _, p := range posts {
		at = append(at, p.s)
		n := int(math.Ceil(math.Pi / 2 / arcStep(p.rho)))
		for k := 1; k <= n && p.rho > 0; k++ {
			d := p.rho * math.Sin(math.Pi/2*float64(k)/float64(n))
			at = append(at, p.s-d, p.s+d)
		}
	}
	slices.Sort(at)
	return at
}

// dress divides a section where the Spec changes, lengthens it at both ends
// and says for every piece where the edges are. The outer ends are out of reach
// of all else, so that something is left of every core.
func (b *builder) dress(q *section) *section {
	sp := &b.r.Spec
	marks := sp.marks(b.r.Course)
	from, to := q.s[0], q.s[len(q.s)-1]
	// The profile changes only at marks: work it out once for each.
	profiles := make([]profile, len(marks)-1)
	far := 1.0
	for i := range profiles {
		x := sp.resolve((marks[i] + marks[i+1]) / 2)
		profiles[i] = x
		if marks[i] < to && marks[i+1] > from {
			far = max(far, math.Abs(x.l.core()), math.Abs(x.r.core()))
		}
	}
	ext := reach*far + 1
	n := len(q.p)
	p := make([]orb.Point, 0, n+2+len(marks))
	s := make([]float64, 0, n+2+len(marks))
	d := q.armDirection(true)
	p, s = append(p, along(q.p[0], d, ext)), append(s, from-ext)
	k := 0
	for k < len(marks) && marks[k] <= from+1e-6 {
		k++
	}
	for i := range q.p {
		for ; k < len(marks) && marks[k] < q.s[i]; k++ {
			if i > 0 && marks[k]-s[len(s)-1] > 1e-6 && q.s[i]-marks[k] > 1e-6 {
				p = append(p, mix(q.p[i-1], q.p[i], (marks[k]-q.s[i-1])/(q.s[i]-q.s[i-1])))
				s = append(s, marks[k])
			}
		}
		p, s = append(p, q.p[i]), append(s, q.s[i])
	}
	d = q.armDirection(false)
	p, s = append(p, along(q.p[n-1], d, ext)), append(s, to+ext)
	out := newSection(p, s)
	out.from, out.to, out.far = from, to, far
	m := len(out.len)
	out.l, out.r = make([]edge, m), make([]edge, m)
	k = 0
	for i := range m {
		mid := max(from, min(to, (s[i]+s[i+1])/2))
		for k+1 < len(profiles) && marks[k+1] <= mid {
			k++
		}
		out.l[i], out.r[i] = profiles[k].l, profiles[k].r
	}
	return out
}

// armDirection is the direction in which a section is carried on beyond its
// first or last point: that of its last few metres, so that the wobble of one
// point does not swing it.
func (q *section) armDirection(first bool) orb.Point {
	const arm = 3.0
	n := len(q.p)
	end, k := 0, 1
	if first {
		for k < n-1 && q.cum[k] < arm {
			k++
		}
	} else {
		end, k = n-1, n-2
		for k > 0 && q.cum[n-1]-q.cum[k] < arm {
			k--
		}
	}
	own := q.u[n-2]
	if first {
		own = orb.Point{-q.u[0][0], -q.u[0][1]}
	}
	d := sub(q.p[end], q.p[k])
	if l := norm(d); l > 1e-6 && dot(d, own) < 0.98*l {
		return orb.Point{d[0] / l, d[1] / l}
	}
	return own // an arm within 11° of the last piece is a bend, not a wobble
}

// divide puts vertices at the given chainages.
func (q *section) divide(at []float64) *section {
	slices.Sort(at)
	p := make([]orb.Point, 0, len(q.p)+len(at))
	s := make([]float64, 0, len(q.p)+len(at))
	var l, r []edge
	k := 0
	for i := range q.p {
		if i > 0 {
			for k < len(at) && at[k] < q.s[i] {
				if at[k]-s[len(s)-1] > 1e-3 && q.s[i]-at[k] > 1e-3 {
					p = append(p, mix(q.p[i-1], q.p[i], (at[k]-q.s[i-1])/(q.s[i]-q.s[i-1])))
					s = append(s, at[k])
					l, r = append(l, q.l[i-1]), append(r, q.r[i-1])
				}
				k++
			}
			l, r = append(l, q.l[i-1]), append(r, q.r[i-1])
		}
		p, s = append(p, q.p[i]), append(s, q.s[i])
	}
	out := newSection(p, s)
	out.from, out.to, out.l, out.r, out.far = q.from, q.to, l, r, q.far
	return out
}

// narrow brings an edge's core in where its disc does not fit, to the largest
// distance at which it does: first the corner radius gives way, then the road.
func (q *section) narrow(lam []edge, g gap) {
	e0 := sort.SearchFloat64s(q.s, g.from-2e-3)
	e1 := e0
	top := 0.0
	for e1 < len(lam) && q.s[e1+1] <= g.to+2e-3 {
		top = max(top, math.Abs(lam[e1].core()))
		e1++
	}
	if e1 == e0 {
		e0 = max(0, min(e0-1, len(lam)-1))
		e1 = e0 + 1
		top = math.Abs(lam[e0].core())
	}
	was := slices.Clone(lam[e0:e1])
	set := func(d float64) {
		for i := range was {
			lam[e0+i] = was[i].limit(d)
		}
	}
	from, to := max(0, e0-2), min(len(lam), e1+2)
	fits := func(d float64) bool {
		set(d)
		for _, h := range gaps(q.offset(lam, from, to), lam) {
			if h.to >= g.from-1e-6 && h.from <= g.to+1e-6 {
				return false
			}
		}
		return true
	}
	lo, hi := 0.0, top
	for range 14 {
		m := (lo + hi) / 2
		if fits(m) {
			lo = m
		} else {
			hi = m
		}
	}
	// Two legs whose cores have just met would close anywhere along them.
	set(lo - 2*meets - soft*soft/7*lo)
	// A bend drawn with few points is narrower at its pieces than at its
	// vertices: with a little less than the largest radius the edge follows
	// the whole bend.
	for i := e0; i < e1; i++ {
		lam[i].r *= 0.97
	}
}

// point of the drawn section at a chainage.
func (q *section) point(s float64) orb.Point {
	i := q.piece(s)
	return mix(q.p[i], q.p[i+1], (s-q.s[i])/(q.s[i+1]-q.s[i]))
}

// piece is the index of the piece that holds a chainage, at a vertex the one
// before it.
func (q *section) piece(s float64) int {
	return max(0, min(sort.SearchFloat64s(q.s, s)-1, len(q.p)-2))
}

// normal is the unit vector to the left of the drawn section at a chainage.
func (q *section) normal(s float64) orb.Point {
	i := q.piece(s)
	u := q.u[i]
	// At a vertex the direction between both pieces.
	if i+1 < len(q.u) && math.Abs(q.s[i+1]-s) < 1e-6 {
		w := orb.Point{u[0] + q.u[i+1][0], u[1] + q.u[i+1][1]}
		if l := norm(w); l > 1e-3 {
			u = orb.Point{w[0] / l, w[1] / l}
		}
	}
	return leftOf(u)
}

// widest is how many road widths along the course a square line may make
// portals give way.
const widest = 4.0

// square puts a portal square across the course at a chainage where the
// portals fan out round a corner: a start line, a finish line, a gate.
// Portals that it crosses give way.
func (b *builder) square(q *section, ct *cutter, first int, s float64) {
	p, n := q.point(s), q.normal(s)
	ps := b.r.Portals[first:]
	i := sort.Search(len(ps), func(i int) bool { return ps[i].At >= s-1e-9 })
	if i == len(ps) {
		i--
	}
	// Nothing to do where a portal is square already.
	for j := i; j < len(ps) && ps[j].At <= s+1e-6; j++ {
		if math.Abs(dot(sub(ps[j].Left.P, p), leftOf(n))) < 1e-6 && math.Abs(dot(sub(ps[j].Right.P, p), leftOf(n))) < 1e-6 {
			return
		}
	}
	sq := Portal{At: s}
	prof := b.r.Spec.resolveOn(b.r.Course, s)
	// The drawn course may lie beside the permitted part.
	reachL, reachR := prof.l.at-prof.l.c, -prof.r.at-prof.r.c
	if reachL > 0 {
		reachL = ct.first(&ct.l, p, n, s, reachL)
	}
	if reachR > 0 {
		reachR = ct.first(&ct.r, p, orb.Point{-n[0], -n[1]}, s, reachR)
	}
	sq.Left.P, sq.Right.P = along(p, n, reachL), along(p, n, -reachR)
	for _, o := range ct.posts {
		if math.Abs(o.s-s) > 1e-6 {
			continue
		}
		x := dot(sub(o.p, p), n)
		switch {
		case o.left && x-o.rho < reachL:
			reachL = x - o.rho
			sq.Left = End{P: along(p, n, reachL), Centre: o.p, Radius: o.rho}
		case !o.left && -x-o.rho < reachR:
			reachR = -x - o.rho
			sq.Right = End{P: along(p, n, -reachR), Centre: o.p, Radius: o.rho}
		}
	}
	lo, hi := i, i
	for lo > 0 && (!ordered(&ps[lo-1], &sq) || ps[lo-1].At > s) {
		lo--
	}
	for hi < len(ps) && (!ordered(&sq, &ps[hi]) || ps[hi].At < s) {
		hi++
	}
	// Where the course turns sharply just before or behind, the line lies across
	// the next leg and nothing comes after it: the fan stays then.
	far := widest * (prof.l.at - prof.r.at)
	atStart, atFinish := s <= ps[0].At+1e-9, s >= ps[len(ps)-1].At-1e-9
	if !atFinish && (hi == len(ps) || hi > i && ps[hi-1].At-s > far) || !atStart && (lo == 0 || lo < i && s-ps[lo].At > far) {
		what := "the gate is so close to a sharp corner that it cannot be kept exactly; move it away from the corner"
		if atStart || atFinish {
			what = "the start or finish line is so close to a sharp corner that it is turned to the corner"
		}
		b.warn(s, "%s", what)
		return
	}
	// The other end of the road stays, however short the road is.
	switch {
	case atStart:
		lo, hi = 0, min(max(hi, 1), len(ps)-1)
	case atFinish:
		lo, hi = max(1, min(lo, len(ps)-1)), len(ps)
	default:
		lo, hi = max(1, lo), min(hi, len(ps)-1)
	}
	b.r.Portals = slices.Replace(b.r.Portals, first+lo, first+hi, sq)
}

// first is how far from the drawn course the road reaches along a direction
// towards one of its edges, at most to.
func (c *cutter) first(e *core, o, d orb.Point, s, to float64) float64 {
	ns := e.ns
	t := to
	k := min(sort.Search(len(ns), func(i int) bool { return ns[i].s >= s }), len(ns)-1)
	// Farther along, the edge belongs to another street or another lap.
	far := 3*(to+e.most) + 1
	try := func(j int) {
		r := c.rho(&ns[j])
		if in, _, _, _, hit := capsule(o, d, ns[j].p, ns[j+1].p, r); hit && in > 0 {
			t = math.Min(t, in)
		}
	}
	for j := k - 1; j >= 0 && e.cum[k]-e.cum[j+1] < far; j-- {
		try(j)
	}
	for j := k; j+1 < len(ns) && e.cum[j]-e.cum[k] < far; j++ {
		try(j)
	}
	return t
}

// ordered says whether portal b comes after portal a: the road between them
// can be cut into two triangles that both lie ahead. Portals that cross, and
// portals that lie behind each other, cannot.
func ordered(a, b *Portal) bool {
	// How far in metres an end may lie behind.
	const tiny = 1e-7
	behind := func(l, r, p orb.Point) bool {
		u := sub(r, l)
		return cross(u, sub(p, l)) < -tiny*math.Max(norm(u), 1e-3)
	}
	l, r := a.Left.P, a.Right.P
	return !behind(l, r, b.Left.P) && !behind(b.Left.P, r, b.Right.P) ||
		!behind(l, r, b.Right.P) && !behind(l, b.Right.P, b.Left.P)
}

// mostDropped is after how many portals that do not come after the one before
// them that one is taken to be at fault.
const mostDropped = 60

// uncross drops portals that do not come after the one before them, which
// happens where a drawing is so crooked, or a stretch begins so close to a
// corner, that the two edges disagree about the way.
func (b *builder) uncross(ps []Portal) []Portal {
	n := len(ps)
	first := 1
	for first < n && ordered(&ps[first-1], &ps[first]) {
		first++
	}
	if first >= n {
		return ps
	}
	keep := make([]bool, n)
	last, dropped := 0, 0
	keep[0] = true
	for i := 1; i < n; i++ {
		if i+1 < n && dropped < mostDropped && !ordered(&ps[last], &ps[i]) {
			dropped++
			continue
		}
		last, dropped, keep[i] = i, 0, true
	}
	out := make([]Portal, 0, n)
	since := math.NaN()
	for i := range ps {
		if !keep[i] {
			if math.IsNaN(since) {
				since = ps[i].At
			}
			continue
		}
		if !math.IsNaN(since) && ps[i].At-since > 1 {
			b.warn(since, "the drawing is so crooked that the road's edges cross; they are followed roughly for %.0f m", ps[i].At-since)
		}
		since = math.NaN()
		out = append(out, ps[i])
	}
	return out
}
