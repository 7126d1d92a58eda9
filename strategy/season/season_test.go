package season

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tautline/geo/inputerr"
	"tautline/geo/published"
)

var goalDay = time.Date(2027, 10, 17, 0, 0, 0, 0, time.UTC)

func on(weeks float64) time.Time { return goalDay.Add(-time.Duration(weeks*7) * day) }

func could(name string, weeks, distance float64) Candidate {
	return Candidate{Race: Race{Name: name, Date: on(weeks), Distance: distance, Climb: math.NaN()}}
}

func goalOf(distance float64) Race {
	return Race{Name: "the goal", Date: goalDay, Distance: distance, Climb: math.NaN()}
}

func choose(t *testing.T, c Calendar) *Plan {
	t.Helper()
	p, err := Choose(c)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func does(p *Plan) string {
	var parts []string
	for _, e := range p.Entries {
		if e.Effort != Leave {
			parts = append(parts, e.Name+" "+string(e.Effort))
		}
	}
	return strings.Join(parts, ", ")
}

func entryOf(t *testing.T, p *Plan, name string) Entry {
	t.Helper()
	i := slices.IndexFunc(p.Entries, func(e Entry) bool { return e.Name == name })
	if i < 0 {
		t.Fatalf("no entry %q", name)
	}
	return p.Entries[i]
}

// The defaults are those of common practice as the trade gives them.
func TestUsualRules(t *testing.T) {
	for key, want := range map[string]float64{
		RacesLeast: 1, RacesMost: 3, Shortest: 10000, Longest: 25000, HalfFrom: 4, HalfTo: 6, LastRace: 2, LastRaceBetter: 3,
		ShortSpacing: 1, ShortBetter: 3, MarathonMonths: 5, MarathonBetter: 6, FiveBeforeFrom: 2, FiveBeforeTo: 3,
		LongestRunShare: 0.10, Taper: 2, TaperCutLeast: 0.41, TaperCutMost: 0.60,
	} {
		f := published.Figure{Source: "tune-up races", Trust: published.CommonPractice, What: key, Value: published.Number(want), Tolerance: 1e-12}
		switch key {
		case LongestRunShare:
			f.Source, f.Trust = "Frandsen et al. 2025, Br J Sports Med 59:1203-1210", published.Read
		case Taper, TaperCutLeast, TaperCutMost:
			f.Source, f.Trust = "Bosquet et al. 2007, Med Sci Sports Exerc 39:1358-1365", published.Read
		}
		published.Check(t, f, (Rules{}).Get(key))
	}
	for _, r := range (Rules{}).All() {
		if r.Name == "" || r.Source == "" || r.Unit == "" || r.Usual < r.Least || r.Usual > r.Most {
			t.Errorf("%+v", r)
		}
		if r.Practice != strings.HasPrefix(r.Source, "common practice") {
			t.Errorf("%s is called practice: %v, but its source is %q", r.Key, r.Practice, r.Source)
		}
	}
}

func TestWhatIsChosen(t *testing.T) {
	for _, c := range []struct {
		name  string
		goal  float64
		races []Candidate
		want  string
	}{
		{"a half four to six weeks before a marathon", 42195, []Candidate{could("half", 5, 21097.5)}, "half all out"},
		{"rather than one nine weeks before, when only one fits the number", 42195,
			[]Candidate{could("early half", 9, 21097.5), could("half", 5, 21097.5), could("ten", 12, 10000), could("late ten", 3, 10000)},
			"ten all out, early half all out, half all out"},
		{"nothing in the last two weeks", 42195, []Candidate{could("half", 1.5, 21097.5), could("ten", 1, 10000)}, ""},
		{"a 10 km between two and three weeks before is controlled", 42195, []Candidate{could("ten", 16.0/7, 10000)}, "ten controlled"},
		{"a short race early in the build is controlled", 42195, []Candidate{could("ten", 15, 10000)}, "ten controlled"},
		{"the same in the middle is run all out", 42195, []Candidate{could("ten", 9, 10000)}, "ten all out"},
		{"25 km is a tune-up, 30 km is not", 42195, []Candidate{could("25", 6, 25000), could("30", 4, 30000)}, "25 all out"},
		{"no second marathon within five months", 42195, []Candidate{could("marathon", 15, 42195)}, ""},
		{"a 5 km two to three weeks before a 10 km", 10000, []Candidate{could("five", 17.0/7, 5000), could("other five", 6, 5000)}, "other five all out, five all out"},
		{"nothing longer than the goal", 10000, []Candidate{could("half", 6, 21097.5)}, ""},
		{"no candidates", 42195, nil, ""},
		{"a race on the day of the goal and one after it", 42195, []Candidate{could("same day", 0, 10000), could("after", -2, 10000)}, ""},
		{"one of two on the same day", 42195, []Candidate{could("half", 5, 21097.5), could("ten", 5, 10000)}, "half all out"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := choose(t, Calendar{Goal: goalOf(c.goal), Races: c.races})
			if got := does(p); got != c.want {
				t.Errorf("chosen: %q, want %q", got, c.want)
			}
			if len(p.Entries) != len(c.races) {
				t.Errorf("%d entries for %d candidates", len(p.Entries), len(c.races))
			}
			for _, e := range p.Entries {
				if e.Effort == Leave && len(e.Conflicts) == 0 && e.Note == "" {
					t.Errorf("%s is left out without a reason", e.Name)
				}
				if e.Effort != Leave && (e.Purpose == "" || len(e.Rehearse) < 3 || e.EasyDays < 1 || !e.HardAgain.After(e.Date)) {
					t.Errorf("%s says too little: %+v", e.Name, e)
				}
			}
		})
	}
}

