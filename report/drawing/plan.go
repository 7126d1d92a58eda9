package drawing

import (
	"fmt"
	"html/template"
	"math"

	"tautline/report/lettering"
)

// frame lays the plane into a drawing: north is up.
type frame struct {
	left, top, k float64 // px = left + (x - west) k
	west, north  float64
}

func (f frame) at(x, y float64) xy {
	return xy{f.left + (x-f.west)*f.k, f.top + (f.north-y)*f.k}
}

// bounds of the shortest line in the plane.
func (s *Scene) bounds() (west, south, east, north float64) {
	west, south, east, north = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, q := range s.Plan.Line {
		west, east = math.Min(west, q.X), math.Max(east, q.X)
		south, north = math.Min(south, q.Y), math.Max(north, q.Y)
	}
	if !(east >= west) {
		return 0, 0, 1, 1
	}
	return west, south, east, north
}

// Overview draws the whole course in a box of the given size, with the
// distance marks and the worst turns.
func Overview(s *Scene, w, h float64) template.HTML {
	p := new(pen)
	west, south, east, north := s.bounds()
	const margin = 24.0
	k := math.Min((w-2*margin)/math.Max(1, east-west), (h-2*margin-14)/math.Max(1, north-south))
	f := frame{west: west, north: north, k: k}
	f.left = (w - (east-west)*k) / 2
	f.top = (h - 14 - (north-south)*k) / 2
	p.open("overview", w, h, "Overview of the course", "The whole course with north up; the numbered discs are the turns to run better.",
		"data-left", num(f.left), "data-top", num(f.top), "data-west", short(west, 2), "data-north", short(north, 2), "data-k", short(k, 6))
	var line []xy
	for _, q := range s.Plan.Line {
		line = append(line, f.at(q.X, q.Y))
	}
	p.path("route-bed", simplify(line, 0.3), false)
	p.path("route", simplify(line, 0.3), false)
	for _, m := range s.Marks {
		if m.Kind != Distance {
			continue
		}
		q := s.stationAt(m.At)
		c := f.at(q.X, q.Y)
		p.strokes("tick", [][4]float64{{c.x + 4*q.NX, c.y - 4*q.NY, c.x - 4*q.NX, c.y + 4*q.NY}})
	}
	if n := len(line); n > 0 {
		p.disc("start", line[0].x, line[0].y, 4)
		p.text("start-name", clampText(line[0].x, w), line[0].y-8, "start")
		if math.Hypot(line[0].x-line[n-1].x, line[0].y-line[n-1].y) > 14 {
			p.disc("finish", line[n-1].x, line[n-1].y, 4)
			p.text("start-name", clampText(line[n-1].x, w), line[n-1].y-8, "finish")
		}
	}
	var used []xy
	for _, t := range s.Turns {
		if t.Rank == 0 {
			continue
		}
		c := f.at(t.X, t.Y)
		for _, u := range used { // two laps put two turns on the same spot
			if math.Hypot(u.x-c.x, u.y-c.y) < 20 {
				c.x += 21
			}
		}
		used = append(used, c)
		p.raw(fmt.Sprintf(`<a class="turn" href="#turn-%d" data-at="%s" aria-label="turn %d">`, t.Number, short(t.At, 1), t.Number))
		p.disc("rank", c.x, c.y, 9)
		p.text("rank-figure", c.x, c.y+4.5, fmt.Sprint(t.Rank))
		p.raw("</a>\n")
	}
	p.north(w-16, 22)
	p.bar(10, h-8, k, w/3)
	p.raw(`<path class="view" d=""/><circle class="here" r="4.5" cx="-20" cy="-20"/>`)
	return p.close()
}

// clampText keeps a centred short word inside the drawing.
func clampText(x, w float64) float64 { return math.Max(18, math.Min(w-18, x)) }

// north draws the arrow to the north.
func (p *pen) north(x, y float64) {
	p.path("north", []xy{{x, y - 12}, {x + 4.5, y + 6}, {x, y + 2}, {x - 4.5, y + 6}}, true)
	p.text("north-name", x, y+16, "N")
}

