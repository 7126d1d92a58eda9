package text_test

import (
	"testing"

	"tautline/report/text"
	"tautline/strategy/quantity"
)

func TestANoteBecomesASentence(t *testing.T) {
	for note, want := range map[string]string{
		"":                                "",
		"the road is 8 m wide":            "The road is 8 m wide.",
		"The road is 8 m wide.":           "The road is 8 m wide.",
		"is that so?":                     "Is that so?",
		"église has two lanes":            "Église has two lanes.", // a name from a race sheet may stand first
		"10 km were taken for the course": "10 km were taken for the course.",
		"a name\x1b[2J with an escape":    "A name with an escape.",
	} {
		if got := text.Sentence(note); got != want {
			t.Errorf("%q became %q, want %q", note, got, want)
		}
	}
}

func TestThingsAreCounted(t *testing.T) {
	for n, want := range map[int]string{0: "0 places", 1: "1 place", 2: "2 places"} {
		if got := text.Plural(n, "place"); got != want {
			t.Errorf("%d: %q", n, got)
		}
	}
}

func TestFewTurnsAreNamedInACell(t *testing.T) {
	for want, turns := range map[string][]int{
		quantity.None:          nil,
		"7":                    {7},
		"1, 2, 3, 4, 5, 16":    {1, 2, 3, 4, 5, 16},
		"1, 2, 3, 4, 5, 16, …": {1, 2, 3, 4, 5, 16, 17, 18},
	} {
		if got := text.TurnNumbers(turns); got != want {
			t.Errorf("%v: %q, want %q", turns, got, want)
		}
	}
}
