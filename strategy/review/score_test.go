package review_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"tautline/geo/gpxfile"
	"tautline/geo/record"
	"tautline/geo/simulate"
	"tautline/geo/track"
	"tautline/strategy/race"
	"tautline/strategy/review"
	"tautline/strategy/sheet"
)

var (
	scoreCases = flag.Int("score", 0, "simulated records per row of the score table; 0 leaves the table out")
	scoreSeed  = flag.Uint64("score-seed", 1, "first seed of the score table")
	scoreOnly  = flag.String("score-only", "", "rows whose name holds this")
	scoreEach  = flag.Bool("score-each", false, "print every case")
)

// row is a kind of record.
type row struct {
	name   string
	env    simulate.Environment
	length float64
	opt    simulate.Options
	// How the road that the review is told differs from the true one, m.
	width, radius float64
	drawn         float64 // standard deviation of the drawn course, east and north, alike over 100 m
	snap          bool    // the record was put on the drawn road
}

func rows() []row {
	envs := []struct {
		name string
		e    simulate.Environment
	}{{"open road", simulate.OpenRoad()}, {"tree-lined", simulate.TreeLined()}, {"mid-rise", simulate.MidRise()}, {"canyon", simulate.Canyon()}, {"older receiver", simulate.Legacy()}}
	opts := []struct {
		name string
		o    simulate.Options
	}{
		{"1 s", simulate.Options{}},
		{"5 s", simulate.Options{Every: 5}},
		{"1 s average 5 s", simulate.Options{Filter: simulate.MovingAverage(5)}},
		{"1 s predictor 0.1", simulate.Options{Filter: simulate.Kalman(0.1, 3)}},
		{"1 s predictor 1", simulate.Options{Filter: simulate.Kalman(1, 3)}},
		{"5 s predictor 0.3", simulate.Options{Filter: simulate.Kalman(0.3, 3), Every: 5}},
	}
	var out []row
	for _, e := range envs {
		for _, l := range []float64{10000, 42195} {
			for _, o := range opts {
				n := "10 km"
				if l > 20000 {
					n = "marathon"
				}
				out = append(out, row{name: e.name + ", " + n + ", " + o.name, env: e.e, length: l, opt: o.o})
			}
		}
	}
	// Kinds of record that the inference was not made for, and roads that are
	// not what they were said to be.
	tree := simulate.TreeLined()
	for _, o := range []struct {
		name                 string
		e                    simulate.Environment
		o                    simulate.Options
		snap                 bool
		width, radius, drawn float64
	}{
		{name: "5 decimals", e: tree, o: simulate.Options{Decimals: 5}},
		{name: "kept on turns", e: tree, o: simulate.Options{KeepOnTurn: true}},
		{name: "1 in 5 fixes lost", e: tree, o: simulate.Options{Lost: 0.2}},
		{name: "clock jitter 0.3 s", e: tree, o: simulate.Options{Jitter: 0.3}},
		{name: "twice the error across", e: tree.Stretched(2)},
		{name: "smoothed afterwards", e: tree, o: simulate.Options{Filter: simulate.KalmanSmoother(0.3, 3)}},
		{name: "snapped to the road", e: tree, snap: true},
		{name: "road 1 m wider than said", e: tree, width: -1},
		{name: "road 1 m narrower than said", e: tree, width: 1},
		{name: "corners 3 m rounder than said", e: tree, radius: -3},
		{name: "corners 3 m sharper than said", e: tree, radius: 3},
		{name: "drawn 1.5 m off", e: tree, drawn: 1.5},
	} {
		out = append(out, row{name: "tree-lined, 10 km, outside the model: " + o.name, env: o.e, length: 10000, opt: o.o,
			snap: o.snap, width: o.width, radius: o.radius, drawn: o.drawn})
	}
	return out
}

// trial is one simulated record and what the review says of it.
type trial struct {
	truth, extra, low, high float64
	naive                   float64 // m that summing the fixes is wrong by
	length                  float64
	v                       *review.Review
	shown                   simulate.Truth
}

