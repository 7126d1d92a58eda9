package spelling_test

import (
	"fmt"
	"testing"

	"tautline/strategy/spelling"
)

func ExampleNearest() {
	fmt.Println(spelling.Nearest("reveiw", []string{"line", "review", "demo"}))
	// Output: review
}

func TestNearestWord(t *testing.T) {
	known := []string{"width", "corner_radius", "from", "to", "at"}
	for _, c := range []struct{ name, word, want string }{
		{"two letters swapped", "widht", "width"},
		{"a letter missing", "wdth", "width"},
		{"a hyphen for an underscore", "corner-radius", "corner_radius"},
		{"a long word with three slips", "cornerradiuss", "corner_radius"},
		{"nothing close", "temperature", ""},
		{"a word is its own nearest", "from", "from"},
		{"a short word does not turn into any other short word", "xy", ""},
		{"the empty word", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := spelling.Nearest(c.word, known); got != c.want {
				t.Errorf("Nearest(%q) = %q, want %q", c.word, got, c.want)
			}
		})
	}
}
