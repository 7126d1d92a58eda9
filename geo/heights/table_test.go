package heights

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// sensor is a kind of error that a road's heights come with.
type sensor struct {
	name    string
	options Options
	samples func(r *rand.Rand, length float64, road func(at float64) float64) []Sample
	// meets says that the kind must keep a flat course flat within 0.5 % of
	// pace and 1 m of climb in every kilometre and a 40 m hill within 5 %.
	// What the others do is logged, and loosely bounded by the median.
	meets bool
}

// adding makes samples of the road at a spacing and adds an error to them.
func adding(spacing float64, add func(r *rand.Rand, s []Sample)) func(*rand.Rand, float64, func(float64) float64) []Sample {
	return func(r *rand.Rand, length float64, road func(float64) float64) []Sample {
		s := survey(length, spacing, road)
		add(r, s)
		return s
	}
}

// spanned is the ground that terrain tiles show of a road with bridges over
// 15 m deep gaps of 120 m, cuttings 8 m deep through 80 m, and underpasses
// whose roof, 6 m up over 40 m, is all that was seen.
func spanned(road func(float64) float64) func(float64) float64 {
	return func(at float64) float64 {
		h := road(at)
		switch in := math.Mod(at, 3000); {
		case in > 600 && in < 720:
			h -= 15
		case in > 1600 && in < 1680:
			h += 8
		case in > 2400 && in < 2440:
			h += 6
		}
		return h
	}
}

const metreSpacing = 10.0 / 3 // of a fix a second at 5:00 per km

func sensors() []sensor {
	tile := func(node, sd float64) func(*rand.Rand, float64, func(float64) float64) []Sample {
		return func(r *rand.Rand, l float64, road func(float64) float64) []Sample {
			return tiles(r, l, 10, node, sd, road)
		}
	}
	bridges := func(r *rand.Rand, l float64, road func(float64) float64) []Sample {
		return tiles(r, l, 10, 30, 0.5, spanned(road))
	}
	sat := func(k int) func(*rand.Rand, float64, func(float64) float64) []Sample {
		return adding(metreSpacing, func(r *rand.Rand, s []Sample) { satellite(r, s, k) })
	}
	return []sensor{
		{"no noise", Options{}, adding(metreSpacing, func(*rand.Rand, []Sample) {}), true},
		{"white 1 m every 3 m", Options{}, adding(metreSpacing, func(r *rand.Rand, s []Sample) { whiteNoise(r, s, 1) }), true},
		{"white 1 m every 20 m", Options{}, adding(20, func(r *rand.Rand, s []Sample) { whiteNoise(r, s, 1) }), true},
		{"barometer, open road", Options{}, adding(metreSpacing, func(r *rand.Rand, s []Sample) { barometer(r, s, 0.3, false) }), true},
		{"barometer, gusts, underpass steps", Options{}, adding(metreSpacing, func(r *rand.Rand, s []Sample) { barometer(r, s, 0.6, true) }), true},
		{"tiles 30 m, bridges and cuttings", Options{}, bridges, true},
		{"the same, posting given", Options{Posting: 30}, bridges, true},
		{"tiles 30 m, 1 m", Options{}, tile(30, 1), true},
		{"tiles 90 m, 1 m, posting given", Options{Posting: 90}, tile(90, 1), false},
		{"satellite, open road", Options{}, sat(0), false},
		{"satellite, trees", Options{}, sat(1), false},
		{"satellite, houses", Options{}, sat(2), false},
		{"satellite, canyon", Options{}, sat(3), false},
	}
}

func quantiles(v []float64) (low, middle, high float64) {
	slices.Sort(v)
	n := len(v)
	return v[n/20], v[n/2], v[n-1-n/20]
}

// TestWhatNoiseLeaves is the account of the method by kind of noise. Run it
// with -v to see the figures.
func TestWhatNoiseLeaves(t *testing.T) {
	const length, seeds = 10_000.0, 50
	level := func(float64) float64 { return 50 }
	hills := []struct {
		name        string
		width, rise float64
		seeds       int
	}{{"40 m hill over 2 km", 2000, 40, seeds}, {"20 m hill over 400 m", 400, 20, 10}}
	t.Logf("seeds (1..%d, 77); 10 km; 5 %%, 50 %%, 95 %% of the seeds unless said", seeds)
	for _, k := range sensors() {
		var climb, pace []float64
		worstClimb, worstPace := 0.0, 0.0
		for seed := range uint64(seeds) {
			p := profile(t, k, seed+1, length, level)
			for km := 0.0; km < length; km += 1000 {
				worstClimb = math.Max(worstClimb, p.Climb(km, km+1000).Value)
			}
			climb = append(climb, p.Climb(0, length).Value/length*1000)
			u := unevenness(p)
			pace = append(pace, u*100)
			worstPace = math.Max(worstPace, u)
			if k.meets && (u >= 0.005 || climb[seed] >= 1) {
				t.Errorf("%s, seed %d: flat course with %.2f m of climb per km, pace uneven by %.2f %%\n%s %q", k.name, seed+1, climb[seed], u*100, p.Method(), p.Notes())
			}
		}
		_, mc, hc := quantiles(climb)
		_, mp, hp := quantiles(pace)
		text := fmt.Sprintf("%-36s flat: climb per km median %.2f, 95 %% %.2f, worst km %.2f; worst km's pace median %.2f %%, 95 %% %.2f %%, worst %.2f %%", k.name, mc, hc, worstClimb, mp, hp, worstPace*100)
		if mc > 1 || mp > 0.5 {
			t.Errorf("%s: median climb %.2f m per km, pace %.2f %%", k.name, mc, mp)
		}
		for _, hill := range hills {
			var rises []float64
			found := 0
			for seed := range uint64(hill.seeds) {
				p := profile(t, k, seed+1, length, func(at float64) float64 { return 50 + bump(at, 5000, hill.width, hill.rise) })
				rise := p.Climb(5000-hill.width/2-100, 5000+100).Value
				rises = append(rises, rise/hill.rise*100)
				for _, h := range p.Hills() {
					if h.Foot < 5000 && math.Abs(h.Crest-5000) < hill.width/4 && math.Abs(h.Rise.Value-hill.rise) < 0.2*hill.rise {
						found++
						break
					}
				}
				if k.meets && hill.rise == 40 && math.Abs(rise-40) > 2 {
					t.Errorf("%s, seed %d: the 40 m hill is %.1f m high\n%s %q", k.name, seed+1, rise, p.Method(), p.Notes())
				}
			}
			if k.meets && found < hill.seeds*9/10 {
				t.Errorf("%s: the %s named in %d of %d", k.name, hill.name, found, hill.seeds)
			}
			l, m, h := quantiles(rises)
			text += fmt.Sprintf("; %s: %.0f %.0f %.0f %%, named %d/%d", hill.name, l, m, h, found, hill.seeds)
		}
		t.Log(text)
	}
}

func profile(t testing.TB, k sensor, seed uint64, length float64, road func(float64) float64) *Profile {
	t.Helper()
	p, err := New(k.samples(rand.New(rand.NewPCG(seed, 77)), length, road), length, k.options)
	if err != nil {
		t.Fatal(err)
	}
	return p
}
