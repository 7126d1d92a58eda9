package likely

import "math"

// Noise is what the record says of the receiver and its filter, learnt where
// the line is straight.
type Noise struct {
	Surplus     float64 // m per m, what the record is longer than the line between the turns
	ScatterRate float64 // m of scatter per m run, on average
	ScatterSD   float64 // m per m, its standard deviation
	Wander      float64 // m per axis, the part of the error that changes within a minute
	StepVar     float64 // m², variance of the change of the error from one step to the next, per axis
	RateVar     float64 // m²/m, how much the scatter of a stretch varies per metre of it
	Weave       float64 // m per m, what the runner's own weaving added
	Straight    float64 // m of line that all this was learnt on
	Filter      float64 // s, width of the smoothing that the corners betray
}

// sound gives the likelihood of each filter by the record between the turns;
// zeros when there is too little of it, or when it is not of about 1 Hz.
func (p *placed) sound(secs []section) [nFilters]float64 {
	if math.Abs(p.dt-1) >= 0.1 {
		return [nFilters]float64{}
	}
	var power [len(tones)]float64
	var windows, quick, slow, seconds float64
	var second [window]float64
	for _, sec := range secs {
		if sec.turn >= 0 || sec.missing {
			continue
		}
		i0, i1 := int(math.Ceil(sec.first)), int(sec.last)
		for i := i0; i+window+1 <= i1; i += window / 2 {
			if span := p.fixes[i+window+1].T - p.fixes[i].T; math.Abs(span-(window+1)) > 1 {
				continue // fixes are lost in it
			}
			for k := range second {
				second[k] = p.s[i+k+2] - 2*p.s[i+k+1] + p.s[i+k]
			}
			for k, v := range loudness(second[:]) {
				power[k] += v
			}
			for k := i + 4; k+4 <= i+window+1; k++ {
				one, four := p.s[k+1]-2*p.s[k]+p.s[k-1], p.s[k+4]-2*p.s[k]+p.s[k-4]
				quick, slow, seconds = quick+one*one, slow+four*four, seconds+1
			}
			windows++
		}
	}
	if windows < 4 {
		return [nFilters]float64{}
	}
	for k := range power {
		power[k] /= windows
	}
	return hear(power, windows, quick/seconds, slow/seconds)
}

// stride is a step between two fixes as a steady runner took it.
type stride struct{ seconds, length float64 }

// stride is the step from fix i to the next one in a section.
func (p *placed) stride(sec section, i int) stride {
	s := stride{seconds: p.fixes[i+1].T - p.fixes[i].T, length: p.s[i+1] - p.s[i]}
	if speed := sec.length() / sec.seconds; speed > 0 && !math.IsInf(speed, 0) {
		s.length = speed * s.seconds
	}
	s.length = math.Max(s.length, 0.05)
	return s
}

// sample is the scatter of one stretch between turns.
type sample struct{ at, length, surplus float64 }

// lags at which differences of the error are looked at, in seconds.
var lags = [...]float64{1, 2, 4, 8, 12, 20}

// straight tells whether a section is one that the receiver's error is learnt
// on: between turns, shown, and long enough.
func (s section) straight() bool { return s.turn < 0 && !s.missing && s.length() >= 25 }

// listen learns the receiver's error between the turns.
//
// The scatter of a straight is half the square of the lateral change per step
// over the step. Part of that change is the runner's own. Along the road
// nothing but error moves quickly, so the second differences of the place along
// the road tell the error's quick and slower parts, and the lateral error is
// taken to be like them: as large as the shortest lag shows it to be, where no
// runner moves sideways, and for the slower part somewhat larger than along the
// road, as between buildings (Wang, Groves and Ziebart 2013).
func (p *placed) listen(secs []section) (r receiver) {
	n := &r.noise
	for _, sec := range secs {
		if sec.straight() {
			n.Straight += sec.length()
		}
	}
	strides, longer := p.strides(secs)
	if r.steps = len(strides) > 0; !r.steps {
		return r
	}
	d := p.differences(secs)
	if r.known = len(d.when) > 0; !r.known {
		return r
	}
	// What a runner moves sideways within 12 s is small beside a large error
	// and large beside a small one.
	const sideways, sidewaysSD = 0.8, 0.6 // m², of the second difference
	at12 := len(d.when) - 1
	for at12 > 0 && d.when[at12] > 12 {
		at12--
	}
	quick := min(max(d.across[0]/d.along[0], 0.6), 4)
	slow := min(max((d.across[at12]-sideways)/d.along[at12], 1), 5)
	slowSD := min(max(sidewaysSD/d.along[at12], 0.2*slow), 1)
	// The scatter of a step is half the square of the lateral change over the
	// step.
	var ran float64
	for _, s := range strides {
		ran += s.length
	}
	parts := fitParts(d.when, d.along, d.weight)
	var wander float64
	for j, c := range components {
		var rate float64
		for _, s := range strides {
			rate += (1 - c.correlation(s.seconds)) / s.length
		}
		rate *= parts[j] / ran / longer
		if c.quick {
			r.guess += quick * rate
			r.doubt += 0.12 * quick * rate
		} else {
			r.guess += slow * rate
			r.doubt += slowSD * rate
			wander += parts[j] * (1 + slow) / 2
		}
	}
	n.Wander = math.Sqrt(math.Max(wander, d.reflected()))
	n.StepVar = d.along[0] / 3
	return r
}

