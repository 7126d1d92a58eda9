package taut

import (
	"math"
	"sort"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/road"
)

// What counts as a turn. A corner or bend counts from sharpTurn; one that
// takes longer than longBend from longTurn, because a road that swings by
// less over such a length is felt as straight. Vertices that turn the same
// way belong to one turn when they are within oneCorner of each other, or,
// each turning by less than bendStep, within oneBend. Common practice among
// course describers gives no figures; these are ours.
const (
	sharpTurn = 18 * math.Pi / 180
	longTurn  = 30 * math.Pi / 180
	longBend  = 200.0
	oneCorner = 12.0
	oneBend   = 60.0
	bendStep  = 30 * math.Pi / 180
	// look is how far in metres before and after a turn the course's heading
	// is taken.
	look = 15.0
)

// bend is a turn of the course: from where to where, and by how much.
type bend struct {
	from, to float64
	angle    float64
}

func sub(a, b orb.Point) orb.Point { return orb.Point{a[0] - b[0], a[1] - b[1]} }

// angle is the turn from direction u to direction v, radians, left positive.
func angle(u, v orb.Point) float64 {
	return math.Atan2(u[0]*v[1]-u[1]*v[0], u[0]*v[0]+u[1]*v[1])
}

// wobble estimates by how many metres the drawing's points scatter about the
// road, from how far each point lies off the line of its two neighbours. A
// drawing with too few close points has none.
func wobble(c *course.Course) float64 {
	var off []float64
	for i := 1; i+1 < len(c.Points); i++ {
		a, b := sub(c.Points[i], c.Points[i-1]), sub(c.Points[i+1], c.Points[i-1])
		lb := math.Hypot(b[0], b[1])
		if lb > 30 || lb < 1e-6 || c.Chainage[i+1]-c.Chainage[i-1] > 30 {
			continue
		}
		off = append(off, math.Abs(a[0]*b[1]-a[1]*b[0])/lb)
	}
	if len(off) < 30 {
		return 0
	}
	sort.Float64s(off)
	// For independent errors of deviation σ the offset has deviation
	// σ·sqrt(1.5), and its median is 0.6745 of that.
	return off[len(off)/2] / (0.6745 * math.Sqrt(1.5))
}

// calm takes the scatter out of a recorded drawing by averaging its points
// over some metres, and gives the tolerance that what is left needs. A drawing
// without scatter stays as it is. Chainages stay those of the drawing.
func calm(c *course.Course, backs []road.TurnBack) (*course.Course, float64) {
	const least = 0.3 // m
	sigma := wobble(c)
	if sigma < 0.1 {
		return c, math.Max(least, 4*sigma)
	}
	half := math.Min(25, 14*sigma)
	out := &course.Course{Name: c.Name, Plane: c.Plane, Chainage: c.Chainage, Points: make(orb.LineString, len(c.Points))}
	lo, hi, k := 0, 0, 0
	var sum orb.Point
	count := 0.0
	for i := range c.Points {
		at := c.Chainage[i]
		for k < len(backs) && backs[k].At <= at {
			k++
		}
		// The same length on both sides, none of it beyond an end or a
		// turn-around, so that ends and corners stay where they are. Neither end
		// of what is averaged ever moves back.
		w := math.Min(half, math.Min(at, c.Length()-at))
		if k > 0 {
			w = math.Min(w, at-backs[k-1].At)
		}
		if k < len(backs) {
			w = math.Min(w, backs[k].At-at)
		}
		for hi < len(c.Points) && c.Chainage[hi] <= at+w+1e-9 {
			sum[0], sum[1], count = sum[0]+c.Points[hi][0], sum[1]+c.Points[hi][1], count+1
			hi++
		}
		for lo < i && c.Chainage[lo] < at-w-1e-9 {
			sum[0], sum[1], count = sum[0]-c.Points[lo][0], sum[1]-c.Points[lo][1], count-1
			lo++
		}
		out.Points[i] = orb.Point{sum[0] / count, sum[1] / count}
	}
	// Near the ends less is averaged: the tolerance is for the middle, with
	// room for them.
	per := float64(len(c.Points)) * 2 * half / c.Length()
	return out, math.Max(least, 6*sigma/math.Sqrt(math.Max(1, per)))
}

