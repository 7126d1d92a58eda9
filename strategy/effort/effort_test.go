package effort

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/inputerr"
	"tautline/geo/published"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.6g, want %.6g within %.2g", what, got, want, within)
	}
}

func held(t *testing.T, source string, trust published.Trust, what, unit, value string, within, ours float64) {
	t.Helper()
	published.Check(t, published.Figure{Source: source, Trust: trust, What: what, Unit: unit, Value: value, Tolerance: within}, ours)
}

// speedOn is the speed at even effort on a gradient over that on the level, in
// still air.
func speedOn(m Model, gradient float64) float64 {
	return m.Ready().Stretch(Conditions{Gradient: gradient}).Speed(1)
}

const minetti2002 = "Minetti et al. 2002, J Appl Physiol 93:1039-1046"

// The means and standard deviations in the abstract of Minetti et al. 2002,
// J Appl Physiol 93:1039-1046.
func TestMinettiPolynomialMeetsTheMeasuredCostsWithinTheirDeviation(t *testing.T) {
	for _, c := range []struct{ gradient, mean, sd float64 }{
		{0, 3.40, 0.24}, {0.45, 18.93, 1.74}, {-0.20, 1.73, 0.36}, {-0.45, 3.92, 0.81},
	} {
		held(t, minetti2002, published.Read, fmt.Sprintf("measured cost at a gradient of %g, within its deviation", c.gradient), "J/kg/m", fmt.Sprintf("%.2f", c.mean), c.sd, minetti(c.gradient))
	}
}

// Arithmetic of the printed polynomial, done apart from this code.
func TestMinettiPolynomialVectors(t *testing.T) {
	equalPower := Default()
	equalPower.Credit, equalPower.Cap = 1, 2
	for _, c := range []struct{ gradient, cost, speed float64 }{
		{-0.10, 2.1517, 1.6731}, {-0.05, 2.7459, 1.3110}, {-0.03, 3.0578, 1.1773}, {-0.01, 3.4097, 1.0558},
		{0, 3.6, 1}, {0.01, 3.7996, 0.9475}, {0.03, 4.2255, 0.8520}, {0.05, 4.6852, 0.7684},
		{0.08, 5.4334, 0.6626}, {0.10, 5.9682, 0.6032}, {0.15, 7.4170, 0.4854},
	} {
		held(t, minetti2002+", polynomial", published.Derived, fmt.Sprintf("cost at a gradient of %g", c.gradient), "J/kg/m", fmt.Sprintf("%.4f", c.cost), 5e-5, minetti(c.gradient))
		held(t, minetti2002+", polynomial", published.Derived, fmt.Sprintf("speed of equal power at %g", c.gradient), "", fmt.Sprintf("%.4f", c.speed), 5e-5, speedOn(equalPower, c.gradient))
		near(t, "s/km at 300 s/km", 1/equalPower.Ready().Stretch(Conditions{Gradient: c.gradient}).FlatSpeed(1/(300*c.cost/3.6)), 300, 0.01)
	}
	// The minimum: 1.7813 J/kg/m at -0.1814.
	low, at := math.Inf(1), 0.0
	for i := -0.45; i < 0.45; i += 1e-4 {
		if c := minetti(i); c < low {
			low, at = c, i
		}
	}
	held(t, minetti2002+", polynomial", published.Derived, "least cost", "J/kg/m", "1.7813", 5e-5, low)
	held(t, minetti2002+", polynomial", published.Derived, "gradient of the least cost", "", "-0.1814", 2e-4, at)
}

func TestDownhillCreditVectors(t *testing.T) {
	third := Default()
	third.Cap = 2
	two := Published(Davies1980, Davies1980)
	two.Cap = 2
	for _, c := range []struct{ gradient, third, davies float64 }{
		{-0.01, 1.0186, 1.0220}, {-0.02, 1.0383, 1.0450}, {-0.03, 1.0591, 1.0690},
		{-0.05, 1.1037, 1.1205}, {-0.06, 1.1272, 1.1482}, {-0.08, 1.1758, 1.2079},
	} {
		held(t, minetti2002+", a third of the gain", published.Derived, fmt.Sprintf("speed at a gradient of %g", c.gradient), "", fmt.Sprintf("%.4f", c.third), 6e-5, speedOn(third, c.gradient))
		held(t, "Davies 1980, efficiencies", published.Derived, fmt.Sprintf("speed at a gradient of %g", c.gradient), "", fmt.Sprintf("%.4f", c.davies), 6e-5, speedOn(two, c.gradient))
	}
	for _, m := range []Model{Default(), Published(Davies1980, Davies1980)} {
		near(t, "cap", speedOn(m, -0.08), 1.14, 0)
	}
}

