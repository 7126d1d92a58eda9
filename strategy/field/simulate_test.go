package field

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"testing"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/follow"
	"tautline/geo/interval"
	"tautline/geo/road"
	"tautline/geo/simulate"
	"tautline/geo/taut"
	"tautline/geo/track"
	"tautline/strategy/race"
)

var (
	tableFields = flag.Int("table", 0, "simulated courses, with eight fields each, per row of the table of faults found; 0 leaves the table out")
	tableSeed   = flag.Uint64("table-seed", 1, "first seed of the table")
	tableOnly   = flag.String("table-only", "", "the one fault that the table is made for")
	tableLength = flag.Float64("table-length", 3000, "metres of the courses")
	tableShared = flag.Float64("table-shared", 2.5, "metres, standard deviation of the error that receivers share at a place")
	tableReach  = flag.Float64("table-reach", 70, "metres over which that error is alike")
	tableTight  = flag.Float64("table-tight", 4, "metres off the inner edge that a runner keeps in turns at most")
	tableSize   = flag.Float64("table-size", 0, "the one size of -table-only, metres")
	tableMost   = flag.Int("table-records", 200, "records in a field")
)

// fault is what is wrong with the course that the field ran.
type fault struct {
	name string
	size float64 // m
	kind simulate.Kind
}

const (
	sound      = "sound"
	noCorner   = "missing corner" // cut from so many metres before it to as many behind
	shortBack  = "moved turn-around"
	movedCones = "moved lane cones"
	soundCones = "sound, with cones" // a lane as in movedCones, and nothing wrong
)

func (f fault) sound() bool { return f.name == sound || f.name == soundCones }

// sharedError is a displacement that belongs to the place: a smooth random
// field, the sum of waves, with correlation exp(-d²/2L²), L metres.
type sharedError struct {
	k     [][2]float64
	phase [][2]float64
	sd    float64
}

func newSharedError(sd, length float64, rng *rand.Rand) sharedError {
	e := sharedError{sd: sd}
	for range 24 {
		e.k = append(e.k, [2]float64{rng.NormFloat64() / length, rng.NormFloat64() / length})
		e.phase = append(e.phase, [2]float64{2 * math.Pi * rng.Float64(), 2 * math.Pi * rng.Float64()})
	}
	return e
}

func (e sharedError) at(p orb.Point) orb.Point {
	var out orb.Point
	for i, k := range e.k {
		a := k[0]*p[0] + k[1]*p[1]
		out[0] += math.Cos(a + e.phase[i][0])
		out[1] += math.Cos(a + e.phase[i][1])
	}
	f := e.sd * math.Sqrt(2/float64(len(e.k)))
	return orb.Point{f * out[0], f * out[1]}
}

// lay builds a race from a drawing.
func lay(line orb.LineString, plane earth.Plane, spec road.Spec) (*race.Race, error) {
	fixes := make([]track.Fix, len(line))
	for i, p := range line {
		fixes[i] = track.Fix{At: plane.From(p), Height: math.NaN()}
	}
	c, err := course.New("", fixes)
	if err != nil {
		return nil, err
	}
	rd, err := road.Build(c, spec)
	if err != nil {
		return nil, err
	}
	l, err := taut.Solve(rd)
	if err != nil {
		return nil, err
	}
	return &race.Race{Course: c, Road: rd, Line: l, Official: l.Length}, nil
}

func dist(a, b orb.Point) float64 { return math.Hypot(b[0]-a[0], b[1]-a[1]) }

func toward(a, b orb.Point, d float64) orb.Point {
	t := d / dist(a, b)
	return orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
}

