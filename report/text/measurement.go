package text

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tautline/geo/interval"
	"tautline/strategy/adjust"
	"tautline/strategy/appraise"
	"tautline/strategy/eligible"
	"tautline/strategy/marks"
	"tautline/strategy/measure"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// inFeet adds a length in feet for those who think in them.
func inFeet(m float64, u quantity.Units) string {
	if u != quantity.Imperial {
		return ""
	}
	return fmt.Sprintf(" (%.1f ft)", m/quantity.Foot)
}

// sources numbers the sources of an account in the order they come up.
type sources []string

func (s *sources) number(text string) string {
	if text == "" {
		return ""
	}
	i := slices.Index(*s, text)
	if i < 0 {
		i = len(*s)
		*s = append(*s, text)
	}
	return fmt.Sprintf("[%d]", i+1)
}

// Measurement prints a worked measurement: what to do, the account step by
// step, marks and splits, what to look at, where the rules come from.
func Measurement(s Screen, r *measure.Result) []byte {
	p := &page{s: s}
	name := Clean(r.Title)
	if name == "" {
		name = "unnamed"
	}
	p.title("Measurement: " + name)
	p.blank()
	p.para(MeasurementVerdict(r, s.Units), 0)

	var src sources
	section := ""
	var t Table
	flush := func() {
		if len(t.Rows) > 0 {
			p.heading(Capital(section))
			p.table(t)
		}
	}
	for _, l := range r.Ledger() {
		if l.Section != section {
			flush()
			section = l.Section
			t = Table{Columns: []Column{{}, {Right: true}, {Flex: true}}}
		}
		how := l.How
		if n := src.number(l.Source); n != "" {
			how = strings.TrimSpace(how + " " + n)
		}
		t.Rows = append(t.Rows, []string{Line(l.Label), l.Figure(), Line(how)})
	}
	flush()

	if len(r.Marks) > 0 {
		p.heading("Marks, from the start of the ride")
		t := Table{Columns: []Column{{Head: "mark"}, {Head: "lies at m", Right: true}, {Head: "rides", Right: true}, {Head: "differ by", Right: true}, {Head: "should be", Right: true}, {Head: "move"}}}
		for _, m := range r.Marks {
			row := []string{Clean(m.Name), fmt.Sprintf("%.2f", m.Counted), fmt.Sprint(len(m.At)), "", "", ""}
			if len(m.At) > 1 {
				row[3] = fmt.Sprintf("%.3f %%", 100*m.Spread)
			}
			if m.Intended > 0 {
				row[4] = fmt.Sprintf("%.2f", m.Intended)
				row[5] = fmt.Sprintf("%.2f m %s", math.Abs(m.Move), forwardOrBack(m.Move))
				if math.Abs(m.Move) < 0.005 {
					row[5] = "stays"
				}
			}
			t.Rows = append(t.Rows, row)
		}
		p.table(t)
	}
	if len(r.Splits) > 0 {
		p.heading("Places in " + r.Counter)
		t := Table{Columns: []Column{{Head: "at m", Right: true}, {Head: r.Counter + " from the start", Right: true}, {Head: "by the working constant", Right: true}, {Head: "reading in ride 1", Right: true}}}
		for _, x := range r.Splits {
			reading := ""
			if x.Reading != nil {
				reading = fmt.Sprintf("%.1f", *x.Reading)
			}
			t.Rows = append(t.Rows, []string{fmt.Sprintf("%.2f", x.At), fmt.Sprintf("%.1f", x.Counts), fmt.Sprintf("%.1f", x.Working), reading})
		}
		p.table(t)
	}

	p.heading("Look at")
	if len(r.Warnings) == 0 {
		p.para("Nothing stands out in these figures. A slip that two rides share would not.", 0)
	}
	var list []string
	for _, w := range r.Warnings {
		list = append(list, strings.TrimSpace(Sentence(w.Text)+" "+src.number(w.Source)))
	}
	p.points(list)

	p.heading("Rules and sources")
	base := fmt.Sprintf("Worked by: %s, %s (%s)", r.Rules.Body, r.Rules.Document, r.Rules.Edition)
	if r.Rules.Note != "" {
		base += "; " + r.Rules.Note
	}
	p.para(base+".", 0)
	for _, o := range r.Overrides {
		p.para("The sheet changes: "+o+".", 0)
	}
	if r.Source != "" {
		p.para("The figures come from: "+Line(r.Source)+".", 0)
	}
	for i, x := range src {
		for j, l := range Wrap(Line(x), p.s.Width-5, 0) {
			head := fmt.Sprintf("%4s ", fmt.Sprintf("[%d]", i+1))
			if j > 0 {
				head = "     "
			}
			p.line(head + l)
		}
	}
	p.blank()
	p.para(r.Caution, 0)
	return p.b.Bytes()
}

