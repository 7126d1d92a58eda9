package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"tautline/geo/interval"
)

// None is what is printed for a figure that is not known (NaN, infinity).
const None = "–"

func known(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// fixed prints a number with a fixed number of decimals and no minus zero.
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
		return s[1:]
	}
	return s
}

// plain prints a number with at most so many decimals and no needless zeros.
func plain(v float64, decimals int) string {
	s := fixed(v, decimals)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// Distance prints a distance in metres as people name it: "400 m",
// "42.195 km", "26.22 mi"; to the metre, or to the hundredth of a mile.
func Distance(metres float64, u Units) string {
	switch {
	case !known(metres):
		return None
	case u == Imperial:
		return plain(metres/Mile, 2) + " mi"
	case math.Abs(math.Round(metres)) < Kilometre:
		return fixed(metres, 0) + " m"
	}
	return plain(metres/Kilometre, 3) + " km"
}

// DistanceFixed prints a distance in km or miles with so many decimals and
// without the unit, for columns.
func DistanceFixed(metres float64, u Units, decimals int) string {
	if !known(metres) {
		return None
	}
	return fixed(metres/u.Per(), decimals)
}

// short gives the value and the unit for lengths of the size of a road.
func short(metres float64, u Units) (float64, string) {
	if u == Imperial {
		return metres / Foot, "ft"
	}
	return metres, "m"
}

// shortDecimals is 1 below ten units and 0 above: what a measurement of a few
// metres can bear.
func shortDecimals(v float64) int {
	if math.Abs(v) < 9.95 {
		return 1
	}
	return 0
}

// Length prints a short length: "8.5 m", "26 ft".
func Length(metres float64, u Units) string {
	if !known(metres) {
		return None
	}
	v, unit := short(metres, u)
	return plain(v, shortDecimals(v)) + " " + unit
}

// Signed prints a short length with its sign, for a ledger: "+12 m", "-3.4 m",
// "0 m".
func Signed(metres float64, u Units) string {
	s := Length(metres, u)
	if s != None && !strings.HasPrefix(s, "-") && !strings.HasPrefix(s, "0 ") {
		s = "+" + s
	}
	return s
}

// Interval prints a short length with its 90 % interval: "12 m (8 to 16)". A
// length without uncertainty is printed alone.
func Interval(e interval.Estimate, u Units) string {
	if !known(e.Value) {
		return None
	}
	v, unit := short(e.Value, u)
	low, _ := short(e.Low, u)
	high, _ := short(e.High, u)
	return withBounds(v, low, high, unit)
}

// SecondsInterval prints seconds with their 90 % interval: "14 s (9 to 20)".
func SecondsInterval(e interval.Estimate) string {
	if !known(e.Value) {
		return None
	}
	return withBounds(e.Value, e.Low, e.High, "s")
}

func withBounds(v, low, high float64, unit string) string {
	d := shortDecimals(math.Max(math.Abs(v), math.Max(math.Abs(low), math.Abs(high))))
	if low == high {
		return plain(v, shortDecimals(v)) + " " + unit
	}
	bound := func(b float64) string {
		if !known(b) {
			return None
		}
		return fixed(b, d)
	}
	return fmt.Sprintf("%s %s (%s to %s)", fixed(v, d), unit, bound(low), bound(high))
}

// Clock prints a duration in seconds to the nearest second: "3:29:59",
// "45:10", "0:09"; negative with a minus sign.
func Clock(seconds float64) string {
	if !known(seconds) {
		return None
	}
	return clock(math.Round(seconds))
}

func clock(seconds float64) string {
	if math.Abs(seconds) > 1e12 {
		return None
	}
	sign := ""
	if seconds < 0 {
		sign, seconds = "-", -seconds
	}
	s := int64(seconds)
	if s < 3600 {
		return fmt.Sprintf("%s%d:%02d", sign, s/60, s%60)
	}
	return fmt.Sprintf("%s%d:%02d:%02d", sign, s/3600, s/60%60, s%60)
}

// Seconds prints a difference in seconds with its sign: "+4 s", "-0.6 s",
// from a minute on "+1:05".
func Seconds(seconds float64) string {
	if !known(seconds) {
		return None
	}
	s := plain(seconds, shortDecimals(seconds)) + " s"
	if math.Abs(math.Round(seconds)) >= 60 {
		s = Clock(seconds)
	}
	if !strings.HasPrefix(s, "-") && !strings.HasPrefix(s, "0 ") {
		s = "+" + s
	}
	return s
}

// Pace prints a pace in seconds per metre to the nearest second: "4:30/km",
// "7:45/mi".
func Pace(secondsPerMetre float64, u Units) string {
	if !known(secondsPerMetre) || secondsPerMetre <= 0 {
		return None
	}
	c := Clock(secondsPerMetre * u.Per())
	if c == None {
		return None
	}
	return c + "/" + u.Name()
}

// Percent prints a plain fraction with so many decimals: "0.12 %".
func Percent(fraction float64, decimals int) string {
	if !known(fraction) {
		return None
	}
	return fixed(fraction*100, decimals) + " %"
}
