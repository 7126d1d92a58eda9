package simulate

import (
	"fmt"
	"math"
	"sort"

	"github.com/paulmach/orb"
)

// Turn is a turn of the reference line: its window along the line in metres
// from the start, and the angle it turns through, left positive.
type Turn struct {
	From, To float64
	Angle    float64
}

// Reference is the line that a perfect runner would take and the road around
// it.
type Reference struct {
	// Line is the shortest legal line from the start to the finish, in metres,
	// with its arcs sampled (a metre or closer, so that no vertex turns by
	// much unless the line really has a corner there).
	Line orb.LineString
	// Turns in order along the line; windows may touch but not overlap.
	Turns []Turn
	// Limits says how far the permitted road reaches to the left and to the
	// right of the line at a distance along it; both at least 0. Nil means no
	// limit.
	Limits func(along float64) (left, right float64)
	// Height of the road above the ellipsoid at a distance along the line; nil
	// for none.
	Height func(along float64) float64
}

// spacing of stations and of the truth path, metres.
const spacing = 0.25

// fanStep is the greatest turn between neighbouring stations at a vertex; a
// sharper vertex gets a fan of normals.
const fanStep = 10 * math.Pi / 180

// station is a place on the reference line with the direction across it.
type station struct {
	at    orb.Point
	left  orb.Point // unit normal to the left
	along float64   // m; below 0 before the start, beyond the length after the finish
}

func (s station) offset(u float64) orb.Point {
	return orb.Point{s.at[0] + u*s.left[0], s.at[1] + u*s.left[1]}
}

// forward is the direction of travel.
func (s station) forward() orb.Point { return orb.Point{s.left[1], -s.left[0]} }

// check refuses a reference that cannot be run, and measures its line.
func (r Reference) check() (length float64, err error) {
	if len(r.Line) < 2 {
		return 0, fmt.Errorf("the reference line has %d points", len(r.Line))
	}
	for i, p := range r.Line {
		if bad(p[0]) || bad(p[1]) {
			return 0, fmt.Errorf("point %d of the reference line is not finite", i+1)
		}
	}
	if length = lengthOf(r.Line); length < 1 {
		return 0, fmt.Errorf("the reference line is only %.2f m long", length)
	}
	last := 0.0
	for i, t := range r.Turns {
		if bad(t.From) || bad(t.To) || bad(t.Angle) || t.From < last || t.To <= t.From || t.To > length+1e-6 {
			return 0, fmt.Errorf("turn %d from %.2f m to %.2f m does not lie behind its predecessor on a line of %.2f m", i+1, t.From, t.To, length)
		}
		last = t.To
	}
	return length, nil
}

func bad(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }

func distance(a, b orb.Point) float64 { return math.Hypot(b[0]-a[0], b[1]-a[1]) }

func dot(a, b orb.Point) float64 { return a[0]*b[0] + a[1]*b[1] }

func minus(a, b orb.Point) orb.Point { return orb.Point{a[0] - b[0], a[1] - b[1]} }

// angle is the turn from direction a to direction b, radians, left positive.
func angle(a, b orb.Point) float64 { return math.Atan2(a[0]*b[1]-a[1]*b[0], dot(a, b)) }

func lengthOf(line orb.LineString) float64 {
	sum := 0.0
	for i := 1; i < len(line); i++ {
		sum += distance(line[i-1], line[i])
	}
	return sum
}

// split gives the two coordinates of a line's points, for at.
func split(line orb.LineString) (xs, ys []float64) {
	xs, ys = make([]float64, len(line)), make([]float64, len(line))
	for k, p := range line {
		xs[k], ys[k] = p[0], p[1]
	}
	return xs, ys
}

// stations samples the line and its straight continuation before the start and
// beyond the finish.
func (r Reference) stations(before, after float64) []station {
	own := make(orb.LineString, 0, len(r.Line))
	for _, p := range r.Line {
		if len(own) == 0 || distance(own[len(own)-1], p) > 1e-6 {
			own = append(own, p)
		}
	}
	var line orb.LineString
	if before > 0 {
		line = append(line, beyond(own[1], own[0], before))
	}
	line = append(line, own...)
	if n := len(own); after > 0 {
		line = append(line, beyond(own[n-2], own[n-1], after))
	}

	var out []station
	along := -before
	for i := 0; i+1 < len(line); i++ {
		a, b := line[i], line[i+1]
		d := distance(a, b)
		heading := math.Atan2(b[1]-a[1], b[0]-a[0])
		steps := int(math.Ceil(d / spacing))
		for k := range steps + 1 {
			if k == 0 && i > 0 {
				continue // the vertex has its stations already
			}
			f := float64(k) / float64(steps)
			here := station{orb.Point{a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])}, normal(heading), along + f*d}
			if k < steps || i+2 == len(line) {
				out = append(out, here)
				continue
			}
			c := line[i+2]
			turn := math.Remainder(math.Atan2(c[1]-b[1], c[0]-b[0])-heading, 2*math.Pi)
			if whole := r.angleAt(here.along); math.Abs(turn) > 0.6*math.Pi && math.Abs(whole) > 0.8*math.Pi && turn*whole < 0 {
				turn -= math.Copysign(2*math.Pi, turn) // a turn on the spot goes the way its turn says
			}
			fan := int(math.Ceil(math.Abs(turn)/fanStep)) + 1
			for j := range fan {
				here.left = normal(heading + turn*(float64(j)+0.5)/float64(fan))
				out = append(out, here)
			}
		}
		along += d
	}
	return out
}

// angleAt is the angle of the turn that holds a place, 0 outside turns.
func (r Reference) angleAt(along float64) float64 {
	for _, t := range r.Turns {
		if t.From <= along && along <= t.To {
			return t.Angle
		}
	}
	return 0
}

func beyond(from, to orb.Point, by float64) orb.Point {
	d := distance(from, to)
	return orb.Point{to[0] + by*(to[0]-from[0])/d, to[1] + by*(to[1]-from[1])/d}
}

func normal(heading float64) orb.Point {
	sin, cos := math.Sincos(heading)
	return orb.Point{-sin, cos}
}

// bend is the part of a turn's window where the line really curves.
type bend struct {
	entry, apex, exit float64 // m along: 10 %, half and 90 % of the turning done
	angle             float64 // rad, left positive
	outside           float64 // +1 when the outside lies to the left
}

func bendOf(stations []station, t Turn) bend {
	i := sort.Search(len(stations), func(i int) bool { return stations[i].along >= t.From })
	j := sort.Search(len(stations), func(i int) bool { return stations[i].along > t.To })
	turned := make([]float64, 0, max(j-i, 1))
	sum := 0.0
	for k := i; k < j; k++ {
		if k > i {
			sum += angle(stations[k-1].left, stations[k].left)
		}
		turned = append(turned, sum)
	}
	b := bend{angle: t.Angle, outside: -math.Copysign(1, t.Angle)}
	if math.Abs(sum) < 0.01 {
		b.apex = (t.From + t.To) / 2
		b.entry, b.exit = b.apex, b.apex
		return b
	}
	share := func(f float64) float64 {
		for k, v := range turned {
			if v/sum >= f {
				return stations[i+k].along
			}
		}
		return t.To
	}
	b.entry, b.apex, b.exit = share(0.1), share(0.5), share(0.9)
	return b
}
