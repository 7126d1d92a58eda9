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
	"fmt"
	"math"

	"tautline/geo/inputerr"
	"tautline/geo/interval"
	"tautline/strategy/plan"
)

// Published flows and densities of race starts, per minute per metre and per
// square metre: Peckover, Raineri and Scanlan 2022, Sports 10(9):132. The
// second pair was seen with wave starts; the line was then not full, so it is
// how many came, not how many can pass.
const (
	LeastFlow       = 102.0 / 60 // runners per second per metre, a discharging line
	GreatestFlow    = 152.0 / 60
	LeastWaveFlow   = 36.0 / 60
	MostWaveFlow    = 59.0 / 60
	LeastDensity    = 1.48 // runners per square metre in the pens
	GreatestDensity = 3.01
)

// Sizes that have no source and are our own.
const (
	aheadDoubt = 0.15  // the number ahead is known to about this share at 90 %
	seedError  = 0.06  // by how much, as a share of pace, people misjudge where they belong, one standard deviation
	lastPen    = 1.25  // an open last pen reaches this much slower than its fastest
	upToSpeed  = 50.0  // m in which a runner comes from the jog over the line to the own pace
	leastOver  = 300.0 // m, the shortest stretch over which a crowd thins
)

// WaveSpeed is how fast the start runs backwards through standing people, m/s:
// a little over 1 (Bain and Bartolo 2019, Science 363:46-49, as the press text
// has it); 1.2 is from memory, unchecked. JogSpeed is what then carries them
// over the line, m/s: what that wave, the greatest density and the greatest
// flow leave (2.82).
const (
	WaveSpeed = 1.2
	JogSpeed  = 2.8
)

// DefaultFlow is the flow over a full line, runners per second per metre: the
// published range as a 90 % interval about its geometric mean.
func DefaultFlow() interval.Estimate {
	return interval.Estimate{Value: math.Sqrt(LeastFlow * GreatestFlow), Low: LeastFlow, High: GreatestFlow}
}

// Delay is the time from the gun, or from the letting go of a wave, to the mat
// with so many people ahead: N/(q W).
func Delay(ahead, flow, width float64) float64 { return ahead / (flow * width) }

// CriticalDensity is the density behind the start wave, runners per square
// metre: flow over the speed there.
func CriticalDensity(flow, jog float64) float64 { return flow / jog }

// StartWave is the speed, m/s, at which the start runs back through people
// standing at a density (Lighthill-Whitham-Richards, triangular diagram).
func StartWave(flow, density, jog float64) float64 {
	return flow / (density - CriticalDensity(flow, jog))
}

// QueueDelay is the delay of a runner who stands so many metres behind the
// line: x/c + x/v, the wait for the start wave and the way to the line, which
// is x ρ/q.
func QueueDelay(behind, density, flow float64) float64 { return behind * density / flow }

// Weave is the distance, m, that so many moves of aside metres, each over along
// metres, add.
func Weave(moves, aside, along float64) float64 { return moves * (math.Hypot(aside, along) - along) }

// Spread is the standard deviation of arrival times at a distance and the peak
// flow, runners per second, of n people who start together with speeds of this
// mean and deviation (m/s) and never meet.
func Spread(n, mean, deviation, distance float64) (sd, peak float64) {
	sd = deviation * distance / (mean * mean)
	return sd, n / (math.Sqrt(2*math.Pi) * sd)
}

// Thinned is the distance at which the peak flow of Spread has fallen to what
// the road can pass.
func Thinned(n, mean, deviation, flow, width float64) float64 {
	return n * mean * mean / (math.Sqrt(2*math.Pi) * deviation * flow * width)
}

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
	Flow      interval.Estimate // runners per second per metre; zero: DefaultFlow
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
	after := 0.0
	for i, p := range l.Pens {
		switch {
		case !(p.People >= 1 && p.People <= maxPeople):
			return bad(fmt.Sprintf("give 1 to %d", maxPeople), "pen %d has %.4g people", i+1, p.People)
		case !inPace(p.Fastest) || !inPace(p.Slowest):
			return bad("give 2:00/km to 30:00/km", "pen %d is for paces that nobody runs", i+1)
		case p.Fastest > 0 && p.Slowest > 0 && p.Fastest >= p.Slowest:
			return bad("fastest is the smaller pace", "the fastest pace of pen %d is not faster than its slowest", i+1)
		case !(p.After >= 0 && p.After <= 7200):
			return bad("give the time from the gun", "pen %d is let go %.4g s after the gun", i+1, p.After)
		case p.After > 0 && p.After < after:
			return bad("give the time from the gun", "pen %d is let go before the one in front of it", i+1)
		}
		after = math.Max(after, p.After)
	}
	return nil
}

func inPace(p float64) bool { return p == 0 || p >= 0.12 && p <= 1.8 }

func (l Line) flow() interval.Estimate {
	if l.Flow == (interval.Estimate{}) {
		return DefaultFlow()
	}
	return l.Flow
}

