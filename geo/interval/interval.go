// Package interval holds the form in which every uncertain figure is given.
package interval

import "math"

// Estimate is an uncertain figure: the best value and a 90 % interval, which
// is meant to hold the truth nine times in ten. Low <= Value <= High. The unit
// is the owner's, named where the Estimate stands.
type Estimate struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// Z90 is the half width of a central 90 % interval in standard deviations of
// the normal distribution.
const Z90 = 1.6448536269514722

// Exact is a figure without uncertainty.
func Exact(v float64) Estimate { return Estimate{v, v, v} }

// Normal is the 90 % interval of a normal distribution with this mean and
// standard deviation. A negative or NaN deviation counts as zero.
func Normal(mean, sd float64) Estimate {
	if !(sd > 0) {
		sd = 0
	}
	return Estimate{mean, mean - Z90*sd, mean + Z90*sd}
}

// Holds tells whether the interval holds v.
func (e Estimate) Holds(v float64) bool { return e.Low <= v && v <= e.High }

// Width is High - Low.
func (e Estimate) Width() float64 { return e.High - e.Low }

// Shift adds d to all three figures.
func (e Estimate) Shift(d float64) Estimate { return Estimate{e.Value + d, e.Low + d, e.High + d} }

// Scale multiplies by k; a negative k swaps the bounds.
func (e Estimate) Scale(k float64) Estimate {
	s := Estimate{e.Value * k, e.Low * k, e.High * k}
	if k < 0 {
		s.Low, s.High = s.High, s.Low
	}
	return s
}

// Round rounds all three figures to a multiple of unit, the bounds outwards.
func (e Estimate) Round(unit float64) Estimate {
	return Estimate{math.Round(e.Value/unit) * unit, math.Floor(e.Low/unit) * unit, math.Ceil(e.High/unit) * unit}
}
