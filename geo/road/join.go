package road

import (
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"
)

// cut is a place inside a corner where an edge of the road changes so that
// neither the road before nor the one behind says where the other ends. The
// offset lines of the corner belong to both legs, and a fan of portals that
// serves the whole corner knows no place within it: up to the cut the road is
// built as if it went on as before, from there as if it had always been so.
type cut struct {
	s           float64
	left, right bool // the edges that change
}

// breaks says whether an edge that becomes another inside a corner has to be
// cut there. Two kerbs of one radius have a corner between them as they are.
func breaks(a, b edge) bool {
	return (a.at != b.at || a.r != b.r) && (a.r != b.r || a.r == 0)
}

// span is the part of a section's pieces that keep an edge as it is; beyond it
// the edge goes on as it was at its ends.
type span struct{ from, to float64 }

func (x span) extend(s []float64, own []edge) []edge {
	out := slices.Clone(own)
	lo, hi := 0, len(own)-1
	for lo < hi && s[lo+1] <= x.from+1e-9 {
		lo++
	}
	for hi > lo && s[hi] >= x.to-1e-9 {
		hi--
	}
	for i := range out {
		out[i] = own[max(lo, min(hi, i))]
	}
	return out
}

// window is the section between two chainages and as much beyond as may be in
// the way of its edges, each of which is extended beyond its own span.
func (q *section) window(from, to float64, l, r span) *section {
	most := reach*q.far + 1
	i := max(0, sort.SearchFloat64s(q.s, from-most)-1)
	j := min(len(q.s)-1, sort.SearchFloat64s(q.s, to+most)+1)
	out := newSection(q.p[i:j+1], q.s[i:j+1])
	out.from, out.to, out.far = from, to, q.far
	out.l, out.r = l.extend(out.s, q.l[i:j]), r.extend(out.s, q.r[i:j])
	return out
}

// cuts finds the places of a dressed section where it has to be cut.
func (b *builder) cuts(q *section) []cut {
	var out []cut
	for _, s := range b.r.Spec.marks(b.r.Course) {
		i := sort.SearchFloat64s(q.s, s-1e-6)
		if s <= q.from+1e-6 || s >= q.to-1e-6 || i == 0 || i >= len(q.l) {
			continue
		}
		s = q.s[i]
		c := cut{s, breaks(q.l[i-1], q.l[i]), breaks(q.r[i-1], q.r[i])}
		if !c.left && !c.right || len(out) > 0 && out[len(out)-1].s == s {
			continue
		}
		before, behind := span{math.Inf(-1), s}, span{s, math.Inf(1)}
		if q.window(s, s, before, before).fans(s) || q.window(s, s, behind, behind).fans(s) {
			out = append(out, c)
		}
	}
	return out
}

// meddles is from how many metres beside a corner's fan what changes there has
// to do with it.
func meddles(lam []edge) float64 {
	d := 0.05
	for _, e := range lam {
		d = max(d, e.r+e.c, 0.6*math.Abs(e.core()))
	}
	return d
}

// fans says whether a chainage lies in a hole that an edge's corner leaves,
// served by the same point of its core as others, or so close to one that the
// room taken by the corner reaches there.
func (q *section) fans(s float64) bool {
	for _, lam := range [][]edge{q.l, q.r} {
		touches := meddles(lam)
		ns := q.chain(q.offset(lam, 0, len(q.len)), lam)
		for i := 1; i < len(ns); i++ {
			if ns[i].p == ns[i-1].p && ns[i-1].s < s+touches && ns[i].s > s-touches {
				return true
			}
		}
	}
	return false
}

// leg is the road between two cuts: its cores go on beyond both.
type leg struct {
	*section
	l, r     []node
	from, to float64
}

// legs builds the road between cuts.
func (b *builder) legs(q *section, cuts []cut) []leg {
	out := make([]leg, len(cuts)+1)
	// Where an edge is cut next before and behind every leg.
	spans := func(changes func(c *cut) bool) []span {
		xs := make([]span, len(out))
		last := math.Inf(-1)
		for k := range out {
			if k > 0 && changes(&cuts[k-1]) {
				last = cuts[k-1].s
			}
			xs[k].from = last
		}
		last = math.Inf(1)
		for k := len(out) - 1; k >= 0; k-- {
			if k < len(cuts) && changes(&cuts[k]) {
				last = cuts[k].s
			}
			xs[k].to = last
		}
		return xs
	}
	ls, rs := spans(func(c *cut) bool { return c.left }), spans(func(c *cut) bool { return c.right })
	for k := range out {
		from, to := q.s[0], q.s[len(q.s)-1]
		if k > 0 {
			from = cuts[k-1].s
		}
		if k < len(cuts) {
			to = cuts[k].s
		}
		w, left, right := b.fit(q.window(from, to, ls[k], rs[k]))
		out[k] = leg{w, spread(w.chain(left, w.l)), spread(w.chain(right, w.r)), from, to}
	}
	return out
}

