package band

import (
	"fmt"
	"math"

	"tautline/report/lettering"
	"tautline/report/text"
	"tautline/strategy/quantity"
)

// sheets draws each sheet of paper as the inside of an SVG element.
func (s *sheetPlan) sheets() []string {
	n := perSheet(s.o.Paper)
	count := (len(s.rows) + n - 1) / n
	each := (len(s.rows) + count - 1) / count
	var sheets []string
	for i := range count {
		rows := s.rows[i*each : min(len(s.rows), (i+1)*each)]
		sheets = append(sheets, s.sheet(rows, i+1, count))
	}
	return sheets
}

func (s *sheetPlan) sheet(rows []row, number, count int) string {
	var p pen
	p.raw(`<g fill="none" stroke="#000" stroke-linecap="butt">`)

	// Row height and figures: as large as the paper's height and the width
	// that is left for the band allow.
	high := clamp((usual-header-glue)/float64(len(rows)), rowLeast, rowMost)
	size := math.Min(mostSize, 0.8*high)
	var panel float64
	for {
		panel = math.Max(measure(s.front, s.rows, size, strip+gap), measure(s.back, s.rows, size, 0))
		if 2*panel <= likeBand || size <= leastSize {
			break
		}
		size = math.Max(leastSize, size-0.1)
	}
	panel = math.Min(math.Max(panel, 38), mostBand/2)
	fill(s.front, panel-strip-gap)
	fill(s.back, panel)
	length := math.Max(wrist, header+high*float64(len(rows))+glue)
	x, y, fold, right := left, top, left+panel, left+2*panel

	s.frame(&p)
	// Cut lines all round, the fold between front and back.
	p.box(x, y, 2*panel, length, solid)
	p.line(fold, y-4, fold, y+length+4, thin, "2 1.2")
	p.line(x-4, y, x-1.5, y, hair, "")
	p.line(x-4, y+length, x-1.5, y+length, hair, "")

	body := y + header
	end := body + high*float64(len(rows))
	p.line(x, body, right, body, thin, "")
	p.line(x, end, right, end, solid, "")
	seam := y + length - glue
	p.line(x, seam, right, seam, thin, "")
	for i, r := range rows {
		at := body + high*float64(i+1)
		if i < len(rows)-1 {
			w := hair
			if r.major {
				w = solid
			}
			p.line(x, at, fold-strip-gap, at, w, "")
			p.line(fold, at, right, at, w, "")
		}
	}
	s.hachure(&p, rows, fold-strip-gap/2, body, high)
	// Overlap for glue or tape.
	var slant [][4]float64
	for k := x + 3; k < right+glue; k += 6 {
		// From upper right to lower left, cut off at the band's sides.
		over, under := math.Max(0, k-right), math.Max(0, x-(k-glue))
		slant = append(slant, [4]float64{k - over, seam + over, k - glue + under, seam + glue - under})
	}
	p.strokes(slant, hair)

	dimension(&p, x, y-7, fold, y-7)
	dimension(&p, fold, y-7, right, y-7)
	dimension(&p, x-6, y, x-6, y+length)
	p.raw(`</g>`)

	p.raw(`<g fill="#000" font-family="Helvetica, Arial, 'Liberation Sans', sans-serif" style="font-variant-numeric:tabular-nums">`)
	figure := style{size: 6.5 * pt, middle: true}
	p.text(x+panel/2, y-8, figure, fmt.Sprintf("front %.0f mm", panel))
	p.text(fold+panel/2, y-8, figure, fmt.Sprintf("back %.0f mm", panel))
	figure.turn = -90
	p.text(x-7, y+length/2, figure, fmt.Sprintf("%.0f mm", length))
	s.heads(&p, x, fold, y, panel, number, count)
	for i, r := range rows {
		base := body + high*float64(i) + high/2 + 0.36*size
		figures(&p, s.front, r, x+gap, base, size)
		figures(&p, s.back, r, fold+gap, base, size)
	}
	s.notes(&p, right+aside, number, count)
	p.raw(`</g>`)
	return p.b.String()
}

// fill spreads the columns over a panel: what is left over goes between them,
// what is missing is taken from the first, which holds names.
func fill(columns []column, panel float64) {
	used := gap
	for _, c := range columns {
		used += c.width + gap
	}
	spare := panel - used
	if spare < 0 {
		columns[0].width = math.Max(6, columns[0].width+spare)
		return
	}
	for i := 1; i < len(columns); i++ {
		columns[i].width += spare / float64(len(columns)-1)
	}
}

