package heights

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/published"
	"tautline/geo/terrain"
	"tautline/geo/track"
)

func mustNew(t testing.TB, s []Sample, length float64, o Options) *Profile {
	t.Helper()
	p, err := New(s, length, o)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func noted(p *Profile, word string) bool {
	return slices.ContainsFunc(p.Notes(), func(n string) bool { return strings.Contains(n, word) })
}

func TestACourseWithoutHeightsIsFlatAndSaysSo(t *testing.T) {
	for name, s := range map[string][]Sample{
		"no samples":  nil,
		"all missing": {{0, math.NaN()}, {500, math.NaN()}, {1000, -32768}},
		"one height":  {{200, 130}},
	} {
		p := mustNew(t, s, 1000, Options{})
		if p.Known() || p.Climb(0, 1000).High != 0 || p.Gradient(500) != 0 || !strings.Contains(p.Method(), "flat") || p.Surface(0, 1000, 990) != 990 {
			t.Errorf("%s: known %v, %v, %q", name, p.Known(), p.Climb(0, 1000), p.Method())
		}
	}
}

func TestWhatCannotBeAProfileIsAnError(t *testing.T) {
	ok := []Sample{{0, 1}, {1000, 2}}
	for name, f := range map[string]func() (*Profile, error){
		"no length":            func() (*Profile, error) { return New(ok, 0, Options{}) },
		"length NaN":           func() (*Profile, error) { return New(ok, math.NaN(), Options{}) },
		"infinite length":      func() (*Profile, error) { return New(ok, math.Inf(1), Options{}) },
		"sample off course":    func() (*Profile, error) { return New(ok, 900, Options{}) },
		"chainage NaN":         func() (*Profile, error) { return New([]Sample{{math.NaN(), 1}}, 900, Options{}) },
		"negative posting":     func() (*Profile, error) { return New(ok, 1000, Options{Posting: -1}) },
		"posting NaN":          func() (*Profile, error) { return New(ok, 1000, Options{Posting: math.NaN()}) },
		"posting out of range": func() (*Profile, error) { return New(ok, 1000, Options{Posting: math.Inf(1)}) },
	} {
		if p, err := f(); err == nil || p != nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

func TestASmoothRoadIsKept(t *testing.T) {
	const length = 8000.0
	rapid.Check(t, func(r *rapid.T) {
		base := rapid.Float64Range(0, 3000).Draw(r, "base")
		tilt := rapid.Float64Range(-0.05, 0.05).Draw(r, "tilt")
		rise := rapid.Float64Range(-60, 60).Draw(r, "rise")
		width := rapid.Float64Range(2000, 5000).Draw(r, "width")
		spacing := rapid.Float64Range(2, 40).Draw(r, "spacing")
		road := func(at float64) float64 { return base + tilt*at + bump(at, 4000, width, rise) }
		s := survey(length, spacing, road)
		before := slices.Clone(s)
		p := mustNew(t, s, length, Options{})
		if !slices.Equal(s, before) {
			r.Fatal("samples changed")
		}
		tolerance := 0.5
		if math.Abs(rise) < 2 {
			tolerance = leastRise // lower than the threshold, so levelled
		}
		for at := 0.0; at <= length-spacing; at += 97 {
			if d := p.Height(at) - road(at); math.Abs(d) > tolerance {
				r.Fatalf("off by %.2f m at %.0f\n%s %q", d, at, p.Method(), p.Notes())
			}
		}
		for at := 0.0; at+1000 <= length-spacing; at += 500 {
			g := (road(at+1000) - road(at)) / 1000
			if d := p.MeanGradient(at, at+1000) - g; math.Abs(d) > 0.0003+tolerance/1000 {
				r.Fatalf("gradient off by %.3f %% at %.0f", d*100, at)
			}
		}
	})
}

func TestSumsAgree(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		seed := rapid.Uint64().Draw(r, "seed")
		length := rapid.Float64Range(50, 20000).Draw(r, "length")
		rnd := rand.New(rand.NewPCG(seed, 5))
		s := survey(length, rapid.Float64Range(1, 90).Draw(r, "spacing"), rolling20(rnd, length))
		whiteNoise(rnd, s, rapid.Float64Range(0, 2).Draw(r, "sd"))
		p := mustNew(t, s, length, Options{})
		cuts := rapid.SliceOfN(rapid.Float64Range(0, length), 3, 3).Draw(r, "cuts")
		slices.Sort(cuts)
		a, b, c := cuts[0], cuts[1], cuts[2]
		up, down := p.Climb(a, c), p.Descent(a, c)
		if d := up.Value - down.Value - (p.Height(c) - p.Height(a)); math.Abs(d) > 1e-6 {
			r.Fatalf("climb less descent misses the rise by %v", d)
		}
		if d := p.Climb(a, b).Value + p.Climb(b, c).Value - up.Value; math.Abs(d) > 1e-6 {
			r.Fatalf("parts of a climb miss it by %v", d)
		}
		if !(0 <= up.Low && up.Low <= up.Value && up.Value <= up.High) {
			r.Fatalf("climb %v", up)
		}
		if l := p.Surface(a, c, c-a); l < (c-a)*(1-1e-4) || math.IsNaN(l) {
			r.Fatalf("surface %v of %v", l, c-a)
		}
		if g := p.Gradient(b); math.IsNaN(g) || math.Abs(g) > 1 {
			r.Fatalf("gradient %v", g)
		}
		for _, h := range p.Hills() {
			if !(h.Foot < h.Crest) || h.Rise.Value < p.threshold-1e-6 && h.Rise.Value < leastRise {
				r.Fatalf("hill %v at threshold %v", h, p.threshold)
			}
		}
	})
}

// rolling20 is a random road: gradient of 2 % standard deviation that holds
// for about 150 m, rounded off over 30 m.
func rolling20(r *rand.Rand, length float64) func(float64) float64 {
	return randomRoad(r, length, 0.02, 150)
}

func randomRoad(r *rand.Rand, length, sd, scale float64) func(float64) float64 {
	const step = 5.0
	n := int(length/step) + 3
	h := make([]float64, n)
	g, rounded := sd*r.NormFloat64(), 0.0
	phi := math.Exp(-step / scale)
	for i := 1; i < n; i++ {
		g = phi*g + sd*math.Sqrt(1-phi*phi)*r.NormFloat64()
		rounded += (g - rounded) * step / 30
		h[i] = h[i-1] + rounded*step
	}
	return func(at float64) float64 {
		i := min(int(at/step), n-2)
		return 50 + h[i] + (at/step-float64(i))*(h[i+1]-h[i])
	}
}

func TestSurfaceLengthOnAConstantGradient(t *testing.T) {
	// Closed form: sqrt(1+g^2)-1 is 0.1249 % at
	// 5 %, 0.0200 % at 2 %; h/R adds 0.0251 % at 1600 m.
	for _, c := range []struct{ gradient, base, want float64 }{{0.05, 0, 0.001249}, {0.02, 0, 0.0002}, {0, 1600, 0.000251}} {
		p := mustNew(t, survey(2000, 10, func(at float64) float64 { return c.base + c.gradient*(at-1000) }), 2000, Options{})
		published.Check(t, published.Figure{Source: "sqrt(1 + gradient²) and (R + height) / R", Trust: published.Exact,
			What: fmt.Sprintf("surface beyond map of a profile, gradient %g at %g m", c.gradient, c.base), Value: fmt.Sprintf("%.6f", c.want), Tolerance: 3e-6}, p.Surface(0, 2000, 2000)/2000-1)
		if got := p.Surface(500, 1500, 990)/990 - 1; c.base > 0 && math.Abs(got-c.want) > 3e-6 {
			t.Errorf("a shorter line: %v, want %v", got, c.want)
		}
	}
}

func TestHeightsRoundedToMetres(t *testing.T) {
	for _, c := range []struct {
		name string
		road func(float64) float64
	}{
		{"a steady 1 %", func(at float64) float64 { return 20 + at/100 }},
		{"a steady 0.1 %", func(at float64) float64 { return 20.2 + at/1000 }},
		{"a 40 m hill", func(at float64) float64 { return 20 + bump(at, 5000, 3000, 40) }},
		{"level", func(float64) float64 { return 20.4 }},
	} {
		s := survey(10_000, 5, func(at float64) float64 { return math.Round(c.road(at)) })
		p := mustNew(t, s, 10_000, Options{})
		for km := 0.0; km < 10_000; km += 1000 {
			want := 0.0
			for at := km; at < km+1000; at += 10 {
				want += math.Max(0, c.road(at+10)-c.road(at))
			}
			if got := p.Climb(km, km+1000).Value; math.Abs(got-want) > 1 {
				t.Errorf("%s: climb %.2f at %.0f, want %.2f\n%s %q", c.name, got, km, want, p.Method(), p.Notes())
			}
		}
		if c.name != "level" && !noted(p, "rounded") {
			t.Errorf("%s: no note of rounding: %q", c.name, p.Notes())
		}
	}
}

func TestMissingHeightsAreBridgedAndNoted(t *testing.T) {
	const seed = 11
	r := rand.New(rand.NewPCG(seed, 2))
	road := func(at float64) float64 { return 100 + bump(at, 3000, 2500, 40) }
	var s []Sample
	for _, x := range survey(10_000, 5, road) {
		switch {
		case x.At > 6000 && x.At < 7500:
			continue
		case r.Float64() < 0.3:
			x.Height = math.NaN()
		case r.Float64() < 0.05:
			x.Height = -9999
		}
		s = append(s, x)
	}
	p := mustNew(t, s, 10_000, Options{})
	if got := p.Climb(0, 10_000).Value; math.Abs(got-40) > 1 {
		t.Errorf("seed %d: climb %.2f, want 40: %s", seed, got, p.Method())
	}
	if !noted(p, "no usable height") || !noted(p, "no heights for 15") {
		t.Errorf("notes %q", p.Notes())
	}
}

func TestBeyondTheHeightsTheRoadIsLevel(t *testing.T) {
	var s []Sample
	for _, x := range survey(10_000, 10, func(at float64) float64 { return 100 + at/25 }) {
		if x.At >= 2000 && x.At <= 7000 {
			s = append(s, x)
		}
	}
	p := mustNew(t, s, 10_000, Options{})
	if a, b := p.Height(0), p.Height(1800); a != b || math.Abs(a-176) > 0.5 {
		t.Errorf("before the heights: %v, %v, want 176", a, b)
	}
	if a, b := p.Height(10_000), p.Height(7200); a != b || math.Abs(a-384) > 0.5 {
		t.Errorf("behind the heights: %v, %v, want 384", a, b)
	}
	if !noted(p, "no heights before 2.00 km") || !noted(p, "no heights after 7.00 km") {
		t.Errorf("%q", p.Notes())
	}
}

func TestAJumpOfTheRecordIsTakenOut(t *testing.T) {
	for seed := range uint64(10) {
		r := rand.New(rand.NewPCG(seed, 3))
		s := survey(10_000, metreSpacing, func(at float64) float64 { return 100 + bump(at, 3000, 2500, 40) })
		barometer(r, s, 0.3, false)
		for i := range s {
			if s[i].At > 6200 {
				s[i].Height += 12
			}
		}
		p := mustNew(t, s, 10_000, Options{})
		if got := p.Climb(0, 10_000).Value; math.Abs(got-40) > 3 || !noted(p, "jump of +1") {
			t.Errorf("seed %d: climb %.2f, want 40: %q", seed, got, p.Notes())
		}
	}
}

func TestAFewWildHeightsDoNotCount(t *testing.T) {
	for seed := range uint64(10) {
		r := rand.New(rand.NewPCG(seed, 4))
		s := survey(10_000, 10, func(at float64) float64 { return 100 + bump(at, 3000, 2500, 40) })
		whiteNoise(r, s, 0.5)
		for range 8 {
			s[r.IntN(len(s))].Height += 60 * (r.Float64() - 0.5)
		}
		p := mustNew(t, s, 10_000, Options{})
		if got := p.Climb(0, 10_000).Value; math.Abs(got-40) > 2 {
			t.Errorf("seed %d: climb %.2f, want 40: %q", seed, got, p.Notes())
		}
	}
}

func TestALoopsDriftIsTakenOut(t *testing.T) {
	s := survey(10_000, 5, func(at float64) float64 { return 100 + bump(at, 5000, 2500, 40) + 6*at/10_000 })
	open, loop := mustNew(t, s, 10_000, Options{}), mustNew(t, s, 10_000, Options{Loop: true})
	if d := open.Height(10_000) - open.Height(0); math.Abs(d-6) > 0.3 {
		t.Errorf("open course: %.2f m between the ends, want 6", d)
	}
	if d := loop.Height(10_000) - loop.Height(0); math.Abs(d) > 0.3 || !noted(loop, "drift") {
		t.Errorf("loop: %.2f m between the ends: %q", d, loop.Notes())
	}
	if d := mustNew(t, s, 10_000, Options{Loop: true, Posting: 30}); noted(d, "drift") {
		t.Errorf("terrain does not drift: %q", d.Notes())
	}
}

// A drawn course has its points far apart: a hill that begins at the start line
// is no drift.
func TestNoiseAtTheEndsOfALoopIsNoDrift(t *testing.T) {
	said := 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 3))
		s := survey(10_000, 20, func(at float64) float64 { return 50 + bump(at, 5000, 2500, 40) + rng.NormFloat64() })
		if noted(mustNew(t, s, 10_000, Options{Loop: true}), "drift") {
			said++
		}
	}
	// A tenth of 40 is to be expected, and 12 hardly ever: by the binomial
	// distribution once in 2000 times. Heights near the ends are averaged, so
	// there should be fewer.
	if said > 11 {
		t.Errorf("%d of 40 loops without drift are said to have some", said)
	}
}

