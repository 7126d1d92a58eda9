package quantity

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/inputerr"
	"tautline/geo/interval"
)

// parser gives the parsers one form for the tables.
type parser func(string) (float64, error)

func distance(bare float64) parser {
	return func(s string) (float64, error) { return ParseDistance(s, bare) }
}

func pace(bare float64) parser {
	return func(s string) (float64, error) { return ParsePace(s, bare) }
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(1, math.Abs(b)) }

// readings are texts with what they mean.
var readings = []struct {
	what  string
	parse parser
	in    string
	want  float64
}{
	{"distance", distance(NoUnit), "10 km", 10000},
	{"distance", distance(NoUnit), "10km", 10000},
	{"distance", distance(NoUnit), "10k", 10000},
	{"distance", distance(NoUnit), " 10  KM ", 10000},
	{"distance", distance(NoUnit), "10\u00a0km", 10000},
	{"distance", distance(NoUnit), "26.2 mi", 26.2 * 1609.344},
	{"distance", distance(NoUnit), "13.1mi", 13.1 * 1609.344},
	{"distance", distance(NoUnit), "1 mile", 1609.344},
	{"distance", distance(NoUnit), "400 m", 400},
	{"distance", distance(NoUnit), "42195m", 42195},
	// The marathon is 26 miles 385 yards (common practice): 42 194.988 m.
	{"distance", distance(NoUnit), "26 mi 385 yd", 42194.988},
	{"distance", distance(NoUnit), "26mi385yd", 42194.988},
	{"distance", distance(NoUnit), ".5 km", 500},
	{"distance", distance(NoUnit), "0 m", 0},
	{"distance", distance(NoUnit), "Marathon", 42195},
	{"distance", distance(NoUnit), "half marathon", 21097.5},
	{"distance", distance(NoUnit), "half-marathon", 21097.5},
	{"bare distance in metres", distance(Metre), "1500", 1500},
	{"bare distance in km", distance(Kilometre), "42.195", 42195},
	{"bare distance in miles", distance(Mile), "26.2", 26.2 * 1609.344},
	{"bare distance with a unit all the same", distance(Mile), "10 km", 10000},
	{"length", ParseLength, "8 m", 8},
	{"length", ParseLength, "8", 8},
	{"length", ParseLength, "0.3", 0.3},
	{"length", ParseLength, "80 cm", 0.8},
	{"length", ParseLength, "26 ft", 26 * 0.3048},
	{"length", ParseLength, "26 ft 3 in", 26*0.3048 + 3*0.0254},
	{"length", ParseLength, `26'3"`, 26*0.3048 + 3*0.0254},
	{"time", ParseClock, "3:29:59", 12599},
	{"time", ParseClock, "45:10", 2710},
	{"time", ParseClock, "75:30", 4530},
	{"time", ParseClock, "2:09:44.3", 7784.3},
	{"time", ParseClock, "1h05m", 3900},
	{"time", ParseClock, "1h05", 3900},
	{"time", ParseClock, "1 h 5 min 3.5 s", 3903.5},
	{"time", ParseClock, "90 s", 90},
	{"time", ParseClock, "90 min", 5400},
	{"time", ParseClock, "2.5 hours", 9000},
	{"time", ParseClock, "4m30", 270},
	{"pace", pace(NoUnit), "7:45/mi", 465 / 1609.344},
	{"pace", pace(NoUnit), "4:30/km", 0.27},
	{"pace", pace(NoUnit), "4:30 min/km", 0.27},
	{"pace", pace(NoUnit), "4:30 per km", 0.27},
	{"pace", pace(NoUnit), "4m30s / km", 0.27},
	{"pace", pace(NoUnit), "96 s/400 m", math.NaN()},
	{"bare pace", pace(Kilometre), "4:30", 0.27},
	{"bare pace", pace(Mile), "7:45", 465 / 1609.344},
	{"bare pace with a distance all the same", pace(Mile), "4:30/km", 0.27},
	{"speed", ParseSpeed, "12 km/h", 12 / 3.6},
	{"speed", ParseSpeed, "12kph", 12 / 3.6},
	{"speed", ParseSpeed, "7.5 mph", 7.5 * 1609.344 / 3600},
	{"speed", ParseSpeed, "3.5 m/s", 3.5},
	{"temperature", ParseTemperature, "18 °C", 18},
	{"temperature", ParseTemperature, "18C", 18},
	{"temperature", ParseTemperature, "-3 c", -3},
	{"temperature", ParseTemperature, "−3 °C", -3},
	{"temperature", ParseTemperature, "64.4 °F", 18},
	{"temperature", ParseTemperature, "-40F", -40},
	{"percent", ParsePercent, "5 %", 0.05},
	{"percent", ParsePercent, "0.1%", 0.001},
}

