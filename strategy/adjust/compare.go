package adjust

import (
	"math"

	"tautline/geo/interval"
)

// Verdict of a comparison.
type Verdict string

// Verdicts.
const (
	Agrees     Verdict = "agrees"
	CannotTell Verdict = "cannot tell"
	Differs    Verdict = "differs"
)

// Comparison sets a measured or official length beside the line.
type Comparison struct {
	Measured   interval.Estimate // on the ground, m
	Line       interval.Estimate // along the road's surface where heights are known, else on the map, m
	OnSurface  bool
	Difference interval.Estimate // measured less line, m
	Verdict    Verdict
	Sure       bool // the difference is known within 0.1 % of the length
}

// Compare sets the length on the ground beside the line. The two agree when
// the difference may be zero and is known within 0.1 % of the length; when it
// may be zero but is not known so well, nobody can tell.
func Compare(measured interval.Estimate, c *Certainty) Comparison {
	x := Comparison{Measured: measured, Line: c.Length}
	if s := c.Line.SurfaceLength; !math.IsNaN(s) && s > 0 {
		x.OnSurface = true
		x.Line = c.Length.Shift(s - c.Line.Length)
	}
	d := measured.Value - x.Line.Value
	x.Difference = interval.Estimate{
		Value: d,
		Low:   d - math.Hypot(measured.Value-measured.Low, x.Line.High-x.Line.Value),
		High:  d + math.Hypot(measured.High-measured.Value, x.Line.Value-x.Line.Low),
	}
	x.Sure = x.Difference.Width()/2 <= 0.001*measured.Value
	switch {
	case !x.Difference.Holds(0):
		x.Verdict = Differs
	case x.Sure:
		x.Verdict = Agrees
	default:
		x.Verdict = CannotTell
	}
	return x
}
