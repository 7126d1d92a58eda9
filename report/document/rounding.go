package document

import (
	"math"
	"time"

	"tautline/geo/interval"
)

// Figures are rounded here and nowhere before. What is not known is nil, which
// JSON writes as null.

const degree = math.Pi / 180

// round gives the nearest multiple of unit that prints short: dividing by a
// whole number keeps 0.1 from becoming 0.30000000000000004.
func round(v, unit float64) float64 {
	per := math.Round(1 / unit)
	r := math.Round(v*per) / per
	if r == 0 {
		return 0 // never -0
	}
	return r
}

// outwards rounds an interval so that it holds what it held before.
func outwards(e interval.Estimate, unit float64) interval.Estimate {
	per := math.Round(1 / unit)
	return interval.Estimate{Value: round(e.Value, unit), Low: round(math.Floor(e.Low*per)/per, unit), High: round(math.Ceil(e.High*per)/per, unit)}
}

func millimetres(v float64) float64 { return round(v, 1e-3) }

func tenths(v float64) float64 { return round(v, 0.1) }

// known is a figure to a thousandth, nil when it is not known.
func known(v float64) *float64 { return unlessUnknown(millimetres(v)) }

// knownTenths is a figure to a tenth, nil when it is not known.
func knownTenths(v float64) *float64 { return unlessUnknown(tenths(v)) }

func unlessUnknown(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}

// estimate rounds an estimate to thousandths.
func estimate(e interval.Estimate) interval.Estimate {
	return interval.Estimate{Value: millimetres(e.Value), Low: millimetres(e.Low), High: millimetres(e.High)}
}

// knownEstimate is an estimate to thousandths, nil when it is not known.
func knownEstimate(e interval.Estimate) *interval.Estimate {
	if math.IsNaN(e.Value) {
		return nil
	}
	return new(estimate(e))
}

// degrees rounds a latitude or longitude: to a centimetre on the ground.
func degrees(v float64) float64 { return round(v, 1e-7) }

// day is a date as programs read it, "" when there is none.
func day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}