func TestReading(t *testing.T) {
	for _, c := range readings {
		t.Run(c.what+" "+c.in, func(t *testing.T) {
			got, err := c.parse(c.in)
			if math.IsNaN(c.want) {
				if err == nil {
					t.Errorf("was read as %v", got)
				}
				return
			}
			if err != nil || !near(got, c.want) {
				t.Errorf("got %v, %v; want %v", got, err, c.want)
			}
		})
	}
}

func TestRefusing(t *testing.T) {
	huge := strings.Repeat("9", 90)
	for _, c := range []struct {
		what  string
		parse parser
		in    string
		want  string // a part of the message, advice included
	}{
		{"nothing", distance(Metre), "", "is empty"},
		{"only space", distance(Metre), "  ", "is empty"},
		{"no unit", distance(NoUnit), "10", "has no unit"},
		{"a decimal comma", distance(NoUnit), "10,5 km", "write a decimal point: 10.5"},
		{"a comma that may separate thousands", distance(NoUnit), "42,195 m", "42.195, or without a separator: 42195"},
		{"an unknown unit", distance(NoUnit), "10 furlongs", "unknown unit"},
		{"a negative distance", distance(NoUnit), "-10 km", "is negative"},
		{"a real minus sign", distance(NoUnit), "−10 km", "is negative"},
		{"not a number", distance(Metre), "NaN", "cannot be read"},
		{"infinity", distance(Metre), "inf", "cannot be read"},
		{"an exponent", distance(Metre), "1e3", "unknown unit"},
		{"a hexadecimal number", distance(Metre), "0x10", "unknown unit"},
		{"overflow", distance(NoUnit), huge + " km", "too long"},
		{"too long a distance", distance(NoUnit), "10001 km", "the most is 10000 km"},
		{"units in the wrong order", distance(NoUnit), "385 yd 26 mi", "wrong order"},
		{"the same unit twice", distance(NoUnit), "1 km 2 km", "wrong order"},
		{"more yards than a mile", distance(NoUnit), "1 mi 1760 yd", "more yd than"},
		{"a number without a unit in a row", distance(Metre), "10 20", "cannot be read"},
		{"a bare end", distance(Metre), "10 km 5", "unknown unit"},
		{"two points", distance(NoUnit), "1.2.3 km", "cannot be read"},
		{"only a point", distance(NoUnit), ". km", "cannot be read"},
		{"a text", distance(NoUnit), "ultra", "cannot be read"},
		{"bytes that are no text", distance(NoUnit), "10 \xff", "is not text"},
		{"a very long text", distance(NoUnit), strings.Repeat("a", 1000), "is too long"},
		{"too long a length", ParseLength, "101 km", "the most is 100 km"},
		{"a bare number as time", ParseClock, "90", "has no unit"},
		{"60 seconds after a colon", ParseClock, "4:60", "60 or more"},
		{"one digit after a colon", ParseClock, "4:5", "two digits"},
		{"four parts", ParseClock, "1:00:00:00", "too many colons"},
		{"a colon alone", ParseClock, ":", "cannot be read"},
		{"an empty hour", ParseClock, ":45:10", "cannot be read"},
		{"a fraction of minutes", ParseClock, "1:30.5:00", "fraction before"},
		{"a fraction of hours before minutes", ParseClock, "1.5h 5m", "fraction before"},
		{"90 minutes after hours", ParseClock, "1h90m", "60 or more"},
		{"seconds before minutes", ParseClock, "5 s 3 min", "wrong order"},
		{"a comma in seconds", ParseClock, "3:29:59,5", "write a decimal point: 59.5"},
		{"too long a time", ParseClock, "1001 h", "the most is 1000 hours"},
		{"a negative time", ParseClock, "-5:00", "is negative"},
		{"a pace as time", ParseClock, "4:30/km", `"4:30/km" is a pace, not a time (write 3:29:59`},
		{"a pace in words as time", ParseClock, "7:45 per mile", "is a pace, not a time"},
		{"two paces in one as time", ParseClock, "4:30/km/km", "cannot be read"},
		{"a pace without its distance", pace(NoUnit), "4:30", "for which distance"},
		{"a pace per inch", pace(NoUnit), "4:30/in", "unknown distance"},
		{"a pace of nothing", pace(NoUnit), "0:00/km", "no pace that people run"},
		{"a pace of an arrow", pace(NoUnit), "0:05/km", "no pace that people run"},
		{"a bare number as pace", pace(Kilometre), "5", "cannot be read as a pace"},
		{"a speed without unit", ParseSpeed, "12", "no unit of speed"},
		{"a speed of sound", ParseSpeed, "340 m/s", "no speed"},
		{"a storm in metres a second", ParseSpeed, "60 m/s", "write a speed from 0 to 36 m/s"},
		{"a storm in kilometres an hour", ParseSpeed, "150 km/h", "write a speed from 0 to 129.6 km/h"},
		{"a storm in miles an hour", ParseSpeed, "90 mph", "write a speed from 0 to 80.5 mph"},
		{"a temperature without unit", ParseTemperature, "18", "no unit of temperature"},
		{"a temperature of the sun", ParseTemperature, "5500 °C", "no temperature of the air"},
		{"a share without sign", ParsePercent, "5", "percent sign"},
		{"more than the whole", ParsePercent, "101 %", "more than the whole"},
		{"no point of the compass", ParseDirection, "SWW", "is no direction"},
		{"more than a full circle", ParseDirection, "361", "0 to 360"},
		{"a very long direction", ParseDirection, strings.Repeat("N", 1000), "is no direction"},
	} {
		t.Run(c.what, func(t *testing.T) {
			got, err := c.parse(c.in)
			if err == nil {
				t.Fatalf("%q was read as %v", c.in, got)
			}
			var e *inputerr.Error
			if !errors.As(err, &e) || e.Advice == "" || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%q: %v, want %q", c.in, err, c.want)
			}
			if len(err.Error()) > 400 {
				t.Errorf("the message has %d bytes", len(err.Error()))
			}
		})
	}
}

