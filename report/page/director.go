package page

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tautline/report/drawing"
	"tautline/report/text"
	"tautline/strategy/adjust"
	"tautline/strategy/appraise"
	"tautline/strategy/eligible"
	placing "tautline/strategy/marks"
	"tautline/strategy/measure"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// tick is a box to tick by hand.
const tick = "☐"

// MarkSheet draws where the marks of a race go, with a sheet to take along.
func MarkSheet(r *race.Race, l *placing.List, o Options) (*Sheet, error) {
	u := o.Units
	s := newScene(r, u, o.Ground, nil, nil)
	for i, m := range l.Marks {
		s.Marks = append(s.Marks, drawing.Mark{At: m.Along.Value, Name: m.Name, Time: fmt.Sprintf("no. %d", i+1)})
	}
	s.Cones = cones(r)
	sheet := start("Mark sheet", r, s, o)
	sheet.Class = "marked"
	sheet.Figures = []Figure{
		{fmt.Sprint(len(l.Marks)), "marks", "numbered in the order they are run"},
		{text.Far(l.Official, u), "official distance", fmt.Sprintf("%.2f m", l.Official)},
		{text.Far(l.LineLength, u), "shortest legal line on the map", fmt.Sprintf("1 m is %.5f m on the map", l.Proportion)},
	}
	how := "Marks stand at the same share of the line on the map as of the official distance"
	if l.Known > 0 {
		how += fmt.Sprintf(", in between %s of known distance", text.Plural(l.Known, "place"))
	}
	sheet.Verdict = []string{how + ". " + placing.Caution}
	sheet.draw(s)
	sheet.Caption += " Every mark carries its number on the sheet below."
	if len(s.Cones) > 0 || coned(s) {
		sheet.Signs = append(sheet.Signs, Sign{coneSign, "cones"})
	}
	t := Table{ID: "mark-sheet", Title: "Mark sheet", Open: true, Form: true, Words: []int{1, 5, 6, 8},
		Head: []string{"no.", "mark", "official m", "on the line m", "between", "latitude, longitude", "where to find it", "set", "notes"},
		About: "Metres to a turn are along the line, to the middle of the turn; left and right are those of a runner. “Between” bounds the place on the line if all of the difference between map and official distance lay before the mark, or all of it behind. " +
			"The clearance is what the line keeps from an edge, 30 cm from a kerb unless the race sheet says otherwise."}
	for i, m := range l.Marks {
		between := ""
		if m.Along.Width() > 0.05 {
			between = fmt.Sprintf("%.0f–%.0f", math.Floor(m.Along.Low), math.Ceil(m.Along.High))
		}
		t.Rows = append(t.Rows, Row{At: m.Along.Value, HasAt: true, Cells: []string{fmt.Sprint(i + 1), text.Clean(m.Name), fmt.Sprintf("%.1f", m.Official), fmt.Sprintf("%.1f", m.Along.Value), between,
			fmt.Sprintf("%.6f, %.6f", m.At.Lat, m.At.Lon), m.Where(), tick, ""}})
	}
	sheet.Tables = append(sheet.Tables, t, turnTable(s, u))
	sheet.Sign = []string{"Set out by", "Date and time", "Checked by"}
	sheet.caution(r.Notes...)
	sheet.caution(placing.Caution, text.LengthCaution)
	return sheet, sheet.finish(s)
}

// turnTable lists the turns, so that the links of the strip map have a target.
func turnTable(s *drawing.Scene, u quantity.Units) Table {
	t := Table{ID: "turns", Title: "Turns", Head: []string{"turn", "at", "to the"}}
	for _, turn := range s.Turns {
		t.Rows = append(t.Rows, Row{ID: fmt.Sprintf("turn-%d", turn.Number), At: turn.At, HasAt: true, Cells: []string{fmt.Sprint(turn.Number), text.At(turn.At, u), sideWords(turn.Angle)}})
	}
	return t
}

