package forecast_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/published"
	"tautline/strategy/forecast"
	"tautline/strategy/quantity"
)

func clock(t *testing.T, s string) float64 {
	t.Helper()
	v, err := quantity.ParseClock(s)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

const mile = quantity.Mile

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %.6g, want %.6g within %.3g", what, got, want, tolerance)
	}
}

// equations names the source of a model's equations.
func equations(t *testing.T, what string) string {
	t.Helper()
	for word, source := range map[string]string{
		"power law": "Riegel 1981, power law", "Vickers": vickers2016 + ", equations from memory",
		"Emig":           "Emig and Peltonen 2020, Nature Communications 11, equations from memory",
		"critical speed": "critical speed, two parameters", "reserve": "critical speed, two parameters",
	} {
		if strings.HasPrefix(what, word) {
			return source
		}
	}
	t.Fatalf("%s has no source", what)
	return ""
}

const vickers2016 = "Vickers and Vertosick 2016, BMC Sports Sci Med Rehabil 8:26"

// Self-consistency: figures computed once from the equations as stated.
func TestModelsReproduceTheirEquations(t *testing.T) {
	at := func(d float64, s string) forecast.Performance {
		return forecast.Performance{Distance: d, Time: clock(t, s)}
	}
	law := forecast.PowerLaw{Exponent: forecast.GeneralExponent}
	var vickers forecast.VickersVertosick2016
	emig := func(top, endurance float64) forecast.EmigPeltonen2020 {
		return forecast.EmigPeltonen2020{Top: top, Gamma: 0.1 / math.Log(endurance)}
	}
	fitted, ok := forecast.FitEmig(at(5000, "20:00"), at(10000, "41:42"))
	if !ok {
		t.Fatal("5 and 10 km do not fit a logarithmic curve")
	}
	critical, ok := forecast.FitCritical(at(1200, "3:36"), at(3600, "12:00"))
	if !ok {
		t.Fatal("1200 and 3600 m give no critical speed")
	}
	for _, c := range []struct {
		what   string
		got    float64
		unit   string
		want   string
		within float64
	}{
		{"power law, 5 km 20:00 to 10 km", law.Time(at(5000, "20:00"), 10000), "", "41:41.9", 0.1},
		{"power law, 10 km 40:00 to the half", law.Time(at(10000, "40:00"), 21097.5), "", "1:28:15.4", 0.1},
		{"power law, half 1:30:00 to the marathon (never used bare)", law.Time(at(21097.5, "1:30:00"), 42195), "", "3:07:38.6", 0.1},
		{"power law 1.15, half 1:30:00 to the marathon", forecast.PowerLaw{Exponent: 1.15}.Time(at(21097.5, "1:30:00"), 42195), "", "3:19:43", 0.6},
		{"Vickers, 10 km 40:00, 40 miles", vickers.OneRace(at(10000, "40:00"), 40*mile), "", "3:18:16.6", 0.1},
		{"Vickers, half 1:30:00, 20 miles", vickers.OneRace(at(21097.5, "1:30:00"), 20*mile), "", "3:28:01", 0.6},
		{"Vickers, half 1:30:00, 40 miles", vickers.OneRace(at(21097.5, "1:30:00"), 40*mile), "", "3:20:24", 0.6},
		{"Vickers, half 1:30:00, 60 miles", vickers.OneRace(at(21097.5, "1:30:00"), 60*mile), "", "3:13:20", 0.6},
		{"Vickers, 5 km 20:00, 30 miles", vickers.OneRace(at(5000, "20:00"), 30*mile), "", "3:30:55", 0.6},
		{"Vickers, 10 km 40:00 and half 1:28:15, 40 miles", vickers.TwoRaces(at(10000, "40:00"), at(21097.5, "1:28:15"), 40*mile), "", "3:14:48.9", 0.5},
		{"Vickers, half 1:28:15 and 10 km 40:00, 40 miles", vickers.TwoRaces(at(21097.5, "1:28:15"), at(10000, "40:00"), 40*mile), "", "3:14:48.9", 0.5},
		{"Emig, top 5, endurance 5: gamma", emig(5, 5).Gamma, "", "0.06213", 1e-5},
		{"Emig, 90 % of top for 30 minutes at endurance 5", emig(5, 5).Speed(1800), "m/s", "4.5", 1e-9},
		{"Emig, 5 km", emig(5, 5).Time(5000), "", "17:52.8", 0.1},
		{"Emig, 10 km", emig(5, 5).Time(10000), "", "37:37.5", 0.1},
		{"Emig, half", emig(5, 5).Time(21097.5), "", "1:24:07.7", 0.1},
		{"Emig, marathon", emig(5, 5).Time(42195), "", "2:58:11.8", 0.1},
		{"Emig, top 4, endurance 4, marathon", emig(4, 4).Time(42195), "", "3:59:31", 0.6},
		{"Emig, top 4, endurance 6, marathon", emig(4, 6).Time(42195), "", "3:40:03", 0.6},
		{"Emig, top 4, endurance 8, marathon", emig(4, 8).Time(42195), "", "3:32:12", 0.6},
		{"Emig through two races: top", fitted.Top, "m/s", "4.4450", 1e-4},
		{"Emig through two races: gamma", fitted.Gamma, "", "0.052009", 1e-6},
		{"Emig through two races: endurance", fitted.Endurance(), "", "6.84", 0.01},
		{"Emig through two races: half", fitted.Time(21097.5), "", "1:32:13", 0.6},
		{"Emig through two races: marathon", fitted.Time(42195), "", "3:13:04", 0.6},
		{"critical speed", critical.Speed, "m/s", "4.7619", 1e-4},
		{"reserve above it", critical.Reserve, "m", "171.43", 0.01},
		{"critical speed, 5 km", critical.Time(5000), "", "16:54", 0.6},
	} {
		published.Check(t, published.Figure{Source: equations(t, c.what), Trust: published.Derived, What: c.what, Unit: c.unit, Value: c.want, Tolerance: c.within}, c.got)
	}
}