func TestAHillAtTheStartOfADrawnLoopIsNoDrift(t *testing.T) {
	var s []Sample
	for at := 0.0; at <= 10_000; at += 50 {
		s = append(s, Sample{at, 50 + 40*math.Sin(2*math.Pi*at/10_000)})
	}
	if p := mustNew(t, s, 10_000, Options{Loop: true}); noted(p, "drift") {
		t.Errorf("noted %q", p.Notes())
	}
}

func TestRollersAreHillsNotNoise(t *testing.T) {
	// A whole course of rollers, which has no long hills at all, must not be
	// mistaken for the wander of a satellite receiver.
	for _, c := range []struct {
		name         string
		rise, length float64
		sd           float64
	}{{"8 m over 300 m", 8, 300, 1}, {"4 m over 200 m", 4, 200, 0.5}, {"12 m over 600 m", 12, 600, 1}} {
		for seed := range uint64(6) {
			r := rand.New(rand.NewPCG(seed, 6))
			s := survey(20_000, metreSpacing, func(at float64) float64 { return 50 + c.rise/2*math.Cos(2*math.Pi*at/c.length) })
			whiteNoise(r, s, c.sd)
			p := mustNew(t, s, 20_000, Options{})
			want := c.rise * 20_000 / c.length
			if got := p.Climb(0, 20_000); math.Abs(got.Value/want-1) > 0.08 {
				t.Errorf("%s, seed %d: climb %.0f, want %.0f: %s", c.name, seed, got.Value, want, p.Method())
			}
		}
	}
}