// bar draws a scale bar whose length is a round number of metres.
func (p *pen) bar(x, y, k, most float64) {
	m := roundBelow(most / k)
	half := m * k / 2
	p.box("bar-dark", x, y-4, half, 4)
	p.box("frame", x+half, y-4, half, 4)
	name := short(m, 1) + " m"
	if m >= 1000 {
		name = short(m/1000, 1) + " km"
	}
	p.text("bar-name", x+2*half+5, y, name)
}

// roundBelow is the largest of 1, 2, 5, 10, 20, 50 … not above v.
func roundBelow(v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return 1
	}
	e := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{5, 2} {
		if m*e <= v {
			return m * e
		}
	}
	return e
}

// stationAt is the shortest line in the plane at a place.
func (s *Scene) stationAt(at float64) Station {
	line := s.Plan.Line
	if len(line) == 0 {
		return Station{At: math.NaN()}
	}
	lo, hi := 0, len(line)-1
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; line[mid].At <= at {
			lo = mid
		} else {
			hi = mid
		}
	}
	a, b := line[lo], line[hi]
	t := 0.0
	if b.At > a.At {
		t = math.Max(0, math.Min(1, (at-a.At)/(b.At-a.At)))
	}
	a.At, a.X, a.Y = a.At+t*(b.At-a.At), a.X+t*(b.X-a.X), a.Y+t*(b.Y-a.Y)
	return a
}

// Plates are drawn at 1:500 when printed at full size.
const (
	plateScale = 500
	plateMM    = 84.0                        // side of a plate on paper
	plateSide  = plateMM * plateScale / 1000 // m of road
	platePx    = 320.0
)

// Plate draws the plan of a turn at true scale: kerbs, the shortest legal
// line, the likely path with its band, and the fixes.
func Plate(s *Scene, t Turn) template.HTML {
	p := new(pen)
	k := platePx / plateSide
	// The picture is about the whole turn, so its middle is between the apex
	// and the middle of the two ends.
	a, b := s.stationAt(t.From-6), s.stationAt(t.To+6)
	cx, cy := (t.X+(a.X+b.X)/2)/2, (t.Y+(a.Y+b.Y)/2)/2
	f := frame{west: cx - plateSide/2, north: cy + plateSide/2, k: k}
	title := fmt.Sprintf("Turn %d, %s", t.Number, side(t))
	desc := "Plan at true scale with kerbs and the shortest legal line."
	if len(s.Plan.Path) > 0 {
		desc = "Plan at true scale with kerbs, the shortest legal line, the likely path with its 90 % band, and the fixes of the record."
	}
	p.open("plate", platePx, platePx, title, desc)
	inside := func(x, y float64) bool {
		return math.Abs(x-cx) < plateSide*0.75 && math.Abs(y-cy) < plateSide*0.75
	}
	draw := func(class string, pts []Point) {
		var run []xy
		for i, q := range pts {
			near := inside(q.X, q.Y)
			if !near && i+1 < len(pts) {
				near = crosses(q, pts[i+1], cx, cy, plateSide*0.75)
			}
			if near || len(run) > 0 {
				run = append(run, f.at(q.X, q.Y))
			}
			if !near && len(run) > 0 {
				p.path(class, simplify(run, 0.1), false)
				run = nil
			}
		}
		p.path(class, simplify(run, 0.1), false)
	}
	// A course that passes here more than once shows only the passage of this
	// turn for line and path.
	window := func(line []Station) []Station {
		var out []Station
		for _, q := range line {
			if q.At > t.From-70 && q.At < t.To+70 {
				out = append(out, q)
			}
		}
		return out
	}
	for _, l := range s.Plan.Kerbs {
		draw("kerb", l)
	}
	for _, l := range s.Plan.Edges {
		draw("edge-cone", l)
	}
	shown := pieces(window(s.Plan.Path))
	for _, piece := range shown {
		var low, high []xy
		for _, q := range piece {
			low = append(low, f.at(q.X+q.NX*q.Low, q.Y+q.NY*q.Low))
			high = append(high, f.at(q.X+q.NX*q.High, q.Y+q.NY*q.High))
		}
		for i := len(high) - 1; i >= 0; i-- {
			low = append(low, high[i])
		}
		p.path("band", low, true)
	}
	for _, piece := range shown {
		draw("ran", points(piece))
	}
	draw("short", points(window(s.Plan.Line)))
	var dots [][4]float64
	for _, q := range s.Plan.Fixes {
		if inside(q.X, q.Y) && q.At > t.From-70 && q.At < t.To+70 {
			c := f.at(q.X, q.Y)
			dots = append(dots, [4]float64{c.x - 2.5, c.y, c.x + 2.5, c.y}, [4]float64{c.x, c.y - 2.5, c.x, c.y + 2.5})
		}
	}
	p.strokes("fix", dots)
	s.gap(p, f, t)
	p.north(platePx-16, 22)
	p.bar(10, platePx-9, k, 110)
	return p.close()
}