// Measurement is a worked measurement as a sheet to print and sign. It has no
// map: a ride is counts.
func Measurement(m *measure.Result, o Options) (*Sheet, error) {
	miles := o.Units == quantity.Imperial
	title := text.Clean(m.Title)
	if title == "" {
		title = "unnamed"
	}
	sheet := &Sheet{Kind: "Measurement", Title: title}
	if m.Official > 0 {
		sheet.Block = append(sheet.Block, Cell{"official distance", fmt.Sprintf("%.2f m", m.Official)})
	}
	sheet.Block = append(sheet.Block, Cell{"worked by the rules of", m.Rules.Body})
	if o.Date != "" {
		sheet.Block = append(sheet.Block, Cell{"printed", o.Date})
	}
	if o.Source != "" {
		sheet.Block = append(sheet.Block, Cell{"sheet", text.Clean(o.Source)})
	}
	metres := func(v float64) string {
		if miles {
			return fmt.Sprintf("%.2f m (%.1f ft)", v, v/quantity.Foot)
		}
		return fmt.Sprintf("%.2f m", v)
	}
	if m.Counted > 0 {
		note := fmt.Sprintf("by %s", text.Plural(len(m.Rides), "ride"))
		if m.Tape != nil {
			note = fmt.Sprintf("by %s", text.Plural(len(m.Rides), "taping"))
		}
		if len(m.Rides) > 1 {
			note += fmt.Sprintf(", %.3f %% apart", 100*m.Spread)
		}
		sheet.Figures = append(sheet.Figures, Figure{metres(m.Counted), "length that counts", note})
	}
	if a := m.Adjust; a != nil && math.Abs(a.Metres) >= 0.005 {
		word := "to add"
		if a.Metres < 0 {
			word = "to remove"
		}
		note := ""
		if a.Counts != 0 {
			note = fmt.Sprintf("%.1f %s", math.Abs(a.Counts), m.Counter)
		}
		sheet.Figures = append(sheet.Figures, Figure{metres(math.Abs(a.Metres)), word, note})
	}
	sheet.Verdict = []string{text.MeasurementVerdict(m, o.Units), m.Caution}

	var sources []string
	source := func(s string) string {
		if s == "" {
			return ""
		}
		i := slices.Index(sources, s)
		if i < 0 {
			i, sources = len(sources), append(sources, s)
		}
		return fmt.Sprintf("[%d]", i+1)
	}
	ledger := Table{ID: "ledger-table", Title: "Account, step by step", Open: true, Words: []int{0, 2, 3}, Head: []string{"step", "figure", "how", "rule"}}
	section := ""
	for _, l := range m.Ledger() {
		if l.Section != section {
			section = l.Section
			ledger.Rows = append(ledger.Rows, Row{Section: true, Cells: []string{text.Capital(section), "", "", ""}})
		}
		ledger.Rows = append(ledger.Rows, Row{Cells: []string{text.Line(l.Label), l.Figure(), text.Line(l.How), source(l.Source)}})
	}
	sheet.Tables = append(sheet.Tables, ledger)
	if len(m.Marks) > 0 {
		t := Table{ID: "marks", Title: "Marks, from the start of the ride", Open: true, Words: []int{0, 5}, Head: []string{"mark", "lies at m", "rides", "differ by", "should be", "move"}}
		for _, x := range m.Marks {
			row := []string{text.Clean(x.Name), fmt.Sprintf("%.2f", x.Counted), fmt.Sprint(len(x.At)), "", "", ""}
			if len(x.At) > 1 {
				row[3] = fmt.Sprintf("%.3f %%", 100*x.Spread)
			}
			if x.Intended > 0 {
				row[4] = fmt.Sprintf("%.2f", x.Intended)
				switch {
				case math.Abs(x.Move) < 0.005:
					row[5] = "stays"
				case x.Move < 0:
					row[5] = fmt.Sprintf("%.2f m back", -x.Move)
				default:
					row[5] = fmt.Sprintf("%.2f m forward", x.Move)
				}
			}
			t.Rows = append(t.Rows, Row{Cells: row})
		}
		sheet.Tables = append(sheet.Tables, t)
	}
	if len(m.Splits) > 0 {
		t := Table{ID: "splits", Title: "Places in " + m.Counter, Open: true, Words: []int{5},
			Head: []string{"at m", m.Counter + " from the start", "by the working constant", "reading in ride 1", "set", "notes"}}
		for _, x := range m.Splits {
			reading := ""
			if x.Reading != nil {
				reading = fmt.Sprintf("%.1f", *x.Reading)
			}
			t.Rows = append(t.Rows, Row{Cells: []string{fmt.Sprintf("%.2f", x.At), fmt.Sprintf("%.1f", x.Counts), fmt.Sprintf("%.1f", x.Working), reading, tick, ""}})
		}
		sheet.Tables = append(sheet.Tables, t)
	}
	look := List{Title: "Look at"}
	for _, w := range m.Warnings {
		look.Items = append(look.Items, strings.TrimSpace(text.Sentence(w.Text)+" "+source(w.Source)))
	}
	if len(look.Items) == 0 {
		look.Items = []string{"Nothing stands out in these figures. A slip that two rides share would not."}
	}
	rules := List{Title: "Rules and sources"}
	base := fmt.Sprintf("Worked by: %s, %s (%s)", m.Rules.Body, m.Rules.Document, m.Rules.Edition)
	if m.Rules.Note != "" {
		base += "; " + m.Rules.Note
	}
	rules.Items = append(rules.Items, base+".")
	for _, x := range m.Overrides {
		rules.Items = append(rules.Items, text.Sentence("the sheet changes: "+x))
	}
	if m.Source != "" {
		rules.Items = append(rules.Items, text.Sentence("the figures come from: "+m.Source))
	}
	for i, x := range sources {
		rules.Items = append(rules.Items, fmt.Sprintf("[%d] %s", i+1, text.Line(x)))
	}
	sheet.Lists = append(sheet.Lists, look, rules)
	sheet.Sign = []string{"Measured by", "Date", "Second rider", "Signature", "Notes", ""}
	return sheet, nil
}

