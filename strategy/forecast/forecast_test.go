package forecast_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tautline/geo/inputerr"
	"tautline/geo/published"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/forecast"
	"tautline/strategy/plan"
)

var goalDay = time.Date(2027, 10, 3, 0, 0, 0, 0, time.UTC)

func weeksBefore(n int) time.Time { return goalDay.AddDate(0, 0, -7*n) }

func ran(t *testing.T, weeks int, d float64, s string) athlete.Race {
	return athlete.Race{Date: weeksBefore(weeks), Distance: d, Time: time.Duration(clock(t, s) * float64(time.Second))}
}

func forGoal(t *testing.T, a *athlete.Athlete, d float64, o forecast.Options) *forecast.Forecast {
	t.Helper()
	f, err := forecast.ForGoal(a, forecast.Goal{Distance: d, On: goalDay}, o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func done(t *testing.T, n int, d float64, each, rest string) athlete.Workout {
	w := athlete.Workout{Date: weeksBefore(3), Repeats: n, Distance: d, Time: time.Duration(clock(t, each) * float64(time.Second))}
	if rest != "" {
		w.Rest = time.Duration(clock(t, rest) * float64(time.Second))
	}
	return w
}

// Common practice, no source: the sessions and the races whose pace they tell.
func TestWorkoutsTellRacesAsCommonPracticeHasIt(t *testing.T) {
	for _, c := range []struct {
		name string
		w    athlete.Workout
		race string
		want string // time at that race; "" when it tells nothing
	}{
		{"ten kilometres in repeats at 5:00 with a minute easy are a 50:00 10 km", done(t, 10, 1000, "5:00", "1:00"), "10 km", "50:00"},
		{"six miles in repeats at 8:00 are a 49:43 10 km", done(t, 6, mile, "8:00", "1:15"), "10 km", "49:43"},
		{"half a minute more rest costs half a percent", done(t, 10, 1000, "5:00", "2:00"), "10 km", "50:15"},
		{"five kilometres in repeats with long rest are a 5 km", done(t, 5, 1000, "4:00", "2:30"), "5 km", "20:00"},
		{"three blocks of 5 km lie between 10 km and half", done(t, 3, 5000, "25:00", "1:30"), "between 10 km and half", "1:12:38"},
		{"half an hour steadily is the pace of an hour", done(t, 1, 6000, "30:00", ""), "one hour", "1:00:00"},
		{"three repeats are too few", done(t, 3, 1000, "4:00", "1:00"), "", ""},
		{"five minutes of rest are too many", done(t, 10, 1000, "4:00", "5:00"), "", ""},
		{"a long run at goal pace is no forecast", done(t, 1, 16000, "1:20:00", ""), "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, why := forecast.ReadWorkout(c.w)
			if (why == "") != (c.want != "") {
				t.Fatalf("why %q, %+v", why, got)
			}
			if c.want != "" {
				if got.Race != c.race {
					t.Errorf("read as %s", got.Race)
				}
				published.Check(t, published.Figure{Source: "workouts read as races", Trust: published.CommonPractice, What: c.name, Value: c.want, Tolerance: 0.6}, got.Time)
			}
		})
	}
}

func TestUnevenWorkoutsTellNothing(t *testing.T) {
	w := func(each ...int) athlete.Workout {
		x := athlete.Workout{Repeats: len(each), Distance: 1000, Rest: time.Minute}
		for _, s := range each {
			x.Each = append(x.Each, time.Duration(s)*time.Second)
			x.Time += time.Duration(s) * time.Second / time.Duration(len(each))
		}
		return x
	}
	slow := done(t, 10, 1000, "5:00", "1:00")
	slow.Slowest = 310 * time.Second
	for _, c := range []struct {
		name string
		w    athlete.Workout
		want string
	}{
		{"even ones do", w(300, 302, 299, 301, 300, 298, 300, 301, 299, 300), ""},
		{"more than 4 % between slowest and fastest", w(292, 300, 300, 300, 300, 300, 300, 300, 300, 305), "differ by"},
		{"a last third more than 2 % slower", w(296, 296, 296, 298, 300, 300, 300, 304, 304, 304), "last third"},
		{"a slowest far from the mean", slow, "slowest repeat"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, why := forecast.ReadWorkout(c.w)
			if (why == "") != (c.want == "") || !strings.Contains(why, c.want) {
				t.Errorf("why is %q, want %q", why, c.want)
			}
		})
	}
}

