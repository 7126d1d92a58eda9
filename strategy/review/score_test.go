package review_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"sort"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"tautline/geo/record"
	"tautline/geo/simulate"
	"tautline/geo/track"
	"tautline/strategy/review"
)

var (
	scoreCases = flag.Int("score", 0, "simulated records per row of the score table; 0 leaves the table out")
	scoreLong  = flag.Int("score-long", 0, "simulated records per row of marathons; 0 as many as of the others")
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
	quiet         bool    // long straights: two turns in five of the usual number
	// What the row is pooled by; empty outside the model.
	environment, distance, sampling string
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
				out = append(out, row{name: e.name + ", " + n + ", " + o.name, env: e.e, length: l, opt: o.o,
					environment: e.name, distance: n, sampling: o.name})
			}
		}
	}
	for _, e := range envs {
		for _, o := range opts {
			out = append(out, row{name: e.name + ", 10 km with few turns, " + o.name, env: e.e, length: 10000, opt: o.o, quiet: true,
				environment: e.name, distance: "10 km with few turns", sampling: o.name})
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
	miss                    float64 // m that the runner keeps from the apex of a turn in the mean
	v                       *review.Review
	shown                   simulate.Truth
}

func try(t testing.TB, w row, seed uint64) (trial, bool) {
	rng := simulate.Rand(seed, 11)
	kinds := simulate.Kinds()
	kind := kinds[int(seed)%len(kinds)]
	c := simulate.RandomCourse(kind, w.length, rng)
	if w.quiet {
		c = stretched(simulate.RandomCourse(kind, 0.4*w.length, rng), w.length)
	}
	drawn := c.Fixes()
	r, err := raceOn(drawn, c.Width, c.CornerRadius)
	if err != nil {
		t.Logf("seed %d: %v course: %v", seed, kind, err)
		return trial{}, false
	}
	given := r
	if w.drawn != 0 {
		drawn = displaced(c, w.drawn, rng)
	}
	if w.width != 0 || w.radius != 0 || w.drawn != 0 {
		if given, err = raceOn(drawn, c.Width+w.width, math.Max(0, c.CornerRadius+w.radius)); err != nil {
			t.Logf("seed %d: %v course: %v", seed, kind, err)
			return trial{}, false
		}
	}
	runner := anyRunner(rng)
	runner.LeadIn = simulate.Walk{Distance: 30 * rng.Float64(), Wait: 60 * rng.Float64(), Speed: 2}
	runner.RunOut = simulate.Walk{Distance: 40 * rng.Float64(), Wait: 30 * rng.Float64(), Speed: 2}
	truth, err := runner.Run(simulate.Along(r.Road, r.Line), rng)
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
		naive: v.Recorded - truth.LeadIn - truth.RunOut - truth.Ran, length: r.Line.Length, miss: runner.ApexMiss, v: v, shown: truth,
	}, true
}

// stretched lengthens the straights of a course until it has a length in
// metres; its turns stay as they are.
func stretched(c simulate.Course, length float64) simulate.Course {
	const straight = 40.0 // m
	var long float64
	total := c.Length()
	for i := 1; i < len(c.Line); i++ {
		if d := math.Hypot(c.Line[i][0]-c.Line[i-1][0], c.Line[i][1]-c.Line[i-1][1]); d > straight {
			long += d
		}
	}
	factor := (length - (total - long)) / long
	line := orb.LineString{c.Line[0]}
	back := make([]float64, len(c.Turnbacks))
	var was, is float64
	for i := 1; i < len(c.Line); i++ {
		d := orb.Point{c.Line[i][0] - c.Line[i-1][0], c.Line[i][1] - c.Line[i-1][1]}
		n, k := math.Hypot(d[0], d[1]), 1.0
		if n > straight {
			k = factor
		}
		was, is = was+n, is+k*n
		for j, t := range c.Turnbacks {
			if math.Abs(t-was) < 1e-6 {
				back[j] = is
			}
		}
		last := line[i-1]
		line = append(line, orb.Point{last[0] + k*d[0], last[1] + k*d[1]})
	}
	c.Line, c.Turnbacks = line, back
	return c
}

func (w row) doubt() review.Doubt {
	if w.width == 0 && w.radius == 0 && w.drawn == 0 {
		return review.Doubt{}
	}
	return review.UsualDoubt(false, false)
}

// tally gathers trials; everything is in per cent of the course.
type tally struct {
	tried, cases              int
	squares, sum, held, width float64
	naives                    []float64
}

func (s *tally) add(tr trial) {
	d := (tr.extra - tr.truth) / tr.length * 100
	s.cases++
	s.squares += d * d
	s.sum += d
	s.width += (tr.high - tr.low) / tr.length * 100
	if tr.low <= tr.truth && tr.truth <= tr.high {
		s.held++
	}
	s.naives = append(s.naives, tr.naive/tr.length*100)
}

// told is a line of the score as .ci/truth.go reads it. Sum is for summing the
// fixes, Cheap for taking the mean surplus of all these records off that.
type told struct {
	Table, Name             string
	Tried, Cases            int
	RMSE, Bias, Held, Width float64
	SumRMSE, SumBias, Cheap float64
}

