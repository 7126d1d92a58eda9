// Package buildup puts a season on one page: the weeks to the goal as a line to
// scale, the races on it, and what each is for.
package buildup

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"time"

	"tautline/report/printed"
	"tautline/report/text"
	"tautline/strategy/quantity"
	"tautline/strategy/season"
)

// The line is drawn in tenths of a millimetre, as wide as the view box of the
// page.
const (
	width  = 1780.0
	margin = 40.0
)

var page = printed.Page("season", printed.Style+`@page { size: A4 portrait; margin: 12mm }
h2 { font-size: 10pt; margin: 3.5mm 0 0.5mm; break-after: avoid }
svg { display: block; width: 100%; height: auto }
svg text { font: 26px Helvetica, Arial, "Liberation Sans", sans-serif }
ul { margin: 0; padding-left: 4mm }
.small { font-size: 8pt }
section { break-inside: avoid }
@media screen and (max-width: 600px) {
svg text { font-size: 44px }
}
`, `<h1>{{.Title}}</h1>
<svg viewBox="0 0 1780 230" role="img" aria-label="weeks to the goal">
<path d="M{{.From}} 170H{{.To}}" stroke="#000" stroke-width="2" fill="none"/>
<path d="M{{.Taper}} 170H{{.To}}" stroke="#000" stroke-width="9" fill="none"/>
{{range .Weeks}}<path d="M{{.X}} 170v{{if .Name}}16{{else}}9{{end}}" stroke="#000" stroke-width="2"/>{{if .Name}}<text x="{{.X}}" y="222" text-anchor="middle">{{.Name}}</text>{{end}}
{{end}}{{range .Dots}}<path d="M{{.X}} 170V{{.Y}}" stroke="#000" stroke-width="2"/><circle cx="{{.X}}" cy="{{.Y}}" r="{{.R}}" stroke="#000" stroke-width="4" fill="{{if .Full}}#000{{else}}#fff{{end}}"/><text x="{{.X}}" y="{{.NameY}}" text-anchor="{{.Anchor}}">{{.Name}}</text>
{{end}}</svg>
<p class="small">Weeks to the goal. Full: all out. Ring: controlled, at the goal's effort or a little harder. Thick: taper.</p>
{{range .Races}}<section><h2>{{.Head}}</h2>
<p>{{.About}}</p>
<ul>{{range .Rehearse}}<li>{{.}}</li>{{end}}</ul>
{{range .Conflicts}}<p>Against a rule: {{.}}.</p>
{{end}}</section>
{{end}}<section><h2>Taper</h2>
<p>{{.TaperText}}</p></section>
{{if .Left}}<section><h2>Left out, and why</h2>
<ul class="small">{{range .Left}}<li>{{.}}</li>{{end}}</ul></section>
{{end}}{{if .Missing}}<section><h2>Look again</h2>
<ul class="small">{{range .Missing}}<li>{{.}}</li>{{end}}</ul></section>
{{end}}<section><h2>Cautions</h2>
<ul class="small">{{range .Cautions}}<li>{{.}}</li>{{end}}</ul></section>
`)

// drawn is the season as the template takes it.
type drawn struct {
	Title, TaperText        string
	From, To, Taper         float64
	Weeks                   []tick
	Dots                    []dot
	Races                   []tuneUp
	Left, Missing, Cautions []string
}

// dot is a race on the line; Full is one run all out.
type dot struct {
	X, Y, R, NameY float64
	Full           bool
	Name, Anchor   string
}

// tick is a week on the line; some have no name.
type tick struct {
	X    float64
	Name string
}

// tuneUp is a race to be run.
type tuneUp struct {
	Head, About         string
	Rehearse, Conflicts []string
}

func day(t time.Time) string { return t.Format("2 January 2006") }

