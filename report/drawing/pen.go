// Package drawing draws courses and what was run on them as SVG: the strip
// map, the plan of a turn at true scale, the overview, the profile, pace
// against plan, and the watch ledger.
//
// Drawings carry classes instead of colours, so that one style sheet serves
// light, dark and paper (see Style). They use no identifiers of their own but
// the patterns of Defs, which a page holds once. Every text is cleaned and
// escaped here. Lengths are metres unless a name says px; a place along the
// course is metres along the shortest legal line from the start, a place
// across it is metres to the left of the drawn course.
//
// All functions are safe for concurrent use and change none of their
// arguments.
package drawing

import (
	"bytes"
	"html/template"
	"math"
	"strconv"
	"strings"

	"tautline/report/lettering"
	"tautline/report/text"
)

// pen writes elements of SVG in px.
type pen struct{ b bytes.Buffer }

// num prints a coordinate to a tenth of a px, as short as can be.
func num(v float64) string { return short(v, 1) }

func short(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		v = 0 // a drawing with a hole is better than one that does not load
	}
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}

func (p *pen) raw(parts ...string) {
	for _, s := range parts {
		p.b.WriteString(s)
	}
}

// open begins a drawing. title and desc are what a screen reader says.
func (p *pen) open(class string, w, h float64, title, desc string, attributes ...string) {
	role := "img"
	if class == "strip" || class == "overview" {
		role = "group" // these hold links, which an image would hide
	}
	p.raw(`<svg class="`, class, `" viewBox="0 0 `, num(w), " ", num(h), `" width="`, num(w), `" height="`, num(h), `" role="`, role, `"`)
	for i := 0; i+1 < len(attributes); i += 2 {
		p.raw(" ", attributes[i], `="`, lettering.Escape(attributes[i+1]), `"`)
	}
	p.raw(` aria-label="`, lettering.Escape(title+". "+desc), `"><title>`, lettering.Escape(title), "</title><desc>", lettering.Escape(desc), "</desc>\n")
}

func (p *pen) close() template.HTML {
	p.raw("</svg>\n")
	return template.HTML(p.b.String()) // every text in it went through lettering.Escape
}

func (p *pen) line(class string, x1, y1, x2, y2 float64) {
	p.raw(`<path class="`, class, `" d="M`, num(x1), " ", num(y1), "L", num(x2), " ", num(y2), "\"/>\n")
}

func (p *pen) box(class string, x, y, w, h float64) {
	p.raw(`<path class="`, class, `" d="M`, num(x), " ", num(y), "h", num(w), "v", num(h), "h", num(-w), "z\"/>\n")
}

func (p *pen) disc(class string, x, y, r float64) {
	p.raw(`<circle class="`, class, `" cx="`, num(x), `" cy="`, num(y), `" r="`, num(r), "\"/>\n")
}

// xy is a point of the drawing, px.
type xy struct{ x, y float64 }

// path draws a line through points; closed also fills it if its class does.
func (p *pen) path(class string, pts []xy, closed bool) {
	if len(pts) < 2 {
		return
	}
	p.raw(`<path class="`, class, `" d="`, trace(pts))
	if closed {
		p.raw("z")
	}
	p.raw("\"/>\n")
}

// trace is the path data of a line, in steps from point to point, which is
// shorter than places.
func trace(pts []xy) string {
	var d strings.Builder
	var x, y float64
	for i, q := range pts {
		// What is written is the rounded step, so that rounding does not add up.
		dx, dy := math.Round(10*(q.x-x))/10, math.Round(10*(q.y-y))/10
		switch {
		case i == 0:
			d.WriteString("M" + num(q.x) + " " + num(q.y))
			x, y = math.Round(10*q.x)/10, math.Round(10*q.y)/10
			continue
		case dx == 0 && dy == 0 && len(pts) > 2:
			continue
		case i == 1 || d.Len() == 0:
			d.WriteString("l")
		default:
			d.WriteString(" ")
		}
		d.WriteString(num(dx))
		if s := num(dy); strings.HasPrefix(s, "-") {
			d.WriteString(s)
		} else {
			d.WriteString(" " + s)
		}
		x, y = x+dx, y+dy
	}
	return d.String()
}