func TestAWorkoutForecastsWithAtLeastSixPercent(t *testing.T) {
	a := &athlete.Athlete{Name: "A", Workouts: []athlete.Workout{done(t, 10, 1000, "5:00", "1:00")}}
	f := forGoal(t, a, 10000, forecast.Options{})
	near(t, "10 km after ten times 1000 m at 5:00", f.Level.Value, 3000, 0.5)
	for range 5 { // more of the same must not narrow the band below that
		a.Workouts = append(a.Workouts, done(t, 6, mile, "8:00", "1:00"))
	}
	for _, f := range []*forecast.Forecast{f, forGoal(t, a, 10000, forecast.Options{})} {
		if f.From != "workouts" || f.Level.High/f.Level.Value < 1.06 || f.Level.Value/f.Level.Low < 1.06 {
			t.Errorf("from %s: %+v", f.From, f.Level)
		}
	}
	a.Races = []athlete.Race{ran(t, 6, 5000, "23:00")}
	f = forGoal(t, a, 10000, forecast.Options{})
	if f.From != "races" || f.Level.Value > 2920 {
		t.Errorf("a race does not outrank workouts: from %s, %+v", f.From, f.Level)
	}
	for _, e := range f.Evidence[1:] {
		if e.Why != "races outrank it" || math.IsNaN(e.Says) {
			t.Errorf("%+v", e)
		}
	}
}

func TestNobodyBackAfterYearsIsGivenANumber(t *testing.T) {
	old := ran(t, 200, 10000, "38:00")
	workout := done(t, 10, 1000, "5:00", "1:00")
	for _, c := range []struct {
		name string
		a    athlete.Athlete
		some bool
	}{
		{"the last race was four years ago", athlete.Athlete{Races: []athlete.Race{old}}, false},
		{"nor from workouts", athlete.Athlete{Races: []athlete.Race{old}, Workouts: []athlete.Workout{workout}}, false},
		{"who says so, with a race of nine months ago", athlete.Athlete{Returning: true, Races: []athlete.Race{ran(t, 40, 10000, "40:00")}}, false},
		{"who says so, with a race without a date", athlete.Athlete{Returning: true, Races: []athlete.Race{{Distance: 10000, Time: 40 * time.Minute}}}, false},
		{"a 5 km three weeks before is read", athlete.Athlete{Returning: true, Races: []athlete.Race{old, ran(t, 3, 5000, "26:00")}}, true},
		{"and outranks the old best without a word about returning", athlete.Athlete{Races: []athlete.Race{old, ran(t, 3, 5000, "26:00")}}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.a.Name = "A"
			f := forGoal(t, &c.a, 10000, forecast.Options{})
			if (f.None == "") != c.some {
				t.Fatalf("none: %q, level %+v", f.None, f.Level)
			}
			if !c.some {
				if f.Level.Value != 0 || len(f.Models) > 0 {
					t.Error("there is a number all the same")
				}
				for _, e := range f.Evidence {
					if !math.IsNaN(e.Says) {
						t.Errorf("the %s says %.0f s for the goal", e.Kind, e.Says)
					}
				}
				if all := strings.Join(f.Advice, " "); !strings.Contains(all, "by effort") || !strings.Contains(all, "5 km two to three weeks before") {
					t.Errorf("advice %q", all)
				}
			} else {
				near(t, "10 km after a 5 km in 26:00", f.Level.Value, 26*60*math.Pow(2, 1.06), 20)
			}
		})
	}
}

