// Package quantity reads and prints quantities the way people write them:
// distances, times, paces, speeds, temperatures, lengths. Inside the program
// everything is in metres, seconds, metres per second, seconds per metre,
// degrees Celsius and plain fractions; this package is the only edge. A figure
// beyond its range is told in the same words (Limit).
//
// All parsers refuse what they do not understand completely, negative values,
// NaN, infinities and numbers beyond their limits, with an *inputerr.Error
// that says what to write instead. Numbers have a decimal point; a comma is
// refused with a hint, since 42,195 means different things in different
// countries.
package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"tautline/geo/inputerr"
)

// Units is the system that printing uses.
type Units int

const (
	Metric Units = iota
	Imperial
)

// Lengths of the units in metres. The mile, yard, foot and inch are the
// international ones of 1959, exact by definition.
const (
	Metre     = 1.0
	Kilometre = 1000.0
	Inch      = 0.0254
	Foot      = 0.3048
	Yard      = 0.9144
	Mile      = 1609.344
)

// NoUnit, given for the unit of a bare number, refuses bare numbers.
const NoUnit = 0.0

// Limits of what is read.
const (
	// MaxDistance in metres: no foot race is longer than 10 000 km.
	MaxDistance = 1e7
	// MaxLength in metres is the limit of ParseLength.
	MaxLength = 1e5
	// MaxClock in seconds: 1000 hours.
	MaxClock = 3.6e6
	// MaxSpeed in m/s and MinPace in s/m: three times a sprinter, and more wind
	// than anybody races in.
	MaxSpeed = 36.0
	MinPace  = 1 / MaxSpeed
	// MaxPace in s/m: 10 hours a kilometre.
	MaxPace = 36.0
	// MinTemperature and MaxTemperature in degrees Celsius: beyond what has
	// been measured in the air anywhere.
	MinTemperature, MaxTemperature = -90.0, 60.0

	maxText = 100 // bytes
)

// Per gives the length in metres that a pace is given for: a kilometre or a mile.
func (u Units) Per() float64 {
	if u == Imperial {
		return Mile
	}
	return Kilometre
}

// Name is what Per is called: "km" or "mi".
func (u Units) Name() string {
	if u == Imperial {
		return "mi"
	}
	return "km"
}

// ParseUnits reads "km", "kilometres", "metric", "mi", "miles", "imperial".
func ParseUnits(text string) (Units, error) {
	switch s, err := tidy(text); {
	case err != nil:
		return Metric, err
	case s == "km", s == "kilometre", s == "kilometres", s == "kilometer", s == "kilometers", s == "metric":
		return Metric, nil
	case s == "mi", s == "mile", s == "miles", s == "imperial":
		return Imperial, nil
	}
	return Metric, bad(text, "is not a system of units", "write km or mi")
}

func bad(text, what, advice string) error {
	if len(text) > maxText {
		text = strings.ToValidUTF8(text[:maxText], "") + "…"
	}
	return &inputerr.Error{What: fmt.Sprintf("%q %s", text, what), Advice: advice}
}

// tidy lowers the case and makes every white space one plain space.
func tidy(text string) (string, error) {
	if len(text) > maxText {
		return "", bad(text, "is too long", "give one number with its unit")
	}
	if !utf8.ValidString(text) {
		return "", bad(text, "is not text", "give one number with its unit")
	}
	s := strings.Join(strings.Fields(strings.ToLower(text)), " ")
	if s == "" {
		return "", &inputerr.Error{What: "a quantity is empty", Advice: "give a number with its unit"}
	}
	return s, nil
}

// pair is a number and the word after it.
type pair struct {
	value float64
	unit  string
}

// pairs reads "26 mi 385 yd" and the like. Every pair but a last one has a
// unit. like is an example for the advice.
func pairs(text, s, like string) ([]pair, error) {
	var out []pair
	for rest := s; rest != ""; {
		v, after, err := number(text, rest, like)
		if err != nil {
			return nil, err
		}
		after = strings.TrimPrefix(after, " ")
		n := strings.IndexFunc(after, func(r rune) bool {
			return unicode.IsDigit(r) || r == ' ' || r == '.' || r == ',' || r == '-' || r == '+'
		})
		unit := after
		rest = ""
		if n >= 0 {
			unit, rest = after[:n], strings.TrimPrefix(after[n:], " ")
		}
		out = append(out, pair{v, unit})
		if rest != "" && unit == "" {
			return nil, bad(text, "cannot be read", "write for example "+like)
		}
	}
	return out, nil
}

