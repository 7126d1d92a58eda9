package text_test

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"tautline/geo/interval"
	"tautline/report/document"
	"tautline/report/text"
	"tautline/strategy/quantity"
	"tautline/strategy/review"
)

func est(v, low, high float64) interval.Estimate {
	return interval.Estimate{Value: v, Low: low, High: high}
}

// poorWatch is a careful runner whose watch made the surplus.
func poorWatch() document.Review {
	lost := est(1.1, -0.4, 2.6)
	more := est(2.2, 0.9, 3.5)
	return document.Review{
		Course: "Lantern Town 10", Record: "Ines Quill\x1b[2J", OfficialM: 10000, OfficialIs: "certified", ShortestM: 10006.2, WatchM: 10170, WatchIs: "watch",
		RanM: est(10024, 10016, 10033), ExtraM: est(17.8, 10, 27), BetweenM: est(9.3, 4, 16), MatchedPart: 1,
		Ledger: []document.Item{
			{Cause: "course laid out long", Whose: review.Course, Metres: est(10, 0, 20), Sentence: "a certified course is laid out a little long so that it is never short"},
			{Cause: "turns run wide", Whose: review.Feet, Metres: est(8.5, 3, 14), Sentence: "you passed outside the inner edge of turns"},
			{Cause: "between the turns", Whose: review.Feet, Metres: est(9.3, 4, 16), Sentence: "you crossed the road and passed others"},
			{Cause: "before the start line", Whose: review.Ends, Metres: est(6.1, 5, 7)},
			{Cause: "scatter", Whose: review.Watch, Metres: est(151.5, 142, 160), Sentence: "reception errors made the straight parts crooked"},
			{Cause: "corner loss", Whose: review.Watch, Metres: est(-15.4, -19, -11)},
		},
		Turns: []document.ReviewTurn{
			{Number: 1, AtM: 430, AngleDeg: 90, Side: "left", ExtraM: est(1.2, -0.5, 2.9), LostS: &lost},
			{Number: 2, AtM: 760, AngleDeg: -90, Side: "right", ExtraM: est(-0.2, -1, 0.7), LostS: &lost},
			{Number: 7, AtM: 3210, AngleDeg: -179, Side: "right", ExtraM: est(4.1, 1.8, 6.4), LostS: &more},
		},
		Marks:    []document.ReviewMark{{Name: "1 km", AtM: 1000, WatchAheadM: 4, GrewM: 4}, {Name: "2 km", AtM: 2000, WatchAheadM: 95, GrewM: 91}, {Name: "finish", AtM: 10000, WatchAheadM: 170, GrewM: 75}},
		Warnings: []string{"the record has a gap of 12 s at 4.2 km"},
	}
}

func TestTheAccountVisiblyAddsUp(t *testing.T) {
	got := string(text.Review(text.Screen{Width: 80}, poorWatch(), nil))
	t.Logf("\n%s", got)
	checkAccount(t, got, "m")
	for _, want := range []string{
		"Review: Lantern Town 10, Ines Quill\n", "The watch shows 10.170 km for the certified 10.000 km: 170 m too many.",
		"made most of the difference", "certified distance", "10.000 km", "the record has a gap"[4:], "  7  3.210 km  right 179°", "grew most",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("the report lacks %q", want)
		}
	}
	if strings.Contains(got, "From line to line") {
		t.Error("a time is told where none is known")
	}
	r := poorWatch()
	r.TimeS = new(2780.0)
	timed := func() string {
		return strings.Join(strings.Fields(string(text.Review(text.Screen{Width: 80}, r, nil))), " ")
	}
	if got := timed(); !strings.Contains(got, "From line to line you took 46:20, 4:38/km on the official distance.") {
		t.Errorf("the time from line to line is missing:\n%s", got)
	}
	if r.OfficialIs = review.Line; !strings.Contains(timed(), "4:38/km on the shortest line.") {
		t.Errorf("a pace is on a distance that nobody gave:\n%s", timed())
	}
	if strings.Contains(got, "\x1b") {
		t.Error("the report holds an escape")
	}
}

