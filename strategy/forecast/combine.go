package forecast

import (
	"math"
	"slices"

	"tautline/geo/interval"
	"tautline/strategy/quantity"
)

// Variation that the widths are made of, as shares of time, one standard
// deviation. The first three are published; the others are our own, chosen so
// that a single race comes out at least as wide as the usual conversion bands
// (5 to 10 km 2.5 %, 10 km to half 3 %, half to marathon 5 %, 5 and 10 km to
// marathon 7 %) and near the published error at the marathon.
const (
	// Race-to-race variation of one runner, fastest quartile of men: road
	// races 1.2 to 1.9 %, half 2.7 to 4.2 %, marathon 2.6 % (Hopkins and Hewson
	// 2001, Med Sci Sports Exerc 33:1588-1592). The low end at the half, since
	// the published error of marathon forecasts leaves no room for more.
	roadCV     = 0.016
	halfCV     = 0.027
	marathonCV = 0.026

	// The slower half of runners is 1.0 to 2.3 times as variable (same source).
	slowFactor = 1.4
	fastIndex  = 60.0 // fitness index from which the factor is 1
	slowIndex  = 45.0 // and down to which it grows

	exponentSD = 0.024 // of the personal exponent between runners
	shapeSD    = 0.008 // of a personal bend of the curve
	shapeReach = 0.7   // over this much of the logarithm of distance
	lateSD     = 0.035 // of the personal loss between half and marathon
	weeklySD   = 0.020 // more, when the weekly distance is not known
	driftSD    = 0.005 // of fitness, per square root of a week
)

const (
	upToHalf = 22000.0 // m, a half marathon and a little

	// MostDistance is the longest goal and the longest race that is used, m.
	MostDistance = 1.1 * quantity.Marathon
	// LeastDistance is the shortest of both, m.
	LeastDistance = 1500.0
	// LeastSpeed and GreatestSpeed bound the evidence, m/s: slower is walking,
	// faster is a slip. Our own choice.
	LeastSpeed    = 1.25
	GreatestSpeed = 7.5
)

// late is 0 up to the half marathon and grows on the logarithm of distance to 1
// at the marathon.
func late(distance float64) float64 {
	return math.Max(0, math.Log(distance/upToHalf)/math.Log(quantity.Marathon/upToHalf))
}

// variation is the race-to-race standard deviation of a runner with a fitness
// index, as a share of time.
func variation(distance, index float64) float64 {
	x := math.Log(distance)
	at := []float64{math.Log(15000), math.Log(quantity.HalfMarathon), math.Log(quantity.Marathon)}
	cv := []float64{roadCV, halfCV, marathonCV}
	v := cv[0]
	switch {
	case x >= at[2]:
		v = cv[2]
	case x > at[1]:
		v = cv[1] + (cv[2]-cv[1])*(x-at[1])/(at[2]-at[1])
	case x > at[0]:
		v = cv[0] + (cv[1]-cv[0])*(x-at[0])/(at[1]-at[0])
	}
	slow := math.Max(0, math.Min(1, (fastIndex-index)/(fastIndex-slowIndex)))
	return v * (1 + (slowFactor-1)*slow)
}

// short carries a race to another distance where the power law is well
// calibrated: the mean of it and of Daniels and Gilbert.
func short(p Performance, distance float64) float64 {
	law := PowerLaw{GeneralExponent}.Time(p, distance)
	var m DanielsGilbert1979
	other := m.Time(m.Index(p), distance)
	if math.IsNaN(other) {
		return law
	}
	return math.Sqrt(law * other)
}

// carry is the time for another distance that one race says: up to the half
// marathon by short, to the marathon by Vickers and Vertosick, between them in
// proportion to the logarithm of distance. From longer races to shorter it is
// the same way back.
func carry(p Performance, distance, weekly float64) float64 {
	switch {
	case p.Distance == distance:
		return p.Time
	case p.Distance <= upToHalf && distance <= upToHalf:
		return short(p, distance)
	case p.Distance <= upToHalf:
		var m VickersVertosick2016
		return short(p, distance) * math.Pow(m.OneRace(p, weekly)/short(p, quantity.Marathon), late(distance))
	case distance <= upToHalf:
		return root(distance/12, distance/0.3, func(t float64) float64 {
			return carry(Performance{distance, t}, p.Distance, weekly) - p.Time
		})
	}
	half := Performance{quantity.HalfMarathon, carry(p, quantity.HalfMarathon, weekly)}
	return carry(half, distance, weekly)
}