func TestIntervalsOfClimbHoldTheTruth(t *testing.T) {
	const length, seeds = 10_000.0, 40
	for _, k := range sensors()[1:5] {
		for _, road := range []struct{ sd, scale float64 }{{0.01, 200}, {0.03, 200}} {
			held, ratio := 0, 0.0
			for seed := range uint64(seeds) {
				f := randomRoad(rand.New(rand.NewPCG(seed, 8)), length, road.sd, road.scale)
				p := profile(t, k, seed, length, f)
				truth := 0.0
				for at := 0.0; at < length; at += 5 {
					truth += math.Max(0, f(at+5)-f(at))
				}
				e := p.Climb(0, length)
				ratio += e.Value / truth / seeds
				if e.Holds(truth) {
					held++
				}
			}
			t.Logf("%s, gradients of %.0f %% over %.0f m: %.0f %% of the true climb counted, interval held %d of %d", k.name, road.sd*100, road.scale, ratio*100, held, seeds)
			// Nine in ten, less three standard errors of a count of 40.
			if held < 30 {
				t.Errorf("%s, %v: held %d of %d", k.name, road, held, seeds)
			}
		}
	}
}

func TestCoursesFromDrawingsAndTiles(t *testing.T) {
	// An invented course: a square of 1.1 km sides in tile N46E007, with
	// terrain that rises 1 m for every 100 m north.
	var fixes []track.Fix
	for _, q := range []earth.LatLon{{Lat: 46.5, Lon: 7.5}, {Lat: 46.5, Lon: 7.514}, {Lat: 46.51, Lon: 7.514}, {Lat: 46.51, Lon: 7.5}, {Lat: 46.5, Lon: 7.5}} {
		fixes = append(fixes, track.Fix{At: q, Height: 400 + (q.Lat-46.5)*111_150/100})
	}
	c, err := course.New("square", fixes)
	if err != nil {
		t.Fatal(err)
	}
	drawn, err := FromCourse(c)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	const side = 1201
	b := make([]byte, 2*side*side)
	for row := range side {
		h := int16(math.Round(400 + (float64(side-1-row)/1200-0.5)*111_150/100))
		for col := range side {
			binary.BigEndian.PutUint16(b[2*(row*side+col):], uint16(h))
		}
	}
	if err := os.WriteFile(filepath.Join(dir, terrain.Name(46, 7)), b, 0o600); err != nil {
		t.Fatal(err)
	}
	seen, err := FromTerrain(c, dir)
	if err != nil {
		t.Fatal(err)
	}
	for name, p := range map[string]*Profile{"drawn": drawn, "tiles": seen} {
		if !p.Known() {
			t.Fatalf("%s: not known", name)
		}
		if got := p.Climb(0, c.Length()).Value; math.Abs(got-11.1) > 1 {
			t.Errorf("%s: climb %.2f, want 11.1: %s %q", name, got, p.Method(), p.Notes())
		}
	}
	if !strings.Contains(seen.Method(), "terrain") {
		t.Error(seen.Method())
	}
	for i := range fixes {
		fixes[i].At.Lat += 0.4965 // over the northern edge, where no tile is
	}
	across, err := course.New("across", fixes)
	if err != nil {
		t.Fatal(err)
	}
	p, err := FromTerrain(across, dir)
	if err != nil || !noted(p, "N47E007.hgt") {
		t.Errorf("%v %v", p, err)
	}
	if _, err := FromTerrain(across, t.TempDir()); err == nil {
		t.Error("a folder without tiles was accepted")
	}
}

