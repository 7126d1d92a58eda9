package tomlfile

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"tautline/geo/inputerr"
	"tautline/strategy/quantity"
	"tautline/strategy/spelling"
)

// Check turns the values of a file into quantities and notes what is wrong
// with them. Every method that reads a value gives nil (or the zero value, or
// "") for a value that is not there or cannot be used; a failure is kept for
// Err. A Check belongs to one reader and is not safe for concurrent use.
type Check struct {
	File  *File
	first *inputerr.Error
}

// Fail notes that the value at path cannot be used.
func (c *Check) Fail(path, what, advice string) {
	e := c.File.Err(path, what, advice)
	if c.first == nil || e.Line < c.first.Line || e.Line == c.first.Line && e.Column < c.first.Column {
		c.first = e
	}
}

// Refuse notes err, if it is one, as a failure of the value at path: what a check
// found that knows nothing of files.
func (c *Check) Refuse(path string, err error) {
	if err == nil {
		return
	}
	var in *inputerr.Error
	if errors.As(err, &in) {
		c.Fail(path, in.What, in.Advice)
		return
	}
	c.Fail(path, err.Error(), "")
}

// Err is the failure that stands first in the file, or nil.
func (c *Check) Err() error {
	if c.first == nil {
		return nil
	}
	return c.first
}

// wrong notes that the value at path is not what it should be. In a table,
// whose line is not shown with the message, the value is named.
func (c *Check) wrong(path string, v any, should, advice string) {
	what := c.File.Key(path) + " should be " + should
	if s, ok := v.(string); ok && c.File != nil && c.File.table {
		what += fmt.Sprintf(", not %q", s)
	}
	c.Fail(path, what, advice)
}

// number gives the value of a TOML number.
func number(v any) (float64, bool) {
	switch n := v.(type) {
	case int64:
		return float64(n), true
	case float64:
		return n, true
	}
	return 0, false
}

// within checks a range, NaN and infinities included. show prints a bound.
func (c *Check) within(path string, v, least, most float64, show func(float64) string) *float64 {
	err := quantity.Limit{What: c.File.Key(path), Is: v, Low: least, High: most, Show: show}.Check()
	var in *inputerr.Error
	if errors.As(err, &in) {
		c.Fail(path, in.What, in.Advice)
		return nil
	}
	return &v
}

// amount reads a quantity in a range: a text with parse, or a bare number as it
// stands. like says in messages what was expected, show prints a bound.
func (c *Check) amount(path string, v any, least, most float64, parse func(string) (float64, error), like string, show func(float64) string) *float64 {
	if v == nil {
		return nil
	}
	n, ok := c.quantity(path, v, parse, like)
	if !ok {
		return nil
	}
	return c.within(path, n, least, most, show)
}

// belowZero lets parse read a minus where the range goes below zero.
func belowZero(least float64, parse func(string) (float64, error)) func(string) (float64, error) {
	if least < 0 {
		return quantity.WithSign(parse)
	}
	return parse
}

// quantity reads a text with parse, or a bare number as it stands; parse nil
// refuses texts.
func (c *Check) quantity(path string, v any, parse func(string) (float64, error), like string) (float64, bool) {
	if n, ok := number(v); ok {
		return n, true
	}
	s, ok := v.(string)
	if !ok || parse == nil {
		c.wrong(path, v, like, "")
		return 0, false
	}
	n, err := parse(s)
	if err != nil {
		c.failed(path, err)
		return 0, false
	}
	return n, true
}

// failed notes an error of the parsers of package quantity.
func (c *Check) failed(path string, err error) {
	var in *inputerr.Error
	if errors.As(err, &in) {
		c.Fail(path, c.File.Key(path)+": "+in.What, in.Advice)
		return
	}
	c.Fail(path, c.File.Key(path)+": "+err.Error(), "")
}

// smallest is the length in metres below which a distance is taken for zero,
// minus zero included: a micrometre.
const smallest = 1e-6

// Value is a number that was given, 0 when it was not.
func Value(p *float64) float64 {
	if p == nil {
		return 0
	}
	return *p
}

// Distance reads a distance in metres; a bare number is metres. least and most
// are metres.
func (c *Check) Distance(path string, v any, least, most float64) *float64 {
	if v == nil {
		return nil
	}
	parse := func(s string) (float64, error) { return quantity.ParseDistance(s, quantity.Metre) }
	n, ok := c.quantity(path, v, belowZero(least, parse), `a distance such as "3.2 km" or a number of metres`)
	if !ok {
		return nil
	}
	if math.Abs(n) < smallest {
		n = 0
	}
	return c.within(path, n, least, most, quantity.InMetres)
}

// Needed is Distance for a key that must be there.
func (c *Check) Needed(path string, v any, least, most float64) *float64 {
	if v == nil {
		c.Fail(path, fmt.Sprintf("%q is missing", c.File.Key(path)), "add "+c.File.Entry(path, `"3.2 km"`))
		return nil
	}
	return c.Distance(path, v, least, most)
}

// Number reads a bare number in a unit that is named in messages, "" when it
// has none.
func (c *Check) Number(path string, v any, least, most float64, unit string) *float64 {
	like := "a number"
	if unit != "" {
		like += " (" + unit + ")"
	}
	return c.amount(path, v, least, most, nil, like, quantity.In(unit))
}

