package likely

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"tautline/geo/published"
)

// Steady gains of the constant-velocity filter at 1 s. The gains are derived
// figures (Riccati iteration, checked there against a direct five-variate
// density), after Bar-Shalom, Li and Kirubarajan 2001.
func TestThePredictorHasTheSteadyGainsOfTheTextbook(t *testing.T) {
	for _, c := range []struct{ q, sigma, p, v float64 }{
		{0.1, 3, 0.36818, 0.08379},
		{0.1, 1.5, 0.47760, 0.15237},
		{1, 3, 0.55801, 0.22161},
	} {
		f := newFilter(predictor, math.Pow(c.q/c.sigma/c.sigma, 0.25))
		if math.Abs(f.a-c.p) > 2e-5 || math.Abs(f.b-c.v) > 2e-5 {
			t.Errorf("q %g, sigma %g: gains %.5f and %.5f, want %.5f and %.5f", c.q, c.sigma, f.a, f.b, c.p, c.v)
		}
	}
}

func TestEveryFilterFollowsSteadyRunningAtItsLag(t *testing.T) {
	in, out := make([]complex128, 80), make([]complex128, 80)
	for j := range in {
		in[j] = complex(3.3*float64(j), -1.2*float64(j))
	}
	for b, f := range filters {
		f.apply(in, out)
		want := in[60] - complex(f.lag, 0)*(in[1]-in[0])
		if cmplx.Abs(out[60]-want) > 1e-3 {
			t.Errorf("filter %d (kind %d, size %g) shows %v at 60 s, want %v", b, f.kind, f.size, out[60], want)
		}
	}
}

// What filters do to a circle, in closed form: a moving average multiplies the
// radius by sin(x)/x with x half the angle it spans, a first-order low pass by
// 1/sqrt(1+(w tau)^2), the smoother by 1/(1+(w/wc)^4).
func TestFiltersShrinkACircleByTheClosedForms(t *testing.T) {
	const w = 0.15 // rad/s
	in, out := make([]complex128, 400), make([]complex128, 400)
	for j := range in {
		in[j] = cmplx.Rect(10, w*float64(j))
	}
	for _, f := range filters {
		var want, tolerance float64
		switch f.kind {
		case average: // of separate seconds: the Dirichlet form of sin(x)/x
			want = math.Sin(f.size*w/2) / (f.size * math.Sin(w/2))
			tolerance = 1e-9
		case lowPass:
			want = f.a / cmplx.Abs(1-complex(1-f.a, 0)*cmplx.Rect(1, -w))
			tolerance = 1e-9
		case smoother: // its tail is cut, and seconds are not a continuum
			want, tolerance = 1/(1+math.Pow(w/f.size, 4)), 0.02
		default:
			continue
		}
		f.apply(in, out)
		if got := cmplx.Abs(out[200]) / 10; math.Abs(got-want) > tolerance {
			t.Errorf("kind %d, size %g: radius times %.5f, want %.5f", f.kind, f.size, got, want)
		}
	}
}

// The expected loudness is the mean over many windows of a simulated sound
// behind a filter; an average lets nothing through where its length is a whole
// number of periods.
func TestTheExpectedLoudnessIsThatOfASimulatedSound(t *testing.T) {
	const seed, n = 8, 200000
	rng := rand.New(rand.NewPCG(seed, 1))
	const bell = 41
	white := make([]float64, n+bell)
	for i := range white {
		white[i] = rng.NormFloat64()
	}
	for _, c := range []struct{ filter, sound int }{{0, 0}, {4, 0}, {4, 1}, {14, 2}, {18, 1}, {4, 6}} {
		f, sound := filters[c.filter], sounds[c.sound]
		in, out := make([]complex128, n), make([]complex128, n)
		x := rng.NormFloat64()
		for j := range in {
			switch sound.kind {
			case 0:
				x = rng.NormFloat64()
			case 1:
				k := math.Exp(-1 / sound.time)
				x = k*x + math.Sqrt(1-k*k)*rng.NormFloat64()
			case 4: // white noise under a bell of standard deviation time/√2
				x = 0
				for m, z := range white[j : j+bell] {
					t := float64(m - bell/2)
					x += z * math.Exp(-t*t/(sound.time*sound.time)) / math.Sqrt(sound.time*math.Sqrt(math.Pi/2))
				}
			}
			in[j] = complex(x, 0)
		}
		f.apply(in, out)
		var mean [len(tones)]float64
		var windows float64
		var d [window]float64
		for i := 100; i+window+101 < n; i += window {
			for k := range d {
				d[k] = real(out[i+k+2] - 2*out[i+k+1] + out[i+k])
			}
			for k, v := range loudness(d[:]) {
				mean[k] += v
			}
			windows++
		}
		for k, f := range tones {
			if got, want := heard()[c.filter][c.sound][k], mean[k]/windows; math.Abs(got-want) > 0.05*want+1e-9 {
				t.Errorf("seed %d: filter %d, sound %d at %.3f Hz: %g, simulated %g", seed, c.filter, c.sound, f, got, want)
			}
		}
	}
	if v := heard()[4][0]; v[4] > 0.06*v[6] {
		t.Errorf("an average of 5 s lets %g of %g through at 0.2 Hz", v[4], v[6])
	}
}

// Published second differences: white noise 6, an exponential error of 3 m and
// 60 s 0.59995 m², one of 1 m and 5 s 0.79079 m² (derived in closed form).
func TestSecondDifferencesOfKnownErrors(t *testing.T) {
	for _, c := range []struct {
		name string
		c    component
		want float64
	}{
		{"white noise, variance 1", component{kind: 0}, 6},
		{"an exponential error of 1 and 5 s", component{kind: 1, time: 5}, 0.79079},
		{"an exponential error of 1 and 60 s", component{kind: 1, time: 60}, 0.59995 / 9},
	} {
		published.Check(t, published.Figure{Source: "autocorrelation of an error", Trust: published.Exact,
			What: "second difference of " + c.name, Value: fmt.Sprintf("%.5f", c.want), Tolerance: 1e-5}, c.c.second(1))
	}
}
