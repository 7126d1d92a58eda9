package taut

import (
	"errors"
	"math"
	"sort"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/road"
)

// ErrNoPortals says that a road has nothing to run through.
var ErrNoPortals = errors.New("the road has fewer than two portals")

// Path is the shortest path through a row of portals in the plane.
type Path struct {
	Points orb.LineString // arcs as short chords
	At     []float64      // chainage of the portal that each point belongs to
	Leg    []float64      // planar length of each piece between two points: the arc's where both lie on one
	Length float64        // planar, m
}

// Shortest is the shortest path from anywhere on the first portal through all
// others to anywhere on the last. The funnel finds which ends of portals the
// string touches; where they lie on arcs the tangents and the arcs between
// them are then worked out in closed form, so that the sampling of the arcs
// leaves no error but where the string wraps an arc by less than one sample:
// then it is short by at most radius·step³/24, under 0.03 mm. Fewer than two
// portals give ErrNoPortals.
func Shortest(portals []road.Portal) (Path, error) {
	if len(portals) < 2 {
		return Path{}, ErrNoPortals
	}
	portals = passingPoints(portals) // the string lies back on itself at a turning point
	first, last := &portals[0], &portals[len(portals)-1]
	f := &funnel{portals: portals}
	f.from = ahead(first, towards(first.Left.P, portals[1:]))
	f.to = ahead(last, onwards(last.Left.P, portals))
	contacts, through := f.path()
	if len(contacts) == 0 {
		contacts = []contact{{End: road.End{P: through}, portal: len(portals) / 2}}
	}
	// Arcs taken as points may unsettle their neighbours, never for long; should
	// it not end, the funnel's own points are good enough.
	const rounds = 50
	for round := 0; ; round++ {
		bows := gather(contacts, len(portals))
		unsound := straighten(bows, f.from, f.to)
		if len(unsound) == 0 {
			return draw(bows, portals, f.from, f.to), nil
		}
		for _, i := range unsound {
			for k := bows[i].first; k <= bows[i].last; k++ {
				contacts[k].Radius = 0
			}
		}
		if round == rounds {
			for k := range contacts {
				contacts[k].Radius = 0
			}
		}
	}
}

// bow is a stretch of the string on one arc, or at one point.
type bow struct {
	c           orb.Point // centre, or the point itself
	r           float64   // signed: positive where the centre is to the left of the string; 0 for a point
	p0, p1      orb.Point // first and last contact found by the funnel
	from, by    int       // portals of these
	first, last int       // contacts, by number
	in, out     orb.Point // where the string comes on and leaves
	wrap        float64   // how far it turns on it, radians, left positive
}

// gather puts contacts on the same arc together.
func gather(cs []contact, portals int) []bow {
	bows := make([]bow, 0, len(cs))
	for i, c := range cs {
		r := c.Radius * float64(c.side)
		if c.portal == 0 || c.portal == portals-1 {
			r = 0 // the ends of the start and the finish line are points
		}
		n := len(bows) - 1
		if n >= 0 && r == 0 && bows[n].r == 0 && distance(bows[n].c, c.P) < 1e-9 {
			continue
		}
		if n >= 0 && r != 0 && bows[n].r == r && bows[n].c == c.Centre {
			bows[n].p1, bows[n].by, bows[n].last = c.P, c.portal, i
			continue
		}
		b := bow{c: c.P, r: r, p0: c.P, p1: c.P, from: c.portal, by: c.portal, first: i, last: i}
		if r != 0 {
			b.c = c.Centre
		}
		bows = append(bows, b)
	}
	return bows
}

// The exact string may touch an arc as far as this beyond the samples at which
// the funnel found it: an angle in radians and a length in metres together.
// Samples are closer, but where the road becomes wider the arc round the narrow
// part's end may have one only; farther off it may not be the road's edge any
// more.
const (
	strayAngle  = 0.5
	strayLength = 0.1
)

