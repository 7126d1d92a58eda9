package follow

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/golang/geo/s2"
	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"tautline/geo/course"
	"tautline/geo/inputerr"
)

// TestModelFormulas holds the costs against the log likelihoods of Newson &
// Krumm (2009), computed by hand from their two formulas.
func TestModelFormulas(t *testing.T) {
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 5e-7*math.Max(1, math.Abs(want)) {
			t.Errorf("%s is %.7f, want %.7f", what, got, want)
		}
	}
	if got := sigmaOf(2.745); math.Abs(got-4.0697) > 5e-5 {
		t.Errorf("sigma of a median of 2.745 m is %.5f, want 4.0697", got)
	}
	const sigma, beta = 4.07, 3.0
	near("log emission at 5 m", -emission{sigma}.cost(5)-math.Log(math.Sqrt(2*math.Pi)*sigma), -3.077189)
	exact := transition{low: 10, mid: 10, high: 10, perMetre: 1 / beta}
	near("log transition 6 m short", -exact.cost(4)-math.Log(beta), -3.098612)
	// Beyond the straight distance every metre left out is charged as well.
	near("log transition 6 m long", -exact.cost(16)+6*skipCost-math.Log(beta), -3.098612)
	// Huber's tail continues the parabola with its slope.
	e := emission{2}
	near("emission at the bend", e.cost(3+1e-9), e.cost(3))
	near("slope of the tail", e.cost(9)-e.cost(8), huberBend/2)
}

// TestNearestPointConfusesLegs runs 1000 m out and back with legs 5 m apart and
// 3 m of white noise: the nearest point takes the wrong leg often, the match
// away from the turn never.
func TestNearestPointConfusesLegs(t *testing.T) {
	c := drawn(every(50, []orb.Point{{0, 0}, {1000, 0}, {1000, 5}, {0, 5}})...)
	r := record(11, 1, 0)
	r.along(c, 0, c.Length(), pace)
	for i := range r.fixes {
		r.fixes[i].P[0] += 3 * r.rng.NormFloat64()
		r.fixes[i].P[1] += 3 * r.rng.NormFloat64()
	}
	m, err := Along(c, r.fixes, Options{})
	if err != nil {
		t.Fatal(err)
	}
	x := newIndex(c.Points, c.Chainage)
	nearest, followed := 0, 0
	for i, s := range r.truth {
		if math.Abs(s-1002.5) < 30 {
			continue
		}
		feet := x.feet(x.near(r.fixes[i].P), r.fixes[i].P, 64, nil)
		best := slices.MinFunc(feet, func(a, b foot) int {
			if a.d < b.d {
				return -1
			}
			return 1
		})
		if math.Abs(best.s-s) > 30 {
			nearest++
		}
		if !(math.Abs(m.At[i]-s) <= 30) {
			followed++
		}
	}
	if nearest < 50 || followed > 0 {
		t.Errorf("%d fixes nearest to the wrong leg, want many; %d followed wrongly, want none", nearest, followed)
	}
}

// TestCrossingsOfTheLines holds the times at which the start and finish lines
// were crossed against the truth, for runners who stand behind the line, start
// the watch on it, and stop it late.
func TestCrossingsOfTheLines(t *testing.T) {
	for seed := range uint64(20) {
		const noise = 1.5
		r := record(seed, 1, noise)
		r.stand(oneLap, -20, 200, false).along(oneLap, -20, 0, 1)
		start := r.t
		r.along(oneLap, 0, oneLap.Length(), pace)
		finish := r.t
		r.stand(oneLap, oneLap.Length()+4, 60, false)
		m, err := Along(oneLap, r.fixes, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(m.StartTime-start) <= 8) || !(math.Abs(m.FinishTime-finish) <= 4) {
			t.Errorf("seed %d: start %.1f, want %.1f; finish %.1f, want %.1f", seed, m.StartTime, start, m.FinishTime, finish)
		}
		if i := m.StartIndex; m.StartTime != i*1 {
			t.Errorf("seed %d: index %g and time %g differ at 1 Hz", seed, i, m.StartTime)
		}

		r = record(seed, 1, 4).along(street, 0, street.Length(), pace)
		if m, err = Along(street, r.fixes, Options{}); err != nil {
			t.Fatal(err)
		}
		if !(m.StartTime <= 5) || !(m.FinishTime >= r.t-6) {
			t.Errorf("seed %d: a record from line to line crosses them at %.1f and %.1f of %.1f s", seed, m.StartTime, m.FinishTime, r.t)
		}

		r = record(seed, 1, 4).along(street, 400, 3000, pace)
		if m, err = Along(street, r.fixes, Options{}); err != nil {
			t.Fatal(err)
		}
		if !math.IsNaN(m.StartIndex) || !math.IsNaN(m.FinishTime) {
			t.Errorf("seed %d: a part of the course crosses the lines at %g and %g", seed, m.StartIndex, m.FinishTime)
		}
	}
}

