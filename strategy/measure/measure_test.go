package measure

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/inputerr"
	"tautline/geo/published"
	"tautline/strategy/quantity"
)

func mustWork(t interface {
	Helper()
	Fatalf(string, ...any)
}, sheet string) *Result {
	t.Helper()
	s, err := Read("sheet.toml", strings.NewReader(sheet))
	if err != nil {
		t.Fatalf("%v in\n%s", err, sheet)
	}
	r, err := s.Work()
	if err != nil {
		t.Fatalf("%v in\n%s", err, sheet)
	}
	return r
}

// A ride of any length on a counter of any size comes back as it was ridden,
// as long as the sheet says roughly how long the course is.
func TestCounterRoundsAreFoundFromTheApproximateLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		digits := rapid.IntRange(4, 7).Draw(t, "digits")
		mod := int(math.Pow10(digits))
		calib := 3400 + rapid.IntRange(0, 200).Draw(t, "calibration counts")
		course := rapid.IntRange(5000, 600000).Draw(t, "course counts")
		start := rapid.IntRange(0, mod-1).Draw(t, "start")
		metres := float64(course) * 300 / float64(calib)
		// Expected length wrong by less than half a round of the counter.
		slack := 0.45 * float64(mod) * 300 / float64(calib)
		expected := math.Max(100, metres+slack*rapid.Float64Range(-1, 1).Draw(t, "error"))
		end := (start + course) % mod
		if end == start {
			t.Skip("no counts")
		}
		r := mustWork(t, fmt.Sprintf("[counter]\ndigits = %d\n[calibration]\nlength = 300\n[settings]\nfactor = \"off\"\n[course]\nexpected = \"%.3f m\"\n[[session]]\nbefore = [%d]\nafter = [%d]\n[[session.ride]]\npieces = [\"%d-%d\"]\n",
			digits, expected, calib, calib, start, end))
		if got := r.Rides[0].Counts; got != float64(course) {
			t.Fatalf("%v counts, rode %d", got, course)
		}
		if math.Abs(r.Counted-metres) > 1e-6 {
			t.Fatalf("%v m, rode %v", r.Counted, metres)
		}
	})
}

// Marks with known places survive any number of counter rounds between them.
func TestMarksAreFollowedThroughCounterRounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const mod, perMetre = 10000, 11.0
		start := rapid.IntRange(0, mod-1).Draw(t, "start")
		var sheet strings.Builder
		at := 0
		n := rapid.IntRange(1, 6).Draw(t, "marks")
		var places []int
		for range n {
			at += rapid.IntRange(50, 4000).Draw(t, "metres to the next mark")
			places = append(places, at)
		}
		length := at + rapid.IntRange(50, 3000).Draw(t, "metres to the finish")
		end := (start + int(perMetre)*length) % mod
		if end == start {
			t.Skip("no counts")
		}
		fmt.Fprintf(&sheet, "[counter]\ndigits = 4\n[calibration]\nlength = 400\n[settings]\nfactor = \"off\"\n[course]\nexpected = %d\n[[session]]\nbefore = [4400]\nafter = [4400]\n[[session.ride]]\npieces = [\"%d-%d\"]\n", length, start, end)
		for i, p := range places {
			fmt.Fprintf(&sheet, "[[session.ride.mark]]\nname = \"m%d\"\nreading = %d\nat = %d\n", i, (start+int(perMetre)*p)%mod, p)
		}
		r := mustWork(t, sheet.String())
		for i, p := range places {
			if d := r.Marks[i].At[0] - float64(p); math.Abs(d) > 1e-6 {
				t.Fatalf("mark %d is at %v m, stood at %d", i, r.Marks[i].At[0], p)
			}
		}
		if math.Abs(r.Counted-float64(length)) > 1e-6 {
			t.Fatalf("length %v, rode %d", r.Counted, length)
		}
	})
}

