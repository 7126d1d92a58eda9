package text_test

import (
	"strings"
	"testing"

	"tautline/report/text"
	"tautline/strategy/marks"
	"tautline/strategy/race"
)

func TestTheMarkSheetCountsThePlacesOfKnownDistance(t *testing.T) {
	for known, want := range map[int]string{1: "1 place of known distance pins the line", 2: "2 places of known distance pin the line"} {
		got := string(text.Marks(text.Screen{Width: 80}, &race.Race{}, &marks.List{Official: 1000, LineLength: 1001, Proportion: 1.001, Known: known}))
		if !strings.Contains(got, want) {
			t.Errorf("with %d:\n%s", known, got)
		}
	}
}
