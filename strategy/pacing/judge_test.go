package pacing

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/interval"
	"tautline/geo/published"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

func must[T any](v T, err error) func(interface {
	Helper()
	Fatal(...any)
}) T {
	return func(t interface {
		Helper()
		Fatal(...any)
	}) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.6f, want %.6f within %.2g", what, got, want, within)
	}
}

// tent rises by 2 % from 2 to 5 km and falls by 2 % to 8 km.
type tent struct{}

func (tent) Height(at float64) float64 { return 50 + 0.02*math.Max(0, 3000-math.Abs(at-5000)) }

func (g tent) Climb(from, to float64) interval.Estimate {
	top := math.Max(from, math.Min(to, 5000))
	return interval.Exact(g.Height(top) - g.Height(from))
}

func (g tent) Descent(from, to float64) interval.Estimate {
	top := math.Max(from, math.Min(to, 5000))
	return interval.Exact(g.Height(top) - g.Height(to))
}

func hilly(t interface {
	Helper()
	Fatal(...any)
}) *plan.Course {
	t.Helper()
	return must(plan.NewCourse(plan.Route{Name: "hilly", Official: 10000, Shortest: 10000, Ground: tent{},
		Hills: []plan.Hill{{Foot: 2000, Crest: 5000}}}))(t)
}

func flat(t interface {
	Helper()
	Fatal(...any)
}, length float64) *plan.Course {
	t.Helper()
	return must(plan.NewCourse(plan.Route{Name: "flat", Official: length, Shortest: length}))(t)
}

// asPlanned are the passings of a race run as planned.
func asPlanned(p *plan.Plan) []Passing {
	var race []Passing
	for _, s := range p.Splits {
		race = append(race, Passing{Name: s.Mark, At: s.To, Elapsed: s.Elapsed, Stopped: s.Stop})
	}
	return race
}

func TestARaceRunAsPlannedIsEvenOnHills(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := hilly(t)
		marks := must(plan.Every(quantity.Kilometre, quantity.Kilometre, "km", 10000))(t)
		s := plan.Settings{
			Goal: math.Round(rapid.Float64Range(2400, 4500).Draw(t, "goal")), Model: effort.Default(),
			Extra: rapid.Float64Range(0, 0.02).Draw(t, "extra"),
			Stops: []plan.Stop{{Name: "table", At: 6200, Seconds: rapid.Float64Range(0, 30).Draw(t, "stop")}},
		}
		if rapid.Bool().Draw(t, "hot") {
			s.Day = effort.Day{Heat: true, WBGT: 21}
		}
		p := must(plan.Make(c, marks, s))(t)
		rv := must(Judge(c, s, asPlanned(p), nil, p))(t)
		for _, e := range rv.Splits {
			// Splits are known to a tenth of a second in five minutes.
			if math.Abs(e.Harder) > 1e-3 || math.Abs(e.OverPlan) > 1e-3 || math.Abs(e.Ahead) > 0.2 || math.Abs(e.AheadOfPlan) > 1e-6 {
				t.Fatalf("%+v", e)
			}
		}
		if rv.Unevenness > 1e-3 || math.Abs(rv.SecondHalf) > 1e-3 || rv.EvenGain.High > 0.1 || math.Abs(rv.FlatPace/p.FlatPace-1) > 1e-4 {
			t.Fatalf("%+v", rv)
		}
	})
}

func TestEvenPaceOverAHillIsUnevenEffort(t *testing.T) {
	c := hilly(t)
	var race []Passing
	for k := 1; k <= 10; k++ {
		race = append(race, Passing{At: float64(1000 * k), Elapsed: float64(310 * k)})
	}
	rv := must(Judge(c, plan.Settings{Model: effort.Default()}, race, nil, nil))(t)
	up, down := rv.Splits[3], rv.Splits[6]
	near(t, "uphill against downhill", up.FlatPace/down.FlatPace, 3.6/4.0082/1.0383, 1e-4)
	if up.Harder < 0.05 || down.Harder > -0.05 || rv.EvenGain.Value <= 0 {
		t.Errorf("up %+v down %+v gain %+v", up, down, rv.EvenGain)
	}
	if !math.IsNaN(up.Planned) || !math.IsNaN(up.OverPlan) || !math.IsNaN(up.AheadOfPlan) {
		t.Error("a plan appeared from nowhere")
	}
	// Running even pace up a hill is ahead of even effort at the crest.
	if crest := rv.Splits[4]; crest.Ahead <= 0 {
		t.Errorf("%+v", crest)
	}
	near(t, "even finish", rv.Splits[9].Ahead, 0, 1e-6)
}

