package main

import (
	"math"
	"testing"

	"tautline/strategy/quantity"
)

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
