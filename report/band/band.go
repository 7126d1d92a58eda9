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
	rows  []row
	front []column
	back  []column
	stops []string
	watch bool // the watch shows another pace
}

// lay makes the rows of a plan and the columns of both sides of the band.
func lay(p *plan.Plan, o Options) *sheetPlan {
	if o.Paper.Width == 0 {
		o.Paper = A4
	}
	s := &sheetPlan{p: p, o: o}
	unit := commonUnit(p.Splits)
	for i, x := range p.Splits {
		name := text.Clean(x.Mark)
		if unit != "" {
			name = strings.TrimSuffix(name, " "+unit)
		}
		r := row{
			mark: name, short: name, elapsed: quantity.Clock(float64(x.ShownElapsed)), split: quantity.Clock(float64(x.ShownSplit)),
			gun:  quantity.Clock(x.Gun),
			pace: bare(quantity.Pace(x.Pace, o.Units)), watch: bare(quantity.Pace(x.WatchPace, o.Units)),
			lap:  quantity.DistanceFixed(x.WatchLap, o.Units, 3),
			hill: hill(x, o.Units), from: x.From, to: x.To,
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
	head := cmp.Or(unit, "at")
	s.front = []column{
		{head: head, scale: 0.92, left: true, get: func(r row) string { return r.mark }},
		{head: "clock", scale: 1, bold: true, get: func(r row) string { return r.elapsed }},
		{head: "split", scale: 0.9, get: func(r row) string { return r.split }},
	}
	s.back = []column{{head: head, scale: 0.9, left: true, get: func(r row) string { return r.short }}}
	if p.GunDelay > 0 {
		s.back = append(s.back, column{head: "gun", scale: 0.9, get: func(r row) string { return r.gun }})
	}
	per := "/" + o.Units.Name()
	s.back = append(s.back, column{head: "pace" + per, scale: 0.9, get: func(r row) string { return r.pace }})
	if s.watch {
		s.back = append(s.back, column{head: "watch" + per, scale: 0.9, get: func(r row) string { return r.watch }})
	}
	if s.climbs() {
		_, unit := text.ShortUnit(o.Units)
		s.back = append(s.back, column{head: "up/down " + unit, scale: 0.9, get: func(r row) string { return r.hill }})
	}
	return s
}

// climbs tells whether there is a hill to speak of.
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

func hill(x plan.Split, u quantity.Units) string {
	unit, _ := text.ShortUnit(u)
	up, down := math.Round(x.Climb.Value/unit), math.Round(x.Descent.Value/unit)
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
	}{Title: "Pace band", Paper: o.Paper.Name, Width: mm(o.Paper.Width), Height: mm(o.Paper.Height), Caution: text.EffortCaution}
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
