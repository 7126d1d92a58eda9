package heights

import (
	"math"
	"math/rand/v2"
)

// pace is the speed of the simulated runner who carried the sensor, m/s.
const pace = 10.0 / 3

// gaussMarkov adds first-order Gauss-Markov noise at the samples.
func gaussMarkov(r *rand.Rand, s []Sample, sd, seconds float64) {
	x := sd * r.NormFloat64()
	for i := range s {
		if i > 0 {
			phi := math.Exp(-(s[i].At - s[i-1].At) / pace / seconds)
			x = phi*x + sd*math.Sqrt(1-phi*phi)*r.NormFloat64()
		}
		s[i].Height += x
	}
}

// smoothWander adds second-order critically damped Gauss-Markov noise, by
// steps of its exact transition matrix.
func smoothWander(r *rand.Rand, s []Sample, sd, T float64) {
	x, v := sd*r.NormFloat64(), sd/T*r.NormFloat64()
	for i := range s {
		if i > 0 {
			h := (s[i].At - s[i-1].At) / pace
			e := math.Exp(-h / T)
			f00, f01, f10, f11 := e*(1+h/T), e*h, -e*h/T/T, e*(1-h/T)
			a, b := sd*sd, sd*sd/T/T
			q00 := a - f00*f00*a - f01*f01*b
			q01 := -f00*f10*a - f01*f11*b
			q11 := b - f10*f10*a - f11*f11*b
			l00 := math.Sqrt(math.Max(q00, 0))
			l10 := 0.0
			if l00 > 0 {
				l10 = q01 / l00
			}
			l11 := math.Sqrt(math.Max(0, q11-l10*l10))
			n0, n1 := r.NormFloat64(), r.NormFloat64()
			x, v = f00*x+f01*v+l00*n0, f10*x+f11*v+l10*n0+l11*n1
		}
		s[i].Height += x
	}
}

func whiteNoise(r *rand.Rand, s []Sample, sd float64) {
	for i := range s {
		s[i].Height += sd * r.NormFloat64()
	}
}

// survey samples a road at a spacing.
func survey(length, spacing float64, road func(at float64) float64) []Sample {
	var s []Sample
	for at := 0.0; at <= length; at += spacing {
		s = append(s, Sample{at, road(at)})
	}
	return s
}

// bump is a smooth hill of a rise with its crest at a chainage, width long
// from foot to foot (a raised cosine).
func bump(at, crest, width, rise float64) float64 {
	x := (at - crest) / width
	if math.Abs(x) >= 0.5 {
		return 0
	}
	return rise * (1 + math.Cos(2*math.Pi*x)) / 2
}

// barometer is a barometric error: white 0.15 m, gusts, drift of
// up to 3 m per hour, and on request pressure steps of 0.5 m in underpasses.
func barometer(r *rand.Rand, s []Sample, gusts float64, underpass bool) {
	whiteNoise(r, s, 0.15)
	gaussMarkov(r, s, gusts, 5)
	drift := (2*r.Float64() - 1) * 3 / 3600 / pace
	for i := range s {
		s[i].Height += drift * s[i].At
		if underpass {
			if in := math.Mod(s[i].At, 3000); in > 1500 && in < 1560 {
				s[i].Height += 0.5 * math.Copysign(1, drift)
			}
		}
	}
}

// satellite is a vertical satellite error in four
// surroundings, 0 to 3: a slow part of 1100 s and a wander.
func satellite(r *rand.Rand, s []Sample, surroundings int) {
	e := [4]struct{ slow, wander, T float64 }{{4, 1.5, 20}, {6, 4, 15}, {8, 8, 15}, {9.4, 15, 15}}[surroundings]
	gaussMarkov(r, s, e.slow, 1100)
	smoothWander(r, s, e.wander, e.T)
}

// tiles samples ground heights on nodes of a spacing along the course with
// node noise, rounded to metres, as bilinear interpolation of a terrain model
// along a straight road does. Bridges and cuttings are in the ground already.
func tiles(r *rand.Rand, length, spacing, node, sd float64, ground func(at float64) float64) []Sample {
	n := int(length/node) + 2
	h := make([]float64, n)
	for i := range h {
		h[i] = math.Round(ground(float64(i)*node) + sd*r.NormFloat64())
	}
	return survey(length, spacing, func(at float64) float64 {
		i := int(at / node)
		t := at/node - float64(i)
		return h[i] + t*(h[i+1]-h[i])
	})
}

// effort is the pace at a gradient relative to the flat at even effort: the
// cost of gradient of Minetti A.E. et al. 2002, J Appl Physiol 93:1039-1046,
// and downhill a third of the gain, which is within the usual cap.
func effort(g float64) float64 {
	c := ((((155.4*g-30.4)*g-43.3)*g+46.3)*g+19.5)*g + 3.6
	k := c / 3.6
	if k < 1 {
		k = 1 - (1-k)/3
	}
	return k
}

// unevenness is the greatest deviation of the pace of a kilometre from the
// flat pace, as a fraction.
func unevenness(p *Profile) float64 {
	worst := 0.0
	for km := 0.0; km+1000 <= p.Length(); km += 1000 {
		worst = math.Max(worst, math.Abs(kilometre(p, km)-1))
	}
	return worst
}

// kilometre is the mean pace of a kilometre relative to the flat, at 10 m.
func kilometre(p *Profile, from float64) float64 {
	const step = 10.0
	var sum float64
	for at := from; at < from+1000; at += step {
		sum += effort(p.MeanGradient(at, at+step)) * step / 1000
	}
	return sum
}
