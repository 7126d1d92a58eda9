package taut_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"tautline/geo/road"
	"tautline/geo/taut"
)

// edgeAt is an edge of a road round one corner: its lateral place, the radius
// of its corner, its clearance. Places are metres towards the inside of the
// corner, so the outer edge of a road centred on its course is negative.
type edgeAt struct{ at, radius, clear float64 }

// crook is a left turn of a course at the origin, by an angle, and the road
// before and behind a place at chainage b from the corner.
type crook struct {
	angle          float64
	b              float64
	inner, outer   [2]edgeAt // before and behind
	innerC, outerC bool      // which of them changes

	along, left [2]orb.Point // directions and left normals of the legs
}

const armLength = 70.0

func (c *crook) init() {
	for k, a := range [2]float64{0, c.angle} {
		sn, cs := math.Sincos(a)
		c.along[k], c.left[k] = orb.Point{cs, sn}, orb.Point{-sn, cs}
	}
}

// toWedge is how far a point lies from all that is inside of both legs, in a
// wedge with this apex.
func (c *crook) toWedge(p, apex orb.Point) float64 {
	g := minus(p, apex)
	l0, l1 := inner(g, c.left[0]), inner(g, c.left[1])
	switch {
	case l0 >= 0 && l1 >= 0:
		return 0
	case l0 < 0 && inner(g, c.along[0]) < 0:
		return -l0
	case l1 < 0 && inner(g, c.along[1]) > 0:
		return -l1
	}
	return size(g)
}

// apex is the point d inside of the first leg and e inside of the second.
func (c *crook) apex(d, e float64) orb.Point {
	n0, n1 := c.left[0], c.left[1]
	det := outer(n0, n1)
	return orb.Point{(d*n1[1] - e*n0[1]) / det, (e*n0[0] - d*n1[0]) / det}
}

// tip is where an edge that the runner keeps outside of begins or ends.
func (c *crook) tip(e edgeAt) orb.Point {
	k := 0
	b := math.Min(c.b, 0)
	if c.b > 0 {
		k, b = 1, c.b
	}
	// Inside the corner the edges of the legs meet before they reach it.
	if in := math.Max(0, e.at) * math.Tan(c.angle/2); math.Abs(b) < in {
		return c.apex(e.at, e.at)
	}
	return c.off(k, b, e.at)
}

// row is the line of an edge from its tip on: ahead, as it is met by who comes
// from before the cut, or back, as it was passed.
func (c *crook) row(e edgeAt, layer int) []orb.Point {
	line := []orb.Point{c.tip(e)}
	ahead := layer == 0
	if (ahead && c.b < 0 || !ahead && c.b > 0) && line[0] != c.apex(e.at, e.at) {
		// Round the corner to the other leg.
		p, q := c.off(0, 0, e.at), c.off(1, 0, e.at)
		if e.at >= 0 {
			p = c.apex(e.at, e.at)
			q = p
		}
		if !ahead {
			p, q = q, p
		}
		line = append(line, p, q)
	}
	if ahead {
		return append(line, c.off(1, 2*armLength, e.at))
	}
	return append(line, c.off(0, -2*armLength, e.at))
}

// off is the point at a place beside a leg.
func (c *crook) off(k int, along, place float64) orb.Point {
	u, n := c.along[k], c.left[k]
	return orb.Point{along*u[0] + place*n[0], along*u[1] + place*n[1]}
}

// obstacle is a place to keep rho away from, on one side of the cut.
type obstacle struct {
	dist  func(p orb.Point) float64
	rho   float64
	apex  orb.Point
	layer int
}

func (c *crook) obstacles() []obstacle {
	var out []obstacle
	for k, e := range c.inner {
		d, rho := e.at+e.radius, e.radius+e.clear
		if d < 0 {
			d, rho = 0, e.clear-e.at // round the outside of the drawn corner
		}
		apex := c.apex(d, d)
		out = append(out, obstacle{func(p orb.Point) float64 { return c.toWedge(p, apex) }, rho, apex, k})
	}
	// Cones and painted lines are kept clear of from where they begin, by who
	// comes to them, and to where they end by who has passed them.
	narrower := func(a, b edgeAt, sign float64) (edgeAt, int) {
		if sign*b.at < sign*a.at || a.at == b.at && b.radius < a.radius {
			return b, 0
		}
		return a, 1
	}
	row := func(e edgeAt, layer int) {
		line := c.row(e, layer)
		for i := 1; i < len(line); i++ {
			a, b := line[i-1], line[i]
			out = append(out, obstacle{func(q orb.Point) float64 { return toSegment(q, a, b) }, e.radius + e.clear, a, layer})
		}
	}
	if c.innerC {
		e, layer := narrower(c.inner[0], c.inner[1], 1)
		row(e, layer)
	}
	if c.outerC {
		e, layer := narrower(c.outer[0], c.outer[1], -1)
		row(e, layer)
	}
	return out
}

