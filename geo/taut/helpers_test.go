package taut_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/geo/track"
)

// flat is a course drawn in a plane, its chainage the planar length.
func flat(pts ...orb.Point) *course.Course {
	c := &course.Course{Plane: earth.NewPlane(earth.LatLon{Lat: 10, Lon: 20})}
	at := 0.0
	for i, p := range pts {
		if i > 0 {
			at += math.Hypot(p[0]-pts[i-1][0], p[1]-pts[i-1][1])
		}
		c.Points = append(c.Points, p)
		c.Chainage = append(c.Chainage, at)
		c.Heights = append(c.Heights, math.NaN())
	}
	return c
}

func solve(t testing.TB, c *course.Course, sp road.Spec) (*road.Road, *taut.Line) {
	t.Helper()
	r, err := road.Build(c, sp)
	if err != nil {
		t.Fatal(err)
	}
	l, err := taut.Solve(r)
	if err != nil {
		t.Fatal(err)
	}
	return r, l
}

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6f, want %.6f within %g", what, got, want, tol)
	}
}

// at is a portal between two points without arcs.
func at(lx, ly, rx, ry float64) road.Portal {
	return road.Portal{Left: road.End{P: orb.Point{lx, ly}}, Right: road.End{P: orb.Point{rx, ry}}}
}

func shortest(t testing.TB, ps []road.Portal) float64 {
	t.Helper()
	p, err := taut.Shortest(ps)
	if err != nil {
		t.Fatal(err)
	}
	return p.Length
}

// street is a road with given width, corner radius and clearance from kerbs.
func street(width, radius, clearance float64) road.Spec {
	sp := road.Default()
	sp.Width, sp.CornerRadius = width, radius
	sp.Clearance.Kerb = clearance
	return sp
}

// oval is a running track's line at a radius, drawn in steps.
func oval(radius, straight, step float64) []orb.Point {
	n := int(math.Ceil(math.Pi * radius / step))
	p := []orb.Point{{0, -radius}}
	for i := 0; i <= n; i++ {
		sn, cs := math.Sincos(-math.Pi/2 + math.Pi*float64(i)/float64(n))
		p = append(p, orb.Point{straight + radius*cs, radius * sn})
	}
	for i := 0; i <= n; i++ {
		sn, cs := math.Sincos(math.Pi/2 + math.Pi*float64(i)/float64(n))
		p = append(p, orb.Point{radius * cs, radius * sn})
	}
	return p
}

func mustCourse(t testing.TB, fixes []track.Fix) *course.Course {
	t.Helper()
	c, err := course.New("test", fixes)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
