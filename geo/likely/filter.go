package likely

import (
	"math"
	"sync"
)

// kind is a kind of filter that a receiver may put its fixes through.
type kind int

const (
	unfiltered kind = iota
	average         // moving average of the last seconds
	lowPass         // first-order low pass
	predictor       // constant-velocity filter in its steady state, forwards
	smoother        // the same, forwards and backwards
)

// filter is one filter of the library that a record is compared with.
type filter struct {
	kind kind
	size float64 // s for averages and low passes; cut-off in rad/s for the others
	lag  float64 // s that the filter runs behind on a straight
	a, b float64 // gains of the predictor
	taps []float64
}

const (
	nFilters = 20
	// runUp is how many seconds before a turn a filter is started, so that it
	// has forgotten how.
	runUp = 25
)

// filters is the library: nothing, averages, low passes and constant-velocity
// filters over the range that keeps a runner's track recognisable.
var filters = [nFilters]filter{
	{},
	newFilter(average, 2), newFilter(average, 3), newFilter(average, 4), newFilter(average, 5), newFilter(average, 6), newFilter(average, 8), newFilter(average, 10),
	newFilter(lowPass, 1.5), newFilter(lowPass, 3),
	newFilter(predictor, 0.22), newFilter(predictor, 0.28), newFilter(predictor, 0.35), newFilter(predictor, 0.43),
	newFilter(predictor, 0.54), newFilter(predictor, 0.68), newFilter(predictor, 0.85),
	newFilter(smoother, 0.35), newFilter(smoother, 0.55), newFilter(smoother, 0.85),
}

func newFilter(k kind, size float64) filter {
	f := filter{kind: k, size: size}
	switch k {
	case average:
		f.lag = (size - 1) / 2
	case lowPass:
		f.a = 1 - math.Exp(-1/size)
		f.lag = (1 - f.a) / f.a
	case predictor:
		// Steady gains of the constant-velocity filter by iteration of its
		// covariance with unit measurement noise and acceleration noise of
		// spectral density size^4, at 1 s (Bar-Shalom, Li and Kirubarajan 2001).
		q := size * size * size * size
		pp, pv, vv := 1.0, 0.0, 1.0
		for range 400 {
			mp, mpv, mvv := pp+2*pv+vv+q/3, pv+vv+q/2, vv+q
			f.a, f.b = mp/(mp+1), mpv/(mp+1)
			pp, pv, vv = (1-f.a)*mp, (1-f.a)*mpv, mvv-f.b*mpv
		}
	case smoother:
		// The continuous smoother's response, w/(2 sqrt 2) exp(-w|t|/sqrt 2)
		// (cos + sin)(w|t|/sqrt 2), at whole seconds.
		for t := range 25 {
			x := size * float64(t) / math.Sqrt2
			f.taps = append(f.taps, math.Exp(-x)*(math.Cos(x)+math.Sin(x)))
		}
		sum := f.taps[0]
		for _, v := range f.taps[1:] {
			sum += 2 * v
		}
		for t := range f.taps {
			f.taps[t] /= sum
		}
	}
	return f
}

// apply filters positions at whole seconds. It starts as if the motion before
// the first had been steady.
func (f filter) apply(in, out []complex128) {
	v := in[1] - in[0]
	at := func(j int) complex128 {
		switch n := len(in) - 1; {
		case j < 0:
			return in[0] + complex(float64(j), 0)*v
		case j > n:
			return in[n] + complex(float64(j-n), 0)*(in[n]-in[n-1])
		}
		return in[j]
	}
	switch f.kind {
	case unfiltered:
		copy(out, in)
	case average:
		n := int(f.size)
		var sum complex128
		for j := -n; j < 0; j++ {
			sum += at(j)
		}
		for j := range in {
			sum += in[j] - at(j-n)
			out[j] = sum / complex(float64(n), 0)
		}
	case lowPass:
		a := complex(f.a, 0)
		p := in[0] - complex(f.lag, 0)*v
		for j := range in {
			if j > 0 {
				p += a * (in[j] - p)
			}
			out[j] = p
		}
	case predictor:
		a, b := complex(f.a, 0), complex(f.b, 0)
		p := in[0]
		out[0] = p
		for j := 1; j < len(in); j++ {
			p += v
			r := in[j] - p
			p += a * r
			v += b * r
			out[j] = p
		}
	case smoother:
		for j := range in {
			s := in[j] * complex(f.taps[0], 0)
			for t := 1; t < len(f.taps); t++ {
				s += (at(j-t) + at(j+t)) * complex(f.taps[t], 0)
			}
			out[j] = s
		}
	}
}

// sounds are the errors that a receiver's filter may have worked on, from white
// ones to some as smooth as if they had been filtered already: behind those a
// filter cannot be heard.
var sounds = [...]component{
	{kind: 0}, {kind: 1, time: 4}, {kind: 1, time: 1.5}, {kind: 2, time: 15}, {kind: 1, time: 60},
	{kind: 4, time: 2}, {kind: 4, time: 4}, {kind: 4, time: 8}, {kind: 4, time: 15},
}

// tones are the frequencies in Hz, of fixes every second, at which the sound of
// a record is compared: those where averages of 3, 5 and 8 s let nothing
// through, and some between.
var tones = [...]float64{0.05, 0.1, 0.125, 0.15, 0.2, 0.25, 0.3, 1. / 3, 0.375, 0.4, 0.45, 0.5}

