// Package start reckons with a crowded start: how long it takes from the gun to
// the mat, where to line up, what the first kilometre costs, how many runners
// must be passed and how many metres that adds.
//
// A start is a queue that discharges over the line. N people ahead of a runner
// cross a line of width W in N/(q W) seconds when q runners cross each metre
// each second. The flow q is the observed one of race starts. The diagram of
// walking crowds (Weidmann 1993) is not used: race starts discharge up to twice
// what it allows, because people run.
//
// Times are seconds, lengths metres, paces seconds per metre. All functions are
// safe for concurrent use; none changes its arguments.
package start

import (
	"cmp"
	"fmt"
	"math"
	"strconv"

	"tautline/geo/inputerr"
	"tautline/geo/interval"
	"tautline/strategy/plan"
)

// aheadDoubt is the share, at 90 %, to which the number of people in front is
// known; our own, unsourced.
const aheadDoubt = 0.15

// Pen is a part of the field that stands together.
type Pen struct {
	Name             string
	Fastest, Slowest float64 // s/m, the paces it is for; 0: open
	People           float64
	After            float64 // s from the gun until it is let go; 0: as soon as the one before has crossed
}

// Line is the start.
type Line struct {
	Width     float64           // m at the line
	Flow      interval.Estimate // runners per second per metre; zero: the published range
	Density   float64           // runners per square metre in the pens; 0: the middle of the published range
	Pens      []Pen             // from the line backwards
	GunAwards bool              // places or awards go by gun time
}

// Runner is who lines up.
type Runner struct {
	Pace     float64 // s/m, the target on the level
	Distance float64 // m, of the race
}

// Turn is a turn early in the course.
type Turn struct {
	At    float64 // m from the start line
	Angle float64 // radians, left positive
	Width float64 // m of the road there; 0: that of the line
}

// Limits.
const (
	MaxPens   = 50
	maxPeople = 200000
)

func bad(advice, format string, args ...any) error {
	return &inputerr.Error{What: fmt.Sprintf(format, args...), Advice: advice}
}

// Check says what is wrong with the line, as an *inputerr.Error, or nil.
func (l Line) Check() error {
	if err := l.checkRoad(); err != nil {
		return err
	}
	for i := range l.Pens {
		if err := l.checkPen(i); err != nil {
			return err
		}
	}
	return nil
}

func (l Line) checkRoad() error {
	if !(l.Width >= 1 && l.Width <= 100) {
		return bad("give 1 to 100 m", "the road at the start line is %.4g m wide", l.Width)
	}
	if f := l.Flow; f != (interval.Estimate{}) && !(f.Low > 0 && f.Low <= f.Value && f.Value <= f.High && f.High <= 10) {
		return bad("give runners per minute per metre, 10 to 600", "the flow over the line cannot be used")
	}
	if l.Density != 0 && !(l.Density >= 0.2 && l.Density <= 8) {
		return bad("give 0.2 to 8", "the density in the pens is %.4g per square metre", l.Density)
	}
	if len(l.Pens) == 0 || len(l.Pens) > MaxPens {
		return bad(fmt.Sprintf("give 1 to %d pens; a start without pens is one pen", MaxPens), "the start has %d pens", len(l.Pens))
	}
	return nil
}

// checkPen says what is wrong with a pen, by itself and behind those in front.
func (l Line) checkPen(i int) error {
	p := l.Pens[i]
	before := 0.0 // s from the gun, until the last of those in front is let go
	for _, front := range l.Pens[:i] {
		before = math.Max(before, front.After)
	}
	switch {
	case !(p.People >= 1 && p.People <= maxPeople):
		return bad(fmt.Sprintf("give 1 to %d", maxPeople), "pen %d has %.4g people", i+1, p.People)
	case !open(p.Fastest) && !isPace(p.Fastest), !open(p.Slowest) && !isPace(p.Slowest):
		return bad("give 2:00/km to 30:00/km", "pen %d is for paces that nobody runs", i+1)
	case !open(p.Fastest) && !open(p.Slowest) && p.Fastest >= p.Slowest:
		return bad("fastest is the smaller pace", "the fastest pace of pen %d is not faster than its slowest", i+1)
	case !(p.After >= 0 && p.After <= 7200):
		return bad("give the time from the gun", "pen %d is let go %.4g s after the gun", i+1, p.After)
	case p.After > 0 && p.After < before:
		return bad("give the time from the gun", "pen %d is let go before the one in front of it", i+1)
	}
	return nil
}

