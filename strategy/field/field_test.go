package field

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/tkrajina/gpxgo/gpx"
	"pgregory.net/rapid"

	"tautline/geo/gpxfile"
	"tautline/geo/interval"
	"tautline/geo/record"
	"tautline/geo/simulate"
	"tautline/geo/track"
)

// Fields of a few seeds: planted faults are found, sound fields are left in
// peace. TestTable measures how often; this guards against losing it.
func TestPlantedFaultsAreFoundAndNoneInvented(t *testing.T) {
	const seed, fields = 1, 6
	for _, f := range []fault{
		{sound, 0, simulate.Corners}, {sound, 0, simulate.Turnbacks},
		{noCorner, 40, simulate.Corners}, {shortBack, 35, simulate.Turnbacks}, {movedCones, 12, simulate.Corners},
	} {
		t.Run(fmt.Sprintf("%s by %g m, %s", f.name, f.size, f.kind), func(t *testing.T) {
			t.Parallel()
			g, all, at, truth, ok := simulated(t, f, 3000, seed, 2.5, 70, fields, []int{30})
			if !ok {
				t.Fatalf("seed %d gives no course with this fault", seed)
			}
			found, held := 0, 0
			for _, v := range all {
				if f.name == sound && len(v[0].Findings) > 0 || f.name != sound && near(v[0], at) {
					found++
				}
				if v[0].Course.Holds(truth) {
					held++
				}
				if f.name != sound && v[0].Conclusion == LookAt && len(v[0].Turns) == 0 && f.name != movedCones {
					t.Errorf("seed %d: a fault at a turn names no turn: %+v", seed, v[0].Findings)
				}
			}
			t.Logf("seed %d: found in %d of %d fields, the length's interval holds in %d", seed, found, len(all), held)
			switch {
			case f.name == sound && found > 0:
				t.Errorf("seed %d: %d of %d sound fields are said to have a fault", seed, found, len(all))
			case f.name == sound && all[0][0].Conclusion != Agrees:
				t.Errorf("seed %d: a sound field of 30 gives %q: %s", seed, all[0][0].Conclusion, all[0][0].Why)
			case f.name != sound && found < fields-1:
				t.Errorf("seed %d: only %d of %d fields show the fault at %.0f of %.0f m", seed, found, len(all), at, g.length)
			case held < fields-2:
				t.Errorf("seed %d: the length is held in %d of %d fields", seed, held, len(all))
			}
		})
	}
}

// small is a ground with a few records, made once.
type small struct {
	g     *Ground
	files [][]byte
}

var smallField = sync.OnceValue(func() small { return someField(1500, 8) })

// someField is a sound course of so many metres with so many records in files.
func someField(length float64, records int) small {
	rng := simulate.Rand(5, 31)
	measured, ran, _, ok := planted(fault{sound, 0, simulate.Corners}, length, rng)
	if !ok {
		panic("no course")
	}
	out := small{g: Lay(measured)}
	ref := simulate.Along(ran.Road, ran.Line)
	var truths []simulate.Truth
	for range 4 {
		tr, err := someRunner(rng).Run(ref, rng)
		if err != nil {
			panic(err)
		}
		truths = append(truths, tr)
	}
	for k := range records {
		rec := simulate.TreeLined().Record(truths[k%4], simulate.Options{Plane: ran.Course.Plane, Decimals: 7, Began: time.Date(2026, 9, 20, 9, 0, 0, 0, time.UTC)}, rng)
		var b bytes.Buffer
		if err := gpxfile.Write(&b, &gpxfile.File{Lines: []track.Line{{Segments: [][]track.Fix{rec.Fixes}}}}); err != nil {
			panic(err)
		}
		out.files = append(out.files, b.Bytes())
	}
	return out
}