// gate is the cross-section at the cut: what is in both roads.
func (c *crook) gate(n int) []orb.Point {
	narrow := func(x [2]edgeAt, sign float64) edgeAt {
		if sign*x[1].at < sign*x[0].at || x[0].at == x[1].at && x[1].radius < x[0].radius {
			return x[1]
		}
		return x[0]
	}
	in, out := narrow(c.inner, 1), narrow(c.outer, -1)
	to := c.tip(out)
	from := c.apex(in.at+in.radius, in.at+in.radius)
	if c.innerC {
		from = c.tip(in)
	}
	g := minus(to, from)
	f := (in.radius + in.clear) * (1 + 1e-9) / size(g)
	first := orb.Point{from[0] + f*g[0], from[1] + f*g[1]}
	pts := make([]orb.Point, n+1)
	for i := range pts {
		t := float64(i) / float64(n)
		t *= t // more of them near the inner end
		pts[i] = orb.Point{first[0] + t*(to[0]-first[0]), first[1] + t*(to[1]-first[1])}
	}
	return append(pts, around(from, in.radius+in.clear, 30)...)
}

// around are the corners of a polygon round a circle.
func around(p orb.Point, r float64, n int) []orb.Point {
	out := make([]orb.Point, n)
	for i := range out {
		sn, cs := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		f := r / math.Cos(math.Pi/float64(n)) * (1 + 1e-9)
		out[i] = orb.Point{p[0] + f*cs, p[1] + f*sn}
	}
	return out
}

// clearOf says whether a straight piece keeps its distance. The distance to
// something convex is convex along a line.
func (o *obstacle) clearOf(a, b orb.Point) bool {
	at := func(t float64) float64 {
		return o.dist(orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])})
	}
	const slip = 1e-6
	least := o.rho - slip
	if at(0) < least || at(1) < least {
		return false
	}
	if at(1e-6) >= at(0) || at(1-1e-6) >= at(1) {
		return true
	}
	lo, hi := 0.0, 1.0
	for range 40 {
		x, y := lo+(hi-lo)/3, hi-(hi-lo)/3
		fx, fy := at(x), at(y)
		if fx < least || fy < least {
			return false
		}
		if fx < fy {
			hi = y
		} else {
			lo = x
		}
	}
	return true
}

// place is where the way may bend: before the cut (layer 0), behind it (1) or
// in the gate between the two (2).
type place struct {
	p     orb.Point
	layer int
	end   bool // on the start or the finish line
}

// places are those about the obstacles, on the start line, on the finish line
// and in the gate that keep their distance from all obstacles.
func (c *crook) places(obs []obstacle) []place {
	var ps []place
	const across = 16
	for i := range across + 1 {
		t := float64(i) / across
		for k, along := range []float64{-armLength, armLength} {
			in, out := c.inner[k].at-c.inner[k].clear, c.outer[k].at+c.outer[k].clear
			ps = append(ps, place{c.off(k, along, in+t*(out-in)), k, true})
		}
	}
	for _, o := range obs {
		for _, p := range around(o.apex, o.rho, 120) {
			ps = append(ps, place{p, o.layer, false})
		}
	}
	for _, p := range c.gate(60) {
		ps = append(ps, place{p, 2, false})
	}
	free := ps[:0]
	for _, p := range ps {
		ok := true
		for i := range obs {
			if (p.layer == 2 || p.layer == obs[i].layer) && obs[i].dist(p.p) < obs[i].rho-1e-6 {
				ok = false
			}
		}
		if ok {
			free = append(free, p)
		}
	}
	return free
}

// visible says whether the straight way between two places keeps its distance
// from the obstacles on its side of the cut.
func visible(obs []obstacle, a, b place) bool {
	layer := min(a.layer, b.layer, 1)
	for i := range obs {
		if obs[i].layer == layer && !obs[i].clearOf(a.p, b.p) {
			return false
		}
	}
	return true
}

