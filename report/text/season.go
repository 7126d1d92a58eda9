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
	g := &page{s: s}
	u := s.Units
	g.title(fmt.Sprintf("Season: %s, %s, %s", Clean(p.Called(p.Goal)), quantity.Distance(p.Goal.Distance, u), date(p.Goal.Date)))
	g.blank()
	run, controlled := 0, false
	t := Table{Columns: []Column{{Head: "date"}, {Head: "race", Flex: true}, {Head: "distance", Right: true}, {Head: "weeks", Right: true}, {Head: "effort"}, {Head: "easy", Right: true}}}
	for _, e := range p.Entries {
		easy := ""
		if e.Effort != season.Leave {
			run++
			controlled = controlled || e.Effort == season.Controlled
			easy = strconv.Itoa(e.EasyDays)
		}
		t.Rows = append(t.Rows, []string{date(e.Date), Clean(p.Called(e.Race)), quantity.Distance(e.Distance, u), fmt.Sprintf("%.1f", e.Weeks), string(e.Effort), easy})
	}
	t.Rows = append(t.Rows, []string{date(p.Goal.Date), Clean(p.Called(p.Goal)), quantity.Distance(p.Goal.Distance, u), "", "the goal", ""})
	g.para(fmt.Sprintf("Of %d candidates, %d to run. The build begins on %s, the taper on %s.", len(p.Entries), run, date(p.Begin), date(p.TaperFrom)), 0)
	g.blank()
	g.table(t)
	g.blank()
	about := "Weeks: left to the goal. Easy: days of easy running after the race."
	if controlled {
		about += " Controlled: at the goal's effort or a little harder, with something left at the finish."
	}
	g.para(about, 0)

	for _, e := range p.Entries {
		if e.Effort == season.Leave {
			continue
		}
		g.heading(fmt.Sprintf("%s: %s, %s", date(e.Date), Clean(p.Called(e.Race)), e.Effort))
		g.para(Capital(e.Purpose)+".", 0)
		g.points(append([]string(nil), e.Rehearse...))
		if e.EasyDays > 0 {
			g.para(fmt.Sprintf("Then %d easy days; hard running again from %s (common practice).", e.EasyDays, date(e.HardAgain)), 0)
		}
		for _, c := range e.Conflicts {
			g.para("Against a rule: "+Line(c.What)+why(p, c)+".", 0)
		}
		g.para("Points: "+pointsOf(e.Points)+".", 0)
	}

	left := false
	for _, e := range p.Entries {
		if e.Effort != season.Leave {
			continue
		}
		if !left {
			g.heading("Left out, and why")
			left = true
		}
		var reasons []string
		for _, c := range e.Conflicts {
			reasons = append(reasons, c.What+why(p, c))
		}
		if e.Note != "" {
			reasons = append(reasons, e.Note)
		}
		g.points([]string{fmt.Sprintf("%s, %s: %s.", date(e.Date), Clean(p.Called(e.Race)), strings.Join(reasons, "; "))})
	}

	g.heading("Taper")
	g.para(fmt.Sprintf("From %s: %s.", date(p.TaperFrom), p.TaperText), 0)
	g.para("How much and what: Bosquet et al. 2007, 27 studies. Three weeks before a marathon: Smyth and Lawlor 2021, observed, not tried.", 0)
	if len(p.Missing) > 0 {
		g.heading("Look again")
		g.points(sentences(p.Missing))
	}
	g.heading("Score")
	whole := ""
	if len(p.SetPoints) > 0 {
		whole = " For the whole: " + pointsOf(p.SetPoints) + "."
	}
	g.para(fmt.Sprintf("%s in all, the most that any choice of these races reaches.%s", number(p.Score), whole), 0)

	if rules {
		g.heading("Rules, as they can be set under [rules]")
		for _, r := range p.Rules {
			line := fmt.Sprintf("%s = %s: %s (%s", r.Key, ruleValue(r, r.Value, u), r.Name, r.Source)
			if r.Value != r.Usual {
				line += "; usual " + ruleValue(r, r.Usual, u)
			}
			if r.Habits != "" {
				line += "; " + r.Habits
			}
			g.points([]string{line + ")."})
		}
	}
	g.heading("Cautions")
	g.points(p.Cautions)
	if !rules {
		g.points([]string{"--rules lists every rule, its source, and the stricter and looser habits beside it."})
	}
	return g.b.Bytes()
}

// why names the source of the rule behind a conflict, in brackets.
func why(p *season.Plan, c season.Conflict) string {
	if w := p.Why(c); w != "" {
		return " (" + w + ")"
	}
	return ""
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
