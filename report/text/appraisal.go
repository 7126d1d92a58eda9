package text

import (
	"fmt"
	"math"
	"strings"

	"tautline/geo/interval"
	"tautline/strategy/adjust"
	"tautline/strategy/appraise"
	"tautline/strategy/eligible"
	"tautline/strategy/marks"
	"tautline/strategy/measure"
	"tautline/strategy/quantity"
)

// Appraisal prints what a race director has to know of a drawn course: the
// official length beside the line, the doubt of each turn, what restrictions
// are worth, where metres can be added, what a change does, and the rules on
// drop and separation. Lengths are all in metres: what they settle is settled
// with a tape.
func Appraisal(s Screen, a *appraise.Appraisal) []byte {
	p := NewPrinter(s)
	p.Title("Course against line: " + CourseName(a.Race.Name))
	p.Blank()
	p.comparison(a)
	if a.Certainty != nil {
		p.openDoubt(a.Certainty)
	}
	p.restrictions(a)
	if len(a.Options) > 0 {
		p.Heading(fmt.Sprintf("To %s %.2f m%s on the ground", AddOrRemove(a.Add), math.Abs(a.Add), inFeet(math.Abs(a.Add), s.Units)))
		p.options(a.Options)
	}
	if a.Change != nil {
		p.change(a.Change)
	}
	if a.Figures != nil {
		p.rules("Drop, and start to finish", "start to finish", *a.Figures, a.Findings)
	}
	for _, x := range a.OnTheWay {
		to := marks.Name(x.To)
		p.rules("Records at "+to, "start to "+to, x.Figures, x.Findings)
	}
	p.Heading("Cautions")
	list := append(sentences(a.Race.Notes), sentences(a.Notes)...)
	if a.Figures != nil {
		list = append(list, eligible.Caution)
	}
	p.Points(append(list, adjust.Caution, measure.NeverCertifies))
	return p.Bytes()
}

// comparison sets the length on the ground beside the line.
func (p *Printer) comparison(a *appraise.Appraisal) {
	c := a.Compared
	if c == nil {
		p.Para(fmt.Sprintf("The shortest legal line is %s on the map. Give the official distance or a measurement to compare it with.", Metres(a.Race.Line.Length)), 0)
		return
	}
	p.Para(ComparisonVerdict(a), 0)
	p.Blank()
	p.Table(Table{Columns: []Column{{}, {Right: true}, {Right: true}, {Flex: true}}, Rows: [][]string{
		{"on the ground", Metres(c.Measured.Value), plusMinus(c.Measured), a.Basis},
		{ComparedLine(c), Metres(c.Line.Value), plusMinus(c.Line), "doubt of width, corners and drawing together"},
		{"difference", SignedMetres(c.Difference.Value), plusMinus(c.Difference), "ground less line, 90 % interval"},
	}})
}

// ComparedLine names the line that a length on the ground is compared with.
func ComparedLine(c *adjust.Comparison) string {
	if c.OnSurface {
		return "shortest line along the surface"
	}
	return "shortest line on the map"
}

// mostDoubtful is how many turns the terminal lists by their doubt.
const mostDoubtful = 8

// openDoubt says what the map leaves open, in all and where most of it is.
func (p *Printer) openDoubt(c *adjust.Certainty) {
	p.Heading("What the map leaves open")
	p.Table(Table{Columns: []Column{{}, {Right: true}}, Rows: OpenDoubts(c)})
	p.Heading("Turns that carry the most doubt")
	t := Table{Columns: []Column{{Head: "turn", Right: true}, {Head: "on the drawing", Right: true}, {Head: "width", Right: true}, {Head: "corner", Right: true}, {Head: "drawing", Right: true}, {Head: "together", Right: true}}}
	for _, x := range c.MostDoubtful(mostDoubtful) {
		number := fmt.Sprint(x.Turn)
		if x.Turn == 0 {
			number = "none"
		}
		width, corner, drawing, together := TurnDoubt(x)
		t.Rows = append(t.Rows, []string{number, fmt.Sprintf("%.0f–%.0f m", x.From, x.To), width, corner, drawing, together})
	}
	p.Table(t)
}

// OpenDoubts are the rows of what the map leaves open: of what, and by how much
// the line changes with it.
func OpenDoubts(c *adjust.Certainty) [][]string {
	return [][]string{
		{"road wider or narrower", fmt.Sprintf("%+.1f or %+.1f m", c.Wider, c.Narrower)},
		{"corner kerbs rounder or sharper", fmt.Sprintf("%+.1f or %+.1f m", c.Rounder, c.Sharper)},
		{"drawing off its road", fmt.Sprintf("±%.1f m", c.Drawing)},
	}
}

// TurnDoubt is the doubt of one turn by its causes, and together.
func TurnDoubt(x adjust.Share) (width, corner, drawing, together string) {
	either := func(a, b float64) string { return fmt.Sprintf("±%.1f", math.Max(math.Abs(a), math.Abs(b))) }
	return either(x.Wider, x.Narrower), either(x.Rounder, x.Sharper), fmt.Sprintf("±%.1f", x.Drawing), fmt.Sprintf("±%.1f m", x.Half)
}

// Sentences about restrictions, on the terminal and on the page.
const (
	NoRestriction     = "The race sheet has no restriction: no lane, gate or turn-around that could stand wrong."
	AboutRestrictions = "Without the restriction the course is short by what it adds. “Lost per metre”: how much shorter the course gets when cones or line leave one metre more room, or a turn-around stands one metre too early. The list begins with what loses most when it stands wrong: the first of the list must not move."
)

