package adjust

import (
	"math"

	"github.com/paulmach/orb"

	"tautline/geo/earth"
	"tautline/geo/taut"
)

// Changed is a piece where two lines part.
type Changed struct {
	From, To             float64 // m along the line before
	NewFrom, NewTo       float64 // m along the line after
	Metres               float64 // by how much the course grew here
	Apart                float64 // greatest distance between the lines seen, m
	Turns                []int   // turns of the line before within the piece
	NewTurns             []int
	FromAt, ToAt         earth.LatLon
	CourseFrom, CourseTo float64 // chainages of the drawing before
}

// Change is the difference between two courses, or between one course with two
// race sheets.
type Change struct {
	Before, After float64 // map lengths of the lines, m
	Metres        float64 // After - Before
	Pieces        []Changed
	// Elsewhere is what the pieces do not explain, from lines closer together
	// than the tolerance, m.
	Elsewhere float64
}

// Tolerance in metres below which two lines count as the same: the lines of
// one drawing agree to a millimetre where nothing changed.
const Tolerance = 0.1

// BeforeAfter finds where two lines part. tolerance 0 means Tolerance; lines
// of two different drawings of the same streets need a metre or more.
func BeforeAfter(before *taut.Line, planeBefore earth.Plane, after *taut.Line, planeAfter earth.Plane, tolerance float64) *Change {
	if !(tolerance > 0) {
		tolerance = Tolerance
	}
	out := &Change{Before: before.Length, After: after.Length, Metres: after.Length - before.Length}
	b := &taut.Line{Along: after.Along}
	for _, p := range after.Points {
		b.Points = append(b.Points, planeBefore.To(planeAfter.From(p)))
	}
	grid := newGrid(b.Points, math.Max(20, 2*tolerance))
	const (
		step = 2.0  // m between the places compared
		run  = 30.0 // m of agreement that end a changed piece
	)
	type pair struct{ s, t, apart float64 }
	var same []pair // places that agree, in order
	end := before.Along[len(before.Along)-1]
	lastT := 0.0
	n := int(math.Ceil(end / step))
	seg := 0
	apart := make([]float64, 0, n+1)
	at := make([]float64, 0, n+1)
	for i := 0; i <= n; i++ {
		s := math.Min(end, float64(i)*step)
		for seg+2 < len(before.Along) && before.Along[seg+1] <= s {
			seg++
		}
		p, u := pointOn(before, seg, s)
		offset := 0.0
		if len(same) > 0 {
			offset = same[len(same)-1].t - same[len(same)-1].s
		}
		t, d, ok := grid.match(b, p, u, s+offset, lastT-tolerance-1, tolerance)
		at, apart = append(at, s), append(apart, d)
		if ok {
			same = append(same, pair{s, t, d})
			lastT = math.Max(lastT, t)
		}
	}
	// Runs of agreement shorter than run between two changes do not count:
	// lines that cross agree for a moment.
	var kept []pair
	for i := 0; i < len(same); {
		j := i
		for j+1 < len(same) && same[j+1].s-same[j].s < 1.5*step && math.Abs((same[j+1].t-same[j+1].s)-(same[j].t-same[j].s)) < tolerance+0.05 {
			j++
		}
		if same[j].s-same[i].s >= run || i == 0 && same[i].s == 0 || same[j].s == end {
			kept = append(kept, same[i:j+1]...)
		}
		i = j + 1
	}
	newEnd := b.Along[len(b.Along)-1]
	add := func(s0, t0, s1, t1 float64) {
		if s1-s0 < 1e-9 && math.Abs(t1-t0) < 1e-9 {
			return
		}
		p := Changed{From: s0, To: s1, NewFrom: t0, NewTo: t1, Metres: (t1 - t0) - (s1 - s0)}
		for i := range at {
			if at[i] > s0 && at[i] < s1 {
				p.Apart = math.Max(p.Apart, apart[i])
			}
		}
		for _, t := range before.Turns {
			if t.At >= s0 && t.At <= s1 {
				p.Turns = append(p.Turns, t.Number)
			}
		}
		for _, t := range after.Turns {
			if t.At >= t0 && t.At <= t1 {
				p.NewTurns = append(p.NewTurns, t.Number)
			}
		}
		p.FromAt, p.ToAt = planeBefore.From(pointAt(before, s0)), planeBefore.From(pointAt(before, s1))
		p.CourseFrom, p.CourseTo = chainageAt(before, s0), chainageAt(before, s1)
		out.Pieces = append(out.Pieces, p)
	}
	last := pair{}
	for i, k := range kept {
		gap := k.s - last.s
		if i == 0 {
			gap = k.s + 2*step
			if k.s < 1e-9 && k.t < tolerance+1e-9 {
				gap = 0
			}
		}
		if gap > 1.5*step || i > 0 && math.Abs((k.t-k.s)-(last.t-last.s)) > tolerance+0.05 {
			add(last.s, last.t, k.s, k.t)
		}
		last = k
	}
	if end-last.s > 1e-9 || newEnd-last.t > tolerance+0.05 {
		add(last.s, last.t, end, newEnd)
	}
	out.Elsewhere = out.Metres
	for _, p := range out.Pieces {
		out.Elsewhere -= p.Metres
	}
	return out
}

