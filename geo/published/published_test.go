package published

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestAFigureIsHeldByItsTolerance(t *testing.T) {
	for _, c := range []struct {
		name             string
		value            string
		tolerance, ours  float64
		held             bool
		show, difference string
	}{
		{"within", "54972.271", 0.0006, 54972.2712, true, "54972.2712", "+0.0002"},
		{"many decimals, of which few are asked for", "9398502.0434687", 0.001, 9398502.04346644, true, "9398502.04347", "0"},
		{"beyond", "54972.271", 0.0006, 54972.2717, false, "54972.2717", "+0.0007"},
		{"below", "10", 0.5, 9.4, false, "9.4", "-0.6"},
		{"a figure that is not one", "10", 0.5, math.NaN(), false, "NaN", "+NaN"},
		{"as printed", "0.52321", 0, 0.523214, true, "0.523214", "+0.000004"},
		{"as printed, the next figure", "0.52321", 0, 0.523216, false, "0.523216", "+0.000006"},
		{"as printed without decimals", "11238", 0, 11238.4, true, "11238.4", "+0.4"},
		{"as printed, trailing zeros count", "10922.00", 0, 10922.006, false, "10922.006", "+0.006"},
		{"a negative figure", "-1.79", 0, -1.791, true, "-1.791", "-0.001"},
		{"a time", "3:28:01", 0.6, 12481.5, true, "3:28:01.5", "+0.5"},
		{"a time in minutes", "4:19", 0.6, 260, false, "4:20.0", "+1.0"},
		{"a time that rounds up to the minute", "5:00", 0.6, 299.97, true, "5:00.0", "0"},
		{"in a range", "0.024 to 0.028", 0, 0.0251, true, "0.0251", "0"},
		{"a little beyond a range", "0.024 to 0.028", 0.004, 0.0311, true, "0.0311", "+0.0031"},
		{"too far beyond a range", "0.024 to 0.028", 0.004, 0.0199, false, "0.0199", "-0.0041"},
		{"on the edge of a range that allows nothing", "1 to 2", 0, 2, true, "2.0", "0"},
		{"at least", "at least 600", 0, 700, true, "700.0", "0"},
		{"not even", "at least 600", 0, 599, false, "599.0", "-1.0"},
		{"at most", "at most 1.14", 0, 1.2, false, "1.200", "+0.060"},
		{"nothing is in a range", "1 to 2", 9, math.NaN(), false, "NaN", "+NaN"},
	} {
		t.Run(c.name, func(t *testing.T) {
			row, held, err := Figure{Source: "s", Trust: Read, What: "w", Value: c.value, Tolerance: c.tolerance}.hold(c.ours)
			if err != nil || held != c.held || row.Ours != c.show || row.Difference != c.difference {
				t.Errorf("held %v, %+v, %v", held, row, err)
			}
		})
	}
}

func TestFiguresOutOfOrderAreRefused(t *testing.T) {
	good := Figure{Source: "s", Trust: Read, What: "w", Value: "1"}
	for name, spoil := range map[string]func(*Figure){
		"no source":            func(f *Figure) { f.Source = "" },
		"no trust":             func(f *Figure) { f.Trust = "" },
		"no name":              func(f *Figure) { f.What = "" },
		"no value":             func(f *Figure) { f.Value = "" },
		"a word":               func(f *Figure) { f.Value = "many" },
		"not a number":         func(f *Figure) { f.Value = "NaN" },
		"seconds beyond 59":    func(f *Figure) { f.Value = "1:75" },
		"too many colons":      func(f *Figure) { f.Value = "1:2:3:4" },
		"a range backwards":    func(f *Figure) { f.Value = "2 to 1" },
		"half a range":         func(f *Figure) { f.Value = "2 to " },
		"a negative tolerance": func(f *Figure) { f.Tolerance = -1 },
		"no tolerance at all":  func(f *Figure) { f.Tolerance = math.NaN() },
		"any tolerance":        func(f *Figure) { f.Tolerance = math.Inf(1) },
	} {
		f := good
		spoil(&f)
		if _, held, err := f.hold(1); err == nil || held {
			t.Errorf("%s: held %v, no error", name, held)
		}
	}
}

func TestTolerancesAreWrittenShort(t *testing.T) {
	for tolerance, want := range map[float64]string{0.00006: "0.00006", 0.5 + 1e-14: "0.5", 1.74: "1.7", 126: "130", 1e-12: "rounding"} {
		if got := allowed(tolerance); got != want {
			t.Errorf("%v is written %s, want %s", tolerance, got, want)
		}
	}
}

// What is written as a time or a number is read back as it was.
func TestTimesAndNumbersComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.IntRange(0, 200_000).Draw(t, "seconds")
		if p, err := parse(Clock(float64(s))); err != nil || p.value != float64(s) || !p.time {
			t.Fatalf("%s: %+v, %v", Clock(float64(s)), p, err)
		}
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "number")
		if p, err := parse(Number(v)); err != nil || p.value != v || p.time {
			t.Fatalf("%s: %+v, %v", Number(v), p, err)
		}
	})
}