func FuzzNew(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 5, 6, 7, 8}, 100.0)
	f.Add([]byte("steps and jumps of a record"), 4000.0)
	f.Add(slices.Repeat([]byte{0, 200, 0}, 300), 900.0)
	f.Add([]byte("0\x80\xff\xff\xff"), 3275.0)             // a cliff, then nothing
	f.Add([]byte("\xff\xff\xff\x80h"), 108.71428571428572) // nothing, then a cliff
	f.Fuzz(func(t *testing.T, b []byte, length float64) {
		if len(b) > 4000 || length > 1e7 {
			return
		}
		var s []Sample
		for i, v := range b {
			h := float64(int8(v)) * 3
			if v == 255 {
				h = math.NaN()
			}
			s = append(s, Sample{length * float64(i) / float64(len(b)), h})
		}
		p, err := New(s, length, Options{Posting: 30 * float64(len(b)%4), Loop: len(b)%2 == 0})
		if err != nil {
			return
		}
		for i := range 20 {
			at := length * float64(i) / 19
			if h := p.Height(at); math.IsNaN(h) || math.Abs(h) > 2000 {
				t.Fatalf("height %v at %v: %s", h, at, p.Method())
			}
		}
		if e := p.Climb(0, length); !(e.Low <= e.Value && e.Value <= e.High) || math.IsInf(e.High, 0) {
			t.Fatalf("climb %v: %s", e, p.Method())
		}
	})
}