func TestTheLargerConstantNeverGivesTheLongerCourse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		before := rapid.Float64Range(4300, 4400).Draw(t, "before")
		after := before * rapid.Float64Range(0.999, 1.001).Draw(t, "after")
		counts := rapid.IntRange(20000, 99000).Draw(t, "counts")
		sheet := func(choice string) string {
			return fmt.Sprintf("[calibration]\nlength = 400\n[course]\ndistance = \"5 km\"\n[settings]\nconstant = %q\n[[session]]\nbefore = [%f]\nafter = [%f]\n[[session.ride]]\npieces = [%d]\n", choice, before, after, counts)
		}
		larger, average := mustWork(t, sheet("larger")), mustWork(t, sheet("average"))
		if larger.Counted > average.Counted+1e-9 {
			t.Fatalf("larger constant gives %v m, average %v m", larger.Counted, average.Counted)
		}
		if larger.Other != average.Counted || average.Other != larger.Counted {
			t.Fatalf("the other choice is not shown as computed: %v %v, %v %v", larger.Other, average.Counted, average.Other, larger.Counted)
		}
	})
}

// Riding the counts to add makes the length that counts exact.
func TestAddingWhatIsAskedMakesTheCourseExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		before := rapid.Float64Range(4300, 4400).Draw(t, "before")
		after := before * rapid.Float64Range(0.9995, 1.0005).Draw(t, "after")
		one := rapid.Float64Range(54000, 55000).Draw(t, "first ride")
		two := one * rapid.Float64Range(0.9995, 1.0005).Draw(t, "second ride")
		sheet := func(add float64) string {
			return fmt.Sprintf("[calibration]\nlength = 400\n[course]\ndistance = \"5 km\"\n[[session]]\nbefore = [%.9f]\nafter = [%.9f]\n[[session.ride]]\npieces = [%.9f]\n[[session.ride]]\npieces = [%.9f]\n", before, after, one+add, two+add)
		}
		r := mustWork(t, sheet(0))
		again := mustWork(t, sheet(r.Adjust.Counts))
		if math.Abs(again.Counted-5000) > 1e-6 || math.Abs(again.Adjust.Metres) > 1e-6 {
			t.Fatalf("after adding %v counts the course is %.9f m", r.Adjust.Counts, again.Counted)
		}
	})
}

func TestUnitsOfLengthAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.Float64Range(1, 90000).Draw(t, "metres")
		for unit, scale := range map[string]float64{"m": 1, "km": 1000, "cm": 0.01, "mi": quantity.Mile, "yd": quantity.Yard, "ft": quantity.Foot} {
			var l Length
			if err := l.UnmarshalText(fmt.Appendf(nil, "%.12f %s", m/scale, unit)); err != nil {
				t.Fatal(err)
			}
			if math.Abs(float64(l)/m-1) > 1e-9 {
				t.Fatalf("%v m in %s comes back as %v", m, unit, l)
			}
		}
		c := rapid.Float64Range(-40, 60).Draw(t, "celsius")
		var f Temperature
		if err := f.UnmarshalText(fmt.Appendf(nil, "%.9f F", c*9/5+32)); err != nil {
			t.Fatal(err)
		}
		if math.Abs(f.Celsius-c) > 1e-6 || math.Abs(f.Fahrenheit()-(c*9/5+32)) > 1e-6 {
			t.Fatalf("%v C comes back as %v", c, f.Celsius)
		}
	})
}

// Both printed coefficients describe the same steel, and a tape at the
// temperature it is true at needs no correction.
func TestTheTwoTapeCoefficientsAgree(t *testing.T) {
	for _, c := range []float64{-10, 0, 20, 35, 60} {
		us, metric := ExpansionUS.At(Temperature{Celsius: c, Known: true}), ExpansionMetric.At(Temperature{Celsius: c, Known: true})
		if math.Abs(us-metric) > 1e-6 {
			t.Errorf("at %v C the factors are %.8f and %.8f", c, us, metric)
		}
		if (c > 20) != (us > 1) && c != 20 {
			t.Errorf("at %v C the factor is %.8f: a hot tape must read too little", c, us)
		}
	}
	if f := ExpansionUS.At(Temperature{Celsius: 20, Known: true}); f != 1 {
		t.Errorf("at 68 F the factor is %v", f)
	}
}