func figures(p *pen, columns []column, r row, x, base, size float64) {
	for _, c := range columns {
		t := lettering.Fit(c.get(r), c.size(size), c.bold, c.width+0.01)
		st := style{size: c.size(size), bold: c.bold}
		if c.left {
			p.text(x, base, st, t)
		} else {
			st.end = true
			p.text(x+c.width, base, st, t)
		}
		x += c.width + gap
	}
}

// heads writes the head of both panels.
func (s *sheetPlan) heads(p *pen, x, fold, y, panel float64, number, count int) {
	caption := style{size: 6 * pt}
	room := panel - 2*gap
	name := text.Clean(s.p.Athlete)
	if name == "" {
		name = text.Clean(s.p.Course)
	}
	if count > 1 {
		name = fmt.Sprintf("%d/%d %s", number, count, name)
	}
	if name == "" {
		name = "Pace band"
	}
	p.text(x+gap, y+4.6, style{size: 10 * pt, bold: true}, lettering.Fit(name, 10*pt, true, room))
	goal := "goal " + quantity.Clock(s.p.Target)
	if !s.p.Given {
		goal = "even effort gives " + quantity.Clock(s.p.Target)
	}
	p.text(x+gap, y+9.2, style{size: 9 * pt}, lettering.Fit(goal, 9*pt, false, room))
	p.text(fold+gap, y+4.6, style{size: 9 * pt}, lettering.Fit("flat pace "+quantity.Pace(s.p.FlatPace, s.o.Units), 9*pt, false, room))
	second := "half way " + quantity.Clock(s.p.Half)
	if s.p.GunDelay > 0 {
		second += ", gun " + quantity.Seconds(s.p.GunDelay)
	}
	p.text(fold+gap, y+9.2, style{size: 9 * pt}, lettering.Fit(second, 9*pt, false, room))
	for _, side := range []struct {
		columns []column
		at      float64
	}{{s.front, x + gap}, {s.back, fold + gap}} {
		at := side.at
		for _, c := range side.columns {
			st := caption
			where := at
			if !c.left {
				st.end = true
				where = at + c.width
			}
			p.text(where, y+header-1.5, st, c.head)
			at += c.width + gap
		}
	}
	p.text(fold-strip-gap/2+strip/2, y+header-1.5, style{size: 6 * pt, middle: true}, "hills")
}

// steepest gradient that the strip can show at full width.
const fullHachure = 0.06

// hachure draws the course as a strip of road with its gradients: heavy strokes
// from the left edge climb, light ones from the right descend.
func (s *sheetPlan) hachure(p *pen, rows []row, x, y, high float64) {
	n := float64(len(rows))
	p.line(x, y, x, y+n*high, thin, "")
	p.line(x+strip, y, x+strip, y+n*high, thin, "")
	if s.o.Course == nil {
		return
	}
	var up, down [][4]float64
	per := max(4, int(high/0.75)) // strokes in a row
	for i, r := range rows {
		for k := range per {
			a := r.from + (r.to-r.from)*float64(k)/float64(per)
			b := r.from + (r.to-r.from)*float64(k+1)/float64(per)
			g := s.o.Course.MeanGradient(a, b)
			w := strip * math.Min(1, math.Abs(g)/fullHachure)
			at := y + high*(float64(i)+(float64(k)+0.5)/float64(per))
			switch {
			case w < 0.25: // level
			case g > 0:
				up = append(up, [4]float64{x, at, x + w, at})
			default:
				down = append(down, [4]float64{x + strip - w, at, x + strip, at})
			}
		}
	}
	p.strokes(up, 0.42)
	p.strokes(down, hair)
}

func clamp(v, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, v)) }

// frame draws the sheet's border.
func (s *sheetPlan) frame(p *pen) {
	w, h := s.o.Paper.Width, s.o.Paper.Height
	p.box(border, border, w-2*border, h-2*border, thin)
}

// dimension draws a line with a slanting tick at both ends.
func dimension(p *pen, x1, y1, x2, y2 float64) {
	p.line(x1, y1, x2, y2, hair, "")
	for _, e := range [][2]float64{{x1, y1}, {x2, y2}} {
		p.line(e[0]-1, e[1]+1, e[0]+1, e[1]-1, thin, "")
	}
}
