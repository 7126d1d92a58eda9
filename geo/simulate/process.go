package simulate

import (
	"math"
	"math/rand/v2"
)

// drifting is a first-order Gauss–Markov process (Ornstein–Uhlenbeck) of unit
// variance: correlation exp(-|t|/tau). Discretised exactly, so a step may have
// any length. Source: Grewal, Weill and Andrews, Global Positioning Systems,
// Inertial Navigation, and Integration.
type drifting struct {
	x, tau float64
}

func newDrifting(tau float64, rng *rand.Rand) *drifting {
	return &drifting{x: rng.NormFloat64(), tau: tau}
}

func (p *drifting) step(h float64, rng *rand.Rand) {
	phi := math.Exp(-h / p.tau)
	p.x = phi*p.x + math.Sqrt(1-phi*phi)*rng.NormFloat64()
}

// wandering is a second-order critically damped Gauss–Markov process of unit
// variance: correlation (1+|t|/T) exp(-|t|/T). It has a derivative, so what it
// moves moves smoothly. Discretised exactly.
type wandering struct {
	x, dx float64 // value and its rate
	T     float64
}

func newWandering(T float64, rng *rand.Rand) *wandering {
	return &wandering{x: rng.NormFloat64(), dx: rng.NormFloat64() / T, T: T}
}

func (p *wandering) step(h float64, rng *rand.Rand) {
	// With a = h/T the rate is kept times T, which makes the stationary
	// covariance the unit matrix: F = e^-a [[1+a, a], [-a, 1-a]].
	a := h / p.T
	e := math.Exp(-a)
	f00, f01, f10, f11 := e*(1+a), e*a, -e*a, e*(1-a)
	// Q = I - F F', through its Cholesky factor. For short steps q00 is of the
	// order a^3 and the difference would lose its digits; expm1 keeps them.
	q00 := -math.Expm1(-2*a) - e*e*2*a*(1+a)
	q01 := 2 * a * a * e * e
	q11 := -math.Expm1(-2*a) + e*e*2*a*(1-a)
	l00 := math.Sqrt(max(q00, 0))
	l10 := 0.0
	if l00 > 0 {
		l10 = q01 / l00
	}
	l11 := math.Sqrt(max(q11-l10*l10, 0))
	z0, z1 := rng.NormFloat64(), rng.NormFloat64()
	y := p.dx * p.T
	p.x, y = f00*p.x+f01*y+l00*z0, f10*p.x+f11*y+l10*z0+l11*z1
	p.dx = y / p.T
}

// smoothProfile samples a wandering process of the given standard deviation
// and length at steps of the distance h.
func smoothProfile(n int, h, sd, length float64, rng *rand.Rand) []float64 {
	out := make([]float64, n)
	if sd == 0 || length == 0 {
		return out
	}
	p := newWandering(length, rng)
	for i := range out {
		out[i] = sd * p.x
		p.step(h, rng)
	}
	return out
}