const twoRides = `
[course]
distance = "5 km"
[calibration]
length = "400 m"
[[session]]
before = [4363.5, 4364, 4364, 4365]
after = [4364.5, 4365, 4364, 4365.5]
[[session.ride]]
pieces = [54600]
[[session.ride]]
pieces = [%s]
`

func TestTheSmallerOfTwoAgreeingLengthsCounts(t *testing.T) {
	r := mustWork(t, fmt.Sprintf(twoRides, "54620"))
	if !r.Agree || r.Counted != math.Min(r.Rides[0].Length, r.Rides[1].Length) || r.Counted != r.Rides[0].Length {
		t.Errorf("agree %v, counted %v of %v and %v", r.Agree, r.Counted, r.Rides[0].Length, r.Rides[1].Length)
	}
	r = mustWork(t, fmt.Sprintf(twoRides, "54700"))
	if r.Agree {
		t.Errorf("rides %.3f %% apart are said to agree", 100*r.Spread)
	}
	wantWarning(t, r, "ride the course again")
}

func wantWarning(t *testing.T, r *Result, part string) {
	t.Helper()
	for _, w := range r.Warnings {
		if strings.Contains(w.Text, part) {
			return
		}
	}
	t.Errorf("no warning says %q; have %v", part, r.Warnings)
}

func TestASoundDayGivesNoWarning(t *testing.T) {
	r := mustWork(t, `
[course]
distance = "5 km"
[calibration]
length = "400 m"
[[session]]
before = [4365.5, 4365, 4365, 4366]
after = [4363.5, 4363, 4364, 4363]
temperature_before = "14 C"
temperature_after = "17 C"
hours_between = 4
[[session.ride]]
pieces = ["10000-64600"]
[[session.ride]]
pieces = ["65000-19615.5"]
`)
	if len(r.Warnings) != 0 {
		t.Errorf("warnings on a sound day: %v", r.Warnings)
	}
}

func TestSlipsAreWarnedAbout(t *testing.T) {
	const head = "[course]\ndistance = \"5 km\"\n[calibration]\nlength = \"400 m\"\n[[session]]\n"
	for _, c := range []struct{ name, sheet, want string }{
		{"a misread calibration ride", head + "before = [4364, 4364, 4374, 4364]\nafter = [4364, 4364, 4364, 4364]", "misread digit"},
		{"too few calibration rides", head + "before = [4364, 4364]\nafter = [4364, 4364, 4364, 4364]", "2 calibration rides"},
		{"no rides after", head + "before = [4364, 4364, 4364, 4364]", "tentative"},
		{"a constant that moves against the temperature", head + "before = [4364, 4364, 4364, 4364]\nafter = [4369, 4369, 4369, 4369]\ntemperature_before = \"10 C\"\ntemperature_after = \"20 C\"", "a tyre would give"},
		{"a constant that moves with no temperatures given", head + "before = [4364, 4364, 4364, 4364]\nafter = [4369, 4369, 4369, 4369]", "no temperatures"},
		{"a constant in turns of the wheel that moves", "[counter]\nunit = \"turns\"\n" + head + "before = [218.2, 218.2, 218.2, 218.2]\nafter = [218.6, 218.6, 218.6, 218.6]", "(+1.0 turns/km)"},
		{"marks laid with a smaller working constant", head + "before = [4364, 4364, 4364, 4364]\nafter = [4365, 4365, 4365, 4365]\n[[session.ride]]\npieces = [54600]", "marks laid with the working constant lie short by 0.23 m"},
		{"a tyre still warming", head + "before = [4368, 4366.5, 4366, 4365.5]\nafter = [4364, 4364, 4364, 4364]", "warming up"},
		{"readings finer than the counter", head + "before = [4364.3, 4364, 4364, 4364]\nafter = [4364, 4364, 4364, 4364]", "finer than"},
		{"a mile for a kilometre", "[calibration]\nlength = \"0.4 mi\"\n[[session]]\nbefore = [4364, 4364, 4364, 4364]\nafter = [4364, 4364, 4364, 4364]", "unusual"},
		{"a single ride", head + "before = [4364, 4364, 4364, 4364]\nafter = [4364, 4364, 4364, 4364]\n[[session.ride]]\npieces = [54600]", "only one ride"},
		{"a missing piece", head + "before = [4364, 4364, 4364, 4364]\nafter = [4364, 4364, 4364, 4364]\n[[session.ride]]\npieces = [44600]", "pieces are missing"},
		{"a short calibration course", "[calibration]\nlength = 200\n[[session]]\nbefore = [2182, 2182, 2182, 2182]\nafter = [2182, 2182, 2182, 2182]", "shorter than 300 m"},
		{"a tape without temperature", "method = \"tape\"\n[tape]\nreadings = [400]", "no tape temperature"},
		{"three rides of which one is wrong", head + "before = [4364, 4364, 4364, 4364]\nafter = [4364, 4364, 4364, 4364]\n[[session.ride]]\npieces = [54600]\n[[session.ride]]\npieces = [54800]\n[[session.ride]]\npieces = [54610]", "rides 1 and 3 agree"},
	} {
		t.Run(c.name, func(t *testing.T) { wantWarning(t, mustWork(t, c.sheet), c.want) })
	}
}