// sample is one piece of evidence.
type sample struct {
	Performance
	weeks float64 // before the goal race
	own   float64 // standard deviation that only it has, as a share
}

// setting is what the samples are to tell.
type setting struct {
	distance    float64
	weekly      float64
	weeklyKnown bool
	workouts    bool // the samples are workouts, which share their error
}

// pieces are the parts of the variance, as shares squared.
type pieces struct {
	day, own, drift, slope, late, shared, models float64
}

func (p pieces) sum() float64 {
	return p.day + p.own + p.drift + p.slope + p.late + p.shared + p.models
}

// combined is the best linear unbiased forecast from all samples.
type combined struct {
	log     float64 // logarithm of the time
	weights []float64
	parts   pieces
	// How far the samples lie apart against what their errors allow: about 1
	// when they agree as they should; 0 with one sample.
	disagreement float64
}

// combine weighs the samples so that the variance of the forecast is least,
// their errors being: each one's own; fitness that wanders between it and the
// goal; the runner's own exponent and bend, shared by distances on the same
// side; the runner's own loss beyond the half marathon.
func combine(samples []sample, s setting) combined {
	n := len(samples)
	x := math.Log(s.distance)
	var index float64
	var dg DanielsGilbert1979
	for _, a := range samples {
		index += dg.Index(a.Performance) / float64(n)
	}
	goalSD := variation(s.distance, index)
	lateVar := lateSD * lateSD
	if !s.weeklyKnown {
		lateVar += weeklySD * weeklySD
	}
	bend := func(a, b float64) float64 {
		k := func(d float64) float64 { return math.Exp(-math.Abs(d) / shapeReach) }
		return shapeSD * shapeSD * (k(a-b) - k(a-x) - k(b-x) + 1)
	}
	one := func(i, j int) pieces {
		a, b := samples[i], samples[j]
		xa, xb := math.Log(a.Distance), math.Log(b.Distance)
		p := pieces{
			day:   goalSD * goalSD,
			drift: driftSD * driftSD * math.Min(a.weeks, b.weeks),
			slope: exponentSD*exponentSD*(xa-x)*(xb-x) + bend(xa, xb),
			late:  lateVar * (late(a.Distance) - late(s.distance)) * (late(b.Distance) - late(s.distance)),
		}
		if s.workouts {
			p.shared = workoutSD * workoutSD * 0.75
		}
		if i == j {
			cv := variation(a.Distance, index)
			p.own = cv*cv + a.own*a.own
		}
		return p
	}
	ones := make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	// Every sample has an error of its own, so the matrix is positive definite.
	chol, ok := factor(n, func(i, j int) float64 { return one(i, j).sum() })
	c := combined{weights: slices.Clone(ones)}
	if ok {
		c.weights = chol.solve(ones)
	}
	total := dot(c.weights, ones)
	for i := range c.weights {
		c.weights[i] /= total
	}
	says := make([]float64, n)
	for i := range n {
		says[i] = math.Log(carry(samples[i].Performance, s.distance, s.weekly))
	}
	for i := range n {
		c.log += c.weights[i] * says[i]
		for j := range n {
			p, k := one(i, j), c.weights[i]*c.weights[j]
			c.parts.day += k * p.day
			c.parts.own += k * p.own
			c.parts.drift += k * p.drift
			c.parts.slope += k * p.slope
			c.parts.late += k * p.late
			c.parts.shared += k * p.shared
		}
	}
	if n > 1 && ok {
		off := make([]float64, n)
		for i := range off {
			off[i] = says[i] - c.log
		}
		c.disagreement = dot(off, chol.solve(off)) / float64(n-1)
	}
	return c
}

// estimate turns the logarithm into seconds with a 90 % interval. A bad day
// costs more than a good one gives, the more so late in a marathon: a late
// collapse met 28 % of men and 17 % of women (Smyth 2021, PLoS ONE
// 16(5):e0251513). How much longer the slow side is, is our own reading.
func (c combined) estimate(distance, leastHalf float64) interval.Estimate {
	sd := math.Sqrt(c.parts.sum())
	tail := 0.02 + 0.04*math.Min(1, late(distance))
	half := math.Max(interval.Z90*sd, leastHalf)
	return interval.Estimate{
		Value: math.Exp(c.log),
		Low:   math.Exp(c.log - half*(1-tail)),
		High:  math.Exp(c.log + half*(1+tail)),
	}
}
