package page

import (
	"cmp"
	"fmt"
	"math"

	"tautline/report/text"
	"tautline/strategy/measure"
	"tautline/strategy/quantity"
)

// Measurement is a worked measurement as a sheet to print and sign. It has no
// map: a ride is counts.
func Measurement(m *measure.Result, o Options) (*Sheet, error) {
	sheet := &Sheet{Kind: "Measurement", Title: cmp.Or(text.Clean(m.Title), "unnamed")}
	if m.Official > 0 {
		sheet.cell("official distance", fmt.Sprintf("%.2f m", m.Official))
	}
	sheet.cell("worked by the rules of", m.Rules.Body)
	sheet.cell("printed", o.Date)
	sheet.cell("sheet", text.Clean(o.Source))
	sheet.measuredFigures(m, o.Units)
	sheet.say(text.MeasurementVerdict(m, o.Units), m.Caution)
	var sources text.Sources
	sheet.table(accountTable(m, &sources))
	if len(m.Marks) > 0 {
		t := Table{ID: "marks", Title: "Marks, from the start of the ride", Open: true, Blocks: true, Words: []int{0, 5}, Head: []string{"mark", "lies at m", "rides", "differ by", "should be", "move"}}
		for _, x := range m.Marks {
			t.Rows = append(t.Rows, Row{Cells: text.MeasuredMark(x)})
		}
		sheet.table(t)
	}
	if len(m.Splits) > 0 {
		t := Table{ID: "splits", Title: "Places in " + m.Counter, Open: true, Blocks: true, Words: []int{5},
			Head: []string{"at m", m.Counter + " from the start", "by the working constant", "reading in ride 1", "set", "notes"}}
		for _, x := range m.Splits {
			t.Rows = append(t.Rows, Row{Cells: append(text.PlaceInCounts(x), tick, "")})
		}
		sheet.table(t)
	}
	look := List{"Look at", text.MeasurementWarnings(m, &sources)}
	if len(look.Items) == 0 {
		look.Items = []string{text.NothingStandsOut}
	}
	rules := List{"Rules and sources", text.MeasurementRules(m)}
	for i, x := range sources {
		rules.Items = append(rules.Items, fmt.Sprintf("[%d] %s", i+1, text.Line(x)))
	}
	sheet.Lists = append(sheet.Lists, look, rules)
	sheet.Sign = []string{"Measured by", "Date", "Second rider", "Signature", "Notes", ""}
	return sheet, nil
}

// measuredFigures are the length that counts and what is to be added.
func (sheet *Sheet) measuredFigures(m *measure.Result, u quantity.Units) {
	metres := func(v float64) string {
		if u == quantity.Imperial {
			return fmt.Sprintf("%.2f m (%.1f ft)", v, v/quantity.Foot)
		}
		return fmt.Sprintf("%.2f m", v)
	}
	if m.Counted > 0 {
		what := "ride"
		if m.Tape != nil {
			what = "taping"
		}
		note := "by " + text.Plural(len(m.Rides), what)
		if len(m.Rides) > 1 {
			note += fmt.Sprintf(", %.3f %% apart", 100*m.Spread)
		}
		sheet.figure(metres(m.Counted), "length that counts", note)
	}
	if a := m.Adjust; a != nil && math.Abs(a.Metres) >= 0.005 {
		note := ""
		if a.Counts != 0 {
			note = fmt.Sprintf("%.1f %s", math.Abs(a.Counts), m.Counter)
		}
		sheet.figure(metres(math.Abs(a.Metres)), "to "+text.AddOrRemove(a.Metres), note)
	}
}

// accountTable is every step of a measurement with the rule that it rests on.
func accountTable(m *measure.Result, sources *text.Sources) Table {
	t := Table{ID: "ledger-table", Title: "Account, step by step", Open: true, Blocks: true, Words: []int{0, 2, 3}, Head: []string{"step", "figure", "how", "rule"}}
	section := ""
	for _, l := range m.Ledger() {
		if l.Section != section {
			section = l.Section
			t.Rows = append(t.Rows, Row{Section: true, Cells: []string{text.Capital(section), "", "", ""}})
		}
		t.Rows = append(t.Rows, Row{Cells: []string{text.Line(l.Label), l.Figure(), text.Line(l.How), sources.Number(l.Source)}})
	}
	return t
}