// Page gives the season for printing.
func Page(p *season.Plan, u quantity.Units) ([]byte, error) {
	l := newLine(p)
	d := drawn{
		Title:     fmt.Sprintf("%s, %s, %s", text.Clean(p.Called(p.Goal)), quantity.Distance(p.Goal.Distance, u), day(p.Goal.Date)),
		TaperText: fmt.Sprintf("From %s: %s.", day(p.TaperFrom), p.TaperText),
		From:      margin, To: width - margin, Taper: l.x(p.TaperFrom), Weeks: l.weeks(p.Goal.Date), Cautions: p.Cautions,
	}
	for _, m := range p.Missing {
		d.Missing = append(d.Missing, text.Sentence(m))
	}
	for _, e := range p.Entries {
		name := text.Clean(p.Called(e.Race))
		var conflicts []string
		for _, c := range e.Conflicts {
			conflicts = append(conflicts, text.Conflict(p, c))
		}
		if e.Effort == season.Leave {
			why := conflicts
			if e.Note != "" {
				why = append([]string{e.Note}, conflicts...)
			}
			d.Left = append(d.Left, fmt.Sprintf("%s, %s: %s.", day(e.Date), name, strings.Join(why, "; ")))
			continue
		}
		d.Dots = append(d.Dots, l.dot(e.Race, name, e.Effort == season.AllOut, len(d.Dots)))
		about := "What for: " + e.Purpose + "."
		if e.EasyDays > 0 {
			about += fmt.Sprintf(" Then %d easy days; hard running again from %s (common practice).", e.EasyDays, day(e.HardAgain))
		}
		d.Races = append(d.Races, tuneUp{
			Head:  fmt.Sprintf("%s: %s, %s, %s", day(e.Date), name, quantity.Distance(e.Distance, u), e.Effort),
			About: about, Rehearse: e.Rehearse, Conflicts: conflicts,
		})
	}
	d.Dots = append(d.Dots, l.dot(p.Goal, "goal", true, len(d.Dots)))
	var b bytes.Buffer
	if err := page.Execute(&b, d); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// line is the time line from the first race or the beginning of the build to
// the goal.
type line struct {
	first time.Time
	hours float64
}

func newLine(p *season.Plan) line {
	first := p.Begin
	for _, e := range p.Entries {
		if e.Effort != season.Leave && e.Date.Before(first) {
			first = e.Date
		}
	}
	return line{first, math.Max(1, p.Goal.Date.Sub(first).Hours())}
}

// x is where a day lies on the drawing.
func (l line) x(t time.Time) float64 {
	x := margin + (width-2*margin)*t.Sub(l.first).Hours()/l.hours
	return math.Round(10*math.Max(margin, math.Min(width-margin, x))) / 10
}

// mostTicks is about how many weeks are drawn; every other has its number.
const mostTicks = 20

// weeks are the weeks to the goal, all of them where there is room.
func (l line) weeks(goal time.Time) []tick {
	var out []tick
	n := int(l.hours / (24 * 7))
	every := max(1, int(math.Ceil(float64(n)/mostTicks)))
	for k := 0; k <= n; k += every {
		name := ""
		if (k/every)%2 == 0 {
			name = fmt.Sprint(k)
		}
		out = append(out, tick{l.x(goal.AddDate(0, 0, -7*k)), name})
	}
	return out
}

// dot draws a race, the larger the longer it is. Names take turns in height, so
// that neighbours do not cover each other; before is how many came before.
func (l line) dot(r season.Race, name string, full bool, before int) dot {
	x, y := l.x(r.Date), 120.0-45*float64(before%2)
	anchor := "middle"
	if x < width/6 {
		anchor = "start"
	} else if x > width*5/6 {
		anchor = "end"
	}
	radius := math.Round(10*(8+6*math.Log2(math.Max(1, r.Distance/5000)))) / 10
	return dot{X: x, Y: y, R: radius, NameY: y - radius - 10, Full: full, Name: name, Anchor: anchor}
}