// Common practice: a 5 km every other week from the second week of a build of
// 16 to 20 weeks peaks too early.
func TestAFiveEveryOtherWeekIsNotRun(t *testing.T) {
	var races []Candidate
	for week := 16.0; week >= 2; week -= 2 {
		races = append(races, could(fmt.Sprintf("five %02.0f", week), week, 5000))
	}
	wide, err := Rules{}.With(RacesMost, 6)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range []Rules{{}, wide} {
		p := choose(t, Calendar{Goal: goalOf(42195), Races: races, Rules: r})
		n := 0
		for _, e := range p.Entries {
			if e.Effort == AllOut {
				n++
				if e.Weeks > 12 || e.Weeks < 3 {
					t.Errorf("%s is run all out", e.Name)
				}
			}
		}
		if n > 4 {
			t.Errorf("%d of 8 are run all out", n)
		}
	}
	// Entered all the same, each conflict is named.
	for i := range races {
		races[i].Entered = true
	}
	p := choose(t, Calendar{Goal: goalOf(42195), Races: races})
	if len(p.SetPoints) == 0 || !strings.Contains(fmt.Sprint(p.SetPoints), "more than 3") {
		t.Errorf("%v", p.SetPoints)
	}
}

func TestConflictsAreExplained(t *testing.T) {
	entered := func(c Candidate) Candidate { c.Entered = true; return c }
	for _, c := range []struct {
		name  string
		cal   Calendar
		which string
		rule  string
		what  string
	}{
		{"too near to the goal", Calendar{Goal: goalOf(42195), Races: []Candidate{could("x", 1, 10000)}}, "x", LastRace, "1 week before the goal"},
		{"too near although entered", Calendar{Goal: goalOf(42195), Races: []Candidate{entered(could("x", 1, 10000))}}, "x", LastRace, "1 week before the goal"},
		{"longer than the longest run bears", Calendar{Goal: goalOf(42195), LongestRun: 16000, Races: []Candidate{could("x", 5, 21097.5)}}, "x", LongestRunShare, "32 % longer than the longest run of 16 km"},
		{"too long", Calendar{Goal: goalOf(42195), Races: []Candidate{could("x", 5, 30000)}}, "x", Longest, "longer than 25 km"},
		{"a marathon too soon after another", Calendar{Goal: goalOf(42195), Races: []Candidate{could("x", 14, 42195)}}, "x", MarathonMonths, "3.2 months"},
		{"two marathons that are both run", Calendar{Goal: goalOf(42195), Races: []Candidate{entered(could("a", 40, 42195)), entered(could("x", 30, 42195))}}, "x", MarathonMonths, "2.3 months"},
		{"two on a day", Calendar{Goal: goalOf(42195), Races: []Candidate{could("a", 5, 21097.5), could("x", 5, 10000)}}, "x", "date", "a is on the same day"},
		{"in the easy days after another", Calendar{Goal: goalOf(42195), Races: []Candidate{could("a", 5, 21097.5), could("x", 4, 10000)}}, "x", HalfSpacing, "7 days before it"},
		{"on the goal's day", Calendar{Goal: goalOf(42195), Races: []Candidate{could("x", 0, 10000)}}, "x", "date", "on the day of the goal"},
		{"after the goal", Calendar{Goal: goalOf(42195), Races: []Candidate{could("x", -1, 10000)}}, "x", "date", "after the goal"},
		{"before the build", Calendar{Goal: goalOf(42195), Races: []Candidate{could("x", 25, 10000)}}, "x", Build, "before the build"},
		{"a fourth", Calendar{Goal: goalOf(42195), Races: []Candidate{could("a", 12, 15000), could("b", 9, 21097.5), could("c", 5, 21097.5), could("x", 16, 5000)}}, "x", RacesMost, "there would be 4 races, more than 3"},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := entryOf(t, choose(t, c.cal), c.which)
			i := slices.IndexFunc(e.Conflicts, func(x Conflict) bool { return x.Rule == c.rule })
			if i < 0 || !strings.Contains(e.Conflicts[i].What, c.what) {
				t.Errorf("%s: conflicts %q", e.Effort, e.Conflicts)
			}
		})
	}
}

