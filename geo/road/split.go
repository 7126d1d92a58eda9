package road

import (
	"fmt"
	"math"
	"sort"

	"github.com/paulmach/orb"
)

// turn is a turn-around between two sections.
type turn struct {
	s         float64
	p         orb.Point
	kind      TurnKind
	rho       float64 // radius and clearance
	clockwise bool
	// The ends of the last portal before the turn and the direction there.
	out orb.Point
	far float64 // how far the road reaches beyond the turn
}

const (
	// turnBack is the cosine of the turn above which a vertex may be a
	// turn-around or a spike of the drawing: 150°.
	turnBack = -0.8660254037844386
	// arms is how many metres of a course on both sides of a vertex must lie
	// along each other for the vertex to be a turn-around.
	arms = 20.0
	// turnSlack is how far in metres a turn-around's chainage may be from the
	// vertex that is meant.
	turnSlack = 15.0
)

// walk gives the point a given length along a polyline from its first point,
// or its last point and the length there was.
func walk(next func(i int) (orb.Point, bool), length float64) (orb.Point, float64) {
	p, _ := next(0)
	done := 0.0
	for i := 1; ; i++ {
		q, ok := next(i)
		if !ok {
			return p, done
		}
		d := norm(sub(q, p))
		if done+d >= length {
			return mix(p, q, (length-done)/d), length
		}
		done += d
		p = q
	}
}

// split cleans the drawing and cuts it at turn-arounds.
func (b *builder) split() ([]*section, []turn, error) {
	c := b.r.Course
	n := len(c.Points)
	p := make([]orb.Point, 0, n)
	s := make([]float64, 0, n)
	var backs []int // indices into p of turn-arounds
	asked := func(at float64) bool {
		for i := range b.r.Spec.Turnarounds {
			if math.Abs(b.r.Spec.Turnarounds[i].At-at) < turnSlack {
				return true
			}
		}
		return false
	}
	for i := range n {
		q := c.Points[i]
		for {
			m := len(p)
			if m > 0 && norm(sub(q, p[m-1])) < 1e-6 {
				break
			}
			if m < 2 || len(backs) > 0 && backs[len(backs)-1] == m-1 {
				p, s = append(p, q), append(s, c.Chainage[i])
				break
			}
			u, v := sub(p[m-1], p[m-2]), sub(q, p[m-1])
			if dot(u, v) > turnBack*norm(u)*norm(v) {
				p, s = append(p, q), append(s, c.Chainage[i])
				break
			}
			// The course turns back here. Do its arms lie along each other?
			low := 0
			if len(backs) > 0 {
				low = backs[len(backs)-1]
			}
			before := func(l float64) (orb.Point, float64) {
				return walk(func(k int) (orb.Point, bool) {
					if m-1-k < low {
						return orb.Point{}, false
					}
					return p[m-1-k], true
				}, l)
			}
			after := func(l float64) (orb.Point, float64) {
				return walk(func(k int) (orb.Point, bool) {
					if k == 0 {
						return p[m-1], true
					}
					if i+k-1 >= n {
						return orb.Point{}, false
					}
					return c.Points[i+k-1], true
				}, l)
			}
			_, la := before(arms)
			_, lb := after(arms)
			l := math.Min(la, lb)
			apart := func(l float64) float64 {
				x, _ := before(l)
				y, _ := after(l)
				return norm(sub(x, y))
			}
			back := true
			for _, f := range []float64{0.25, 0.5, 1} {
				back = back && apart(f*l) < math.Max(2.5, 0.3*f*l)
			}
			if !back && asked(s[m-1]) && apart(l) < l {
				back = true
			}
			if back && l > 0.5 {
				backs = append(backs, m-1)
				p, s = append(p, q), append(s, c.Chainage[i])
				break
			}
			if apart(l) < 0.7*l { // an acute corner
				p, s = append(p, q), append(s, c.Chainage[i])
				break
			}
			if d := math.Min(norm(u), norm(v)); d > 3 {
				b.warn(s[m-1], "the drawing goes back on itself for %.0f m; that is taken out", d)
			}
			p, s = p[:m-1], s[:m-1]
		}
	}
	if len(p) < 2 {
		p = append(orb.LineString{}, c.Points[0], c.Points[n-1])
		s = append([]float64{}, c.Chainage[0], c.Chainage[n-1])
		backs = nil
	}
	// Chainages of the drawing hold; the ends must be there.
	s[0], s[len(s)-1] = c.Chainage[0], c.Chainage[n-1]
	backs, turns, err := b.turns(p, s, backs)
	if err != nil {
		return nil, nil, err
	}
	var secs []*section
	from := 0
	for _, k := range append(backs, len(p)-1) {
		if k <= from {
			continue
		}
		q := newSection(p[from:k+1], s[from:k+1])
		q.from, q.to = s[from], s[k]
		secs = append(secs, q)
		from = k
	}
	return secs, turns, nil
}

