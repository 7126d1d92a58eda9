package adjust

import (
	"math"

	"github.com/paulmach/orb"

	"tautline/geo/earth"
	"tautline/geo/taut"
)

// Changed is a piece where two lines part.
type Changed struct {
	From, To float64 // m along the line before
	Metres   float64 // by how much the course grew here
	Apart    float64 // greatest distance between the lines seen, m
	Turns    []int   // turns of the line before within the piece
	NewTurns []int   // turns of the line after
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

const (
	sampleStep = 2.0  // m between the places of the line before that are compared
	agreeing   = 30.0 // m of agreement that end a changed piece: lines that cross agree for a moment
	slip       = 0.05 // m by which the offset of two lines may wander where they agree, beyond the tolerance
)

// BeforeAfter finds where two lines part. tolerance 0 means Tolerance; lines
// of two different drawings of the same streets need a metre or more.
func BeforeAfter(before *taut.Line, planeBefore earth.Plane, after *taut.Line, planeAfter earth.Plane, tolerance float64) *Change {
	if !(tolerance > 0) {
		tolerance = Tolerance
	}
	c := &comparing{before: before, after: &taut.Line{Along: after.Along, Turns: after.Turns}, tolerance: tolerance}
	for _, p := range after.Points {
		c.after.Points = append(c.after.Points, planeBefore.To(planeAfter.From(p)))
	}
	out := &Change{Before: before.Length, After: after.Length, Metres: after.Length - before.Length}
	out.Pieces = c.pieces(c.lasting(c.agreements()))
	out.Elsewhere = out.Metres
	for _, p := range out.Pieces {
		out.Elsewhere -= p.Metres
	}
	return out
}

// comparing holds two lines in one plane while they are compared.
type comparing struct {
	before, after *taut.Line // after has points, places along it and turns only
	tolerance     float64
	at, apart     []float64 // samples of the line before, and how far away the line after is there, m
}

// agreement is a place at which the lines run together.
type agreement struct{ s, t float64 } // m along the line before and along the line after

// offset is how much longer the line after is up to here, m.
func (a agreement) offset() float64 { return a.t - a.s }

// wanders tells whether the lines have grown by different amounts between two
// places that agree.
func (c *comparing) wanders(a, b agreement) bool {
	return math.Abs(b.offset()-a.offset()) > c.tolerance+slip
}

// agreements samples the line before and gives the samples at which the line
// after runs along it, in order.
func (c *comparing) agreements() []agreement {
	grid := newGrid(c.after.Points, math.Max(20, 2*c.tolerance))
	end := c.before.Along[len(c.before.Along)-1]
	var same []agreement
	farthest := 0.0 // along the line after
	seg := 0
	for i := range int(math.Ceil(end/sampleStep)) + 1 {
		s := math.Min(end, float64(i)*sampleStep)
		for seg+2 < len(c.before.Along) && c.before.Along[seg+1] <= s {
			seg++
		}
		p, u := pointOn(c.before, seg, s)
		expected := s
		if len(same) > 0 {
			expected += same[len(same)-1].offset()
		}
		t, apart, ok := grid.match(c.after, p, u, expected, farthest-c.tolerance-1, c.tolerance)
		c.at, c.apart = append(c.at, s), append(c.apart, apart)
		if ok {
			same = append(same, agreement{s, t})
			farthest = math.Max(farthest, t)
		}
	}
	return same
}

// lasting drops runs of agreement that are too short to end a changed piece;
// those at the ends of the line stay.
func (c *comparing) lasting(same []agreement) []agreement {
	end := c.before.Along[len(c.before.Along)-1]
	var kept []agreement
	for i := 0; i < len(same); {
		j := i
		for j+1 < len(same) && same[j+1].s-same[j].s < 1.5*sampleStep && !c.wanders(same[j], same[j+1]) {
			j++
		}
		if same[j].s-same[i].s >= agreeing || i == 0 && same[i].s == 0 || same[j].s == end {
			kept = append(kept, same[i:j+1]...)
		}
		i = j + 1
	}
	return kept
}

// pieces gives what lies between the places that agree.
func (c *comparing) pieces(kept []agreement) []Changed {
	var all []Changed
	add := func(from, to agreement) {
		if to.s-from.s >= 1e-9 || math.Abs(to.t-from.t) >= 1e-9 {
			all = append(all, c.piece(from, to))
		}
	}
	last := agreement{} // both lines begin at 0
	for i, k := range kept {
		switch {
		case i == 0:
			if k.s >= 1e-9 || k.t >= c.tolerance+1e-9 {
				add(last, k)
			}
		case k.s-last.s > 1.5*sampleStep || c.wanders(last, k):
			add(last, k)
		}
		last = k
	}
	end := agreement{c.before.Along[len(c.before.Along)-1], c.after.Along[len(c.after.Along)-1]}
	if end.s-last.s > 1e-9 || end.t-last.t > c.tolerance+slip {
		add(last, end)
	}
	return all
}

// piece describes what changed between two places that agree.
func (c *comparing) piece(from, to agreement) Changed {
	p := Changed{From: from.s, To: to.s, Metres: to.offset() - from.offset(), Turns: turnsBetween(c.before, from.s, to.s), NewTurns: turnsBetween(c.after, from.t, to.t)}
	for i, s := range c.at {
		if s > from.s && s < to.s {
			p.Apart = math.Max(p.Apart, c.apart[i])
		}
	}
	return p
}

// turnsBetween numbers the turns between two places along a line.
func turnsBetween(l *taut.Line, from, to float64) []int {
	var n []int
	for _, t := range l.Turns {
		if t.At >= from && t.At <= to {
			n = append(n, t.Number)
		}
	}
	return n
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