func TestAFreshRaceOverTheDistanceIsTheForecast(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d := rapid.SampledFrom([]float64{5000, 10000, 15000, 21097.5, 30000, 42195}).Draw(rt, "distance")
		v := rapid.Float64Range(2.3, 5.2).Draw(rt, "speed")
		a := &athlete.Athlete{Name: "A", Races: []athlete.Race{{Date: weeksBefore(4), Distance: d, Time: time.Duration(d / v * 1e9)}}}
		f := forGoal(t, a, d, forecast.Options{})
		if math.Abs(f.Level.Value-d/v) > 0.01 {
			rt.Errorf("%.2f s gives %+v", d/v, f.Level)
		}
		if math.Abs(f.FlatPace.Value*d-f.Level.Value) > 1e-6 {
			rt.Error("the flat pace is another time")
		}
		if !(f.Level.Low < f.Level.Value && f.Level.Value < f.Level.High) || math.IsNaN(f.Level.High) {
			rt.Errorf("%+v", f.Level)
		}
	})
}

// The conversion bands suggested for one race (one standard deviation): 5 to
// 10 km 2.5 %, 10 km to half 3 %, half to marathon 5 %, 5 and 10 km to marathon
// 7 %. The published error of the marathon model is 15.1 min on runners of
// about 3:45 to 4:00, 6.3 to 6.7 %.
func TestOneRaceIsAtLeastAsUnsureAsTheUsualBands(t *testing.T) {
	for _, c := range []struct {
		from, to  float64
		time      string
		low, high float64
	}{
		{5000, 10000, "24:00", 0.025, 0.04},
		{10000, 21097.5, "50:00", 0.03, 0.055},
		{21097.5, 42195, "1:50:00", 0.05, 0.08},
		{10000, 42195, "50:00", 0.06, 0.09},
		{5000, 42195, "24:00", 0.07, 0.10},
	} {
		a := &athlete.Athlete{Name: "A", Weekly: 50e3, Races: []athlete.Race{ran(t, 4, c.from, c.time)}}
		f := forGoal(t, a, c.to, forecast.Options{})
		sd := math.Log(f.Level.High/f.Level.Low) / 2 / 1.645
		if sd < c.low || sd > c.high {
			t.Errorf("%.0f m to %.0f m: one standard deviation of %.3f, want %.3f to %.3f", c.from, c.to, sd, c.low, c.high)
		}
		if c.from == 21097.5 {
			published.Check(t, published.Figure{Source: vickers2016, Trust: published.Read,
				What: "error of a marathon foretold from one race, one standard deviation", Unit: "min", Value: "15.1", Tolerance: 3.5}, sd*f.Level.Value/60)
		}
		var squares float64
		for _, p := range f.Parts {
			squares += p.Share * p.Share
			if p.Source == "" {
				t.Errorf("the part %q has no source", p.What)
			}
		}
		near(t, "the parts put together", math.Sqrt(squares), sd, 0.004)
	}
}

func TestRecentNearAndHardRacesCountMost(t *testing.T) {
	counts := func(races ...athlete.Race) []float64 {
		f := forGoal(t, &athlete.Athlete{Name: "A", Races: races}, 10000, forecast.Options{})
		var out []float64
		for _, e := range f.Evidence {
			out = append(out, e.Counts)
		}
		return out
	}
	held := ran(t, 6, 10000, "46:00")
	held.Effort = athlete.Steady
	for _, c := range []struct {
		name        string
		more, fewer athlete.Race
	}{
		{"the younger of two", ran(t, 4, 10000, "45:00"), ran(t, 40, 10000, "45:00")},
		{"the one over the distance", ran(t, 6, 10000, "45:00"), ran(t, 6, 21097.5, "1:40:00")},
		{"the one run all out", ran(t, 6, 10000, "45:00"), held},
	} {
		if w := counts(c.more, c.fewer); !(w[0] > 1.15*w[1]) || math.Abs(w[0]+w[1]-1) > 1e-9 {
			t.Errorf("%s counts %v", c.name, w)
		}
	}
}

