package main

import (
	"math"
	"strings"
	"testing"

	"tautline/strategy/quantity"
)

func TestAStepIsADistanceOrAUnitAlone(t *testing.T) {
	for text, want := range map[string]float64{
		"km": 1000, "mi": quantity.Mile, " Mile ": quantity.Mile, "5km": 5000, "5 km": 5000, "1.5 mi": 1.5 * quantity.Mile, "500": 500, "half marathon": quantity.HalfMarathon,
		"": math.NaN(), "often": math.NaN(), "km km": math.NaN(), "-5 km": math.NaN(), "points": math.NaN(),
	} {
		got, err := step(text)
		if math.IsNaN(want) {
			if err == nil || strings.Contains(err.Error(), "1 "+text) {
				t.Errorf("%q is read as %v (%v)", text, got, err)
			}
		} else if err != nil || math.Abs(got-want) > 1e-9 {
			t.Errorf("%q is read as %v (%v), want %v", text, got, err, want)
		}
	}
}

func TestAShortTimeIsToldAsItWasWritten(t *testing.T) {
	for text, want := range map[string]string{"-5 s": `"-5 s" is negative`, "-5": `"-5" is negative`, "soon": `"soon" cannot be read`, "5 x": `"5 x" has an unknown unit`} {
		if _, err := clockFlag(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
	if v, err := clockFlag("90"); v != 90 || err != nil {
		t.Errorf("a bare number is read as %v (%v)", v, err)
	}
}

func TestASignStandsOnceBeforeAnAmount(t *testing.T) {
	for _, c := range []struct {
		text  string
		parse func(string) (float64, error)
		want  float64 // NaN: refused
	}{
		{"0.5 %", quantity.ParsePercent, 0.005},
		{"+0.5 %", quantity.ParsePercent, 0.005},
		{" -0.5 %", quantity.ParsePercent, -0.005},
		{"−0.5 %", quantity.ParsePercent, -0.005}, // the sign that a text editor makes of it
		{"--0.5 %", quantity.ParsePercent, math.NaN()},
		{"-−30 s", clockFlag, math.NaN()},
		{"-30", clockFlag, -30},
		{"−1:30", clockFlag, -90},
		{"-18 m", near, -18},
		{"−18", near, -18},
		{"-", near, math.NaN()},
	} {
		got, err := quantity.WithSign(c.parse)(c.text)
		if math.IsNaN(c.want) {
			if err == nil {
				t.Errorf("%q is read as %v", c.text, got)
			}
		} else if err != nil || math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%q is read as %v (%v), want %v", c.text, got, err, c.want)
		}
	}
}
