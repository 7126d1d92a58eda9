package band

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"tautline/report/lettering"
	"tautline/report/text"
	"tautline/strategy/quantity"
)

// notes writes what stands beside the band: how to use it, warnings, the title
// block, and the dimensions' figures.
func (s *sheetPlan) notes(p *pen, x float64, number, count int) {
	paper := s.o.Paper
	right := paper.Width - border
	room := right - 5 - x
	small, caption := 7.5*pt, style{size: 6.5 * pt, spaced: true}
	y := top + 2.0
	say := func(head string, lines ...string) {
		p.text(x, y, caption, head)
		y += 4.2
		for _, l := range lines {
			for _, part := range lettering.Wrap(l, small, room) {
				p.text(x, y, style{size: small}, part)
				y += 3.7
			}
		}
		y += 3.2
	}
	say("TO CARRY", "Print at 100 %, not fitted to the page. Cut along the outer line, fold back along the broken line, cover with clear tape, close round the wrist over the hatched end.")
	// The check of the printer's scale.
	p.raw(`<g fill="none" stroke="#000">`)
	dimension(p, x, y+1.5, x+50, y+1.5)
	p.raw(`</g>`)
	p.text(x, y+6, style{size: small}, "50 mm on a true print")
	y += 13
	hills := "Clock is chip time, stops inside. Pace is that of your own path, at even effort: slower up, faster down, the same exertion."
	if s.o.Course != nil && s.climbs() {
		hills += fmt.Sprintf(" In the strip heavy strokes climb and light strokes descend; right across is %.0f %%.", 100*fullHachure)
	}
	if len(s.stops) > 0 {
		hills += " A dot marks a split with a stop."
	}
	say("TO READ", hills)
	if len(s.stops) > 0 && number == 1 {
		lines := s.stops
		if len(lines) > 6 {
			lines = append(append([]string(nil), lines[:6]...), fmt.Sprintf("and %d more", len(s.stops)-6))
		}
		say("STOPS", lines...)
	}
	if s.o.Course != nil && number == 1 && y < paper.Height-140 {
		y = s.profile(p, x, y, room)
	}
	if len(s.p.Warnings) > 0 && number == 1 {
		var lines []string
		for i, w := range s.p.Warnings {
			if i == 4 {
				lines = append(lines, fmt.Sprintf("… and %d more in the plan's text.", len(s.p.Warnings)-i))
				break
			}
			lines = append(lines, text.Line(w.Text))
		}
		say("LOOK AGAIN", lines...)
	}

	s.titleBlock(p, x, room, number, count)
}

// profile draws the course from the side, heights enlarged by a round figure,
// and gives the next free place below it.
func (s *sheetPlan) profile(p *pen, x, y, room float64) float64 {
	const n, tall = 120, 14.0
	c, official := s.o.Course, s.p.Official
	heights := make([]float64, n+1)
	low, high := 0.0, 0.0
	for i := range n {
		a, b := official*float64(i)/n, official*float64(i+1)/n
		heights[i+1] = heights[i] + c.MeanGradient(a, b)*(b-a)
		low, high = math.Min(low, heights[i+1]), math.Max(high, heights[i+1])
	}
	if high-low < 1 {
		return y
	}
	scale := room / official // mm of paper per metre of road
	larger := tall / (high - low) / scale
	for _, round := range []float64{200, 100, 75, 50, 40, 30, 25, 20, 15, 10, 8, 5, 4, 3, 2, 1} {
		if larger >= round {
			larger = round
			break
		}
	}
	p.text(x, y, style{size: 6.5 * pt, spaced: true}, "PROFILE")
	base := y + 3 + tall
	at := func(h float64) float64 { return base - (h-low)*scale*larger }
	var d strings.Builder
	fmt.Fprintf(&d, "M%s %s", mm(x), mm(at(heights[0])))
	for i := 1; i <= n; i++ {
		fmt.Fprintf(&d, "L%s %s", mm(x+room*float64(i)/n), mm(at(heights[i])))
	}
	p.raw(`<g fill="none" stroke="#000">`)
	p.raw(`<path d="`, d.String(), `" stroke-width="0.35" stroke-linejoin="round"/>`)
	p.line(x, base+1, x+room, base+1, hair, "")
	var ticks [][4]float64
	for i, r := range s.rows {
		if r.major || len(s.rows) <= 15 {
			t := x + room*s.rows[i].to/official
			ticks = append(ticks, [4]float64{t, base + 1, t, base + 2.2})
		}
	}
	p.strokes(ticks, hair)
	p.raw(`</g>`)
	var up, down float64
	for _, x := range s.p.Splits {
		up += x.Climb.Value
		down += x.Descent.Value
	}
	p.text(x, base+5.6, style{size: 7 * pt}, fmt.Sprintf("climb %s, descent %s, heights × %g",
		quantity.Length(math.Round(up), s.o.Units), quantity.Length(math.Round(down), s.o.Units), larger))
	return base + 12
}

