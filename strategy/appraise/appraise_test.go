package appraise_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/interval"
	"tautline/geo/track"
	"tautline/strategy/adjust"
	"tautline/strategy/appraise"
	"tautline/strategy/measure"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// prepare is the race on a course drawn through points: metres east and north,
// and a height.
func prepare(t testing.TB, text string, points ...[3]float64) *race.Race {
	t.Helper()
	p := earth.NewPlane(earth.LatLon{Lat: 47, Lon: -29})
	var fixes []track.Fix
	for _, q := range points {
		fixes = append(fixes, track.Fix{At: p.From([2]float64{q[0], q[1]}), Height: q[2]})
	}
	s, err := sheet.Read("race.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	r, err := race.Prepare("course.gpx", &gpxfile.File{Lines: []track.Line{{Name: "Two Corners", Segments: [][]track.Fix{fixes}}}}, s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func corners(t testing.TB, text string) *race.Race {
	return prepare(t, text, [3]float64{0, 0, 20}, [3]float64{500, 0, 20}, [3]float64{500, 500, 18})
}

func of(t testing.TB, r *race.Race, o appraise.Options) *appraise.Appraisal {
	t.Helper()
	a, err := appraise.Of(r, o, appraise.Silent)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestTheLineIsComparedWithWhatIsKnownBest(t *testing.T) {
	measured := &measure.Result{Ground: interval.Estimate{Value: 991, Low: 990, High: 992}, Adjust: &measure.Adjustment{Ground: -7}}
	four := 4.0
	for _, c := range []struct {
		name      string
		sheet     string
		o         appraise.Options
		compared  *interval.Estimate
		announced bool
		add       float64
	}{
		{"nothing without any length", "", appraise.Options{}, nil, false, math.NaN()},
		{"an announced distance as it stands", "official = \"990 m\"\n", appraise.Options{}, &interval.Estimate{Value: 990, Low: 990, High: 990}, true, math.NaN()},
		// Laid out 0.1 % long, and 0 to 0.2 % long in truth: AIMS, The Long Run, 2009.
		{"a certified one a thousandth long", "official = \"1000 m\"\ncertified = true\n", appraise.Options{}, &interval.Estimate{Value: 1001, Low: 1000, High: 1002}, true, math.NaN()},
		{"a measurement before an announced distance, with the metres it asks for", "official = \"1000 m\"\n", appraise.Options{Measured: measured}, &measured.Ground, false, -7},
		{"metres that are asked for before those of the measurement", "", appraise.Options{Measured: measured, Add: &four}, &measured.Ground, false, 4},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := of(t, corners(t, c.sheet), c.o)
			switch {
			case (a.Compared == nil) != (c.compared == nil):
				t.Fatalf("comparison %v, want %v", a.Compared, c.compared)
			case c.compared != nil && math.Abs(a.Compared.Measured.Value-c.compared.Value)+math.Abs(a.Compared.Measured.Low-c.compared.Low)+math.Abs(a.Compared.Measured.High-c.compared.High) > 1e-9:
				t.Errorf("compared with %v, want %v", a.Compared.Measured, *c.compared)
			}
			if a.Announced != c.announced {
				t.Errorf("announced: %v", a.Announced)
			}
			if a.Add != c.add && !(math.IsNaN(a.Add) && math.IsNaN(c.add)) {
				t.Errorf("%v m to add, want %v", a.Add, c.add)
			}
			if (len(a.Options) > 0) != !math.IsNaN(c.add) {
				t.Errorf("%d places to move for %v m", len(a.Options), c.add)
			}
		})
	}
}

func TestALineThatWasMeasuredHasNoDoubtOfTheMap(t *testing.T) {
	r := corners(t, "course_is = \"line\"\n")
	a := of(t, r, appraise.UsualOptions())
	if a.Certainty != nil || a.Worths != nil {
		t.Error("a road was doubted that has no bearing on the line")
	}
	if len(a.Notes) != 1 || a.Notes[0] != adjust.ErrLineGiven.Error() {
		t.Errorf("notes %q", a.Notes)
	}
}

// The course drops by 2 m in 1000; the 90 % interval of a difference of two
// heights that may each be 1 m wrong is at least 1 m to either side.
func TestDropIsThatOfTheDrawnHeights(t *testing.T) {
	r := corners(t, "official = \"1000 m\"\n")
	o := appraise.UsualOptions()
	o.HeightError, o.RecordAt = 1, []float64{500}
	a := of(t, r, o)
	if math.Abs(a.Figures.Drop.Value-2) > 0.1 || a.Figures.Drop.Low > 1 || a.Figures.Drop.High < 3 {
		t.Errorf("drop %v", a.Figures.Drop)
	}
	if len(a.OnTheWay) != 1 || a.OnTheWay[0].To != 500 || math.Abs(a.OnTheWay[0].Figures.Drop.Value) > 0.2 {
		t.Errorf("on the way %+v", a.OnTheWay)
	}
	for _, to := range []float64{-1, 0, 5000, math.NaN()} {
		o.RecordAt = []float64{to}
		if _, err := appraise.Of(r, o, appraise.Silent); err == nil {
			t.Errorf("records at %v m were taken", to)
		}
	}
}

func TestATurnAroundDrawnWithSeveralPointsIsSaidNotToMove(t *testing.T) {
	r := prepare(t, "", [3]float64{0, 0, 0}, [3]float64{500, 0, 0}, [3]float64{506, 3, 0}, [3]float64{506, 9, 0}, [3]float64{500, 12, 0}, [3]float64{0, 12, 0})
	ten := 10.0
	o := appraise.UsualOptions()
	o.Add = &ten
	a := of(t, r, o)
	found := false
	for _, n := range a.Notes {
		found = found || strings.HasPrefix(n, "1 turn-around is drawn with several points")
	}
	if !found {
		t.Errorf("notes %q, places %v", a.Notes, a.Options)
	}
}

// Cones that keep runners on the right half before a left-hand corner are taken
// away on the day: what the runners gain.
func Example() {
	fixed := corners(&testing.B{}, "[[stretch]]\nfrom = \"300 m\"\nto = \"700 m\"\nuse = \"right half\"\n")
	o := appraise.UsualOptions()
	o.Changed = corners(&testing.B{}, "")
	a, err := appraise.Of(fixed, o, appraise.Silent)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, w := range a.Worths {
		fmt.Printf("%s %d is worth %.1f m\n", w.Item, w.Index+1, w.Metres)
	}
	fmt.Printf("on the day the line changes by %.1f m\n", a.Change.Metres)
	// Output:
	// stretch 1 is worth 10.0 m
	// on the day the line changes by -10.0 m
}