// strokes draws many separate lines of one class as one element.
func (p *pen) strokes(class string, ends [][4]float64) {
	if len(ends) == 0 {
		return
	}
	p.raw(`<path class="`, class, `" d="`)
	for _, e := range ends {
		p.raw("M", num(e[0]), " ", num(e[1]), "L", num(e[2]), " ", num(e[3]))
	}
	p.raw("\"/>\n")
}

// text writes a label. Its class gives size and anchor: see Style.
func (p *pen) text(class string, x, y float64, t string) {
	p.raw(`<text class="`, class, `" x="`, num(x), `" y="`, num(y), `">`, label(t), "</text>\n")
}

// label is a name from a file, cleaned and cut, as content.
func label(s string) string { return lettering.Escape(text.Clean(s)) }

// fit cuts a name so that it is no wider than room.
func fit(t string, size, room float64) string {
	return lettering.Fit(text.Clean(t), size, false, room)
}

// simplify drops points that lie within tolerance px of the line through the
// points kept (Douglas and Peucker), without recursion. Long lines are cut into
// pieces first, so that the worst case stays linear in the number of pieces.
func simplify(pts []xy, tolerance float64) []xy {
	const piece = 400
	if len(pts) <= 2 {
		return pts
	}
	var out []xy
	for i := 0; i < len(pts)-1; i += piece {
		part := pts[i:min(i+piece+1, len(pts))]
		keep := make([]bool, len(part))
		keep[0], keep[len(part)-1] = true, true
		todo := [][2]int{{0, len(part) - 1}}
		for len(todo) > 0 {
			a, b := todo[len(todo)-1][0], todo[len(todo)-1][1]
			todo = todo[:len(todo)-1]
			far, at := tolerance, -1
			for k := a + 1; k < b; k++ {
				if d := offLine(part[k], part[a], part[b]); d > far {
					far, at = d, k
				}
			}
			if at > 0 {
				keep[at] = true
				todo = append(todo, [2]int{a, at}, [2]int{at, b})
			}
		}
		for k, q := range part {
			if keep[k] && (k > 0 || i == 0) {
				out = append(out, q)
			}
		}
	}
	return out
}

// offLine is how far a point lies from the piece between two others.
func offLine(q, a, b xy) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	l := dx*dx + dy*dy
	if l == 0 {
		return math.Hypot(q.x-a.x, q.y-a.y)
	}
	t := math.Max(0, math.Min(1, ((q.x-a.x)*dx+(q.y-a.y)*dy)/l))
	return math.Hypot(q.x-a.x-t*dx, q.y-a.y-t*dy)
}

// apart moves places that are too near each other apart, in order, and keeps
// them within limits as far as there is room. half is half the room that each
// takes. It gives the new places.
func apart(at, half []float64, lo, hi float64) []float64 {
	out := append([]float64(nil), at...)
	n := len(out)
	for range 60 {
		moved := false
		for i := 1; i < n; i++ {
			if d := half[i-1] + half[i] - (out[i] - out[i-1]); d > 1e-6 {
				out[i-1] -= d / 2
				out[i] += d / 2
				moved = true
			}
		}
		for i := range out {
			out[i] = math.Max(lo+half[i], math.Min(hi-half[i], out[i]))
		}
		if !moved {
			break
		}
	}
	for i := n - 1; i > 0; i-- {
		out[i-1] = math.Min(out[i-1], out[i]-half[i]-half[i-1])
	}
	for i := 1; i < n; i++ {
		out[i] = math.Max(out[i], out[i-1]+half[i-1]+half[i])
	}
	return out
}