// thin keeps the vertices of a polyline that are needed to stay within tol of
// it, in one pass: from each kept vertex it goes on as long as some direction
// passes all points within tol.
func thin(c *course.Course, from, to int, tol float64) []int {
	keep := []int{from}
	anchor := from
	for anchor < to {
		lo, hi := math.Inf(-1), math.Inf(1)
		var base orb.Point
		has := false
		j := anchor + 1
		far := 0.0
		for ; j <= to; j++ {
			d := sub(c.Points[j], c.Points[anchor])
			l := math.Hypot(d[0], d[1])
			if l < far-2*tol {
				break // it turns back
			}
			far = math.Max(far, l)
			if l <= tol {
				continue
			}
			if !has {
				base, has = d, true
			}
			a := angle(base, d)
			if a < lo || a > hi {
				break
			}
			w := math.Asin(tol / l)
			lo, hi = math.Max(lo, a-w), math.Min(hi, a+w)
		}
		next := max(anchor+1, j-1)
		if j > to {
			next = to
		}
		keep = append(keep, next)
		anchor = next
	}
	return keep
}

// bends finds the turns of a course between the start and the finish line.
func bends(r *road.Road) []bend {
	backs := r.TurnBacks()
	c, tol := calm(r.Course, backs)
	var out []bend
	from := 0
	// Between turn-arounds the heading is continuous.
	for k := 0; k <= len(backs); k++ {
		to := len(c.Points) - 1
		if k < len(backs) {
			to = sort.SearchFloat64s(c.Chainage, backs[k].At-1e-6)
			to = min(to, len(c.Points)-1)
		}
		if to > from {
			out = append(out, bendsIn(c, from, to, tol)...)
		}
		if k < len(backs) {
			a := math.Pi
			if backs[k].Clockwise {
				a = -a
			}
			out = append(out, bend{backs[k].At, backs[k].At, a})
		}
		from = to
	}
	kept := out[:0]
	for _, b := range out {
		if b.to >= r.StartAt && b.from <= r.FinishAt {
			kept = append(kept, b)
		}
	}
	return kept
}

// bendsIn finds the bends of a course between two of its points, with no
// turn-around between them.
func bendsIn(c *course.Course, from, to int, tol float64) []bend {
	keep := thin(c, from, to, tol)
	type corner struct {
		i   int
		ang float64
	}
	var cs []corner
	for k := 1; k+1 < len(keep); k++ {
		u := sub(c.Points[keep[k]], c.Points[keep[k-1]])
		v := sub(c.Points[keep[k+1]], c.Points[keep[k]])
		if a := angle(u, v); math.Abs(a) > 1e-3 {
			cs = append(cs, corner{keep[k], a})
		}
	}
	var out []bend
	for k := 0; k < len(cs); {
		j := k
		sum := cs[k].ang
		for j+1 < len(cs) {
			gap := c.Chainage[cs[j+1].i] - c.Chainage[cs[j].i]
			if cs[j+1].ang*cs[j].ang < 0 {
				break
			}
			gentle := math.Abs(cs[j].ang) < bendStep && math.Abs(cs[j+1].ang) < bendStep
			if gap > oneCorner && !(gentle && gap < oneBend) {
				break
			}
			j++
			sum += cs[j].ang
		}
		b := bend{c.Chainage[cs[k].i], c.Chainage[cs[j].i], sum}
		lo, hi := c.Chainage[from], c.Chainage[to]
		if len(out) > 0 {
			lo = (out[len(out)-1].to + b.from) / 2
		}
		if j+1 < len(cs) {
			hi = (b.to + c.Chainage[cs[j+1].i]) / 2
		}
		b = widen(c, b, from, to, lo, hi)
		if math.Abs(b.angle) >= sharpTurn && (b.to-b.from < longBend || math.Abs(b.angle) >= longTurn) {
			out = append(out, b)
		}
		k = j + 1
	}
	return out
}

// widen carries a bend on to where its curve begins and ends, and takes its
// angle between the headings before and after it.
func widen(c *course.Course, b bend, first, last int, lo, hi float64) bend {
	i := sort.SearchFloat64s(c.Chainage, b.from)
	j := sort.SearchFloat64s(c.Chainage, b.to)
	i, j = max(i, first+1), min(max(j, first+1), last-1)
	turnAt := func(k int) float64 {
		if k <= first || k >= last {
			return 0
		}
		return angle(sub(c.Points[k], c.Points[k-1]), sub(c.Points[k+1], c.Points[k]))
	}
	const faint = 0.5 * math.Pi / 180 // a vertex that turns less is straight
	for i-1 > first && c.Chainage[i-1] > lo && c.Chainage[i]-c.Chainage[i-1] < look && turnAt(i-1)*b.angle > 0 && math.Abs(turnAt(i-1)) > faint {
		i--
	}
	for j+1 < last && c.Chainage[j+1] < hi && c.Chainage[j+1]-c.Chainage[j] < look && turnAt(j+1)*b.angle > 0 && math.Abs(turnAt(j+1)) > faint {
		j++
	}
	b.from, b.to = c.Chainage[i], c.Chainage[j]
	p0, p1 := c.At(math.Max(lo, math.Max(c.Chainage[first], b.from-look))), c.At(b.from)
	q0, q1 := c.At(b.to), c.At(math.Min(hi, math.Min(c.Chainage[last], b.to+look)))
	u, v := sub(p1, p0), sub(q1, q0)
	if math.Hypot(u[0], u[1]) < 0.5 || math.Hypot(v[0], v[1]) < 0.5 {
		return b
	}
	// The whole turns are known from the sum of the vertices.
	a := angle(u, v)
	b.angle = a + 2*math.Pi*math.Round((b.angle-a)/(2*math.Pi))
	return b
}