// Of rides the smaller length counts unless the sheet says otherwise, of tapings
// the mean.
func TestOnlyWhatTheSheetChangesIsCalledAnOverride(t *testing.T) {
	const (
		rides   = "[calibration]\nlength = 400\n[[session]]\nbefore = [4364]\nafter = [4364]\n"
		tapings = "method = \"tape\"\n[tape]\nreadings = [400, 400.02]\n"
		smaller = "[settings]\nlength_that_counts = \"smaller\"\n"
		mean    = "[settings]\nlength_that_counts = \"mean\"\n"
	)
	for name, c := range map[string]struct{ sheet, want string }{
		"rides":                     {rides, ""},
		"rides, smaller by name":    {rides + smaller, ""},
		"rides, the mean":           {rides + mean, "length that counts: mean instead of smaller"},
		"tapings, the mean by name": {tapings + mean, ""},
		"tapings, smaller":          {tapings + smaller, "length that counts: smaller instead of mean"},
	} {
		if got := strings.Join(mustWork(t, c.sheet).Overrides, "; "); got != c.want {
			t.Errorf("%s: overrides %q, want %q", name, got, c.want)
		}
	}
}

// The guidelines' own example: 10 km laid out with the factor and measured
// again without error shows 10 010 m and passes; the bulletin board (Riegel,
// Conway, second-hand) says it fails below 9995 m.
func TestVerificationUsesTheAverageWithoutFactorAndItsAllowance(t *testing.T) {
	sheet := func(metres float64, rules string) string {
		return fmt.Sprintf("rules = %q\n[course]\ndistance = \"10 km\"\n[calibration]\nlength = 400\n[[session]]\nbefore = [4362, 4362, 4362, 4362]\nafter = [4366, 4366, 4366, 4366]\n[[session.ride]]\npieces = [%.6f]\n", rules, metres*4364/400)
	}
	for _, c := range []struct {
		metres float64
		rules  string
		want   Outcome
	}{
		{10010, "usatf-verification", NotShort},
		{9999.5, "usatf-verification", Forgiven},
		{9995.1, "usatf-verification", Forgiven},
		{9994.9, "usatf-verification", TooShort},
		{9999.5, "no-allowance", TooShort},
		{10000.1, "no-allowance", NotShort},
	} {
		r := mustWork(t, sheet(c.metres, c.rules))
		if math.Abs(r.Counted-c.metres) > 1e-3 {
			t.Errorf("%v m remeasures as %v m", c.metres, r.Counted)
		}
		if r.Verdict == nil || r.Verdict.Outcome != c.want {
			t.Errorf("%v m by %s: %+v, want %s", c.metres, c.rules, r.Verdict, c.want)
		}
		if r.Adjust != nil {
			t.Errorf("a verification must not ask to add metres")
		}
		if math.Abs(r.Verdict.LaidOutTo-10010) > 1e-9 {
			t.Errorf("a faultless 10 km would show %v m", r.Verdict.LaidOutTo)
		}
	}
	published.Check(t, published.Figure{Source: "USA Track & Field, verification without the factor", Trust: published.Read,
		What: "what a faultless 10 km shows", Unit: "m", Value: "10010", Tolerance: 1e-9}, mustWork(t, sheet(10010, "usatf-verification")).Verdict.LaidOutTo)
	// The length below which the verdict turns.
	short, not := 9990.0, 10000.0
	for not-short > 0.001 {
		at := (short + not) / 2
		if mustWork(t, sheet(at, "usatf-verification")).Verdict.Outcome == TooShort {
			short = at
		} else {
			not = at
		}
	}
	published.Check(t, published.Figure{Source: "verification, measurers' bulletin board, Riegel, Conway", Trust: published.SecondHand,
		What: "10 km fails below", Unit: "m", Value: "9995", Tolerance: 0.01}, not)
}