// open tells whether a bound of a pen is not given.
func open(pace float64) bool { return pace == 0 }

// isPace tells whether somebody runs at a pace, s/m: 2:00/km to 30:00/km.
func isPace(pace float64) bool { return pace >= 0.12 && pace <= 1.8 }

// Spot is a place to line up and what it means.
type Spot struct {
	Where   string
	Pen     int               // from 0
	Share   float64           // how far back in the pen, 0 front to 1 back
	Ahead   float64           // people
	Behind  float64           // m behind the line
	Delay   interval.Estimate // s from the gun to the mat
	Crowd   interval.Estimate // s that the crowd after the line costs against one's own pace
	Over    float64           // m in which that fades
	FirstKm interval.Estimate // s of Crowd that fall into the first kilometre
	Passes  interval.Estimate // people to pass while the crowd thins
	Passed  interval.Estimate // people who come past meanwhile
	Weave   interval.Estimate // m that passing adds
}

// Advice is the answer.
type Advice struct {
	Line   Line
	Runner Runner
	Best   Spot
	Others []Spot // too far forward, too far back: what they would mean
	Sides  Sides
	Notes  []string
}

// Advise says where to line up and what each place means. turns are those of
// the first kilometres; nil when they are not known. Errors are
// *inputerr.Error.
func Advise(l Line, r Runner, turns []Turn) (*Advice, error) {
	if err := l.Check(); err != nil {
		return nil, err
	}
	if !isPace(r.Pace) {
		return nil, bad("give 2:00/km to 30:00/km", "the runner's pace is %.4g s/km", 1000*r.Pace)
	}
	if !(r.Distance >= 400 && r.Distance <= 200000) {
		return nil, bad("give the distance of the race", "the race is %.4g m", r.Distance)
	}
	a := &Advice{Line: l, Runner: r}
	pen, share, fits := l.right(r.Pace)
	a.Best = l.spot("right place", pen, share, r)
	front, behind, swapped := l.swapped()
	if swapped {
		a.Notes = append(a.Notes, fmt.Sprintf("pen %s stands behind pen %s but is for faster runners only: check their paces and their order", l.name(behind), l.name(front)))
	}
	switch {
	case fits, swapped: // which pen is the fastest is then in doubt
	case pen == 0:
		a.Notes = append(a.Notes, "the pace is faster than any pen is for: stand at the front")
	default:
		a.Notes = append(a.Notes, "the pace is slower than any pen is for: stand at the back")
	}
	if a.Best.Ahead > 0 {
		a.Others = append(a.Others, l.spot("at the front", 0, 0, r))
	}
	if pen > 0 {
		a.Others = append(a.Others, l.spot("a pen too far forward", pen-1, 0.5, r))
	}
	if pen+1 < len(l.Pens) {
		a.Others = append(a.Others, l.spot("a pen too far back", pen+1, 0.5, r))
	}
	if last := len(l.Pens) - 1; a.Best.Ahead < l.people()-1 {
		a.Others = append(a.Others, l.spot("at the back", last, 1, r))
	}
	a.Sides = sides(l.Width, a.Best.Over, turns)
	if f := l.flow(); l.Flow != (interval.Estimate{}) && f.Value <= mostWaveFlow {
		a.Notes = append(a.Notes, "a flow this small is how many came with waves, not how many can pass: the delay may be far shorter")
	}
	return a, nil
}

// name is what a pen is called, by its number where it has no name.
func (l Line) name(i int) string { return cmp.Or(l.Pens[i].Name, strconv.Itoa(i+1)) }