func TestRulesCanBeSet(t *testing.T) {
	races := []Candidate{could("ten", 1.5, 10000), could("30", 6, 30000)}
	cal := func(key string, v float64) Calendar {
		r, err := Rules{}.With(key, v)
		if err != nil {
			t.Fatal(err)
		}
		return Calendar{Goal: goalOf(42195), Races: races, Rules: r}
	}
	if got := does(choose(t, Calendar{Goal: goalOf(42195), Races: races})); got != "" {
		t.Errorf("as usual: %q", got)
	}
	if got := does(choose(t, cal(LastRace, 1))); got != "ten controlled" {
		t.Errorf("with the looser habit: %q", got)
	}
	if got := does(choose(t, cal(Longest, 32000))); got != "30 all out" {
		t.Errorf("with longer races: %q", got)
	}
	for _, c := range []struct {
		key string
		v   float64
	}{{"nothing", 1}, {RacesMost, 2.5}, {RacesMost, math.NaN()}, {LongestRunShare, -1}, {Taper, 99}} {
		if _, err := (Rules{}).With(c.key, c.v); err == nil {
			t.Errorf("%s = %g is taken", c.key, c.v)
		}
	}
}

func TestEasyDays(t *testing.T) {
	// Common practice: one for each mile raced.
	for d, want := range map[float64]int{5000: 3, 10000: 6, 21097.5: 13, 42195: 26} {
		published.Check(t, published.Figure{Source: "an easy day for each mile raced", Trust: published.CommonPractice,
			What: fmt.Sprintf("easy days after %g m", d), Unit: "days", Value: fmt.Sprint(want)}, float64(easyDays(d, AllOut, 1)))
		if half := easyDays(d, Controlled, 1); half >= want {
			t.Errorf("%d easy days after %.0f m controlled", half, d)
		}
	}
}

func TestTheTaperAndWhatIsMissing(t *testing.T) {
	p := choose(t, Calendar{Goal: goalOf(42195), Weekly: 60000})
	if !p.TaperFrom.Equal(on(3)) || !strings.Contains(p.TaperText, "from 60 km a week down to 24 km to 35.4 km") {
		t.Errorf("%s %s", p.TaperFrom, p.TaperText)
	}
	if all := strings.Join(p.Missing, "; "); !strings.Contains(all, "no candidate") || !strings.Contains(all, "no half marathon from 5 September 2027 to 19 September 2027") {
		t.Errorf("missing %q", all)
	}
	if p := choose(t, Calendar{Goal: goalOf(10000)}); !p.TaperFrom.Equal(on(2)) || !strings.Contains(strings.Join(p.Missing, "; "), "no 5 km from") {
		t.Errorf("%s %q", p.TaperFrom, p.Missing)
	}
	past := Calendar{Goal: goalOf(42195), Past: []Race{{Date: on(13), Distance: 42195}}}
	if p := choose(t, past); !strings.Contains(strings.Join(p.Missing, "; "), "3.0 months before the goal") {
		t.Errorf("missing %q", p.Missing)
	}
}