func write(t testing.TB, path string, content []byte) string {
	t.Helper()
	if err := os.WriteFile(path, content, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// folder writes a field with everything that can be in a folder: records, a
// copy, a zip file with some, a broken zip file, a broken record, other files.
func folder(t testing.TB) string {
	s := smallField()
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "below"), 0o755); err != nil {
		t.Fatal(err)
	}
	for k, b := range s.files[:4] {
		write(t, filepath.Join(dir, fmt.Sprintf("r%d.gpx", k)), b)
	}
	write(t, filepath.Join(dir, "below", "R4.GPX"), s.files[4])
	write(t, filepath.Join(dir, "below", "copy.gpx"), s.files[0])
	write(t, filepath.Join(dir, "notes.txt"), []byte("no record"))
	write(t, filepath.Join(dir, "cut off.gpx"), s.files[0][:500])
	write(t, filepath.Join(dir, "broken.zip"), []byte("PK"))
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for k, content := range s.files[5:8] {
		w, err := z.Create(fmt.Sprintf("in/z%d.gpx", k))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(content); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "some.zip"), b.Bytes())
	return dir
}

func TestAFolderIsGoneThroughWhateverIsInIt(t *testing.T) {
	g := smallField().g
	dir := folder(t)
	var first []byte
	for _, workers := range []int{1, 4} {
		s, err := Find([]string{dir})
		if err != nil {
			t.Fatal(err)
		}
		tally := g.NewTally()
		last := 0
		done, err := g.Run(t.Context(), s, tally, Options{Workers: workers, Progress: func(n, of int) {
			if n != last+1 || of != 10 {
				t.Errorf("progress %d of %d after %d", n, of, last)
			}
			last = n
		}})
		s.Close()
		if err != nil {
			t.Fatal(err)
		}
		if tally.Records() != 8 || done.Twice != 1 || len(done.Refused) != 2 {
			t.Fatalf("%d records, %d twice, refused %v; want 8, 1 and 2", tally.Records(), done.Twice, done.Refused)
		}
		if !strings.HasSuffix(done.Refused[0].Name, "broken.zip") || !strings.HasSuffix(done.Refused[1].Name, "cut off.gpx") {
			t.Errorf("refused %v", done.Refused)
		}
		got, err := tally.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = got
		} else if !bytes.Equal(first, got) {
			t.Error("the state depends on the number of workers")
		}
		for _, r := range tally.Rows {
			if r.Share < 900_000 || r.Ran < 1_400_000 || r.Ran > 1_700_000 || r.Ran-r.Extra < 1_300_000 {
				t.Errorf("row %+v", r)
			}
		}
	}
}

func TestARunGoesOnFromItsStateAfterAnInterrupt(t *testing.T) {
	g := smallField().g
	dir := folder(t)
	find := func() *Sources {
		s, err := Find([]string{dir})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(s.Close)
		return s
	}
	whole := g.NewTally()
	if _, err := g.Run(t.Context(), find(), whole, Options{}); err != nil {
		t.Fatal(err)
	}
	ctx, interrupt := context.WithCancel(t.Context())
	var saved []byte
	part := g.NewTally()
	_, err := g.Run(ctx, find(), part, Options{Workers: 1, Progress: func(n, _ int) {
		if n == 4 {
			interrupt()
		}
	}, Save: func(b []byte) error { saved = b; return nil }})
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("error %v", err)
	}
	resumed, err := g.Decode("state", saved)
	if err != nil {
		t.Fatal(err)
	}
	if n := resumed.Records(); n == 0 || n >= whole.Records() {
		t.Fatalf("%d records in the state of an interrupted run", n)
	}
	done, err := g.Run(t.Context(), find(), resumed, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if done.Before == 0 {
		t.Error("no record was left out as known")
	}
	a, _ := whole.Encode()
	b, _ := resumed.Encode()
	if !bytes.Equal(a, b) {
		t.Error("the resumed run ends in another state")
	}
}

func TestASaveThatFailsIsAnError(t *testing.T) {
	s, err := Find([]string{write(t, filepath.Join(t.TempDir(), "a.gpx"), smallField().files[0])})
	if err != nil {
		t.Fatal(err)
	}
	full := errors.New("no space left")
	if _, err := smallField().g.Run(t.Context(), s, smallField().g.NewTally(), Options{Save: func([]byte) error { return full }}); !errors.Is(err, full) {
		t.Errorf("error %v", err)
	}
}

