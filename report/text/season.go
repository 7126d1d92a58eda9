package text

import (
	"fmt"
	"strconv"
	"strings"

	"tautline/strategy/quantity"
	"tautline/strategy/season"
)

// Season prints which tune-up races to run, how hard, and why not the others.
// rules lists every rule with its value and where it comes from.
func Season(s Screen, p *season.Plan, rules bool) []byte {
	g := NewPrinter(s)
	g.Title(fmt.Sprintf("Season: %s, %s, %s", Clean(p.Called(p.Goal)), quantity.Distance(p.Goal.Distance, s.Units), date(p.Goal.Date)))
	g.Blank()
	g.candidates(p)
	for _, e := range p.Entries {
		if e.Effort != season.Leave {
			g.tuneUp(p, e)
		}
	}
	g.leftOut(p)
	g.Heading("Taper")
	g.Para(fmt.Sprintf("From %s: %s.", date(p.TaperFrom), p.TaperText), 0)
	g.Para("How much and what: Bosquet et al. 2007, 27 studies. Three weeks before a marathon: Smyth and Lawlor 2021, observed, not tried.", 0)
	if len(p.Missing) > 0 {
		g.Heading("Look again")
		g.Points(sentences(p.Missing))
	}
	g.Heading("Score")
	whole := ""
	if len(p.SetPoints) > 0 {
		whole = " For the whole: " + pointsOf(p.SetPoints) + "."
	}
	g.Para(fmt.Sprintf("%s in all, the most that any choice of these races reaches.%s", number(p.Score), whole), 0)
	if rules {
		g.Heading("Rules, as they can be set under [rules]")
		for _, r := range p.Rules {
			g.Points([]string{ruleLine(r, s.Units)})
		}
	}
	g.Heading("Cautions")
	g.Points(p.Cautions)
	if !rules {
		g.Points([]string{"--rules lists every rule, its source, and the stricter and looser habits beside it."})
	}
	return g.Bytes()
}

// candidates lists all races by date, the goal last, with what to do with each.
func (p *Printer) candidates(s *season.Plan) {
	u := p.s.Units
	run, controlled := 0, false
	t := Table{Columns: []Column{{Head: "date"}, {Head: "race", Flex: true}, {Head: "distance", Right: true}, {Head: "weeks", Right: true}, {Head: "effort"}, {Head: "easy", Right: true}}}
	for _, e := range s.Entries {
		easy := ""
		if e.Effort != season.Leave {
			run++
			controlled = controlled || e.Effort == season.Controlled
			easy = strconv.Itoa(e.EasyDays)
		}
		t.Rows = append(t.Rows, []string{date(e.Date), Clean(s.Called(e.Race)), quantity.Distance(e.Distance, u), fmt.Sprintf("%.1f", e.Weeks), string(e.Effort), easy})
	}
	t.Rows = append(t.Rows, []string{date(s.Goal.Date), Clean(s.Called(s.Goal)), quantity.Distance(s.Goal.Distance, u), "", "the goal", ""})
	p.Para(fmt.Sprintf("Of %d candidates, %d to run. The build begins on %s, the taper on %s.", len(s.Entries), run, date(s.Begin), date(s.TaperFrom)), 0)
	p.Blank()
	p.Table(t)
	p.Blank()
	about := "Weeks: left to the goal. Easy: days of easy running after the race."
	if controlled {
		about += " Controlled: at the goal's effort or a little harder, with something left at the finish."
	}
	p.Para(about, 0)
}

// tuneUp says what a race to be run is for, and what comes after it.
func (p *Printer) tuneUp(s *season.Plan, e season.Entry) {
	p.Heading(fmt.Sprintf("%s: %s, %s", date(e.Date), Clean(s.Called(e.Race)), e.Effort))
	p.Para(Capital(e.Purpose)+".", 0)
	p.Points(e.Rehearse)
	if e.EasyDays > 0 {
		p.Para(fmt.Sprintf("Then %d easy days; hard running again from %s (common practice).", e.EasyDays, date(e.HardAgain)), 0)
	}
	for _, c := range e.Conflicts {
		p.Para("Against a rule: "+Line(Conflict(s, c))+".", 0)
	}
	p.Para("Points: "+pointsOf(e.Points)+".", 0)
}

// leftOut says why the other races are not run.
func (p *Printer) leftOut(s *season.Plan) {
	var list []string
	for _, e := range s.Entries {
		if e.Effort != season.Leave {
			continue
		}
		var reasons []string
		for _, c := range e.Conflicts {
			reasons = append(reasons, Conflict(s, c))
		}
		if e.Note != "" {
			reasons = append(reasons, e.Note)
		}
		list = append(list, fmt.Sprintf("%s, %s: %s.", date(e.Date), Clean(s.Called(e.Race)), strings.Join(reasons, "; ")))
	}
	if len(list) > 0 {
		p.Heading("Left out, and why")
		p.Points(list)
	}
}

// Conflict says which rule a race goes against, with the rule's source.
func Conflict(p *season.Plan, c season.Conflict) string {
	if why := p.Why(c); why != "" {
		return c.What + " (" + why + ")"
	}
	return c.What
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func pointsOf(list []season.Point) string {
	var parts []string
	for _, p := range list {
		sign := ""
		if p.Points >= 0 {
			sign = "+"
		}
		parts = append(parts, Line(p.What)+" "+sign+number(p.Points))
	}
	return strings.Join(parts, ", ")
}

// one is the unit of a single one.
var one = map[string]string{"races": "race", "weeks": "week", "months": "month", "days a mile": "day a mile"}

// ruleLine is a rule as it can be set, with its source.
func ruleLine(r season.Rule, u quantity.Units) string {
	line := fmt.Sprintf("%s = %s: %s (%s", r.Key, ruleValue(r, r.Value, u), r.Name, r.Source)
	if r.Value != r.Usual {
		line += "; usual " + ruleValue(r, r.Usual, u)
	}
	if r.Habits != "" {
		line += "; " + r.Habits
	}
	return line + ")."
}

func ruleValue(r season.Rule, v float64, u quantity.Units) string {
	switch r.Unit {
	case "m":
		return quantity.Distance(v, u)
	case "share":
		return quantity.Percent(v, 0)
	}
	unit := r.Unit
	if v == 1 {
		unit = one[unit]
	}
	return number(v) + " " + unit
}