// Unshown is the distance between two points of the likely path, m, from which
// what lies between them is not drawn.
const Unshown = 120.0

// pieces parts a path where the record does not show it.
func pieces(path []Station) [][]Station {
	var out [][]Station
	for i, q := range path {
		if i == 0 || q.At-path[i-1].At > Unshown {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], q)
	}
	return out
}

func points(line []Station) []Point {
	out := make([]Point, 0, len(line))
	for _, q := range line {
		out = append(out, Point{q.X, q.Y})
	}
	return out
}

// crosses tells whether a piece may cross a square.
func crosses(a, b Point, cx, cy, half float64) bool {
	return math.Min(a.X, b.X) < cx+half && math.Max(a.X, b.X) > cx-half && math.Min(a.Y, b.Y) < cy+half && math.Max(a.Y, b.Y) > cy-half
}

// gap is the dimension line from the shortest line to the likely path at the
// apex.
func (s *Scene) gap(p *pen, f frame, t Turn) {
	// Round the head of a turn by half a circle the path passes the apex on
	// all sides, and the gap says nothing.
	if len(s.Plan.Path) == 0 || math.Abs(t.Angle) > 150 {
		return
	}
	best, found := Station{}, math.Inf(1)
	for _, q := range s.Plan.Path {
		if q.At < t.From-10 || q.At > t.To+10 {
			continue
		}
		if d := math.Hypot(q.X-t.X, q.Y-t.Y); d < found {
			best, found = q, d
		}
	}
	if !(found >= 0.3) || math.IsInf(found, 0) {
		return
	}
	p.dimension(f.at(t.X, t.Y), f.at(best.X, best.Y), fmt.Sprintf("%.1f m", found))
}

// dimension draws a dimension line between two points, its figure beside it.
func (p *pen) dimension(a, b xy, figure string) {
	dx, dy := b.x-a.x, b.y-a.y
	l := math.Hypot(dx, dy)
	if l < 1 {
		return
	}
	dx, dy = dx/l, dy/l
	head := func(q xy, sign float64) {
		p.path("dim", []xy{
			{q.x + sign*5*dx - 2.2*dy, q.y + sign*5*dy + 2.2*dx}, q, {q.x + sign*5*dx + 2.2*dy, q.y + sign*5*dy - 2.2*dx},
		}, false)
	}
	p.line("dim", a.x, a.y, b.x, b.y)
	if l > 12 {
		head(a, 1)
		head(b, -1)
	}
	// The figure stands beyond the far end, clear of both lines.
	w := lettering.Width(figure, 11, false)
	x, y := b.x+dx*(w/2+16), b.y+dy*22+4
	p.raw(`<text class="dim-figure" x="`, num(x), `" y="`, num(y), `">`, label(figure), "</text>\n")
}