func TestARunEndsWithTheFirstSaveThatFails(t *testing.T) {
	dir := t.TempDir()
	f := smallField()
	for i, b := range f.files {
		write(t, filepath.Join(dir, fmt.Sprintf("%02d.gpx", i)), b)
	}
	s, err := Find([]string{dir})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	full := errors.New("no space left")
	ctx, interrupt := context.WithCancel(t.Context())
	defer interrupt()
	for name, progress := range map[string]func(done, of int){
		"of itself":                           nil,
		"and an interrupt does not hide that": func(int, int) { interrupt() },
	} {
		saves, through := 0, 0
		_, err = f.g.Run(ctx, s, f.g.NewTally(), Options{Workers: 1, Every: 1, Progress: func(n, of int) {
			through = n
			if progress != nil {
				progress(n, of)
			}
		}, Save: func([]byte) error { saves++; return full }})
		if !errors.Is(err, full) {
			t.Errorf("%s: error %v", name, err)
		}
		if saves != 1 || through > 4 {
			t.Errorf("%s: %d saves were tried and %d of %d records reviewed", name, saves, through, len(s.List))
		}
	}
}

// someLook invents what a record might say.
func someLook(g *Ground, key int, rng *rand.Rand) *Look {
	l := &Look{row: Row{Key: fmt.Sprintf("%04d", key), Name: "n", Extra: rng.Int64N(100000)}, extras: make([]float64, len(g.Race.Line.Turns))}
	l.o = observation{make([]uint8, len(g.stations)), make([]float64, len(g.stations)), make([]float64, len(g.arounds))}
	for j := range l.o.seen {
		l.o.seen[j], l.o.y[j] = uint8(rng.IntN(3)), 30*rng.NormFloat64()
	}
	for k := range l.extras {
		l.extras[k] = 10 * rng.NormFloat64()
	}
	return l
}

func TestPartsMergeToTheSameBytesInAnyOrder(t *testing.T) {
	g := smallField().g
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 10).Draw(t, "records")
		parts := rapid.IntRange(1, 4).Draw(t, "parts")
		seed := rapid.Uint64().Draw(t, "seed")
		rng := simulate.Rand(seed, 1)
		whole := g.NewTally()
		part := make([]*Tally, parts)
		for i := range part {
			part[i] = g.NewTally()
		}
		looks := make([]*Look, n)
		for k := range looks {
			looks[k] = someLook(g, k, rng)
			whole.Add(looks[k])
		}
		for _, k := range rng.Perm(n) {
			part[rng.IntN(parts)].Add(looks[k])
		}
		merged := g.NewTally()
		for _, i := range rng.Perm(parts) {
			b, err := part[i].Encode()
			if err != nil {
				t.Fatal(err)
			}
			p, err := g.Decode("part", b)
			if err != nil {
				t.Fatal(err)
			}
			if err := merged.Merge(p); err != nil {
				t.Fatal(err)
			}
		}
		a, _ := whole.Encode()
		b, _ := merged.Encode()
		if !bytes.Equal(a, b) {
			t.Fatal("the merged parts differ from the whole")
		}
		if v, w := g.Judge(whole, interval.Exact(1500)), g.Judge(merged, interval.Exact(1500)); fmt.Sprintf("%+v", v) != fmt.Sprintf("%+v", w) {
			t.Fatal("the verdicts differ")
		}
		if n > 0 {
			if err := merged.Merge(whole); err == nil {
				t.Fatal("the same records count twice")
			}
		}
	})
}

func TestAStateThatCannotBeUsedIsRefused(t *testing.T) {
	g := smallField().g
	tally := g.NewTally()
	tally.Add(someLook(g, 1, simulate.Rand(1, 1)))
	good, err := tally.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := g.Decode("good", good); err != nil {
		t.Fatal(err)
	}
	broken := g.NewTally()
	broken.Add(someLook(g, 1, simulate.Rand(1, 1)))
	broken.Places[0].Across = sketch{Low: 99999, Count: []uint32{1}}
	b, err := broken.Encode()
	if err != nil {
		t.Fatal(err)
	}
	far := string(b)
	for name, bad := range map[string]string{
		"nothing":        "",
		"no state":       `{"name": "x"}`,
		"other version":  strings.Replace(string(good), `"version":3`, `"version":2`, 1),
		"another course": strings.Replace(string(good), g.print, strings.Repeat("0", len(g.print)), 1),
		"no places":      `{"version":3,"course":"` + g.print + `"}`,
		"a far bin":      far,
		"cut off":        string(good[:len(good)/2]),
	} {
		if bad == string(good) {
			t.Fatalf("%s: the case is the good one", name)
		}
		if _, err := g.Decode("bad", []byte(bad)); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
}

func FuzzDecode(f *testing.F) {
	g := smallField().g
	tally := g.NewTally()
	for k := range 2 {
		tally.Add(someLook(g, k, simulate.Rand(1, 1)))
	}
	b, err := tally.Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b[:min(len(b), 6000)])
	empty, _ := g.NewTally().Encode()
	if len(empty) < 6000 {
		f.Add(empty)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		got, err := g.Decode("fuzz", b)
		if err != nil {
			return
		}
		g.Judge(got, interval.Exact(1500)) // must not fail
		again, err := got.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := g.Decode("again", again); err != nil {
			t.Fatalf("what was read cannot be read again: %v", err)
		}
	})
}

