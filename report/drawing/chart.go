package drawing

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"tautline/report/lettering"
)

// Margins of drawings along the course, px. All share them, so that the same
// place lies at the same x in all of one width.
const (
	chartLeft  = 44.0
	chartRight = 12.0
)

// axis maps places along the course to px.
type axis struct{ from, k float64 }

func alongAxis(s *Scene, w float64) axis {
	return axis{0, (w - chartLeft - chartRight) / math.Max(1, s.Length)}
}

func (a axis) x(at float64) float64 { return chartLeft + (at-a.from)*a.k }

// openChart begins a drawing along the course.
func (p *pen) openChart(s *Scene, class string, w, h float64, title, desc string) axis {
	a := alongAxis(s, w)
	p.open(class+" along", w, h, title, desc, "data-x", num(chartLeft), "data-k", short(a.k, 7), "data-h", num(h))
	return a
}

func (p *pen) closeChart(h float64) template.HTML {
	p.raw(`<g class="cursor"><path class="cur" d="M0 0V`, num(h-18), `"/></g>`)
	return p.close()
}

// kilometres draws the axis along the course.
func (p *pen) kilometres(s *Scene, a axis, w, bottom float64) {
	p.line("rule", chartLeft, bottom, w-chartRight, bottom)
	step := s.Unit.Metres
	for _, m := range []float64{1, 2, 5, 10, 20, 50, 100} {
		step = m * s.Unit.Metres
		if step*a.k >= 34 {
			break
		}
	}
	for at := 0.0; at <= s.Length+0.5; at += step {
		x := a.x(at)
		p.line("rule", x, bottom, x, bottom+4)
		label := short(at/s.Unit.Metres, 1)
		if at == 0 {
			label += " " + s.Unit.Name
		}
		p.text("axis", x, bottom+14, label)
	}
}

// Profile draws the heights with the gradient as a hachure under the ground
// line, the turns and the marks.
func Profile(s *Scene, w, h float64) template.HTML {
	p := new(pen)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, g := range s.Ground {
		lo, hi = math.Min(lo, g.Height), math.Max(hi, g.Height)
	}
	if !(hi >= lo) {
		return ""
	}
	desc := fmt.Sprintf("Heights from %.0f to %.0f m.", lo, hi)
	a := p.openChart(s, "profile", w, h, "Height profile", desc)
	top, bottom := 18.0, h-20
	span := math.Max(20, hi-lo)
	mid := (hi + lo) / 2
	lo, hi = mid-span/2, mid+span/2
	y := func(v float64) float64 { return bottom - 10 - (v-lo)/(hi-lo)*(bottom-10-top) }
	step := roundBelow(span / 2.2)
	for v := math.Ceil(lo/step) * step; v <= hi; v += step {
		p.line("grid", chartLeft, y(v), w-chartRight, y(v))
		p.text("axis-left", chartLeft-5, y(v)+3.5, short(v, 0)+" m")
	}
	var line []xy
	for _, g := range s.Ground {
		line = append(line, xy{a.x(g.At), y(g.Height)})
	}
	line = simplify(line, 0.25)
	area := append([]xy{{line[0].x, bottom}}, line...)
	p.path("ground", append(area, xy{line[len(line)-1].x, bottom}), true)
	var marks [][4]float64
	for x := chartLeft + 3; x < w-chartRight-2; x += 5 {
		at := (x - chartLeft) / a.k
		g := s.GradientAt(at)
		if !(math.Abs(g) >= 0.005) {
			continue
		}
		l := 2 + 9*math.Min(1, math.Abs(g)/0.08)
		v := y(s.heightAt(at)) + 3
		if g > 0 {
			marks = append(marks, [4]float64{x, v, x - l/3, v + l})
		} else {
			marks = append(marks, [4]float64{x, v, x + l/3, v + l})
		}
	}
	p.strokes("hachure", marks)
	p.path("groundline", line, false)
	last := math.Inf(-1)
	for _, t := range s.Turns {
		if t.Rank == 0 {
			continue
		}
		x := a.x(t.At)
		p.line("lead", x, top-6, x, y(s.heightAt(t.At)))
		if x-last < 20 {
			x = last + 20
		}
		last = x
		p.disc("rank", x, top-8, 8)
		p.text("rank-figure small", x, top-4.2, fmt.Sprint(t.Rank))
	}
	p.kilometres(s, a, w, bottom)
	return p.closeChart(h)
}