func TestSplitsComeInCountsAndReadings(t *testing.T) {
	r := mustWork(t, strings.Replace(fmt.Sprintf(twoRides, "54620"), "pieces = [54600]", "pieces = [\"95000-49600\"]", 1)+"[splits]\nevery = [\"1 km\", \"1 mi\"]\nat = [\"2.5 km\"]\n")
	if len(r.Splits) != 9 { // 5 km, 3 miles, 2.5 km
		t.Fatalf("%d splits: %+v", len(r.Splits), r.Splits)
	}
	k := r.Sessions[0].Day
	for _, s := range r.Splits {
		if math.Abs(s.Counts-s.At*k) > 1e-9 {
			t.Errorf("split %v m is %v counts", s.At, s.Counts)
		}
		if s.Reading == nil || math.Abs(*s.Reading-math.Mod(95000+s.Counts, 1e5)) > 1e-6 {
			t.Errorf("split %v m has reading %v", s.At, s.Reading)
		}
	}
	if last := r.Splits[8]; last.At != 5000 {
		t.Errorf("the last split is at %v m", last.At)
	}
}

func TestMarksSayWhereToMove(t *testing.T) {
	r := mustWork(t, `
[course]
distance = "5 km"
[calibration]
length = 400
[settings]
factor = "off"
[[session]]
before = [4400, 4400, 4400, 4400]
after = [4400, 4400, 4400, 4400]
[[session.ride]]
pieces = ["90000-45000"]
[[session.ride.mark]]
name = "1 km"
reading = 990
[[session.ride]]
pieces = ["45100-00110"]
[[session.ride.mark]]
name = "1 km"
reading = 56096
`)
	if len(r.Marks) != 1 || len(r.Marks[0].At) != 2 {
		t.Fatalf("marks %+v", r.Marks)
	}
	m := r.Marks[0]
	if math.Abs(m.Counted-10990/11.0) > 1e-9 || math.Abs(m.Move-10/11.0) > 1e-9 || !m.Agree {
		t.Errorf("mark %+v: it lies 10 counts early", m)
	}
}