// A sketch's quantiles lie within a bin of those of the values themselves.
func TestASketchKnowsQuantilesToABin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-39, 39), 1, 200).Draw(t, "values")
		q := rapid.Float64Range(0.01, 0.99).Draw(t, "quantile")
		var s sketch
		for _, v := range values {
			s.add(v, acrossBin, acrossEdge)
		}
		slices.Sort(values)
		want := values[min(len(values)-1, max(0, int(math.Ceil(q*float64(len(values))-1e-9))-1))]
		if got := s.quantile(q, acrossBin); math.Abs(got-want) > acrossBin+1e-9 {
			t.Fatalf("quantile %g of %v is %g, want %g", q, values, got, want)
		}
	})
}

// The bounds of the score interval solve (share-p)² = z² p(1-p)/n (Wilson 1927).
func TestTheShareHasAScoreInterval(t *testing.T) {
	for _, c := range [][2]int{{0, 10}, {1, 3}, {10, 100}, {100, 100}} {
		e := wilson(c[0], c[1])
		for _, p := range []float64{e.Low, e.High} {
			d := e.Value - p
			if r := d*d - interval.Z90*interval.Z90*p*(1-p)/float64(c[1]); math.Abs(r) > 1e-9 {
				t.Errorf("%v: bound %g leaves %g", c, p, r)
			}
		}
	}
}

// Student's t, upper 0.1 % points for 10 and 30 degrees of freedom: 4.144 and
// 3.385 (printed tables).
func TestTheLevelAllowsForWhatIsLearnt(t *testing.T) {
	for freedom, want := range map[float64]float64{10: 4.144, 30: 3.385, 1e9: 3.090} {
		if got := upper(0.001, freedom); math.Abs(got-want) > 0.05 {
			t.Errorf("upper(0.001, %g) = %g, want %g", freedom, got, want)
		}
	}
}

// One runner who turns 60 m early is told so; the others are not.
func TestARunnerWhoMissesATurnAroundIsTold(t *testing.T) {
	rng := simulate.Rand(1, 41)
	measured, ran, at, ok := planted(fault{shortBack, 60, simulate.Turnbacks}, 3000, rng)
	if !ok {
		t.Fatal("no course")
	}
	g := Lay(measured)
	for _, early := range []bool{false, true} {
		on := measured
		if early {
			on = ran
		}
		tr, err := someRunner(rng).Run(simulate.Along(on.Road, on.Line), rng)
		if err != nil {
			t.Fatal(err)
		}
		rec := simulate.TreeLined().Record(tr, simulate.Options{Plane: on.Course.Plane, Began: time.Date(2026, 9, 20, 9, 0, 0, 0, time.UTC)}, rng)
		l, err := g.Look("k", "n", record.Clean(track.Line{Segments: [][]track.Fix{rec.Fixes}}))
		if err != nil {
			t.Fatal(err)
		}
		told := false
		for _, s := range l.row.Left {
			told = told || s.How == TurnedEarly && float64(s.From) < at && at < float64(s.To)
		}
		if told != early || !early && len(l.row.Left) > 0 {
			t.Errorf("turned early %v, told %+v", early, l.row.Left)
		}
	}
}