func TestAFadedRaceIsToldByHowMuchAndWhatItCost(t *testing.T) {
	c := flat(t, 42195)
	// Deaner et al. 2015: men's second halves 15.6 % slower.
	half := 3 * 3600.0
	race := []Passing{{"half", 42195.0 / 2, half, 0}, {plan.Finish, 42195, half * 2.156, 0}}
	rv := must(Judge(c, plan.Settings{Model: effort.Default()}, race, nil, nil))(t)
	published.Check(t, published.Figure{Source: "Deaner et al. 2015, MSSE 47:607-616", Trust: published.Read,
		What: "speed of men's second halves, 15.6 % more time, against the first", Value: "-0.135", Tolerance: 0.0005}, rv.SecondHalf)
	near(t, "second half", rv.SecondHalf, 1/1.156-1, 1e-9)
	if g := rv.EvenGain; !(g.Low > 60 && g.Low < g.Value && g.Value < g.High && g.High < 0.08*rv.Time) {
		t.Errorf("%+v", g)
	}
	near(t, "unevenness", rv.Unevenness, 0.072, 0.002)
}

// For a small unevenness c the saving is n c^2 / 2 of the time.
func TestEvenGainAgreesWithItsSeries(t *testing.T) {
	const small = 0.002
	c := flat(t, 20000)
	u := 4.0
	one := 10000 / (u * (1 + small))
	race := []Passing{{"half", 10000, one, 0}, {plan.Finish, 20000, one + 10000/(u*(1-small)), 0}}
	rv := must(Judge(c, plan.Settings{Model: effort.Default()}, race, nil, nil))(t)
	n := exponent / (exponent - 1)
	published.Check(t, published.Figure{Source: "n c² / 2, c the unevenness", Trust: published.Exact,
		What: "what even effort saves at an unevenness of 0.002, share of the series", Value: "1.00", Tolerance: 0.05}, rv.EvenGain.Value/rv.Time/(n*small*small/2))
}

// byMile are the passings of the miles of a race of whole kilometres, each run
// at a steady speed.
func byMile(kilometres []Passing) []Passing {
	var race []Passing
	finish := kilometres[len(kilometres)-1]
	for at := quantity.Mile; at < finish.At; at += quantity.Mile {
		k := int(at / 1000)
		before := 0.0
		if k > 0 {
			before = kilometres[k-1].Elapsed
		}
		race = append(race, Passing{Name: fmt.Sprintf("%.0f mi", at/quantity.Mile), At: at, Elapsed: before + (at/1000-float64(k))*(kilometres[k].Elapsed-before)})
	}
	return append(race, finish)
}

// For kilometres that are harder and easier in turn by a share c, the saving
// is n c^2 / 2 of the time, whatever splits are shown.
func TestARaceIsAsUnevenInMilesAsInKilometres(t *testing.T) {
	const share = 0.02
	c := flat(t, 10000)
	var kilometres []Passing
	var at float64
	for k := 1; k <= 10; k++ {
		at += 1000 / (3.5 * (1 + share*float64(2*(k%2)-1)))
		kilometres = append(kilometres, Passing{Name: fmt.Sprint(k, " km"), At: float64(1000 * k), Elapsed: at})
	}
	s := plan.Settings{Model: effort.Default()}
	inMiles := must(Judge(c, s, byMile(kilometres), kilometres, nil))(t)
	n := exponent / (exponent - 1)
	published.Check(t, published.Figure{Source: "n c² / 2, c the unevenness", Trust: published.Exact,
		What: "what even effort saves when kilometres are 2 % harder and easier in turn, told by miles, share of the series", Value: "1.00", Tolerance: 0.05},
		inMiles.EvenGain.Value/inMiles.Time/(n*share*share/2))
	near(t, "unevenness", inMiles.Unevenness, share, 1e-4)
	if len(inMiles.Splits) != 7 || inMiles.Splits[0].Mark != "1 mi" {
		t.Errorf("%+v", inMiles.Splits)
	}
	if v := inMiles.Verdict(quantity.Imperial); len(v) != 1 || !strings.Contains(v[0], "2 % harder than the race as a whole from ") || !strings.Contains(v[0], " mi, 2 % easier from ") {
		t.Errorf("%q", v)
	}
}

