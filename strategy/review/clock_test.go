package review_test

import (
	"math"
	"testing"

	"tautline/strategy/review"
)

func TestAClockPassesOverWhatRunsBackAndLeavesGapsOpen(t *testing.T) {
	nan := math.NaN()
	along := []float64{-10, 0, 10, 5, nan, 20, 25, 30, 500, 510}
	times := []float64{-3, 0, 3, 4, 5, 6, 5, nan, 160, 163}
	stood := []float64{0, 0, 0, 0, 0, 1, 1, 1, 11, 11}
	c := review.NewClock(along, times, stood)
	for _, x := range []struct{ at, time, stood float64 }{
		{-5, -1.5, 0}, {0, 0, 0}, {15, 4.5, 0.5}, {505, 161.5, 11},
		{-11, nan, nan}, {511, nan, nan}, {250, nan, nan}, // 480 m without fixes
	} {
		if got := c.At(x.at); got != x.time && !(math.IsNaN(got) && math.IsNaN(x.time)) {
			t.Errorf("at %g m after %g s, want %g", x.at, got, x.time)
		}
		if got := c.Stood(x.at); got != x.stood && !(math.IsNaN(got) && math.IsNaN(x.stood)) {
			t.Errorf("stood %g s up to %g m, want %g", got, x.at, x.stood)
		}
	}
	if first, last := c.Ends(); !c.Known() || first != -10 || last != 510 {
		t.Errorf("known %t, from %g to %g", c.Known(), first, last)
	}
	if got := review.NewClock(along, times, nil).Stood(15); got != 0 {
		t.Errorf("stood %g s when nobody said so", got)
	}
}

func TestAClockWithoutTimesKnowsNothing(t *testing.T) {
	var c review.Clock
	if first, last := c.Ends(); c.Known() || !math.IsNaN(c.At(0)) || !math.IsNaN(c.Stood(0)) || !math.IsNaN(first) || !math.IsNaN(last) {
		t.Error("a clock without times tells the time")
	}
}
