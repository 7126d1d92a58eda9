package taut_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"tautline/geo/earth"
	"tautline/geo/road"
	"tautline/geo/taut"
)

// streets draws a course of legs with room for its corners.
func streets(t *rapid.T) []orb.Point {
	p, h := orb.Point{0, 0}, rapid.Float64Range(-3, 3).Draw(t, "heading")
	pts := []orb.Point{p}
	for range rapid.IntRange(1, 7).Draw(t, "legs") {
		d := rapid.Float64Range(45, 300).Draw(t, "leg")
		p = orb.Point{p[0] + d*math.Cos(h), p[1] + d*math.Sin(h)}
		pts = append(pts, p)
		h += rapid.Float64Range(-1.8, 1.8).Draw(t, "turn")
	}
	return pts
}

func length(t *rapid.T, pts []orb.Point, sp road.Spec) float64 {
	r, err := road.Build(flat(pts...), sp)
	if err != nil {
		t.Fatal(err)
	}
	p, err := taut.Shortest(r.Portals)
	if err != nil {
		t.Fatal(err)
	}
	return p.Length
}

func drawnStreet(t *rapid.T) road.Spec {
	sp := street(rapid.Float64Range(2, 14).Draw(t, "width"), rapid.Float64Range(0, 8).Draw(t, "radius"), rapid.Float64Range(0, 0.8).Draw(t, "clearance"))
	sp.Part = rapid.SampledFrom([]road.Part{road.Whole, road.Whole, road.RightHalf, road.LeftHalf}).Draw(t, "part")
	if sp.Part != road.Whole {
		sp.Width += 1
	}
	return sp
}

func TestWideningNeverLengthens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pts, sp := streets(t), drawnStreet(t)
		a := length(t, pts, sp)
		sp.Width += rapid.Float64Range(0, 4).Draw(t, "more")
		if b := length(t, pts, sp); b > a+1e-4 {
			t.Fatalf("%.6f m becomes %.6f m", a, b)
		}
	})
}

func TestMoreClearanceNeverShortens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pts, sp := streets(t), drawnStreet(t)
		a := length(t, pts, sp)
		d := rapid.Float64Range(0, 0.15).Draw(t, "more")
		sp.Clearance.Kerb += d
		sp.Clearance.Line += d
		if b := length(t, pts, sp); b < a-1e-4 {
			t.Fatalf("%.6f m becomes %.6f m", a, b)
		}
	})
}

// otherHalf is a part of the road as it is called from the other side.
func otherHalf(p road.Part) road.Part {
	switch p {
	case road.RightHalf:
		return road.LeftHalf
	case road.LeftHalf:
		return road.RightHalf
	}
	return p
}

func TestReversingTheCourseWithItsSidesKeepsTheLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pts, sp := streets(t), drawnStreet(t)
		a := length(t, pts, sp)
		back := make([]orb.Point, len(pts))
		for i, p := range pts {
			back[len(pts)-1-i] = p
		}
		sp.Part = otherHalf(sp.Part)
		if b := length(t, back, sp); math.Abs(a-b) > 1e-4 {
			t.Fatalf("%.6f m one way, %.6f m the other", a, b)
		}
	})
}

func TestMirroringTheCourseWithItsSidesKeepsTheLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pts, sp := streets(t), drawnStreet(t)
		a := length(t, pts, sp)
		for i := range pts {
			pts[i][1] = -pts[i][1]
		}
		sp.Part = otherHalf(sp.Part)
		if b := length(t, pts, sp); math.Abs(a-b) > 1e-4 {
			t.Fatalf("%.6f m, mirrored %.6f m", a, b)
		}
	})
}

func TestMovingAndTurningTheCourseKeepsTheLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pts, sp := streets(t), drawnStreet(t)
		a := length(t, pts, sp)
		dx, dy := rapid.Float64Range(-9000, 9000).Draw(t, "x"), rapid.Float64Range(-9000, 9000).Draw(t, "y")
		sn, cs := math.Sincos(rapid.Float64Range(0, 7).Draw(t, "angle"))
		for i, p := range pts {
			pts[i] = orb.Point{dx + cs*p[0] - sn*p[1], dy + sn*p[0] + cs*p[1]}
		}
		if b := length(t, pts, sp); math.Abs(a-b) > 1e-4 {
			t.Fatalf("%.6f m, moved %.6f m", a, b)
		}
	})
}

// Anything that keeps to the portals is a legal path; none is shorter.
func TestNoLegalPathTriedIsShorter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pts, sp := streets(t), drawnStreet(t)
		r, err := road.Build(flat(pts...), sp)
		if err != nil {
			t.Fatal(err)
		}
		best, err := taut.Shortest(r.Portals)
		if err != nil {
			t.Fatal(err)
		}
		// A path that drifts between the edges as a smooth random mix.
		f, g, m := rapid.Float64Range(0, 9).Draw(t, "f"), rapid.Float64Range(0, 9).Draw(t, "g"), rapid.Float64Range(0, 0.5).Draw(t, "swing")
		sum := 0.0
		var last orb.Point
		for i, p := range r.Portals {
			w := 0.5 + m*math.Sin(f+g*p.At/100)
			q := orb.Point{p.Left.P[0] + w*(p.Right.P[0]-p.Left.P[0]), p.Left.P[1] + w*(p.Right.P[1]-p.Left.P[1])}
			if i > 0 {
				sum += math.Hypot(q[0]-last[0], q[1]-last[1])
			}
			last = q
		}
		if sum < best.Length-0.003*float64(len(pts)) { // its chords across arcs
			t.Fatalf("a path of %.6f m against %.6f m", sum, best.Length)
		}
	})
}

