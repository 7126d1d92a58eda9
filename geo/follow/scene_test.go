package follow

import (
	"math"
	"math/rand/v2"

	"github.com/paulmach/orb"

	"tautline/geo/course"
)

// drawn makes a course of planar points.
func drawn(points ...orb.Point) *course.Course {
	c := &course.Course{}
	at := 0.0
	for i, p := range points {
		if i > 0 {
			d := math.Hypot(p[0]-points[i-1][0], p[1]-points[i-1][1])
			if d == 0 {
				continue
			}
			at += d
		}
		c.Points = append(c.Points, p)
		c.Chainage = append(c.Chainage, at)
		c.Heights = append(c.Heights, math.NaN())
	}
	return c
}

// every draws the same line with a point at least every step metres.
func every(step float64, points []orb.Point) []orb.Point {
	out := []orb.Point{points[0]}
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		n := max(1, int(math.Ceil(math.Hypot(b[0]-a[0], b[1]-a[1])/step)))
		for k := 1; k <= n; k++ {
			f := float64(k) / float64(n)
			out = append(out, orb.Point{a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])})
		}
	}
	return out
}

func repeat(times int, lap ...orb.Point) []orb.Point {
	out := []orb.Point{lap[0]}
	for range times {
		out = append(out, lap[1:]...)
	}
	return out
}

// recorder plays a runner with a watch: the place along the course is known,
// the place across the road and the position error wander.
type recorder struct {
	rng    *rand.Rand
	every  float64 // s between fixes
	noise  float64 // m per axis
	t      float64
	ex, ey float64
	across float64
	fixes  []Fix
	truth  []float64 // chainage, NaN off the course
}

func record(seed uint64, every, noise float64) *recorder {
	r := &recorder{rng: rand.New(rand.NewPCG(seed, 7)), every: every, noise: noise}
	r.ex, r.ey = noise*r.rng.NormFloat64(), noise*r.rng.NormFloat64()
	return r
}

func (r *recorder) wander(x *float64, sd, tau float64) {
	phi := math.Exp(-r.every / tau)
	*x = phi**x + sd*math.Sqrt(1-phi*phi)*r.rng.NormFloat64()
}

func (r *recorder) fix(p orb.Point, truth float64) {
	const errorTau, acrossTau = 20, 40
	r.wander(&r.ex, r.noise, errorTau)
	r.wander(&r.ey, r.noise, errorTau)
	r.wander(&r.across, 1.5, acrossTau)
	r.fixes = append(r.fixes, Fix{orb.Point{p[0] + r.ex, p[1] + r.ey}, r.t})
	r.truth = append(r.truth, truth)
	r.t += r.every
}

// along runs the course from one chainage to another at v m/s; backwards it
// is not a way along the course, so its truth is none unless told.
func (r *recorder) along(c *course.Course, from, to, v float64) *recorder {
	return r.onto(c, from, to, v, to >= from)
}

func (r *recorder) onto(c *course.Course, from, to, v float64, counts bool) *recorder {
	step := math.Copysign(v*r.every, to-from)
	n := int((to - from) / step)
	for k := range n {
		s := from + float64(k)*step
		p, h := c.At(s), c.Heading(s)
		p[0] -= r.across * math.Sin(h)
		p[1] += r.across * math.Cos(h)
		if !counts {
			r.fix(p, math.NaN())
		} else {
			r.fix(p, s)
		}
	}
	return r
}

// by runs an own way off the course.
func (r *recorder) by(v float64, way ...orb.Point) *recorder {
	c := drawn(way...)
	return r.onto(c, 0, c.Length(), v, false)
}

func (r *recorder) stand(c *course.Course, at, seconds float64, counts bool) *recorder {
	for t := 0.0; t < seconds; t += r.every {
		truth := at
		if !counts {
			truth = math.NaN()
		}
		r.fix(c.At(at), truth)
	}
	return r
}

// silent lets the signal be lost while the runner goes on.
func (r *recorder) silent(seconds float64) *recorder {
	r.t += seconds
	return r
}

// throw displaces the last n fixes by d metres in one direction.
func (r *recorder) throw(n int, d float64) *recorder {
	a := 2 * math.Pi * r.rng.Float64()
	for i := len(r.fixes) - n; i < len(r.fixes); i++ {
		r.fixes[i].P[0] += d * math.Cos(a)
		r.fixes[i].P[1] += d * math.Sin(a)
		r.truth[i] = math.NaN()
	}
	return r
}

// verdict compares a match with the truth.
type verdict struct {
	known   int     // fixes with a true chainage
	near    int     // of these, matched within the bound
	wrong   int     // of these, matched more than far away: another leg
	missed  int     // of these, not matched
	without int     // fixes off the course
	forced  int     // of these, matched all the same
	worst   float64 // m
}

func judge(m *Match, truth []float64, bound, far float64) verdict {
	var v verdict
	for i, s := range truth {
		got := m.At[i]
		if math.IsNaN(s) {
			v.without++
			if !math.IsNaN(got) {
				v.forced++
			}
			continue
		}
		v.known++
		if math.IsNaN(got) {
			v.missed++
			continue
		}
		e := math.Abs(got - s)
		v.worst = max(v.worst, e)
		if e <= bound {
			v.near++
		}
		if e > far {
			v.wrong++
		}
	}
	return v
}