// Closed form of the logarithmic curve by the other branch of Lambert's W, a
// second method.
func TestTheLogarithmicCurveAgreesWithItsClosedForm(t *testing.T) {
	lambert := func(z float64) float64 { // W-1, z in (-1/e, 0)
		w := math.Log(-z) - math.Log(-math.Log(-z))
		for range 60 {
			e := math.Exp(w)
			w -= (w*e - z) / (e * (w + 1))
		}
		return w
	}
	for _, m := range []forecast.EmigPeltonen2020{{Top: 5, Gamma: 0.0621}, {Top: 4, Gamma: 0.05}, {Top: 3.2, Gamma: 0.08}} {
		for _, d := range []float64{5000, 10000, 21097.5, 42195} {
			share := d / (m.Top * 360)
			x := -share / (m.Gamma * lambert(-share*math.Exp(-1/m.Gamma)/m.Gamma))
			near(t, fmt.Sprintf("%+v over %.0f m", m, d), m.Time(d), 360*x, 1e-6*360*x)
		}
	}
}

// Outside check: oxygen cost by pace as a textbook table gives it (quoted by
// others), good to a tenth.
func TestOxygenCostAgreesWithAPublishedTable(t *testing.T) {
	var m forecast.DanielsGilbert1979
	for pace, want := range map[string]float64{"10:00": 27.4, "9:14": 30.3, "8:35": 33.3, "8:00": 36.3, "7:30": 39.3, "7:04": 42.4} {
		published.Check(t, published.Figure{Source: "oxygen cost by pace, a textbook's table", Trust: published.SecondHand,
			What: "oxygen cost at " + pace + " per mile", Unit: "ml/kg/min", Value: published.Number(want), Tolerance: 0.11}, m.Cost(quantity.Mile/clock(t, pace)))
	}
}

// Self-consistency of the indexes and shares; the published table is from
// memory, held to the 0.25 % that its rounding allows.
func TestTheFitnessIndexGivesTheTableOfTimes(t *testing.T) {
	var m forecast.DanielsGilbert1979
	daniels := func(trust published.Trust, what, value string, tolerance, ours float64) {
		t.Helper()
		published.Check(t, published.Figure{Source: "Daniels and Gilbert 1979", Trust: trust, What: what, Value: value, Tolerance: tolerance}, ours)
	}
	for minutes, want := range map[float64]float64{10: 1.0100, 20: 0.95298, 40: 0.91376, 60: 0.88801, 90: 0.85998, 120: 0.84088, 180: 0.81899, 240: 0.80882} {
		daniels(published.Derived, fmt.Sprintf("share held for %.0f min", minutes), published.Number(want), 5e-5, m.Share(60*minutes))
	}
	for _, c := range []struct {
		d    float64
		time string
		want float64
	}{{5000, "20:00", 49.806}, {10000, "40:00", 51.944}, {21097.5, "1:30:00", 50.977}, {42195, "3:00:00", 53.528}} {
		daniels(published.Derived, fmt.Sprintf("index of %.0f m in %s", c.d, c.time), published.Number(c.want), 5e-4, m.Index(forecast.Performance{Distance: c.d, Time: clock(t, c.time)}))
	}
	distances := []float64{1500, mile, 3000, 5000, 10000, 15000, 21097.5, 42195}
	for index, row := range map[float64][]string{
		30: {"8:30", "9:10", "17:56", "30:41", "1:03:49", "1:38:21", "2:21:17", "4:49:49"},
		50: {"5:24", "5:50", "11:33", "19:56", "41:20", "1:03:34", "1:31:31", "3:10:40"},
		70: {"4:00", "4:19", "8:35", "14:56", "31:01", "47:34", "1:08:23", "2:23:13"},
	} {
		for i, want := range row {
			w := clock(t, want)
			// Half a second of printing and 0.05 %: computed from the equation.
			daniels(published.Derived, fmt.Sprintf("index %.0f over %.0f m", index, distances[i]), want, 0.5+5e-4*w, m.Time(index, distances[i]))
		}
	}
	remembered := []float64{5000, 10000, 21097.5, 42195}
	for index, row := range map[float64][]string{
		40: {"24:08", "50:03", "1:50:59", "3:49:45"},
		50: {"19:57", "41:21", "1:31:35", "3:10:49"},
		60: {"17:03", "35:22", "1:18:09", "2:43:25"},
		70: {"14:55", "31:00", "1:08:21", "2:23:10"},
	} {
		for i, want := range row {
			w := clock(t, want)
			daniels(published.FromMemory, fmt.Sprintf("their table, index %.0f over %.0f m", index, remembered[i]), want, 0.0025*w, m.Time(index, remembered[i]))
		}
	}
}