var item = regexp.MustCompile(`(?m)^ *([+-]?\d+) (m|ft)  (.*)$`)

// checkAccount adds up the printed whole figures and compares them with the
// printed sum.
func checkAccount(t interface {
	Helper()
	Errorf(string, ...any)
}, report, unit string) {
	t.Helper()
	sum, printed, items := 0, 0, 0
	for _, m := range item.FindAllStringSubmatch(report, -1) {
		v, err := strconv.Atoi(m[1])
		if err != nil || m[2] != unit {
			t.Errorf("the line %q cannot be added", m[0])
		}
		if m[3] == "in all" {
			printed = v
			continue
		}
		items++
		sum += v
	}
	if items == 0 || sum != printed {
		t.Errorf("%d items add up to %d, the sum says %d", items, sum, printed)
	}
}

// Whatever the figures, the printed account adds up, in both units, and no
// line is wider than the window.
func TestAnyAccountAddsUpAndFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := poorWatch()
		r.Ledger = nil
		sum := 0.0
		for i := range rapid.IntRange(1, 12).Draw(t, "items") {
			v := rapid.Float64Range(-300, 300).Draw(t, "metres")
			sum += v
			r.Ledger = append(r.Ledger, document.Item{Cause: fmt.Sprintf("cause %d", i), Whose: review.Watch, Metres: est(v, v-3, v+3)})
		}
		r.WatchM = r.OfficialM + sum
		s := text.Screen{Width: rapid.IntRange(text.LeastWidth, text.MostWidth).Draw(t, "width"), Units: rapid.SampledFrom([]quantity.Units{quantity.Metric, quantity.Imperial}).Draw(t, "units")}
		unit := "m"
		if s.Units == quantity.Imperial {
			unit = "ft"
		}
		got := string(text.Review(s, r, nil))
		checkAccount(t, got, unit)
		for l := range strings.SplitSeq(got, "\n") {
			if utf8.RuneCountInString(l) > s.Width {
				t.Fatalf("a line of %d in a window of %d: %q", utf8.RuneCountInString(l), s.Width, l)
			}
		}
	})
}