// Cost ratios at +5 and -5 % that follow from each source.
func TestPublishedCostsAtFivePercent(t *testing.T) {
	for _, c := range []struct {
		cost           Cost
		gradient, want float64
		within         float64
		trust          published.Trust
	}{
		{ACSM, 0.05, 1.225, 1e-9, published.Derived},
		{Minetti2002, 0.05, 1.301, 1e-3, published.Derived},
		{Balducci2016, 0.05, 1.33, 5e-3, published.Derived},
		{Davies1980, 0.05, 1.3688, 1e-4, published.Derived},
		{Padulo2013, 0.05, 1.38, 5e-3, published.Derived},
		{Padulo2013, 0.07, 1.53, 1e-9, published.Read},
		{Minetti2002, -0.05, 0.763, 1e-3, published.Derived},
		{Davies1980, -0.05, 0.8924, 1e-4, published.Derived},
		{Robergs1997, -0.05, 0.79, 5e-3, published.Derived},
		{Balducci2016, 0.125, 1.82, 5e-3, published.Read},
		{Balducci2016, 0.25, 2.69, 5e-3, published.Read},
		// Robergs et al. report 9 % less at -1.8 % and 22 % less at -5.4 %.
		{Robergs1997, -0.018, 0.91, 0.02, published.Read},
		{Robergs1997, -0.054, 0.78, 0.01, published.Read},
	} {
		got, beyond := c.cost.table().at(c.gradient)
		if beyond {
			t.Errorf("%s at %g is inside its range but was held", c.cost, c.gradient)
		}
		held(t, title(t, c.cost), c.trust, fmt.Sprintf("cost against the level at a gradient of %g", c.gradient), "", published.Number(c.want), c.within, got)
	}
}

// title is what a cost is called where it is shown.
func title(t *testing.T, c Cost) string {
	t.Helper()
	for _, info := range Costs() {
		if info.Cost == c {
			return info.Title
		}
	}
	t.Fatalf("%s is not listed", c)
	return ""
}

// Bushman 2020: VO2 = 3.5 + 0.2 S + 0.9 S G gives 43.5 and 52.5 ml/kg/min at
// 200 m/min on the level and at 5 %.
func TestACSMNetRatioIsTheEquationsOwn(t *testing.T) {
	got, _ := ACSM.table().at(0.05)
	held(t, "ACSM equation in Bushman 2020, ACSM's Health & Fitness J 24(4):5-8", published.Read, "net uptake at 5 %, 49 ml/kg/min, against the level, 40", "", "1.225", 1e-12, got)
}

func TestCostsAreHeldBeyondTheirRangeAndSaySo(t *testing.T) {
	for _, info := range Costs() {
		for _, beyond := range []struct{ at, limit float64 }{
			{info.High + 0.01, info.High}, {info.Low - 0.01, info.Low}, {9, info.High}, {math.Inf(-1), info.Low},
		} {
			got, held := info.Cost.table().at(beyond.at)
			want, inside := info.Cost.table().at(beyond.limit)
			if !held || inside || got != want {
				t.Errorf("%s at %g: got %g held %v, want the value %g of %g held", info.Title, beyond.at, got, held, want, beyond.limit)
			}
		}
		if one, _ := info.Cost.table().at(0); one != 1 {
			t.Errorf("%s: ratio on the level is %g", info.Title, one)
		}
		if info.Source == "" || info.Title == "" {
			t.Errorf("%s has no source", info.Cost)
		}
	}
	m := Published(ACSM, Robergs1997)
	for gradient, want := range map[float64]bool{0: false, 0.10: false, 0.16: true, -0.05: false, -0.06: true} {
		if m.Ready().OutOfRange(gradient) != want {
			t.Errorf("out of range at %g: got %v", gradient, !want)
		}
	}
}

