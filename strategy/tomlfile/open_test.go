package tomlfile_test

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tautline/geo/inputerr"
	"tautline/strategy/tomlfile"
)

func TestOpen(t *testing.T) {
	dir := t.TempDir()
	good, big := filepath.Join(dir, "good.toml"), filepath.Join(dir, "big.toml")
	for path, text := range map[string]string{good: "a = 1\n", big: strings.Repeat("#", tomlfile.MaxBytes+1)} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if b, err := tomlfile.Open(good, "thing"); err != nil || string(b) != "a = 1\n" {
		t.Errorf("%q %v", b, err)
	}
	for path, want := range map[string]string{
		filepath.Join(dir, "none.toml"): "there is no such thing",
		dir:                             "this is a folder, not the thing",
		big:                             "larger than the limit",
	} {
		_, err := tomlfile.Open(path, "thing")
		var in *inputerr.Error
		if !errors.As(err, &in) || !strings.Contains(in.What, want) || in.File != path {
			t.Errorf("%s: %v", path, err)
		}
	}
}

func TestValuesThatCannotBeUsedAreToldInWordsOfTheirOwn(t *testing.T) {
	for _, c := range []struct {
		read func(*tomlfile.Check) any
		want string
	}{
		{func(c *tomlfile.Check) any { return c.Number("x.laps", "two", 1, 9, "") }, "laps should be a number"},
		{func(c *tomlfile.Check) any { return c.Number("x.laps", "two", 1, 9, "people") }, "laps should be a number (people)"},
		{func(c *tomlfile.Check) any { return c.Number("x.laps", math.NaN(), 1, 9, "") }, "laps is not a number (it should be 1 to 9)"},
		{func(c *tomlfile.Check) any { return c.Whole("x.laps", 2.5, 1, 9) }, "laps is not a whole number (it should be 1 to 9)"},
		{func(c *tomlfile.Check) any { return c.Whole("x.laps", int64(10), 1, 9) }, "laps is 10 (it should be 1 to 9)"},
		{func(c *tomlfile.Check) any { return c.Speed("x.laps", "150 km/h", 0, 60) }, `laps: "150 km/h" is no speed of a runner, nor of a wind to run in (write a speed from 0 to 129.6 km/h)`},
		{func(c *tomlfile.Check) any { return c.Share("x.laps", "−20 %", -0.1, 0.1) }, "laps is -20 % (it should be -10 % to 10 %)"},
	} {
		check := &tomlfile.Check{File: tomlfile.Places("f.toml", map[string][2]int{"x.laps": {3, 4}})}
		c.read(check)
		if err := check.Err(); err == nil || err.Error() != "f.toml:3:4: "+c.want {
			t.Errorf("%v, want %s", err, c.want)
		}
	}
}

// A minus may be the one that a text editor makes of a hyphen.
func TestASignIsReadWhereTheRangeGoesBelowZero(t *testing.T) {
	check := &tomlfile.Check{File: tomlfile.Places("f.toml", nil)}
	for text, want := range map[string]float64{"-0.5 %": -0.005, "−0.5 %": -0.005, "0.5 %": 0.005} {
		if got := check.Share("s", text, -0.1, 0.1); got == nil || math.Abs(*got-want) > 1e-12 {
			t.Errorf("%s: %v", text, check.Err())
		}
	}
	if got := check.Distance("d", "−30 m", -500, 6000); got == nil || *got != -30 {
		t.Errorf("%v", check.Err())
	}
	if check.Share("s", "-0.5 %", 0, 1); check.Err() == nil {
		t.Error("a share below zero was read where none can be")
	}
}

func TestPaces(t *testing.T) {
	for _, c := range []struct {
		v    any
		want float64
		bad  string
	}{
		{nil, 0, ""}, {"5:00/km", 0.3, ""}, {"8:00/mi", 480 / 1609.344, ""},
		{int64(300), 0, "pace should be a text"}, {"5:00", 0, "pace: "}, {"soon", 0, "pace: "},
	} {
		check := &tomlfile.Check{File: tomlfile.Places("f.toml", map[string][2]int{"x.pace": {3, 4}})}
		got := check.Pace("x.pace", c.v)
		err := check.Err()
		if math.Abs(got-c.want) > 1e-12 || (err == nil) != (c.bad == "") || err != nil && !strings.Contains(err.Error(), "f.toml:3:4: "+c.bad) {
			t.Errorf("%v: %g, %v", c.v, got, err)
		}
	}
}