// number reads digits with at most one decimal point at the start of s.
func number(text, s, like string) (v float64, rest string, err error) {
	n, point := 0, false
	for n < len(s) && (s[n] >= '0' && s[n] <= '9' || s[n] == '.' && !point) {
		point = point || s[n] == '.'
		n++
	}
	if n < len(s) && s[n] == ',' {
		m := n + 1
		for m < len(s) && s[m] >= '0' && s[m] <= '9' {
			m++
		}
		if m > n+1 {
			advice := fmt.Sprintf("write a decimal point: %s.%s", s[:n], s[n+1:m])
			if m-n == 4 && n > 0 {
				advice += fmt.Sprintf(", or without a separator: %s%s", s[:n], s[n+1:m])
			}
			return 0, "", bad(text, "has a comma", advice)
		}
	}
	if n == 0 && strings.HasPrefix(s, "-") || strings.HasPrefix(s, "−") {
		return 0, "", bad(text, "is negative", "write for example "+like)
	}
	if n == 0 || s[:n] == "." {
		return 0, "", bad(text, "cannot be read", "write for example "+like)
	}
	v, err = strconv.ParseFloat(s[:n], 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, "", bad(text, "is too large", "write for example "+like)
	}
	return v, s[n:], nil
}

// single reads one number and the word after it.
func single(text, like string) (v float64, unit string, err error) {
	s, err := tidy(text)
	if err != nil {
		return 0, "", err
	}
	v, rest, err := number(text, s, like)
	return v, strings.TrimSpace(rest), err
}

// WithSign lets a parser of amounts read a sign before them. A minus may be the
// one of a keyboard or the longer one that text editors make of it.
func WithSign(parse func(string) (float64, error)) func(string) (float64, error) {
	return func(text string) (float64, error) {
		t := strings.TrimSpace(text)
		for _, minus := range []string{"-", "−"} {
			if size, below := strings.CutPrefix(t, minus); below {
				v, err := parse(size)
				if v == 0 {
					return 0, err // never -0, which would print with a sign
				}
				return -v, err
			}
		}
		return parse(strings.TrimPrefix(t, "+"))
	}
}

var lengthUnits = map[string]float64{
	"km": Kilometre, "k": Kilometre, "kilometre": Kilometre, "kilometres": Kilometre, "kilometer": Kilometre, "kilometers": Kilometre,
	"m": Metre, "metre": Metre, "metres": Metre, "meter": Metre, "meters": Metre,
	"cm": 0.01, "mm": 0.001,
	"mi": Mile, "mile": Mile, "miles": Mile,
	"yd": Yard, "yds": Yard, "yard": Yard, "yards": Yard,
	"ft": Foot, "foot": Foot, "feet": Foot, "'": Foot, "′": Foot,
	"in": Inch, "inch": Inch, "inches": Inch, "\"": Inch, "″": Inch,
}

func parseLength(text string, bare, most float64, like string) (float64, error) {
	s, err := tidy(text)
	if err != nil {
		return 0, err
	}
	ps, err := pairs(text, s, like)
	if err != nil {
		return 0, err
	}
	sum, last := 0.0, math.Inf(1)
	for i, p := range ps {
		unit, ok := lengthUnits[p.unit]
		switch {
		case p.unit == "" && len(ps) == 1 && bare > 0:
			unit = bare
		case p.unit == "" && len(ps) == 1:
			return 0, bad(text, "has no unit", "write for example "+like)
		case !ok:
			return 0, bad(text, "has an unknown unit", "write for example "+like)
		case unit >= last:
			return 0, bad(text, "has its units in the wrong order", "write the larger unit first")
		case i > 0 && p.value*unit >= last:
			return 0, bad(text, fmt.Sprintf("has more %s than the unit before holds", p.unit), "check the figures")
		}
		sum += p.value * unit
		last = unit
	}
	if sum > most {
		return 0, bad(text, "is too long", fmt.Sprintf("the most is %g km", most/Kilometre))
	}
	return sum, nil
}

