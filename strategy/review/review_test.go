package review_test

import (
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"tautline/geo/gpxfile"
	"tautline/geo/record"
	"tautline/geo/simulate"
	"tautline/geo/track"
	"tautline/strategy/demo"
	"tautline/strategy/race"
	"tautline/strategy/review"
	"tautline/strategy/sheet"
)

// lantern lays out the demo race, with changes to its sheet.
func lantern(t testing.TB, change func(*sheet.Sheet)) *race.Race {
	t.Helper()
	b, err := fs.ReadFile(demo.Files(), demo.SheetFile)
	if err != nil {
		t.Fatal(err)
	}
	s, err := sheet.Read(demo.SheetFile, b)
	if err != nil {
		t.Fatal(err)
	}
	s.SetFolder(demo.Files())
	if change != nil {
		change(s)
	}
	r, err := race.Prepare(demo.CourseFile, file(t, demo.CourseFile), s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func file(t testing.TB, name string) *gpxfile.File {
	t.Helper()
	f, err := demo.Files().Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	g, err := gpxfile.Read(name, f)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func recordOf(t testing.TB, name string) record.Record {
	t.Helper()
	line, _, err := file(t, name).Record()
	if err != nil {
		t.Fatal(err)
	}
	return record.Clean(line)
}

func mustReview(t testing.TB, r *race.Race, rec record.Record, o review.Options) *review.Review {
	t.Helper()
	v, err := review.Of(r, rec, o)
	if err != nil {
		t.Fatal(err)
	}
	var sum float64
	for _, i := range v.Ledger {
		sum += i.Metres.Value
		if !(i.Metres.Low <= i.Metres.Value && i.Metres.Value <= i.Metres.High) {
			t.Errorf("%s: %+v is no interval", i.Cause, i.Metres)
		}
		if !strings.HasSuffix(i.Sentence, ".") {
			t.Errorf("%s: %q is no sentence", i.Cause, i.Sentence)
		}
	}
	if math.Abs(v.Start+sum-v.Watch) > 1e-6 {
		t.Errorf("the ledger leads from %.3f to %.3f, but the %s says %.3f", v.Start, v.Start+sum, v.WatchIs, v.Watch)
	}
	return v
}

// The demo's truth comes from the generator that made its records.
func TestTheDemoRunnersAreToldTheTruth(t *testing.T) {
	truth, err := demo.Known()
	if err != nil {
		t.Fatal(err)
	}
	r := lantern(t, nil)
	for _, runner := range truth.Runners {
		t.Run(runner.File, func(t *testing.T) {
			v := mustReview(t, r, recordOf(t, runner.File), review.Options{Watch: runner.WatchM, Doubt: review.UsualDoubt(true, true)})
			if !v.Extra.Holds(runner.ExtraM) {
				t.Errorf("extra %+v does not hold the true %.1f m", v.Extra, runner.ExtraM)
			}
			if !v.Ran.Holds(runner.RanM) {
				t.Errorf("ran %+v does not hold the true %.1f m", v.Ran, runner.RanM)
			}
			if naive := math.Abs(runner.FixesM - runner.RanM); math.Abs(v.Ran.Value-runner.RanM) > naive {
				t.Errorf("ran %.1f is farther from the true %.1f than the sum of the fixes %.1f", v.Ran.Value, runner.RanM, runner.FixesM)
			}
			if math.Abs(v.Seconds-runner.ChipS) > 10 {
				t.Errorf("%.1f s from line to line, truly %.1f", v.Seconds, runner.ChipS)
			}
			if v.Share < 0.97 {
				t.Errorf("matched %.3f of the course", v.Share)
			}
		})
	}
}

func item(v *review.Review, cause string) (review.Item, bool) {
	for _, i := range v.Ledger {
		if i.Cause == cause {
			return i, true
		}
	}
	return review.Item{}, false
}

func TestWhereTheLedgerStarts(t *testing.T) {
	rec := recordOf(t, "careful.gpx")
	for _, c := range []struct {
		name   string
		change func(*sheet.Sheet)
		is     review.Basis
		has    string
		hasNot string
	}{
		{"a certified distance outranks the map", nil, review.Certified, "laid out long", "course against its name"},
		{"an announced one is compared with it", func(s *sheet.Sheet) { s.Certified = false }, review.Announced, "course against its name", "laid out long"},
		{"without one the shortest line is the start", func(s *sheet.Sheet) { s.Certified, s.Official = false, 0 }, review.Line, "turns run wide", "course against its name"},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := mustReview(t, lantern(t, c.change), rec, review.Options{})
			if v.StartIs != c.is {
				t.Errorf("starts from the %q", v.StartIs)
			}
			if _, ok := item(v, c.has); !ok {
				t.Errorf("no item %q", c.has)
			}
			if _, ok := item(v, c.hasNot); ok {
				t.Errorf("an item %q", c.hasNot)
			}
			if v.WatchIs != "record" {
				t.Errorf("ends at the %q although nobody said what the watch showed", v.WatchIs)
			}
		})
	}
}

func TestACertifiedCourseIsLaidOutAThousandthLong(t *testing.T) {
	i, _ := item(mustReview(t, lantern(t, nil), recordOf(t, "careful.gpx"), review.Options{}), "laid out long")
	if i.Metres.Value != 10 || i.Metres.Low != 0 || i.Metres.High != 20 {
		t.Errorf("laid out long: %+v, want 10 m, 0 to 20 (AIMS 2009: a marathon lies between 0 and 84.4 m over)", i.Metres)
	}
}

func TestOddRecords(t *testing.T) {
	r := lantern(t, nil)
	whole := recordOf(t, "careful.gpx")
	n := len(whole.Fixes)
	part := func(from, to int) record.Record {
		return record.Clean(track.Line{Segments: [][]track.Fix{whole.Fixes[from:to]}})
	}
	untimed := make([]track.Fix, n)
	for i, f := range whole.Fixes {
		f.Time = time.Time{}
		untimed[i] = f
	}
	gone := append(append([]track.Fix(nil), whole.Fixes[:n/3]...), whole.Fixes[n/3+120:]...)
	stood := append([]track.Fix(nil), whole.Fixes[:n/2]...)
	for k := range 90 {
		f := whole.Fixes[n/2]
		f.Time = f.Time.Add(time.Duration(k) * time.Second)
		f.At.Lat += 2e-5 * math.Sin(float64(k))
		stood = append(stood, f)
	}
	for _, f := range whole.Fixes[n/2+1:] {
		f.Time = f.Time.Add(90 * time.Second)
		stood = append(stood, f)
	}
	full := mustReview(t, r, whole, review.Options{})
	for _, c := range []struct {
		name   string
		rec    record.Record
		cause  string // that the ledger must have; "" for none
		within float64
	}{
		{"starts at a third of the way", part(n/3, n), "not recorded", 45},
		{"dies after two thirds", part(0, 2*n/3), "not recorded", 45},
		{"has no times", record.Clean(track.Line{Segments: [][]track.Fix{untimed}}), "", 35},
		{"has a gap of two minutes", record.Clean(track.Line{Segments: [][]track.Fix{gone}}), "gaps", 45},
		{"stands for a minute and a half", record.Clean(track.Line{Segments: [][]track.Fix{stood}}), "", 25},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := mustReview(t, r, c.rec, review.Options{})
			if _, ok := item(v, c.cause); c.cause != "" && !ok {
				t.Errorf("no item %q in %+v", c.cause, v.Ledger)
			}
			if d := math.Abs(v.Extra.Value - full.Extra.Value); d > c.within {
				t.Errorf("extra %.1f m, %.1f m of the whole record", v.Extra.Value, full.Extra.Value)
			}
			if i, ok := item(v, "run-out"); ok && i.Metres.Value > 60 {
				t.Errorf("%.0f m of run-out", i.Metres.Value)
			}
		})
	}
}