// pointOn gives the point and the direction at s on the piece seg.
func pointOn(l *taut.Line, seg int, s float64) (p, u orb.Point) {
	a, b := l.Points[seg], l.Points[seg+1]
	t := 0.0
	if d := l.Along[seg+1] - l.Along[seg]; d > 0 {
		t = math.Max(0, math.Min(1, (s-l.Along[seg])/d))
	}
	dx, dy := b[0]-a[0], b[1]-a[1]
	if h := math.Hypot(dx, dy); h > 0 {
		u = orb.Point{dx / h, dy / h}
	}
	return orb.Point{a[0] + t*dx, a[1] + t*dy}, u
}

func pointAt(l *taut.Line, s float64) orb.Point {
	seg := 0
	for seg+2 < len(l.Along) && l.Along[seg+1] < s {
		seg++
	}
	p, _ := pointOn(l, seg, s)
	return p
}

func chainageAt(l *taut.Line, s float64) float64 {
	seg := 0
	for seg+2 < len(l.Along) && l.Along[seg+1] < s {
		seg++
	}
	t := 0.0
	if d := l.Along[seg+1] - l.Along[seg]; d > 0 {
		t = math.Max(0, math.Min(1, (s-l.Along[seg])/d))
	}
	return l.At[seg] + t*(l.At[seg+1]-l.At[seg])
}

// grid finds the pieces of a line near a point.
type grid struct {
	size  float64
	cells map[[2]int32][]int32
}

func newGrid(points orb.LineString, size float64) *grid {
	g := &grid{size: size, cells: map[[2]int32][]int32{}}
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		// Steps of half a cell reach every cell that the piece passes, or a
		// neighbour of it, and match looks at neighbours too.
		n := int(math.Hypot(b[0]-a[0], b[1]-a[1])/(size/2)) + 1
		var last [2]int32
		for k := 0; k <= n; k++ {
			t := float64(k) / float64(n)
			c := g.cell(orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])})
			if k == 0 || c != last {
				g.cells[c] = append(g.cells[c], int32(i-1))
			}
			last = c
		}
	}
	return g
}

func (g *grid) cell(p orb.Point) [2]int32 {
	return [2]int32{int32(math.Floor(p[0] / g.size)), int32(math.Floor(p[1] / g.size))}
}

// match finds the place of the line that agrees with p running along u,
// nearest to where it is expected; d is the distance of the nearest piece in
// that direction, whether it agrees or not.
func (g *grid) match(l *taut.Line, p, u orb.Point, expected, least, tolerance float64) (t, d float64, ok bool) {
	best := math.Inf(1)
	d = math.Inf(1)
	c := g.cell(p)
	for x := c[0] - 1; x <= c[0]+1; x++ {
		for y := c[1] - 1; y <= c[1]+1; y++ {
			for _, i := range g.cells[[2]int32{x, y}] {
				a, b := l.Points[i], l.Points[i+1]
				dx, dy := b[0]-a[0], b[1]-a[1]
				h := math.Hypot(dx, dy)
				// Within 30 degrees of the direction.
				if h == 0 || (dx*u[0]+dy*u[1])/h < 0.866 {
					continue
				}
				f := math.Max(0, math.Min(1, ((p[0]-a[0])*dx+(p[1]-a[1])*dy)/(h*h)))
				away := math.Hypot(p[0]-a[0]-f*dx, p[1]-a[1]-f*dy)
				d = math.Min(d, away)
				along := l.Along[i] + f*(l.Along[i+1]-l.Along[i])
				if away > tolerance || along < least {
					continue
				}
				if e := math.Abs(along - expected); e < best {
					best, t, ok = e, along, true
				}
			}
		}
	}
	if math.IsInf(d, 1) {
		d = g.size
	}
	return t, d, ok
}
