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
