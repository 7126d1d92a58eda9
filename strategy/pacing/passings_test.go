package pacing

import (
	"errors"
	"math"
	"sort"
	"strings"
	"testing"
	"time"

	"tautline/geo/gpxfile"
	"tautline/geo/heights"
	"tautline/geo/record"
	"tautline/geo/simulate"
	"tautline/geo/track"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/review"
	"tautline/strategy/sheet"
)

// pausedRun is a simulated race at a steady speed with one stop.
type pausedRun struct {
	r     *race.Race
	c     *plan.Course
	v     *review.Review
	truth simulate.Truth
	speed float64
}

const (
	pausedAt  = 0.37 // of the line
	pausedFor = 75   // s
)

func paused(t *testing.T, seed uint64, env simulate.Environment, change func([]track.Fix) []track.Fix) pausedRun {
	t.Helper()
	rng := simulate.Rand(seed, 5)
	drawn := simulate.RandomCourse(simulate.Mixed, 10000, rng)
	r, err := race.Prepare("course", &gpxfile.File{Lines: []track.Line{{Segments: [][]track.Fix{drawn.Fixes()}}}},
		&sheet.Sheet{Road: sheet.Road{Width: &drawn.Width, CornerRadius: &drawn.CornerRadius}})
	if err != nil {
		t.Fatal(err)
	}
	runner := simulate.Runner{ApexMiss: 1, ApexSpread: 0.5, WeaveSD: 0.3, WeaveLength: 30, DriftSD: 0.5, DriftLength: 200, Speed: 3.6,
		LeadIn: simulate.Walk{Distance: 20, Wait: 40}, RunOut: simulate.Walk{Distance: 15, Wait: 5}}
	truth, err := runner.Run(simulate.Along(r.Road, r.Line), rng)
	if err != nil {
		t.Fatal(err)
	}
	rec := env.Record(truth, simulate.Options{Plane: r.Course.Plane, Decimals: 7, Began: time.Date(2026, 5, 3, 9, 0, 0, 0, time.UTC)}, rng)
	// The runner stops once; the receiver goes on writing.
	stop := crossing(truth, pausedAt*r.Line.Length)
	var fixes []track.Fix
	for i, f := range rec.Fixes {
		if rec.Times[i] < stop {
			fixes = append(fixes, f)
			continue
		}
		if i > 0 && rec.Times[i-1] < stop {
			for k := range pausedFor {
				still := f
				still.Time = f.Time.Add(time.Duration(k) * time.Second)
				fixes = append(fixes, still)
			}
		}
		f.Time = f.Time.Add(pausedFor * time.Second)
		fixes = append(fixes, f)
	}
	if change != nil {
		fixes = change(fixes)
	}
	v, err := review.Of(r, record.Clean(track.Line{Segments: [][]track.Fix{fixes}}), review.Options{})
	if err != nil {
		t.Fatal(err)
	}
	route, _ := plan.FromRace(r, nil)
	return pausedRun{r, must(plan.NewCourse(route))(t), v, truth, runner.Speed}
}

// crossing is when a place along the line is first reached, s.
func crossing(truth simulate.Truth, along float64) float64 {
	return truth.Times[sort.SearchFloat64s(truth.Along, along)]
}

func TestMarksArePassedWhenTheyWere(t *testing.T) {
	for _, env := range []simulate.Environment{simulate.OpenRoad(), simulate.TreeLined(), simulate.MidRise()} {
		var sum float64
		n := 0
		for seed := range uint64(4) {
			p := paused(t, seed, env, nil)
			marks := must(plan.Every(quantity.Kilometre, quantity.Kilometre, "km", p.c.Official))(t)
			race, notes, err := passings(p.r, p.c, p.v, marks)
			if err != nil || len(notes) > 0 {
				t.Fatalf("seed %d: %v %q", seed, err, notes)
			}
			var stood float64
			for _, q := range race {
				along := q.At / p.c.Official * p.r.Line.Length
				want := crossing(p.truth, math.Min(along, p.r.Line.Length-0.01))
				if along > pausedAt*p.r.Line.Length {
					want += pausedFor
				}
				off := q.Elapsed - want
				sum += off * off
				n++
				if math.Abs(off) > 10 {
					t.Errorf("seed %d: %s is passed after %.1f s, in truth %.1f s", seed, q.Name, q.Elapsed, want)
				}
				stood += q.Stopped
			}
			if last := race[len(race)-1]; last.Name != plan.Finish || last.At != p.c.Official {
				t.Errorf("seed %d: the last passing is %+v", seed, last)
			}
			if math.Abs(stood-pausedFor) > 8 {
				t.Errorf("seed %d: stood %.0f s, in truth %d s", seed, stood, pausedFor)
			}
			// A steady runner who stopped spent even effort.
			rv := must(Judge(p.c, plan.Settings{Model: effort.Default(), Extra: ownExtra(p.v)}, race, nil, nil))(t)
			if rv.Unevenness > steady || math.Abs(1/rv.FlatPace/p.speed-1) > 0.015 {
				t.Errorf("seed %d: uneven by %.3f at %.2f m/s, in truth %.2f m/s throughout", seed, rv.Unevenness, 1/rv.FlatPace, p.speed)
			}
		}
		t.Logf("error %.2f s (root mean square of %d marks)", math.Sqrt(sum/float64(n)), n)
		if rms := math.Sqrt(sum / float64(n)); rms > 3 {
			t.Errorf("times at the marks are off by %.1f s", rms)
		}
	}
}