// turns matches the turn-arounds of the Spec to the places where the drawing
// turns back, adding places that are drawn as a tight bend.
func (b *builder) turns(p []orb.Point, s []float64, backs []int) ([]int, []turn, error) {
	of := map[int]*Turnaround{}
	for i := range b.r.Spec.Turnarounds {
		t := &b.r.Spec.Turnarounds[i]
		best := -1
		for _, k := range backs {
			if d := math.Abs(s[k] - t.At); d < turnSlack && (best < 0 || d < math.Abs(s[best]-t.At)) {
				best = k
			}
		}
		if best < 0 {
			// A turn drawn with several points: it is at the vertex named.
			k := sort.SearchFloat64s(s, t.At)
			if k > 0 && (k == len(s) || t.At-s[k-1] < s[k]-t.At) {
				k--
			}
			if k > 0 && k < len(p)-1 && math.Abs(s[k]-t.At) < turnSlack {
				x, lx := walk(func(j int) (orb.Point, bool) {
					if k-j < 0 {
						return orb.Point{}, false
					}
					return p[k-j], true
				}, arms)
				y, ly := walk(func(j int) (orb.Point, bool) {
					if k+j >= len(p) {
						return orb.Point{}, false
					}
					return p[k+j], true
				}, arms)
				if norm(sub(x, y)) < math.Min(lx, ly) {
					best = k
				}
			}
		}
		if best < 0 {
			return nil, nil, &Error{Rule: RuleTurnaround, Item: ItemTurnaround, Index: i, Other: -1, Field: "At",
				What:   fmt.Sprintf("the drawn course does not turn back within %.0f m of %.1f m", turnSlack, t.At),
				Advice: "give the chainage of the turning point, or say with a gate what the runner passes"}
		}
		if _, taken := of[best]; taken {
			return nil, nil, &Error{Rule: RuleTurnaround, Item: ItemTurnaround, Index: i, Other: -1, Field: "At",
				What: fmt.Sprintf("the turn at %.1f m already has a turn-around", s[best]), Advice: "keep one of them"}
		}
		of[best] = t
	}
	set := map[int]bool{}
	for _, k := range backs {
		set[k] = true
	}
	for k := range of {
		set[k] = true
	}
	all := make([]int, 0, len(set))
	for k := range set {
		all = append(all, k)
	}
	sort.Ints(all)
	turns := make([]turn, len(all))
	for i, k := range all {
		t := turn{s: s[k], p: p[k]}
		if a := of[k]; a != nil {
			t.kind, t.clockwise = a.Kind, a.Clockwise
			edge := Cone
			if a.Kind == RoundMedian {
				edge = Kerb
			}
			c := b.r.Spec.Clearance.Of(edge)
			if a.Clearance != nil {
				c = *a.Clearance
			}
			t.rho = a.Radius + c
			if t.rho == 0 {
				t.kind = AtPoint
			}
		}
		// Which way the course points there: away from both arms.
		d := sub(p[k], p[k-1])
		e := sub(p[k], p[k+1])
		d = orb.Point{d[0]/norm(d) + e[0]/norm(e), d[1]/norm(d) + e[1]/norm(e)}
		if l := norm(d); l > 0.1 {
			t.out = orb.Point{d[0] / l, d[1] / l}
		} else {
			d = sub(p[k], p[k-1])
			t.out = orb.Point{d[0] / norm(d), d[1] / norm(d)}
		}
		x := b.r.Spec.resolve(s[k] - 1e-3)
		t.far = max(t.rho+1, x.l.at, -x.r.at)
		turns[i] = t
	}
	return all, turns, nil
}

// turn appends the portals of a turn-around: one point, or a fan round the
// post from the outward half of the road to the homeward half.
func (b *builder) turn(t *turn) {
	if t.kind == AtPoint {
		b.r.Portals = append(b.r.Portals, Portal{At: t.s, Left: End{P: t.p}, Right: End{P: t.p}})
		return
	}
	side := 1.0 // the post is on the runner's left
	if t.clockwise {
		side = -1
	}
	n := int(math.Ceil(math.Pi / arcStep(t.rho)))
	start := math.Atan2(t.out[1], t.out[0]) - side*math.Pi/2
	for i := 0; i <= n; i++ {
		sn, cs := math.Sincos(start + side*math.Pi*float64(i)/float64(n))
		d := orb.Point{cs, sn}
		post := End{P: along(t.p, d, t.rho), Centre: t.p, Radius: t.rho}
		away := End{P: along(t.p, d, t.rho+t.far)}
		p := Portal{At: t.s, Left: post, Right: away}
		if t.clockwise {
			p.Left, p.Right = away, post
		}
		b.r.Portals = append(b.r.Portals, p)
	}
}