func TestWhatASplitIsDoesNotChangeHowEvenARaceWas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := hilly(t)
		var kilometres []Passing
		var at float64
		for k := 1; k <= 10; k++ {
			at += rapid.Float64Range(240, 420).Draw(t, "kilometre")
			kilometres = append(kilometres, Passing{Name: fmt.Sprint(k, " km"), At: float64(1000 * k), Elapsed: at})
		}
		s := plan.Settings{Model: effort.Default()}
		j, m := must(Judge(c, s, kilometres, nil, nil))(t), must(Judge(c, s, byMile(kilometres), kilometres, nil))(t)
		if j.EvenGain != m.EvenGain || j.Unevenness != m.Unevenness || j.SecondHalf != m.SecondHalf || j.FlatPace != m.FlatPace {
			t.Fatalf("in kilometres %+v\nin miles %+v", j, m)
		}
		a, b := j.Verdict(quantity.Metric), m.Verdict(quantity.Imperial)
		if len(a) != len(b) || len(a) > 1 && a[1] != b[1] {
			t.Fatalf("in kilometres %q, in miles %q", a, b)
		}
		if last := m.Splits[len(m.Splits)-1]; math.Abs(last.Ahead) > 1e-6 || last.Elapsed != at {
			t.Fatalf("%+v", last)
		}
	})
}

func TestPiecesOfAnotherRaceAreRefused(t *testing.T) {
	c := flat(t, 10000)
	race := []Passing{{plan.Finish, 10000, 3000, 0}}
	for name, grain := range map[string][]Passing{
		"another time": {{"5 km", 5000, 1500, 0}, {plan.Finish, 10000, 3010, 0}},
		"no finish":    {{"5 km", 5000, 1500, 0}},
		"nothing":      {},
	} {
		if _, err := Judge(c, plan.Settings{Model: effort.Default()}, race, grain, nil); err == nil {
			t.Errorf("%s: judged", name)
		}
	}
}

func TestRacesThatCannotBeAreRefused(t *testing.T) {
	c := flat(t, 10000)
	for name, race := range map[string][]Passing{
		"nothing":              nil,
		"no finish":            {{"5 km", 5000, 1500, 0}},
		"time running back":    {{"5 km", 5000, 1500, 0}, {plan.Finish, 10000, 1400, 0}},
		"longer stop than run": {{"5 km", 5000, 1500, 1600}, {plan.Finish, 10000, 3000, 0}},
		"a negative stop":      {{"5 km", 5000, 1500, -5}, {plan.Finish, 10000, 3000, 0}},
		"not a time":           {{plan.Finish, 10000, math.NaN(), 0}},
		"faster than anyone":   {{"5 km", 5000, 300, 0}, {plan.Finish, 10000, 2000, 0}},
	} {
		if _, err := Judge(c, plan.Settings{Model: effort.Default()}, race, nil, nil); err == nil {
			t.Errorf("%s: judged", name)
		}
	}
}

// A split on one gradient has the flat-equivalent pace of that gradient.
func TestFlatPaceIsThatOfTheSplits(t *testing.T) {
	race := []Passing{{Name: "foot", At: 2000, Elapsed: 600}, {Name: "crest", At: 5000, Elapsed: 1700}, {Name: "foot", At: 8000, Elapsed: 2500}, {Name: "finish", At: 10000, Elapsed: 3100}}
	for _, m := range []effort.Model{effort.Default(), effort.Published(effort.Davies1980, effort.Davies1980)} {
		j := must(Judge(hilly(t), plan.Settings{Model: m}, race, nil, nil))(t)
		for i, gradient := range []float64{0, 0.02, -0.02, 0} {
			got := FlatPace(m.Ready(), j.Splits[i].Pace, []float64{gradient, gradient})
			near(t, fmt.Sprintf("%s, split %d", m.Uphill, i+1), got, j.Splits[i].FlatPace, 1e-3*got)
		}
	}
}

func TestTheVerdictOnAnEvenRaceAndOnAFadedOne(t *testing.T) {
	c := flat(t, 10000)
	race := func(seconds func(k int) float64) *Judgement {
		var all []Passing
		var at float64
		for k := 1; k <= 10; k++ {
			at += seconds(k)
			all = append(all, Passing{Name: fmt.Sprint(k, " km"), At: float64(1000 * k), Elapsed: at})
		}
		return must(Judge(c, plan.Settings{Model: effort.Default()}, all, nil, nil))(t)
	}
	if v := race(func(k int) float64 { return 300 + float64(k%2) }).Verdict(quantity.Metric); len(v) != 1 || v[0] != "Effort was even." {
		t.Errorf("%q", v)
	}
	v := race(func(k int) float64 { return 280 + 5*float64(k) }).Verdict(quantity.Metric)
	if len(v) != 2 || !strings.Contains(v[0], "harder than the race as a whole in the split to 1 km") || !strings.Contains(v[0], "easier in the one to 10 km") || !strings.Contains(v[1], "faded") {
		t.Errorf("%q", v)
	}
	v = race(func(k int) float64 { return 320 - 5*float64(k) }).Verdict(quantity.Metric)
	if len(v) != 2 || !strings.Contains(v[1], "left") {
		t.Errorf("%q", v)
	}
}