func TestRecordsOfSomethingElseAreRefused(t *testing.T) {
	r := lantern(t, nil)
	rec := recordOf(t, "careful.gpx")
	away := append([]track.Fix(nil), rec.Fixes...)
	for i := range away {
		away[i].At.Lat += 0.3
	}
	if _, err := review.Of(r, record.Clean(track.Line{Segments: [][]track.Fix{away}}), review.Options{}); err == nil {
		t.Error("a record 33 km away was reviewed")
	}
	if _, err := review.Of(r, record.Record{}, review.Options{}); err == nil {
		t.Error("an empty record was reviewed")
	}
}

func TestACourseAndARecordThatMayHaveChangedPlacesAreTold(t *testing.T) {
	r := *lantern(t, nil)
	rec := recordOf(t, "careful.gpx")
	rec.Timed = false
	for i := range rec.Fixes {
		rec.Fixes[i].Time = time.Time{}
	}
	told := func() bool {
		return slices.ContainsFunc(mustReview(t, &r, rec, review.Options{}).Notes, func(n string) bool { return strings.Contains(n, "changed places") })
	}
	if told() {
		t.Error("told for a course without times")
	}
	if r.Timed = true; !told() {
		t.Error("a record without times on a course with times is not remarked on")
	}
}

func TestARecordPutOnTheCourseIsCalledThat(t *testing.T) {
	const seed = 4
	tr, ok := try(t, row{env: simulate.OpenRoad(), length: 5000, snap: true}, seed)
	if !ok {
		t.Fatalf("seed %d gave no course", seed)
	}
	if !strings.Contains(strings.Join(tr.v.Notes, "; "), "lies on the drawn course") {
		t.Errorf("notes %q", tr.v.Notes)
	}
	if tr.high-tr.low < 50 {
		t.Errorf("extra %.0f to %.0f m, though the record does not show it", tr.low, tr.high)
	}
}