// spread gives nodes at one chainage, as round the outside of a corner,
// chainages of their own within a millimetre, so that there is a place between
// any two of them.
func spread(ns []node) []node {
	const most = 1e-3
	for i := 0; i < len(ns); {
		j := i + 1
		for j < len(ns) && ns[j].s <= ns[i].s {
			j++
		}
		if j < len(ns) && j > i+1 {
			room := math.Min(most, (ns[j].s-ns[i].s)/2)
			for k := i + 1; k < j; k++ {
				ns[k].s = ns[i].s + room*float64(k-i)/float64(j-i-1)
			}
		}
		i = j
	}
	return ns
}

// onCore is the node of a core at a chainage.
func onCore(ns []node, s float64) node {
	k := max(0, sort.Search(len(ns), func(i int) bool { return ns[i].s > s })-1)
	n := ns[k]
	if k+1 < len(ns) && s > n.s {
		if b := &ns[k+1]; b.p != n.p {
			n.p = mix(n.p, b.p, (s-n.s)/(b.s-n.s))
		}
	}
	n.s = s
	return n
}

// coreBetween is a core between two chainages, with nodes at both.
func coreBetween(ns []node, from, to float64) []node {
	out := []node{onCore(ns, from)}
	for _, n := range ns {
		if n.s > from && n.s < to {
			out = append(out, n)
		}
	}
	return append(out, onCore(ns, to))
}

// seam says from where to where along the course the tip of the narrower road
// at a cut serves as the edge: it stands before portals of the wider road that
// have a lower chainage, or after some with a higher one.
type seam struct {
	ends   float64 // the leg before ends here
	begins float64 // the leg behind begins here
}

// seam finds it for one edge at a cut between two legs. Where the edges of the
// two are a and z, the tip is the end of the one that leaves less road.
func (l *leg) seam(next *leg, left bool, a, z edge) seam {
	s := l.to
	own := func(g *leg) []node {
		if left {
			return g.l
		}
		return g.r
	}
	// How far a point lies ahead of the cord of a leg at a chainage.
	ahead := func(g *leg, p orb.Point, s float64) float64 {
		x, y := onCore(g.l, s).p, onCore(g.r, s).p
		return cross(sub(y, x), sub(p, x))
	}
	most, near := reach*l.far, max(meddles([]edge{a}), meddles([]edge{z}))
	if a.out*a.at > z.out*z.at || a.at == z.at && a.r > z.r { // it closes
		tip := onCore(own(next), s)
		ends := since(s, math.Max(l.from, s-most), s, func(s float64) bool { return ahead(l, tip.p, s) >= 0 })
		far := math.Max(l.from, fanFrom(own(l), ends, near))
		return seam{since(ends, far, far, func(s float64) bool {
			n, ok := tangent(onCore(own(l), s), tip, a.out)
			return !ok || a.out*cross(l.across(left, s), n) >= 0
		}), s}
	}
	tip := onCore(own(l), s)
	begins := since(s, math.Min(next.to, s+most), s, func(s float64) bool { return ahead(next, tip.p, s) <= 0 })
	far := math.Min(next.to, fanTo(own(next), begins, near))
	return seam{s, since(begins, far, far, func(s float64) bool {
		n, ok := tangent(onCore(own(next), s), tip, -a.out)
		return !ok || a.out*cross(next.across(left, s), n) <= 0
	})}
}

// fanFrom is where the last fan of a core begins that ends less than near
// before s, s if there is none.
func fanFrom(ns []node, s, near float64) float64 {
	for i := len(ns) - 1; i > 0; i-- {
		if a, b := &ns[i-1], &ns[i]; a.s < s && b.s > s-near && a.p == b.p && b.s > a.s {
			return a.s
		}
	}
	return s
}

// fanTo is where the next fan of a core ends that begins less than near
// behind s, s if there is none.
func fanTo(ns []node, s, near float64) float64 {
	for i := 1; i < len(ns); i++ {
		if a, b := &ns[i-1], &ns[i]; b.s > s && a.s < s+near && a.p == b.p && b.s > a.s {
			return b.s
		}
	}
	return s
}