// straighten finds the tangents between bows. It gives the bows that are not
// what they seem, by number: arcs that the exact string would leave on the
// wrong side, or touch where the funnel did not. They are to be taken as the
// points that the funnel found.
func straighten(bows []bow, from, to orb.Point) (unsound []int) {
	dirs := make([]orb.Point, len(bows)+1)
	dirs[0], dirs[len(bows)] = from, to
	for i := 1; i < len(bows); i++ {
		a, b := &bows[i-1], &bows[i]
		gx, gy := b.c[0]-a.c[0], b.c[1]-a.c[1]
		d2 := gx*gx + gy*gy
		k := b.r - a.r
		if d2 <= k*k || d2 == 0 {
			// One within the other: no tangent.
			if a.r != 0 {
				unsound = append(unsound, i-1)
			}
			if b.r != 0 {
				unsound = append(unsound, i)
			}
			gx, gy = b.p0[0]-a.p1[0], b.p0[1]-a.p1[1]
			l := math.Hypot(gx, gy)
			if l == 0 {
				dirs[i] = dirs[i-1]
			} else {
				dirs[i] = orb.Point{gx / l, gy / l}
			}
			continue
		}
		// The direction u has its normal n with n·g = k.
		l := math.Sqrt(d2 - k*k)
		dirs[i] = orb.Point{(gx*l + gy*k) / d2, (gy*l - gx*k) / d2}
	}
	for i := range bows {
		b := &bows[i]
		u, v := dirs[i], dirs[i+1]
		b.wrap = angle(u, v)
		b.in = orb.Point{b.c[0] + b.r*u[1], b.c[1] - b.r*u[0]}
		b.out = orb.Point{b.c[0] + b.r*v[1], b.c[1] - b.r*v[0]}
		if b.r == 0 {
			continue
		}
		// A string round a whole post turns by more than half a circle.
		if b.wrap*b.r < 0 {
			most := angle(b.arm(b.p0), b.arm(b.p1))
			switch {
			case math.Abs(b.wrap) > 2 && math.Abs(most) > 2:
				b.wrap += math.Copysign(2*math.Pi, b.r)
			case math.Abs(b.wrap) > 1e-9:
				unsound = append(unsound, i)
				continue
			default:
				b.wrap = 0
			}
		}
		if most := strayAngle + strayLength/math.Abs(b.r); math.Abs(angle(b.arm(b.in), b.arm(b.p0))) > most || math.Abs(angle(b.arm(b.p1), b.arm(b.out))) > most {
			unsound = append(unsound, i)
		}
	}
	return unsound
}

// arm leads from the centre of a bow to a point.
func (b *bow) arm(p orb.Point) orb.Point { return sub(p, b.c) }

// chordStep is the largest angle in radians between two points of an arc in
// the line that is given out. Lengths are those of the arcs.
const chordStep = 3 * math.Pi / 180

// draw gives the path of the bows.
func draw(bows []bow, portals []road.Portal, from, to orb.Point) Path {
	first, last := &portals[0], &portals[len(portals)-1]
	var out Path
	add := func(p orb.Point, at, leg float64) {
		if n := len(out.Points); n > 0 {
			if leg < 1e-9 {
				return
			}
			at = math.Max(at, out.At[n-1])
			out.Leg = append(out.Leg, leg)
			out.Length += leg
		}
		out.Points = append(out.Points, p)
		out.At = append(out.At, at)
	}
	straight := func(p orb.Point, at float64) {
		q := out.Points[len(out.Points)-1]
		add(p, at, distance(q, p))
	}
	add(slide(bows[0].in, first, from), first.At, 0)
	for i := range bows {
		b := &bows[i]
		a0, a1 := portals[b.from].At, portals[b.by].At
		straight(b.in, a0)
		if b.r == 0 || b.wrap == 0 {
			continue
		}
		n := int(math.Ceil(math.Abs(b.wrap) / chordStep))
		leg := math.Abs(b.wrap*b.r) / float64(n)
		vx, vy := b.in[0]-b.c[0], b.in[1]-b.c[1]
		for k := 1; k <= n; k++ {
			t := float64(k) / float64(n)
			sn, cs := math.Sincos(b.wrap * t)
			p := orb.Point{b.c[0] + cs*vx - sn*vy, b.c[1] + sn*vx + cs*vy}
			if k == n {
				p = b.out
			}
			add(p, a0+t*(a1-a0), leg)
		}
	}
	straight(slide(bows[len(bows)-1].out, last, to), last.At)
	n := len(out.Points)
	if n < 2 { // start and finish are one place
		out.Points = append(out.Points, out.Points[0])
		out.At = append(out.At, last.At)
		out.Leg = append(out.Leg, 0)
		n = 2
	}
	out.At[n-1] = last.At
	return out
}