func (s *Scene) heightAt(at float64) float64 {
	for i := 1; i < len(s.Ground); i++ {
		if s.Ground[i].At >= at {
			u, v := s.Ground[i-1], s.Ground[i]
			if v.At <= u.At {
				return v.Height
			}
			return u.Height + (at-u.At)/(v.At-u.At)*(v.Height-u.Height)
		}
	}
	if n := len(s.Ground); n > 0 {
		return s.Ground[n-1].Height
	}
	return math.NaN()
}

// Pace is a pace over a part of the course.
type Pace struct {
	From, To float64 // m along the course
	Pace     float64 // s/m
}

// Paces is one line of a pace drawing.
type Paces struct {
	Name  string
	Class string // "plan", "ran" or "even"
	Parts []Pace
}

// PaceChart draws paces along the course as steps, quicker up. label prints a
// pace.
func PaceChart(s *Scene, title string, lines []Paces, label func(float64) string, w, h float64) template.HTML {
	p := new(pen)
	lo, hi := math.Inf(1), math.Inf(-1)
	var names []string
	for _, l := range lines {
		names = append(names, l.Name)
		for _, q := range l.Parts {
			if q.Pace > 0 && !math.IsInf(q.Pace, 0) {
				lo, hi = math.Min(lo, q.Pace), math.Max(hi, q.Pace)
			}
		}
	}
	if !(hi >= lo) {
		return ""
	}
	a := p.openChart(s, "pace", w, h, title, fmt.Sprintf("%s, from %s to %s; quicker is higher.", strings.Join(names, " and "), label(lo), label(hi)))
	// The key takes as many rows as it needs.
	at := make([]xy, len(lines))
	next := xy{chartLeft, 9}
	for i, l := range lines {
		long := 27 + lettering.Width(l.Name, 11, false)
		if next.x > chartLeft && next.x+long > w {
			next = xy{chartLeft, next.y + 16}
		}
		at[i] = next
		next.x += long + 18
	}
	top, bottom := next.y+17, h-20
	room := math.Max(0.01, (hi-lo)*0.12)
	lo, hi = lo-room, hi+room
	y := func(v float64) float64 { return top + (v-lo)/(hi-lo)*(bottom-top) }
	for _, sec := range []float64{0.001, 0.002, 0.005, 0.01, 0.015, 0.02, 0.03, 0.06, 0.12, 0.3, 0.6} {
		if (hi-lo)/sec > 5 {
			continue
		}
		unit := s.Unit.Metres / 1000 // whole seconds per km or mile
		sec /= unit
		for v := math.Ceil(lo/sec) * sec; v <= hi; v += sec {
			p.line("grid", chartLeft, y(v), w-chartRight, y(v))
			text, _, _ := strings.Cut(label(v), "/")
			p.text("axis-left", chartLeft-5, y(v)+3.5, text)
		}
		break
	}
	for i, l := range lines {
		var run []xy
		last := math.NaN()
		flush := func() {
			p.path("pace-"+l.Class, run, false)
			run = nil
		}
		for _, q := range l.Parts {
			if !(q.Pace > 0) || math.IsInf(q.Pace, 0) {
				flush()
				continue
			}
			if q.From > last+1 {
				flush()
			}
			run = append(run, xy{a.x(q.From), y(q.Pace)}, xy{a.x(q.To), y(q.Pace)})
			last = q.To
		}
		flush()
		p.line("pace-"+l.Class, at[i].x, at[i].y, at[i].x+22, at[i].y)
		p.text("key", at[i].x+27, at[i].y+3.5, l.Name)
	}
	p.kilometres(s, a, w, bottom)
	return p.closeChart(h)
}
