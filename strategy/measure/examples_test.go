package measure

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tautline/geo/published"
	"tautline/strategy/quantity"
)

// work reads and works out a sheet of testdata/measure.
func work(t *testing.T, name string) *Result {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "measure", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	s, err := Read(name, f)
	if err != nil {
		t.Fatal(err)
	}
	r, err := s.Work()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// against compares with the figures of a source as they are printed there.
func against(source string, trust published.Trust) func(t *testing.T, what, unit string, got float64, want string) {
	return func(t *testing.T, what, unit string, got float64, want string) {
		t.Helper()
		f := published.Figure{Source: source, Trust: trust, What: what, Unit: unit, Value: want}
		if name, ok := strings.CutSuffix(what, " (derived)"); ok {
			f.What, f.Trust = name, published.Derived
		}
		published.Check(t, f, got)
	}
}

// Lessons 3 and 4 of the Association of UK Course Measurers (read there).
func TestLessons3And4AreReproduced(t *testing.T) {
	prints := against("Association of UK Course Measurers, lesson 3", published.Read)
	r := work(t, "a-lesson-3-without-factor.toml")
	d := r.Sessions[0]
	prints(t, "pre constant", "counts/m", d.Before.Constant, "0.52321")
	prints(t, "post constant", "counts/m", d.After.Constant, "0.52284")
	prints(t, "constant used", "counts/m", d.Day, "0.52321")
	prints(t, "length", "m", r.Counted, "9988.3")
	prints(t, "metres to add", "m", r.Adjust.Metres, "11.7")
	prints(t, "turns to add", "turns", r.Adjust.Counts, "6.10")
	// The lesson prints 6.12 turns: it takes the rounded 11.7 m.
	prints(t, "turns for the printed metres", "turns", 11.7*d.Day, "6.12")
	prints(t, "length without rounding the constant (derived)", "m", r.Unrounded, "9988.38")

	prints = against("Association of UK Course Measurers, lesson 4", published.Read)
	f := work(t, "a-lesson-4-with-factor.toml")
	d = f.Sessions[0]
	prints(t, "pre constant", "counts/m", d.Before.Constant, "0.52373")
	prints(t, "post constant", "counts/m", d.After.Constant, "0.52336")
	prints(t, "length", "m", f.Counted, "9978.4")
	prints(t, "metres to add", "m", f.Adjust.Metres, "21.6")
	prints(t, "what the factor added, by the printed metres", "m", math.Round(f.Adjust.Metres*10)/10-math.Round(r.Adjust.Metres*10)/10, "9.9")
}

// Lesson 10 of the Association of UK Course Measurers (read there).
func TestLesson10IsReproducedWithItsRoundedConstantOnly(t *testing.T) {
	prints := against("Association of UK Course Measurers, lesson 10", published.Read)
	r := work(t, "b-lesson-10-laps.toml")
	d := r.Sessions[0]
	prints(t, "mean before", "counts", d.Before.Mean, "5608.5")
	prints(t, "mean after", "counts", d.After.Mean, "5610.25")
	prints(t, "pre constant", "counts/km", d.Before.Constant*1000, "11238")
	prints(t, "post constant", "counts/km", d.After.Constant*1000, "11242")
	prints(t, "constant for the day", "counts/km", d.Day*1000, "11242")
	w := r.Rides[0]
	prints(t, "counts of the lap", "counts", w.Counts, "118127")
	if w.Rounds != 1 {
		t.Errorf("the counter went round %d times, published once", w.Rounds)
	}
	// The lesson prints 10.5077, which 10.50765 gives when it is rounded once
	// more; 118127 / 11242 is 10.5076499.
	prints(t, "lap", "km", w.Length/2000, "10.50765")
	prints(t, "two laps", "km", w.Length/1000, "21.0153")
	prints(t, "missing", "m", r.Adjust.Metres, "82.2")
	prints(t, "missing with the unrounded constant (derived)", "m", quantity.HalfMarathon-r.Unrounded, "81.9")
}

// Completed data sheet of a two-mile race, 31 July 2010 (read there).
func TestDataSheetOf2010IsReproduced(t *testing.T) {
	prints := against("USA Track & Field, completed data sheet of 2010", published.Read)
	r := work(t, "c-data-sheet-2010.toml")
	d := r.Sessions[0]
	prints(t, "mean before", "counts", d.Before.Mean, "4537.625")
	prints(t, "mean after", "counts", d.After.Mean, "4535.625")
	prints(t, "working constant", "counts/mile", d.Before.Constant*quantity.Mile, "18168.65")
	prints(t, "finish constant", "counts/mile", d.After.Constant*quantity.Mile, "18160.64")
	prints(t, "constant for the day", "counts/mile", d.Day*quantity.Mile, "18168.65")
	prints(t, "change per degree (derived)", "counts/km/°C", d.PerDeg, "-1.79")
}

// Lesson 6: question read, answer derived in the reference notes.
func TestLesson6IsReproducedFromCSV(t *testing.T) {
	prints := against("Association of UK Course Measurers, lesson 6", published.Derived)
	r := work(t, "d-lesson-6-wrap.csv")
	b := r.Sessions[0].Before
	for i, want := range []float64{7105, 7106.5, 7104.5, 7107} {
		if b.Gains[i] != want {
			t.Errorf("ride %d gains %v counts, want %v", i+1, b.Gains[i], want)
		}
	}
	prints(t, "mean", "counts", b.Mean, "7105.75")
	prints(t, "counts/km", "counts/km", 1000*b.Constant/r.Rules.Factor, "10892.71")
	prints(t, "counts/km with the factor", "counts/km", 1000*b.Constant, "10903.60")
}

// A track marathon certified as 105.5 laps and 11.15 m (bulletin board,
// Sandford, second-hand). The published lap lengths give 11.14 m: the
// certificate is a centimetre on the long side.
func TestTrackMarathonComesWithinACentimetreOfItsCertificate(t *testing.T) {
	prints := against("track marathon by tape, measurers' bulletin board, Sandford", published.SecondHand)
	r := work(t, "e-track-marathon.toml")
	prints(t, "laps", "laps", r.Laps.Laps, "105.5")
	prints(t, "remainder (derived)", "m", r.Laps.Remainder, "11.14")
	published.Check(t, published.Figure{Source: "track marathon by tape, measurers' bulletin board, Sandford", Trust: published.SecondHand,
		What: "remainder as certified", Unit: "m", Value: "11.15", Tolerance: 0.0101}, r.Laps.Remainder)
}

// Tape corrections (bulletin board, Riegel, second-hand).
func TestTapeCorrectionsAreReproduced(t *testing.T) {
	prints := against("tape corrections, measurers' bulletin board, Riegel", published.SecondHand)
	hot := work(t, "f-tape-hot.toml").Tape
	prints(t, "factor at 80 F", "", hot.Factor, "1.0000774")
	prints(t, "length", "ft", hot.Length/quantity.Foot, "1000.067")
	prints(t, "shorten by", "ft", -hot.Lengthen/quantity.Foot, "0.067")
	cool := work(t, "f-tape-cool.toml").Tape
	prints(t, "factor at 60 F", "", cool.Factor, "0.9999484")
	prints(t, "length", "ft", cool.Length/quantity.Foot, "999.938")
	prints(t, "lengthen by", "ft", cool.Lengthen/quantity.Foot, "0.062")
	checked := work(t, "f-tape-checked.toml").Tape
	prints(t, "raw", "m", checked.MeanRaw, "304.8082") // printed from 304.80815
	prints(t, "factor at 42 F", "", checked.Factor, "0.999832")
	prints(t, "length by a true tape", "m", checked.MeanRaw*checked.Factor, "304.757")
	prints(t, "scale of the tape", "", checked.TapeScale, "1.000316")
	prints(t, "length", "m", checked.Length, "304.8533")
	prints(t, "length", "ft", checked.Length/quantity.Foot, "1000.175")
	prints(t, "over", "ft", -checked.Lengthen/quantity.Foot, "0.175")
}

// The UK introductory test: data read, answers derived in the reference notes.
func TestIntroductoryTestIsReproduced(t *testing.T) {
	prints := against("Association of UK Course Measurers, introductory test", published.Derived)
	for _, c := range []struct{ file, pre, post, larger, average, perMile string }{
		{"g-set-1-1.toml", "10921.22", "10922.79", "10922.79", "10922.00", "17576.00"},
		{"g-set-1-2.toml", "10921.13", "10922.39", "10922.39", "10921.76", "17575.86"},
		{"g-set-1-3.toml", "11381.53", "11379.98", "11381.53", "11380.75", "18316.80"},
		{"g-set-3.toml", "9837.10", "9836.34", "9837.10", "9836.72", ""},
	} {
		r := work(t, c.file)
		d := r.Sessions[0]
		set := strings.NewReplacer("g-set-", "set ", "-", ".", ".toml", "").Replace(c.file)
		prints(t, set+", pre", "counts/km", 1000*d.Before.Constant, c.pre)
		prints(t, set+", post", "counts/km", 1000*d.After.Constant, c.post)
		prints(t, set+", larger", "counts/km", 1000*d.Larger, c.larger)
		prints(t, set+", average", "counts/km", 1000*d.Average, c.average)
		if c.perMile != "" {
			prints(t, set+", pre", "counts/mile", quantity.Mile*d.Before.Constant, c.perMile)
		}
	}
	r := work(t, "g-set-3.toml")
	w := r.Rides[0]
	if w.Rounds != 3 || w.Counts != 241162 {
		t.Errorf("the course is %v counts with %d rounds of the counter, want 241162 with 3", w.Counts, w.Rounds)
	}
	prints(t, "length", "km", w.Length/1000, "24.51556")
	prints(t, "yards beyond 15 miles", "yd", (w.Length-15*quantity.Mile)/quantity.Yard, "410.5")
	prints(t, "metres to add", "m", r.Adjust.Metres, "484.4")
}

func TestEverySheetOfTheTestdataIsReadAndNamesItsSource(t *testing.T) {
	for _, pattern := range []string{"*.toml", "*.csv"} {
		names, err := filepath.Glob(filepath.Join("..", "..", "testdata", "measure", pattern))
		if err != nil || len(names) == 0 {
			t.Fatalf("no sheets match %s: %v", pattern, err)
		}
		for _, n := range names {
			r := work(t, filepath.Base(n))
			if r.Source == "" {
				t.Errorf("%s names no source", n)
			}
			if len(r.Ledger()) == 0 {
				t.Errorf("%s has an empty ledger", n)
			}
		}
	}
}