func TestThePowerLawIsNeverBareAtTheMarathon(t *testing.T) {
	for _, races := range [][]athlete.Race{
		{ran(t, 5, 10000, "45:00")}, {ran(t, 5, 21097.5, "1:40:00")},
		{ran(t, 5, 10000, "45:00"), ran(t, 8, 21097.5, "1:40:00")},
	} {
		f := forGoal(t, &athlete.Athlete{Name: "A", Weekly: 50e3, Races: races}, 42195, forecast.Options{})
		last := races[len(races)-1]
		bare := forecast.PowerLaw{Exponent: 1.06}.Time(forecast.Performance{Distance: last.Distance, Time: last.Time.Seconds()}, 42195)
		if f.Level.Value < bare+600 {
			t.Errorf("marathon in %.0f s, the bare power law %.0f s", f.Level.Value, bare)
		}
		memory := false
		for _, v := range f.Models {
			if v.Name == "power law" && (v.Used || !math.IsNaN(v.Time)) {
				t.Errorf("%+v", v)
			}
			memory = memory || strings.Contains(v.Source, "Vickers") && strings.Contains(v.Basis, "from memory") && v.Used
		}
		if !memory || !strings.Contains(strings.Join(f.Notes, " "), "from memory") {
			t.Error("it is not said that the coefficients are from memory")
		}
	}
}

// Between the half and the marathon the forecast must not jump.
func TestTheForecastGrowsSmoothlyWithDistance(t *testing.T) {
	a := &athlete.Athlete{Name: "A", Races: []athlete.Race{ran(t, 5, 10000, "45:00"), ran(t, 9, 15000, "1:10:00")}}
	last := 0.0
	for d := 1500.0; d <= 46000; d += 100 {
		now := forGoal(t, a, d, forecast.Options{}).Level.Value / d
		if last > 0 && (now < last*0.9999 || now > last*1.006) {
			t.Errorf("pace goes from %.5f to %.5f s/m at %.0f m", last, now, d)
		}
		last = now
	}
}

func TestCorrections(t *testing.T) {
	warm := 27.0
	with := func(change func(*athlete.Race)) athlete.Race {
		r := ran(t, 4, 10000, "45:00")
		change(&r)
		return r
	}
	delay := 40 * time.Second
	flat, err := plan.NewCourse(plan.Route{Official: 10000, Shortest: 9850})
	if err != nil {
		t.Fatal(err)
	}
	about, err := plan.NewCourse(plan.Route{Official: 10000, Shortest: 10030})
	if err != nil {
		t.Fatal(err)
	}
	hills := hilly(t, map[float64]hillyCourse{}, 10000)
	for _, c := range []struct {
		name           string
		r              athlete.Race
		course         *plan.Course
		heat           bool
		extra          float64
		distance, time float64
		within         float64
	}{
		{"nothing to correct", with(func(*athlete.Race) {}), nil, false, 0, 10000, 2700, 0},
		{"gun time less its delay", with(func(r *athlete.Race) { r.Gun, r.GunDelay = true, &delay }), nil, false, 0, 10000, 2660, 1e-9},
		{"gun time without its delay", with(func(r *athlete.Race) { r.Gun = true }), nil, false, 0, 10000, 2680, 1e-9},
		{"a length that was not the stated one", with(func(r *athlete.Race) { r.Length = 10060 }), nil, false, 0, 10060, 2700, 0},
		{"a drawn course of 9.85 km", with(func(*athlete.Race) {}), flat, false, 0, 10000, 2700 * 10000 / 9850.0, 1e-3},
		{"a drawn course within half a percent", with(func(*athlete.Race) {}), about, false, 0, 10000, 2700, 1e-3},
		{"hills by the effort model", with(func(*athlete.Race) {}), hills.course, false, 0, 10000, 2700 / hills.cost, 0.5},
		{"what is run beyond the line", with(func(*athlete.Race) {}), nil, false, 0.005, 10000, 2700 / 1.005, 1e-9},
		{"the same on a drawn course", with(func(*athlete.Race) {}), hills.course, false, 0.005, 10000, 2700 / hills.cost / 1.005, 0.5},
		{"heat when asked", with(func(r *athlete.Race) { r.Temperature = &warm }), nil, true, 0, 10000,
			2700 / (1 + effort.Day{Heat: true, WBGT: 24.5}.Slowing(10000/2700.0, 10000).Value), 1e-9},
		{"no heat when not asked", with(func(r *athlete.Race) { r.Temperature = &warm }), nil, false, 0, 10000, 2700, 0},
		{"held back a little", with(func(r *athlete.Race) { r.Effort = athlete.Hard }), nil, false, 0, 10000, 2700 * 0.98, 1e-9},
		{"held back", with(func(r *athlete.Race) { r.Effort = athlete.Steady }), nil, false, 0, 10000, 2700 * 0.94, 1e-9},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, ok, err := forecast.Correct(c.r, c.course, forecast.Correction{Model: effort.Default(), Extra: c.extra, Heat: c.heat})
			if err != nil || !ok {
				t.Fatal(ok, err)
			}
			near(t, "distance", got.Distance, c.distance, 0)
			near(t, "time", got.Time, c.time, c.within)
			sum := 2700.0
			for _, s := range got.Steps {
				sum += s.Seconds
			}
			near(t, "the steps added up", sum, got.Time, 0.2)
		})
	}
	if _, ok, _ := forecast.Correct(with(func(r *athlete.Race) { r.Effort = athlete.Easy }), nil, forecast.Correction{Model: effort.Default()}); ok {
		t.Error("a race run easily is taken for evidence")
	}
}