// turns lists the turns of the course as they lie on the line.
func turns(r *road.Road, l *Line) []Turn {
	bs := bends(r)
	var out []Turn
	for i, b := range bs {
		// The road's edge turns as far before and after as the corner's inner
		// side reaches.
		left, right := r.Lateral((b.from + b.to) / 2)
		inner := left
		if b.angle < 0 {
			inner = -right
		}
		arm := math.Max(1, inner+r.CornerRadius((b.from+b.to)/2))*math.Tan(math.Min(math.Abs(b.angle), 2*math.Pi/3)/2) + 1
		lo, hi := r.StartAt, r.FinishAt
		if i > 0 {
			lo = math.Max(lo, (bs[i-1].to+b.from)/2)
		}
		if i+1 < len(bs) {
			hi = math.Min(hi, (b.to+bs[i+1].from)/2)
		}
		from, to := math.Max(lo, b.from-arm), math.Min(hi, b.to+arm)
		if to <= from {
			continue
		}
		t := Turn{Number: len(out) + 1, From: l.AlongAt(from), To: l.AlongAt(to), CourseAt: (b.from + b.to) / 2, Angle: b.angle, Side: Left}
		if b.angle < 0 {
			t.Side = Right
		}
		t.CourseAt = math.Max(r.StartAt, math.Min(r.FinishAt, t.CourseAt))
		t.At = (t.From + t.To) / 2
		t.Radius = (t.To - t.From) / math.Abs(t.Angle)
		t.Apex = apex(r.Course, l, b, from, to)
		out = append(out, t)
	}
	return out
}

// apex is the point of the line between two chainages that lies farthest to
// the outside of the turn's middle: where the line is nearest to the corner
// that it rounds.
func apex(c *course.Course, l *Line, b bend, from, to float64) orb.Point {
	u := sub(c.At(b.from), c.At(b.from-2))
	v := sub(c.At(b.to+2), c.At(b.to))
	in := orb.Point{v[0] - u[0], v[1] - u[1]} // towards the inside
	if d := math.Hypot(in[0], in[1]); d < 1e-6 {
		in = orb.Point{-u[1], u[0]}
	}
	best := l.PointAt((l.AlongAt(from) + l.AlongAt(to)) / 2)
	low := in[0]*best[0] + in[1]*best[1]
	i := sort.SearchFloat64s(l.At, from)
	for ; i < len(l.At) && l.At[i] <= to; i++ {
		if x := in[0]*l.Points[i][0] + in[1]*l.Points[i][1]; x < low {
			low, best = x, l.Points[i]
		}
	}
	return best
}

// AlongAt gives how far along the line, in metres, a chainage of the drawn
// course is passed. Beyond the ends it gives 0 and the line's length.
func (l *Line) AlongAt(courseAt float64) float64 {
	i := sort.SearchFloat64s(l.At, courseAt)
	switch {
	case i == 0:
		return 0
	case i == len(l.At):
		return l.Length
	}
	a, b := l.At[i-1], l.At[i]
	if b <= a {
		return l.Along[i]
	}
	return l.Along[i-1] + (courseAt-a)/(b-a)*(l.Along[i]-l.Along[i-1])
}

// CourseAt gives the chainage of the drawn course at a distance along the line,
// in metres; beyond the ends that of the first and the last point.
func (l *Line) CourseAt(along float64) float64 {
	i := sort.SearchFloat64s(l.Along, along)
	switch {
	case i == 0:
		return l.At[0]
	case i == len(l.Along):
		return l.At[len(l.At)-1]
	}
	t := 0.0
	if d := l.Along[i] - l.Along[i-1]; d > 0 {
		t = (along - l.Along[i-1]) / d
	}
	return l.At[i-1] + t*(l.At[i]-l.At[i-1])
}

// PointAt gives the point of the line at a distance along it, in the course's
// plane; beyond the ends the first and the last point.
func (l *Line) PointAt(along float64) orb.Point {
	i := sort.SearchFloat64s(l.Along, along)
	switch {
	case i == 0:
		return l.Points[0]
	case i == len(l.Along):
		return l.Points[len(l.Points)-1]
	}
	t := (along - l.Along[i-1]) / (l.Along[i] - l.Along[i-1])
	a, b := l.Points[i-1], l.Points[i]
	return orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
}
