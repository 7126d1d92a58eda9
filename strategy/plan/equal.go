package plan

import (
	"math"

	"tautline/strategy/quantity"
)

// Equal is what a race already run is worth on a level course of the official
// distance, along the official line, in calm air, on a mild day and without
// stops: the tune-up's hills and line taken out.
type Equal struct {
	FlatPace float64 // s/m
	Official float64 // m
	Time     float64 // s for the official distance
}

// Level takes the hills, the extra distance, the stops and the day out of a
// race that took s.Goal seconds.
func Level(c *Course, s Settings) (Equal, error) {
	if s.Goal == 0 {
		return Equal{}, bad("give the time it took", "the race has no time")
	}
	r, err := pace(c, s)
	if err != nil {
		return Equal{}, err
	}
	return Equal{FlatPace: 1 / r.flat, Official: c.Official, Time: c.Official / r.flat}, nil
}

// Limits of Carry.
const (
	carryExponent = 1.06
	carryUpTo     = 22000.0 // m, a half marathon and a little
	carryRatio    = 5.0     // of the two distances
	sameDistance  = 0.10    // two distances this near each other are one
)

// Carry takes the flat pace of a race to another distance, by Riegel's power
// law of race times with the exponent 1.06, well calibrated up to the half
// marathon (Vickers and Vertosick 2016). Beyond that it is at least ten minutes
// too fast for half of recreational marathon runners, so it refuses unless the
// distances are nearly the same.
func Carry(e Equal, official float64) (flatPace float64, err error) {
	ratio := official / e.Official
	near := math.Abs(ratio-1) <= sameDistance
	if !near && (official > carryUpTo || e.Official > carryUpTo) {
		return 0, bad("give a goal or a pace on the level, or a race of about the same distance",
			"a race of %s tells too little about %s", quantity.Distance(e.Official, quantity.Metric), quantity.Distance(official, quantity.Metric))
	}
	if !(ratio <= carryRatio && ratio >= 1/carryRatio) {
		return 0, bad("give a race nearer to it in length",
			"a race of %s tells too little about %s", quantity.Distance(e.Official, quantity.Metric), quantity.Distance(official, quantity.Metric))
	}
	return e.FlatPace * math.Pow(ratio, carryExponent-1), nil
}