func TestRacesThatDisagreeWidenTheInterval(t *testing.T) {
	width := func(b string) float64 {
		f := forGoal(t, &athlete.Athlete{Name: "A", Races: []athlete.Race{ran(t, 4, 10000, "45:00"), ran(t, 6, 10000, b)}}, 10000, forecast.Options{})
		return f.Level.Width() / f.Level.Value
	}
	if same, other := width("45:10"), width("53:00"); other < 1.3*same {
		t.Errorf("relative widths %.3f and %.3f", same, other)
	}
}

func TestEvidenceThatIsNotUsedSaysWhy(t *testing.T) {
	easy := ran(t, 4, 10000, "55:00")
	easy.Effort = athlete.Easy
	a := &athlete.Athlete{Name: "A", Races: []athlete.Race{
		ran(t, 5, 10000, "45:00"), easy, ran(t, 60, 10000, "44:00"), ran(t, -1, 5000, "21:00"), ran(t, 5, 800, "2:30"), ran(t, 5, 90000, "9:00:00"),
	}}
	f := forGoal(t, a, 10000, forecast.Options{})
	for i, want := range []string{"", "run easily", "60 weeks old", "not before the goal", "distance", "distance"} {
		if e := f.Evidence[i]; (e.Why == "") != (want == "") || !strings.Contains(e.Why, want) {
			t.Errorf("race %d: %q, want %q", i, e.Why, want)
		}
	}
}

func TestGoalsBeyondTheModelsAreRefused(t *testing.T) {
	for _, d := range []float64{400, 50000, math.NaN(), math.Inf(1), -1} {
		_, err := forecast.ForGoal(&athlete.Athlete{Name: "A"}, forecast.Goal{Distance: d}, forecast.Options{})
		var in *inputerr.Error
		if !errors.As(err, &in) {
			t.Errorf("%v m: %v", d, err)
		}
	}
}