// The search against every choice there is.
func TestTheSearchFindsTheBestOfAllChoices(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Calendar{Goal: goalOf(rapid.SampledFrom([]float64{10000, 21097.5, 42195}).Draw(t, "goal")), LongestRun: rapid.SampledFrom([]float64{0, 15000, 30000}).Draw(t, "longest")}
		c.Rules, _ = c.Rules.With(RacesMost, float64(rapid.IntRange(1, 4).Draw(t, "most")))
		for i := range rapid.IntRange(0, 6).Draw(t, "races") {
			r := could(fmt.Sprint(i), rapid.Float64Range(-1, 22).Draw(t, "weeks"), rapid.SampledFrom([]float64{5000, 10000, 15000, 21097.5, 25000, 30000, 42195}).Draw(t, "distance"))
			r.Date = r.Date.Truncate(day)
			r.Entered = rapid.IntRange(0, 9).Draw(t, "entered") == 0
			c.Races = append(c.Races, r)
		}
		p, err := Choose(c)
		if err != nil {
			t.Fatal(err)
		}
		w := &work{c: c, begin: p.Begin}
		for _, e := range p.Entries {
			w.races = append(w.races, e.Candidate)
		}
		n := len(w.races)
		best := math.Inf(-1)
		for code := range int(math.Pow(3, float64(n))) {
			var list []choice
			allowed, entered := true, 0
			for i, k := 0, code; i < n; i, k = i+1, k/3 {
				before := w.races[i].Date.Before(goalDay)
				if w.races[i].Entered && before {
					entered++
					allowed = allowed && k%3 > 0
				}
				if k%3 > 0 {
					allowed = allowed && before
					list = append(list, choice{i, efforts[k%3-1]})
				}
			}
			if allowed && len(list) <= max(entered, int(w.rule(RacesMost))) {
				best = math.Max(best, w.score(list))
			}
		}
		if math.Abs(best-p.Score) > 0.006 {
			t.Errorf("score %.3f, the best is %.3f", p.Score, best)
		}
		// The points shown add up to the score.
		total := sum(p.SetPoints)
		for _, e := range p.Entries {
			if e.Effort != Leave {
				total += sum(e.Points)
			}
		}
		if math.Abs(total-p.Score) > 0.006 {
			t.Errorf("the points add up to %.3f, the score is %.3f", total, p.Score)
		}
	})
}

func TestBadCalendarsAreRefused(t *testing.T) {
	many := make([]Candidate, MaxRaces+1)
	for i := range many {
		many[i] = could("x", 5, 10000)
	}
	for _, c := range []struct {
		name string
		cal  Calendar
	}{
		{"no goal", Calendar{}},
		{"a goal without a length", Calendar{Goal: Race{Date: goalDay, Distance: math.NaN()}}},
		{"too many races", Calendar{Goal: goalOf(42195), Races: many}},
		{"a race without a date", Calendar{Goal: goalOf(42195), Races: []Candidate{{Race: Race{Distance: 10000}}}}},
		{"a build that begins on the day", Calendar{Goal: goalOf(42195), Begin: goalDay}},
		{"a longest run without end", Calendar{Goal: goalOf(42195), LongestRun: math.Inf(1)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Choose(c.cal)
			var in *inputerr.Error
			if !errors.As(err, &in) {
				t.Errorf("error is %v", err)
			}
		})
	}
}

const file = `
longest_run = "24 km"
weekly = "55 km"
begin = 2027-06-14

[goal]
name = "Velmarrow Marathon"
date = 2027-10-17
distance = "marathon"
course = "goal.gpx"

[[race]]
name = "Ottery Half"
date = 2027-09-12
distance = "half marathon"
course = "half.gpx"
entered = true

[[race]]
name = "Mill Ten"
date = 2027-08-15
distance = "10 km"

[[past]]
date = 2026-10-18
distance = "marathon"

[rules]
races_most = 2
longest = "26 km"
longest_run_share = "15 %"
last_race_weeks = 1.5
`

