package evening_test

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"tautline/geo/interval"
	"tautline/geo/taut"
	"tautline/report/evening"
	"tautline/report/text"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/forecast"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/start"
)

func sheetOf(t *testing.T, official, goal float64, name string) *evening.Sheet {
	t.Helper()
	c, err := plan.NewCourse(plan.Route{Name: name, Official: official, Shortest: official})
	if err != nil {
		t.Fatal(err)
	}
	marks, err := evening.Marks(official, quantity.Metric)
	if err != nil {
		t.Fatal(err)
	}
	a := &athlete.Athlete{Name: name, Races: []athlete.Race{{Date: time.Date(2027, 4, 4, 0, 0, 0, 0, time.UTC), Distance: 10000, Time: 45 * time.Minute}}}
	day := time.Date(2027, 5, 9, 0, 0, 0, 0, time.UTC)
	f, err := forecast.ForGoal(a, forecast.Goal{Distance: official, On: day}, forecast.Options{})
	if err != nil {
		t.Fatal(err)
	}
	advice, err := start.Advise(start.Line{Width: 8, Pens: []start.Pen{{Name: name, People: 900}}}, start.Runner{Pace: goal / official, Distance: official}, []start.Turn{})
	if err != nil {
		t.Fatal(err)
	}
	s := plan.Settings{Name: name, Goal: goal, Model: effort.Default()}
	s.GunDelay, s.Crowd = advice.Best.ForPlan()
	p, err := plan.Make(c, marks, s)
	if err != nil {
		t.Fatal(err)
	}
	return &evening.Sheet{Race: name, Date: day, Plan: p, Forecast: f, On: &f.Level, Start: advice, Turns: []evening.Turn{{Number: 3, At: 1200, Angle: -math.Pi / 2, Wide: math.Pi}}}
}

func TestNoNameCanReachThePageOrTheTerminal(t *testing.T) {
	s := sheetOf(t, 10000, 2700, "<script>alert(1)</script>\x1b[31m\u202e")
	b, err := evening.Page(s, "a4")
	if err != nil {
		t.Fatal(err)
	}
	for _, out := range []string{string(b), string(evening.Text(s, text.Screen{Width: 80}))} {
		if strings.ContainsAny(out, "\x1b\u202e") {
			t.Error("an escape or a turned direction comes through")
		}
	}
	if strings.Contains(string(b), "<script") || !strings.Contains(string(b), "&lt;script") {
		t.Error("the name is not escaped")
	}
}

func TestInMilesNothingStaysInKilometres(t *testing.T) {
	s := sheetOf(t, 10000, 2700, "A")
	s.Units = quantity.Imperial
	b, err := evening.Page(s, "a4")
	if err != nil {
		t.Fatal(err)
	}
	for _, out := range []string{string(b), string(evening.Text(s, text.Screen{Width: 100, Units: quantity.Imperial}))} {
		for _, metric := range []string{"kilometre", "metres", "/km", "per km"} {
			if strings.Contains(out, metric) {
				t.Errorf("%q is left in\n%s", metric, out)
			}
		}
		for _, want := range []string{"in the first 0.62 mi", "6.6 ft wide adds", "10 ft"} {
			if !strings.Contains(out, want) {
				t.Errorf("%q is missing from\n%s", want, out)
			}
		}
	}
}

// Nothing is said twice, and the physician on every page, forecast or not.
func TestCautionsStandOnceOnEveryPage(t *testing.T) {
	for _, withForecast := range []bool{true, false} {
		s := sheetOf(t, 10000, 2700, "A")
		if !withForecast {
			s.Forecast, s.On = nil, nil
		}
		b, err := evening.Page(s, "a4")
		if err != nil {
			t.Fatal(err)
		}
		for what, out := range map[string]string{"page": string(b), "text": string(evening.Text(s, text.Screen{Width: 80}))} {
			if n := strings.Count(out, "physician"); n != 1 {
				t.Errorf("%s with a forecast %v names the physician %d times", what, withForecast, n)
			}
		}
		if n := strings.Count(string(evening.Text(s, text.Screen{Width: 80})), "A · A"); n != 1 {
			t.Errorf("the title stands %d times", n)
		}
		if n := strings.Count(string(evening.Text(s, text.Screen{Width: 80})), "even effort is"); n != 1 {
			t.Errorf("the goal's pace stands %d times", n)
		}
	}
}

// Who comes back after years reads how to run instead of a figure.
func TestAdviceStandsInForAForecast(t *testing.T) {
	s := sheetOf(t, 10000, 2700, "A")
	f, err := forecast.ForGoal(&athlete.Athlete{Name: "A", Returning: true}, forecast.Goal{Distance: 10000, On: s.Date}, forecast.Options{})
	if err != nil || f.None == "" {
		t.Fatal(err, f)
	}
	s.Forecast, s.On = f, nil
	if out := string(evening.Text(s, text.Screen{Width: 80})); !strings.Contains(out, "Run by effort") {
		t.Errorf("no advice:\n%s", out)
	}
}