// Whatever an athlete's file may hold, there is a finite figure with its
// bounds in order or a reason.
func TestAnyFileGivesAFigureOrAReason(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a := &athlete.Athlete{Name: "A", Weekly: rapid.SampledFrom([]float64{0, 5e3, 50e3, 400e3}).Draw(rt, "weekly"), Returning: rapid.Bool().Draw(rt, "returning")}
		for range rapid.IntRange(0, 8).Draw(rt, "races") {
			d := rapid.Float64Range(100, 60000).Draw(rt, "distance")
			r := athlete.Race{Distance: d, Time: time.Duration(d * rapid.Float64Range(0.12, 1.8).Draw(rt, "pace") * 1e9),
				Effort: rapid.SampledFrom([]athlete.Effort{"", athlete.AllOut, athlete.Hard, athlete.Steady, athlete.Easy}).Draw(rt, "effort"), Gun: rapid.Bool().Draw(rt, "gun")}
			if rapid.Bool().Draw(rt, "dated") {
				r.Date = weeksBefore(rapid.IntRange(-3, 150).Draw(rt, "weeks"))
			}
			a.Races = append(a.Races, r)
		}
		for range rapid.IntRange(0, 3).Draw(rt, "workouts") {
			a.Workouts = append(a.Workouts, athlete.Workout{Repeats: rapid.IntRange(1, 14).Draw(rt, "repeats"), Distance: rapid.Float64Range(100, 8000).Draw(rt, "repeat"),
				Time: time.Duration(rapid.IntRange(30, 3000).Draw(rt, "each")) * time.Second, Rest: time.Duration(rapid.IntRange(0, 400).Draw(rt, "rest")) * time.Second})
		}
		f, err := forecast.ForGoal(a, forecast.Goal{Distance: rapid.Float64Range(1500, 46000).Draw(rt, "goal"), On: goalDay}, forecast.Options{})
		if err != nil {
			rt.Fatal(err)
		}
		l := f.Level
		if f.None == "" && !(l.Low > 0 && l.Low < l.Value && l.Value < l.High && !math.IsInf(l.High, 1)) {
			rt.Errorf("%+v", l)
		}
		if f.None != "" && (l.Value != 0 || len(f.Advice) == 0) {
			rt.Errorf("%q with %+v", f.None, l)
		}
	})
}

func BenchmarkForGoal(b *testing.B) {
	a := &athlete.Athlete{Name: "A", Weekly: 50e3, Races: []athlete.Race{
		{Date: weeksBefore(4), Distance: 10000, Time: 45 * time.Minute}, {Date: weeksBefore(9), Distance: 21097.5, Time: 100 * time.Minute}, {Date: weeksBefore(20), Distance: 5000, Time: 21 * time.Minute},
	}}
	for b.Loop() {
		if _, err := forecast.ForGoal(a, forecast.Goal{Distance: 42195, On: goalDay}, forecast.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// What is taken for granted is said: evenness that nobody checked, an exponent
// that is the runner's own, a curve that is hopeful at the marathon.
func TestWhatIsTakenForGrantedIsSaid(t *testing.T) {
	day := time.Date(2027, 10, 17, 0, 0, 0, 0, time.UTC)
	w := athlete.Workout{Date: day.AddDate(0, 0, -20), Repeats: 10, Distance: 1000, Time: 5 * time.Minute, Rest: time.Minute}
	notes := func(w athlete.Workout) string {
		f, err := forecast.ForGoal(&athlete.Athlete{Name: "W", Workouts: []athlete.Workout{w}}, forecast.Goal{Distance: 10000, On: day}, forecast.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return strings.Join(f.Notes, "; ")
	}
	if n := notes(w); !strings.Contains(n, "taken as even") {
		t.Errorf("notes %q", n)
	}
	w.Slowest = 304 * time.Second
	if n := notes(w); strings.Contains(n, "taken as even") {
		t.Errorf("with the slowest repeat given: %q", n)
	}
	a := &athlete.Athlete{Name: "R", Races: []athlete.Race{
		{Date: day.AddDate(0, 0, -63), Distance: 10000, Time: 43 * time.Minute},
		{Date: day.AddDate(0, 0, -35), Distance: 21097.5, Time: 96 * time.Minute},
	}}
	f, err := forecast.ForGoal(a, forecast.Goal{Distance: 42195, On: day}, forecast.Options{})
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, m := range f.Models {
		if m.Name != "power law, personal exponent" {
			continue
		}
		found = true
		if m.Used || !strings.Contains(m.Note, "shown only") || !strings.HasPrefix(m.Basis, "exponent from two races") {
			t.Errorf("%+v", m)
		}
	}
	if !found {
		t.Error("no personal exponent")
	}
}