// strides are the steps of the straights. Steps were longer in the record than
// they were run: in the mean square by the ratio longer.
func (p *placed) strides(secs []section) (strides []stride, longer float64) {
	var shown, ran float64
	for _, sec := range secs {
		if !sec.straight() {
			continue
		}
		for i := int(math.Ceil(sec.first)); i < int(sec.last); i++ {
			s := p.stride(sec, i)
			shown += (p.s[i+1] - p.s[i]) * (p.s[i+1] - p.s[i])
			ran += s.length * s.length
			strides = append(strides, s)
		}
	}
	if !(shown > 0) { // nobody moved
		return strides, 1
	}
	return strides, shown / ran
}

// differences are mean squares, m², of the second differences of a record's
// places on the straights, by lag.
type differences struct {
	when          []float64 // s, the lag
	along, across []float64 // of the place along and across the road
	weight        []float64
	longest       int // how many there are over the longest lag
}

// differences gathers them for the lags of which there are enough.
func (p *placed) differences(secs []section) (d differences) {
	var along, across, elapsed [len(lags)]float64
	var count, steps [len(lags)]int
	for l, lag := range lags {
		steps[l] = max(1, int(lag/p.dt+0.5))
	}
	for _, sec := range secs {
		if !sec.straight() {
			continue
		}
		i0, i1 := int(math.Ceil(sec.first)), int(sec.last)
		for l, k := range steps {
			if l > 0 && k == steps[l-1] {
				continue
			}
			for i := i0 + k; i+k <= i1; i++ {
				// Between uneven steps a steady runner's place is interpolated.
				ratio := (p.fixes[i+k].T - p.fixes[i].T) / (p.fixes[i].T - p.fixes[i-k].T)
				if !(ratio > 0.6 && ratio < 1.7) {
					continue
				}
				dx := p.s[i+k] - p.s[i] - ratio*(p.s[i]-p.s[i-k])
				dy := p.y[i+k] - p.y[i] - ratio*(p.y[i]-p.y[i-k])
				even := 6 / (1 + (1+ratio)*(1+ratio) + ratio*ratio)
				along[l] += even * dx * dx
				across[l] += even * dy * dy
				elapsed[l] += (p.fixes[i+k].T - p.fixes[i-k].T) / 2
				count[l]++
			}
		}
	}
	for l, k := range steps {
		if count[l] < 20 {
			continue
		}
		c := float64(count[l])
		// Places that were worked out may be even to the last digit.
		const even = 1e-9 // m²
		d.along = append(d.along, math.Max(along[l]/c, even))
		d.across = append(d.across, across[l]/c)
		d.when = append(d.when, elapsed[l]/c)
		d.weight = append(d.weight, math.Sqrt(c/float64(k)))
	}
	d.longest = count[len(lags)-1]
	return d
}

// reflected is the variance in m² of errors that come and go within half a
// minute, as those of reflected signals do; only the longest lag sees them. A
// change of speed shows along the road only, a change of side only across, so
// the smaller of the two is taken. Zero where the record is too short.
func (d differences) reflected() float64 {
	l := len(d.when) - 1
	if d.when[l] < 12 || d.longest < 60 {
		return 0
	}
	rho := func(t float64) float64 { return (1 + t/15) * math.Exp(-t/15) }
	return min(d.along[l], d.across[l]) / (6 - 8*rho(d.when[l]) + 2*rho(2*d.when[l]))
}

