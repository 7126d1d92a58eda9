package effort

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/published"
)

// share is the share of the whole cost that calm air takes at a speed.
func share(k, v float64) float64 {
	air := drag(k, v, 0, 0)
	return air / (LevelCost + air)
}

func TestCalmAirsShareLiesAmongThePublishedOnes(t *testing.T) {
	// Arithmetic of the equation with the default coefficient.
	for v, want := range map[float64]float64{3: 0.0186, 4: 0.0326, 5: 0.0500} {
		held(t, fmt.Sprintf("cost of air k v², k = %g", DefaultK), published.Derived, fmt.Sprintf("share of the cost at %g m/s", v), "", fmt.Sprintf("%.4f", want), 5e-5, share(DefaultK, v))
	}
	// With di Prampero's coefficient: da Silva, Kram and Hoogkamer 2022 found
	// 8.52 % at 5.86 m/s, Pugh 1970 about 8 % at 21.5 km/h.
	held(t, "da Silva, Kram and Hoogkamer 2022", published.Read, "share of air at 5.86 m/s, k = 0.010", "", "0.0852", 0.003, share(0.010, 5.86))
	held(t, "Pugh 1970, J Physiol 207:823-835", published.Read, "share of air at 21.5 km/h, k = 0.010", "", "0.08", 0.007, share(0.010, 21.5/3.6))
	// Davies 1980 found half of that: 4 % at 6 m/s. The default lies between.
	held(t, "Davies 1980 and Pugh 1970", published.Read, "share of air at 6 m/s between theirs", "", "0.04 to 0.08", 0, share(DefaultK, 6))
}

// Pugh 1971, J Physiol 213:255-276: a 65 kg runner at 4.45 m/s took 3.0 l/min
// of oxygen in calm and 5.0 in a wind of 18.5 m/s on a treadmill, where the air
// moves and the runner does not.
func TestPughsWindTunnelUptake(t *testing.T) {
	const joulePerLitre = 20900
	extra := drag(DefaultK, 0, 18.5, 0) * 4.45 * 65 / joulePerLitre * 60
	held(t, "Pugh 1971, J Physiol 213:255-276", published.Read, "extra uptake in a wind of 18.5 m/s", "l/min", "2.0", 0.35, extra)
	near(t, "coefficient of our inference", 2.0/60*joulePerLitre/65/4.45/(18.5*18.5), 0.0070, 1e-4)
}

// Mechanics with the slope of da Silva, Kram and Hoogkamer 2022: metabolic
// power grows by 6.13 % per 1 % of body weight of drag.
func TestAirAgreesWithDragAndTheMeasuredSlope(t *testing.T) {
	power := func(v, mass, area float64) float64 {
		return 6.13 * 0.5 * 1.2 * area * v * v / (mass * gravity)
	}
	near(t, "their runner", power(5.86, 56, 0.38), 0.0874, 5e-4)
	for _, v := range []float64{3, 4, 5} {
		ours := share(DefaultK, v) / (1 - share(DefaultK, v))
		theirs := power(v, 70, 0.45)
		if ours < 0.5*theirs || ours > 1.5*theirs {
			t.Errorf("at %g m/s: %.3f against %.3f", v, ours, theirs)
		}
	}
}

// Arithmetic of the equal-power equation at 4.0 m/s, done apart from this code.
func TestHeadAndTailwindVectors(t *testing.T) {
	for _, c := range []struct{ k, wind, want, within float64 }{
		{0.007, 2, -0.032, 5e-4}, {0.007, 3, -0.051, 5e-4}, {0.007, 5, -0.095, 5e-4},
		{0.007, -2, 0.021, 5e-4}, {0.007, -3, 0.027, 5e-4}, {0.007, -5, 0.031, 5e-4},
		{0.010, 2, -0.043, 5e-4}, {0.010, 3, -0.069, 5e-4}, {0.010, 5, -0.1245, 5e-4},
		{0.010, -2, 0.030, 5e-4}, {0.010, -3, 0.0385, 5e-4}, {0.010, -5, 0.044, 5e-4},
	} {
		m := Default()
		m.Air = Air{K: c.k, WindEast: -c.wind, AtRunner: 1} // heading 0 is east
		held(t, "equal power against air", published.Derived, fmt.Sprintf("change of speed at 4 m/s in a headwind of %g m/s, k = %g", c.wind, c.k), "", published.Number(c.want), c.within, m.Ready().Stretch(Conditions{}).Speed(4)/4-1)
	}
}

func TestWindIsTakenByHeadingAndShelter(t *testing.T) {
	from := Wind(1.5*math.Pi, 8) // a west wind blows towards the east
	for _, c := range []struct {
		what            string
		heading         float64
		sheltered       float64
		against, across float64
	}{
		{"running east, wind behind", 0, 0, -4, 0},
		{"running west, wind ahead", math.Pi, 0, 4, 0},
		{"running north, wind from the left", math.Pi / 2, 0, 0, -4},
		{"running west behind houses", math.Pi, 0.75, 1, 0},
	} {
		against, across := from.headwind(Conditions{Heading: c.heading, Sheltered: c.sheltered})
		near(t, c.what+", against", against, c.against, 1e-12)
		near(t, c.what+", across", across, c.across, 1e-12)
	}
}

func TestCalmAirIsPartOfTheFlatPace(t *testing.T) {
	m := Default()
	m.Air = Wind(0, 0)
	near(t, "level in calm air", m.Ready().Stretch(Conditions{Heading: 1}).Speed(4)/4, 1, 1e-12)
	// Uphill the runner is slower and the air takes less.
	if with, without := m.Ready().Stretch(Conditions{Gradient: 0.05}).Speed(4)/4, speedOn(Default(), 0.05); with <= without {
		t.Errorf("uphill with air %g, without %g", with, without)
	}
}

func TestAHeadwindCostsMoreThanTheSameTailwindReturns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Default()
		wind := rapid.Float64Range(0.1, 20).Draw(t, "wind")
		heading := rapid.Float64Range(0, 6.3).Draw(t, "heading")
		flat := rapid.Float64Range(1.5, 6.5).Draw(t, "flat")
		m.Air = Wind(rapid.Float64Range(0, 2*math.Pi).Draw(t, "from"), wind)
		out := m.Ready().Stretch(Conditions{Heading: heading}).Speed(flat) / flat
		back := m.Ready().Stretch(Conditions{Heading: heading + math.Pi}).Speed(flat) / flat
		if 1/out+1/back < 2-1e-9 {
			t.Fatalf("out %g and back %g", out, back)
		}
	})
}
