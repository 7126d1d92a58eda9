package page

import (
	"math"
	"sort"

	"github.com/paulmach/orb"

	"tautline/geo/earth"
	"tautline/geo/heights"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/report/drawing"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// Place is a point of a runner's likely path: metres along the shortest legal
// line, and metres to the left of it with the 90 % band. Left is NaN where the
// record does not show the path.
type Place struct{ Along, Left, Low, High float64 }

// Fix is a fix of a record as the page shows it.
type Fix struct {
	At    earth.LatLon
	Along float64 // m along the shortest line, NaN off the course
	Time  float64 // s after the start line, NaN without times
}

// frame unrolls the road: it says where a point near the shortest line lies
// between the two edges.
type frame struct {
	r     *race.Race
	along []float64 // of the samples, m along the line
	p     []orb.Point
	n     []orb.Point // to the left of the line
	left  []orb.Point // ends of the portal there, clearance taken off
	right []orb.Point
	// Where those ends lie, m to the left of the drawn course.
	leftOff, rightOff []float64
	at                []float64 // chainage
}

// step is the distance between two samples of the line, m.
const step = 2.5

func newFrame(r *race.Race) *frame {
	f := &frame{r: r}
	line := r.Line
	add := func(s float64) {
		if n := len(f.along); n > 0 && s-f.along[n-1] < 0.05 {
			return
		}
		f.along = append(f.along, s)
	}
	for i, s := range line.Along {
		if i > 0 {
			n := math.Ceil((s - line.Along[i-1]) / step)
			for k := 1.0; k < n; k++ {
				add(line.Along[i-1] + (s-line.Along[i-1])*k/n)
			}
		}
		add(s)
	}
	for _, s := range f.along {
		p := line.PointAt(s)
		a, b := line.PointAt(s-0.5), line.PointAt(s+0.5)
		d := orb.Point{b[0] - a[0], b[1] - a[1]}
		if l := math.Hypot(d[0], d[1]); l > 0 {
			d = orb.Point{d[0] / l, d[1] / l}
		} else {
			h := r.Course.Heading(line.CourseAt(s))
			d = orb.Point{math.Cos(h), math.Sin(h)}
		}
		at := line.CourseAt(s)
		left, right := f.portal(p, at)
		leftOff, rightOff := r.Road.Lateral(at)
		fromLeft, fromRight := r.Road.Clearances(at)
		f.p, f.n = append(f.p, p), append(f.n, orb.Point{-d[1], d[0]})
		f.left, f.right = append(f.left, left), append(f.right, right)
		f.leftOff, f.rightOff = append(f.leftOff, leftOff-fromLeft), append(f.rightOff, rightOff+fromRight)
		f.at = append(f.at, at)
	}
	return f
}

// portal gives the cross-section through a point of the line, between the two
// portals of the road on either side of it.
func (f *frame) portal(p orb.Point, at float64) (left, right orb.Point) {
	ps := f.r.Road.Portals
	// How far before a portal the point lies; negative: behind it.
	before := func(q road.Portal) float64 {
		dx, dy := q.Left.P[0]-q.Right.P[0], q.Left.P[1]-q.Right.P[1]
		return (p[0]-q.Right.P[0])*-dy + (p[1]-q.Right.P[1])*dx
	}
	first := max(0, sort.Search(len(ps), func(i int) bool { return ps[i].At >= at-0.02 })-1)
	best, found := first, math.Inf(1)
	for j := first; j < len(ps) && (ps[j].At <= at+0.02 || j <= first+1); j++ {
		q := ps[j]
		l := math.Hypot(q.Left.P[0]-q.Right.P[0], q.Left.P[1]-q.Right.P[1])
		if l < 1e-6 {
			continue
		}
		// The nearest portal counts the one whose line runs nearest the point
		// and whose ends are not far off.
		d := math.Abs(before(q)) / l
		m := math.Hypot((q.Left.P[0]+q.Right.P[0])/2-p[0], (q.Left.P[1]+q.Right.P[1])/2-p[1])
		if d+math.Max(0, m-l) < found {
			best, found = j, d+math.Max(0, m-l)
		}
	}
	q := ps[best]
	return q.Left.P, q.Right.P
}

// lateral is where a point on the cross-section of sample i lies, in metres to
// the left of the drawn course; at corners, where cross-sections are longer
// than the road is wide, in proportion.
func (f *frame) lateral(i int, p orb.Point) float64 {
	l, e := f.left[i], f.right[i]
	dx, dy := l[0]-e[0], l[1]-e[1]
	len2 := dx*dx + dy*dy
	if len2 < 1e-9 {
		return (f.leftOff[i] + f.rightOff[i]) / 2
	}
	// Where a lane begins or ends the cross-sections jump.
	t := math.Max(0, math.Min(1, ((p[0]-e[0])*dx+(p[1]-e[1])*dy)/len2))
	return f.rightOff[i] + t*(f.leftOff[i]-f.rightOff[i])
}

// station is a sample of the line for the plan.
func (f *frame) station(i int) drawing.Station {
	return drawing.Station{At: f.along[i], X: f.p[i][0], Y: f.p[i][1], NX: f.n[i][0], NY: f.n[i][1]}
}

// sample gives the index of the sample nearest to a place.
func (f *frame) sample(along float64) int {
	i := sort.SearchFloat64s(f.along, along)
	if i == len(f.along) || i > 0 && along-f.along[i-1] < f.along[i]-along {
		i--
	}
	return i
}

// newScene lays a race out for drawing.
func newScene(r *race.Race, u quantity.Units, ground *heights.Profile, path []Place, fixes []Fix) *drawing.Scene {
	f := newFrame(r)
	s := &drawing.Scene{Name: r.Name, Length: r.Line.Length, Unit: drawing.Unit{Metres: u.Per(), Name: u.Name()}}
	var last drawing.Across
	for i, along := range f.along {
		at := f.at[i]
		l, e := r.Road.Lateral(at)
		kl, kr := r.Road.RoadLateral(at)
		left, right := r.Road.EdgeKinds(at)
		a := drawing.Across{At: along, KerbLeft: kl, KerbRight: kr, Left: l, Right: e, LeftKind: kind(left), RightKind: kind(right)}
		if i > 0 && !same(a, last) { // the road changes at a line across it
			b := last
			b.At = along - 1e-6
			s.Road = append(s.Road, b)
		}
		if i == 0 || i == len(f.along)-1 || !same(a, last) {
			s.Road = append(s.Road, a)
		}
		last = a
		s.Line = append(s.Line, drawing.Place{At: along, Left: f.lateral(i, f.p[i])})
		s.Plan.Line = append(s.Plan.Line, f.station(i))
	}
	for _, q := range path {
		if math.IsNaN(q.Left) || math.IsNaN(q.Along) {
			s.Path = append(s.Path, drawing.Swath{At: q.Along, Left: math.NaN(), Low: math.NaN(), High: math.NaN()})
			continue
		}
		i := f.sample(q.Along)
		n := f.n[i]
		across := func(d float64) float64 {
			return f.lateral(i, orb.Point{f.p[i][0] + d*n[0], f.p[i][1] + d*n[1]})
		}
		// Round the head of a turn the cross-section may lie the other way.
		x := drawing.Swath{At: q.Along, Left: across(q.Left)}
		low, high := across(q.Low), across(q.High)
		x.Low, x.High = min(low, high, x.Left), max(low, high, x.Left)
		s.Path = append(s.Path, x)
		p := r.Line.PointAt(q.Along)
		s.Plan.Path = append(s.Plan.Path, round(s.Plan.Path, q, p, n, r.Line.Turns)...)
		s.Plan.Path = append(s.Plan.Path, pathStation(q, p, n))
	}
	for _, q := range fixes {
		p := r.Course.Plane.To(q.At)
		s.Plan.Fixes = append(s.Plan.Fixes, drawing.Fix{X: p[0], Y: p[1], At: q.Along, T: q.Time})
	}
	for _, t := range r.Line.Turns {
		s.Turns = append(s.Turns, drawing.Turn{
			Number: t.Number, At: t.At, From: t.From, To: t.To, Angle: t.Angle * 180 / math.Pi, X: t.Apex[0], Y: t.Apex[1],
		})
	}
	s.Plan.Kerbs, s.Plan.Edges = f.kerbs()
	if ground != nil && ground.Known() {
		n := math.Max(2, math.Ceil(r.Line.Length/10))
		for k := 0.0; k <= n; k++ {
			along := r.Line.Length * k / n
			at := r.Line.CourseAt(along)
			s.Ground = append(s.Ground, drawing.Ground{At: along, Height: ground.Height(at), Gradient: ground.Gradient(at)})
		}
	}
	return s
}

func same(a, b drawing.Across) bool {
	a.At, b.At = 0, 0
	return a == b
}

func kind(k road.EdgeKind) string {
	switch k {
	case road.Cone:
		return "cone"
	case road.PaintedLine:
		return "line"
	case road.Free:
		return "free"
	}
	return "kerb"
}

// kerbs gives the road's kerbs in the plane, and the edges of the permitted
// part where they are something else.
func (f *frame) kerbs() (kerbs, edges [][]drawing.Point) {
	points := func(l orb.LineString) []drawing.Point {
		var out []drawing.Point
		for _, p := range l {
			out = append(out, drawing.Point{X: p[0], Y: p[1]})
		}
		return out
	}
	whole := f.r.Road.Spec
	restricted := whole.Part != road.AutoPart && whole.Part != road.Whole
	for _, t := range whole.Stretches {
		restricted = restricted || t.Part != road.AutoPart && t.Part != road.Whole || t.LaneLeft != nil || t.LaneRight != nil
	}
	outlines := func(r *road.Road) (out [][]drawing.Point) {
		for _, o := range r.Outlines() {
			out = append(out, points(o.Left), points(o.Right))
		}
		return out
	}
	own := outlines(f.r.Road)
	if !restricted {
		return own, nil
	}
	// The same road without restrictions has the kerbs.
	open := whole
	open.Part, open.Gates = road.Whole, nil
	open.Stretches = append([]road.Stretch(nil), whole.Stretches...)
	for i := range open.Stretches {
		t := &open.Stretches[i]
		t.Part, t.LaneLeft, t.LaneRight = road.AutoPart, nil, nil
		t.LeftEdge, t.RightEdge = road.AutoEdge, road.AutoEdge
	}
	r, err := road.Build(f.r.Course, open)
	if err != nil {
		return own, nil
	}
	kerbs = outlines(r)
	return kerbs, apartFrom(own, kerbs)
}

// apartFrom gives the parts of some lines that do not lie on others.
func apartFrom(lines, others [][]drawing.Point) [][]drawing.Point {
	const cell, near = 25.0, 0.08
	type segment struct{ a, b drawing.Point }
	grid := map[[2]int][]segment{}
	for _, l := range others {
		for i := 1; i < len(l); i++ {
			s := segment{l[i-1], l[i]}
			n := math.Ceil(math.Hypot(s.b.X-s.a.X, s.b.Y-s.a.Y)/cell) + 1
			last := [2]int{math.MaxInt, 0}
			for k := 0.0; k <= n; k++ {
				x, y := s.a.X+(s.b.X-s.a.X)*k/n, s.a.Y+(s.b.Y-s.a.Y)*k/n
				if c := [2]int{int(math.Floor(x / cell)), int(math.Floor(y / cell))}; c != last {
					grid[c] = append(grid[c], s)
					last = c
				}
			}
		}
	}
	on := func(p drawing.Point) bool {
		x, y := int(math.Floor(p.X/cell)), int(math.Floor(p.Y/cell))
		for dx := -1; dx <= 1; dx++ {
			for dy := -1; dy <= 1; dy++ {
				for _, s := range grid[[2]int{x + dx, y + dy}] {
					ux, uy := s.b.X-s.a.X, s.b.Y-s.a.Y
					t := 0.0
					if l := ux*ux + uy*uy; l > 0 {
						t = math.Max(0, math.Min(1, ((p.X-s.a.X)*ux+(p.Y-s.a.Y)*uy)/l))
					}
					if math.Hypot(p.X-s.a.X-t*ux, p.Y-s.a.Y-t*uy) < near {
						return true
					}
				}
			}
		}
		return false
	}
	var out [][]drawing.Point
	for _, l := range lines {
		var run []drawing.Point
		for i, p := range l {
			// A piece lies on a kerb when its middle does.
			if i > 0 {
				q := l[i-1]
				if on(drawing.Point{X: (p.X + q.X) / 2, Y: (p.Y + q.Y) / 2}) {
					if len(run) > 1 {
						out = append(out, run)
					}
					run = nil
				}
			}
			run = append(run, p)
		}
		if len(run) > 1 {
			out = append(out, run)
		}
	}
	return out
}

// pathStation is the likely path at a point of the line with this normal.
func pathStation(q Place, p, n orb.Point) drawing.Station {
	return drawing.Station{At: q.Along, X: p[0] + q.Left*n[0], Y: p[1] + q.Left*n[1], NX: n[0], NY: n[1], Low: q.Low - q.Left, High: q.High - q.Left}
}

// round gives the stations between the last one of a path and the next, where
// the line turns so sharply between them that a straight piece would cut the
// turn: the path goes round it as far outside as it was before.
func round(path []drawing.Station, q Place, p, n orb.Point, turns []taut.Turn) []drawing.Station {
	const (
		sharp = 0.3  // rad between two stations
		near  = 20.0 // m between two stations that belong together
	)
	if len(path) == 0 || math.IsNaN(path[len(path)-1].X) {
		return nil
	}
	a := path[len(path)-1]
	angle := math.Atan2(a.NX*n[1]-a.NY*n[0], a.NX*n[0]+a.NY*n[1])
	if math.Abs(angle) < sharp || q.Along-a.At > near {
		return nil
	}
	for _, t := range turns { // about half a turn the two ways round look alike
		if math.Abs(angle) > 2.4 && t.To > a.At-near && t.From < q.Along+near && angle*t.Angle < 0 {
			angle += math.Copysign(2*math.Pi, t.Angle)
			break
		}
	}
	left := a.NX*(a.X-p[0]) + a.NY*(a.Y-p[1]) // from the line
	from := orb.Point{a.X - left*a.NX, a.Y - left*a.NY}
	steps := int(math.Abs(angle)/sharp) + 1
	out := make([]drawing.Station, 0, steps)
	for k := 1; k < steps; k++ {
		f := float64(k) / float64(steps)
		sin, cos := math.Sincos(angle * f)
		m := orb.Point{a.NX*cos - a.NY*sin, a.NX*sin + a.NY*cos}
		at := orb.Point{from[0] + f*(p[0]-from[0]), from[1] + f*(p[1]-from[1])}
		mix := func(u, v float64) float64 { return u + f*(v-u) }
		off := mix(left, q.Left)
		out = append(out, pathStation(Place{Along: mix(a.At, q.Along), Left: off, Low: off + mix(a.Low, q.Low-q.Left), High: off + mix(a.High, q.High-q.Left)}, at, m))
	}
	return out
}