// letter names the restrictions of a map: A to Z, then AA.
func letter(i int) string {
	if i < 26 {
		return string(rune('A' + i))
	}
	return letter(i/26-1) + letter(i%26)
}

// slight is the worth below which a restriction is not called out, m: lines
// and cones cannot be set more exactly.
const slight = 0.5

// Appraisal draws the official length beside the line: the turns that carry
// the doubt, what each restriction is worth, where metres can be added.
func Appraisal(a *appraise.Appraisal, o Options) (*Sheet, error) {
	r, u := a.Race, o.Units
	s := newScene(r, u, o.Ground, nil, nil)
	s.Marks = marksFar(r, u)
	s.Cones = cones(r)
	sheet := start("Course against line", r, s, o)
	metre := func(v float64) string { return fmt.Sprintf("%.1f m", v) }
	signed := func(v float64) string { return fmt.Sprintf("%+.1f m", math.Round(v*10)/10+0) }
	// Lengths of this page are all in metres: what they settle is settled with a
	// tape.
	if c := a.Compared; c != nil {
		sheet.Figures = append(sheet.Figures,
			Figure{metre(c.Measured.Value), "on the ground", text.Line(a.Basis)},
			Figure{metre(c.Line.Value), map[bool]string{true: "shortest line along the surface", false: "shortest line on the map"}[c.OnSurface], fmt.Sprintf("90 %%: %.1f to %.1f m", c.Line.Low, c.Line.High)},
			Figure{signed(c.Difference.Value), "ground less line", fmt.Sprintf("90 %%: %+.1f to %+.1f m", c.Difference.Low, c.Difference.High)})
		sheet.Verdict = append(sheet.Verdict, text.ComparisonVerdict(a))
	} else {
		sheet.Figures = append(sheet.Figures, Figure{metre(r.Line.Length), "shortest line on the map", ""})
		sheet.Verdict = append(sheet.Verdict, "Give the official distance or a measurement to compare the line with.")
	}

	if c := a.Certainty; c != nil {
		value := make([]float64, len(s.Turns))
		for _, x := range c.Turns {
			if k := x.Turn - 1; k >= 0 && k < len(value) {
				value[k] = x.Half
			}
		}
		sheet.WorstSay, sheet.WorstWhy = "Turns that carry the most doubt", "By so much the line may be off there, half way to the neighbouring turns: width, corner kerbs and drawing together. Better ones are worth measuring there first. A corner of several laps counts once."
		rank(s, sheet, quantity.Metric, onceEach(r, value), func(i int) (string, string) { return fmt.Sprintf("±%.1f m", value[i]), "" })
	}

	worths := Table{ID: "restrictions", Title: "What each restriction is worth", Open: true, Words: []int{1, 6},
		Head:  []string{"", "restriction", "along the line", "turns", "adds", "lost per metre", "what it is"},
		About: "Without the restriction the course is short by what it adds. “Lost per metre”: how much shorter the course gets when cones or line leave one metre more room. The first of the list must not move."}
	for i, w := range a.Worths {
		from, to := r.Line.AlongAt(w.From), r.Line.AlongAt(w.To)
		name := text.Clean(a.Name(w))
		label := string(w.Item)
		if w.Index >= 0 {
			label += fmt.Sprintf(" %d", w.Index+1)
		}
		per := quantity.None
		if !math.IsNaN(w.PerMetre) {
			per = metre(w.PerMetre)
		}
		where := text.At(from, u)
		if w.To > w.From {
			where = quantity.DistanceFixed(from, u, 2) + "–" + text.At(to, u)
		}
		if name != "" {
			label += ", " + name
		}
		worths.Rows = append(worths.Rows, Row{At: (from + to) / 2, HasAt: true, Cells: []string{letter(i), label, where, text.TurnNumbers(w.Turns), signed(w.Metres), per, w.What}})
		if w.Index >= 0 {
			s.Spans = append(s.Spans, drawing.Span{From: from, To: to, Class: "span-worth", Name: fmt.Sprintf("%s, %s: %s", letter(i), label, signed(w.Metres))})
			s.Marks = append(s.Marks, drawing.Mark{At: (from + to) / 2, Name: letter(i), Time: signed(w.Metres), Kind: drawing.Name})
		}
	}
	switch {
	case len(a.Worths) == 0:
		sheet.Verdict = append(sheet.Verdict, "The race sheet has no restriction: no lane, gate or turn-around that could stand wrong.")
	case a.Worths[0].Metres >= slight:
		w := a.Worths[0]
		t := fmt.Sprintf("Most depends on %s, %s: without it the course is %.1f m short", letter(0), worths.Rows[0].Cells[1], w.Metres)
		if r.Sheet.LapCount() > 1 {
			t += " each time it is passed"
		}
		if !math.IsNaN(w.PerMetre) && w.PerMetre >= 0.05 {
			t += fmt.Sprintf(", and it loses %.1f m for every metre that its cones or its line stand too far out", w.PerMetre)
		}
		sheet.Verdict = append(sheet.Verdict, t+". It must not move.")
	default:
		sheet.Verdict = append(sheet.Verdict, fmt.Sprintf("No restriction is worth more than %.1f m here: the shortest line hardly touches them.", math.Max(0, a.Worths[0].Metres)))
	}

	var moved Table
	if c := a.Change; c != nil {
		sheet.Figures = append(sheet.Figures, Figure{signed(c.Metres), "by the change", fmt.Sprintf("%.1f m before, %.1f m after", c.Before, c.After)})
		moved = Table{ID: "change", Title: "Before and after", Open: true, Head: []string{"along the line before", "change", "apart up to", "turns before", "turns after"},
			About: fmt.Sprintf("The line was %.1f m and becomes %.1f m: %s. Every mark after such a piece moves by its change.", c.Before, c.After, signed(c.Metres))}
		for _, x := range c.Pieces {
			mid := (x.From + x.To) / 2
			moved.Rows = append(moved.Rows, Row{At: mid, HasAt: true, Cells: []string{quantity.DistanceFixed(x.From, u, 2) + "–" + text.At(x.To, u), signed(x.Metres), metre(x.Apart), text.TurnNumbers(x.Turns), text.TurnNumbers(x.NewTurns)}})
			s.Spans = append(s.Spans, drawing.Span{From: x.From, To: x.To, Left: true, Class: "span-changed", Name: "changed by " + signed(x.Metres)})
			s.Marks = append(s.Marks, drawing.Mark{At: mid, Name: "change", Time: signed(x.Metres), Kind: drawing.Name})
		}
		if len(c.Pieces) == 0 {
			sheet.Verdict = append(sheet.Verdict, "The change leaves the shortest line where it was.")
		}
	}
	slices.SortStableFunc(s.Marks, func(a, b drawing.Mark) int { return int(math.Copysign(1, a.At-b.At)) })
	sheet.draw(s)
	if len(s.Cones) > 0 || coned(s) {
		sheet.Signs = append(sheet.Signs, Sign{coneSign, "cones"})
	}
	if len(s.Spans) > 0 && len(a.Worths) > 0 {
		sheet.Signs = append(sheet.Signs, Sign{worthSign, "right of the road: a restriction, its letter and what it adds"})
	}
	if len(moved.Rows) > 0 {
		sheet.Signs = append(sheet.Signs, Sign{worthSign, "left of the road: " + changedWords})
	}

	if len(worths.Rows) > 0 {
		sheet.Tables = append(sheet.Tables, worths)
	}
	if a.Change != nil {
		sheet.Tables = append(sheet.Tables, moved)
	}
	if len(a.Options) > 0 {
		word := "add"
		if a.Add < 0 {
			word = "remove"
		}
		t := Table{ID: "options", Title: fmt.Sprintf("To %s %.2f m on the ground", word, math.Abs(a.Add)), Open: true, Words: []int{0, 3}, Head: []string{"place", "move", "new place", "how"}}
		for _, x := range a.Options {
			how := x.Action + "; " + x.Marks
			if x.Beyond {
				how += "; the new place lies beyond the drawing, straight on: look whether there is road"
			}
			t.Rows = append(t.Rows, Row{Cells: []string{string(x.Place), fmt.Sprintf("%+.2f m", x.Move), fmt.Sprintf("%.6f, %.6f", x.To.Lat, x.To.Lon), how}})
		}
		sheet.Tables = append(sheet.Tables, t)
	}
	sheet.Tables = append(sheet.Tables, doubtTables(a, s, u)...)
	if a.Figures != nil {
		sheet.Tables = append(sheet.Tables, rulesTable("rules", "Drop, and start to finish, against the rules", "Start and finish", *a.Figures, a.Findings))
	}
	for i, x := range a.OnTheWay {
		to := placing.Name(x.To)
		sheet.Tables = append(sheet.Tables, rulesTable(fmt.Sprintf("rules-%d", i+1), "Records at "+to+" against the rules", "Start and "+to, x.Figures, x.Findings))
	}
	sheet.caution(r.Notes...)
	sheet.caution(a.Notes...)
	if a.Figures != nil {
		sheet.caution(eligible.Caution)
	}
	sheet.caution(adjust.Caution, measure.NeverCertifies)
	return sheet, sheet.finish(s)
}