// BenchmarkField compares going through a field with what gpxgo alone takes to
// parse the same files.
func BenchmarkField(b *testing.B) {
	s := someField(10000, 16)
	dir := b.TempDir()
	size := 0
	for k, content := range s.files {
		write(b, filepath.Join(dir, fmt.Sprintf("%d.gpx", k)), content)
		size += len(content)
	}
	b.Run("field", func(b *testing.B) {
		b.SetBytes(int64(size))
		b.ReportAllocs()
		for b.Loop() {
			src, err := Find([]string{dir})
			if err != nil {
				b.Fatal(err)
			}
			tally := s.g.NewTally()
			if _, err := s.g.Run(b.Context(), src, tally, Options{}); err != nil || tally.Records() != len(s.files) {
				b.Fatal(err, tally.Records())
			}
		}
	})
	b.Run("gpxgo alone", func(b *testing.B) {
		b.SetBytes(int64(size))
		b.ReportAllocs()
		for b.Loop() {
			var wg sync.WaitGroup
			next := make(chan []byte)
			for range 2 {
				wg.Go(func() {
					for content := range next {
						if _, err := gpx.ParseBytes(content); err != nil {
							b.Error(err)
						}
					}
				})
			}
			for _, content := range s.files {
				next <- content
			}
			close(next)
			wg.Wait()
		}
	})
}

// The shared error is a vector of the place: two stations at one place share
// it wholly when they look the same way and not at all when they look across
// each other, and far apart they do not share it (closed forms).
func TestStationsShareTheErrorAsFarAsTheyLookTheSameWay(t *testing.T) {
	east, north := orb.Point{1, 0}, orb.Point{0, 1}
	for name, c := range map[string]struct {
		second station
		want   float64 // of the mean's variance over one station's
	}{
		"the same way":      {station{dir: east}, 1},
		"across each other": {station{dir: north}, 0.5},
		"opposite ways":     {station{dir: orb.Point{-1, 0}}, 0},
		"far apart":         {station{point: orb.Point{1e5, 0}, dir: east}, 0.5},
		"75 m apart":        {station{point: orb.Point{biasLength, 0}, dir: east}, 0.5 + 0.5*2*math.Exp(-1)},
	} {
		g := &Ground{stations: []station{{dir: east}, c.second}}
		e := []edge{{left: 3, n: 50}, {left: 5, n: 60}}
		excess, sd, n := g.pool(e, []int{0, 1}, true, bias{sd: 2})
		if math.Abs(excess-4) > 1e-12 || n != 60 || math.Abs(sd*sd-4*c.want) > 1e-9 {
			t.Errorf("%s: excess %g, variance %g, records %d; want 4, %g, 60", name, excess, sd*sd, n, 4*c.want)
		}
	}
}

// What the race sheet restricts is looked at with a level of its own, on the
// side that is restricted.
func TestRestrictedEdgesAreGuarded(t *testing.T) {
	rng := simulate.Rand(2, 21)
	measured, _, at, ok := planted(fault{soundCones, 8, simulate.Corners}, 3000, rng)
	if !ok {
		t.Fatal("no course")
	}
	g := Lay(measured)
	if len(g.guards) != 1 || !g.guards[0].left || g.guards[0].from > at || g.guards[0].to < at {
		t.Fatalf("guards %+v, want the left edge around %.0f m", g.guards, at)
	}
	tally := g.NewTally()
	outside := g.NewTally()
	for k := range 40 {
		l := someLook(g, k, rng)
		far := someLook(g, 100+k, rng)
		for j, s := range g.stations {
			l.o.seen[j], far.o.seen[j] = across, across
			l.o.y[j], far.o.y[j] = (s.left+s.right)/2, (s.left+s.right)/2
			if s.at > g.guards[0].from && s.at < g.guards[0].to {
				far.o.y[j] = s.left + 9
			}
		}
		tally.Add(l)
		outside.Add(far)
	}
	if v := g.Judge(tally, interval.Exact(3000)); len(v.Findings) > 0 {
		t.Errorf("a crowd in the middle of the road: %+v", v.Findings)
	}
	v := g.Judge(outside, interval.Exact(3000))
	if len(v.Findings) != 1 || v.Findings[0].Kind != OutsideLeft {
		t.Errorf("a crowd 9 m outside the cones: %+v", v.Findings)
	}
}