func TestSideOfTheRoad(t *testing.T) {
	// Two metres to the left all the way, round a left and a right corner.
	c := drawn(orb.Point{0, 0}, orb.Point{100, 0}, orb.Point{100, 100}, orb.Point{200, 100})
	way := drawn(orb.Point{0, 2}, orb.Point{98, 2}, orb.Point{98, 102}, orb.Point{200, 102})
	for _, reverse := range []bool{false, true} {
		var fixes []Fix
		for s := 0.0; s <= way.Length(); s += 3 {
			fixes = append(fixes, Fix{way.At(s), s / 3})
		}
		if reverse {
			slices.Reverse(fixes)
			for i := range fixes {
				fixes[i].T = float64(i)
			}
		}
		m, err := Along(c, fixes, Options{})
		if err != nil || m.Reversed != reverse {
			t.Fatal(err, m.Reversed)
		}
		for i, off := range m.Off {
			if off < 1.99 || off > 2*math.Sqrt2+0.01 {
				t.Errorf("fix %d of %d lies %.2f m to the left, want 2 to 2.83", i, len(fixes), off)
			}
		}
		if math.Abs(m.Scatter-sigmaOf(2)) > 1e-6 {
			t.Errorf("scatter %g, want %g", m.Scatter, sigmaOf(2))
		}
	}
}