// Staab, Agnew and Siconolfi 1992: five equal-time stages. Courses B (0, +5,
// 0, -5, 0 %) and C (0, -5, 0, +5, 0 %) were run 2.8 and 2.4 % slower than
// level. Acceptance 2.0 to 3.2 %.
func TestStaabsTreadmillCoursesComeOutAsMuchSlower(t *testing.T) {
	mean := func(m Model) float64 { return (3 + speedOn(m, 0.05) + speedOn(m, -0.05)) / 5 }
	for _, m := range []Model{Default(), Published(Davies1980, Davies1980), Published(Padulo2013, Robergs1997)} {
		// Time over a given distance grows by the inverse of the mean speed.
		slower := 1 - mean(m)
		if m.Uphill != Padulo2013 {
			held(t, "Staab, Agnew and Siconolfi 1992, MSSE 24:124-127", published.Read, fmt.Sprintf("stages of 0, ±5 %% slower than level, by %s", m.Uphill), "", "0.024 to 0.028", 0.004, slower)
		}
		if slower <= 0 {
			t.Errorf("%s up and %s down make a hilly course faster", m.Uphill, m.Downhill)
		}
	}
	for credit, want := range map[float64]float64{0.30: -0.028, 1.0 / 3: -0.026, 0.40: -0.021, 0.50: -0.015, 1: 0.016} {
		m := Default()
		m.Credit, m.Cap = credit, 2
		near(t, "change of mean speed", mean(m)-1, want, 6e-4)
	}
}

// Townshend, Worringham and Stewart 2010: 13.8 % faster downhill.
func TestDescentsNeverExceedTheRealisedGain(t *testing.T) {
	most := 0.0
	for i := -0.45; i < 0; i += 0.001 {
		most = max(most, speedOn(Default(), i))
	}
	held(t, "Townshend, Worringham and Stewart 2010, MSSE 42:160-169", published.Read, "greatest speed downhill against the level", "", "at most 1.138", 0.0025, most)
}

// Kay (J Quant Anal Sports 2014) argues that pace is convex in gradient. The
// published costs are; a partial downhill credit bends the descending side the
// other way by at most 0.3 % of pace, which this bounds.
func TestSpeedFallsWithGradientAndPaceIsConvex(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Published(rapid.SampledFrom([]Cost{Minetti2002, Davies1980}).Draw(t, "cost"), Minetti2002)
		slack := 1e-9
		if rapid.Bool().Draw(t, "whole credit") {
			m.Credit, m.Cap = 1, 2
		} else {
			m.Credit = rapid.Float64Range(0, 1).Draw(t, "credit")
			slack = 0.003
		}
		// Beyond +5 % Davies is held, which is flat and so not convex.
		top := 0.15
		if m.Uphill == Davies1980 {
			top = 0.05
		}
		a := rapid.Float64Range(-0.10, top).Draw(t, "a")
		c := rapid.Float64Range(a, top).Draw(t, "c")
		b := a + (c-a)*rapid.Float64Range(0, 1).Draw(t, "between")
		pace := func(i float64) float64 { return 1 / speedOn(m, i) }
		if speedOn(m, a) < speedOn(m, c)-1e-12 {
			t.Fatalf("faster at %g than at %g", c, a)
		}
		if c-a > 1e-9 {
			chord := pace(a) + (pace(c)-pace(a))*(b-a)/(c-a)
			if pace(b) > chord+slack {
				t.Fatalf("pace at %g is above its chord", b)
			}
		}
		if speedOn(m, 0) != 1 {
			t.Fatal("not 1 on the level")
		}
	})
}

func TestUpAndDownTheSameHillIsNeverFasterThanLevel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Default()
		m.Credit = rapid.Float64Range(0, 1).Draw(t, "credit")
		i := rapid.Float64Range(0, 0.20).Draw(t, "gradient")
		both := 1/speedOn(m, i) + 1/speedOn(m, -i)
		if both < 2-1e-12 {
			t.Fatalf("up and down %g: %g", i, both)
		}
	})
}