// roundIt is the shortest way round the corner over all visible pieces between
// places, found without portals.
func (c *crook) roundIt() float64 {
	obs := c.obstacles()
	ps := c.places(obs)
	dist, done := make([]float64, len(ps)), make([]bool, len(ps))
	for i, p := range ps {
		dist[i] = math.Inf(1)
		if p.end && p.layer == 0 {
			dist[i] = 0
		}
	}
	order := [3]int{0, 2, 1} // from before to behind the cut through the gate
	for {
		k := -1
		for i := range ps {
			if !done[i] && (k < 0 || dist[i] < dist[k]) {
				k = i
			}
		}
		if k < 0 || math.IsInf(dist[k], 1) {
			return math.NaN()
		}
		if ps[k].end && ps[k].layer == 1 {
			return dist[k]
		}
		done[k] = true
		for i := range ps {
			if by := order[ps[i].layer] - order[ps[k].layer]; done[i] || by < 0 || by > 1 {
				continue
			}
			if d := dist[k] + size(minus(ps[i].p, ps[k].p)); d < dist[i] && visible(obs, ps[k], ps[i]) {
				dist[i] = d
			}
		}
	}
}

// build is the road as package road is told it, on a course that turns left or,
// mirrored, right.
func (c *crook) build(left bool, sp road.Spec) (*road.Road, error) {
	u := c.along[1]
	m := 1.0
	if !left {
		m = -1
	}
	return road.Build(flat(orb.Point{-armLength, 0}, orb.Point{0, 0}, orb.Point{armLength * u[0], m * armLength * u[1]}), sp)
}

// partOf is a part of the road that begins or ends in a corner, in places
// towards the inside of the corner.
type partOf struct {
	name         string
	inner, outer *float64 // nil is the kerb
	edge         road.EdgeKind
}

func val(x float64) *float64 { return &x }

func checkBent(width, radius, angle, b float64, p partOf, left, begins bool) error {
	sp := road.Default()
	sp.Width, sp.CornerRadius = width, radius
	whole := [2]edgeAt{{width / 2, radius, sp.Clearance.Kerb}, {-width / 2, radius, sp.Clearance.Kerb}}
	some := whole
	st := road.Stretch{From: armLength + b, To: 2 * armLength, Part: road.Lane}
	if !begins {
		st.From, st.To = 0, armLength+b
	}
	clear := sp.Clearance.Of(p.edge)
	in, out := p.inner, p.outer
	if in != nil {
		some[0] = edgeAt{*in, 0, clear}
	}
	if out != nil {
		some[1] = edgeAt{*out, 0, clear}
	}
	if left {
		st.LaneLeft, st.LaneRight = in, out
		if in != nil {
			st.LeftEdge = p.edge
		}
		if out != nil {
			st.RightEdge = p.edge
		}
	} else {
		if in != nil {
			st.LaneRight, st.RightEdge = val(-*in), p.edge
		}
		if out != nil {
			st.LaneLeft, st.LeftEdge = val(-*out), p.edge
		}
	}
	sp.Stretches = []road.Stretch{st}
	c := crook{angle: angle, b: b, innerC: in != nil, outerC: out != nil}
	c.init()
	c.inner, c.outer = [2]edgeAt{whole[0], some[0]}, [2]edgeAt{whole[1], some[1]}
	if !begins {
		c.inner, c.outer = [2]edgeAt{some[0], whole[0]}, [2]edgeAt{some[1], whole[1]}
	}
	r, err := c.build(left, sp)
	if err != nil {
		return err
	}
	l, err := taut.Shortest(r.Portals)
	if err != nil {
		return err
	}
	want := c.roundIt()
	if !(math.Abs(l.Length-want) < 0.01) {
		return fmt.Errorf("%.4f m, the shortest way found without portals has %.4f m (%+.4f)", l.Length, want, l.Length-want)
	}
	if len(r.Warnings) > 0 {
		return fmt.Errorf("warns: %s", r.Warnings[0].What)
	}
	return nil
}

func TestAPartThatBeginsOrEndsInACornerIsRunTheShortestWay(t *testing.T) {
	degrees := []float64{60, 90, 120}
	places := []float64{-10, -6, -1.5, 0, 0.5, 3, 5, 8, 9, 12}
	for k, p := range []partOf{
		{"outer half", val(0), nil, road.PaintedLine},
		{"inner half", nil, val(0), road.PaintedLine},
		{"outer lane", val(-1), nil, road.Cone},
		{"inner side closed", val(2), nil, road.Cone},
		{"outer side closed", nil, val(-1.5), road.Cone},
		{"lane in the middle", val(1.5), val(-1.5), road.Cone},
	} {
		t.Run(p.name, func(t *testing.T) {
			for i, b := range places {
				// Every place with every part; angles, sides and ends in turn.
				angle, left, begins := degrees[(i+k)%3], (i+k)%2 == 0, (i/2+k)%2 == 0
				if err := checkBent(8, 5, angle*math.Pi/180, b, p, left, begins); err != nil {
					t.Errorf("corner of %.0f°, %+.1f m, left %v, begins %v: %v", angle, b, left, begins, err)
				}
			}
		})
	}
}

