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
// others to anywhere on the last, exact but for the sampling of arcs, which
// makes it short by less than 0.05 mm for each arc.
func Shortest(portals []road.Portal) (Path, error) {
	if len(portals) < 2 {
		return Path{}, ErrNoPortals
	}
	portals = passingPoints(portals)
	first, last := &portals[0], &portals[len(portals)-1]
	f := &funnel{portals: portals}
	f.from = ahead(first, towards(first.Left.P, portals[1:]))
	f.to = ahead(last, backwards(last.Left.P, portals))
	contacts, through := f.path()
	if len(contacts) == 0 {
		contacts = []contact{{End: road.End{P: through}, portal: 0}}
		contacts[0].portal = len(portals) / 2
	}
	var out Path
	add := func(p orb.Point, at, leg float64) {
		if n := len(out.Points); n > 0 {
			if out.Points[n-1] == p {
				return
			}
			out.Leg = append(out.Leg, leg)
			out.Length += leg
		}
		out.Points = append(out.Points, p)
		out.At = append(out.At, at)
	}
	c := contacts[0]
	start := slide(c.P, first, f.from)
	add(start, first.At, 0)
	prev := contact{End: road.End{P: start}}
	for i, c := range contacts {
		leg := math.Hypot(c.P[0]-prev.P[0], c.P[1]-prev.P[1])
		if leg < 1e-9 {
			if i == 0 {
				prev = c
			}
			continue
		}
		if prev.Radius > 0 && prev.Radius == c.Radius && prev.Centre == c.Centre && prev.side == c.side {
			leg = 2 * c.Radius * math.Asin(math.Min(1, leg/(2*c.Radius)))
		}
		add(c.P, portals[c.portal].At, leg)
		prev = c
	}
	c = contacts[len(contacts)-1]
	end := slide(c.P, last, f.to)
	if leg := math.Hypot(end[0]-prev.P[0], end[1]-prev.P[1]); leg > 1e-9 {
		add(end, last.At, leg)
	}
	out.At[len(out.At)-1] = last.At
	if len(out.Points) < 2 {
		out.Points = append(out.Points, end)
		out.At = append(out.At, last.At)
		out.Leg = append(out.Leg, 0)
	}
	return out, nil
}

// slide moves a point along a direction onto the line of a portal.
func slide(p orb.Point, on *road.Portal, d orb.Point) orb.Point {
	x := (on.Left.P[0]-p[0])*d[0] + (on.Left.P[1]-p[1])*d[1]
	return orb.Point{p[0] + x*d[0], p[1] + x*d[1]}
}

func towards(p orb.Point, portals []road.Portal) orb.Point {
	for i := range portals {
		m := middle(&portals[i])
		if d := math.Hypot(m[0]-p[0], m[1]-p[1]); d > 1e-6 {
			return orb.Point{(m[0] - p[0]) / d, (m[1] - p[1]) / d}
		}
	}
	return orb.Point{1, 0}
}

func backwards(p orb.Point, portals []road.Portal) orb.Point {
	for i := len(portals) - 1; i >= 0; i-- {
		m := middle(&portals[i])
		if d := math.Hypot(m[0]-p[0], m[1]-p[1]); d > 1e-6 {
			return orb.Point{(p[0] - m[0]) / d, (p[1] - m[1]) / d}
		}
	}
	return orb.Point{1, 0}
}

func middle(p *road.Portal) orb.Point {
	return orb.Point{(p.Left.P[0] + p.Right.P[0]) / 2, (p.Left.P[1] + p.Right.P[1]) / 2}
}

// Solve finds the shortest legal line of a road.
func Solve(r *road.Road) (*Line, error) {
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
			chord := math.Hypot(b[0]-a[0], b[1]-a[1])
			if chord > 0 {
				leg *= onEllipsoid(c.Plane, a, b) / chord
			}
			l.Along[i+1] = l.Along[i] + leg
		}
		l.Length = l.Along[len(l.Along)-1]
	}
	l.SurfaceLength = surface(l, c)
	l.Turns = turns(r, l)
	return l, nil
}

// longPiece is the length in metres above which a straight piece is measured
// in parts: the plane's length of a piece is exact to 1 part in 10^7 below it.
const longPiece = 1000.0

func onEllipsoid(p earth.Plane, a, b orb.Point) float64 {
	n := int(math.Hypot(b[0]-a[0], b[1]-a[1])/longPiece) + 1
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

// surface is the length of the line along the road's surface: every part of
// it climbs as the course does at the same chainage.
func surface(l *Line, c *course.Course) float64 {
	for _, h := range c.Heights {
		if math.IsNaN(h) {
			return math.NaN()
		}
	}
	height := func(at float64) float64 {
		i, t := c.Leg(at)
		t = max(0, min(1, t))
		return c.Heights[i] + t*(c.Heights[i+1]-c.Heights[i])
	}
	var sum float64
	k := 0
	for i := 1; i < len(l.Points); i++ {
		from, to := l.At[i-1], l.At[i]
		length := l.Along[i] - l.Along[i-1]
		if to <= from {
			h := height(from)
			sum += earth.OnSurface(length, h, 0)
			continue
		}
		for k < len(c.Chainage) && c.Chainage[k] <= from {
			k++
		}
		at, h := from, height(from)
		for j := k; at < to; j++ {
			next := to
			if j < len(c.Chainage) && c.Chainage[j] < to {
				next = c.Chainage[j]
			}
			hn := height(next)
			sum += earth.OnSurface(length*(next-at)/(to-from), (h+hn)/2, hn-h)
			at, h = next, hn
		}
	}
	return sum
}
