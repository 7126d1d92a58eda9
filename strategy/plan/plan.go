package plan

import (
	"fmt"
	"math"

	"tautline/geo/interval"
	"tautline/strategy/effort"
	"tautline/strategy/quantity"
)

// Split is one line of a plan.
type Split struct {
	Mark     string
	From, To float64 // official m

	Split, Elapsed           float64 // s to a tenth; the splits add up to the elapsed time
	ShownSplit, ShownElapsed int     // the same to the second; they too add up
	Gun                      float64 // elapsed time by the gun, s
	Stop                     float64 // s of the split spent standing
	Crowd                    float64 // s of the split that the crowd costs

	Climb, Descent interval.Estimate // m
	Gradient       float64           // mean, fraction

	Own       float64 // m of the athlete's own path
	Pace      float64 // s/m of the own path, without stops
	FlatPace  float64 // flat-equivalent of Pace, s/m
	WatchPace float64 // what the watch will show, s/m
	WatchLap  float64 // m that the watch will show for the split
	Watch     float64 // m that the watch will show at the mark
}

// Plan is one athlete's plan for one course.
type Plan struct {
	Athlete  string
	Course   string
	Official float64 // m
	Shortest float64 // m
	Own      float64 // m of the athlete's own path

	Target   float64           // chip time with stops inside, s
	Given    bool              // the target was the goal; otherwise it follows from the flat pace
	FlatPace float64           // even effort's pace on the level in calm air on a mild day, s/m
	Half     float64           // s elapsed at half the official distance
	GunDelay float64           // s
	Stops    float64           // s in all
	Slowing  interval.Estimate // share by which heat and altitude lengthen the time
	Model    string            // how effort was reckoned, in a few words

	Splits   []Split
	Warnings []Warning
}

// Between is the time that the plan takes from one official distance to
// another, s, and the flat-equivalent pace there, s/m. Between two marks both
// are in proportion to the distance.
func (p *Plan) Between(from, to float64) (seconds, flatPace float64) {
	at, elapsed, level := []float64{0}, []float64{0}, []float64{0}
	for i, s := range p.Splits {
		at = append(at, s.To)
		elapsed = append(elapsed, s.Elapsed)
		level = append(level, level[i]+(s.To-s.From)*s.FlatPace) // a sum, so that a mean can be taken over any piece
	}
	seconds = interpolate(at, elapsed, to) - interpolate(at, elapsed, from)
	return seconds, (interpolate(at, level, to) - interpolate(at, level, from)) / (to - from)
}

// Make plans one athlete's race. Errors are *inputerr.Error.
func Make(c *Course, marks []Mark, s Settings) (*Plan, error) {
	if err := CheckMarks(marks, c.Official); err != nil {
		return nil, err
	}
	r, err := pace(c, s)
	if err != nil {
		return nil, err
	}
	p := &Plan{
		Athlete: s.Name, Course: c.Name, Official: c.Official, Shortest: c.Shortest, Own: c.Shortest * (1 + s.Extra),
		Target: r.target, Given: s.Goal != 0, FlatPace: 1 / r.flat, GunDelay: s.GunDelay, Slowing: r.slowing,
		Model: s.Model.Describe(),
	}
	for _, stop := range s.Stops {
		p.Stops += stop.Seconds
	}
	p.Half = r.elapsed(c.Official / 2)
	p.Splits = r.splits(marks)
	p.Warnings = r.warnings()
	return p, nil
}

// run is the solved race over the stretches of the course.
type run struct {
	c       *Course
	s       Settings
	model   effort.Ready
	even    *EvenEffort
	flat    float64 // even effort's flat speed, m/s
	target  float64 // s
	slowing interval.Estimate
	first   float64   // flat speed of the first half before climbs are shaped, m/s
	second  float64   // the same of the second half
	speed   []float64 // flat-equivalent speed asked for on each stretch, m/s
	shape   []float64 // the same relative to even effort, before a half is changed
	crowd   []float64 // s on each stretch

	// Running totals at the edges of the stretches.
	running []float64 // s running, stops left out
	level   []float64 // flat-equivalent m
	crowded []float64 // s that the crowd costs
}

