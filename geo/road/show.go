package road

import (
	"math"
	"sort"

	"github.com/paulmach/orb"
)

// TurnBack is a place where the course turns back along itself.
type TurnBack struct {
	At        float64 // chainage
	Kind      TurnKind
	Clockwise bool
}

// TurnBacks lists the turn-arounds between start and finish, in order.
func (r *Road) TurnBacks() []TurnBack {
	return append([]TurnBack(nil), r.backs...)
}

// edges finds the edges in force at a chainage, as far as they were narrowed
// to fit. Beyond the ends the first and the last hold.
func (r *Road) edges(at float64) (l, right edge) {
	p := &r.parts[min(r.part(at), len(r.parts)-1)]
	at = max(p.from, min(p.to, at))
	k := p.piece(at)
	// piece gives the one before a vertex; the one after it holds there.
	if k+1 < len(p.l) && p.s[k+1] <= at {
		k++
	}
	return p.l[k], p.r[k]
}

// Lateral gives the edges of the permitted road at a chainage as metres to
// the left of the drawn course (the right edge is normally negative), without
// clearance. In a bend tighter than half the road the inner edge is the bend's
// own centre. Where kerbs are drawn they are found on the line square to the
// course.
func (r *Road) Lateral(at float64) (left, right float64) {
	l, e := r.edges(at)
	left, right = l.at, e.at
	i := r.part(at)
	if i == len(r.parts) || at < r.parts[i].from {
		return left, right
	}
	p := &r.parts[i]
	if l.drawn {
		left = p.across(p.coreL, at, left)
	}
	if e.drawn {
		right = p.across(p.coreR, at, right)
	}
	return left, right
}

// part is the index of the first section that ends at a chainage or beyond,
// the number of sections when there is none. A scribbled course turns back
// thousands of times.
func (r *Road) part(at float64) int {
	return sort.Search(len(r.parts), func(i int) bool { return r.parts[i].to >= at })
}

// across is the lateral position at which a drawn edge crosses the line
// square to the course.
func (p *part) across(ns []node, at, otherwise float64) float64 {
	o, n := p.point(at), p.normal(at)
	best, found := otherwise, math.Inf(1)
	k := sort.Search(len(ns), func(i int) bool { return ns[i].s >= at })
	for j := max(0, k-20); j+1 < len(ns) && j < k+20; j++ {
		a, b := sub(ns[j].p, o), sub(ns[j+1].p, o)
		xa, xb := cross(n, a), cross(n, b)
		if xa*xb > 0 || xa == xb {
			continue
		}
		y := dot(n, mix(a, b, xa/(xa-xb)))
		if d := math.Abs(y - otherwise); d < found {
			best, found = y, d
		}
	}
	return best
}

// RoadLateral gives the kerbs at a chainage, whatever part between them is
// permitted, as metres to the left of the drawn course.
func (r *Road) RoadLateral(at float64) (left, right float64) {
	x := r.Spec.resolveOn(r.Course, at)
	l, e := r.Lateral(at)
	return math.Max(x.kerbLeft, l), math.Min(x.kerbRight, e)
}

// EdgeKinds says what the edges of the permitted road are at a chainage.
func (r *Road) EdgeKinds(at float64) (left, right EdgeKind) {
	l, e := r.edges(at)
	return l.kind, e.kind
}

// Clearances gives what is kept from the left and the right edge at a
// chainage, m.
func (r *Road) Clearances(at float64) (left, right float64) {
	l, e := r.edges(at)
	return l.c, e.c
}

// CornerRadius gives the kerb radius at a chainage, m: the larger of both
// sides, as far as it fits the road there.
func (r *Road) CornerRadius(at float64) float64 {
	l, e := r.edges(at)
	return math.Max(l.r, e.r)
}

// Outline is the two edges of the permitted road along one section of the
// course, without clearance, for drawing. A section ends where the course
// turns back along itself.
type Outline struct {
	From, To    float64 // chainage
	Left, Right orb.LineString
}

// Outlines gives the edges of the permitted road, section by section.
func (r *Road) Outlines() []Outline {
	var out []Outline
	for i := range r.parts {
		p := &r.parts[i]
		ct := cutter{l: newCore(p.coreL, true), r: newCore(p.coreR, false), kerbs: true}
		ct.follow(cords(p.coreL, p.coreR, p.from, p.to, nil))
		o := Outline{From: p.from, To: p.to}
		put := func(l orb.LineString, q orb.Point) orb.LineString {
			if n := len(l); n > 0 && norm(sub(l[n-1], q)) < 1e-3 {
				return l
			}
			return append(l, q)
		}
		for _, q := range ct.out {
			o.Left, o.Right = put(o.Left, q.Left.P), put(o.Right, q.Right.P)
		}
		out = append(out, o)
	}
	return out
}
