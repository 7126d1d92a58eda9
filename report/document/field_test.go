package document_test

import (
	"encoding/json"
	"strings"
	"testing"

	"tautline/geo/interval"
	"tautline/geo/taut"
	"tautline/report/document"
	"tautline/strategy/field"
	"tautline/strategy/race"
)

func TestTwoGroupsOfAFieldAreInTheDocument(t *testing.T) {
	g := &field.Ground{Race: &race.Race{Line: &taut.Line{Length: 5000}}}
	one := field.Finding{Kind: field.Short, Metres: interval.Normal(-20, 1), Records: 60}
	two := field.Finding{Kind: field.Parted, Metres: interval.Normal(-20, 1), Records: 60, Groups: []field.Group{
		{Kind: field.Short, Metres: interval.Normal(-20, 1), Records: 20}, {Kind: field.AtPlace, Metres: interval.Normal(0, 1), Records: 40}}}
	d := document.NewField(g, &field.Tally{}, &field.Verdict{Records: 60, Findings: []field.Finding{one, two}}, field.Done{}, false)
	b, err := json.Marshal(d)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(b), `"groups"`); n != 1 {
		t.Errorf("%d findings have groups, want the one with two: %s", n, b)
	}
	got := d.Findings[1]
	if got.Kind != "turned at two places" || len(got.Groups) != 2 || got.Groups[0].Kind != "turned before" || got.Groups[0].Records != 20 ||
		got.Groups[1].Kind != "turned at it" || got.Groups[1].Records != 40 || got.Groups[0].Metres.Value != -20 || d.UsualBeyondM != field.UsualBeyond {
		t.Errorf("%+v, usually %g m", got, d.UsualBeyondM)
	}
}
