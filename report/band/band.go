// Package band puts a plan on paper and into other programs: a pace band to
// print, cut and fold, in real millimetres; a table; waypoints; text.
//
// Everything is made in memory. Names may hold anything; they are cleaned of
// control characters and escaped for each form.
package band

import (
	"bytes"
	"cmp"
	"fmt"
	"html/template"
	"math"
	"strings"

	"tautline/report/lettering"
	"tautline/report/text"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

// Paper is a sheet of paper, in millimetres.
type Paper struct {
	Name          string // as style sheets name it
	Width, Height float64
}

// The papers that bands are laid out for.
var (
	A4     = Paper{"A4", 210, 297}
	Letter = Paper{"letter", 215.9, 279.4}
)

// Options say how to draw.
type Options struct {
	Paper  Paper          // the zero Paper is A4
	Units  quantity.Units // for paces and climbs
	Course *plan.Course   // for the gradients in the strip; nil leaves it empty
	Date   string         // of the race or of printing, for the title block; may be ""
	Model  string         // how effort was reckoned, for the title block; "": as the plan says
}

// Caution is the line that every printed plan and its text carry once.
const Caution = text.EffortCaution

// Layout of the sheet, mm.
const (
	border   = 8.0  // paper's edge to frame
	left     = 19.0 // paper's edge to band
	top      = 22.0
	header   = 17.0 // of the band, above its rows
	glue     = 12.0 // overlap at the band's end
	rowLeast = 4.4  // figures of 10 pt
	rowMost  = 11.0
	mostRows = 46
	wrist    = 170.0 // a shorter band is given a blank tail
	usual    = 205.0 // rows are made no higher than this length allows
	gap      = 1.6   // between columns
	strip    = 6.0   // the strip with hachures
	aside    = 9.0   // between band and notes
	likeBand = 104.0 // width of both panels, as long as figures stay above 10 pt
	mostBand = 112.0
)

// Sizes of figures.
const (
	leastSize = 10 * pt // of the clock
	mostSize  = 15 * pt
)

// stopSign stands after a mark before which time is spent standing.
const stopSign = " •"

// least size of figures on the band: 9 pt, legible at arm's length.
const leastFigure = 9 * pt

// perSheet is how many splits go on one band: what fits on the paper, and no
// more than goes round a wrist.
func perSheet(p Paper) int {
	return min(mostRows, int((p.Height-top-2*border-header-glue-6)/rowLeast))
}

// row is one line of the band as text.
type row struct {
	mark, elapsed, split   string // front
	short                  string // the mark on the back
	gun, pace, watch, hill string
	lap                    string // what the watch will count for the split, km or mi
	from, to               float64
	gradient               float64
	major                  bool
}

// column of figures on the band.
type column struct {
	head  string
	scale float64 // of the row's figure size
	bold  bool
	left  bool
	get   func(row) string
	width float64
}

// sheetPlan is one athlete's plan laid out.
type sheetPlan struct {
	p     *plan.Plan
	o     Options
	unit  string
	rows  []row
	front []column
	back  []column
	stops []string
	watch bool // the watch shows another pace
}

func lay(p *plan.Plan, o Options) *sheetPlan {
	if o.Paper.Width == 0 {
		o.Paper = A4
	}
	s := &sheetPlan{p: p, o: o}
	s.unit = commonUnit(p.Splits)
	for i, x := range p.Splits {
		name := text.Clean(x.Mark)
		if s.unit != "" {
			name = strings.TrimSuffix(name, " "+s.unit)
		}
		r := row{
			mark: name, short: name, elapsed: quantity.Clock(float64(x.ShownElapsed)), split: quantity.Clock(float64(x.ShownSplit)),
			gun:  quantity.Clock(x.Gun),
			pace: bare(quantity.Pace(x.Pace, o.Units)), watch: bare(quantity.Pace(x.WatchPace, o.Units)),
			lap:  quantity.DistanceFixed(x.WatchLap, o.Units, 3),
			hill: hill(x, o.Units), from: x.From, to: x.To, gradient: x.Gradient,
			major: (i+1)%5 == 0 || i == len(p.Splits)-1,
		}
		if i == len(p.Splits)-1 && name == plan.Finish && len(p.Splits) > 1 {
			r.short = "end"
		}
		if x.Stop > 0 {
			r.mark += stopSign
			s.stops = append(s.stops, quantity.Clock(x.Stop)+" before "+text.Clean(x.Mark))
		}
		s.watch = s.watch || r.watch != r.pace
		s.rows = append(s.rows, r)
	}
	head := s.unit
	if head == "" {
		head = "at"
	}
	s.front = []column{
		{head: head, scale: 0.92, left: true, get: func(r row) string { return r.mark }},
		{head: "clock", scale: 1, bold: true, get: func(r row) string { return r.elapsed }},
		{head: "split", scale: 0.9, get: func(r row) string { return r.split }},
	}
	s.back = []column{{head: head, scale: 0.9, left: true, get: func(r row) string { return r.short }}}
	if p.GunDelay > 0 {
		s.back = append(s.back, column{head: "gun", scale: 0.9, get: func(r row) string { return r.gun }})
	}
	per := bareUnit(o.Units)
	s.back = append(s.back, column{head: "pace" + per, scale: 0.9, get: func(r row) string { return r.pace }})
	if s.watch {
		s.back = append(s.back, column{head: "watch" + per, scale: 0.9, get: func(r row) string { return r.watch }})
	}
	if s.climbs() {
		unit := " m"
		if o.Units == quantity.Imperial {
			unit = " ft"
		}
		s.back = append(s.back, column{head: "up/down" + unit, scale: 0.9, get: func(r row) string { return r.hill }})
	}
	return s
}

func (s *sheetPlan) climbs() bool {
	for _, x := range s.p.Splits {
		if x.Climb.Value >= 0.5 || x.Descent.Value >= 0.5 {
			return true
		}
	}
	return false
}

// commonUnit is "km" when all marks but the last are named "… km".
func commonUnit(splits []plan.Split) string {
	for _, unit := range []string{"km", "mi"} {
		all := len(splits) > 1
		for _, x := range splits[:max(0, len(splits)-1)] {
			if !strings.HasSuffix(x.Mark, " "+unit) {
				all = false
			}
		}
		if all {
			return unit
		}
	}
	return ""
}

// bare takes the unit off a pace.
func bare(pace string) string {
	s, _, _ := strings.Cut(pace, "/")
	return s
}

func bareUnit(u quantity.Units) string {
	if u == quantity.Imperial {
		return "/mi"
	}
	return "/km"
}

func hill(x plan.Split, u quantity.Units) string {
	k := 1.0
	if u == quantity.Imperial {
		k = 1 / 0.3048
	}
	up, down := math.Round(x.Climb.Value*k), math.Round(x.Descent.Value*k)
	switch {
	case up == 0 && down == 0:
		return "·"
	case down == 0:
		return fmt.Sprintf("+%.0f", up)
	case up == 0:
		return fmt.Sprintf("−%.0f", down)
	}
	return fmt.Sprintf("+%.0f −%.0f", up, down)
}

// size of the column's figures.
func (c column) size(figure float64) float64 { return math.Max(leastFigure, figure*c.scale) }

// measure sets the columns' widths for a figure size and gives the panel's.
func measure(columns []column, rows []row, size float64, extra float64) float64 {
	total := gap + extra
	for i := range columns {
		c := &columns[i]
		w := lettering.Width(c.head, 6*pt, false)
		for _, r := range rows {
			w = math.Max(w, lettering.Width(c.get(r), c.size(size), c.bold))
		}
		c.width = w
		total += w + gap
	}
	return total
}

// SVG is the pace band of one athlete as a drawing of one sheet of paper, or
// several below each other when the splits do not fit on one.
func SVG(p *plan.Plan, o Options) []byte {
	s := lay(p, o)
	sheets := s.sheets()
	w, h := s.o.Paper.Width, s.o.Paper.Height
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %s %s">`+"\n",
		mm(w), mm(h*float64(len(sheets))), mm(w), mm(h*float64(len(sheets))))
	fmt.Fprintf(&b, "<title>%s</title>\n", lettering.Escape(s.title()))
	fmt.Fprintf(&b, `<rect width="100%%" height="100%%" fill="#fff"/>`+"\n")
	for i, body := range sheets {
		fmt.Fprintf(&b, `<g transform="translate(0 %s)">`+"\n%s</g>\n", mm(float64(i)*h), body)
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}

func (s *sheetPlan) title() string {
	return strings.TrimSpace(text.Clean(s.p.Athlete) + " pace band " + text.Clean(s.p.Course))
}

// Page is a page that holds the pace bands of these plans, one sheet of paper
// or more each, and needs nothing from elsewhere. An overview, if given, comes
// first.
func Page(plans []*plan.Plan, overview *plan.Overview, o Options) ([]byte, error) {
	if o.Paper.Width == 0 {
		o.Paper = A4
	}
	data := struct {
		Title         string
		Paper         string
		Width, Height string
		Caution       string
		Overview      *overviewTable
		Sheets        []template.HTML
	}{Title: "Pace band", Paper: o.Paper.Name, Width: mm(o.Paper.Width), Height: mm(o.Paper.Height), Caution: Caution}
	if len(plans) == 1 {
		data.Title = lay(plans[0], o).title()
	}
	if overview != nil {
		data.Overview = tableOf(overview, o.Units)
		data.Title = strings.TrimSpace("Squad plan " + text.Clean(overview.Course))
	}
	for _, p := range plans {
		for _, body := range lay(p, o).sheets() {
			// The body is made of numbers and of texts escaped by lettering.Escape.
			data.Sheets = append(data.Sheets, template.HTML(fmt.Sprintf(
				`<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %s %s" role="img">`+"\n%s</svg>",
				mm(o.Paper.Width), mm(o.Paper.Height), mm(o.Paper.Width), mm(o.Paper.Height), body)))
		}
	}
	var b bytes.Buffer
	if err := page.Execute(&b, data); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

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
	caution := lettering.Wrap(Caution, 7*pt, room)
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