func TestTheFlatSpeedUndoesTheSpeedUnderAllConditions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Published(rapid.SampledFrom([]Cost{Minetti2002, Davies1980, Padulo2013}).Draw(t, "up"),
			rapid.SampledFrom([]Cost{Minetti2002, Davies1980, Robergs1997}).Draw(t, "down"))
		if rapid.Bool().Draw(t, "air") {
			m.Air = Wind(rapid.Float64Range(0, 2*math.Pi).Draw(t, "from"), rapid.Float64Range(0, 25).Draw(t, "wind"))
		}
		if err := m.Check(); err != nil {
			t.Fatal(err)
		}
		c := Conditions{
			Gradient:  rapid.Float64Range(-0.45, 0.45).Draw(t, "gradient"),
			Heading:   rapid.Float64Range(-7, 7).Draw(t, "heading"),
			Sheltered: rapid.Float64Range(0, 1).Draw(t, "sheltered"),
		}
		flat := rapid.Float64Range(1.2, 7).Draw(t, "flat")
		there := m.Ready().Stretch(c)
		v := there.Speed(flat)
		if back := there.FlatSpeed(v); math.Abs(back-flat) > 1e-8*flat {
			t.Fatalf("flat %g, there %g, back %g", flat, v, back)
		}
		if more := there.Speed(1.01 * flat); more <= v {
			t.Fatalf("a faster athlete is slower there: %g and %g", v, more)
		}
	})
}

func TestEffortFlexIsAskedForOnClimbsOnly(t *testing.T) {
	m := Default()
	m.Flex = 0.10
	for gradient, want := range map[float64]float64{-0.05: 1, 0: 1, 0.015: 1.05, 0.03: 1.10, 0.12: 1.10} {
		near(t, "flex", m.FlexAt(gradient), want, 1e-12)
	}
	// A climb is never planned faster than the level before it.
	last := 1.0
	for i := 0.0; i < 0.2; i += 0.001 {
		if s := speedOn(m, i) * m.FlexAt(i); s > last+1e-12 {
			t.Fatalf("faster at %g", i)
		} else {
			last = s
		}
	}
	// At 8:00 per mile a 3 % climb with +10 % costs about 32 s per mile.
	near(t, "seconds per mile", 480/(speedOn(m, 0.03)*m.FlexAt(0.03))-480, 32, 1)
	if speedOn(m, 0.05) != speedOn(Default(), 0.05) {
		t.Error("the flex has changed what even effort means")
	}
}

func TestSettingsOutOfRangeAreRefused(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	cases := map[string]func(*Model){
		"no cost":                   func(m *Model) { m.Uphill = "" },
		"a cost nobody published":   func(m *Model) { m.Downhill = "somebody-1900" },
		"an uphill cost downhill":   func(m *Model) { m.Downhill = ACSM },
		"a downhill cost uphill":    func(m *Model) { m.Uphill = Robergs1997 },
		"credit above one":          func(m *Model) { m.Credit = 1.01 },
		"credit not a number":       func(m *Model) { m.Credit = nan },
		"cap below one":             func(m *Model) { m.Cap = 0.9 },
		"infinite cap":              func(m *Model) { m.Cap = inf },
		"flex above ten percent":    func(m *Model) { m.Flex = 0.11 },
		"negative flex":             func(m *Model) { m.Flex = -0.01 },
		"a hurricane":               func(m *Model) { m.Air = Wind(0, 60) },
		"wind not a number":         func(m *Model) { m.Air = Wind(nan, 3) },
		"negative air coefficient":  func(m *Model) { m.Air.K = -0.001 },
		"more wind than there is":   func(m *Model) { m.Air = Wind(0, 3); m.Air.AtRunner = 1.5 },
		"coefficient not a number":  func(m *Model) { m.Air.K = nan },
		"unlimited air coefficient": func(m *Model) { m.Air.K = inf },
	}
	for name, spoil := range cases {
		m := Default()
		spoil(&m)
		var bad *inputerr.Error
		if err := m.Check(); !errors.As(err, &bad) || bad.What == "" || bad.Advice == "" {
			t.Errorf("%s: got %v", name, err)
		}
	}
	for _, info := range Costs() {
		if c, err := ParseCost("  " + string(info.Cost)); err != nil || c != info.Cost {
			t.Errorf("%s: %v %v", info.Cost, c, err)
		}
	}
	if err := Default().Check(); err != nil {
		t.Error(err)
	}
}

func BenchmarkSpeed(b *testing.B) {
	m := Default().Ready()
	var sum float64
	for b.Loop() {
		sum += m.Stretch(Conditions{Gradient: 0.031}).Speed(3.7)
	}
	if sum < 0 {
		b.Fatal(sum)
	}
}

func BenchmarkSpeedInWind(b *testing.B) {
	m := Default()
	m.Air = Wind(4, 6)
	r := m.Ready()
	var sum float64
	for b.Loop() {
		sum += r.Stretch(Conditions{Gradient: 0.031, Heading: 1}).Speed(3.7)
	}
	if sum < 0 {
		b.Fatal(sum)
	}
}