// marksFar are the kilometres or miles alone: an appraisal's margin is for
// what restrictions are worth.
func marksFar(r *race.Race, u quantity.Units) []drawing.Mark {
	return slices.DeleteFunc(marks(r, u), func(m drawing.Mark) bool { return m.Kind != drawing.Distance })
}

// doubtTables are what the map leaves open, in all and at every turn.
func doubtTables(a *appraise.Appraisal, s *drawing.Scene, u quantity.Units) []Table {
	c := a.Certainty
	if c == nil {
		return []Table{turnTable(s, u)}
	}
	open := Table{ID: "doubts", Title: "What the map leaves open", Open: true, Words: []int{0}, Head: []string{"", "the line changes by"}, Rows: []Row{
		{Cells: []string{"road wider or narrower", fmt.Sprintf("%+.1f or %+.1f m", c.Wider, c.Narrower)}},
		{Cells: []string{"corner kerbs rounder or sharper", fmt.Sprintf("%+.1f or %+.1f m", c.Rounder, c.Sharper)}},
		{Cells: []string{"drawing off its road", fmt.Sprintf("±%.1f m", c.Drawing)}},
	}}
	turns := Table{ID: "turns", Title: "Turns and their doubt", Open: true, Head: []string{"turn", "at", "to the", "width", "corner", "drawing", "together"},
		About: "By how many metres the line may be off between half way from the turn before and half way to the next."}
	of := map[int]adjust.Share{}
	for _, x := range c.Turns {
		of[x.Turn] = x
	}
	for _, t := range s.Turns {
		x := of[t.Number]
		turns.Rows = append(turns.Rows, Row{ID: fmt.Sprintf("turn-%d", t.Number), At: t.At, HasAt: true, Rank: t.Rank, Cells: []string{fmt.Sprint(t.Number), text.At(t.At, u), sideWords(t.Angle),
			fmt.Sprintf("±%.1f", math.Max(math.Abs(x.Wider), math.Abs(x.Narrower))), fmt.Sprintf("±%.1f", math.Max(math.Abs(x.Rounder), math.Abs(x.Sharper))),
			fmt.Sprintf("±%.1f", x.Drawing), fmt.Sprintf("±%.1f m", x.Half)}})
	}
	return []Table{open, turns}
}

// rulesTable sets drop and separation beside the rules.
func rulesTable(id, title, ends string, f eligible.Figures, findings []eligible.Finding) Table {
	about := fmt.Sprintf("%s lie %.0f m apart in a straight line, %.1f %% of the distance", ends, f.Separation.Value, 100*f.Share.Value)
	if math.IsNaN(f.Drop.Value) {
		about += "; the drawing has no heights at both ends, so the drop is not known."
	} else {
		about += fmt.Sprintf("; the drop is %.1f m, %.2f m per km (90 %%: %.2f to %.2f).", f.Drop.Value, f.DropPerKM.Value, f.DropPerKM.Low, f.DropPerKM.High)
	}
	t := Table{ID: id, Title: title, Open: id == "rules", Words: []int{0, 1, 2, 3}, Head: []string{"for", "verdict", "rule", "why"}, About: about}
	for _, x := range findings {
		why := x.Reason
		if x.Rule.Note != "" {
			why += "; " + x.Rule.Note
		}
		t.Rows = append(t.Rows, Row{Cells: []string{string(x.Rule.Use), string(x.Verdict), fmt.Sprintf("%s, %s (%s)", x.Rule.Body, x.Rule.Document, x.Rule.Edition), why}})
	}
	return t
}
