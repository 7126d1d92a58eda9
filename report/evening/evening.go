// Package evening puts on one page what a runner wants to read the evening
// before a race: forecast and goal, where to stand, the splits, the turns that
// matter, cautions. Other packages worked it out; the choice of marks and turns
// is its own, and what running those turns wide would add.
package evening

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tautline/geo/interval"
	"tautline/report/band"
	"tautline/report/document"
	"tautline/report/text"
	"tautline/strategy/forecast"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/start"
)

// Sheet is what goes on the page.
type Sheet struct {
	Race     string
	Date     time.Time          // zero when not known
	Plan     *plan.Plan         // the splits
	Forecast *forecast.Forecast // nil when there is nothing to go by
	On       *interval.Estimate // the forecast on the course, s; nil without a figure
	Start    *start.Advice      // nil when the pens are not known
	Turns    []Turn
	Units    quantity.Units
}

// Turn is a turn that matters.
type Turn struct {
	Number int
	At     float64 // official m
	Angle  float64 // radians, left positive
	Wide   float64 // m that two metres further out add
}

// What counts as a turn that matters, and how many are shown; our own choice.
const (
	leastAngle = 45 * math.Pi / 180
	mostTurns  = 10
	wideBy     = 2.0 // m
)

// Turns are the turns of a race that matter most, by what running them wide
// costs, in the order they come.
func Turns(r *race.Race, c *plan.Course) []Turn {
	var out []Turn
	for _, t := range r.Line.Turns {
		if a := math.Abs(t.Angle); a >= leastAngle {
			out = append(out, Turn{t.Number, c.OfficialAt(t.CourseAt), t.Angle, wideBy * a})
		}
	}
	slices.SortStableFunc(out, func(a, b Turn) int { return cmp.Compare(b.Wide, a.Wide) })
	if len(out) > mostTurns {
		out = out[:mostTurns]
	}
	slices.SortFunc(out, func(a, b Turn) int { return a.Number - b.Number })
	return out
}

// Document gives the page for programs.
func (s *Sheet) Document() document.Evening {
	d := document.NewEvening(s.Race, s.Date, s.Plan)
	d.Cautions = s.cautions()
	if s.Forecast != nil {
		d.Forecast = new(document.NewForecast(s.Forecast, s.Race, s.On))
	}
	if s.Start != nil {
		d.Start = new(document.NewStart(s.Race, s.Start))
	}
	for _, t := range s.Turns {
		d.Turns = append(d.Turns, document.NewEveningTurn(t.Number, t.At, t.Angle, t.Wide))
	}
	return d
}

func side(t Turn) string {
	if t.Angle > 0 {
		return "left"
	}
	return "right"
}

// goal says in sentences what is aimed at and what the races say.
func (s *Sheet) goal() []string {
	p := s.Plan
	var out []string
	if p.Given {
		out = append(out, fmt.Sprintf("Goal %s: even effort is %s on the level.", quantity.Clock(p.Target), quantity.Pace(p.FlatPace, s.Units)))
	} else {
		out = append(out, fmt.Sprintf("Planned by the forecast: %s, even effort at %s on the level.", quantity.Clock(p.Target), quantity.Pace(p.FlatPace, s.Units)))
	}
	switch {
	case s.On != nil:
		where := "On this course"
		if s.Plan.Slowing.Value > 0 {
			where = "On this course and day"
		}
		out = append(out, fmt.Sprintf("%s your %s say %s; nine finishes in ten should lie between.", where, s.Forecast.From, text.ClockInterval(*s.On)))
		if v := s.verdict(); v != "" {
			out = append(out, v)
		}
	case s.Forecast != nil:
		out = append(out, "No forecast: "+s.Forecast.None+".")
		out = append(out, s.Forecast.Advice...)
	}
	return out
}