func TestTheDayStandsOnThePage(t *testing.T) {
	s := sheetOf(t, 10000, 2700, "A")
	s.Plan.Slowing = interval.Estimate{Value: 0.03, Low: 0.01, High: 0.05}
	b, err := evening.Page(s, "a4")
	if err != nil {
		t.Fatal(err)
	}
	if out := string(b); !strings.Contains(out, "On this course and day") || !strings.Contains(out, "are taken to cost 3.0 %") {
		t.Error("the heat is not on the page")
	}
}

func TestTheTextFitsTheWindow(t *testing.T) {
	for _, width := range []int{40, 60, 80, 100} {
		for _, l := range strings.Split(string(evening.Text(sheetOf(t, 42195, 12600, "Velmarrow Marathon along the river"), text.Screen{Width: width})), "\n") {
			if n := utf8.RuneCountInString(l); n > width {
				t.Errorf("at %d a line of %d: %q", width, n, l)
			}
		}
	}
}

// One page holds what any distance has of marks.
func TestThePageHoldsFewMarks(t *testing.T) {
	for _, d := range []float64{1500, 5000, 10000, 21097.5, 42195, 100000} {
		for _, u := range []quantity.Units{quantity.Metric, quantity.Imperial} {
			marks, err := evening.Marks(d, u)
			if err != nil || len(marks) > 24 || marks[len(marks)-1].At != d {
				t.Errorf("%.0f m: %d marks, %v", d, len(marks), err)
			}
		}
	}
}

func TestTheGoalIsSetAgainstTheForecast(t *testing.T) {
	for _, c := range []struct {
		goal float64
		want string
	}{
		{2300, "one finish in twenty"}, {2650, "bold side"}, {2760, "within what is to be expected"}, {3300, "leaves much in hand"},
	} {
		s := sheetOf(t, 10000, c.goal, "A")
		out := strings.Join(strings.Fields(string(evening.Text(s, text.Screen{Width: 80}))), " ")
		if !strings.Contains(out, c.want) {
			t.Errorf("a goal of %.0f s against %+v lacks %q:\n%s", c.goal, *s.On, c.want, out)
		}
	}
	s := sheetOf(t, 10000, 2700, "A")
	s.On, s.Forecast, s.Start = nil, nil, nil
	out := string(evening.Text(s, text.Screen{Width: 80}))
	if strings.Contains(out, "nine finishes") || !strings.Contains(out, "--pens FILE") {
		t.Errorf("without forecast and pens:\n%s", out)
	}
	page, err := evening.Page(s, "A4")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(page), "the pens of this start are not known.") || strings.Contains(string(page), "--pens") {
		t.Error("the page does not say that the pens are not known, or speaks of an option to somebody who holds paper")
	}
}

func TestTheDocumentHoldsAllParts(t *testing.T) {
	b, err := json.Marshal(sheetOf(t, 10000, 2700, "A").Document())
	if err != nil {
		t.Fatal(err)
	}
	var d struct {
		Target   float64 `json:"target_s"`
		Forecast struct {
			S interval.Estimate `json:"forecast_s"`
		} `json:"forecast"`
		Start struct {
			Best map[string]any `json:"best"`
		} `json:"start"`
		Plan struct {
			Splits []map[string]any `json:"splits"`
		} `json:"plan"`
		Turns []map[string]any `json:"turns"`
	}
	if err := json.Unmarshal(b, &d); err != nil {
		t.Fatal(err)
	}
	if d.Target != 2700 || !d.Forecast.S.Holds(2700) || d.Start.Best == nil || len(d.Plan.Splits) != 10 || fmt.Sprint(d.Turns[0]["angle_deg"]) != "-90" {
		t.Errorf("%s", b)
	}
}

func TestTurnsThatMatter(t *testing.T) {
	c, err := plan.NewCourse(plan.Route{Official: 5000, Shortest: 5000})
	if err != nil {
		t.Fatal(err)
	}
	line := &taut.Line{}
	for i := range 14 {
		angle := (20 + 10*float64(i)) * math.Pi / 180
		if i%2 == 1 {
			angle = -angle
		}
		line.Turns = append(line.Turns, taut.Turn{Number: i + 1, CourseAt: 300 * float64(i), Angle: angle})
	}
	got := evening.Turns(&race.Race{Line: line}, c)
	if len(got) != 10 || got[0].Number != 5 || got[9].Number != 14 {
		t.Fatalf("%+v", got)
	}
	if w := got[9].Wide; math.Abs(w-2*150*math.Pi/180) > 1e-9 || math.Abs(got[9].At-3900) > 1e-6 {
		t.Errorf("%+v", got[9])
	}
}
