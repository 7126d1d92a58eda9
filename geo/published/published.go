// Package published holds figures that were published elsewhere against ours.
//
// Tests call Check beside the code that a figure judges. Each check leaves an
// attribute in the test's log (go test -json), from which .ci/truth.go makes
// the table in DEVELOPERS.md.
package published

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
)

// Attribute is the key of the attribute that Check leaves; its value is the
// JSON form of a Row.
const Attribute = "published"

// Trust says how far a published figure is to be trusted.
type Trust string

// The kinds of trust, best first.
const (
	Exact          Trust = "closed form"            // follows from definitions or geometry
	Read           Trust = "read"                   // stood in the source when it was read
	SecondMethod   Trust = "second method"          // another program or another way of working it out
	Derived        Trust = "derived"                // worked out apart from this code from what the source states
	SecondHand     Trust = "second-hand"            // quoted by others
	CommonPractice Trust = "common practice"        // what the trade does, without a source
	FromMemory     Trust = "from memory, unchecked" // nobody looked it up
)

// A Figure is what was published.
type Figure struct {
	Source string // authors, year, table or rule
	Trust  Trust
	What   string // which figure of the source
	Unit   string // empty for a plain ratio; for a time h:mm:ss stands in Value instead
	// Value is the figure with its decimals as the source has them: "9988.3",
	// "3:28:01", or a range such as "0.024 to 0.028", "at least 600", "at most 1.14".
	Value string
	// Tolerance is how far ours may lie from the figure, or beyond the range,
	// in the figure's unit (seconds for a time). 0 asks that ours, rounded to
	// the decimals of Value, is Value.
	Tolerance float64
}

// A Row is a check as the log has it.
type Row struct {
	Source     string `json:"source"`
	Trust      Trust  `json:"trust"`
	What       string `json:"what"`
	Unit       string `json:"unit"`
	Published  string `json:"published"`
	Ours       string `json:"ours"`
	Difference string `json:"difference"`
	Allowed    string `json:"allowed"`
}

// Check fails the test when ours, in the unit of the figure (seconds for a
// time), is farther from a published figure than the figure's tolerance, or
// when the figure itself is not in order.
func Check(t testing.TB, f Figure, ours float64) {
	t.Helper()
	row, held, err := f.hold(ours)
	if err != nil {
		t.Errorf("%s, %s: %v", f.Source, f.What, err)
		return
	}
	b, err := json.Marshal(row)
	if err != nil {
		t.Error(err)
		return
	}
	t.Attr(Attribute, string(b))
	if !held {
		t.Errorf("%s: %s (%.10g), published %s (%s), difference %s, allowed %s", f.What, row.Ours, ours, f.Value, f.Source, row.Difference, row.Allowed)
	}
}

// Clock writes seconds as Value wants a time, to the second.
func Clock(seconds float64) string { return clock(seconds, 0) }

// Number writes a figure as Value wants it, with no more decimals than it takes.
func Number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// printed is a number as it was printed.
type printed struct {
	value    float64
	decimals int
	time     bool
}

func parse(s string) (p printed, err error) {
	parts := strings.Split(s, ":")
	if len(parts) > 3 {
		return p, fmt.Errorf("%q is not a time", s)
	}
	for i, part := range parts {
		v, err := strconv.ParseFloat(part, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || i > 0 && (v < 0 || v >= 60) || strings.ContainsAny(part, "eExX_") {
			return p, fmt.Errorf("%q is not a figure", s)
		}
		p.value = 60*p.value + v
	}
	p.time = len(parts) > 1
	if _, after, ok := strings.Cut(s, "."); ok {
		p.decimals = len(after)
	}
	return p, nil
}

// hold says whether ours lies close enough, and gives the row of the table.
func (f Figure) hold(ours float64) (Row, bool, error) {
	if f.Source == "" || f.What == "" || f.Trust == "" {
		return Row{}, false, fmt.Errorf("a figure without source, trust or name: %+v", f)
	}
	if !(f.Tolerance >= 0) || math.IsInf(f.Tolerance, 0) {
		return Row{}, false, fmt.Errorf("tolerance %v", f.Tolerance)
	}
	least, most := printed{value: math.Inf(-1)}, printed{value: math.Inf(1)}
	bounded := true
	var err, err2 error
	if low, ok := strings.CutPrefix(f.Value, "at least "); ok {
		least, err = parse(low)
	} else if high, ok := strings.CutPrefix(f.Value, "at most "); ok {
		most, err = parse(high)
	} else if low, high, ok := strings.Cut(f.Value, " to "); ok {
		least, err = parse(low)
		most, err2 = parse(high)
	} else {
		least, err = parse(f.Value)
		most, bounded = least, false
	}
	if err := cmp.Or(err, err2); err != nil {
		return Row{}, false, err
	}
	if least.value > most.value {
		return Row{}, false, fmt.Errorf("the range %q is empty", f.Value)
	}
	p := printed{decimals: max(least.decimals, most.decimals), time: least.time || most.time}

	off := 0.0
	switch {
	case math.IsNaN(ours):
		off = ours
	case ours < least.value:
		off = ours - least.value
	case ours > most.value:
		off = ours - most.value
	}
	held := math.Abs(off) <= f.Tolerance
	if f.Tolerance == 0 && !bounded {
		held = strconv.FormatFloat(ours, 'f', p.decimals, 64) == strconv.FormatFloat(least.value, 'f', p.decimals, 64)
	}

	// One decimal more than published shows what rounding hides; beyond twelve
	// figures machines may differ.
	decimals := p.decimals + 1
	if size := math.Abs(ours); size >= 1 && !math.IsInf(ours, 0) {
		decimals = max(0, min(decimals, 11-int(math.Log10(size))))
	}
	row := Row{Source: f.Source, Trust: f.Trust, What: f.What, Unit: f.Unit, Published: f.Value}
	row.Ours, row.Allowed = strconv.FormatFloat(ours, 'f', decimals, 64), "as printed"
	if p.time {
		row.Ours = clock(ours, decimals)
	}
	switch {
	case f.Tolerance > 0:
		row.Allowed = allowed(f.Tolerance)
	case bounded:
		row.Allowed = "in range"
	}
	row.Difference = fmt.Sprintf("%+.*f", decimals, off)
	if strings.Trim(row.Difference, "+-0.") == "" {
		row.Difference = "0"
	}
	return row, held, nil
}

// allowed writes a tolerance to two figures.
func allowed(tolerance float64) string {
	if tolerance < 1e-8 {
		return "rounding"
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(tolerance, 'g', 2, 64), 64)
	return Number(rounded)
}

// clock writes seconds as m:ss or h:mm:ss.
func clock(seconds float64, decimals int) string {
	if math.IsNaN(seconds) || math.IsInf(seconds, 0) {
		return fmt.Sprint(seconds)
	}
	unit := math.Pow(10, float64(decimals))
	n := math.Round(math.Abs(seconds) * unit)
	s := n / unit
	m := math.Floor(s / 60)
	width := 2
	if decimals > 0 {
		width += 1 + decimals
	}
	sign := ""
	if seconds < 0 && n > 0 {
		sign = "-"
	}
	rest := fmt.Sprintf("%0*.*f", width, decimals, s-60*m)
	if h := math.Floor(m / 60); h > 0 {
		return fmt.Sprintf("%s%.0f:%02.0f:%s", sign, h, m-60*h, rest)
	}
	return fmt.Sprintf("%s%.0f:%s", sign, m, rest)
}