// planted makes a race as it was measured and as the field ran it, and says
// where along the measured line the fault is.
func planted(f fault, length float64, rng *rand.Rand) (measured, ran *race.Race, at float64, ok bool) {
	c := simulate.RandomCourse(f.kind, length, rng)
	spec := road.Default()
	spec.Width, spec.CornerRadius = c.Width, c.CornerRadius
	other := spec
	line, changed := c.Line, append(orb.LineString{}, c.Line...)
	where := 0.0 // chainage
	sums := make([]float64, len(line))
	for i := 1; i < len(line); i++ {
		sums[i] = sums[i-1] + dist(line[i-1], line[i])
	}
	pick := func(good func(i int) bool) int {
		var list []int
		for i := 1; i+1 < len(line); i++ {
			if sums[i] > 150 && sums[i] < length-150 && good(i) {
				list = append(list, i)
			}
		}
		if len(list) == 0 {
			return -1
		}
		return list[rng.IntN(len(list))]
	}
	angle := func(i int) float64 {
		a, b := line[i-1], line[i+1]
		p := line[i]
		return math.Remainder(math.Atan2(b[1]-p[1], b[0]-p[0])-math.Atan2(p[1]-a[1], p[0]-a[0]), 2*math.Pi)
	}
	switch f.name {
	case noCorner:
		i := pick(func(i int) bool {
			a := math.Abs(angle(i))
			return a > 1.2 && a < 2 && dist(line[i], line[i-1]) > f.size+20 && dist(line[i], line[i+1]) > f.size+20
		})
		if i < 0 {
			return nil, nil, 0, false
		}
		where = sums[i]
		changed = append(append(orb.LineString{}, line[:i]...), toward(line[i], line[i-1], f.size), toward(line[i], line[i+1], f.size))
		changed = append(changed, line[i+1:]...)
	case shortBack:
		i := pick(func(i int) bool {
			return math.Abs(angle(i)) > 3 && dist(line[i], line[i-1]) > 80 && dist(line[i], line[i+1]) > 80
		})
		if i < 0 {
			return nil, nil, 0, false
		}
		where = sums[i]
		changed[i] = toward(line[i], line[i-1], f.size)
	case movedCones, soundCones:
		// The road keeps to a lane on the right; the cones between it and the
		// rest stand so many metres further to the left on the day, around a
		// turn to the left, where that shortens the line.
		spec.Width = 2*f.size + 8
		other = spec
		i := pick(func(i int) bool { a := angle(i); return a > 0.5 && a < 2.2 })
		if i < 0 {
			return nil, nil, 0, false
		}
		where = sums[i]
		edge, moved := 0.0, f.size
		spec.Stretches = []road.Stretch{{From: where - 130, To: where + 130, Part: road.Lane, LaneLeft: &edge}}
		other.Stretches = []road.Stretch{{From: where - 130, To: where + 130, Part: road.Lane, LaneLeft: &moved}}
		if f.name == soundCones {
			other = spec
		}
	}
	measured, err := lay(line, c.Plane, spec)
	if err != nil {
		return nil, nil, 0, false
	}
	ran, err = lay(changed, c.Plane, other)
	if err != nil {
		return nil, nil, 0, false
	}
	// Cones that move without moving the line are no fault.
	const leastChange = 5.0 // m
	if !f.sound() && math.Abs(ran.Line.Length-measured.Line.Length) < leastChange {
		return nil, nil, 0, false
	}
	return measured, ran, measured.Line.AlongAt(where), true
}

// someRunner is a runner of a mixed field.
func someRunner(rng *rand.Rand) simulate.Runner {
	return simulate.Runner{
		ApexMiss: *tableTight * rng.Float64(), ApexSpread: 0.8 * rng.Float64(),
		WeaveSD: 0.1 + 0.7*rng.Float64(), WeaveLength: 15 + 45*rng.Float64(),
		DriftSD: 2 * rng.Float64(), DriftLength: 100 + 400*rng.Float64(),
		Speed: 2.5 + 2*rng.Float64(), SpeedSD: 0.05 * rng.Float64(), SpeedLength: 300 + 1500*rng.Float64(),
	}
}

// someRecord writes a run down with one of the receivers of a mixed field.
func someRecord(plane earth.Plane, t simulate.Truth, rng *rand.Rand) simulate.Record {
	envs := []simulate.Environment{simulate.OpenRoad(), simulate.TreeLined(), simulate.MidRise(), simulate.Legacy()}
	o := simulate.Options{Plane: plane}
	switch rng.IntN(6) {
	case 0:
		o.Every = 5
	case 1:
		o.Filter = simulate.MovingAverage(5)
	case 2:
		o.Filter = simulate.Kalman(0.3, 3)
	}
	return envs[rng.IntN(len(envs))].Record(t, o, rng)
}

// errorsEach is how many fields are made of one set of records: what belongs to
// the place is drawn anew for each, and it decides most. paths is how many
// paths there are in a set; several receivers write down each.
const (
	errorsEach = 8
	paths      = 16
)

