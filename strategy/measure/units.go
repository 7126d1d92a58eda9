package measure

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"tautline/strategy/quantity"
)

// Limits of what a sheet may say. They are far outside of anything measured on
// a road and keep a mistyped figure from passing.
const (
	maxLength  = 1e6 // m
	maxReading = 1e9 // counts
	maxShare   = 0.05
	maxFactor  = 1.01
)

// Length is a length in metres. In a sheet it is written with its unit, as in
// "10 km", "0.5 mi", "1000 ft"; a bare number is metres; "marathon", "half
// marathon" and "mile" are names. More than 0 and at most 1000 km.
type Length float64

// number reads a plain decimal number: digits, one point, an optional sign.
// Hexadecimal, infinities, exponents and digit separators are not what people
// write on a measuring sheet and are refused.
func number(s string) (float64, error) {
	body := strings.TrimPrefix(strings.TrimPrefix(s, "-"), "+")
	if body == "" || strings.Trim(body, "0123456789.") != "" || strings.Count(body, ".") > 1 || body == "." {
		if strings.Contains(s, ",") {
			return 0, fmt.Errorf("%s is not a number (write a decimal point, not a comma)", quote(s))
		}
		return 0, fmt.Errorf("%s is not a number", quote(s))
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return 0, fmt.Errorf("%s is not a usable number", quote(s))
	}
	return v, nil
}

// quote shows a piece of the user's text, cut to what fits a message.
func quote(s string) string {
	if !utf8.ValidString(s) {
		s = strings.ToValidUTF8(s, "?")
	}
	if r := []rune(s); len(r) > 40 {
		s = string(r[:40]) + "…"
	}
	return strconv.Quote(s)
}

// withUnit cuts "12.5 km" into its number and its unit in lower case.
func withUnit(s string) (v float64, unit string, err error) {
	s = strings.TrimSpace(s)
	cut := strings.IndexFunc(s, func(r rune) bool { return (r < '0' || r > '9') && r != '.' && r != '-' && r != '+' && r != ',' })
	if cut < 0 {
		cut = len(s)
	}
	v, err = number(strings.TrimSpace(s[:cut]))
	return v, strings.ToLower(strings.TrimSpace(s[cut:])), err
}

// UnmarshalText reads a length as people write it.
func (l *Length) UnmarshalText(text []byte) error {
	m, err := quantity.ParseDistance(strings.TrimSpace(string(text)), quantity.Metre)
	if err != nil {
		if strings.EqualFold(strings.TrimSpace(string(text)), "mile") {
			*l = quantity.Mile
			return nil
		}
		return err
	}
	if !(m > 0 && m <= maxLength) {
		return fmt.Errorf("a length must be more than 0 and at most 1000 km, not %s", quote(string(text)))
	}
	*l = Length(m)
	return nil
}

// Taped is one taping: a length in metres, written as one length or as the
// sum of its pulls: "10 x 30 m + 4.80815 m". Pulls counts the terms, 0 when
// one bare length was given.
type Taped struct {
	Raw   float64 // m
	Pulls int
}

// UnmarshalText reads one taping.
func (t *Taped) UnmarshalText(text []byte) error {
	s := string(text)
	var sum float64
	var pulls int
	terms := strings.Split(s, "+")
	if len(terms) > 100 {
		return fmt.Errorf("a taping of %d terms is more than 100", len(terms))
	}
	for _, term := range terms {
		times := 1
		fields := strings.Fields(term)
		if len(fields) > 2 && (fields[1] == "x" || fields[1] == "×") {
			n, err := strconv.Atoi(fields[0])
			if err != nil || n < 1 || n > 10000 {
				return fmt.Errorf("%s must be a whole number of pulls, 1 to 10000", quote(fields[0]))
			}
			times, term = n, strings.Join(fields[2:], " ")
		}
		m, err := quantity.ParseDistance(term, quantity.Metre)
		if err != nil {
			return err
		}
		if !(m > 0) {
			return fmt.Errorf("a pull of %s is not a length", quote(term))
		}
		sum += float64(times) * m
		pulls += times
	}
	if pulls == 1 {
		pulls = 0
	}
	if !(sum > 0 && sum <= maxLength) {
		return fmt.Errorf("a taping must be more than 0 and at most 1000 km, not %s", quote(s))
	}
	*t = Taped{sum, pulls}
	return nil
}

// Small is a signed length in metres, at most one metre either way, for
// corrections of a pull.
type Small float64

// UnmarshalText reads a signed small length.
func (d *Small) UnmarshalText(text []byte) error {
	s := strings.TrimSpace(string(text))
	sign := 1.0
	if after, minus := strings.CutPrefix(s, "-"); minus {
		s, sign = after, -1
	}
	m, err := quantity.ParseLength(strings.TrimPrefix(s, "+"))
	if err != nil {
		return err
	}
	if m *= sign; math.Abs(m) > 1 {
		return fmt.Errorf("a correction of %s for one pull is more than a metre", quote(string(text)))
	}
	*d = Small(m)
	return nil
}

// Temperature is in degrees Celsius; Known is false when the sheet gives none.
// In a sheet it is written with its scale: "14 C", "75 F"; for a tape also
// "applied": the readings are corrected already.
type Temperature struct {
	Celsius float64
	Known   bool
	Applied bool
}

// Fahrenheit gives the same temperature in degrees Fahrenheit.
func (t Temperature) Fahrenheit() float64 { return t.Celsius*9/5 + 32 }

// UnmarshalText reads a temperature with its scale.
func (t *Temperature) UnmarshalText(text []byte) error {
	if strings.EqualFold(strings.TrimSpace(string(text)), "applied") {
		*t = Temperature{Applied: true}
		return nil
	}
	v, err := quantity.ParseTemperature(string(text))
	if err != nil {
		return err
	}
	*t = Temperature{Celsius: v, Known: true}
	return nil
}