// The interval for the length on the ground holds the truth as often as it
// says when rides, tyre and calibration course err as the reference says.
func TestTheGroundIntervalHoldsTheTruthNineTimesInTen(t *testing.T) {
	const truth, calib, k = 10000.0, 400.0, 10.9
	held, total := 0, 600
	rng := newNoise(7)
	for range total {
		calibErr := 1 + calibrationGoal/1.645*rng.norm()
		rider := 1 + bicycleGroupSD*rng.norm()
		drift := 1 + 0.0004*rng.norm()
		rides := func(f float64) string {
			var v []string
			for range 4 {
				v = append(v, fmt.Sprintf("%.1f", math.Round(2*(k*f*calib*calibErr+0.4*rng.norm()))/2))
			}
			return strings.Join(v, ", ")
		}
		// The course is ridden somewhere between the two calibrations.
		during := 1 + (drift-1)*rng.uniform()
		sheet := fmt.Sprintf("[course]\nexpected = 10000\n[calibration]\nlength = 400\n[[session]]\nbefore = [%s]\nafter = [%s]\n[[session.ride]]\npieces = [%.1f]\n[[session.ride]]\npieces = [%.1f]\n",
			rides(1), rides(drift), truth*k*during*rider, truth*k*during*rider*(1+0.00005*rng.norm()))
		if mustWork(t, sheet).Ground.Holds(truth) {
			held++
		}
	}
	if share := float64(held) / float64(total); share < 0.86 || share > 0.96 {
		t.Errorf("the interval holds the truth in %.1f %% of %d days (seed 7)", 100*share, total)
	}
}

func TestBadSheetsSayWhereAndWhatToDo(t *testing.T) {
	const session = "[[session]]\nbefore = [4364]\nafter = [4364]\n"
	for _, c := range []struct {
		name, sheet  string
		line, column int
		want         string
	}{
		{"unknown key", "[calibration]\nlenght = 400\n", 2, 1, "unknown key"},
		{"unknown table", "[callibration]\nlength = 400\n", 1, 2, "unknown key"},
		{"duplicate key", "title = \"a\"\ntitle = \"b\"\n", 2, 1, "already defined"},
		{"comma for a point", "[calibration]\nlength = \"652,34 m\"\n" + session, 2, 10, "decimal point"},
		{"unknown unit", "[calibration]\nlength = \"3 furlongs\"\n" + session, 2, 10, "unknown unit"},
		{"not a number", "[calibration]\nlength = nan\n" + session, 2, 10, "cannot be read"},
		{"infinite", "[calibration]\nlength = inf\n" + session, 2, 10, "cannot be read"},
		{"zero length", "[calibration]\nlength = 0\n" + session, 2, 10, "more than 0"},
		{"negative length", "[calibration]\nlength = -400\n" + session, 2, 10, "negative"},
		{"a kilometre for a metre", "[calibration]\nlength = \"400 km\"\n" + session, 2, 10, "not between 20 m and 5 km"},
		{"a list for a value", "[calibration]\nlength = [400]\n" + session, 2, 1, "must be one value"},
		{"temperature without scale", "[calibration]\nlength = 400\n[[session]]\nbefore = [4364]\ntemperature_before = 14\n", 5, 22, "no unit of temperature"},
		{"impossible temperature", "[calibration]\nlength = 400\n[[session]]\nbefore = [4364]\ntemperature_before = \"140 C\"\n", 5, 22, "no temperature"},
		{"tolerance as a number of per cent", "[settings]\ntolerance = 0.08\n", 2, 13, "0.08 %"},
		{"factor below one", "[settings]\nfactor = 0.999\n", 2, 10, "between 1 and 1.01"},
		{"unknown rules", "rules = \"mine\"\n", 1, 9, "use one of"},
		{"a reading too long for the counter", "[calibration]\nlength = 400\n[[session]]\nbefore = [\"148000-152535\"]\n", 4, 11, "counter of 5 digits"},
		{"a ride from a place to itself", "[calibration]\nlength = 400\n[[session]]\nbefore = [\"100-100\"]\n", 4, 11, "no counts"},
		{"no calibration", session, 0, 0, "no calibration course"},
		{"length and taping", "[calibration]\nlength = 400\n[calibration.tape]\nreadings = [400]\n" + session, 3, 2, "both a length and tapings"},
		{"no session", "[calibration]\nlength = 400\n", 0, 0, "no rides"},
		{"no rides before", "[calibration]\nlength = 400\n[[session]]\nafter = [4364]\n", 3, 3, "no calibration rides before"},
		{"calibration rides far apart", "[calibration]\nlength = 400\n[[session]]\nbefore = [4364, 3464]\n", 4, 17, "more than a tenth"},
		{"verification without a distance", "purpose = \"verify\"\n[calibration]\nlength = 400\n" + session, 0, 0, "official distance"},
		{"ride without readings", "[calibration]\nlength = 400\n" + session + "[[session.ride]]\nname = \"x\"\n", 6, 3, "no readings"},
		{"mark without reading", "[calibration]\nlength = 400\n" + session + "[[session.ride]]\npieces = [\"1-50000\"]\n[[session.ride.mark]]\nname = \"1 km\"\n", 8, 3, "no reading"},
		{"tape true length far off", "method = \"tape\"\n[tape]\nreadings = [400]\ntape_says = \"30 m\"\ntape_is = \"31 m\"\n", 5, 11, "more than 1 %"},
		{"syntax", "title = \n", 1, 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read("sheet.toml", strings.NewReader(c.sheet))
			var e *inputerr.Error
			if !errors.As(err, &e) {
				t.Fatalf("got %v, want an input error", err)
			}
			if e.Line != c.line || (c.column != 0 && e.Column != c.column) {
				t.Errorf("at %d:%d, want %d:%d: %v", e.Line, e.Column, c.line, c.column, err)
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v does not say %q", err, c.want)
			}
		})
	}
}