func try(t testing.TB, w row, seed uint64) (trial, bool) {
	rng := simulate.Rand(seed, 11)
	kinds := simulate.Kinds()
	kind := kinds[int(seed)%len(kinds)]
	c := simulate.RandomCourse(kind, w.length, rng)
	file := &gpxfile.File{Lines: []track.Line{{Name: "course", Segments: [][]track.Fix{c.Fixes()}}}}
	told := func(width, radius float64) (*race.Race, error) {
		width, radius = c.Width+width, math.Max(0, c.CornerRadius+radius)
		s := &sheet.Sheet{}
		s.Road.Width, s.Road.CornerRadius = &width, &radius
		return race.Prepare("course", file, s)
	}
	r, err := told(0, 0)
	if err != nil {
		t.Logf("seed %d: %v course: %v", seed, kind, err)
		return trial{}, false
	}
	given := r
	if w.drawn != 0 {
		file = &gpxfile.File{Lines: []track.Line{{Name: "course", Segments: [][]track.Fix{displaced(c, w.drawn, rng)}}}}
	}
	if w.width != 0 || w.radius != 0 || w.drawn != 0 {
		if given, err = told(w.width, w.radius); err != nil {
			t.Logf("seed %d: %v course: %v", seed, kind, err)
			return trial{}, false
		}
	}
	ref := simulate.Along(r.Road, r.Line)
	runner := simulate.Runner{
		ApexMiss: 4 * rng.Float64(), ApexSpread: 0.8 * rng.Float64(),
		WeaveSD: 0.1 + 0.7*rng.Float64(), WeaveLength: 15 + 45*rng.Float64(),
		DriftSD: 2 * rng.Float64(), DriftLength: 100 + 400*rng.Float64(),
		Speed: 2.5 + 2*rng.Float64(), SpeedSD: 0.05 * rng.Float64(), SpeedLength: 300 + 1500*rng.Float64(),
		LeadIn: simulate.Walk{Distance: 30 * rng.Float64(), Wait: 60 * rng.Float64(), Speed: 2},
		RunOut: simulate.Walk{Distance: 40 * rng.Float64(), Wait: 30 * rng.Float64(), Speed: 2},
	}
	truth, err := runner.Run(ref, rng)
	if err != nil {
		t.Logf("seed %d: %v course: %v", seed, kind, err)
		return trial{}, false
	}
	opt := w.opt
	opt.Plane, opt.Began = r.Course.Plane, time.Date(2026, 9, 20, 9, 0, 0, 0, time.UTC)
	if w.snap {
		opt.Road = r.Course.Points
	}
	rec := w.env.Record(truth, opt, rng)
	v, err := review.Of(given, record.Clean(track.Line{Segments: [][]track.Fix{rec.Fixes}}), review.Options{Doubt: w.doubt()})
	if err != nil {
		t.Logf("seed %d: %v course: review: %v", seed, kind, err)
		return trial{}, false
	}
	return trial{
		truth: truth.Ran - r.Line.Length, extra: v.Extra.Value, low: v.Extra.Low, high: v.Extra.High,
		naive: v.Recorded - truth.LeadIn - truth.RunOut - truth.Ran, length: r.Line.Length, v: v, shown: truth,
	}, true
}

func (w row) doubt() review.Doubt {
	if w.width == 0 && w.radius == 0 && w.drawn == 0 {
		return review.Doubt{}
	}
	return review.UsualDoubt(false, false)
}