// With the corner on the left: along the kerb, round its arc, straight to the
// beginning of the middle line, round that and up beside it.
func TestAHalfThatBeginsJustBehindACornerIsReachedStraightFromTheKerb(t *testing.T) {
	length := func(part road.Part, from, to, side float64) float64 {
		sp := road.Default()
		sp.Stretches = []road.Stretch{{From: from, To: to, Part: part}}
		r, err := road.Build(flat(orb.Point{0, 0}, orb.Point{500, 0}, orb.Point{500, side * 500}), sp)
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range r.Warnings {
			t.Errorf("warns at %.1f m: %s", w.At, w.What)
		}
		for _, at := range []float64{from - 0.01, from + 0.01, to - 0.01} {
			half := at > from && at < to
			if left, right := r.Lateral(at); half != (left-right < 5) {
				t.Errorf("the road at %.2f m reaches from %.2f to %.2f m", at, left, right)
			}
		}
		if n := len(r.Outlines()); n != 1 {
			t.Errorf("%d outlines", n)
		}
		l, err := taut.Shortest(r.Portals)
		if err != nil {
			t.Fatal(err)
		}
		return l.Length
	}
	// The string comes along y = 3.7, wraps 5.3 m round (491, 9) by a, and 0.2 m
	// round (500, 5) by the rest of the right angle.
	d, k := math.Hypot(9, 4), 5.3-0.2
	a := math.Asin(k/d) - math.Atan2(4, 9)
	want := 491 + 5.3*a + math.Sqrt(d*d-k*k) + 0.2*(math.Pi/2-a) + 495
	near(t, "right half behind a left corner", length(road.RightHalf, 505, 700, 1), want, 1e-4)
	near(t, "left half behind a right corner", length(road.LeftHalf, 505, 700, -1), want, 1e-4)
	near(t, "right half before a left corner", length(road.RightHalf, 300, 495, 1), want, 1e-4)
	near(t, "left half before a right corner", length(road.LeftHalf, 300, 495, -1), want, 1e-4)
}

// Two stretches that meet in a corner, and one that lies in it altogether.
func TestAStretchWithinACornerLiesBetweenTheWholeRoadAndALongerOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		angle := rapid.Float64Range(60, 120).Draw(t, "degrees") * math.Pi / 180
		pts := []orb.Point{{-armLength, 0}, {0, 0}, {armLength * math.Cos(angle), armLength * math.Sin(angle)}}
		sp := road.Default()
		part := rapid.SampledFrom([]road.Part{road.RightHalf, road.LeftHalf}).Draw(t, "part")
		from := armLength + rapid.Float64Range(-10, 9).Draw(t, "from")
		to := from + rapid.Float64Range(0.5, 15).Draw(t, "length")
		with := func(from, to float64) float64 {
			sp := sp
			sp.Stretches = []road.Stretch{{From: from, To: to, Part: part}}
			return length(t, pts, sp)
		}
		whole, some, more := length(t, pts, sp), with(from, to), with(from-20, to+20)
		if some < whole-0.01 || some > more+0.01 {
			t.Fatalf("%.4f m, but %.4f m on the whole road and %.4f m with the longer stretch", some, whole, more)
		}
	})
}

func TestAPartThatBeginsOrEndsInAnyCornerIsRunTheShortestWay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.Float64Range(6, 14).Draw(t, "width")
		place := func(name string) *float64 {
			return val(rapid.Float64Range(-width/2+1.5, width/2-1.5).Draw(t, name))
		}
		p := partOf{edge: rapid.SampledFrom([]road.EdgeKind{road.Cone, road.PaintedLine}).Draw(t, "edge")}
		switch rapid.IntRange(0, 2).Draw(t, "sides") {
		case 0:
			p.inner = place("inner")
		case 1:
			p.outer = place("outer")
		case 2:
			p.inner, p.outer = place("inner"), place("outer")
			if *p.inner-*p.outer < 1 {
				p.outer = val(*p.inner - 1)
			}
		}
		radius, angle := rapid.Float64Range(0, 8).Draw(t, "radius"), rapid.Float64Range(60, 120).Draw(t, "degrees")*math.Pi/180
		b := rapid.Float64Range(-1.1, 1.1).Draw(t, "b") * (width/2 + radius)
		if math.Abs(b) < 0.02 {
			b = 0.02 // at the corner point itself a place beside it is on either leg
		}
		if err := checkBent(width, radius, angle, b, p, rapid.Bool().Draw(t, "left"), rapid.Bool().Draw(t, "begins")); err != nil {
			t.Fatal(err)
		}
	})
}