func TestTheVerdictSaysWhoMadeTheDifference(t *testing.T) {
	wide := poorWatch()
	wide.ExtraM, wide.BetweenM = est(120, 100, 140), est(30, 20, 40)
	wide.Ledger = []document.Item{{Whose: review.Feet, Metres: est(120, 100, 140)}, {Whose: review.Watch, Metres: est(50, 30, 70)}}
	between := wide
	between.BetweenM = est(90, 70, 110)
	unsure := wide
	unsure.ExtraM = est(60, 20, 100)
	short := poorWatch()
	short.WatchM = 9900
	short.Ledger = []document.Item{{Whose: review.Feet, Metres: est(18, 10, 27)}, {Whose: review.Watch, Metres: est(-118, -130, -108)}}
	fine := poorWatch()
	fine.WatchM, fine.ExtraM = 10008, est(5, 2, 8)
	fine.Ledger = []document.Item{{Whose: review.Feet, Metres: est(5, 2, 8)}, {Whose: review.Watch, Metres: est(3, 0, 6)}}
	item := func(r document.Review, official, watch float64, items ...document.Item) document.Review {
		r.OfficialM, r.WatchM = official, watch
		r.Ledger = append(append([]document.Item(nil), r.Ledger...), items...)
		return r
	}
	half := item(wide, 10000, 5170, document.Item{Cause: review.NotRecorded, Whose: review.Watch, Metres: est(-5000, -5003, -4997)})
	otherRace := item(wide, 42195, 10200, document.Item{Whose: review.Course, Metres: est(-32165, -32200, -32130)})
	oneLap := item(wide, 5000, 10200, document.Item{Whose: review.Ends, Metres: est(5030, 5027, 5033)})
	early := item(fine, 10000, 10118, document.Item{Whose: review.Ends, Metres: est(110, 107, 113)})
	lost := item(wide, 10000, 10470, document.Item{Cause: review.OffCourse, Whose: review.Feet, Metres: est(300, 290, 310)})
	lost.ExtraM = est(420, 400, 440)
	gap := item(fine, 10000, 10020, document.Item{Whose: review.Feet, Metres: est(125, 110, 140)}, document.Item{Whose: review.Watch, Metres: est(-113, -130, -100)})
	gap.ExtraM = est(130, 110, 150)
	undeclared := poorWatch()
	undeclared.OfficialIs, undeclared.WatchIs = "shortest line", "record"
	for _, c := range []struct {
		name string
		r    document.Review
		want []string
	}{
		{"a careful runner on a poor watch", poorWatch(), []string{"170 m too many", "the watch, not your feet"}},
		{"a careless runner on a good watch", wide, []string{"your feet, not the watch", "the turns below"}},
		{"a weaver", between, []string{"your feet, not the watch", "between the turns"}},
		{"neither can be told", unsure, []string{"Whether your feet or the watch made more cannot be told from this one record"}},
		{"a record that reads short", short, []string{"100 m too few", "lost distance that you ran"}},
		{"nothing to explain", fine, []string{"close to the line"}},
		{"half a record", half, []string{"does not show 5000 m of the course", "only guessed"}},
		{"the distance of another race", otherRace, []string{"the course itself: check that 42.195 km"}},
		{"one lap drawn of a race of two", oneLap, []string{"before the start and after the finish", "all its laps"}},
		{"a watch started in the corral", early, []string{"start and stop the watch at the lines"}},
		{"a runner who lost the way", lost, []string{"your feet, not the watch", "300 m (290 to 310) of it on a way off the course"}},
		{"a record with a gap that reads long all the same", gap, []string{"20 m too many", "without that it would have shown 110 m more"}},
		{"no official distance, no watch reading", undeclared, []string{"The record shows", "the shortest legal line has", "170 m more"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := text.Verdict(c.r, quantity.Metric)
			if len(got) != 3 {
				t.Fatalf("%d sentences", len(got))
			}
			for _, w := range c.want {
				if !strings.Contains(strings.Join(got, " "), w) {
					t.Errorf("%q lacks %q", got, w)
				}
			}
		})
	}
}

func TestATurnThatCannotBeToldIsMarked(t *testing.T) {
	got := string(text.Review(text.Screen{Width: 80}, poorWatch(), nil))
	if !strings.Contains(got, "1.2 m (-0.5 to 2.9) ?") || strings.Contains(got, "4.1 m (1.8 to 6.4) ?") || !strings.Contains(got, "A turn with ? cannot be told") {
		t.Errorf("the doubtful turn is not told apart:\n%s", got)
	}
	if strings.Contains(got, "-0.2 m") {
		t.Error("a turn without extra distance is among the worst")
	}
}

func TestATurnThatTheRecordDoesNotShowIsNotHeldAgainstTheRunner(t *testing.T) {
	r := poorWatch()
	if got := string(text.Review(text.Screen{Width: 80}, r, nil)); !strings.Contains(got, "3.210 km") {
		t.Fatalf("turn 7 is not among the turns:\n%s", got)
	}
	r.Turns[2].Unseen = true
	if got := string(text.Review(text.Screen{Width: 80}, r, nil)); strings.Contains(got, "3.210 km") {
		t.Errorf("turn 7 is among the turns:\n%s", got)
	}
}

func TestARecordWithoutTimesHasNoCosts(t *testing.T) {
	r := poorWatch()
	for i := range r.Turns {
		r.Turns[i].LostS = nil
	}
	if got := string(text.Review(text.Screen{Width: 80}, r, nil)); strings.Contains(got, "cost") {
		t.Errorf("seconds without times:\n%s", got)
	}
}

func TestNothingBreaksOnFiguresThatAreNotKnown(t *testing.T) {
	r := poorWatch()
	r.Turns[0].ExtraM = est(math.NaN(), math.NaN(), math.NaN())
	r.Marks[0].WatchAheadM = math.NaN()
	if got := string(text.Review(text.Screen{Width: 40}, r, nil)); strings.Contains(got, "NaN") {
		t.Errorf("NaN is printed:\n%s", got)
	}
}