func TestRecordsOfSomethingElse(t *testing.T) {
	tests := []struct {
		name  string
		way   []orb.Point
		share float64 // at most
		says  string
	}{
		{"another town", []orb.Point{{50_000, 0}, {60_000, 0}}, 0, "not follow the course anywhere"},
		{"a street 200 m to the side", []orb.Point{{0, -200}, {3000, -200}}, 0, "not follow"},
		{"a run that crosses the course twice", []orb.Point{{700, -1500}, {700, 500}, {2500, 500}, {2500, 3000}}, 0.03, ""},
	}
	for _, tt := range tests {
		r := record(5, 1, 4).by(pace, tt.way...)
		m, err := Along(street, r.fixes, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if m.Share > tt.share || len(m.Notes) == 0 || len(m.Missing) == 0 || m.Reversed {
			t.Errorf("%s: share %.3f, reversed %v, missing %v, notes %q", tt.name, m.Share, m.Reversed, m.Missing, m.Notes)
		}
		if !strings.Contains(strings.Join(m.Notes, "; "), tt.says) {
			t.Errorf("%s: notes %q do not say %q", tt.name, m.Notes, tt.says)
		}
	}
}

func TestUnusableInputIsRefused(t *testing.T) {
	ok := []Fix{{orb.Point{0, 0}, 0}, {orb.Point{10, 0}, 3}}
	nan, inf := math.NaN(), math.Inf(1)
	tests := []struct {
		name  string
		fixes []Fix
		o     Options
	}{
		{"no fixes", nil, Options{}},
		{"a position that is not a number", []Fix{{orb.Point{nan, 0}, 0}}, Options{}},
		{"a position beyond any plane", []Fix{{orb.Point{0, -1e9}, 0}}, Options{}},
		{"an endless time", []Fix{{orb.Point{0, 0}, inf}}, Options{}},
		{"lines in the wrong order", ok, Options{StartAt: 2000, FinishAt: 1000}},
		{"a start line behind the course", ok, Options{StartAt: -50}},
		{"a finish line beyond the course", ok, Options{FinishAt: 1e6}},
		{"lines that are not numbers", ok, Options{StartAt: nan}},
		{"a road of negative width", ok, Options{HalfWidth: -1}},
		{"a road of no known width", ok, Options{HalfWidth: nan}},
	}
	for _, tt := range tests {
		m, err := Along(street, tt.fixes, tt.o)
		var in *inputerr.Error
		if m != nil || !errors.As(err, &in) || in.What == "" {
			t.Errorf("%s: got %v, %v", tt.name, m, err)
		}
	}
	if _, err := Along(&course.Course{}, ok, Options{}); !errors.Is(err, course.ErrTooShort) {
		t.Errorf("an empty course gives %v", err)
	}
}

// sound tells what of a match breaks a promise of its type, "" when nothing.
func sound(m *Match, fixes []Fix, o Options) string {
	n := len(fixes)
	if len(m.At) != n || len(m.Off) != n {
		return "a value per fix is missing"
	}
	top := math.Inf(-1)
	matched := 0
	for k := range m.At {
		i := k
		if m.Reversed {
			i = n - 1 - k
		}
		s, d := m.At[i], m.Off[i]
		if math.IsNaN(s) != math.IsNaN(d) {
			return fmt.Sprintf("fix %d has a chainage or an offset but not both", i)
		}
		if math.IsNaN(s) {
			continue
		}
		matched++
		if s < top-m.Back-1e-6 {
			return fmt.Sprintf("fix %d falls from %g to %g, more than %g", i, top, s, m.Back)
		}
		top = math.Max(top, s)
		if math.Abs(d) > reach+6 {
			return fmt.Sprintf("fix %d is matched at %g m", i, d)
		}
	}
	if !(m.Share >= 0 && m.Share <= 1) || m.FixShare != float64(matched)/float64(n) {
		return fmt.Sprintf("share %g, share of fixes %g", m.Share, m.FixShare)
	}
	last := -1
	for _, s := range m.Spans {
		if s.First <= last || s.Last < s.First || s.Last >= n || m.At[s.First] != s.From || m.At[s.Last] != s.To {
			return fmt.Sprintf("span %+v", s)
		}
		last = s.Last
	}
	if (len(m.Spans) == 0) != (matched == 0) {
		return "spans and matched fixes disagree"
	}
	missing := 0.0
	for i, g := range m.Missing {
		if !(g.From < g.To) || g.Why == "" || (i > 0 && g.From < m.Missing[i-1].To) {
			return fmt.Sprintf("gaps %+v", m.Missing)
		}
		missing += g.To - g.From
	}
	if total := o.FinishAt - o.StartAt; missing > (1-m.Share)*total+1e-6*total {
		return fmt.Sprintf("%g m missing with share %g of %g m", missing, m.Share, total)
	}
	for _, x := range []float64{m.StartIndex, m.FinishIndex} {
		if !math.IsNaN(x) && !(x >= 0 && x <= float64(n-1)) {
			return fmt.Sprintf("a line crossed at fix %g of %d", x, n)
		}
	}
	return ""
}

func drawPoint(t *rapid.T, size float64) orb.Point {
	g := rapid.Float64Range(-size, size)
	return orb.Point{g.Draw(t, "x"), g.Draw(t, "y")}
}

// drawCase makes a course of any shape and a record that is partly on it.
func drawCase(t *rapid.T) (*course.Course, []Fix) {
	var points []orb.Point
	for i, n := 0, rapid.IntRange(2, 12).Draw(t, "points"); i < n; i++ {
		p := drawPoint(t, 400)
		if i > 0 && math.Hypot(p[0]-points[i-1][0], p[1]-points[i-1][1]) < 1 {
			p[0] += 5
		}
		points = append(points, p)
	}
	c := drawn(points...)
	r := record(rapid.Uint64().Draw(t, "seed"), 1, rapid.Float64Range(0, 12).Draw(t, "noise"))
	for range rapid.IntRange(1, 5).Draw(t, "parts") {
		a := rapid.Float64Range(-20, c.Length()+20).Draw(t, "from")
		b := rapid.Float64Range(-20, c.Length()+20).Draw(t, "to")
		switch rapid.IntRange(0, 4).Draw(t, "kind") {
		case 0, 1:
			r.along(c, a, b, 4)
		case 2:
			r.by(4, drawPoint(t, 600), drawPoint(t, 600))
		case 3:
			r.stand(c, a, 20, true)
		case 4:
			r.silent(rapid.Float64Range(0, 300).Draw(t, "silence"))
		}
	}
	if len(r.fixes) == 0 {
		r.fix(points[0], 0)
	}
	if rapid.Bool().Draw(t, "no times") {
		for i := range r.fixes {
			r.fixes[i].T = math.NaN()
		}
	}
	return c, r.fixes
}

func TestPromisesHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, fixes := drawCase(t)
		kept := slices.Clone(fixes)
		m, err := Along(c, fixes, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if s := sound(m, fixes, Options{FinishAt: c.Length()}); s != "" {
			t.Fatal(s)
		}
		for i := range kept {
			if kept[i].P != fixes[i].P {
				t.Fatal("the fixes were changed")
			}
		}
	})
}

