package plan

import (
	"math"
	"slices"
	"sort"
)

// Passing is when a mark was passed in the race.
type Passing struct {
	Name    string
	At      float64 // official m
	Elapsed float64 // chip time, s
	Stopped float64 // s of Elapsed spent standing since the passing before
}

// SplitEffort judges one split of a race that has been run.
type SplitEffort struct {
	Mark     string
	From, To float64 // official m
	Run      float64 // s
	Elapsed  float64 // s
	Gradient float64 // mean, fraction
	Pace     float64 // s/m of the own path, without stops
	FlatPace float64 // flat-equivalent of Pace, s/m

	Harder float64 // flat-equivalent speed over the race's own mean, less 1; 0 is even effort
	Even   float64 // s elapsed at the mark had the same finish been run at even effort
	Ahead  float64 // s ahead of that at the mark; negative: behind

	Planned     float64 // s of the plan for this split; NaN without a plan
	AheadOfPlan float64 // s ahead of the plan at the mark; NaN without a plan
	OverPlan    float64 // effort over the planned effort of this split, less 1; NaN without a plan
}

// Range is a best figure and the least and greatest that published values
// allow. It is no 90 % interval: nobody has measured how often it holds.
type Range struct {
	Value, Low, High float64
}

// Review is the effort of a race that has been run.
type Review struct {
	Splits     []SplitEffort
	Time       float64 // s
	FlatPace   float64 // s/m, mean
	Unevenness float64 // standard deviation of flat-equivalent speed over its mean, weighted with time
	SecondHalf float64 // flat-equivalent speed of the second half over the first, less 1; negative: it faded

	// EvenGain is the time that the same exertion would have saved at even
	// effort, s; see exertion. Zero when effort was even.
	EvenGain Range
}

// Exponents of the power law between race time and distance that stand behind
// Review.EvenGain: 1.06 is Riegel's for general use, 1.10 to 1.15 is what
// Vickers and Vertosick 2016 imply for the marathon.
const (
	exponentLow, exponent, exponentHigh = 1.06, 1.10, 1.15
)

// leastPiece is the least length, m, over which effort is compared for
// EvenGain; over less, errors of position and clock look like bursts.
const leastPiece = 1000.0

// Judge compares a race with even effort and, if planned is not nil, with its
// plan, which must have been made for the same course. The settings give the
// model, the day and the extra distance; their goal, flat pace, stops and
// deviations do not matter. Passings must rise and end at the finish.
func Judge(c *Course, s Settings, race []Passing, planned *Plan) (*Review, error) {
	race = slices.Clone(race)
	sort.SliceStable(race, func(i, j int) bool { return race[i].At < race[j].At })
	marks := make([]Mark, len(race))
	for i, p := range race {
		marks[i] = Mark{p.Name, p.At}
	}
	if err := checkMarks(marks, c.Official); err != nil {
		return nil, err
	}
	var before float64
	for i, p := range race {
		if !(p.Elapsed-before > p.Stopped && p.Stopped >= 0) || math.IsInf(p.Elapsed, 0) {
			return nil, bad("check the times", "the mark %q is passed at %.1f s, %.1f s after the one before with %.1f s of standing",
				p.Name, p.Elapsed, p.Elapsed-before, p.Stopped)
		}
		before = race[i].Elapsed
	}
	whole := race[len(race)-1].Elapsed
	bare := Settings{Goal: whole, Model: s.Model, Day: s.Day, Extra: s.Extra}
	bare.Model.Flex = 0
	if err := bare.Check(c); err != nil {
		return nil, err
	}
	r := newRun(c, bare)

	rv := &Review{Time: whole}
	var from, elapsed, moving, level float64
	times := make([]float64, len(race))  // mild running time of each split
	levels := make([]float64, len(race)) // flat-equivalent m of each split
	var standing float64
	for i, p := range race {
		run := p.Elapsed - elapsed
		standing += p.Stopped
		e := SplitEffort{Mark: p.Name, From: from, To: p.At, Run: run, Elapsed: p.Elapsed,
			Gradient: c.MeanGradient(from, p.At), Planned: math.NaN(), AheadOfPlan: math.NaN(), OverPlan: math.NaN()}
		e.Pace = (run - p.Stopped) / ((p.At - from) * r.scale)
		u, ok := solve(func(u float64) float64 { return r.part(from, p.At, u) }, run-p.Stopped)
		if !ok {
			return nil, bad("check the times and the marks", "from %.0f to %.0f m in %.1f s is beyond what anyone runs", from, p.At, run-p.Stopped)
		}
		e.FlatPace = 1 / u
		times[i] = (run - p.Stopped) / (1 + s.Day.Slowing(u, c.Official).Value)
		levels[i] = times[i] * u
		moving += times[i]
		level += levels[i]
		rv.Splits = append(rv.Splits, e)
		from, elapsed = p.At, p.Elapsed
	}
	mean := level / moving
	rv.FlatPace = 1 / mean

	even, ok := solve(func(u float64) float64 { return r.time(0, len(c.gradient), u, u) }, whole-standing)
	if !ok {
		return nil, bad("check the times", "the race was run beyond the speeds of the model")
	}
	var variance, stood float64
	for i := range rv.Splits {
		e := &rv.Splits[i]
		u := 1 / e.FlatPace
		e.Harder = u/mean - 1
		variance += times[i] * e.Harder * e.Harder / moving
		stood += race[i].Stopped
		e.Even = r.part(0, e.To, even) + stood
		e.Ahead = e.Even - e.Elapsed
	}
	rv.Unevenness = math.Sqrt(variance)
	rv.SecondHalf = secondHalf(c.Official, rv.Splits, times, levels)
	rv.EvenGain = exertion(rv.Splits, times, levels)
	if planned != nil {
		rv.against(planned)
	}
	return rv, nil
}