// slide moves a point along a direction onto the line of a portal.
func slide(p orb.Point, on *road.Portal, d orb.Point) orb.Point {
	if isPoint(on) {
		return on.Left.P
	}
	x := (on.Left.P[0]-p[0])*d[0] + (on.Left.P[1]-p[1])*d[1]
	return orb.Point{p[0] + x*d[0], p[1] + x*d[1]}
}

// towards is the direction from a point to the middle of the first of portals
// that does not lie on it; east where all do.
func towards(p orb.Point, portals []road.Portal) orb.Point {
	for i := range portals {
		m := middle(&portals[i])
		if d := distance(p, m); d > same {
			return orb.Point{(m[0] - p[0]) / d, (m[1] - p[1]) / d}
		}
	}
	return orb.Point{1, 0}
}

// onwards is the direction to a point from the middle of the last of portals
// that does not lie on it; east where all do.
func onwards(p orb.Point, portals []road.Portal) orb.Point {
	for i := len(portals) - 1; i >= 0; i-- {
		m := middle(&portals[i])
		if d := distance(p, m); d > same {
			return orb.Point{(p[0] - m[0]) / d, (p[1] - m[1]) / d}
		}
	}
	return orb.Point{1, 0}
}

func middle(p *road.Portal) orb.Point {
	return orb.Point{(p.Left.P[0] + p.Right.P[0]) / 2, (p.Left.P[1] + p.Right.P[1]) / 2}
}

// Solve finds the shortest legal line of a road, and its length along the
// road's surface. It fails with ErrNoPortals, or as heights.FromCourse does.
func Solve(r *road.Road) (*Line, error) {
	l, err := OnMap(r)
	if err != nil {
		return nil, err
	}
	if l.SurfaceLength, err = alongSurface(r.Course, l); err != nil {
		return nil, err
	}
	return l, nil
}

// OnMap is Solve without the length along the surface, which is NaN: for lines
// that are only to be compared with each other. Heights take longer than the
// line.
func OnMap(r *road.Road) (*Line, error) {
	c := r.Course
	l := &Line{Centreline: r.FinishAt - r.StartAt}
	if r.Spec.CourseIsLine {
		drawn(l, c, r.StartAt, r.FinishAt)
	} else {
		p, err := Shortest(r.Portals)
		if err != nil {
			return nil, err
		}
		l.Points, l.At = p.Points, p.At
		l.Along = make([]float64, len(p.Points))
		for i, leg := range p.Leg {
			a, b := p.Points[i], p.Points[i+1]
			chord := distance(a, b)
			if chord > 0 {
				leg *= onEllipsoid(c.Plane, a, b) / chord
			}
			l.Along[i+1] = l.Along[i] + leg
		}
		l.Length = l.Along[len(l.Along)-1]
	}
	l.SurfaceLength = math.NaN()
	l.Turns = turns(r, l)
	return l, nil
}

// longPiece is the length in metres above which a straight piece is measured
// in parts: the plane's length of a piece is exact to 1 part in 10^7 below it.
const longPiece = 1000.0

// onEllipsoid is the map length of a straight piece of the plane, m.
func onEllipsoid(p earth.Plane, a, b orb.Point) float64 {
	n := int(distance(a, b)/longPiece) + 1
	var sum float64
	last := a
	for i := 1; i <= n; i++ {
		t := float64(i) / float64(n)
		q := orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
		sum += p.Length(last, q)
		last = q
	}
	return sum
}

// drawn makes the line the drawn course itself.
func drawn(l *Line, c *course.Course, from, to float64) {
	add := func(p orb.Point, at float64) {
		l.Points, l.At, l.Along = append(l.Points, p), append(l.At, at), append(l.Along, at-from)
	}
	add(c.At(from), from)
	i := sort.SearchFloat64s(c.Chainage, from)
	for ; i < len(c.Points) && c.Chainage[i] < to; i++ {
		if c.Chainage[i] > from {
			add(c.Points[i], c.Chainage[i])
		}
	}
	add(c.At(to), to)
	l.Length = to - from
}
