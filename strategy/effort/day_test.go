package effort

import (
	"fmt"
	"math"
	"testing"

	"tautline/geo/published"
)

const marathon = 42195.0

func TestTheDayDoesNothingUnlessAskedFor(t *testing.T) {
	for _, d := range []Day{{}, {WBGT: 30, Altitude: 2500}, {Heat: true, WBGT: 10, High: true, Altitude: 499}} {
		if s := d.Slowing(4, marathon); s.Value != 0 || s.Low != 0 || s.High != 0 {
			t.Errorf("%+v: %+v", d, s)
		}
	}
}

// Mantzios et al. 2022: 0.3 to 0.4 % per degree of WBGT above 15 for elite
// runners, so 1.5 to 2 % at 20 and 3 to 4 % at 25.
func TestHeatOfFastRunnersIsWithinThePublishedSlope(t *testing.T) {
	for wbgt, want := range map[float64][2]float64{20: {0.015, 0.020}, 25: {0.03, 0.04}} {
		s := Day{Heat: true, WBGT: wbgt}.Slowing(5.5, marathon)
		held(t, "Mantzios et al. 2022, MSSE 54:153-161", published.Read, fmt.Sprintf("slowing of fast runners at WBGT %g °C", wbgt), "", fmt.Sprintf("%g to %g", want[0], want[1]), 0, s.Value)
		if s.Low > want[0] || s.High < want[1] {
			t.Errorf("WBGT %g: %+v", wbgt, s)
		}
	}
}

func TestHeatGrowsWithTimeOnTheRoadAndWithDistance(t *testing.T) {
	d := Day{Heat: true, WBGT: 20}
	near(t, "three hours", d.Slowing(marathon/(3*3600), marathon).Value, 0.0175, 1e-9)
	near(t, "four and a half", d.Slowing(marathon/(4.5*3600), marathon).Value, 0.035, 1e-9)
	near(t, "six", d.Slowing(marathon/(6*3600), marathon).Value, 0.035, 1e-9)
	near(t, "half marathon", d.Slowing(marathon/(3*3600), marathon/2).Value, 0.00875, 1e-9)
	near(t, "10 km", d.Slowing(marathon/(3*3600), 10000).Value, 0.00525, 1e-9)
	near(t, "5 km", d.Slowing(marathon/(3*3600), 5000).Value, 0.00525, 1e-9)
}

func TestHeatAndAltitudeAreHeldBeyondTheData(t *testing.T) {
	hot, hotter := Day{Heat: true, WBGT: 25}, Day{Heat: true, WBGT: 32}
	if hot.OutOfRange() || !hotter.OutOfRange() || hot.Slowing(4, marathon) != hotter.Slowing(4, marathon) {
		t.Error("heat goes on growing where nobody measured")
	}
	high, higher := Day{High: true, Altitude: 2800}, Day{High: true, Altitude: 3500}
	if high.OutOfRange() || !higher.OutOfRange() || high.Slowing(4, marathon) != higher.Slowing(4, marathon) {
		t.Error("altitude goes on growing where nobody measured")
	}
}

func TestAltitudeBandReachesThePublishedUpperBound(t *testing.T) {
	s := Day{High: true, Altitude: 1500}.Slowing(4, marathon)
	near(t, "value", s.Value, 0.05, 1e-12)
	// The upper end of the band; ours is the middle plus the interval.
	held(t, "Lara, Salinero and Del Coso 2014, High Alt Med Biol 15:64-69", published.Read, "upper end of the slowing in the first 1000 m above 500 m, women", "", "at least 0.123", 0, s.High)
	held(t, "Lara, Salinero and Del Coso 2014, High Alt Med Biol 15:64-69", published.Read, "upper end of the slowing in the first 1000 m above 500 m, men", "", "at least 0.108", 0, s.High)
	if !s.Holds(0.04) || !s.Holds(0.06) {
		t.Errorf("%+v", s)
	}
}

func TestImpossibleDaysAreRefused(t *testing.T) {
	for _, d := range []Day{
		{Heat: true, WBGT: math.NaN()}, {Heat: true, WBGT: 60}, {High: true, Altitude: math.Inf(1)}, {High: true, Altitude: -1000},
	} {
		if d.Check() == nil {
			t.Errorf("%+v was taken", d)
		}
	}
	if err := (Day{Heat: true, WBGT: 22, High: true, Altitude: 1600}).Check(); err != nil {
		t.Error(err)
	}
}