// simulated makes fields of one course with a fault, each with its own shared
// error, and gives the verdicts after so many records.
func simulated(t testing.TB, f fault, length float64, seed uint64, sd, reach float64, fields int, after []int) (g *Ground, out [][]*Verdict, at, truth float64, ok bool) {
	rng := simulate.Rand(seed, 21)
	measured, ran, at, ok := planted(f, length, rng)
	if !ok {
		return nil, nil, 0, 0, false
	}
	g = Lay(measured)
	ref := simulate.Along(ran.Road, ran.Line)
	most := after[len(after)-1]
	var runs []simulate.Truth
	for k := range min(paths, most) {
		rng := simulate.Rand(seed*1000+uint64(k), 22)
		tr, err := someRunner(rng).Run(ref, rng)
		if err != nil {
			t.Logf("seed %d: %v", seed, err)
			return nil, nil, 0, 0, false
		}
		runs = append(runs, tr)
	}
	records := make([]simulate.Record, most)
	for k := range records {
		records[k] = someRecord(ran.Course.Plane, runs[k%len(runs)], simulate.Rand(seed*1000+uint64(k), 23))
	}
	for n := range fields {
		wrong := newSharedError(sd, reach, simulate.Rand(seed*100+uint64(n), 24))
		tally := g.NewTally()
		var verdicts []*Verdict
		for k, rec := range records {
			fixes := make([]follow.Fix, len(rec.Points))
			for i, p := range rec.Points {
				d := wrong.at(p)
				// The two races have planes of their own.
				at := measured.Course.Plane.To(ran.Course.Plane.From(orb.Point{p[0] + d[0], p[1] + d[1]}))
				fixes[i] = follow.Fix{P: at, T: rec.Times[i]}
			}
			left, right := measured.Road.RoadLateral(measured.Road.FinishAt / 2)
			m, err := follow.Along(measured.Course, fixes, follow.Options{StartAt: measured.Road.StartAt, FinishAt: measured.Road.FinishAt, HalfWidth: math.Max((left-right)/2, 3)})
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			tally.Rows = append(tally.Rows, Row{Key: fmt.Sprint(k)})
			tally.observe(g.observe(fixes, m, smoothing{}))
			if k+1 == after[len(verdicts)] {
				verdicts = append(verdicts, g.Judge(tally, interval.Exact(measured.Line.Length)))
			}
		}
		out = append(out, verdicts)
	}
	return g, out, at, ran.Line.Length, true
}

// near tells whether a verdict names a place.
func near(v *Verdict, at float64) bool {
	for _, f := range v.Findings {
		if at > f.From-60 && at < f.To+60 {
			return true
		}
	}
	return false
}

func TestTable(t *testing.T) {
	if *tableFields == 0 {
		t.Skip("no -table given")
	}
	var after []int
	for _, n := range []int{25, 50, 100, 200, 500} {
		if n <= *tableMost {
			after = append(after, n)
		}
	}
	var faults []fault
	for _, k := range simulate.Kinds() {
		faults = append(faults, fault{sound, 0, k})
	}
	faults = append(faults, fault{soundCones, 8, simulate.Corners})
	for _, s := range []float64{25, 30, 40} {
		faults = append(faults, fault{noCorner, s, simulate.Corners})
	}
	for _, s := range []float64{12, 17.5, 35} {
		faults = append(faults, fault{shortBack, s, simulate.Turnbacks})
	}
	for _, s := range []float64{8, 12, 16} {
		faults = append(faults, fault{movedCones, s, simulate.Corners})
	}
	fmt.Printf("courses of %.0f m, seeds %d to %d, 8 fields each, shared error %.1f m over %.0f m, runners within %.1f m of the inner edge in turns; share found (sound: invented) after records %v; share of courses in the 90 %% interval at the last\n", *tableLength, *tableSeed, *tableSeed+uint64(*tableFields)-1, *tableShared, *tableReach, *tableTight, after)
	for _, f := range faults {
		if *tableOnly != "" && f.name != *tableOnly || *tableSize > 0 && f.size != *tableSize {
			continue
		}
		var mu sync.Mutex
		var fields, held, level, sd float64
		found := make([]float64, len(after))
		var wg sync.WaitGroup
		next := make(chan uint64)
		for range runtime.GOMAXPROCS(0) {
			wg.Go(func() {
				for seed := range next {
					g, all, at, truth, ok := simulated(t, f, *tableLength, seed, *tableShared, *tableReach, errorsEach, after)
					mu.Lock()
					for n := 0; ok && n < len(all); n++ {
						fields++
						for i, v := range all[n] {
							if f.sound() && len(v.Findings) > 0 || !f.sound() && near(v, at) {
								found[i]++
							}
						}
						last := all[n][len(after)-1]
						if last.Course.Holds(truth) {
							held++
						}
						sd += last.Bias
						level += last.Sees
						if testing.Verbose() {
							fmt.Printf("   seed %d.%d worst %.2f of %.2f\n", seed, n, last.worst, last.level)
							for _, x := range last.Findings {
								fmt.Printf("   seed %d.%d: %s %.0f-%.0f at %.0f: %.1f (%.1f to %.1f), length %.1f true %.1f bias %.1f\n", seed, n, x.Kind, x.From, x.To, at, x.Metres.Value, x.Metres.Low, x.Metres.High, x.Length.Value, truth-g.Race.Line.Length, last.Bias)
							}
						}
					}
					mu.Unlock()
				}
			})
		}
		for k := range *tableFields {
			next <- *tableSeed + uint64(k)
		}
		close(next)
		wg.Wait()
		fmt.Printf("%-18s %5.1f m %-15s fields %3.0f:", f.name, f.size, f.kind, fields)
		for _, n := range found {
			fmt.Printf(" %5.3f", n/fields)
		}
		fmt.Printf("  held %.2f  bias %.2f  turn-around seen from %.1f m\n", held/fields, sd/fields, level/fields)
	}
}
