package quantity

import (
	"fmt"
	"math"
	"strconv"

	"tautline/geo/inputerr"
)

// Limit is a figure that somebody gave and the range that it may lie in, in the
// units of the program.
type Limit struct {
	What          string // "the goal"
	Is, Low, High float64
	Show          func(float64) string // prints the figure as people write it
}

// Check says, as an *inputerr.Error, that the figure lies outside its range or
// is no number; nil when it can be used.
func (l Limit) Check() error {
	if math.IsNaN(l.Is) || math.IsInf(l.Is, 0) {
		return &inputerr.Error{What: l.What + " is not a number", Advice: "it should be " + l.Show(l.Low) + " to " + l.Show(l.High)}
	}
	if l.Is < l.Low || l.Is > l.High {
		return &inputerr.Error{What: l.What + " is " + l.Show(l.Is), Advice: "it should be " + l.Show(l.Low) + " to " + l.Show(l.High)}
	}
	return nil
}

// CheckAll gives the error of the first figure outside its range.
func CheckAll(limits []Limit) error {
	for _, l := range limits {
		if err := l.Check(); err != nil {
			return err
		}
	}
	return nil
}

// In prints figures for a Limit with all the digits that a person may have
// given, and a unit; "" prints the number alone.
func In(unit string) func(float64) string {
	if unit != "" {
		unit = " " + unit
	}
	return func(v float64) string { return strconv.FormatFloat(v, 'g', 10, 64) + unit }
}

// InMetres prints a distance for a Limit, in metres or from 10 km on in
// kilometres.
func InMetres(v float64) string {
	if math.Abs(v) >= 10*Kilometre {
		return In("km")(v / Kilometre)
	}
	return In("m")(v)
}

// InPercent prints a plain fraction for a Limit.
func InPercent(v float64) string { return fmt.Sprintf("%.4g %%", v*100) }