func TestWhatTheRecordDoesNotShowIsNotTimed(t *testing.T) {
	marksOf := func(p pausedRun) []plan.Mark {
		return must(plan.Every(quantity.Kilometre, quantity.Kilometre, "km", p.c.Official))(t)
	}
	untimed := paused(t, 1, simulate.OpenRoad(), func(f []track.Fix) []track.Fix {
		for i := range f {
			f[i].Time = time.Time{}
		}
		return f
	})
	if _, _, err := passings(untimed.r, untimed.c, untimed.v, marksOf(untimed)); !errors.Is(err, errUntimed) {
		t.Errorf("without times: %v", err)
	}
	part := paused(t, 1, simulate.OpenRoad(), func(f []track.Fix) []track.Fix { return f[:len(f)/2] })
	if _, _, err := passings(part.r, part.c, part.v, marksOf(part)); !errors.Is(err, errPart) {
		t.Errorf("half a record: %v", err)
	}
	// Ten minutes without fixes hide two marks.
	hole := paused(t, 1, simulate.OpenRoad(), func(f []track.Fix) []track.Fix { return append(f[:1500:1500], f[2100:]...) })
	race, notes, err := passings(hole.r, hole.c, hole.v, marksOf(hole))
	if err != nil || len(notes) != 1 || len(race) >= len(marksOf(hole)) {
		t.Fatalf("%d passings, %q, %v", len(race), notes, err)
	}
	if _, err := Judge(hole.c, plan.Settings{Model: effort.Default()}, race, nil, nil); err != nil {
		t.Error(err)
	}
}

// The invented runners slow down too little uphill, which splits of a mile hide
// for the most part.
func TestARecordIsAsUnevenInMilesAsInKilometres(t *testing.T) {
	f, err := gpxfile.Open("../demo/files/course.gpx")
	if err != nil {
		t.Fatal(err)
	}
	sh, err := sheet.Open("../demo/files/race.toml")
	if err != nil {
		t.Fatal(err)
	}
	r, err := race.Prepare("course.gpx", f, sh)
	if err != nil {
		t.Fatal(err)
	}
	ground, err := heights.FromCourse(r.Course)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"careful.gpx", "wide.gpx", "poor-watch.gpx"} {
		f, err := gpxfile.Open("../demo/files/" + name)
		if err != nil {
			t.Fatal(err)
		}
		v, _, err := review.OfFile(r, name, f, review.Options{})
		if err != nil {
			t.Fatal(err)
		}
		s := plan.Settings{Model: effort.Default()}
		kilometres, err := Of(r, ground, v, quantity.Metric, s)
		if err != nil {
			t.Fatal(err)
		}
		miles, err := Of(r, ground, v, quantity.Imperial, s)
		if err != nil {
			t.Fatal(err)
		}
		j, m := kilometres.Judgement, miles.Judgement
		if j.EvenGain != m.EvenGain || j.Unevenness != m.Unevenness || j.SecondHalf != m.SecondHalf || j.FlatPace != m.FlatPace {
			t.Errorf("%s: in kilometres %+v, in miles %+v", name, j, m)
		}
		if j.EvenGain.Low < 10 || len(m.Splits) != 7 || m.Splits[0].Mark != "1 mi" {
			t.Errorf("%s: %+v", name, m)
		}
		// Up the hill is the second kilometre of either lap.
		if v := strings.Join(m.Verdict(miles.Units), " "); !strings.Contains(v, "harder than the race as a whole from 0.62 to 1.24 mi") && !strings.Contains(v, "harder than the race as a whole from 3.73 to 4.35 mi") {
			t.Errorf("%s: %q", name, v)
		}
	}
}

func TestAMarkJustBeforeTheFinishIsNoSplit(t *testing.T) {
	p := paused(t, 2, simulate.OpenRoad(), nil)
	marks := []plan.Mark{{Name: "half", At: p.c.Official / 2}, {Name: "almost", At: p.c.Official - 40}, {Name: plan.Finish, At: p.c.Official}}
	race, _, err := passings(p.r, p.c, p.v, marks)
	if err != nil || len(race) != 2 || race[1].Name != plan.Finish {
		t.Errorf("%+v %v", race, err)
	}
}

func TestAfterTheRaceThereIsAsMuchAsCanBeTold(t *testing.T) {
	p := paused(t, 3, simulate.OpenRoad(), nil)
	s := plan.Settings{Model: effort.Default(), Goal: 3000}
	ran, err := Of(p.r, nil, p.v, quantity.Metric, s)
	if err != nil || ran.Judgement == nil || ran.Planned == nil || ran.Planned.Target != 3000 || math.IsNaN(ran.Judgement.Splits[0].Planned) {
		t.Fatalf("%+v %v", ran, err)
	}
	if len(ran.Notes) != 1 || !strings.Contains(ran.Notes[0], "no heights") || ran.Course.HasHeights() {
		t.Errorf("%q", ran.Notes)
	}
	if ran, err = Of(p.r, nil, p.v, quantity.Imperial, plan.Settings{Model: effort.Default()}); err != nil || ran.Planned != nil || ran.Judgement.Splits[0].Mark != "1 mi" {
		t.Errorf("%+v %v", ran, err)
	}
	if _, err := Of(p.r, nil, p.v, quantity.Metric, plan.Settings{Model: effort.Default(), Goal: 60}); err == nil {
		t.Error("10 km in a minute was planned")
	}
	// An official distance that is not this course's: nothing to judge, and an
	// error only when a plan was asked for.
	other := *p.r
	other.Official = 3 * p.r.Line.Length
	if ran, err = Of(&other, nil, p.v, quantity.Metric, plan.Settings{Model: effort.Default()}); err != nil || ran.Judgement != nil || len(ran.Notes) != 1 {
		t.Errorf("%+v %v", ran, err)
	}
	if _, err = Of(&other, nil, p.v, quantity.Metric, s); err == nil {
		t.Error("a plan was made for another course")
	}
}