func pace(c *Course, s Settings) (*run, error) {
	if err := s.Check(c); err != nil {
		return nil, err
	}
	r := newRun(c, s)
	fixed := s.Crowd.Seconds
	for _, p := range s.Stops {
		fixed += p.Seconds
	}
	n := len(c.gradient)
	if s.Goal != 0 {
		r.target = math.Round(s.Goal*10) / 10
		if r.target-fixed <= 0 {
			return nil, bad("give a longer goal", "the goal of %s leaves no time to run beside %s of stops and crowd", quantity.Clock(s.Goal), quantity.Clock(fixed))
		}
		flat, ok := solve(func(u float64) float64 { return r.time(0, n, u, u) }, r.target-fixed)
		if !ok {
			return nil, bad("check the goal and the course's length", "a goal of %s over %s asks for a pace beyond %s to %s on the level", quantity.Clock(s.Goal), quantity.Distance(c.Official, quantity.Metric),
				quantity.Pace(1/fastest, quantity.Metric), quantity.Pace(1/slowest, quantity.Metric))
		}
		r.flat = flat
	} else {
		r.flat = 1 / s.FlatPace
		r.target = math.Round(r.time(0, n, r.flat, r.flat) + fixed)
	}
	r.slowing = s.Day.Slowing(r.flat, c.Official)
	first, second, err := r.halves(r.target - fixed)
	if err != nil {
		return nil, err
	}
	r.first, r.second = first, second
	r.speed = make([]float64, n)
	for j := range n {
		u := first
		if j >= c.first {
			u = second
		}
		r.speed[j] = u * r.shape[j]
	}
	r.total()
	return r, nil
}

func newRun(c *Course, s Settings) *run {
	n := len(c.gradient)
	r := &run{c: c, s: s, model: s.Model.Ready()}
	r.even = newEven(c, s, r.model)
	r.shape = make([]float64, n)
	r.crowd = make([]float64, n)
	for j := range n {
		r.shape[j] = s.Model.FlexAt(c.gradient[j])
	}
	if s.ClimbHold > 0 {
		for j := range n {
			if c.inFirstThird(j) {
				r.shape[j] /= 1 + s.ClimbHold
			}
		}
	}
	if s.Crowd.Seconds > 0 {
		over := s.Crowd.Over
		if over == 0 {
			over = math.Min(DefaultCrowdOver, c.Official/2)
		}
		// The cost per metre falls in a straight line, so what is left of it
		// falls with the square.
		left := func(x float64) float64 { y := math.Max(0, 1-x/over); return y * y }
		for j := range n {
			r.crowd[j] = s.Crowd.Seconds * (left(c.edge[j]) - left(c.edge[j+1]))
		}
	}
	return r
}

// inFirstThird tells whether a stretch lies in the first third of a climb.
func (c *Course) inFirstThird(j int) bool {
	middle := (c.edge[j] + c.edge[j+1]) / 2
	for _, h := range c.hills {
		if h.Foot > middle {
			return false
		}
		if middle < h.Foot+(h.Crest-h.Foot)/3 {
			return true
		}
	}
	return false
}

// time is the running time, without crowd and stops, of the stretches from
// one to before the other when even effort would be the flat speed u; the day
// slows as it does at the flat speed day.
func (r *run) time(from, to int, u, day float64) float64 {
	var t float64
	for j := from; j < to; j++ {
		t += r.even.stretchTime(j, u*r.shape[j])
	}
	return t * r.even.slowed(day)
}