func TestUnits(t *testing.T) {
	for in, want := range map[string]Units{"km": Metric, "Kilometres": Metric, "metric": Metric, "mi": Imperial, " miles ": Imperial, "imperial": Imperial} {
		if got, err := ParseUnits(in); err != nil || got != want {
			t.Errorf("%q: %v, %v", in, got, err)
		}
	}
	for _, in := range []string{"", "furlongs", "k m"} {
		if _, err := ParseUnits(in); err == nil {
			t.Errorf("%q was read", in)
		}
	}
}

func TestOfficialDistances(t *testing.T) {
	for _, c := range []struct {
		in, want float64
		note     string
	}{
		{26.2 * Mile, Marathon, "42164.8 m was taken as the official marathon of 42195 m"},
		{13.1 * Mile, HalfMarathon, "21082.4 m was taken as the official half marathon of 21097.5 m"},
		{42194.988, Marathon, "42195 m was taken as the official marathon of 42195 m"},
		{Marathon, Marathon, ""},
		{10009.9, 10000, "10009.9 m was taken as the official 10 km of 10000 m"},
		{10010.1, 10010.1, ""},
		{6.2 * Mile, 6.2 * Mile, ""}, // 22 m short of 10 km: not meant, or wrong
		{7000, 7000, ""},
		{0, 0, ""},
	} {
		got, note := Official(c.in)
		if got != c.want || note != c.note {
			t.Errorf("%v: got %v, %q; want %v, %q", c.in, got, note, c.want, c.note)
		}
	}
	if _, note := Official(math.NaN()); note != "" {
		t.Error("NaN is official")
	}
}

