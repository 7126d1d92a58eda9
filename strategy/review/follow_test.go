package review_test

import (
	"math"
	"sort"
	"testing"
	"time"

	"tautline/geo/follow"
	"tautline/geo/simulate"
)

// Records of every environment, with filters that lag and swing, on courses
// that use their streets several times: every fix must be found on the right
// leg, at about the place where the runner truly was.
func TestSimulatedRecordsAreFollowedOnEveryKindOfCourse(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	const seed = 606
	for i, kind := range simulate.Kinds() {
		for j, e := range []simulate.Environment{simulate.TreeLined(), simulate.MidRise(), simulate.Canyon()} {
			rng := simulate.Rand(seed+uint64(10*i+j), 3)
			c := simulate.RandomCourse(kind, 5000, rng)
			r, err := raceOn(c.Fixes(), c.Width, c.CornerRadius)
			if err != nil {
				t.Fatalf("%v course: %v", kind, err)
			}
			truth, err := simulate.Runner{ApexMiss: 2, WeaveSD: 0.4, WeaveLength: 30, DriftSD: 1, DriftLength: 200, Speed: 3.3,
				LeadIn: simulate.Walk{Distance: 20, Wait: 30, Speed: 2}, RunOut: simulate.Walk{Distance: 30, Speed: 2}}.Run(simulate.Along(r.Road, r.Line), rng)
			if err != nil {
				t.Fatal(err)
			}
			for _, o := range []struct {
				name string
				opt  simulate.Options
				off  float64 // m that a fix may be from where the runner was
			}{
				{"every second", simulate.Options{}, 40},
				{"every 5 s", simulate.Options{Every: 5}, 40},
				{"a slow filter", simulate.Options{Filter: simulate.Kalman(0.1, 3)}, 50},
			} {
				o.opt.Plane, o.opt.Began = r.Course.Plane, time.Date(2026, 9, 20, 9, 0, 0, 0, time.UTC)
				rec := e.Record(truth, o.opt, rng)
				fixes := make([]follow.Fix, len(rec.Points))
				for k, p := range rec.Points {
					fixes[k] = follow.Fix{P: p, T: rec.Times[k]}
				}
				m, err := follow.Along(r.Course, fixes, follow.Options{StartAt: r.Road.StartAt, FinishAt: r.Road.FinishAt, HalfWidth: math.Max(c.Width/2, 3)})
				if err != nil {
					t.Fatal(err)
				}
				share := 0.97
				if j == 2 { // reflections in the canyon throw whole minutes of fixes that far themselves
					o.off, share = 2*o.off, 0.94
				}
				var on, wrong, all int
				for k, at := range m.At {
					x := sort.SearchFloat64s(truth.Times, rec.Times[k])
					if rec.Times[k] < 0 || x >= len(truth.Times) || truth.Along[x] >= r.Line.Length {
						continue
					}
					all++
					if math.IsNaN(at) {
						continue
					}
					on++
					n := max(1, min(sort.SearchFloat64s(r.Line.Along, truth.Along[x]), len(r.Line.At)-1))
					f := (truth.Along[x] - r.Line.Along[n-1]) / math.Max(r.Line.Along[n]-r.Line.Along[n-1], 1e-9)
					if truly := r.Line.At[n-1] + f*(r.Line.At[n]-r.Line.At[n-1]); math.Abs(at-truly) > o.off {
						wrong++
					}
				}
				if m.Share < share || float64(on) < 0.94*float64(all) || float64(wrong) > 0.01*float64(on) {
					t.Errorf("seed %d: %v course, environment %d, %s: %d of %d fixes on the course, %d of them more than %.0f m from their place, share %.3f",
						seed+10*i+j, kind, j, o.name, on, all, wrong, o.off, m.Share)
				}
			}
		}
	}
}
