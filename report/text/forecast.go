package text

import (
	"cmp"
	"fmt"
	"math"
	"strings"
	"time"

	"tautline/geo/interval"
	"tautline/strategy/forecast"
	"tautline/strategy/quantity"
)

// ClockInterval prints a time with its 90 % interval: "46:10 (44:20 to 48:30)".
func ClockInterval(e interval.Estimate) string {
	return fmt.Sprintf("%s (%s to %s)", quantity.Clock(e.Value), quantity.Clock(math.Floor(e.Low)), quantity.Clock(math.Ceil(e.High)))
}

// date prints a day as people write it.
func date(t time.Time) string {
	if t.IsZero() {
		return quantity.None
	}
	return t.Format("2 Jan 2006")
}

// Forecast prints a forecast: the figure, what it stands on, the models side by
// side, what the width is made of. on is the time on the course named; nil
// without one.
func Forecast(s Screen, f *forecast.Forecast, course string, on *interval.Estimate) []byte {
	p := NewPrinter(s)
	p.Title(fmt.Sprintf("Forecast: %s, %s, %s", Clean(f.Athlete), quantity.Distance(f.Goal.Distance, s.Units), date(f.Goal.On)))
	p.Blank()
	if f.None != "" {
		p.Para("No figure: "+f.None+".", 0)
	} else {
		p.expected(f, course, on)
	}
	if len(f.Evidence) > 0 {
		p.evidence(f.Evidence)
	}
	if len(f.Models) > 0 {
		p.models(f.Models)
	}
	if len(f.Parts) > 0 {
		p.Heading("What the width is made of")
		p.Para("Each part by itself, one standard deviation as a share of the time; their squares add up.", 0)
		t := Table{Columns: []Column{{}, {Right: true}, {Flex: true}}}
		for _, x := range f.Parts {
			t.Rows = append(t.Rows, []string{x.What, quantity.Percent(x.Share, 1), x.Source})
		}
		p.Table(t)
	}
	if len(f.Notes) > 0 {
		p.Heading("Assumed")
		p.Points(sentences(f.Notes))
	}
	if len(f.Advice) > 0 {
		p.Heading("Advice")
		p.Points(f.Advice)
	}
	p.Heading("Cautions")
	if f.None == "" {
		p.Points([]string{forecast.NotTried})
	}
	p.Points([]string{forecast.Physician})
	return p.Bytes()
}

// expected prints the time to expect.
func (p *Printer) expected(f *forecast.Forecast, course string, on *interval.Estimate) {
	if on != nil {
		p.Para(fmt.Sprintf("%s on %s, hills and legal line included.", ClockInterval(*on), cmp.Or(Clean(course), "the course")), 0)
	}
	p.Para(fmt.Sprintf("%s on a level course on a mild day.", ClockInterval(f.Level)), 0)
	u := p.s.Units
	p.Para(fmt.Sprintf("Even effort is %s on the level (%s to %s). In brackets stands where nine finishes in ten should lie.",
		quantity.Pace(f.FlatPace.Value, u), quantity.Pace(f.FlatPace.Low, u), quantity.Pace(f.FlatPace.High, u)), 0)
	if f.From == "workouts" {
		p.Para("It stands on workouts, which are second best.", 0)
	}
}

// evidence lists the races and workouts, and what there is to say about them.
func (p *Printer) evidence(list []forecast.Evidence) {
	p.Heading("What it stands on")
	t := Table{Columns: []Column{{Head: "evidence"}, {Head: "date"}, {Head: "as run", Right: true}, {Head: "put right", Right: true}, {Head: "says", Right: true}, {Head: "counts", Right: true}}}
	var why []string
	for _, e := range list {
		row, about := evidenceRow(e, p.s.Units)
		t.Rows = append(t.Rows, row)
		if about != "" {
			why = append(why, row[0]+": "+about+".")
		}
	}
	p.Table(t)
	p.Points(why)
}

// models sets the models side by side, and says of each once what it stands on.
func (p *Printer) models(list []forecast.View) {
	p.Heading("Models side by side")
	t := Table{Columns: []Column{{Head: "model"}, {Head: "says", Right: true}, {Head: "in the figure"}, {Head: "from and note", Flex: true}}}
	var basis []string
	seen := map[string]bool{}
	for _, m := range list {
		used := ""
		if m.Used {
			used = "yes"
		}
		note := m.Note
		if m.From != "" {
			note = Clean(m.From) + ": " + note
		}
		t.Rows = append(t.Rows, []string{m.Name, quantity.Clock(m.Time), used, note})
		if !seen[m.Name] {
			seen[m.Name] = true
			basis = append(basis, fmt.Sprintf("%s: %s; %s; holds for efforts of %s to %s.", Capital(m.Name), m.Source, m.Basis, quantity.Clock(m.Least), quantity.Clock(m.Most)))
		}
	}
	p.Table(t)
	p.Blank()
	p.Points(basis)
}

// evidenceRow is a row of the table and what there is to say about it.
func evidenceRow(e forecast.Evidence, u quantity.Units) (row []string, about string) {
	name := Clean(e.Name)
	what := quantity.Distance(e.Distance, u)
	if e.Kind == "workout" {
		what = fmt.Sprintf("workout %d × %s", e.Repeats, what)
	}
	if name != "" {
		what = name + ", " + what
	}
	var why []string
	for _, s := range e.Steps {
		why = append(why, s.What+" "+quantity.Seconds(s.Seconds))
	}
	if e.ReadAs != "" {
		why = append(why, "read as "+e.ReadAs+" pace")
	}
	counts := ""
	if e.Counts > 0 {
		counts = quantity.Percent(e.Counts, 0)
		if e.Against {
			why = append(why, "counts against: with the others it tells the slowing with distance")
		}
	}
	if e.Why != "" {
		why = append(why, "not used: "+e.Why)
	}
	return []string{what, date(e.Date), quantity.Clock(e.Time), quantity.Clock(e.Corrected), quantity.Clock(e.Says), counts}, strings.Join(why, "; ")
}
