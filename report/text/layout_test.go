package text_test

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"tautline/report/text"
)

func ExampleTable_Lines() {
	t := text.Table{
		Columns: []text.Column{{Head: "turn", Right: true}, {Head: "how", Flex: true}},
		Rows:    [][]string{{"7", "start it wide, touch the inner kerb half way round, and leave wide"}},
	}
	fmt.Println(strings.Join(t.Lines(40), "\n"))
	// Output:
	// turn  how
	//    7  start it wide, touch the inner
	//       kerb half way round, and leave
	//       wide
}

func TestTooManyColumnsAreStacked(t *testing.T) {
	table := text.Table{
		Columns: []text.Column{{Head: "turn", Right: true}, {Head: "at", Right: true}, {Head: "distance", Right: true}, {Head: "seconds", Right: true}},
		Rows:    [][]string{{"1", "12.345 km", "10.1 m (9.1 to 11.2)", "3.2"}, {"2", "13.345 km", "10.1 m", ""}},
	}
	got := strings.Join(table.Lines(40), "\n")
	want := strings.Join([]string{
		"turn      1", "at        12.345 km", "distance  10.1 m (9.1 to 11.2)", "seconds   3.2", "",
		"turn      2", "at        13.345 km", "distance  10.1 m",
	}, "\n")
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// Whatever the cells, no line is wider than the window and no word is lost.
func TestTablesFitAndLoseNothing(t *testing.T) {
	word := rapid.StringMatching(`[a-zäö0-9]{1,30}`)
	rapid.Check(t, func(t *rapid.T) {
		cols := rapid.IntRange(1, 6).Draw(t, "columns")
		width := rapid.IntRange(text.LeastWidth, text.MostWidth).Draw(t, "width")
		flex := rapid.IntRange(-1, cols-1).Draw(t, "flex")
		var table text.Table
		for i := range cols {
			table.Columns = append(table.Columns, text.Column{Head: fmt.Sprintf("h%d", i), Right: i%2 == 0 && i != flex, Flex: i == flex})
		}
		var all []string
		for range rapid.IntRange(0, 4).Draw(t, "rows") {
			var row []string
			for range cols {
				words := rapid.SliceOfN(word, 1, 5).Draw(t, "words")
				row = append(row, strings.Join(words, " "))
				all = append(all, words...)
			}
			table.Rows = append(table.Rows, row)
		}
		lines := table.Lines(width)
		for _, l := range lines {
			if utf8.RuneCountInString(l) > width {
				t.Fatalf("line of %d in a window of %d: %q", utf8.RuneCountInString(l), width, l)
			}
		}
		letters := func(s string) int { return len(strings.Join(strings.Fields(s), "")) }
		heads := 0
		for _, l := range lines {
			heads += letters(l)
		}
		if least := letters(strings.Join(all, "")); heads < least {
			t.Fatalf("%d letters printed of %d", heads, least)
		}
	})
}

func TestWrappedTextFitsAndKeepsItsWords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(1, 100).Draw(t, "width")
		indent := rapid.IntRange(0, 30).Draw(t, "indent")
		words := rapid.SliceOf(rapid.StringMatching(`[a-zäö]{1,20}`)).Draw(t, "words")
		lines := text.Wrap(strings.Join(words, " "), width, indent)
		var got strings.Builder
		for _, l := range lines {
			if utf8.RuneCountInString(l) > width {
				t.Fatalf("line %q is wider than %d", l, width)
			}
			got.WriteString(strings.Join(strings.Fields(l), ""))
		}
		if got.String() != strings.Join(words, "") {
			t.Fatalf("words %q became %q", words, lines)
		}
	})
}

func TestAFigureStaysWithItsUnit(t *testing.T) {
	got := text.Wrap("kept 30 cm from kerbs", 8, 0)
	if want := "kept|30 cm|from|kerbs"; strings.Join(got, "|") != want {
		t.Errorf("wrapped as %q, want %q", got, want)
	}
}

func TestAPageKeepsAFigureWithItsUnit(t *testing.T) {
	for plain, want := range map[string]string{
		"8 m wide, corners 5 m":        "8\u00a0m wide, corners 5\u00a0m",
		"90 %: 9985.3 to 10032.8 m":    "90\u00a0%: 9985.3 to 10032.8\u00a0m",
		"5 more metres, in 3 mornings": "5 more metres, in 3 mornings",
	} {
		if got := text.Bound(plain); got != want {
			t.Errorf("%q became %q", plain, got)
		}
	}
}
