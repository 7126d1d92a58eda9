package road

import (
	"fmt"
	"iter"
	"maps"
	"math"
	"slices"
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
	out       orb.Point // direction in which the course points there: away from both arms
	far       float64   // how far the road reaches beyond the turn
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
func walk(first orb.Point, on iter.Seq2[int, orb.Point], length float64) (orb.Point, float64) {
	p, done := first, 0.0
	for _, q := range on {
		d := norm(sub(q, p))
		if done+d >= length {
			return mix(p, q, (length-done)/d), length
		}
		done += d
		p = q
	}
	return p, done
}

// drawing is the drawn course as far as it has been cleaned.
type drawing struct {
	p     []orb.Point
	s     []float64 // chainage of every point
	backs []int     // the points that are turn-arounds
}

// split cleans the drawing and cuts it at turn-arounds.
func (b *builder) split() ([]*section, []turn, error) {
	d := b.clean()
	backs, turns, err := b.turns(d)
	if err != nil {
		return nil, nil, err
	}
	var secs []*section
	from := 0
	for _, k := range append(backs, len(d.p)-1) {
		q := newSection(d.p[from:k+1], d.s[from:k+1])
		q.from, q.to = d.s[from], d.s[k]
		secs = append(secs, q)
		from = k
	}
	return secs, turns, nil
}

// clean takes repeated points, spikes and steps back out of the drawing and
// finds where it turns back along itself. Two points at least are left: a step
// back to the point before the last is a sharp corner or a turn-around.
func (b *builder) clean() drawing {
	c := b.r.Course
	n := len(c.Points)
	d := drawing{p: make([]orb.Point, 0, n), s: make([]float64, 0, n)}
	for i, q := range c.Points {
		for len(d.p) == 0 || norm(sub(q, d.p[len(d.p)-1])) >= 1e-6 {
			does, last := b.bendAt(&d, c.Points[i:]), len(d.p)-1
			if does == slips {
				if by := math.Min(norm(sub(d.p[last], d.p[last-1])), norm(sub(q, d.p[last]))); by > 3 {
					b.warn(d.s[last], "the drawing goes back on itself for %.0f m; that is taken out", by)
				}
				d.p, d.s = d.p[:last], d.s[:last]
				continue
			}
			if does == turnsBack {
				d.backs = append(d.backs, last)
			}
			d.p, d.s = append(d.p, q), append(d.s, c.Chainage[i])
			break
		}
	}
	// Chainages of the drawing hold; the ends must be there.
	d.s[0], d.s[len(d.s)-1] = c.Chainage[0], c.Chainage[n-1]
	return d
}

// bending is what a drawing does at a point.
type bending int

const (
	goesOn    bending = iota // straight on or round a corner
	turnsBack                // a turn-around
	slips                    // a spike or a step back, which nobody runs
)

// bendAt says what the course does at the last point of a drawing, when the
// points to come follow.
func (b *builder) bendAt(d *drawing, next []orb.Point) bending {
	m := len(d.p)
	if m < 2 || len(d.backs) > 0 && d.backs[len(d.backs)-1] == m-1 {
		return goesOn
	}
	u, v := sub(d.p[m-1], d.p[m-2]), sub(next[0], d.p[m-1])
	if dot(u, v) > turnBack*norm(u)*norm(v) {
		return goesOn
	}
	// The course turns back here. Do its arms lie along each other?
	low := 0
	if len(d.backs) > 0 {
		low = d.backs[len(d.backs)-1]
	}
	before := func(l float64) (orb.Point, float64) { return walk(d.p[m-1], slices.Backward(d.p[low:m-1]), l) }
	after := func(l float64) (orb.Point, float64) { return walk(d.p[m-1], slices.All(next), l) }
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
	if !back && b.asked(d.s[m-1]) && apart(l) < l {
		back = true
	}
	switch {
	case back && l > 0.5:
		return turnsBack
	case apart(l) < 0.7*l: // an acute corner
		return goesOn
	}
	return slips
}

// asked says whether the Spec has a turn-around near a chainage.
func (b *builder) asked(at float64) bool {
	return slices.ContainsFunc(b.r.Spec.Turnarounds, func(t Turnaround) bool { return math.Abs(t.At-at) < turnSlack })
}

// turns matches the turn-arounds of the Spec to the places where the drawing
// turns back, adding places that are drawn as a tight bend. It gives the points
// of the drawing at which it turns, in order, and the turns.
func (b *builder) turns(d drawing) ([]int, []turn, error) {
	of := map[int]*Turnaround{}
	for _, k := range d.backs {
		of[k] = nil
	}
	for i := range b.r.Spec.Turnarounds {
		t := &b.r.Spec.Turnarounds[i]
		bad := func(advice, format string, a ...any) error {
			return &Error{Rule: RuleTurnaround, Item: ItemTurnaround, Index: i, Other: -1, Field: "At", What: fmt.Sprintf(format, a...), Advice: advice}
		}
		k, found := d.turnNear(t.At)
		if !found {
			return nil, nil, bad("give the chainage of the turning point, or say with a gate what the runner passes",
				"the drawn course does not turn back within %.0f m of %.1f m", turnSlack, t.At)
		}
		if of[k] != nil {
			return nil, nil, bad("keep one of them", "the turn at %.1f m already has a turn-around", d.s[k])
		}
		of[k] = t
	}
	at := slices.Sorted(maps.Keys(of))
	turns := make([]turn, len(at))
	for i, k := range at {
		turns[i] = b.turnAt(d, k, of[k])
	}
	return at, turns, nil
}

// turnNear finds the point of a drawing at which a turn-around near a chainage
// is: where the drawing turns back, or else the point next to the chainage if
// it lies in a turn drawn with several points.
func (d *drawing) turnNear(at float64) (k int, found bool) {
	for _, j := range d.backs {
		if off := math.Abs(d.s[j] - at); off < turnSlack && (!found || off < math.Abs(d.s[k]-at)) {
			k, found = j, true
		}
	}
	if found {
		return k, true
	}
	k = sort.SearchFloat64s(d.s, at)
	if k > 0 && (k == len(d.s) || at-d.s[k-1] < d.s[k]-at) {
		k--
	}
	if k == 0 || k >= len(d.p)-1 || math.Abs(d.s[k]-at) >= turnSlack {
		return 0, false
	}
	x, lx := walk(d.p[k], slices.Backward(d.p[:k]), arms)
	y, ly := walk(d.p[k], slices.All(d.p[k+1:]), arms)
	return k, norm(sub(x, y)) < math.Min(lx, ly)
}

// turnAt is the turn at a point of a drawing, as the Spec says, or to a point
// where it says nothing.
func (b *builder) turnAt(d drawing, k int, said *Turnaround) turn {
	t := turn{s: d.s[k], p: d.p[k]}
	if said != nil {
		t.kind, t.clockwise = said.Kind, said.Clockwise
		edge := Cone
		if said.Kind == RoundMedian {
			edge = Kerb
		}
		c := b.r.Spec.Clearance.Of(edge)
		if said.Clearance != nil {
			c = *said.Clearance
		}
		t.rho = said.Radius + c
		if t.rho == 0 {
			t.kind = AtPoint
		}
	}
	in, on := sub(d.p[k], d.p[k-1]), sub(d.p[k], d.p[k+1])
	t.out = orb.Point{in[0]/norm(in) + on[0]/norm(on), in[1]/norm(in) + on[1]/norm(on)}
	if l := norm(t.out); l > 0.1 {
		t.out = orb.Point{t.out[0] / l, t.out[1] / l}
	} else { // nearly straight on, in the middle of a wide turn
		t.out = orb.Point{in[0] / norm(in), in[1] / norm(in)}
	}
	x := b.r.Spec.resolveOn(b.r.Course, d.s[k]-1e-3)
	t.far = max(t.rho+1, x.l.at, -x.r.at)
	return t
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