// ParseDistance reads a distance in metres: "10 km", "10k", "26.2 mi",
// "26 mi 385 yd", "400 m", "42195m", "marathon", "half marathon". bare is the
// unit of a number without one, in metres (Metre, Kilometre, Mile), or NoUnit
// to refuse it. "26.2 mi" means what it says, 42 164.8 m; see Official for the
// distance that is meant by it. 0 to MaxDistance.
func ParseDistance(text string, bare float64) (float64, error) {
	switch s, _ := tidy(strings.ReplaceAll(text, "-", " ")); s {
	case "marathon":
		return Marathon, nil
	case "half marathon", "half":
		return HalfMarathon, nil
	}
	return parseLength(text, bare, MaxDistance, "10 km, 26.2 mi or 400 m")
}

// ParseLength reads a width, a clearance or a radius in metres: "8 m",
// "26 ft", "26 ft 3 in", "80 cm"; a bare number is metres. 0 to MaxLength.
func ParseLength(text string) (float64, error) {
	return parseLength(text, Metre, MaxLength, "8 m or 26 ft")
}

var clockUnits = map[string]float64{
	"h": 3600, "hr": 3600, "hrs": 3600, "hour": 3600, "hours": 3600,
	"m": 60, "min": 60, "mins": 60, "minute": 60, "minutes": 60, "'": 60, "′": 60,
	"s": 1, "sec": 1, "secs": 1, "second": 1, "seconds": 1, "\"": 1, "″": 1, "''": 1,
}

const likeClock = "3:29:59, 45:10 or 1h05m"

// ParseClock reads a duration in seconds: "3:29:59" and "45:10" (minutes and
// seconds when there is one colon, as results lists have it), "1h05m", "90 s",
// with fractions of the last part. A bare number is refused: it could be
// minutes as well as seconds. 0 to MaxClock.
func ParseClock(text string) (float64, error) {
	s, err := tidy(text)
	if err != nil {
		return 0, err
	}
	if IsPace(s) {
		return 0, bad(text, "is a pace, not a time", "write "+likeClock)
	}
	if strings.Contains(s, ":") {
		return colons(text, s)
	}
	ps, err := pairs(text, s, likeClock)
	if err != nil {
		return 0, err
	}
	sum, last := 0.0, math.Inf(1)
	for i, p := range ps {
		unit, ok := clockUnits[p.unit]
		switch {
		case p.unit == "" && i > 0 && last > 1:
			unit = last / 60 // 1h05, 4m30
		case p.unit == "":
			return 0, bad(text, "has no unit", "write "+likeClock)
		case !ok:
			return 0, bad(text, "has an unknown unit of time", "write "+likeClock)
		case unit >= last:
			return 0, bad(text, "has its units in the wrong order", "write hours, minutes, seconds")
		}
		if i > 0 && p.value*unit >= last {
			return 0, bad(text, "has 60 or more in a part after the first", "write "+likeClock)
		}
		if i < len(ps)-1 && p.value != math.Trunc(p.value) {
			return 0, bad(text, "has a fraction before its last part", "write "+likeClock)
		}
		sum += p.value * unit
		last = unit
	}
	return clockInRange(text, sum)
}

func clockInRange(text string, seconds float64) (float64, error) {
	if seconds > MaxClock {
		return 0, bad(text, "is too long", "the most is 1000 hours")
	}
	return seconds, nil
}

// colons reads h:mm:ss and m:ss, with a fraction of the seconds.
func colons(text, s string) (float64, error) {
	parts := strings.Split(s, ":")
	if len(parts) > 3 {
		return 0, bad(text, "has too many colons", "write "+likeClock)
	}
	sum := 0.0
	for i, p := range parts {
		v, rest, err := number(text, p, likeClock)
		if err != nil {
			return 0, err
		}
		whole, _, fraction := strings.Cut(p, ".")
		switch {
		case rest != "":
			return 0, bad(text, "cannot be read as a time", "write "+likeClock)
		case fraction && i < len(parts)-1:
			return 0, bad(text, "has a fraction before its last part", "write "+likeClock)
		case i > 0 && len(whole) != 2:
			return 0, bad(text, "needs two digits after each colon", "write "+likeClock)
		case i > 0 && v >= 60:
			return 0, bad(text, "has 60 or more after a colon", "write "+likeClock)
		}
		sum = sum*60 + v
	}
	return clockInRange(text, sum)
}

