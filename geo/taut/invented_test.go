package taut_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/road"
	"tautline/geo/simulate"
	"tautline/geo/taut"
)

// shifted moves a drawing as a map may be wrong: alike over some distance,
// with a little of every point's own.
func shifted(line orb.LineString, sd, reach, own float64, rng *rand.Rand) []orb.Point {
	const waves = 30
	type wave struct{ kx, ky, ax, ay float64 }
	ws := make([]wave, waves)
	for i := range ws {
		ws[i] = wave{rng.NormFloat64() / reach, rng.NormFloat64() / reach, rng.Float64() * 7, rng.Float64() * 7}
	}
	out := make([]orb.Point, len(line))
	for i, p := range line {
		q := orb.Point{p[0] + own*rng.NormFloat64(), p[1] + own*rng.NormFloat64()}
		for _, w := range ws {
			a := w.kx*p[0] + w.ky*p[1]
			q[0] += sd * math.Sqrt(2.0/waves) * math.Cos(a+w.ax)
			q[1] += sd * math.Sqrt(2.0/waves) * math.Cos(a+w.ay)
		}
		out[i] = q
	}
	return out
}

// arranged is a race on an invented course: stretches of other widths, halves
// of the road, a gate, cones to turn round.
func arranged(c *course.Course, from simulate.Course, rng *rand.Rand) road.Spec {
	sp := road.Default()
	sp.Width, sp.CornerRadius = from.Width, from.CornerRadius
	length := c.Length()
	// Who turns to the left round a cone has kept to the right.
	half, clockwise := road.RightHalf, false
	if rng.IntN(4) == 0 {
		half, clockwise = road.LeftHalf, true
	}
	at := 0.0
	for at < length-60 {
		s := road.Stretch{From: at, To: math.Min(length, at+50+400*rng.Float64())}
		switch rng.IntN(4) {
		case 0:
			s.Width = 4.5 + 8*rng.Float64()
		case 1:
			s.Part = half
			s.LeftEdge = road.Cone
		}
		if s.Width != 0 || s.Part != road.AutoPart {
			sp.Stretches = append(sp.Stretches, s)
		}
		at = s.To
	}
	if rng.IntN(2) == 0 {
		sp.Gates = append(sp.Gates, road.Gate{At: length * (0.2 + 0.6*rng.Float64()), From: 2.2, To: -2.2})
	}
	drawn := flat(from.Line...) // the same points, elsewhere
	for _, b := range from.Turnbacks {
		i, f := drawn.Leg(b)
		k := road.TurnKind(rng.IntN(3))
		if k != road.AtPoint {
			x := c.Chainage[i] + f*(c.Chainage[i+1]-c.Chainage[i])
			sp.Turnarounds = append(sp.Turnarounds, road.Turnaround{At: x, Kind: k, Radius: float64(rng.IntN(2)) * rng.Float64(), Clockwise: clockwise})
		}
	}
	return sp
}

// widest is a row of lines across the drawing that the runner must cross,
// made without the road: square to the course, no nearer than 120 m to each
// other, far beyond the kerbs where the course bends nearby.
func widest(c *course.Course, width float64) []road.Portal {
	var ps []road.Portal
	for s := 0.0; s <= c.Length(); s += 120 {
		p, h := c.At(s), c.Heading(s)
		half := width/2 + 0.1
		a, b := c.At(math.Max(0, s-40)), c.At(math.Min(c.Length(), s+40))
		if toSegment(p, a, b) > 0.1 || size(minus(b, a)) < 39 {
			half += 20
		}
		n := orb.Point{-math.Sin(h) * half, math.Cos(h) * half}
		ps = append(ps, at(p[0]+n[0], p[1]+n[1], p[0]-n[0], p[1]-n[1]))
	}
	return ps
}

func TestStringIsTheShortestOnInventedCoursesDrawnWithErrors(t *testing.T) {
	const seed = 7
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 3))
	for _, kind := range simulate.Kinds() {
		for trial := range 24 {
			from := simulate.RandomCourse(kind, 600+4000*rng.Float64(), rng)
			own := 0.0
			if trial%4 == 3 {
				own = 0.3
			}
			c := flat(shifted(from.Line, rng.Float64()*2, 100, own, rng)...)
			sp := arranged(c, from, rng)
			r, err := road.Build(c, sp)
			if err != nil {
				t.Fatalf("%v %d: %v", kind, trial, err)
			}
			if err := certify(r.Portals); err != nil {
				t.Errorf("%v, trial %d: %v", kind, trial, err)
				continue
			}
			l, err := taut.Solve(r)
			if err != nil {
				t.Fatal(err)
			}
			widestRoad := sp.Width
			for _, s := range sp.Stretches {
				widestRoad = math.Max(widestRoad, s.Width)
			}
			low := brute(widest(c, widestRoad)) - 0.01
			if l.Length < low {
				t.Errorf("%v, trial %d: %.3f m, but %.3f m at least are needed to cross the course every 120 m", kind, trial, l.Length, low)
			}
			high := c.Length() + 15*float64(len(sp.Turnarounds)+1)
			for i := 1; i+1 < len(c.Points); i++ {
				u, v := minus(c.Points[i], c.Points[i-1]), minus(c.Points[i+1], c.Points[i])
				high += widestRoad / 2 * math.Abs(math.Atan2(outer(u, v), inner(u, v)))
			}
			if l.Length > high {
				t.Errorf("%v, trial %d: %.3f m on a course of %.3f m, at most %.3f m can be", kind, trial, l.Length, c.Length(), high)
			}
		}
	}
}