// Whole reads a whole number, 0 when there is none.
func (c *Check) Whole(path string, v any, least, most int) int {
	p := c.Number(path, v, float64(least), float64(most), "")
	if p == nil {
		return 0
	}
	if *p != math.Trunc(*p) {
		c.Fail(path, c.File.Key(path)+" is not a whole number", fmt.Sprintf("it should be %d to %d", least, most))
	}
	return int(*p)
}

// Temperature reads "18 °C", "64 F" or a bare number of degrees Celsius.
func (c *Check) Temperature(path string, v any, least, most float64) *float64 {
	return c.amount(path, v, least, most, quantity.ParseTemperature, `a temperature such as "18 °C"`, quantity.In("°C"))
}

// Speed reads "18 km/h", "5 m/s" or a bare number of metres per second.
func (c *Check) Speed(path string, v any, least, most float64) *float64 {
	return c.amount(path, v, least, most, quantity.ParseSpeed, `a speed such as "18 km/h"`, quantity.In("m/s"))
}

// Share reads "5 %" as the plain fraction 0.05. A bare number is refused,
// since 5 and 0.05 could both be meant; least and most are plain fractions.
func (c *Check) Share(path string, v any, least, most float64) *float64 {
	if v == nil {
		return nil
	}
	s, ok := v.(string)
	if !ok {
		c.Fail(path, c.File.Key(path)+" needs a percent sign", "write "+c.File.Entry(path, `"5 %"`))
		return nil
	}
	n, err := belowZero(least, quantity.ParsePercent)(s)
	if err != nil {
		c.failed(path, err)
		return nil
	}
	return c.within(path, n, least, most, quantity.InPercent)
}

// Duration reads "1:30", "90 s" or a bare number of seconds.
func (c *Check) Duration(path string, v any, least, most time.Duration) time.Duration {
	p := c.amount(path, v, least.Seconds(), most.Seconds(), quantity.ParseClock, `a time such as "1:30" or a number of seconds`, quantity.Clock)
	if p == nil {
		return 0
	}
	return time.Duration(math.Round(*p * float64(time.Second)))
}

// Pace reads "4:30/km" in seconds per metre, 0 when there is none.
func (c *Check) Pace(path string, v any) float64 {
	if v == nil {
		return 0
	}
	s, ok := v.(string)
	if !ok {
		c.Fail(path, c.File.Key(path)+" should be a text", `write "5:00/km"`)
		return 0
	}
	p, err := quantity.ParsePace(s, quantity.NoUnit)
	if err != nil {
		c.failed(path, err)
		return 0
	}
	return p
}

// TimeOfDay reads "09:30", "9:30:15" or a TOML time as the duration since
// midnight.
func (c *Check) TimeOfDay(path string, v any) *time.Duration {
	switch t := v.(type) {
	case nil:
		return nil
	case toml.LocalTime:
		d := time.Duration(t.Hour)*time.Hour + time.Duration(t.Minute)*time.Minute + time.Duration(t.Second)*time.Second + time.Duration(t.Nanosecond)
		return &d
	case string:
		for _, layout := range []string{"15:04", "15:04:05"} {
			if parsed, err := time.Parse(layout, strings.TrimSpace(t)); err == nil {
				d := parsed.Sub(time.Date(0, 1, 1, 0, 0, 0, 0, time.UTC))
				return &d
			}
		}
	}
	c.wrong(path, v, "a time of day", "write "+c.File.Entry(path, `"09:30"`))
	return nil
}

// Date reads a TOML date, or one in quotes, as midnight UTC of that day; the
// zero time when there is none.
func (c *Check) Date(path string, v any) time.Time {
	var day time.Time
	switch t := v.(type) {
	case nil:
		return day
	case toml.LocalDate:
		day = t.AsTime(time.UTC)
	case string:
		if d, err := time.Parse(time.DateOnly, strings.TrimSpace(t)); err == nil {
			day = d
		}
	}
	if !day.IsZero() {
		if day.Year() < 1900 || day.Year() > 2200 {
			c.Fail(path, fmt.Sprintf("%s is in the year %d", c.File.Key(path), day.Year()), "it should be 1900 to 2200")
			return time.Time{}
		}
		return day
	}
	c.wrong(path, v, "a date", "write "+c.File.Entry(path, "2027-05-09"))
	return time.Time{}
}

// Compass reads a direction, "SW" or degrees clockwise from north, as radians
// clockwise from north in [0, 2π).
func (c *Check) Compass(path string, v any) *float64 {
	if v == nil {
		return nil
	}
	n, ok := number(v)
	if s, text := v.(string); text {
		if r, err := quantity.ParseDirection(s); err == nil {
			return &r
		}
	}
	if !ok {
		c.wrong(path, v, "a direction", "write "+c.File.Entry(path, `"SW"`)+", or degrees clockwise from north")
		return nil
	}
	p := c.within(path, n, 0, 360, quantity.In("degrees"))
	if p == nil {
		return nil
	}
	r := math.Mod(*p, 360) * math.Pi / 180
	return &r
}

// OneOf checks a text against the words it may be; "" stays "".
func (c *Check) OneOf(path, v string, words ...string) string {
	if v == "" && !c.File.Has(path) {
		return ""
	}
	for _, w := range words {
		if v == w {
			return v
		}
	}
	advice := `it may be "` + strings.Join(words, `", "`) + `"`
	if near := spelling.Nearest(v, words); near != "" {
		advice = fmt.Sprintf("did you mean %q?", near)
	}
	c.Fail(path, fmt.Sprintf("%s is %q", c.File.Key(path), v), advice)
	return ""
}
