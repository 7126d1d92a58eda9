package text_test

import (
	"strings"
	"testing"

	"tautline/geo/interval"
	"tautline/report/document"
	"tautline/report/text"
	"tautline/strategy/quantity"
)

func TestTwoGroupsAtATurnAroundAreNamedWithTheirShares(t *testing.T) {
	early := document.FieldGroup{Kind: "turned before", Metres: interval.Estimate{Value: -20, Low: -25, High: -15}, Records: 30}
	late := document.FieldGroup{Kind: "turned behind", Metres: interval.Estimate{Value: 21, Low: 16, High: 26}, Records: 30}
	at := document.FieldGroup{Kind: "turned at it", Metres: interval.Estimate{Value: 1, Low: -4, High: 6}, Records: 28}
	const question = ": was it moved during the race, or missed by some?"
	for want, f := range map[string]document.FieldFinding{
		"fell into two groups: of 58 records 30 turned 20 m (15 to 25) before the turn-around and 28 at it" + question: {
			Kind: "turned at two places", Metres: early.Metres, Records: 58, Groups: []document.FieldGroup{early, at}},
		"fell into two groups: of 60 records 30 turned 21 m (16 to 26) behind the turn-around and 30 turned 20 m (15 to 25) before it" + question: {
			Kind: "turned at two places", Metres: late.Metres, Records: 60, Groups: []document.FieldGroup{late, early}},
		"turned 20 m (15 to 25) before the turn-around": {Kind: "turned before", Metres: early.Metres, Records: 60},
	} {
		if got := text.FieldFinding(f, quantity.Metric); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// A finding and the table of the turns count from different places, and the
// report says so.
func TestTheReportSaysFromWhereATurnAroundCounts(t *testing.T) {
	beyond := interval.Estimate{Value: -18.5, Low: -23.5, High: -13.5}
	d := document.Field{Records: 60, Verdict: "look at", UsualBeyondM: 2.5,
		Findings: []document.FieldFinding{{Kind: "turned before", Turns: []int{6}, Metres: interval.Estimate{Value: -21, Low: -26, High: -16}, Records: 60}},
		Turns:    []document.FieldTurn{{Number: 6, Records: 60, BeyondM: &beyond}}}
	const says = "as a rule a field turns 2.5 m beyond the line's furthest point"
	flat := func() string { return strings.Join(strings.Fields(string(text.Field(text.Screen{Width: 80}, d))), " ") }
	if got := flat(); !strings.Contains(got, says) || strings.Contains(got, "two places") {
		t.Errorf("one group: %s", got)
	}
	d.Findings[0].Kind = "turned at two places"
	d.Findings[0].Groups = make([]document.FieldGroup, 2)
	if got := flat(); !strings.Contains(got, says) || !strings.Contains(got, "“course” tells of the group that turned further from the turn-around") {
		t.Errorf("two groups: %s", got)
	}
	d.Findings[0] = document.FieldFinding{Kind: "left out"}
	if got := flat(); strings.Contains(got, says) {
		t.Errorf("no turn-around: %s", got)
	}
}