func TestTheWatchMustBeSaidToHaveASumOfItsOwn(t *testing.T) {
	r, rec := lantern(t, nil), recordOf(t, "careful.gpx")
	v := mustReview(t, r, rec, review.Options{Watch: 10080})
	i, ok := item(v, "the watch's own sum")
	if !ok || math.Abs(i.Metres.Value-(10080-v.Recorded)) > 1e-9 {
		t.Errorf("own sum %+v of a watch of 10080 m whose fixes are %.1f", i, v.Recorded)
	}
}

func TestMarksFollowEachOther(t *testing.T) {
	v := mustReview(t, lantern(t, nil), recordOf(t, "wide.gpx"), review.Options{Mark: 1609.344})
	if len(v.Marks) != 6 || v.Marks[0].Name != "mile 1" {
		t.Fatalf("marks %+v", v.Marks)
	}
	sum := 0.0
	for _, m := range v.Marks {
		sum += m.Grew
		if math.Abs(sum-m.Ahead) > 1e-9 {
			t.Errorf("%s: %.2f ahead, but grown %.2f", m.Name, m.Ahead, sum)
		}
	}
}

// A doubt of the road widens what depends on it and leaves what was run alone.
func TestADoubtOfTheRoadWidensTheExtra(t *testing.T) {
	r, rec := lantern(t, nil), recordOf(t, "careful.gpx")
	sure := mustReview(t, r, rec, review.Options{})
	unsure := mustReview(t, r, rec, review.Options{Doubt: review.UsualDoubt(false, false)})
	if unsure.Extra.Width() <= sure.Extra.Width() || unsure.Extra.Value != sure.Extra.Value {
		t.Errorf("extra %+v with a doubt, %+v without", unsure.Extra, sure.Extra)
	}
	if unsure.Ran != sure.Ran {
		t.Errorf("ran %+v with a doubt, %+v without", unsure.Ran, sure.Ran)
	}
}