func forwardOrBack(m float64) string {
	if m < 0 {
		return "back"
	}
	return "forward"
}

// MeasurementVerdict says what the course measures and what is to be done, in
// metres and, for those who think in them, also in feet.
func MeasurementVerdict(r *measure.Result, u quantity.Units) string {
	switch {
	case r.Laps != nil:
		return fmt.Sprintf("%s laps of %.3f m and %.2f m more make %.2f m.", trimmed(r.Laps.Laps), r.Laps.Lap, r.Laps.Remainder, r.Laps.Target)
	case r.Counted == 0:
		return "The sheet has calibration rides but no course ride yet: here are the constants."
	}
	rides, ride := "the rides", "ride"
	if r.Tape != nil {
		rides, ride = "the tapings", "taping"
	}
	s := fmt.Sprintf("The course measures %.2f m%s", r.Counted, inFeet(r.Counted, u))
	switch {
	case len(r.Rides) == 1:
		s += ", by one " + ride + "."
	case r.Agree:
		s += fmt.Sprintf("; %s agree within %.3f %%.", rides, 100*r.Spread)
	default:
		s += fmt.Sprintf(", but %s differ by %.3f %%, more than %.4g %%: the figures below do not count until that is settled.", rides, 100*r.Spread, 100*r.Tolerance)
	}
	if a := r.Adjust; a != nil {
		word := "Add"
		if a.Metres < 0 {
			word = "Remove"
		}
		switch {
		case math.Abs(a.Metres) < 0.005:
			s += " That is the official distance; nothing is to be added or removed."
		default:
			s += fmt.Sprintf(" %s %.2f m%s", word, math.Abs(a.Metres), inFeet(math.Abs(a.Metres), u))
			if a.Counts != 0 {
				s += fmt.Sprintf(", %.1f %s,", math.Abs(a.Counts), r.Counter)
			}
			s += fmt.Sprintf(" to come to %.2f m.", r.Official)
		}
	}
	if v := r.Verdict; v != nil {
		s += fmt.Sprintf(" The official distance is %.2f m: ", v.Official)
		switch v.Outcome {
		case measure.NotShort:
			s += fmt.Sprintf("the course is not short (%+.2f m).", v.Margin)
		case measure.Forgiven:
			s += fmt.Sprintf("the course is %.2f m short, within what this check allows (%.2f m).", -v.Margin, v.Official-v.Least)
		case measure.TooShort:
			s += fmt.Sprintf("the course is short by %.2f m, beyond the %.2f m that this check allows.", -v.Margin, v.Official-v.Least)
		default:
			s += "the rides do not agree, so this cannot be told."
		}
	}
	return s
}