func TestPrinting(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct{ what, got, want string }{
		{"a marathon", Distance(42195, Metric), "42.195 km"},
		{"a marathon in miles", Distance(42195, Imperial), "26.22 mi"},
		{"ten kilometres", Distance(10000, Metric), "10 km"},
		{"just under a kilometre", Distance(999.4, Metric), "999 m"},
		{"nearly a kilometre", Distance(999.6, Metric), "1 km"},
		{"a lap", Distance(400.001, Metric), "400 m"},
		{"nothing", Distance(0, Metric), "0 m"},
		{"minus nothing", Distance(-0.2, Metric), "0 m"},
		{"a distance not known", Distance(nan, Metric), None},
		{"an endless distance", Distance(inf, Imperial), None},
		{"a column", DistanceFixed(42195, Metric, 2), "42.20"},
		{"a column of miles", DistanceFixed(1609.344, Imperial, 1), "1.0"},
		{"a width", Length(8, Metric), "8 m"},
		{"a half metre", Length(8.54, Metric), "8.5 m"},
		{"a long length", Length(11.6, Metric), "12 m"},
		{"rounding up to ten", Length(9.97, Metric), "10 m"},
		{"a width in feet", Length(8, Imperial), "26 ft"},
		{"a surplus", Signed(12.3, Metric), "+12 m"},
		{"a deficit", Signed(-3.44, Metric), "-3.4 m"},
		{"neither", Signed(0.04, Metric), "0 m"},
		{"neither, from below", Signed(-0.04, Metric), "0 m"},
		{"a surplus in feet", Signed(12, Imperial), "+39 ft"},
		{"a surplus not known", Signed(nan, Metric), None},
		{"an interval", Interval(interval.Estimate{Value: 12, Low: 8, High: 16}, Metric), "12 m (8 to 16)"},
		{"a small interval", Interval(interval.Estimate{Value: 1.25, Low: -0.5, High: 3}, Metric), "1.2 m (-0.5 to 3.0)"},
		{"an interval in feet", Interval(interval.Estimate{Value: 12, Low: 8, High: 16}, Imperial), "39 ft (26 to 52)"},
		{"an exact length", Interval(interval.Exact(7.5), Metric), "7.5 m"},
		{"an interval open above", Interval(interval.Estimate{Value: 12, Low: 8, High: inf}, Metric), "12 m (8 to –)"},
		{"an interval of nothing known", Interval(interval.Estimate{Value: nan, Low: nan, High: nan}, Metric), None},
		{"seconds with bounds", SecondsInterval(interval.Estimate{Value: 14, Low: 9, High: 20}), "14 s (9 to 20)"},
		{"a finish time", Clock(12598.6), "3:29:59"},
		{"rounding over the hour", Clock(3599.5), "1:00:00"},
		{"rounding over the minute", Clock(59.6), "1:00"},
		{"a short time", Clock(9), "0:09"},
		{"a negative time", Clock(-75), "-1:15"},
		{"minus nothing", Clock(-0.3), "0:00"},
		{"a time not known", Clock(nan), None},
		{"a time beyond all sense", Clock(1e300), None},
		{"a gain", Seconds(-4.2), "-4.2 s"},
		{"a loss", Seconds(14.2), "+14 s"},
		{"a loss of more than a minute", Seconds(65), "+1:05"},
		{"a loss of nearly a minute", Seconds(59.7), "+1:00"},
		{"no loss", Seconds(0.02), "0 s"},
		{"a pace", Pace(0.27, Metric), "4:30/km"},
		{"a pace per mile", Pace(465/1609.344, Imperial), "7:45/mi"},
		{"a pace not known", Pace(inf, Metric), None},
		{"no pace", Pace(0, Metric), None},
		{"a share", Percent(0.00123, 2), "0.12 %"},
		{"a negative share", Percent(-0.05, 0), "-5 %"},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %q, want %q", c.what, c.got, c.want)
		}
	}
}

// What is printed is read back to within the last printed place.
func TestWhatIsPrintedIsReadBack(t *testing.T) {
	units := rapid.SampledFrom([]Units{Metric, Imperial})
	check := func(t *rapid.T, s string, got float64, err error, want, tolerance float64) {
		t.Helper()
		if err != nil || !(math.Abs(got-want) <= tolerance*(1+1e-9)) {
			t.Fatalf("%v was printed as %q and read as %v, %v", want, s, got, err)
		}
	}
	t.Run("distance", func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			v, u := rapid.Float64Range(0, MaxDistance-Mile).Draw(t, "v"), units.Draw(t, "u")
			s := Distance(v, u)
			got, err := ParseDistance(s, NoUnit)
			check(t, s, got, err, v, map[Units]float64{Metric: 0.5, Imperial: 0.005 * Mile}[u])
		})
	})
	t.Run("length", func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			v, u := rapid.Float64Range(0, 1000).Draw(t, "v"), units.Draw(t, "u")
			s := Length(v, u)
			got, err := ParseLength(s)
			step := 1.0
			if strings.Contains(s, ".") || v < 3 {
				step = 0.1
			}
			check(t, s, got, err, v, math.Max(step/2, 0.05)*map[Units]float64{Metric: 1, Imperial: Foot}[u])
		})
	})
	t.Run("time", func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			v := rapid.Float64Range(0, MaxClock-1).Draw(t, "v")
			s := Clock(v)
			got, err := ParseClock(s)
			check(t, s, got, err, v, 0.5)
		})
	})
	t.Run("pace", func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			v, u := rapid.Float64Range(0.1, 10).Draw(t, "v"), units.Draw(t, "u")
			s := Pace(v, u)
			got, err := ParsePace(s, NoUnit)
			check(t, s, got, err, v, 0.5/u.Per())
		})
	})
	t.Run("speed", func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			v, u := rapid.Float64Range(0, 30).Draw(t, "v"), units.Draw(t, "u")
			s := fmt.Sprintf("%.1f km/h", v*3.6)
			if u == Imperial {
				s = fmt.Sprintf("%.1f mph", v*3600/Mile)
			}
			got, err := ParseSpeed(s)
			check(t, s, got, err, v, 0.05*u.Per()/3600)
		})
	})
	t.Run("temperature", func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			v, u := rapid.Float64Range(-80, 55).Draw(t, "v"), units.Draw(t, "u")
			s := fmt.Sprintf("%.0f °C", v)
			if u == Imperial {
				s = fmt.Sprintf("%.0f °F", v*1.8+32)
			}
			got, err := ParseTemperature(s)
			check(t, s, got, err, v, 0.5)
		})
	})
	t.Run("percent", func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			v := rapid.Float64Range(0, 0.99).Draw(t, "v")
			s := Percent(v, 3)
			got, err := ParsePercent(s)
			check(t, s, got, err, v, 0.5e-5)
		})
	})
}