// verdict sets a given goal against the forecast, "" without a goal.
func (s *Sheet) verdict() string {
	if !s.Plan.Given {
		return ""
	}
	switch t := s.Plan.Target; {
	case t < s.On.Low:
		return "About one finish in twenty would be as fast as the goal: begin slower, and let the second half decide."
	case t < s.On.Value:
		return "The goal is on the bold side of the forecast, within what is to be expected."
	case t > s.On.High:
		return "Nineteen finishes in twenty would be faster than the goal: it leaves much in hand."
	}
	return "The goal is within what is to be expected."
}

// place says where to stand; help is what to add where the pens are not known.
func (s *Sheet) place(help string) []string {
	if s.Start == nil {
		return []string{"Stand where your pace belongs, to one side; the pens of this start are not known" + help + "."}
	}
	b := s.Start.Best
	out := []string{
		fmt.Sprintf("Stand %s, about %.0f people in front: %s from the gun to the mat.", text.PenPlace(s.Start, b), b.Ahead, text.ClockInterval(b.Delay)),
		fmt.Sprintf("The crowd costs %s, about %.0f s of it in %s; the splits have it in them. Do not win it back at once.", quantity.SecondsInterval(b.Crowd), b.FirstKm.Value, text.FirstKilometre(s.Units)),
	}
	if s.Start.Line.GunAwards {
		out = append(out, "Places or awards go by gun time: the time before the mat counts.")
	}
	if x := s.Start.Sides; x.Known && math.Max(x.Left, x.Right) >= 0.5 {
		out = append(out, "After the start the "+x.Better+" edge is the shorter side.")
	}
	return out
}

// cautions stand at the end of every page.
func (s *Sheet) cautions() []string {
	out := []string{
		text.ClosedRoadCaution,
		"Drink to thirst. Stop and find help with chest pain, faintness, confusion or unusual breathlessness.",
	}
	out = append(out, forecast.Physician)
	if s.On != nil {
		out = append(out, forecast.NotTried)
	}
	return out
}

func (s *Sheet) title() string {
	parts := []string{text.Clean(s.Plan.Athlete), text.Clean(s.Race)}
	if !s.Date.IsZero() {
		parts = append(parts, s.Date.Format("2 January 2006"))
	}
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), " · ")
}

// Text gives the page for the terminal.
func Text(s *Sheet, screen text.Screen) []byte {
	p := text.NewPrinter(screen)
	p.Title(s.title())
	p.Blank()
	paras := func(list []string) {
		for _, t := range list {
			p.Para(text.Line(t), 0)
		}
	}
	paras(s.goal())
	p.Heading("Start")
	paras(s.place(" (--pens FILE)"))
	p.Heading("Splits")
	for _, l := range band.Splits(s.Plan, screen) {
		p.Line(l)
	}
	if len(s.Turns) > 0 {
		p.Heading("Turns that matter")
		t := text.Table{Columns: []text.Column{{Head: "turn", Right: true}, {Head: "at", Right: true}, {Head: "to the"}, {Head: "by", Right: true}, {Head: s.wideAdds(), Right: true}}}
		for _, x := range s.turnRows() {
			t.Rows = append(t.Rows, x[:])
		}
		p.Table(t)
	}
	p.Heading("Cautions")
	p.Points(s.cautions())
	return p.Bytes()
}

// wideAdds heads what running two metres further out adds.
func (s *Sheet) wideAdds() string {
	if s.Units == quantity.Imperial {
		return quantity.Length(2, s.Units) + " wide adds"
	}
	return "two metres wide adds"
}

func (s *Sheet) turnRows() (rows [][5]string) {
	for _, t := range s.Turns {
		rows = append(rows, [5]string{fmt.Sprint(t.Number), quantity.Distance(math.Round(t.At/10)*10, s.Units), side(t),
			fmt.Sprintf("%.0f°", math.Abs(t.Angle)*180/math.Pi), quantity.Length(t.Wide, s.Units)})
	}
	return rows
}

// Marks are where the page gives splits: every kilometre or mile up to the
// half marathon, every five beyond, so that one page holds them.
func Marks(official float64, u quantity.Units) ([]plan.Mark, error) {
	step := u.Per()
	if official > quantity.HalfMarathon*1.01 {
		step *= 5
	}
	return plan.Every(step, u.Per(), u.Name(), official)
}