// swapped finds the first pen that is for faster runners only than one in front
// of it, and the nearest such one in front.
func (l Line) swapped() (front, behind int, found bool) {
	for behind := range l.Pens {
		for front := behind - 1; front >= 0; front-- {
			if l.Pens[behind].fasterThan(l.Pens[front]) {
				return front, behind, true
			}
		}
	}
	return 0, 0, false
}

// fasterThan tells whether what is said of the two pens leaves p for faster
// runners only: their slowest paces are compared, where one is open its fastest.
func (p Pen) fasterThan(q Pen) bool {
	switch {
	case !open(p.Slowest) && !open(q.Slowest):
		return p.Slowest < q.Slowest
	case !open(p.Slowest):
		return !open(q.Fastest) && p.Slowest <= q.Fastest
	case open(q.Slowest):
		return !open(p.Fastest) && !open(q.Fastest) && p.Fastest < q.Fastest
	}
	return false // p is open to all slower runners
}

func (l Line) people() (n float64) {
	for _, p := range l.Pens {
		n += p.People
	}
	return n
}

// right is the pen that a pace belongs to and how far back in it. fits is false
// when it lies outside all pens.
func (l Line) right(pace float64) (pen int, share float64, fits bool) {
	for i := range l.Pens {
		if fastest, slowest := l.bounds(i); pace >= fastest && pace <= slowest {
			return i, (pace - fastest) / (slowest - fastest), true
		}
	}
	for i := range l.Pens {
		if fastest, _ := l.bounds(i); pace < fastest {
			return i, 0, i > 0 // between two pens
		}
	}
	return len(l.Pens) - 1, 1, false
}

// spot works out what standing at a share of a pen means.
func (l Line) spot(where string, pen int, share float64, r Runner) Spot {
	s := Spot{Where: where, Pen: pen, Share: share}
	for _, p := range l.Pens[:pen] {
		s.Ahead += p.People
	}
	s.Ahead = math.Floor(s.Ahead + share*(l.Pens[pen].People-1))
	s.Behind = s.Ahead / (l.density() * l.Width)
	q := l.flow()
	crosses := func(flow, error float64) float64 {
		b := l.blocks(flow)[pen]
		ahead := math.Max(b.from, math.Min(b.to, s.Ahead)) - b.from
		// A miscount is one of all who stand in front.
		return b.open + delay(ahead+error*s.Ahead, flow, l.Width)
	}
	s.Delay.Value = crosses(q.Value, 0)
	// The two doubts are independent: their logarithms add in squares.
	wide := func(flow float64, sign float64) float64 {
		f := crosses(flow, 0) - s.Delay.Value
		n := crosses(q.Value, sign*aheadDoubt) - s.Delay.Value
		return math.Hypot(f, n)
	}
	s.Delay.Low = math.Max(0, s.Delay.Value-wide(q.High, -1))
	s.Delay.High = s.Delay.Value + wide(q.Low, 1)

	mean, _ := l.paces(pen)
	s.Over = math.Min(l.thins(mean), r.Distance/2)
	s.Crowd = crowdBand(l.cost(r, s.Ahead, s.Delay.Value, s.Over, q.Value), s.Delay.Value)
	left := math.Max(0, 1-1000/s.Over)
	s.FirstKm = s.Crowd.Scale(1 - left*left)

	passes, passed := l.passes(r.Pace, s.Delay.Value, s.Over, q.Value)
	s.Passes, s.Passed = count(passes), count(passed)
	s.Weave = weaving(passes)
	return s
}

// ForPlan is the start as a plan takes it: the delay from the gun, and the cost
// of the crowd over the distance in which it fades.
func (s Spot) ForPlan() (gunDelay float64, crowd plan.Crowd) {
	return s.Delay.Value, plan.Crowd{Seconds: s.Crowd.Value, Over: s.Over}
}

// Cautions stand under every advice on a start.
func Cautions() []string {
	return []string{
		"Stand where your pace belongs: in front of it people must come past you, and a first kilometre too fast is paid for later.",
		"Do not push, stop or turn at the line, and look before moving aside. If the pens press, say so to a marshal.",
		"Delay and cost are bands from published flows and a simple model; they have not been held against results.",
	}
}