// window is how many second differences are looked at together. The sine taper
// over them keeps the tones apart by a twentieth of a hertz.
const window = 24

var taper = func() (w [window]float64) {
	for i := range w {
		w[i] = math.Sin(math.Pi*float64(i+1)/(window+1)) * math.Sqrt(2./(window+1))
	}
	return w
}()

// loudness is the power of a window of second differences at each tone.
func loudness(d []float64) (out [len(tones)]float64) {
	for k, f := range tones {
		var re, im float64
		for i, x := range d {
			sin, cos := math.Sincos(2 * math.Pi * f * float64(i))
			re += taper[i] * x * cos
			im += taper[i] * x * sin
		}
		out[k] = re*re + im*im
	}
	return out
}

// heard is the expected loudness of each sound, of unit variance, behind each
// filter. The last is rounding, which comes behind the filter. It is worked out
// when a record is first listened to: most runs of the program never do.
var heard = sync.OnceValue(func() *[nFilters][len(sounds) + 1][len(tones)]float64 {
	var out [nFilters][len(sounds) + 1][len(tones)]float64
	const long = 64 // s after which every filter has forgotten
	var lagged [window]float64
	for m := range lagged {
		for i := m; i < window; i++ {
			lagged[m] += taper[i] * taper[i-m]
		}
	}
	expected := func(covariance func(k int) float64) (power [len(tones)]float64) {
		second := func(m int) float64 {
			at := func(k int) float64 { return covariance(max(k, -k)) }
			return 6*at(m) - 4*(at(m-1)+at(m+1)) + at(m-2) + at(m+2)
		}
		var seconds [window]float64
		for m := range seconds {
			seconds[m] = second(m)
		}
		for k, f := range tones {
			power[k] = lagged[0] * seconds[0]
			for m := 1; m < window; m++ {
				power[k] += 2 * lagged[m] * seconds[m] * math.Cos(2*math.Pi*f*float64(m))
			}
		}
		return power
	}
	for b, f := range filters {
		in, h := make([]complex128, 3*long), make([]complex128, 3*long)
		in[long] = 1
		f.apply(in, h)
		response := make([]float64, 2*long) // smoothers answer before they are asked
		for i := range response {
			response[i] = real(h[long/2+i])
		}
		var auto [long + 1]float64
		for m := range auto {
			for i := 0; i+m < len(response); i++ {
				auto[m] += response[i] * response[i+m]
			}
		}
		for c, sound := range sounds {
			out[b][c] = expected(func(k int) float64 {
				v := auto[0] * sound.correlation(float64(k))
				for m := 1; m <= long; m++ {
					v += auto[m] * (sound.correlation(math.Abs(float64(k-m))) + sound.correlation(float64(k+m)))
				}
				return v
			})
		}
		out[b][len(sounds)] = expected(component{}.at)
	}
	return &out
})

// mostRounding is the variance in m² of positions with six decimals of a degree.
const mostRounding = 0.11 * 0.11 / 12

// still is the variance in m² of white noise of half a centimetre, as rounding
// to seven decimals leaves it. What is no louder says nothing of a filter.
const still = 0.005 * 0.005

// drawn is the mean square in m² of second differences over 4 s below which a
// record moves more steadily than any receiver's: it was drawn, or worked out,
// and nobody filters what has no error.
const drawn = 0.004

// hear says how likely each filter is, as the logarithm of a likelihood, by
// the mean loudness of so many windows at the tones, and by the mean squares of
// the second differences over 1 s and over 4 s, m².
func hear(power [len(tones)]float64, windows, quick, slow float64) (out [nFilters]float64) {
	// How far, as a logarithm, a real receiver's errors may be from the sounds.
	const apart = 0.1
	// What changes from second to second is what every filter takes out first.
	// White noise alone has 1; rounding behind a filter comes near it.
	const rough, rounded, plain = 0.2, 0.5, 30.0
	// Windows overlap by half.
	doubt := apart*apart + 1/(0.8*windows)
	expected := heard()
	for k := range power {
		power[k] += still * expected[0][0][k]
	}
	for b := range filters {
		var v [len(sounds) + 1]float64
		fit := func(k int) (sum float64) {
			sum = still * expected[0][0][k]
			for c := range v {
				sum += v[c] * expected[b][c][k]
			}
			return sum
		}
		for range 200 {
			for c := range v {
				var num, den float64
				for k, obs := range power {
					a := expected[b][c][k] / obs
					num += a * (1 - (fit(k)-v[c]*expected[b][c][k])/obs)
					den += a * a
				}
				v[c] = math.Max(0, num/den)
			}
			v[len(sounds)] = math.Min(v[len(sounds)], mostRounding)
		}
		for k, obs := range power {
			z := math.Log(math.Max(fit(k), 1e-12) / obs)
			out[b] -= z * z / doubt / 2
		}
	}
	// An error that is none of the sounds says little; let the turns speak then.
	const most = 40.0
	loudest := math.Inf(-1)
	for _, v := range out {
		loudest = math.Max(loudest, v)
	}
	// When not even the best of them is right, the others are no more wrong
	// than that.
	scale := math.Max(1, -2*loudest/float64(len(tones)-3))
	for b, v := range out {
		out[b] = math.Max((v-loudest)/scale, -most)
		if b > 0 && (slow < drawn || quick > rough*slow && quick < rounded*slow) {
			out[b] -= plain
		}
	}
	return out
}