// A small part of the score, so that a change that spoils it is seen: records
// whose seeds are their own, on courses of every kind.
func TestTheExtraDistanceIsToldAsWellAsBefore(t *testing.T) {
	for _, c := range []struct {
		name       string
		row        row
		rmse       float64 // % of the course, with room over what was measured
		leastHeld  int
		cases      uint64
		betterThan float64 // the sum of the fixes, times
	}{
		{"open road at 1 s", row{env: simulate.OpenRoad(), length: 6000}, 0.15, 9, 12, 1.5},
		{"tree-lined at 1 s", row{env: simulate.TreeLined(), length: 6000}, 0.4, 9, 12, 1.5},
		{"canyon at 1 s", row{env: simulate.Canyon(), length: 6000}, 2.4, 8, 12, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			const seed = 700
			var n, se, ne float64
			held := 0
			for k := range c.cases {
				tr, ok := try(t, c.row, seed+k)
				if !ok {
					continue
				}
				n++
				se += math.Pow((tr.extra-tr.truth)/tr.length*100, 2)
				ne += math.Pow(tr.naive/tr.length*100, 2)
				if tr.low <= tr.truth && tr.truth <= tr.high {
					held++
				}
			}
			rmse, naive := math.Sqrt(se/n), math.Sqrt(ne/n)
			t.Logf("seeds %d to %d: RMSE %.3f %%, held %d of %.0f, the sum of the fixes %.3f %%", seed, seed+c.cases-1, rmse, held, n, naive)
			if n < float64(c.cases)-1 || rmse > c.rmse || held < c.leastHeld || rmse*c.betterThan > naive {
				t.Error("worse than it was")
			}
		})
	}
}

// A runner leaves the course at a right angle and comes back the same way: the
// metres of it are known.
func TestADetourIsToldAsLongAsItWas(t *testing.T) {
	r := lantern(t, nil)
	whole := recordOf(t, "careful.gpx")
	full := mustReview(t, r, whole, review.Options{})
	n := len(whole.Fixes)
	for _, c := range []struct {
		at, side float64 // share of the record, m to the side
	}{{0.2, 60}, {0.35, 145.5}, {0.5, -100}, {0.62, 145.5}, {0.8, -250}} {
		t.Run(fmt.Sprintf("%g m aside after %g of the way", c.side, c.at), func(t *testing.T) {
			i := int(c.at * float64(n))
			plane := r.Course.Plane
			p, q := plane.To(whole.Fixes[i-5].At), plane.To(whole.Fixes[i+5].At)
			long := math.Hypot(q[0]-p[0], q[1]-p[1])
			left := orb.Point{-(q[1] - p[1]) / long, (q[0] - p[0]) / long}
			fixes := append([]track.Fix(nil), whole.Fixes[:i+1]...)
			o := plane.To(whole.Fixes[i].At)
			const speed = 3.0
			seconds := int(2 * math.Abs(c.side) / speed)
			for k := 1; k <= seconds; k++ {
				out := math.Min(speed*float64(k), 2*math.Abs(c.side)-speed*float64(k))
				f := whole.Fixes[i]
				f.Time = f.Time.Add(time.Duration(k) * time.Second)
				d := math.Copysign(out, c.side)
				f.At = plane.From(orb.Point{o[0] + d*left[0], o[1] + d*left[1]})
				fixes = append(fixes, f)
			}
			for _, f := range whole.Fixes[i+1:] {
				f.Time = f.Time.Add(time.Duration(seconds) * time.Second)
				fixes = append(fixes, f)
			}
			v := mustReview(t, r, record.Clean(track.Line{Segments: [][]track.Fix{fixes}}), review.Options{})
			off, _ := item(v, "off the course")
			truth := full.Extra.Value + 2*math.Abs(c.side)
			t.Logf("off the course %+v, extra %+v, true %.0f", off.Metres, v.Extra, truth)
			if truth < v.Extra.Low || truth > v.Extra.High {
				t.Errorf("extra %.0f m (%.0f to %.0f), true %.0f m", v.Extra.Value, v.Extra.Low, v.Extra.High, truth)
			}
			if math.Abs(off.Metres.Value-2*math.Abs(c.side)) > 0.05*2*math.Abs(c.side)+6 {
				t.Errorf("%.0f m off the course, %.0f m were run", off.Metres.Value, 2*math.Abs(c.side))
			}
		})
	}
}