// TestScore prints how well the extra distance is told, for the table in
// DEVELOPERS.md: go test ./strategy/review -run Score -score 40 -v
func TestScore(t *testing.T) {
	if *scoreCases == 0 {
		t.Skip("no -score given")
	}
	fmt.Printf("%-58s %5s %7s %7s %7s %9s %8s %8s\n", "record", "cases", "RMSE %", "bias %", "held", "width/RMSE", "naive %", "cheap %")
	for _, w := range rows() {
		if !strings.Contains(w.name, *scoreOnly) {
			continue
		}
		var n, se, b, held, width, ne, nb float64
		var naives []float64
		var worst []string
		var parts [3]float64
		for k := range *scoreCases {
			tr, ok := try(t, w, *scoreSeed+uint64(k))
			if !ok {
				continue
			}
			if *scoreCases == 1 {
				explain(tr)
			}
			d := (tr.extra - tr.truth) / tr.length * 100
			n++
			if *scoreEach {
				p := tr.parts()
				for i, v := range p {
					parts[i] += v / tr.length * 100
				}
			}
			se += d * d
			b += d
			width += (tr.high - tr.low) / tr.length * 100
			if tr.low <= tr.truth && tr.truth <= tr.high {
				held++
			}
			ne += math.Pow(tr.naive/tr.length*100, 2)
			nb += tr.naive / tr.length * 100
			naives = append(naives, tr.naive/tr.length*100)
			worst = append(worst, fmt.Sprintf("%6.3f seed %d extra %.0f true %.0f turns %d naive %.0f %s", math.Abs(d), *scoreSeed+uint64(k), tr.extra, tr.truth, len(tr.v.Turns), tr.naive, simulate.Kinds()[int(*scoreSeed+uint64(k))%6]))
		}
		var cheap float64
		for _, x := range naives {
			cheap += (x - nb/n) * (x - nb/n)
		}
		rmse := math.Sqrt(se / n)
		fmt.Printf("%-58s %5.0f %7.3f %+7.3f %7.2f %9.1f %8.3f %8.3f\n", w.name, n, rmse, b/n, held/n, width/n/rmse, math.Sqrt(ne/n), math.Sqrt(cheap/n))
		if *scoreEach {
			fmt.Printf("    bias at turns as shown %+.3f, as judged %+.3f, between turns %+.3f\n", parts[0]/n, parts[1]/n, parts[2]/n)
			sort.Sort(sort.Reverse(sort.StringSlice(worst)))
			for _, s := range worst[:min(6, len(worst))] {
				fmt.Println("   ", s)
			}
		}
	}
}

// beyond gives the metres that were truly run beyond the line from one place
// on it to another.
func (tr trial) beyond() func(from, to float64) float64 {
	cum := make([]float64, len(tr.shown.Points))
	for i := 1; i < len(cum); i++ {
		p, q := tr.shown.Points[i-1], tr.shown.Points[i]
		cum[i] = cum[i-1] + math.Hypot(q[0]-p[0], q[1]-p[1])
	}
	at := func(along float64) float64 {
		return cum[min(sort.SearchFloat64s(tr.shown.Along, along), len(cum)-1)]
	}
	return func(from, to float64) float64 { return at(to) - at(from) - (to - from) }
}

// parts gives the error in metres at the turns as the record shows them, at
// the turns as they are judged, and between turns.
func (tr trial) parts() (p [3]float64) {
	beyond := tr.beyond()
	for _, s := range tr.v.Sections {
		ran := beyond(s.From, s.To)
		if s.Turn >= 0 {
			p[0] += s.Shown - ran
			p[1] += s.Extra.Value - ran
		} else {
			p[2] += s.Extra.Value - ran
		}
	}
	return p
}

// explain prints a trial section by section.
func explain(tr trial) {
	beyond := tr.beyond()
	var shown, extra, truth float64
	for _, s := range tr.v.Sections {
		true_ := beyond(s.From, s.To)
		if s.Turn >= 0 {
			shown, extra, truth = shown+s.Shown, extra+s.Extra.Value, truth+true_
		}
		a := 0.0
		if s.Turn >= 0 {
			a = tr.v.Turns[s.Turn].Angle
		}
		fmt.Printf("%7.0f-%5.0f turn %3d %5.2f: true %6.2f shown %6.2f lost %6.2f extra %6.2f (%.2f to %.2f) %v\n", s.From, s.To, s.Turn, a, true_, s.Shown, s.Lost, s.Extra.Value, s.Extra.Low, s.Extra.High, s.Missing)
	}
	fmt.Printf("turns: true %.1f shown %.1f extra %.1f; between %+v; %+v\n", truth, shown, extra, tr.v.Between, tr.v.Noise)
}

// displaced draws a course again with an error that is alike over some 100 m.
func displaced(c simulate.Course, sd float64, rng *rand.Rand) []track.Fix {
	fixes := c.Fixes()
	var x, y float64
	var before orb.Point
	for i := range fixes {
		at := c.Plane.To(fixes[i].At)
		k := 0.0
		if i > 0 {
			k = math.Exp(-math.Hypot(at[0]-before[0], at[1]-before[1]) / 100)
		}
		before = at
		x, y = k*x+math.Sqrt(1-k*k)*sd*rng.NormFloat64(), k*y+math.Sqrt(1-k*k)*sd*rng.NormFloat64()
		fixes[i].At = c.Plane.From(orb.Point{at[0] + x, at[1] + y})
	}
	return fixes
}