func TestEveryKeyOfACalendarIsRead(t *testing.T) {
	c, err := Read("c.toml", []byte(file))
	if err != nil {
		t.Fatal(err)
	}
	if c.LongestRun != 24000 || c.Weekly != 55000 || !c.Begin.Equal(time.Date(2027, 6, 14, 0, 0, 0, 0, time.UTC)) ||
		c.Goal.Name != "Velmarrow Marathon" || c.Goal.Distance != 42195 || !c.Goal.Date.Equal(goalDay) || c.Goal.Course != "goal.gpx" ||
		len(c.Races) != 2 || !c.Races[0].Entered || c.Races[0].Course != "half.gpx" || c.Races[1].Entered || c.Races[1].Distance != 10000 || len(c.Past) != 1 {
		t.Errorf("%+v", c)
	}
	for key, want := range map[string]float64{RacesMost: 2, Longest: 26000, LongestRunShare: 0.15, LastRace: 1.5, RacesLeast: 1} {
		if got := c.Rules.Get(key); math.Abs(got-want) > 1e-12 {
			t.Errorf("%s is %g, want %g", key, got, want)
		}
	}
}

func TestBadCalendarFilesAreRefusedWithTheirPlace(t *testing.T) {
	for _, c := range []struct{ name, from, to, want string }{
		{"no date of the goal", "date = 2027-10-17", "", `"date" is missing`},
		{"no distance", `distance = "10 km"`, "", `"distance" is missing`},
		{"an unknown rule", "races_most", "race_most", `c.toml:29:13: there is no rule "race_most" (did you mean "races_most"?)`},
		{"half a race", "races_most = 2", "races_most = 1.5", "the rule races_most is 1.5"},
		{"a bare share", `"15 %"`, "0.15", "needs a percent sign"},
		{"rules that contradict each other", "races_most = 2", "races_most = 0", "c.toml:28:2: the rule races_least is 1 but races_most is 0"},
		{"a course elsewhere", `"half.gpx"`, `"../half.gpx"`, "outside the folder"},
		{"an unknown key", "entered", "enterd", `did you mean "entered"?`},
		{"a build after the goal", "begin = 2027-06-14", "begin = 2027-11-14", "c.toml:4:9: the build begins"},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := strings.Replace(file, c.from, c.to, 1)
			if text == file {
				t.Fatal("nothing was changed")
			}
			_, err := Read("c.toml", []byte(text))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error is %v\nwant one with %s", err, c.want)
			}
		})
	}
}

// FuzzRead holds that reading never panics, that errors are of the one kind,
// and that what is read can be chosen from.
func FuzzRead(f *testing.F) {
	f.Add([]byte(file))
	f.Add([]byte("[goal]\ndate = 2027-10-17\ndistance = 1000\n[rules]\nraces_most = nan\n"))
	f.Add([]byte("[goal]\ndate = \"2027-10-17\"\ndistance = inf\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := Read("f.toml", data)
		if err == nil {
			var p *Plan
			if p, err = Choose(*c); err == nil {
				checkICalendar(t, p.ICalendar(goalDay))
			}
		}
		var in *inputerr.Error
		if err != nil && !errors.As(err, &in) {
			t.Fatalf("error of another kind: %T %v", err, err)
		}
	})
}

func BenchmarkChoose(b *testing.B) {
	for _, most := range []float64{3, 6} {
		b.Run(fmt.Sprintf("%.0f of 60", most), func(b *testing.B) {
			c := Calendar{Goal: goalOf(42195)}
			c.Rules, _ = c.Rules.With(RacesMost, most)
			for i := range MaxRaces {
				c.Races = append(c.Races, could(fmt.Sprint(i), float64(i%18)+float64(i%7)/7, []float64{5000, 10000, 15000, 21097.5}[i%4]))
			}
			for b.Loop() {
				if _, err := Choose(c); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