// receiver is what the straights say of the receiver whatever is cut off at
// their ends.
type receiver struct {
	noise        Noise   // without surplus, scatter and weave
	guess, doubt float64 // m of scatter per m, and its doubt
	steps, known bool    // there are steps on straights, and enough to tell the error
}

// scatter parts what the straights are too long by, their corner losses put
// back, into scatter and weaving.
func (r receiver) scatter(secs []section, loss []float64) (Noise, []sample) {
	n := r.noise
	var samples []sample
	var total float64
	for i, sec := range secs {
		if sec.straight() {
			samples = append(samples, sample{(sec.from + sec.to) / 2, sec.length(), sec.surplus() + loss[i]})
			total += sec.surplus() + loss[i]
		}
	}
	if !r.steps {
		return n, samples
	}
	n.Surplus = total / n.Straight
	for _, s := range samples {
		d := s.surplus - n.Surplus*s.length
		n.RateVar += d * d / n.Straight
	}
	if r.known {
		n.ScatterRate, n.ScatterSD = split(n.Surplus, r.guess, r.doubt+1e-5)
		n.Weave = n.Surplus - n.ScatterRate
	}
	return n, samples
}

// split parts the surplus of the straights into scatter and the runner's own
// weaving: scatter is about guess, weaving is not below nought and seldom more
// than a part in a thousand.
func split(surplus, guess, doubt float64) (scatter, sd float64) {
	const usual = 6e-4
	var sum, mean, square float64
	for i := range 400 {
		w := (float64(i) + 0.5) / 400 * math.Max(surplus, 1e-6) * 1.2
		z := (surplus - w - guess) / doubt
		k := math.Exp(-z*z/2 - w/usual)
		sum += k
		mean += k * w
		square += k * w * w
	}
	if !(sum > 0) { // the guess is out of reach: take the nearest
		return min(max(guess, 0), surplus), doubt
	}
	mean /= sum
	return surplus - mean, math.Sqrt(math.Max(square/sum-mean*mean, 0))
}

// component is one kind of error that a record may hold.
type component struct {
	time  float64 // s
	kind  int     // 0 white, 1 exponential, 2 critically damped, 3 the runner's own change of speed, 4 as smooth as can be
	quick bool
}

var components = [...]component{{0, 0, true}, {4, 1, true}, {6, 2, false}, {15, 2, false}, {30, 2, false}, {7, 4, false}, {14, 4, false}, {0, 3, false}}

// at is the correlation after whole seconds.
func (c component) at(k int) float64 { return c.correlation(float64(k)) }

// correlation of the component after t seconds.
func (c component) correlation(t float64) float64 {
	switch c.kind {
	case 1:
		return math.Exp(-t / c.time)
	case 2:
		return (1 + t/c.time) * math.Exp(-t/c.time)
	case 3:
		return 1
	case 4:
		return math.Exp(-t * t / (2 * c.time * c.time))
	}
	if t == 0 {
		return 1
	}
	return 0
}

// second is the variance of the component's second difference at a lag, for
// unit variance.
func (c component) second(t float64) float64 {
	if c.kind == 3 {
		return t * t * t / 1000
	}
	return 6 - 8*c.correlation(t) + 2*c.correlation(2*t)
}

// fitParts finds the non-negative variances of the components that explain
// the second differences at these lags, by coordinate descent on the relative
// error.
func fitParts(when, square, weight []float64) [len(components)]float64 {
	var v [len(components)]float64
	for range 300 {
		for j, c := range components {
			var num, den float64
			for l, t := range when {
				fit := 0.0
				for k, d := range components {
					if k != j {
						fit += v[k] * d.second(t)
					}
				}
				w := weight[l] / square[l]
				a := c.second(t) * w
				num += a * (square[l] - fit) * w
				den += a * a
			}
			if v[j] = 0; den > 0 {
				v[j] = math.Max(0, num/den)
			}
		}
	}
	v[len(v)-1] = 0
	return v
}

// rateAt is the scatter rate near a place: what the stretches nearby show,
// drawn towards the whole record's rate.
func rateAt(samples []sample, n Noise, at float64) float64 {
	const near, pull = 500.0, 400.0 // m
	w := pull
	sum := pull * n.Surplus
	for _, s := range samples {
		k := math.Exp(-math.Abs(s.at-at) / near)
		w += k * s.length
		sum += k * s.surplus
	}
	if n.Surplus <= 0 {
		return 0
	}
	return sum / w * n.ScatterRate / n.Surplus
}