func TestReadingsThatCannotBeFollowedAreRefused(t *testing.T) {
	const head = "[course]\ndistance = \"5 km\"\n[calibration]\nlength = 400\n[[session]]\nbefore = [4400]\nafter = [4400]\n[[session.ride]]\n"
	for _, c := range []struct{ name, sheet, want string }{
		{"marks out of order", head + "pieces = [\"1000-56000\"]\n[[session.ride.mark]]\nname = \"2 km\"\nreading = 23000\n[[session.ride.mark]]\nname = \"1 km\"\nreading = 12000\n", "go backwards"},
		{"rounds between nameless marks", strings.Replace(head, "5 km", "30 km", 1) + "pieces = [\"1000-31000\"]\n[[session.ride.mark]]\nname = \"oak\"\nreading = 23000\n", "does not say where it should be"},
		{"several long pieces", strings.Replace(head, "5 km", "30 km", 1) + "pieces = [\"1000-31000\", \"31000-61000\"]\n", "cannot be followed"},
		{"one mark in two places", head + "pieces = [\"1000-56000\"]\n[[session.ride.mark]]\nname = \"oak\"\nat = \"1 km\"\nreading = 12000\n[[session.ride]]\npieces = [\"1000-56000\"]\n[[session.ride.mark]]\nname = \"oak\"\nat = \"2 km\"\nreading = 12000\n", "another ride"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Read("sheet.toml", strings.NewReader(c.sheet))
			if err != nil {
				t.Fatal(err)
			}
			_, err = s.Work()
			var e *inputerr.Error
			if !errors.As(err, &e) || !strings.Contains(err.Error(), c.want) || e.Line == 0 {
				t.Errorf("got %v, want an input error with a line that says %q", err, c.want)
			}
		})
	}
}