func (s *tally) told(table, name string) told {
	n := float64(s.cases)
	v := told{Table: table, Name: name, Tried: s.tried, Cases: s.cases,
		RMSE: math.Sqrt(s.squares / n), Bias: s.sum / n, Held: s.held / n, Width: s.width / n}
	for _, x := range s.naives {
		v.SumBias += x / n
		v.SumRMSE += x * x / n
	}
	for _, x := range s.naives {
		v.Cheap += (x - v.SumBias) * (x - v.SumBias) / n
	}
	v.SumRMSE, v.Cheap = math.Sqrt(v.SumRMSE), math.Sqrt(v.Cheap)
	return v
}

// tell logs a line for people and for .ci/truth.go.
func (s *tally) tell(t *testing.T, table, name string) {
	v := told{Table: table, Name: name, Tried: s.tried}
	if s.cases > 0 {
		v = s.told(table, name)
	}
	fmt.Printf("%-58s %5d %7.3f %+7.3f %7.2f %9.1f %8.3f %+8.3f %8.3f\n", v.Name, v.Cases, v.RMSE, v.Bias, v.Held, v.Width/v.RMSE, v.SumRMSE, v.SumBias, v.Cheap)
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	t.Attr("score", string(b))
}

// pools gathers the rows by what they have in common, in the order of the rows.
type pools struct {
	order []string
	by    map[string]*tally
}

func (p *pools) at(name string) *tally {
	if p.by == nil {
		p.by = map[string]*tally{}
	}
	if p.by[name] == nil {
		p.by[name] = &tally{}
		p.order = append(p.order, name)
	}
	return p.by[name]
}

// runnerKind says how close to the apex a runner keeps.
func (tr trial) runnerKind() string {
	switch {
	case tr.miss < 1.3:
		return "careful, apex missed by up to 1.3 m"
	case tr.miss > 2.7:
		return "careless, by 2.7 to 4 m"
	}
	return "usual, by 1.3 to 2.7 m"
}

// TestScore prints how well the extra distance is told, for the table in
// DEVELOPERS.md: go test ./strategy/review -run Score -score 40 -v
func TestScore(t *testing.T) {
	if *scoreCases == 0 {
		t.Skip("no -score given")
	}
	fmt.Printf("%-58s %5s %7s %7s %7s %9s %8s %8s %8s\n", "record", "cases", "RMSE %", "bias %", "held", "width/RMSE", "naive %", "its bias", "cheap %")
	// The canyon's errors are so much larger that they would be all that is
	// seen in the last three.
	const kind, env, distance, sampling, runner = "kind of record", "environment", "distance, without the canyon", "sampling and filter, without the canyon", "runner, without the canyon"
	tables := []string{kind, env, distance, sampling, runner}
	pooled := map[string]*pools{}
	for _, table := range tables {
		pooled[table] = &pools{}
	}
	for _, w := range rows() {
		if !strings.Contains(w.name, *scoreOnly) {
			continue
		}
		n := *scoreCases
		if w.distance == "marathon" && *scoreLong > 0 {
			n = *scoreLong
		}
		all := tally{tried: n}
		var worst []string
		var parts [3]float64
		for k, tr := range trials(t, w, n) {
			if tr == nil {
				continue
			}
			if n == 1 {
				explain(*tr)
			}
			all.add(*tr)
			for i, v := range tr.parts() {
				parts[i] += v / tr.length * 100
			}
			seed := *scoreSeed + uint64(k)
			worst = append(worst, fmt.Sprintf("%6.3f seed %d extra %.0f true %.0f turns %d naive %.0f %s", math.Abs(tr.extra-tr.truth)/tr.length*100, seed, tr.extra, tr.truth, len(tr.v.Turns), tr.naive, simulate.Kinds()[int(seed)%len(simulate.Kinds())]))
			if w.environment == "" {
				pooled[kind].at("outside the model").add(*tr)
				continue
			}
			pooled[kind].at("inside the model").add(*tr)
			pooled[env].at(w.environment).add(*tr)
			if w.environment != "canyon" {
				pooled[distance].at(w.distance).add(*tr)
				pooled[sampling].at(w.sampling).add(*tr)
				pooled[runner].at(tr.runnerKind()).add(*tr)
			}
		}
		all.tell(t, "record", w.name)
		if *scoreEach && all.cases > 0 {
			n := float64(all.cases)
			fmt.Printf("    bias at turns as shown %+.3f, as judged %+.3f, between turns %+.3f\n", parts[0]/n, parts[1]/n, parts[2]/n)
			sort.Sort(sort.Reverse(sort.StringSlice(worst)))
			for _, s := range worst[:min(6, len(worst))] {
				fmt.Println("   ", s)
			}
		}
	}
	for _, table := range tables {
		fmt.Printf("\nby %s\n", table)
		if table == runner {
			sort.Strings(pooled[table].order)
		}
		for _, name := range pooled[table].order {
			pooled[table].by[name].tell(t, table, name)
		}
	}
}

// trials simulates and reviews records on all cores; nil stands for one that
// was refused.
func trials(t *testing.T, w row, n int) []*trial {
	out := make([]*trial, n)
	next := make(chan int)
	var all sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		all.Go(func() {
			for k := range next {
				if tr, ok := try(t, w, *scoreSeed+uint64(k)); ok {
					out[k] = &tr
				}
			}
		})
	}
	for k := range n {
		next <- k
	}
	close(next)
	all.Wait()
	return out
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