// Whatever the text: no panic, and either an error with advice or a finite
// value inside the stated range.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"10 km", "26 mi 385 yd", "marathon", "3:29:59.5", "1h05m", "7:45/mi", "4:30 per km", "12 km/h", "-3 °C", "5 %", "42,195 m", "26'3\"", "−1", "1\u00a0000"} {
		f.Add(s)
	}
	parsers := []struct {
		name      string
		parse     parser
		low, high float64
	}{
		{"distance", distance(NoUnit), 0, MaxDistance},
		{"bare distance", distance(Mile), 0, MaxDistance},
		{"length", ParseLength, 0, MaxLength},
		{"time", ParseClock, 0, MaxClock},
		{"pace", pace(NoUnit), MinPace, MaxPace},
		{"bare pace", pace(Kilometre), MinPace, MaxPace},
		{"speed", ParseSpeed, 0, MaxSpeed},
		{"temperature", ParseTemperature, MinTemperature, MaxTemperature},
		{"percent", ParsePercent, 0, 1},
		{"direction", ParseDirection, 0, 2 * math.Pi},
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, p := range parsers {
			v, err := p.parse(s)
			var e *inputerr.Error
			switch {
			case err == nil && !(v >= p.low && v <= p.high):
				t.Errorf("%s %q was read as %v", p.name, s, v)
			case err != nil && (!errors.As(err, &e) || e.What == "" || e.Advice == "" || v != 0):
				t.Errorf("%s %q: %v, %#v", p.name, s, v, err)
			}
		}
		if u, err := ParseUnits(s); err != nil && u != Metric {
			t.Errorf("units %q: %v, %v", s, u, err)
		}
	})
}

// Whatever the number: printing neither panics nor prints NaN.
func FuzzPrint(f *testing.F) {
	f.Add(42195.0)
	f.Add(math.Inf(-1))
	f.Fuzz(func(t *testing.T, v float64) {
		for _, u := range []Units{Metric, Imperial} {
			for _, s := range []string{
				Distance(v, u), DistanceFixed(v, u, 2), Length(v, u), Signed(v, u), Interval(interval.Normal(v, 3), u), SecondsInterval(interval.Exact(v)),
				Clock(v), Seconds(v), Pace(v, u), Percent(v, 1),
			} {
				if s == "" || strings.Contains(s, "NaN") || strings.Contains(s, "Inf") || strings.HasPrefix(s, "-0 ") {
					t.Errorf("%v: %q", v, s)
				}
			}
		}
	})
}

func TestDirectionsAreReadAsPointsAndAsDegrees(t *testing.T) {
	for text, want := range map[string]float64{"N": 0, "sw": 225, " NNW ": 337.5, "90": 90, "22.5°": 22.5, "360": 0} {
		got, err := ParseDirection(text)
		if err != nil || math.Abs(got-want*math.Pi/180) > 1e-12 {
			t.Errorf("%q is read as %v, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "NORTH", "-1", "361", "NaN", "SSSW"} {
		if got, err := ParseDirection(text); err == nil {
			t.Errorf("%q is read as %v", text, got)
		}
	}
}