// halves gives the flat speeds of the two halves such that the running time is
// the given one and the first half deviates from even effort as asked.
func (r *run) halves(running float64) (first, second float64, err error) {
	c, s := r.c, r.s
	n := len(c.gradient)
	one := r.time(0, c.first, r.flat, r.flat)
	move := s.FirstHalf + s.FirstHalfShare*one
	if move == 0 {
		return r.flat, r.flat, nil
	}
	// Without a goal the target was rounded to the second: share that out.
	one *= running / r.time(0, n, r.flat, r.flat)
	two := running - one
	if math.Abs(move) > maxHalfShare*math.Min(one, two)+1e-9 {
		return 0, 0, bad(fmt.Sprintf("move at most %.0f s", maxHalfShare*math.Min(one, two)),
			"the first half is changed by %.0f s, more than a tenth of it", move)
	}
	first, ok1 := solve(func(u float64) float64 { return r.time(0, c.first, u, r.flat) }, one+move)
	second, ok2 := solve(func(u float64) float64 { return r.time(c.first, n, u, r.flat) }, two-move)
	if !ok1 || !ok2 {
		return 0, 0, bad("move less", "the first half cannot be changed by %.0f s", move)
	}
	return first, second, nil
}

// total fills the running totals. The running time is made to meet the target
// to the last digit, so that rounding in the solver never shows in a split.
func (r *run) total() {
	n := len(r.speed)
	r.running = make([]float64, n+1)
	r.level = make([]float64, n+1)
	r.crowded = make([]float64, n+1)
	day := 1 + r.slowing.Value
	for j, u := range r.speed {
		t := r.even.stretchTime(j, u)
		r.level[j+1] = r.level[j] + t*u
		r.running[j+1] = r.running[j] + t*day + r.crowd[j]
		r.crowded[j+1] = r.crowded[j] + r.crowd[j]
	}
	want := r.target
	for _, p := range r.s.Stops {
		want -= p.Seconds
	}
	k := want / r.running[n]
	for j := range r.running {
		r.running[j] *= k
	}
}

// stopped is the time spent standing before a mark is reached. A stop at the
// mark itself comes after it.
func (r *run) stopped(official float64) float64 {
	var t float64
	for _, p := range r.s.Stops {
		if p.At < official {
			t += p.Seconds
		}
	}
	return t
}

// elapsed is the chip time at which a mark is reached.
func (r *run) elapsed(official float64) float64 {
	return r.c.cumulative(r.running, official) + r.stopped(official)
}

func tenth(s float64) float64 { return math.Round(s*10) / 10 }

func (r *run) splits(marks []Mark) []Split {
	c := r.c
	splits := make([]Split, len(marks))
	var from, exact, elapsed, stopped float64
	var shown int
	for i, m := range marks {
		s := &splits[i]
		s.Mark, s.From, s.To = m.Name, from, m.At
		now := r.elapsed(m.At)
		if i == len(marks)-1 {
			now = r.target
		}
		s.Elapsed = tenth(now)
		s.Split = tenth(s.Elapsed - elapsed)
		s.ShownElapsed = int(math.Round(s.Elapsed))
		s.ShownSplit = s.ShownElapsed - shown
		s.Gun = tenth(now + r.s.GunDelay)
		standing := r.stopped(m.At)
		s.Stop = standing - stopped
		s.Crowd = c.cumulative(r.crowded, m.At) - c.cumulative(r.crowded, from)

		s.Climb, s.Descent = c.climb(from, m.At)
		s.Gradient = c.MeanGradient(from, m.At)

		moving := now - exact - s.Stop
		s.Own = r.even.Own(from, m.At)
		s.Pace = moving / s.Own
		level := c.cumulative(r.level, m.At) - c.cumulative(r.level, from)
		mild := (moving-s.Crowd)/(1+r.slowing.Value) + s.Crowd
		s.FlatPace = mild / level
		s.WatchLap = s.Own * (1 + r.s.WatchLong)
		s.WatchPace = moving / s.WatchLap
		s.Watch = r.even.Own(0, m.At) * (1 + r.s.WatchLong)

		from, exact, elapsed, shown, stopped = m.At, now, s.Elapsed, s.ShownElapsed, standing
	}
	return splits
}