// across leads from one core to the other at a chainage.
func (l *leg) across(left bool, s float64) orb.Point {
	x, y := onCore(l.l, s).p, onCore(l.r, s).p
	if left {
		return sub(y, x)
	}
	return sub(x, y)
}

// tangent is the direction in which both the room round a corner's core and
// that round a tip lie before the string that touches both: as far as that the
// corner's portals count, and from there those of the tip. The string goes from
// the corner to the tip with both on its left where side is 1. There is none
// if one room lies within the other.
func tangent(corner, tip node, side float64) (n orb.Point, ok bool) {
	d := sub(tip.p, corner.p)
	l := norm(d)
	k := corner.r + corner.c - tip.r - tip.c
	if l <= math.Abs(k) || l < 1e-6 {
		return n, false
	}
	// d·n = k, and n is to the right of the string.
	h := math.Sqrt(l*l-k*k) / l / l
	w := leftOf(d)
	return orb.Point{k/l/l*d[0] - side*h*w[0], k/l/l*d[1] - side*h*w[1]}, true
}

// since goes from s towards far to where ok begins to hold: s itself if it
// holds there, otherwise if nowhere.
func since(s, far, otherwise float64, ok func(s float64) bool) float64 {
	if ok(s) {
		return s
	}
	const step = 0.25 // m
	bad, good := s, s
	for {
		good += math.Copysign(step, far-s)
		if math.Abs(good-s) >= math.Abs(far-s) {
			return otherwise
		}
		if ok(good) {
			break
		}
		bad = good
	}
	for range 60 {
		m := (good + bad) / 2
		if ok(m) {
			good = m
		} else {
			bad = m
		}
	}
	return good
}

// joined builds the road of a dressed section that has to be cut: the section
// with the edges of all legs, and its two cores. It fails where nothing is left
// of an edge.
func (b *builder) joined(q *section, cuts []cut) (whole *section, coreL, coreR []node, ok bool) {
	legs := b.legs(q, cuts)
	for _, g := range legs {
		if len(g.l) < 2 || len(g.r) < 2 {
			return nil, nil, nil, false
		}
	}
	var lefts, rights []seam
	for k, c := range cuts {
		i := sort.SearchFloat64s(q.s, c.s-1e-9)
		l, r := seam{c.s, c.s}, seam{c.s, c.s}
		if c.left {
			l = legs[k].seam(&legs[k+1], true, q.l[i-1], q.l[i])
		}
		if c.right {
			r = legs[k].seam(&legs[k+1], false, q.r[i-1], q.r[i])
		}
		lefts, rights = append(lefts, l), append(rights, r)
	}
	coreL = sew(legs, lefts, func(g *leg) []node { return g.l })
	coreR = sew(legs, rights, func(g *leg) []node { return g.r })
	return lay(q, legs), coreL, coreR, true
}

// sew puts the cores of legs together at their seams.
func sew(legs []leg, seams []seam, core func(g *leg) []node) []node {
	var out []node
	for k := range legs {
		g := &legs[k]
		ns := core(g)
		from, to := ns[0].s, ns[len(ns)-1].s
		if k > 0 {
			from = seams[k-1].begins
		}
		if k < len(seams) {
			to = seams[k].ends
		}
		if from > to { // both tips serve the whole leg
			from = (from + to) / 2
			to = from
		}
		part := coreBetween(ns, from, to)
		if n := len(out); n > 0 {
			// The tip serves as far as the other leg reaches, and the wall from
			// one edge to the other takes the smaller room.
			last, first := out[n-1], part[0]
			wall := last
			if first.r+first.c < last.r+last.c {
				wall = first
			}
			if last.s < first.s && seams[k-1].begins > legs[k].from {
				last.s = first.s
				out = append(out, last)
			} else if last.s < first.s {
				first.s = last.s
				part = slices.Insert(part, 0, first)
			}
			out[len(out)-1].r, out[len(out)-1].c = wall.r, wall.c
		}
		out = append(out, part...)
	}
	return out
}

// lay puts the pieces of legs together into one section.
func lay(q *section, legs []leg) *section {
	var p []orb.Point
	var s []float64
	var l, r []edge
	for k := range legs {
		g := &legs[k]
		for i := range g.len {
			if g.s[i] >= g.from-1e-9 && g.s[i+1] <= g.to+1e-9 {
				p, s, l, r = append(p, g.p[i]), append(s, g.s[i]), append(l, g.section.l[i]), append(r, g.section.r[i])
			}
		}
	}
	n := len(q.p) - 1
	out := newSection(append(p, q.p[n]), append(s, q.s[n]))
	out.from, out.to, out.far, out.l, out.r = q.from, q.to, q.far, l, r
	return out
}