// Vickers and Vertosick 2016 report that the bare power law is at least ten
// minutes too fast for half of runners; their model must lie that far above it.
func TestTheMarathonModelIsSlowerThanTheBarePowerLaw(t *testing.T) {
	law := forecast.PowerLaw{Exponent: forecast.GeneralExponent}
	var m forecast.VickersVertosick2016
	for _, half := range []string{"1:30:00", "1:45:00", "2:00:00"} {
		p := forecast.Performance{Distance: 21097.5, Time: clock(t, half)}
		gap := m.OneRace(p, 30*mile) - law.Time(p, 42195)
		published.Check(t, published.Figure{Source: vickers2016, Trust: published.Read,
			What: "marathon slower than the bare power law after a half in " + half, Value: "at least 10:00"}, gap)
		if gap > 3000 {
			t.Errorf("after a half in %s the gap is %.0f s", half, gap)
		}
	}
}

func TestPersonalExponents(t *testing.T) {
	five := forecast.Performance{Distance: 5000, Time: 1200}
	ten := func(k float64) forecast.Performance {
		return forecast.Performance{Distance: 10000, Time: 1200 * math.Pow(2, k)}
	}
	for _, c := range []struct {
		name string
		b    forecast.Performance
		want float64
		held bool
		ok   bool
	}{
		{"an ordinary exponent is kept", ten(1.08), 1.08, false, true},
		{"one below what anyone has is held", ten(0.99), 1.02, true, true},
		{"one above what anyone has is held", ten(1.4), 1.20, true, true},
		{"races of about one distance tell nothing", forecast.Performance{Distance: 6000, Time: 1500}, 0, false, false},
		{"nor does a race without a time", forecast.Performance{Distance: 10000}, 0, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, order := range [][2]forecast.Performance{{five, c.b}, {c.b, five}} {
				p, held, ok := forecast.Personal(order[0], order[1])
				if ok != c.ok || held != c.held || math.Abs(p.Exponent-c.want) > 1e-12 {
					t.Errorf("exponent %.4f, held %v, ok %v", p.Exponent, held, ok)
				}
			}
		})
	}
}

func TestCriticalSpeedStaysInItsRange(t *testing.T) {
	m := forecast.CriticalSpeed{Speed: 4.76, Reserve: 171}
	for _, d := range []float64{500, 10000, 42195} {
		if v := m.Time(d); !math.IsNaN(v) {
			t.Errorf("%.0f m in %.0f s", d, v)
		}
	}
	if _, ok := forecast.FitCritical(forecast.Performance{Distance: 5000, Time: 1100}, forecast.Performance{Distance: 10000, Time: 2300}); ok {
		t.Error("a race of 38 minutes was used")
	}
}

// Every model takes more time for more distance and gives its own race back.
func TestModelsGrowAndReturn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(2.4, 6).Draw(t, "speed")
		d := rapid.Float64Range(3000, 22000).Draw(t, "distance")
		more := d * rapid.Float64Range(1.01, 2).Draw(t, "ratio")
		p := forecast.Performance{Distance: d, Time: d / v}
		var dg forecast.DanielsGilbert1979
		index := dg.Index(p)
		if back := dg.Time(index, d); math.Abs(back-p.Time) > 1e-6*p.Time {
			t.Errorf("Daniels and Gilbert give %.3f s back for %.3f s", back, p.Time)
		}
		if dg.Time(index, more) <= p.Time {
			t.Error("more distance takes less time")
		}
		q := forecast.Performance{Distance: more, Time: forecast.PowerLaw{Exponent: 1.06}.Time(p, more)}
		if e, ok := forecast.FitEmig(p, q); ok {
			for _, r := range []forecast.Performance{p, q} {
				if back := e.Time(r.Distance); math.Abs(back-r.Time) > 1e-6*r.Time {
					t.Errorf("the logarithmic curve gives %.3f s back for %.3f s", back, r.Time)
				}
			}
		}
		if k, held, ok := forecast.Personal(p, q); ok && (held || math.Abs(k.Exponent-1.06) > 1e-9) {
			t.Errorf("exponent %.6f", k.Exponent)
		}
	})
}