func (l Line) density() float64 {
	if l.Density == 0 {
		return (LeastDensity + GreatestDensity) / 2
	}
	return l.Density
}

// block is a pen as it crosses the line.
type block struct {
	from, to   float64 // people ahead of its first and its last
	open, shut float64 // s from the gun at which they cross
	mean, sd   float64 // pace of its people, s/m
}

// blocks crosses the pens one after the other, no pen before its time.
func (l Line) blocks(flow float64) []block {
	var out []block
	var ahead, now float64
	for i, p := range l.Pens {
		b := block{from: ahead, to: ahead + p.People, open: math.Max(now, p.After)}
		b.shut = b.open + p.People/(flow*l.Width)
		b.mean, b.sd = l.paces(i)
		out = append(out, b)
		ahead, now = b.to, b.shut
	}
	return out
}

// bounds are the paces that a pen is for, its open ends closed.
func (l Line) bounds(i int) (fastest, slowest float64) {
	p := l.Pens[i]
	fastest, slowest = p.Fastest, p.Slowest
	if fastest == 0 && i > 0 {
		fastest = l.Pens[i-1].Slowest
	}
	if slowest == 0 && i+1 < len(l.Pens) {
		slowest = l.Pens[i+1].Fastest
	}
	switch {
	case fastest == 0 && slowest == 0:
		fastest, slowest = 0.22, 0.44 // anyone: 3:40/km to 7:20/km
	case fastest == 0:
		fastest = slowest / lastPen
	case slowest == 0:
		slowest = fastest * lastPen
	}
	return fastest, slowest
}

// paces are mean and standard deviation of the people of a pen: evenly within
// its bounds, blurred by how people misjudge themselves.
func (l Line) paces(i int) (mean, sd float64) {
	fastest, slowest := l.bounds(i)
	mean = (fastest + slowest) / 2
	return mean, math.Hypot((slowest-fastest)/math.Sqrt(12), seedError*mean)
}

// Normal distribution: density, and the share above z.
func density(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }
func above(z float64) float64   { return math.Erfc(z/math.Sqrt2) / 2 }

// meanAbove is the mean of (z' - z) over all z' above z, for the standard
// normal: what is above z, and by how much.
func meanAbove(z float64) float64 { return density(z) - z*above(z) }

// Passes is how many people a runner passes within a distance of the line and
// how many pass them, when all run their own paces from the line on and nobody
// is held up. at is the time at which the runner crosses, s from the gun.
func (l Line) Passes(pace, at, distance, flow float64) (passes, passed float64) {
	for _, b := range l.blocks(flow) {
		rate := (b.to - b.from) / (b.shut - b.open)
		z := func(headway float64) float64 { return (pace + headway/distance - b.mean) / b.sd }
		// Who crossed a headway before the runner is caught when slower by more
		// than headway/distance: the share above z, summed over the headways.
		if first, last := at-math.Min(at, b.shut), at-b.open; last > 0 && last > first {
			passes += rate * distance * b.sd * (meanAbove(z(first)) - meanAbove(z(last)))
		}
		// Who crosses later catches the runner when faster by as much.
		if first, last := math.Max(at, b.open)-at, b.shut-at; last > 0 && last > first {
			passed += rate * distance * b.sd * (meanAbove(-z(-first)) - meanAbove(-z(-last)))
		}
	}
	// What cancels to less than nothing is rounding.
	return math.Max(0, passes), math.Max(0, passed)
}

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

// Sides compares the edges of the road with its middle over the stretch in
// which the crowd thins: the metres that each adds to the shortest way there.
type Sides struct {
	Known               bool // the turns are known
	Left, Right, Middle float64
	Over                float64 // m
	Better              string  // "left" or "right"
}