func TestCSVAndTOMLGiveTheSameResult(t *testing.T) {
	toml := mustWork(t, strings.Replace(fmt.Sprintf(twoRides, "54620"), "pieces = [54600]", "pieces = [\"95000-49600\"]\n[[session.ride.mark]]\nname = \"1 km\"\nreading = 5920", 1))
	const sheet = "kind,name,from,to\nset,course.distance,5 km,\nset,calibration.length,400 m,\nsession,,,\nbefore,,4363.5,\nbefore,,4364\nbefore,,4364\nbefore,,4365\nafter,,4364.5\nafter,,4365\nafter,,4364\nafter,,4365.5\nride,,,\npiece,,95000,49600\nmark,1 km,5920,\nride,,,\npiece,,54620,\n"
	s, err := Read("sheet.csv", strings.NewReader(sheet))
	if err != nil {
		t.Fatal(err)
	}
	csv, err := s.Work()
	if err != nil {
		t.Fatal(err)
	}
	a, b := fmt.Sprintf("%+v", toml.Ledger()), fmt.Sprintf("%+v", csv.Ledger())
	if a != b {
		t.Errorf("ledgers differ:\n%s\n%s", a, b)
	}
	for _, separator := range []string{";", "\t"} {
		s, err := Read("sheet.csv", strings.NewReader("# measured with one bicycle, on a dry day\n"+strings.ReplaceAll(sheet, ",", separator)))
		if err != nil {
			t.Fatalf("separated by %q: %v", separator, err)
		}
		other, err := s.Work()
		if err != nil {
			t.Fatalf("separated by %q: %v", separator, err)
		}
		if c := fmt.Sprintf("%+v", other.Ledger()); a != c {
			t.Errorf("separated by %q the ledgers differ:\n%s\n%s", separator, a, c)
		}
	}
	if len(csv.Marks) != 1 || csv.Marks[0].Counted != toml.Marks[0].Counted {
		t.Errorf("marks differ: %+v and %+v", toml.Marks, csv.Marks)
	}
}

func TestBadCSVSaysWhere(t *testing.T) {
	for _, c := range []struct {
		name, sheet string
		line        int
		want        string
	}{
		{"no heading", "set,title,x\n", 1, "heading"},
		{"empty", "", 1, "empty"},
		{"unknown kind", "kind,name,from,to\nfoo,,1,2\n", 2, "no kind of row"},
		{"unknown key", "kind,name,from,to\nset,course.lenght,5 km,\n", 2, "unknown key"},
		{"piece before ride", "kind,name,from,to\nsession,,,\npiece,,1,2\n", 3, "needs a ride row"},
		{"bad number", "kind,name,from,to\nsession,,,\nbefore,,1e5,2\n", 3, "not a number"},
		{"calibration rides far apart", "kind,name,from,to\nset,calibration.length,400 m,\nsession,,,\nbefore,,4364,\nbefore,,3464,\n", 5, "more than a tenth"},
		{"decimal commas", "kind,name,from,to\nsession,,,\nbefore,,1,5,2,5\n", 3, "decimal points"},
		{"Latin-1", "kind,name,from,to\nset,title,Stra\xdfe,\n", 2, "not UTF-8 text (save it as UTF-8)"},
		{"UTF-16", "\xff\xfek\x00i\x00", 0, "UTF-16 text (save it as UTF-8)"},
		{"short row", "kind,name,from,to\nset\n", 2, "unknown key"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read("s.csv", strings.NewReader(c.sheet))
			var e *inputerr.Error
			if !errors.As(err, &e) || e.Line != c.line || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want line %d and %q", err, c.line, c.want)
			}
		})
	}
}

func TestAHugeSheetIsRefused(t *testing.T) {
	_, err := Read("s.toml", strings.NewReader(strings.Repeat("# padding\n", MaxSheetBytes/10+1)))
	if err == nil || !strings.Contains(err.Error(), "larger than 1 MiB") {
		t.Errorf("got %v", err)
	}
}

func TestTheExampleSheetIsSound(t *testing.T) {
	r := mustWork(t, string(Example))
	if len(r.Warnings) != 0 {
		t.Errorf("warnings: %v", r.Warnings)
	}
	if !r.Agree || r.Adjust == nil || math.Abs(r.Adjust.Metres) > 20 || len(r.Marks) != 2 || len(r.Splits) != 4 {
		t.Errorf("%+v", r)
	}
	for _, m := range r.Marks {
		if !m.Agree || m.Intended == 0 {
			t.Errorf("%+v", m)
		}
	}
}

func TestASingleCalibrationRideIsNotCalledAMean(t *testing.T) {
	var names []string
	for _, line := range work(t, "a-lesson-4-with-factor.toml").Ledger() {
		names = append(names, line.Label)
	}
	if all := strings.Join(names, "\n"); !strings.Contains(all, "one ride before") || strings.Contains(all, "1 rides") {
		t.Errorf("the ledger has\n%s", all)
	}
}