// TestPlaceAndDirectionDoNotMatter turns and moves course and record together.
func TestPlaceAndDirectionDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0, 2*math.Pi).Draw(t, "angle")
		by := drawPoint(t, 20_000)
		turn := func(p orb.Point) orb.Point {
			return orb.Point{
				p[0]*math.Cos(a) - p[1]*math.Sin(a) + by[0],
				p[0]*math.Sin(a) + p[1]*math.Cos(a) + by[1],
			}
		}
		courses := []*course.Course{outBack, eight, fourLaps, crossing4, hairpins}
		c := courses[rapid.IntRange(0, len(courses)-1).Draw(t, "course")]
		r := record(rapid.Uint64().Draw(t, "seed"), 2, 4)
		r.along(c, 0, 700, pace).by(pace, c.At(700), orb.Point{250, 300}).along(c, 900, c.Length()*0.8, pace)
		moved := &course.Course{Chainage: c.Chainage, Heights: c.Heights}
		for _, p := range c.Points {
			moved.Points = append(moved.Points, turn(p))
		}
		fixes := slices.Clone(r.fixes)
		for i := range fixes {
			fixes[i].P = turn(fixes[i].P)
			fixes[i].T += 1000
		}
		m, err := Along(c, r.fixes, Options{})
		if err != nil {
			t.Fatal(err)
		}
		n, err := Along(moved, fixes, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range m.At {
			if same := math.Abs(m.At[i]-n.At[i]) < 1e-3 && math.Abs(m.Off[i]-n.Off[i]) < 1e-3; !same && !(math.IsNaN(m.At[i]) && math.IsNaN(n.At[i])) {
				t.Fatalf("fix %d is at %g, %g and after moving everything at %g, %g", i, m.At[i], m.Off[i], n.At[i], n.Off[i])
			}
		}
		if math.Abs(m.Share-n.Share) > 1e-6 || len(m.Missing) != len(n.Missing) {
			t.Fatalf("share %g and %g", m.Share, n.Share)
		}
	})
}

// TestIndexFindsEveryLeg compares the chords found near a position with those
// of a spherical index, on a piece of the sphere small enough to be flat.
func TestIndexFindsEveryLeg(t *testing.T) {
	const radius = 6_371_010.0
	onSphere := func(p orb.Point) s2.Point {
		return s2.PointFromLatLng(s2.LatLng{Lat: s1.Angle(p[1] / radius), Lng: s1.Angle(p[0] / radius)})
	}
	for _, c := range []*course.Course{outBack, eight, fourLaps, crossing4, hairpins} {
		x := newIndex(c.Points, c.Chainage)
		var line s2.Polyline
		for _, k := range x.chords {
			line = append(line, onSphere(orb.Point{k.x, k.y}))
		}
		line = append(line, onSphere(c.Points[len(c.Points)-1]))
		si := s2.NewShapeIndex()
		si.Add(&line)
		r := record(17, 1, 25).along(c, 0, c.Length(), 20)
		for _, f := range r.fixes {
			const r = 50.0
			q := s2.NewClosestEdgeQuery(si, s2.NewClosestEdgeQueryOptions().DistanceLimit(s1.ChordAngleFromAngle(s1.Angle((r-0.05)/radius))))
			have := x.near(f.P)
			for _, e := range q.FindEdges(s2.NewMinDistanceToPointTarget(onSphere(f.P))) {
				if _, ok := slices.BinarySearch(have, e.EdgeID()); !ok {
					t.Fatalf("chord %d within %g m of %v is not found", e.EdgeID(), r, f.P)
				}
			}
		}
	}
}

// TestFeetAreTheLocalMinima compares the feet with the smallest places of the
// distance sampled along the course.
func TestFeetAreTheLocalMinima(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, fixes := drawCase(t)
		x := newIndex(c.Points, c.Chainage)
		const r, step = 40.0, 0.25
		const merged = 3.0 // m along, between chords and course
		p := fixes[0].P
		dist := func(s float64) float64 {
			q := c.At(s)
			return math.Hypot(p[0]-q[0], p[1]-q[1])
		}
		feet := x.feet(x.near(p), p, r, nil)
		for s := step; s < c.Length()-step; s += step {
			d := dist(s)
			if d > r-1 || dist(s-step) <= d || dist(s+step) < d {
				continue
			}
			found := slices.ContainsFunc(feet, func(f foot) bool {
				return math.Abs(f.s-s) < sameFoot+merged && f.d < d+chordSagitta+0.1
			})
			if !found {
				t.Fatalf("the minimum at %g, %g m away, is not among %v", s, d, feet)
			}
		}
	})
}
