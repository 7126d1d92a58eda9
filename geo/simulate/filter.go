package simulate

import "math"

// Filter is what a receiver does to its fixes before it writes them down. The
// zero Filter does nothing. A Filter is a value.
type Filter struct {
	window   float64 // s, moving average
	q, sigma float64 // Kalman filter
	smoother bool
}

// MovingAverage averages the fixes of the last seconds. Like every filter that
// cannot see ahead it lags, by half its window.
func MovingAverage(seconds float64) Filter { return Filter{window: seconds} }

// Kalman is the forward filter of a constant-velocity model with acceleration
// noise of spectral density q (m²/s³) and a position error of sigma metres per
// axis that the receiver believes to be white. Source: Bar-Shalom, Li and
// Kirubarajan, Estimation with Applications to Tracking and Navigation, 2001.
func Kalman(q, sigma float64) Filter { return Filter{q: q, sigma: sigma} }

// KalmanSmoother is the same model run forwards and backwards, as done after a
// run: Rauch, Tung and Striebel 1965, AIAA J. 3(8), 1445–1450.
func KalmanSmoother(q, sigma float64) Filter { return Filter{q: q, sigma: sigma, smoother: true} }

// apply filters one coordinate of the fixes; NaN is a missing fix and stays
// missing.
func (f Filter) apply(times, values []float64) []float64 {
	switch {
	case f.window > 0:
		return averaged(times, values, f.window)
	case f.q > 0:
		return f.kalman(times, values)
	}
	return append([]float64(nil), values...)
}

func averaged(times, values []float64, window float64) []float64 {
	out := make([]float64, len(values))
	sum, n, first := 0.0, 0, 0
	for k, v := range values {
		if !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
		for ; times[first] <= times[k]-window+1e-9; first++ {
			if !math.IsNaN(values[first]) {
				sum, n = sum-values[first], n-1
			}
		}
		out[k] = math.NaN()
		if !math.IsNaN(v) {
			out[k] = sum / float64(n)
		}
	}
	return out
}

// belief is a position and velocity with their covariance.
type belief struct{ p, v, pp, pv, vv float64 }

func (b belief) predict(h, q float64) belief {
	return belief{
		p: b.p + h*b.v, v: b.v,
		pp: b.pp + h*(2*b.pv+h*b.vv) + q*h*h*h/3,
		pv: b.pv + h*b.vv + q*h*h/2,
		vv: b.vv + q*h,
	}
}

func (b belief) update(z, r float64) belief {
	s := b.pp + r
	kp, kv := b.pp/s, b.pv/s
	nu := z - b.p
	return belief{
		p: b.p + kp*nu, v: b.v + kv*nu,
		pp: b.pp * (1 - kp), pv: b.pv * (1 - kp), vv: b.vv - kv*b.pv,
	}
}

func (f Filter) kalman(times, values []float64) []float64 {
	const speed = 4 // m/s, what is thought of the velocity at first
	r := f.sigma * f.sigma
	n := len(values)
	predicted, filtered := make([]belief, n), make([]belief, n)
	begun := false
	var b belief
	for k, z := range values {
		switch {
		case begun:
			b = b.predict(times[k]-times[k-1], f.q)
			predicted[k] = b
			if !math.IsNaN(z) {
				b = b.update(z, r)
			}
		case !math.IsNaN(z):
			b = belief{p: z, pp: r, vv: speed * speed}
			begun, predicted[k] = true, b
		}
		filtered[k] = b
	}
	out := make([]float64, n)
	for k := n - 1; k >= 0; k-- {
		if f.smoother && k+1 < n && begun {
			filtered[k] = filtered[k].smooth(predicted[k+1], filtered[k+1], times[k+1]-times[k])
		}
		out[k] = filtered[k].p
		if math.IsNaN(values[k]) {
			out[k] = math.NaN()
		}
	}
	return out
}

// smooth is one backward step: next is what was predicted for, and what is
// known after all fixes about, the following moment.
func (b belief) smooth(predicted, known belief, h float64) belief {
	det := predicted.pp*predicted.vv - predicted.pv*predicted.pv
	if det <= 0 {
		return b
	}
	// G = P F' (P-)^-1, with P F' = [[pp+h pv, pv], [pv+h vv, vv]].
	a00, a01, a10, a11 := b.pp+h*b.pv, b.pv, b.pv+h*b.vv, b.vv
	g00 := (a00*predicted.vv - a01*predicted.pv) / det
	g01 := (a01*predicted.pp - a00*predicted.pv) / det
	g10 := (a10*predicted.vv - a11*predicted.pv) / det
	g11 := (a11*predicted.pp - a10*predicted.pv) / det
	dp, dv := known.p-predicted.p, known.v-predicted.v
	d00, d01, d11 := known.pp-predicted.pp, known.pv-predicted.pv, known.vv-predicted.vv
	return belief{
		p: b.p + g00*dp + g01*dv, v: b.v + g10*dp + g11*dv,
		pp: b.pp + g00*(d00*g00+d01*g01) + g01*(d01*g00+d11*g01),
		pv: b.pv + g00*(d00*g10+d01*g11) + g01*(d01*g10+d11*g11),
		vv: b.vv + g10*(d00*g10+d01*g11) + g11*(d01*g10+d11*g11),
	}
}