// outside says how far at most the line is out of the road: nearer to the
// kerb line than the clearance.
func outside(r *road.Road, l orb.LineString) float64 {
	worst := 0.0
	for _, o := range r.Outlines() {
		for _, edge := range []struct {
			line orb.LineString
			c    float64
		}{{o.Left, clearance(r, true)}, {o.Right, clearance(r, false)}} {
			for i := 1; i < len(edge.line); i++ {
				for _, p := range l {
					if d := edge.c - toSegment(p, edge.line[i-1], edge.line[i]); d > worst {
						worst = d
					}
				}
			}
		}
	}
	return worst
}

func clearance(r *road.Road, left bool) float64 {
	a, b := r.Clearances((r.StartAt + r.FinishAt) / 2)
	if left {
		return a
	}
	return b
}

func toSegment(p, a, b orb.Point) float64 {
	gx, gy := b[0]-a[0], b[1]-a[1]
	l2 := gx*gx + gy*gy
	t := 0.0
	if l2 > 0 {
		t = max(0, min(1, ((p[0]-a[0])*gx+(p[1]-a[1])*gy)/l2))
	}
	return math.Hypot(p[0]-a[0]-t*gx, p[1]-a[1]-t*gy)
}

func TestLineKeepsItsClearanceFromTheDrawnEdges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// One turn only, so that no other part of the course comes near.
		pts, sp := streets(t), drawnStreet(t)
		pts = pts[:min(3, len(pts))]
		r, err := road.Build(flat(pts...), sp)
		if err != nil {
			t.Fatal(err)
		}
		l, err := taut.Solve(r)
		if err != nil {
			t.Fatal(err)
		}
		if d := outside(r, l.Points); d > 0.01 {
			t.Fatalf("%.4f m into the clearance", d)
		}
	})
}

// The chainages of the line never go back, and it starts and ends on its lines.
func TestLineRunsFromStartToFinish(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pts, sp := streets(t), drawnStreet(t)
		c := flat(pts...)
		sp.StartAt = rapid.Float64Range(0, c.Length()/2-1).Draw(t, "start")
		sp.FinishAt = rapid.Float64Range(c.Length()/2+1, c.Length()).Draw(t, "finish")
		r, err := road.Build(c, sp)
		if err != nil {
			t.Fatal(err)
		}
		l, err := taut.Solve(r)
		if err != nil {
			t.Fatal(err)
		}
		if l.At[0] != r.StartAt || l.At[len(l.At)-1] != r.FinishAt {
			t.Fatalf("from %.3f to %.3f m, want %.3f to %.3f m", l.At[0], l.At[len(l.At)-1], r.StartAt, r.FinishAt)
		}
		for i := 1; i < len(l.At); i++ {
			if l.At[i] < l.At[i-1] || l.Along[i] < l.Along[i-1] {
				t.Fatalf("point %d goes back", i)
			}
		}
		for _, e := range []struct {
			p  orb.Point
			at float64
		}{{l.Points[0], r.StartAt}, {l.Points[len(l.Points)-1], r.FinishAt}} {
			q, h := c.At(e.at), c.Heading(e.at)
			if d := math.Abs((e.p[0]-q[0])*math.Cos(h) + (e.p[1]-q[1])*math.Sin(h)); d > 1e-3 {
				t.Fatalf("%.4f m off the line across the road at %.3f m", d, e.at)
			}
		}
	})
}

func FuzzBuildAndSolve(f *testing.F) {
	f.Add([]byte{10, 0, 10, 20, 0, 20, 10, 0}, 8.0, 5.0, 0.3)
	f.Add([]byte{100, 0, 101, 14, 100, 128, 3, 3, 3, 200, 7}, 8.0, 5.0, 0.3)
	f.Add([]byte{1, 1, 1, 100, 1, 160, 1, 30, 1, 99, 1, 200}, 20.0, 9.0, 0.1)
	f.Add([]byte{50, 128, 50, 128, 50, 128}, 3.0, 0.0, 1.4)
	f.Add([]byte("\n\x14\x00\x14\x00\x00\x00\x01WWWWWWWWWWUWWWWWWWWWWu"), 30.14285714285714, 77.0, 6.025)
	f.Fuzz(func(t *testing.T, legs []byte, width, radius, clear float64) {
		if len(legs) > 400 {
			return
		}
		p, h := orb.Point{0, 0}, 0.0
		pts := []orb.Point{p}
		for i := 0; i+1 < len(legs); i += 2 {
			d := 0.02 + math.Pow(float64(legs[i])/16, 2)
			p = orb.Point{p[0] + d*math.Cos(h), p[1] + d*math.Sin(h)}
			pts = append(pts, p)
			h += float64(int8(legs[i+1])) * math.Pi / 128
		}
		if len(pts) < 2 {
			return
		}
		sp := street(width, radius, clear)
		c := flat(pts...)
		r, err := road.Build(c, sp)
		if err != nil {
			return
		}
		l, err := taut.Solve(r)
		if err != nil {
			t.Fatal(err)
		}
		if math.IsNaN(l.Length) || math.IsInf(l.Length, 0) || l.Length < 0 {
			t.Fatalf("length %g", l.Length)
		}
		for i, q := range l.Points {
			if math.IsNaN(q[0] + q[1] + l.Along[i] + l.At[i]) {
				t.Fatalf("point %d is %v", i, q)
			}
		}
		// Squeezed through a tangle the line may be longer than the drawing,
		// by no more than the road is wide and rounded at every vertex.
		if most := l.Centreline + 2*float64(len(pts))*(width+radius+clear+1); l.Length > most*(1+earth.Flattening) {
			t.Fatalf("length %.2f m of a course of %.2f m", l.Length, l.Centreline)
		}
	})
}
