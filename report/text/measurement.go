package text

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"tautline/strategy/measure"
	"tautline/strategy/quantity"
)

// inFeet adds a length in feet for those who think in them.
func inFeet(m float64, u quantity.Units) string {
	if u != quantity.Imperial {
		return ""
	}
	return fmt.Sprintf(" (%.1f ft)", m/quantity.Foot)
}

// Sources numbers the sources of an account in the order they come up.
type Sources []string

// Number gives a source's number in brackets, "" for none.
func (s *Sources) Number(source string) string {
	if source == "" {
		return ""
	}
	i := slices.Index(*s, source)
	if i < 0 {
		i = len(*s)
		*s = append(*s, source)
	}
	return fmt.Sprintf("[%d]", i+1)
}

// Measurement prints a worked measurement: what to do, the account step by
// step, marks and splits, what to look at, where the rules come from.
func Measurement(s Screen, r *measure.Result) []byte {
	p := NewPrinter(s)
	p.Title("Measurement: " + cmp.Or(Clean(r.Title), "unnamed"))
	p.Blank()
	p.Para(MeasurementVerdict(r, s.Units), 0)
	var sources Sources
	p.measuringAccount(r, &sources)
	p.measuredPlaces(r)
	p.Heading("Look at")
	if len(r.Warnings) == 0 {
		p.Para(NothingStandsOut, 0)
	}
	p.Points(MeasurementWarnings(r, &sources))
	p.Heading("Rules and sources")
	for _, t := range MeasurementRules(r) {
		p.Para(t, 0)
	}
	p.sources(sources)
	p.Blank()
	p.Para(r.Caution, 0)
	return p.Bytes()
}

// measuringAccount prints the steps of a measurement, each section as a table.
func (p *Printer) measuringAccount(r *measure.Result, sources *Sources) {
	section := ""
	var t Table
	flush := func() {
		if len(t.Rows) > 0 {
			p.Heading(Capital(section))
			p.Table(t)
		}
	}
	for _, l := range r.Ledger() {
		if l.Section != section {
			flush()
			section = l.Section
			t = Table{Columns: []Column{{}, {Right: true}, {Flex: true}}}
		}
		how := l.How
		if n := sources.Number(l.Source); n != "" {
			how = strings.TrimSpace(how + " " + n)
		}
		t.Rows = append(t.Rows, []string{Line(l.Label), l.Figure(), Line(how)})
	}
	flush()
}

// measuredPlaces prints the marks that were read and the places to set out.
func (p *Printer) measuredPlaces(r *measure.Result) {
	if len(r.Marks) > 0 {
		p.Heading("Marks, from the start of the ride")
		t := Table{Columns: []Column{{Head: "mark"}, {Head: "lies at m", Right: true}, {Head: "rides", Right: true}, {Head: "differ by", Right: true}, {Head: "should be", Right: true}, {Head: "move"}}}
		for _, m := range r.Marks {
			t.Rows = append(t.Rows, MeasuredMark(m))
		}
		p.Table(t)
	}
	if len(r.Splits) > 0 {
		p.Heading("Places in " + r.Counter)
		t := Table{Columns: []Column{{Head: "at m", Right: true}, {Head: r.Counter + " from the start", Right: true}, {Head: "by the working constant", Right: true}, {Head: "reading in ride 1", Right: true}}}
		for _, x := range r.Splits {
			t.Rows = append(t.Rows, PlaceInCounts(x))
		}
		p.Table(t)
	}
}

// MeasuredMark is the row of a mark that was read in the rides: its name, where
// it lies, in how many rides, how far they differ, where it should be, and how
// to move it.
func MeasuredMark(m measure.MarkWork) []string {
	row := []string{Clean(m.Name), fmt.Sprintf("%.2f", m.Counted), fmt.Sprint(len(m.At)), "", "", ""}
	if len(m.At) > 1 {
		row[3] = fmt.Sprintf("%.3f %%", 100*m.Spread)
	}
	if m.Intended > 0 {
		row[4] = fmt.Sprintf("%.2f", m.Intended)
		switch {
		case math.Abs(m.Move) < 0.005:
			row[5] = "stays"
		case m.Move < 0:
			row[5] = fmt.Sprintf("%.2f m back", -m.Move)
		default:
			row[5] = fmt.Sprintf("%.2f m forward", m.Move)
		}
	}
	return row
}

// PlaceInCounts is the row of a place to be found with the counter: where it
// is, in counts from the start, by the working constant, as a reading.
func PlaceInCounts(x measure.Split) []string {
	reading := ""
	if x.Reading != nil {
		reading = fmt.Sprintf("%.1f", *x.Reading)
	}
	return []string{fmt.Sprintf("%.2f", x.At), fmt.Sprintf("%.1f", x.Counts), fmt.Sprintf("%.1f", x.Working), reading}
}

// NothingStandsOut is said of a measurement without warnings.
const NothingStandsOut = "Nothing stands out in these figures. A slip that two rides share would not."

// MeasurementWarnings says what to look at, each with its source.
func MeasurementWarnings(r *measure.Result, sources *Sources) []string {
	var out []string
	for _, w := range r.Warnings {
		out = append(out, strings.TrimSpace(Sentence(w.Text)+" "+sources.Number(w.Source)))
	}
	return out
}

// MeasurementRules says by whose rules a measurement was worked, what its sheet
// changes, and where its figures come from.
func MeasurementRules(r *measure.Result) []string {
	base := fmt.Sprintf("Worked by: %s, %s (%s)", r.Rules.Body, r.Rules.Document, r.Rules.Edition)
	if r.Rules.Note != "" {
		base += "; " + r.Rules.Note
	}
	out := []string{base + "."}
	for _, o := range r.Overrides {
		out = append(out, Sentence("the sheet changes: "+o))
	}
	if r.Source != "" {
		out = append(out, Sentence("the figures come from: "+r.Source))
	}
	return out
}

// sources lists numbered sources.
func (p *Printer) sources(list Sources) {
	for i, x := range list {
		head := fmt.Sprintf("%4s ", fmt.Sprintf("[%d]", i+1))
		for _, l := range Wrap(Line(x), p.s.Width-len(head), 0) {
			p.Line(head + l)
			head = strings.Repeat(" ", len(head))
		}
	}
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
		if math.Abs(a.Metres) < 0.005 {
			s += " That is the official distance; nothing is to be added or removed."
		} else {
			s += fmt.Sprintf(" %s %.2f m%s", Capital(AddOrRemove(a.Metres)), math.Abs(a.Metres), inFeet(math.Abs(a.Metres), u))
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