// Share is a plain fraction; in a sheet "0.08 %" or 0.0008. From 0 to 5 %.
// Known is false when the sheet gives none.
type Share struct {
	Fraction float64
	Known    bool
}

// UnmarshalText reads a share.
func (f *Share) UnmarshalText(text []byte) error {
	v, unit, err := withUnit(string(text))
	if strings.EqualFold(strings.TrimSpace(string(text)), "none") {
		v, unit, err = 0, "", nil
	}
	if err != nil {
		return fmt.Errorf("%w; a share is written like \"0.08 %%\" or 0.0008", err)
	}
	switch unit {
	case "%":
		v /= 100
	case "":
	default:
		return fmt.Errorf("%s is not a share; write it like \"0.08 %%\" or 0.0008", quote(string(text)))
	}
	if !(v >= 0 && v <= maxShare) {
		return fmt.Errorf("a share of %s lies outside 0 to 5 %%; write 0.08 %% as \"0.08 %%\" or 0.0008", quote(string(text)))
	}
	*f = Share{v, true}
	return nil
}

// Factor is the short-course prevention factor: 1.001 for a bicycle, 1 for
// none. In a sheet: 1.001, "0.1 %", "on" or "off". From 1 to 1.01.
type Factor struct {
	Value float64
	Known bool
}

// UnmarshalText reads a factor.
func (f *Factor) UnmarshalText(text []byte) error {
	s := strings.ToLower(strings.TrimSpace(string(text)))
	switch s {
	case "off", "none", "false":
		*f = Factor{1, true}
		return nil
	case "on", "true":
		*f = Factor{ShortCourseFactor, true}
		return nil
	}
	v, unit, err := withUnit(s)
	if err != nil {
		return fmt.Errorf("%w; the factor is written like 1.001, \"0.1 %%\", \"on\" or \"off\"", err)
	}
	switch unit {
	case "%":
		v = 1 + v/100
	case "":
	default:
		return fmt.Errorf("%s is not a factor; write 1.001, \"0.1 %%\", \"on\" or \"off\"", quote(s))
	}
	if !(v >= 1 && v <= maxFactor) {
		return fmt.Errorf("the short-course factor must lie between 1 and 1.01, not %s", quote(s))
	}
	*f = Factor{v, true}
	return nil
}

// Reading is one reading of the counter, 0 to 10^9 counts.
type Reading struct {
	Count float64
	Known bool
}

// UnmarshalText reads one counter reading.
func (r *Reading) UnmarshalText(text []byte) error {
	v, err := reading(string(text))
	if err != nil {
		return err
	}
	*r = Reading{v, true}
	return nil
}

func reading(s string) (float64, error) {
	v, err := number(strings.TrimSpace(s))
	if err != nil {
		return 0, fmt.Errorf("%w; a counter reading is written like 15218.5", err)
	}
	if !(v >= 0 && v < maxReading) {
		return 0, fmt.Errorf("a counter reading must lie between 0 and a thousand million, not %s", quote(s))
	}
	return v, nil
}

// Roll is one ride of the bicycle from a standing start to a stop: the two
// readings, or only what the counter gained. In a sheet "04000-09610" or 5610.
type Roll struct {
	From, To  float64 // counts; From is 0 when only the gain is given
	GainGiven bool
}

// UnmarshalText reads a ride.
func (r *Roll) UnmarshalText(text []byte) error {
	s := strings.TrimSpace(string(text))
	from, to, two := strings.Cut(strings.NewReplacer("–", "-", " to ", "-").Replace(s), "-")
	if !two {
		v, err := reading(s)
		if err != nil {
			return err
		}
		if v == 0 {
			return fmt.Errorf("a ride of no counts is not a ride")
		}
		*r = Roll{To: v, GainGiven: true}
		return nil
	}
	if strings.TrimSpace(from) == "" {
		return fmt.Errorf("a ride is two readings like 04000-09610 or what the counter gained like 5610, not %s", quote(s))
	}
	a, err := reading(from)
	if err != nil {
		return err
	}
	b, err := reading(to)
	if err != nil {
		return err
	}
	*r = Roll{From: a, To: b}
	return nil
}

// Whole is a whole number from 1 to 1000; 0 means the sheet gives none.
type Whole int

// UnmarshalText reads a whole number.
func (n *Whole) UnmarshalText(text []byte) error {
	v, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil || v < 1 || v > 1000 {
		return fmt.Errorf("%s must be a whole number from 1 to 1000", quote(string(text)))
	}
	*n = Whole(v)
	return nil
}

// Step is a rounding step or a resolution, more than 0 and at most 1000; 0
// means none. In a sheet also "none".
type Step float64

// UnmarshalText reads a step.
func (n *Step) UnmarshalText(text []byte) error {
	s := strings.TrimSpace(string(text))
	if strings.EqualFold(s, "none") {
		*n = 0
		return nil
	}
	v, err := number(s)
	if err != nil {
		return err
	}
	if !(v >= 1e-9 && v <= 1000) {
		return fmt.Errorf("a step must lie between 0.000000001 and 1000, not %s", quote(s))
	}
	*n = Step(v)
	return nil
}

// oneOf reads a word out of a short list.
func oneOf[T ~string](into *T, text []byte, what string, words ...T) error {
	s := T(strings.ToLower(strings.TrimSpace(string(text))))
	list := make([]string, len(words))
	for i, w := range words {
		if s == w {
			*into = w
			return nil
		}
		list[i] = string(w)
	}
	return fmt.Errorf("%s is no %s; use one of: %s", quote(string(text)), what, strings.Join(list, ", "))
}