func trimmed(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

// Marks prints a mark sheet.
func Marks(s Screen, r *race.Race, l *marks.List) []byte {
	p := &page{s: s}
	name := Clean(r.Name)
	if name == "" {
		name = "unnamed course"
	}
	p.title("Mark sheet: " + name)
	p.blank()
	p.para(fmt.Sprintf("%.2f m of official distance lie on %.2f m of the shortest legal line on the map: 1 m is %.5f m on the map.", l.Official, l.LineLength, l.Proportion), 0)
	if l.Known > 0 {
		pins := "pin"
		if l.Known == 1 {
			pins = "pins"
		}
		p.para(fmt.Sprintf("%s of known distance %s the line in between.", Plural(l.Known, "place"), pins), 0)
	}
	p.blank()
	t := Table{Columns: []Column{{Head: "mark"}, {Head: "m", Right: true}, {Head: "on the line", Right: true}, {Head: "between", Right: true}, {Head: "latitude, longitude"}, {Head: "where", Flex: true}}}
	for _, m := range l.Marks {
		between := "" // start and finish are where they are
		if m.Along.Width() > 0.05 {
			between = fmt.Sprintf("%.0f and %.0f", math.Floor(m.Along.Low), math.Ceil(m.Along.High))
		}
		t.Rows = append(t.Rows, []string{Clean(m.Name), fmt.Sprintf("%.1f", m.Official), fmt.Sprintf("%.1f", m.Along.Value), between,
			fmt.Sprintf("%.6f, %.6f", m.At.Lat, m.At.Lon), m.Where()})
	}
	p.table(t)
	p.blank()
	p.para("“Between” bounds the place if all of the difference between map and official distance lay before the mark, or all of it after. Metres to a turn are along the line, to the middle of the turn. Left and right are those of a runner; the clearance is what the line keeps from an edge, 30 cm from a kerb unless the race sheet says otherwise.", 0)
	p.heading("Cautions")
	p.points(append(sentences(r.Notes), marks.Caution))
	return p.b.Bytes()
}

// Appraisal prints what a race director has to know of a drawn course: the
// official length beside the line, the doubt of each turn, what restrictions
// are worth, where metres can be added, what a change does, and the rules on
// drop and separation.
func Appraisal(s Screen, a *appraise.Appraisal) []byte {
	p := &page{s: s}
	r := a.Race
	name := Clean(r.Name)
	if name == "" {
		name = "unnamed course"
	}
	p.title("Course against line: " + name)
	p.blank()
	if c := a.Compared; c != nil {
		p.para(ComparisonVerdict(a), 0)
		p.blank()
		what := "shortest line on the map"
		if c.OnSurface {
			what = "shortest line along the surface"
		}
		p.table(Table{Columns: []Column{{}, {Right: true}, {Right: true}, {Flex: true}}, Rows: [][]string{
			{"on the ground", fmt.Sprintf("%.1f m", c.Measured.Value), plusMinus(c.Measured), a.Basis},
			{what, fmt.Sprintf("%.1f m", c.Line.Value), plusMinus(c.Line), "doubt of width, corners and drawing together"},
			{"difference", fmt.Sprintf("%+.1f m", math.Round(c.Difference.Value*10)/10+0), plusMinus(c.Difference), "ground less line, 90 % interval"},
		}})
	} else {
		p.para(fmt.Sprintf("The shortest legal line is %.1f m on the map. Give the official distance or a measurement to compare it with.", r.Line.Length), 0)
	}

	if c := a.Certainty; c != nil {
		p.heading("What the map leaves open")
		p.table(Table{Columns: []Column{{}, {Right: true}}, Rows: [][]string{
			{"road wider or narrower", fmt.Sprintf("%+.1f or %+.1f m", c.Wider, c.Narrower)},
			{"corner kerbs rounder or sharper", fmt.Sprintf("%+.1f or %+.1f m", c.Rounder, c.Sharper)},
			{"drawing off its road", fmt.Sprintf("±%.1f m", c.Drawing)},
		}})
		p.heading("Turns that carry the most doubt")
		t := Table{Columns: []Column{{Head: "turn", Right: true}, {Head: "on the drawing", Right: true}, {Head: "width", Right: true}, {Head: "corner", Right: true}, {Head: "drawing", Right: true}, {Head: "together", Right: true}}}
		for _, x := range c.MostDoubtful(8) {
			number := fmt.Sprint(x.Turn)
			if x.Turn == 0 {
				number = "none"
			}
			t.Rows = append(t.Rows, []string{number, fmt.Sprintf("%.0f–%.0f m", x.From, x.To),
				fmt.Sprintf("±%.1f", math.Max(math.Abs(x.Wider), math.Abs(x.Narrower))), fmt.Sprintf("±%.1f", math.Max(math.Abs(x.Rounder), math.Abs(x.Sharper))),
				fmt.Sprintf("±%.1f", x.Drawing), fmt.Sprintf("±%.1f m", x.Half)})
		}
		p.table(t)
	}

	p.heading("What each restriction is worth")
	if len(a.Worths) == 0 {
		p.para("The race sheet has no restriction: no lane, gate or turn-around that could stand wrong.", 0)
	} else {
		t := Table{Columns: []Column{{Head: "restriction"}, {Head: "on the drawing", Right: true}, {Head: "turns"}, {Head: "adds", Right: true}, {Head: "lost per metre", Right: true}, {Flex: true}}}
		for _, w := range a.Worths {
			label := string(w.Item)
			if w.Index >= 0 {
				label += fmt.Sprintf(" %d", w.Index+1)
			}
			where := fmt.Sprintf("%.0f m", w.From)
			if w.To > w.From {
				where = fmt.Sprintf("%.0f–%.0f m", w.From, w.To)
			}
			per := "–"
			if !math.IsNaN(w.PerMetre) {
				per = fmt.Sprintf("%.1f m", w.PerMetre)
			}
			what := w.What
			if n := a.Name(w); n != "" {
				what = Clean(n) + ": " + what
			}
			t.Rows = append(t.Rows, []string{label, where, TurnNumbers(w.Turns), fmt.Sprintf("%+.1f m", w.Metres), per, what})
		}
		p.table(t)
		p.blank()
		p.para("Without the restriction the course is short by what it adds. “Lost per metre”: how much shorter the course gets when cones or line leave one metre more room. The first of the list must not move.", 0)
	}

	if len(a.Options) > 0 {
		word := "add"
		if a.Add < 0 {
			word = "remove"
		}
		p.heading(fmt.Sprintf("To %s %.2f m%s on the ground", word, math.Abs(a.Add), inFeet(math.Abs(a.Add), s.Units)))
		t := Table{Columns: []Column{{Head: "place"}, {Head: "move", Right: true}, {Head: "new place"}, {Flex: true}}}
		for _, o := range a.Options {
			note := o.Action + "; " + o.Marks
			if o.Beyond {
				note += "; the new place lies beyond the drawing, straight on: look whether there is road"
			}
			t.Rows = append(t.Rows, []string{string(o.Place), fmt.Sprintf("%+.2f m", o.Move), fmt.Sprintf("%.6f, %.6f", o.To.Lat, o.To.Lon), note})
		}
		p.table(t)
	}

	if c := a.Change; c != nil {
		p.heading("Before and after")
		p.para(fmt.Sprintf("The line was %.1f m and becomes %.1f m: %+.1f m.", c.Before, c.After, c.Metres), 0)
		if len(c.Pieces) > 0 {
			t := Table{Columns: []Column{{Head: "along the line before", Right: true}, {Head: "change", Right: true}, {Head: "apart up to", Right: true}, {Head: "turns before"}, {Head: "turns after"}}}
			for _, x := range c.Pieces {
				t.Rows = append(t.Rows, []string{fmt.Sprintf("%.0f–%.0f m", x.From, x.To), fmt.Sprintf("%+.1f m", x.Metres), fmt.Sprintf("%.1f m", x.Apart), TurnNumbers(x.Turns), TurnNumbers(x.NewTurns)})
			}
			p.table(t)
			p.para("Every mark after such a piece moves by its change.", 0)
		}
	}

	if a.Figures != nil {
		p.rules("Drop, and start to finish", "start to finish", *a.Figures, a.Findings)
	}
	for _, x := range a.OnTheWay {
		to := marks.Name(x.To)
		p.rules("Records at "+to, "start to "+to, x.Figures, x.Findings)
	}

	p.heading("Cautions")
	list := append(sentences(r.Notes), sentences(a.Notes)...)
	if a.Figures != nil {
		list = append(list, eligible.Caution)
	}
	p.points(append(list, adjust.Caution, measure.NeverCertifies))
	return p.b.Bytes()
}

// rules sets drop and separation beside the rules.
func (p *page) rules(title, ends string, f eligible.Figures, findings []eligible.Finding) {
	p.heading(title)
	rows := [][]string{{ends + ", straight", fmt.Sprintf("%.0f m", f.Separation.Value), fmt.Sprintf("%.1f %% of the distance", 100*f.Share.Value)}}
	if math.IsNaN(f.Drop.Value) {
		rows = append(rows, []string{"drop", "not known", "the drawing has no heights at both ends"})
	} else {
		rows = append(rows, []string{"drop", fmt.Sprintf("%.1f m", math.Round(10*f.Drop.Value)/10+0), fmt.Sprintf("%.2f m per km, between %.2f and %.2f", math.Round(100*f.DropPerKM.Value)/100+0, f.DropPerKM.Low, f.DropPerKM.High)})
	}
	p.table(Table{Columns: []Column{{}, {Right: true}, {Flex: true}}, Rows: rows})
	p.blank()
	t := Table{Columns: []Column{{Head: "for"}, {Head: "verdict"}, {Head: "rule and why", Flex: true}}}
	for _, x := range findings {
		why := fmt.Sprintf("%s, %s (%s): %s", x.Rule.Body, x.Rule.Document, x.Rule.Edition, x.Reason)
		if x.Rule.Note != "" {
			why += "; " + x.Rule.Note
		}
		t.Rows = append(t.Rows, []string{string(x.Rule.Use), string(x.Verdict), why})
	}
	p.table(t)
}

// plusMinus shows an interval around a value that stands beside it.
func plusMinus(e interval.Estimate) string {
	lo, hi := e.Value-e.Low, e.High-e.Value
	if lo == 0 && hi == 0 {
		return ""
	}
	if math.Abs(lo-hi) < 0.1 {
		return fmt.Sprintf("±%.1f", math.Max(lo, hi))
	}
	return fmt.Sprintf("-%.1f +%.1f", lo, hi)
}

// ComparisonVerdict says whether a length on the ground agrees with the line.
func ComparisonVerdict(a *appraise.Appraisal) string {
	c := a.Compared
	d := c.Difference
	if math.Abs(d.Value) < 0.05 {
		d.Value = 0 // not "-0.0"
	}
	subject, agrees := "The measured course", "The measured course agrees"
	if a.Announced {
		subject, agrees = "The official distance", "The official distance agrees"
	}
	switch c.Verdict {
	case adjust.Agrees:
		return fmt.Sprintf("%s with the shortest legal line: %+.1f m, and the map can tell that to %.1f m.", agrees, d.Value, d.Width()/2)
	case adjust.CannotTell:
		return fmt.Sprintf("Cannot tell: %s and the shortest legal line differ by %+.1f m, but that is known only to %.1f m here, more than 0.1 %% of the course. Better widths and corners at the turns below would help.", strings.ToLower(subject[:1])+subject[1:], d.Value, d.Width()/2)
	case adjust.Differs:
	}
	word := "longer"
	if d.Value < 0 {
		word = "shorter"
	}
	s := fmt.Sprintf("%s is %.1f m %s than the shortest legal line (between %+.1f and %+.1f m).", subject, math.Abs(d.Value), word, d.Low, d.High)
	if d.Value > 0 {
		return s + " Either the measuring ride did not take the shortest way, or a restriction that it kept to is missing from the race sheet, or the road is narrower than the sheet says, or the drawing is wrong: then the line here is too short. A runner who takes the line runs less than the official distance."
	}
	return s + " Either the distance is not measured on the shortest way of this road, or the measuring ride used road that the race sheet closes, or the road is wider than the sheet says, or the drawing is wrong."
}
