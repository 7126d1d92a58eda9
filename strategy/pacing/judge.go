// Package pacing judges how a race was paced once it has been run: how hard
// each split was beside the whole, beside the same finish at even effort, and
// beside the plan. Even effort is what strategy/plan plans by.
//
// Distances are official ones, of the marks. Paces are seconds per metre of the
// athlete's own path. All functions are safe for concurrent use; none changes
// its arguments.
package pacing

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"tautline/geo/inputerr"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
)

// FlatPace is the pace on the level that took the effort of a pace on ground of
// these gradients, spread evenly over it, on a day without wind; s/m.
func FlatPace(m effort.Ready, pace float64, gradients []float64) float64 {
	var sum float64
	for _, g := range gradients {
		sum += 1 / m.Stretch(effort.Conditions{Gradient: g}).FlatSpeed(1/pace)
	}
	return sum / float64(len(gradients))
}

// Passing is when a mark was passed in the race.
type Passing struct {
	Name    string
	At      float64 // official m
	Elapsed float64 // chip time, s
	Stopped float64 // s of Elapsed spent standing since the passing before
}

// Split is one split of a race that has been run.
type Split struct {
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

	mild  float64 // s of running as a mild day would have it
	level float64 // flat-equivalent m
}

// Range is a best figure and the least and greatest that published values
// allow. It is no 90 % interval: nobody has measured how often it holds.
type Range struct {
	Value, Low, High float64
}

// Judgement is how a race that has been run was paced. All but the splits is
// reckoned over the pieces of one grain, see Judge, so that it is the same
// whatever the splits are.
type Judgement struct {
	Splits     []Split
	Time       float64 // s
	FlatPace   float64 // s/m, mean
	Unevenness float64 // standard deviation of flat-equivalent speed over its mean, weighted with time
	SecondHalf float64 // flat-equivalent speed of the second half over the first, less 1; negative: it faded

	// EvenGain is the time that the same exertion would have saved at even
	// effort, s; see exertion. Zero when effort was even.
	EvenGain Range

	pieces []Split // of the grain
}

// Exponents of the power law between race time and distance that stand behind
// Judgement.EvenGain: 1.06 is Riegel's for general use, 1.10 to 1.15 is what
// Vickers and Vertosick 2016 imply for the marathon.
const (
	exponentLow, exponent, exponentHigh = 1.06, 1.10, 1.15
)

// leastPiece is the least length, m, over which effort is compared for
// EvenGain; over less, errors of position and clock look like bursts. A mark is
// passed within some 3 s of when a record says, 1 % of a kilometre's time; over
// a mile or more a hill that is run too hard is levelled out by the way down.
const leastPiece = 1000.0

func bad(advice, format string, args ...any) error {
	return &inputerr.Error{What: fmt.Sprintf(format, args...), Advice: advice}
}

// Judge compares a race with even effort and, if planned is not nil, with its
// plan, which must have been made for the same course. The settings give the
// model, the day and the extra distance; their goal, flat pace, stops and
// deviations do not matter. Passings may come in any order; the last must be at
// the finish.
//
// race has the splits that are told. grain has the passings of the same race
// between which its evenness is reckoned: the longer the pieces, the more of
// what was uneven they hide, so that judgements can be compared only over
// pieces of one length, a kilometre as a rule. nil takes the splits. Errors are
// *inputerr.Error.
func Judge(c *plan.Course, s plan.Settings, race, grain []Passing, planned *plan.Plan) (*Judgement, error) {
	race, err := inOrder(c, race)
	if err != nil {
		return nil, err
	}
	whole := race[len(race)-1].Elapsed
	if grain == nil {
		grain = race
	} else if grain, err = inOrder(c, grain); err != nil {
		return nil, err
	}
	if other := grain[len(grain)-1].Elapsed; other != whole {
		return nil, bad("give passings of one race", "the race is finished after %.1f s by its splits and after %.1f s by its pieces", whole, other)
	}
	// What was asked for beyond even effort is part of what is judged.
	bare := plan.Settings{Goal: whole, Model: s.Model, Day: s.Day, Extra: s.Extra}
	bare.Model.Flex = 0
	even, err := plan.Even(c, bare)
	if err != nil {
		return nil, err
	}
	j := &Judgement{Time: whole}
	if j.Splits, err = spent(c, even, bare, race); err != nil {
		return nil, err
	}
	pieces, err := spent(c, even, bare, grain)
	if err != nil {
		return nil, err
	}
	j.pieces = pieces
	j.FlatPace = 1 / meanSpeed(pieces)
	for _, list := range [][]Split{j.Splits, j.pieces} {
		for i := range list {
			list[i].Harder = j.FlatPace/list[i].FlatPace - 1
		}
	}
	j.Unevenness = unevenness(pieces)
	j.SecondHalf = secondHalf(c.Official, pieces)
	j.EvenGain = exertion(pieces)
	if err := j.besideEven(c, even, race); err != nil {
		return nil, err
	}
	if planned != nil {
		j.besidePlan(planned)
	}
	return j, nil
}