// titleBlock is the block in the lower right corner of the frame.
func (s *sheetPlan) titleBlock(p *pen, x, room float64, number, count int) {
	type entry struct{ name, value string }
	o, pl := s.o, s.p
	entries := []entry{{"RACE", text.Clean(pl.Course)}, {"ATHLETE", text.Clean(pl.Athlete)}}
	target := quantity.Clock(pl.Target)
	if pl.GunDelay > 0 {
		target += ", by the gun " + quantity.Clock(pl.Target+pl.GunDelay)
	}
	entries = append(entries, entry{"TARGET", target},
		entry{"DISTANCE", quantity.Distance(pl.Official, o.Units) + ", your own path " + quantity.Distance(pl.Own, o.Units)},
		entry{"EFFORT", cmp.Or(o.Model, pl.Model)}, entry{"DATE", text.Clean(o.Date)},
		entry{"SHEET", fmt.Sprintf("%d of %d, scale 1:1, drawn by Tautline", number, count)})
	const lineHigh, label = 3.5, 17.0
	size := 7.5 * pt
	var kept []entry
	var lines [][]string
	high := 0.0
	for _, e := range entries {
		if e.value == "" {
			continue
		}
		w := lettering.Wrap(e.value, size, room-label-2)
		kept, lines = append(kept, e), append(lines, w)
		high += lineHigh*float64(len(w)) + 1.6
	}
	caution := lettering.Wrap(text.EffortCaution, 7*pt, room)
	bottom := o.Paper.Height - border
	y := bottom - high - 5
	yc := y - 3.3*float64(len(caution)) - 1
	for _, l := range caution {
		yc += 3.3
		p.text(x, yc-1.2, style{size: 7 * pt}, l)
	}
	y += 1.5
	x0, x1 := x-3, o.Paper.Width-border
	var rules [][4]float64
	rules = append(rules, [4]float64{x0, y, x0, bottom}, [4]float64{x0, y, x1, y}, [4]float64{x0 + label, y, x0 + label, bottom})
	at := y
	step := (bottom - y) / high // spread what is left over the rows
	for i, e := range kept {
		h := (lineHigh*float64(len(lines[i])) + 1.6) * step
		p.text(x0+1.5, at+h/2+0.8, style{size: 5.5 * pt, spaced: true}, e.name)
		first := at + h/2 - lineHigh*float64(len(lines[i])-1)/2 + 0.95
		for k, l := range lines[i] {
			p.text(x0+label+1.5, first+lineHigh*float64(k), style{size: size, bold: e.name == "TARGET"}, l)
		}
		at += h
		if i < len(kept)-1 {
			rules = append(rules, [4]float64{x0, at, x1, at})
		}
	}
	p.raw(`<g fill="none" stroke="#000">`)
	p.strokes(rules, thin)
	p.raw(`</g>`)
}
