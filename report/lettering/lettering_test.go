package lettering_test

import (
	"encoding/xml"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"tautline/report/lettering"
)

// What was fitted or wrapped stands within the room, unless a single letter
// does not.
func TestNothingStandsOutOfItsRoom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.String().Draw(t, "words")
		size := rapid.Float64Range(1, 20).Draw(t, "size")
		room := rapid.Float64Range(3*size, 60*size).Draw(t, "room")
		bold := rapid.Bool().Draw(t, "bold")
		if got := lettering.Fit(words, size, bold, room); lettering.Width(got, size, bold) > room {
			t.Fatalf("%q is wider than %g", got, room)
		}
		lines := lettering.Wrap(words, size, room)
		for _, l := range lines {
			if lettering.Width(l, size, false) > room {
				t.Fatalf("the line %q is wider than %g", l, room)
			}
		}
		if all := strings.Join(lines, " "); !strings.Contains(all, "…") && all != strings.Join(strings.Fields(words), " ") {
			t.Fatalf("%q was wrapped to %q", words, all)
		}
	})
}

// Widths of the letters of one face, in thousandths of its size, as its metrics
// give them (Helvetica, from memory, unchecked): no estimate may fall short of
// the words they make.
func TestWidthsErrOnTheWideSide(t *testing.T) {
	metric := map[rune]float64{}
	for letters, w := range map[string]float64{
		"abdeghnopqu0123456789L": 556, "ckvxyszJ": 500, "ijl": 222, "ft/.,:; I!": 278, "r-()": 333, "m": 833, "w": 722,
		"ABEKPSVXY": 667, "CDHNRU": 722, "FTZ": 611, "GOQ": 778, "M": 833, "W": 944,
	} {
		for _, r := range letters {
			metric[r] = w
		}
	}
	for _, words := range []string{
		"even effort gives 3:29:59", "Velmarrow Marathon along the river", "42.195 km", "split 4:07, pace 4:07/km", "Ottoline Varga", "WATCH LEDGER", "illicit Illinois filly", "01:23:45 (90 %)",
	} {
		var real float64
		for _, r := range words {
			real += metric[r] / 1000
		}
		if got := lettering.Width(words, 1, false); got < 0.98*real || got > 1.25*real {
			t.Errorf("%q: %.2f of its size, the face has %.2f", words, got, real)
		}
	}
}

func TestWhatIsEscapedIsXMLAndKeepsItsLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := lettering.Escape(rapid.String().Draw(t, "text"))
		if err := xml.Unmarshal([]byte("<a b=\""+s+"\">"+s+"</a>"), new(struct{})); err != nil {
			t.Fatalf("%q: %v", s, err)
		}
	})
	if got := lettering.Escape(strings.Repeat("x", 300)); utf8.RuneCountInString(got) != 300 {
		t.Errorf("300 letters became %d", utf8.RuneCountInString(got))
	}
}