// restrictions says what each restriction of the road is worth.
func (p *Printer) restrictions(a *appraise.Appraisal) {
	p.Heading("What each restriction is worth")
	if len(a.Worths) == 0 {
		p.Para(NoRestriction, 0)
		return
	}
	t := Table{Columns: []Column{{Head: "restriction"}, {Head: "on the drawing", Right: true}, {Head: "turns"}, {Head: "adds", Right: true}, {Head: "lost per metre", Right: true}, {Flex: true}}}
	for _, w := range a.Worths {
		where := fmt.Sprintf("%.0f m", w.From)
		if w.To > w.From {
			where = fmt.Sprintf("%.0f–%.0f m", w.From, w.To)
		}
		what := w.What
		if n := a.Name(w); n != "" {
			what = Clean(n) + ": " + what
		}
		t.Rows = append(t.Rows, []string{Restriction(w), where, TurnNumbers(w.Turns), SignedMetres(w.Metres), LostPerMetre(w), what})
	}
	p.Table(t)
	p.Blank()
	p.Para(AboutRestrictions, 0)
}

// Restriction names a restriction by its place in the race sheet: "stretch 2".
func Restriction(w adjust.Worth) string {
	if w.Index < 0 {
		return string(w.Item)
	}
	return fmt.Sprintf("%s %d", w.Item, w.Index+1)
}

// LostPerMetre is what a metre more room at a restriction costs, a dash where
// there is nothing to move by metres.
func LostPerMetre(w adjust.Worth) string {
	if math.IsNaN(w.PerMetre) {
		return quantity.None
	}
	return Metres(w.PerMetre)
}

// AddOrRemove is what is to be done about metres that are missing, below zero
// too many.
func AddOrRemove(metres float64) string {
	if metres < 0 {
		return "remove"
	}
	return "add"
}

// options lists where metres can be added.
func (p *Printer) options(list []adjust.Option) {
	t := Table{Columns: []Column{{Head: "place"}, {Head: "move", Right: true}, {Head: "new place"}, {Flex: true}}}
	for _, o := range list {
		t.Rows = append(t.Rows, Move(o))
	}
	p.Table(t)
}

// Move is the row of a way to add metres: what moves, by how much, to where,
// and how.
func Move(o adjust.Option) []string {
	how := o.Action + "; " + o.Marks
	if o.Beyond {
		how += "; the new place lies beyond the drawing, straight on: look whether there is road"
	}
	return []string{string(o.Place), fmt.Sprintf("%+.2f m", o.Move), LatLon(o.To), how}
}

// change says where two lines part.
func (p *Printer) change(c *adjust.Change) {
	p.Heading("Before and after")
	p.Para(fmt.Sprintf("The line was %s and becomes %s: %s.", Metres(c.Before), Metres(c.After), SignedMetres(c.Metres)), 0)
	if len(c.Pieces) == 0 {
		return
	}
	t := Table{Columns: []Column{{Head: "along the line before", Right: true}, {Head: "change", Right: true}, {Head: "apart up to", Right: true}, {Head: "turns before"}, {Head: "turns after"}}}
	for _, x := range c.Pieces {
		t.Rows = append(t.Rows, []string{fmt.Sprintf("%.0f–%.0f m", x.From, x.To), SignedMetres(x.Metres), Metres(x.Apart), TurnNumbers(x.Turns), TurnNumbers(x.NewTurns)})
	}
	p.Table(t)
	p.Para("Every mark after such a piece moves by its change.", 0)
}

// rules sets drop and separation beside the rules.
func (p *Printer) rules(title, ends string, f eligible.Figures, findings []eligible.Finding) {
	p.Heading(title)
	rows := [][]string{{ends + ", straight", fmt.Sprintf("%.0f m", f.Separation.Value), fmt.Sprintf("%.1f %% of the distance", 100*f.Share.Value)}}
	if math.IsNaN(f.Drop.Value) {
		rows = append(rows, []string{"drop", "not known", "the drawing has no heights at both ends"})
	} else {
		rows = append(rows, []string{"drop", fmt.Sprintf("%.1f m", math.Round(10*f.Drop.Value)/10+0), fmt.Sprintf("%.2f m per km, between %.2f and %.2f", math.Round(100*f.DropPerKM.Value)/100+0, f.DropPerKM.Low, f.DropPerKM.High)})
	}
	p.Table(Table{Columns: []Column{{}, {Right: true}, {Flex: true}}, Rows: rows})
	p.Blank()
	t := Table{Columns: []Column{{Head: "for"}, {Head: "verdict"}, {Head: "rule and why", Flex: true}}}
	for _, x := range findings {
		rule, why := RuleAndWhy(x)
		t.Rows = append(t.Rows, []string{string(x.Rule.Use), string(x.Verdict), rule + ": " + why})
	}
	p.Table(t)
}

// RuleAndWhy names a rule and says why it is met or not.
func RuleAndWhy(x eligible.Finding) (rule, why string) {
	why = x.Reason
	if x.Rule.Note != "" {
		why += "; " + x.Rule.Note
	}
	return fmt.Sprintf("%s, %s (%s)", x.Rule.Body, x.Rule.Document, x.Rule.Edition), why
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
