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
		rv := must(Judge(c, s, asPlanned(p), p))(t)
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
	rv := must(Judge(c, plan.Settings{Model: effort.Default()}, race, nil))(t)
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
	rv := must(Judge(c, plan.Settings{Model: effort.Default()}, race, nil))(t)
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
	rv := must(Judge(c, plan.Settings{Model: effort.Default()}, race, nil))(t)
	n := exponent / (exponent - 1)
	published.Check(t, published.Figure{Source: "n c² / 2, c the unevenness", Trust: published.Exact,
		What: "what even effort saves at an unevenness of 0.002, share of the series", Value: "1.00", Tolerance: 0.05}, rv.EvenGain.Value/rv.Time/(n*small*small/2))
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
		if _, err := Judge(c, plan.Settings{Model: effort.Default()}, race, nil); err == nil {
			t.Errorf("%s: judged", name)
		}
	}
}

// A split on one gradient has the flat-equivalent pace of that gradient.
func TestFlatPaceIsThatOfTheSplits(t *testing.T) {
	race := []Passing{{Name: "foot", At: 2000, Elapsed: 600}, {Name: "crest", At: 5000, Elapsed: 1700}, {Name: "foot", At: 8000, Elapsed: 2500}, {Name: "finish", At: 10000, Elapsed: 3100}}
	for _, m := range []effort.Model{effort.Default(), effort.Published(effort.Davies1980, effort.Davies1980)} {
		j := must(Judge(hilly(t), plan.Settings{Model: m}, race, nil))(t)
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
		return must(Judge(c, plan.Settings{Model: effort.Default()}, all, nil))(t)
	}
	if v := race(func(k int) float64 { return 300 + float64(k%2) }).Verdict(); len(v) != 1 || v[0] != "Effort was even." {
		t.Errorf("%q", v)
	}
	v := race(func(k int) float64 { return 280 + 5*float64(k) }).Verdict()
	if len(v) != 2 || !strings.Contains(v[0], "harder than the race as a whole in the split to 1 km") || !strings.Contains(v[0], "easier in the one to 10 km") || !strings.Contains(v[1], "faded") {
		t.Errorf("%q", v)
	}
	v = race(func(k int) float64 { return 320 - 5*float64(k) }).Verdict()
	if len(v) != 2 || !strings.Contains(v[1], "left") {
		t.Errorf("%q", v)
	}
}