const likePace = "4:30/km or 7:45/mi"

// IsPace tells whether a text is a pace that says for which distance it is.
func IsPace(text string) bool {
	_, err := ParsePace(text, NoUnit)
	return err == nil
}

// ParsePace reads a pace in seconds per metre: "7:45/mi", "4:30 min/km",
// "4:30 per km". bare is the distance that a pace without one is for, in
// metres (Kilometre, Mile), or NoUnit to refuse it. MinPace to MaxPace.
func ParsePace(text string, bare float64) (float64, error) {
	s, err := tidy(text)
	if err != nil {
		return 0, err
	}
	per := bare
	clock, unit, slash := strings.Cut(s, "/")
	if !slash {
		clock, unit, slash = strings.Cut(s, " per ")
	}
	if slash {
		u, ok := lengthUnits[strings.TrimSpace(unit)]
		if !ok || u < Metre {
			return 0, bad(text, "is for an unknown distance", "write "+likePace)
		}
		per = u
	}
	if per <= 0 {
		return 0, bad(text, "does not say for which distance it is", "write "+likePace)
	}
	clock = strings.TrimSpace(clock)
	if strings.Contains(clock, ":") {
		clock = strings.TrimSpace(strings.TrimSuffix(strings.TrimSuffix(clock, "minutes"), "min"))
	}
	seconds, err := ParseClock(clock)
	if err != nil {
		return 0, bad(text, "cannot be read as a pace", "write "+likePace)
	}
	pace := seconds / per
	if !(pace >= MinPace && pace <= MaxPace) {
		return 0, bad(text, "is no pace that people run", "write "+likePace)
	}
	return pace, nil
}

var speedUnits = map[string]float64{
	"m/s": 1, "mps": 1, "km/h": Kilometre / 3600, "kmh": Kilometre / 3600, "kph": Kilometre / 3600,
	"mph": Mile / 3600, "mi/h": Mile / 3600,
}

// ParseSpeed reads the speed of a runner or of the wind in metres per second:
// "12 km/h", "7.5 mph", "3.5 m/s". The unit is required. 0 to MaxSpeed.
func ParseSpeed(text string) (float64, error) {
	const like = "12 km/h, 7.5 mph or 3.5 m/s"
	v, unit, err := single(text, like)
	if err != nil {
		return 0, err
	}
	unit = strings.ReplaceAll(unit, " ", "")
	metres, ok := speedUnits[unit]
	if !ok {
		return 0, bad(text, "has no unit of speed", "write for example "+like)
	}
	if v*metres > MaxSpeed {
		most := math.Floor(10*MaxSpeed/metres) / 10
		return 0, bad(text, "is no speed of a runner, nor of a wind to run in", fmt.Sprintf("write a speed from 0 to %g %s", most, unit))
	}
	return v * metres, nil
}

// ParseTemperature reads an air temperature in degrees Celsius: "18 °C",
// "-3 C", "64 F". The unit is required. MinTemperature to MaxTemperature.
func ParseTemperature(text string) (float64, error) {
	const like = "18 °C or 64 °F"
	var fahrenheit bool
	v, err := WithSign(func(size string) (float64, error) {
		v, unit, err := single(size, like)
		if err != nil {
			return 0, err
		}
		switch strings.TrimSpace(strings.TrimPrefix(unit, "°")) {
		case "c", "celsius":
		case "f", "fahrenheit":
			fahrenheit = true
		default:
			return 0, bad(text, "has no unit of temperature", "write for example "+like)
		}
		return v, nil
	})(text)
	if err != nil {
		return 0, err
	}
	if fahrenheit {
		v = (v - 32) / 1.8
	}
	if v < MinTemperature || v > MaxTemperature {
		return 0, bad(text, "is no temperature of the air", "write for example "+like)
	}
	return v, nil
}

// ParsePercent reads a share as a plain fraction: "5 %" is 0.05. The sign is
// required. 0 to 100 %.
func ParsePercent(text string) (float64, error) {
	const like = "5 %"
	v, unit, err := single(text, like)
	if err != nil {
		return 0, err
	}
	if unit != "%" {
		return 0, bad(text, "has no percent sign", "write for example "+like)
	}
	if v > 100 {
		return 0, bad(text, "is more than the whole", "write for example "+like)
	}
	return v / 100, nil
}