// Advise says where to line up and what each place means. turns are those of
// the first kilometres; nil when they are not known. Errors are
// *inputerr.Error.
func Advise(l Line, r Runner, turns []Turn) (*Advice, error) {
	if err := l.Check(); err != nil {
		return nil, err
	}
	if !(r.Pace >= 0.12 && r.Pace <= 1.8) {
		return nil, bad("give 2:00/km to 30:00/km", "the runner's pace is %.4g s/km", 1000*r.Pace)
	}
	if !(r.Distance >= 400 && r.Distance <= 200000) {
		return nil, bad("give the distance of the race", "the race is %.4g m", r.Distance)
	}
	a := &Advice{Line: l, Runner: r}
	pen, share, fits := l.right(r.Pace)
	a.Best = l.spot("right place", pen, share, r)
	switch {
	case fits:
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
	if f := l.flow(); l.Flow != (interval.Estimate{}) && f.Value <= MostWaveFlow {
		a.Notes = append(a.Notes, "a flow this small is how many came with waves, not how many can pass: the delay may be far shorter")
	}
	return a, nil
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
		fastest, slowest := l.bounds(i)
		if pace < fastest {
			return i, 0, i > 0
		}
		if pace <= slowest {
			return i, (pace - fastest) / (slowest - fastest), true
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
		return b.open + (ahead+error*s.Ahead)/(flow*l.Width)
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
	cost := l.cost(r.Pace, s.Ahead, s.Over)
	// The band is stated, not measured: from a quarter, which is what fields in
	// lanes lose at the right place, to twice, and up to the start delay itself, at most a minute, which is what five marathons lost after
	// the line (Stone 1999, informal data: 65 % of the delay in the first mile,
	// 35 % in the second).
	s.Crowd = interval.Estimate{Value: cost, Low: cost / 4, High: math.Max(2*cost, math.Min(60, s.Delay.Value))}
	left := math.Max(0, 1-1000/s.Over)
	s.FirstKm = s.Crowd.Scale(1 - left*left)

	passes, passed := l.Passes(r.Pace, s.Delay.Value, s.Over, q.Value)
	s.Passes, s.Passed = count(passes), count(passed)
	// One move brings a runner past two people or so, from one each to one for
	// four; a metre aside over ten, 0.7 to 1.5 m.
	s.Weave = interval.Estimate{
		Value: Weave(passes/2, 1, 10), Low: Weave(s.Passes.Low/4, 0.7, 10), High: Weave(s.Passes.High, 1.5, 10),
	}
	return s
}

// count is a number of people with a stated band: how people seed themselves is
// not known to better than half.
func count(n float64) interval.Estimate {
	return interval.Estimate{Value: n, Low: math.Max(0, n/2-1.645*math.Sqrt(n)), High: 1.5*n + 1.645*math.Sqrt(n)}
}

// slower is by how much, s/m, those in front are slower than a pace, the faster
// ones counting nothing: the mean over the nearer half of all who stand in
// front in the same wave. Which of them matter is our own choice; a simulated
// field in lanes agrees within a factor of two.
func (l Line) slower(pace, ahead float64) float64 {
	var from, wave, sum float64
	for i, p := range l.Pens {
		if ahead < from {
			break
		}
		if i > 0 && p.After > 0 {
			wave = from
		}
		from += p.People
	}
	near := (wave + ahead) / 2
	if !(ahead > near) {
		return 0
	}
	from = 0
	for i, p := range l.Pens {
		if people := math.Min(ahead, from+p.People) - math.Max(near, from); people > 0 {
			mean, sd := l.paces(i)
			sum += people * sd * meanAbove((pace-mean)/sd)
		}
		from += p.People
	}
	return sum / (ahead - near)
}

// thins is the distance in which the crowd fades: twice as far as the peak flow
// of the people let go together is more than the road passes, since a hold-up
// that is whole up to there costs as much as one that fades in a straight line
// over twice the distance.
func (l Line) thins(mean float64) float64 {
	n, most := 0.0, 0.0
	for i, p := range l.Pens {
		if i > 0 && p.After > 0 {
			n = 0 // a wave of its own
		}
		n += p.People
		most = math.Max(most, n)
	}
	// Speeds of the field differ by about 15 % (our own; 0.45 m/s at 3 m/s).
	v := 1 / mean
	over := 2 * Thinned(most, v, 0.15*v, l.flow().Value, l.Width)
	return math.Max(leastOver, math.Min(plan.DefaultCrowdOver, over))
}

// cost is what the crowd takes, s: coming up to speed from the jog over the
// line, and being held to the pace of those in front who are slower, wholly at
// the line and in a straight line less until the crowd has thinned.
func (l Line) cost(pace, ahead, over float64) float64 {
	up := math.Max(0, 1/JogSpeed-pace) * upToSpeed / 2
	return up + l.slower(pace, ahead)*over/2
}

// ForPlan is the start as a plan takes it: the delay from the gun, and the cost
// of the crowd over the distance in which it fades.
func (s Spot) ForPlan() (gunDelay float64, crowd plan.Crowd) {
	return s.Delay.Value, plan.Crowd{Seconds: s.Crowd.Value, Over: s.Over}
}

// sides compares the edges of a road, a metre inside the kerb, with its middle:
// the inner edge of a turn is the shortest way, every metre outwards adds the
// angle in radians.
func sides(width, over float64, turns []Turn) Sides {
	s := Sides{Over: over, Known: turns != nil}
	var left, right float64
	for _, t := range turns {
		if t.At <= over {
			left += math.Max(0, t.Angle)
			right += math.Max(0, -t.Angle)
		}
	}
	across := math.Max(0, width-2)
	s.Left, s.Right, s.Middle = across*right, across*left, across/2*(left+right)
	s.Better = "left"
	if s.Right < s.Left {
		s.Better = "right"
	}
	return s
}

// Cautions stand under every advice on a start.
func Cautions() []string {
	return []string{
		"Stand where your pace belongs: in front of it people must come past you, and a first kilometre too fast is paid for later.",
		"Do not push, stop or turn at the line, and look before moving aside. If the pens press, say so to a marshal.",
		"Delay and cost are bands from published flows and a simple model; they have not been held against results.",
	}
}