// inOrder gives the passings in order of distance.
func inOrder(c *plan.Course, race []Passing) ([]Passing, error) {
	race = slices.Clone(race)
	sort.SliceStable(race, func(i, j int) bool { return race[i].At < race[j].At })
	return race, checkPassings(c, race)
}

// checkPassings refuses passings, in order of distance, that miss the finish or
// whose times do not grow by more than was spent standing.
func checkPassings(c *plan.Course, race []Passing) error {
	marks := make([]plan.Mark, len(race))
	for i, p := range race {
		marks[i] = plan.Mark{Name: p.Name, At: p.At}
	}
	if err := plan.CheckMarks(marks, c.Official); err != nil {
		return err
	}
	var before float64
	for _, p := range race {
		if !(p.Elapsed-before > p.Stopped && p.Stopped >= 0) || math.IsInf(p.Elapsed, 0) {
			return bad("check the times", "the mark %q is passed at %.1f s, %.1f s after the one before with %.1f s of standing",
				p.Name, p.Elapsed, p.Elapsed-before, p.Stopped)
		}
		before = p.Elapsed
	}
	return nil
}

// spent gives every split with the effort that it took.
func spent(c *plan.Course, even *plan.EvenEffort, s plan.Settings, race []Passing) ([]Split, error) {
	var splits []Split
	var from, elapsed float64
	for _, p := range race {
		e := Split{Mark: p.Name, From: from, To: p.At, Run: p.Elapsed - elapsed, Elapsed: p.Elapsed,
			Gradient: c.MeanGradient(from, p.At), Planned: math.NaN(), AheadOfPlan: math.NaN(), OverPlan: math.NaN()}
		moving := e.Run - p.Stopped
		e.Pace = moving / even.Own(from, p.At)
		u, ok := even.FlatSpeed(from, p.At, moving)
		if !ok {
			return nil, bad("check the times and the marks", "from %.0f to %.0f m in %.1f s is beyond what anyone runs", from, p.At, moving)
		}
		e.FlatPace = 1 / u
		e.mild = moving / (1 + s.Day.Slowing(u, c.Official).Value)
		e.level = e.mild * u
		splits = append(splits, e)
		from, elapsed = p.At, p.Elapsed
	}
	return splits, nil
}

// meanSpeed is the mean flat-equivalent speed, m/s.
func meanSpeed(splits []Split) float64 {
	var mild, level float64
	for _, e := range splits {
		mild += e.mild
		level += e.level
	}
	return level / mild
}

// unevenness is the standard deviation of flat-equivalent speed as a share of
// its mean, weighted with time.
func unevenness(splits []Split) float64 {
	var mild, variance float64
	for _, e := range splits {
		mild += e.mild
		variance += e.mild * e.Harder * e.Harder
	}
	return math.Sqrt(variance / mild)
}

// besideEven sets the splits beside the same finish at even effort.
func (j *Judgement) besideEven(c *plan.Course, even *plan.EvenEffort, race []Passing) error {
	var standing float64
	for _, p := range race {
		standing += p.Stopped
	}
	steady, ok := even.FlatSpeed(0, c.Official, j.Time-standing)
	if !ok {
		return bad("check the times", "the race was run beyond the speeds of the model")
	}
	var stood float64
	for i := range j.Splits {
		e := &j.Splits[i]
		stood += race[i].Stopped
		e.Even = even.Time(0, e.To, steady) + stood
		e.Ahead = e.Even - e.Elapsed
	}
	return nil
}

// besidePlan sets the splits beside those of a plan.
func (j *Judgement) besidePlan(p *plan.Plan) {
	for i := range j.Splits {
		e := &j.Splits[i]
		reached, _ := p.Between(0, e.To)
		e.AheadOfPlan = reached - e.Elapsed
		var flat float64
		e.Planned, flat = p.Between(e.From, e.To)
		e.OverPlan = flat/e.FlatPace - 1
	}
}

// secondHalf compares the halves of the race, a split across half way divided
// in proportion.
func secondHalf(official float64, splits []Split) float64 {
	var t, d [2]float64
	for _, e := range splits {
		first := math.Max(0, math.Min(1, (official/2-e.From)/(e.To-e.From)))
		for h, share := range [2]float64{first, 1 - first} {
			t[h] += share * e.mild
			d[h] += share * e.level
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
func exertion(splits []Split) Range {
	t, d := pieces(splits)
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

// pieces joins splits to pieces of at least leastPiece, where the race is that
// long, and gives the mild seconds and the flat-equivalent metres of each.
func pieces(splits []Split) (mild, level []float64) {
	var length float64
	for _, e := range splits {
		if len(mild) == 0 || length >= leastPiece {
			mild, level = append(mild, 0), append(level, 0)
			length = 0
		}
		last := len(mild) - 1
		mild[last] += e.mild
		level[last] += e.level
		length += e.To - e.From
	}
	if last := len(mild) - 1; length < leastPiece && last > 0 { // a short rest goes to the piece before it
		mild[last-1] += mild[last]
		level[last-1] += level[last]
		mild, level = mild[:last], level[:last]
	}
	return mild, level
}