// part is the time from one official distance to another at even effort.
func (r *run) part(from, to, u float64) float64 {
	c := r.c
	var t float64
	j := max(0, sort.SearchFloat64s(c.edge, from)-1)
	for ; j < len(c.gradient) && c.edge[j] < to; j++ {
		a, b := math.Max(from, c.edge[j]), math.Min(to, c.edge[j+1])
		if b > a {
			t += r.stretchTime(j, u) * (b - a) / (c.edge[j+1] - c.edge[j])
		}
	}
	return t * (1 + r.s.Day.Slowing(u, c.Official).Value)
}

// secondHalf compares the halves of the race, a split across half way divided
// in proportion.
func secondHalf(official float64, splits []SplitEffort, times, levels []float64) float64 {
	var t, d [2]float64
	for i, e := range splits {
		first := math.Max(0, math.Min(1, (official/2-e.From)/(e.To-e.From)))
		for h, share := range [2]float64{first, 1 - first} {
			t[h] += share * times[i]
			d[h] += share * levels[i]
		}
	}
	return (d[1]/t[1])/(d[0]/t[0]) - 1
}

// exertion gives the time that even effort would have saved. With a cost that
// grows in proportion to speed, uneven effort costs nothing; what it costs
// comes from endurance. If the time T that a speed v can be held follows the
// power law of race times, T in proportion to v^-n with n = k/(k-1), and if
// every minute at v uses up its share 1/T of the endurance, then the race used
// up the sum of t v^n, and even effort spends the same sum at one speed. That
// shares add up so is our inference, no measurement; the range is that of the
// published exponents k. The halves of a race at +4 and -4 % cost about 1 %.
func exertion(splits []SplitEffort, times, levels []float64) Range {
	var t, d []float64
	var length float64
	for i, e := range splits {
		if len(t) == 0 || length >= leastPiece {
			t, d = append(t, 0), append(d, 0)
			length = 0
		}
		last := len(t) - 1
		t[last] += times[i]
		d[last] += levels[i]
		length += e.To - e.From
	}
	if length < leastPiece && len(t) > 1 { // a short rest goes to the piece before it
		last := len(t) - 1
		t[last-1] += t[last]
		d[last-1] += d[last]
		t, d = t[:last], d[:last]
	}
	var whole, level float64
	for i := range t {
		whole += t[i]
		level += d[i]
	}
	mean := level / whole
	gain := func(k float64) float64 {
		n := k / (k - 1)
		var used float64 // in units of the mean speed, so that powers stay small
		for i := range t {
			used += t[i] / whole * math.Pow(d[i]/t[i]/mean, n)
		}
		return math.Max(0, whole*(1-math.Pow(used, -1/(n-1))))
	}
	return Range{Value: gain(exponent), Low: gain(exponentHigh), High: gain(exponentLow)}
}

// against sets the splits beside those of a plan. A passing between two marks
// of the plan is compared in proportion of the distance between them.
func (rv *Review) against(p *Plan) {
	at := []float64{0}
	elapsed := []float64{0}
	level := []float64{0} // s/m flat-equivalent times m: the plan's effort per mark
	for _, s := range p.Splits {
		at = append(at, s.To)
		elapsed = append(elapsed, s.Elapsed)
		level = append(level, level[len(level)-1]+(s.To-s.From)*s.FlatPace)
	}
	for i := range rv.Splits {
		e := &rv.Splits[i]
		e.Planned = interpolate(at, elapsed, e.To) - interpolate(at, elapsed, e.From)
		e.AheadOfPlan = interpolate(at, elapsed, e.To) - e.Elapsed
		flat := (interpolate(at, level, e.To) - interpolate(at, level, e.From)) / (e.To - e.From)
		e.OverPlan = flat/e.FlatPace - 1
	}
}
