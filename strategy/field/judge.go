package field

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"tautline/geo/interval"
)

const (
	// fewest records that anything is said of together.
	fewest = 10
	// alarm is the chance that a sound field is said to have a fault, for
	// stretches, corners and guarded edges each, if the middle of the crowd ran
	// on the very edge of what is permitted everywhere. It does not, and then the
	// chance is smaller (TestTable, also with -table-tight 1).
	alarm = 0.02
	// alarmBack is the same for turn-arounds, where the crowd is never on the
	// edge: nobody turns on the spot.
	alarmBack = 0.03
	// outsideShare of the alarms of corners is left for their outer side.
	outsideShare = 0.1
	// biasFloor is the least standard deviation, in metres, that is allowed for
	// the error that all receivers share at a place.
	biasFloor = 1.0
	// usualBias is what it is before anything has been learnt, m, with the
	// weight of so many independent places (an assumption: between the error of
	// one receiver in the open and between buildings).
	usualBias, usualWeight = 2.5, 6.0
	// biasLength is the length L, in metres, over which the shared error is
	// alike: correlation (1+x/L) exp(-x/L).
	biasLength = 75.0
	// tipSpread is the standard deviation, m, of what recording and smoothing
	// take off the tip of a turn-around in a field.
	tipSpread = 1.2
	// tipLeast and tipUsual are how far beyond the line's furthest point the
	// middle one of a field goes at least and as a rule, m, since nobody turns on
	// the spot, and tipAnchor how closely cones and drawings agree when nothing is
	// wrong (assumptions).
	tipLeast, tipUsual, tipAnchor = 1.5, 2.5, 1.5
	// groupShare of the records at least, and fewest, are a group of their own at
	// a turn-around. The medians of two groups lie groupApart metres apart at
	// least, more than runners' habits do, and groupClear times as far as either
	// scatters, where the halves of one normal crowd lie 2.2 times as far; and in
	// the middle third between them there is at most groupValley of the smaller
	// group, where one normal crowd has 0.36. TestOneCrowdIsNotTwo measures what
	// that comes to.
	groupShare, groupApart, groupClear, groupValley = 0.15, 8.0, 4.0, 0.2
	// leastFault in metres across the road is not worth a walk to the turn.
	leastFault = 1.0
)

// Kind of a finding.
type Kind string

// The kinds of finding.
const (
	OutsideLeft  Kind = "outside to the left"
	OutsideRight Kind = "outside to the right"
	Short        Kind = "turned before"
	Long         Kind = "turned behind"
	Missing      Kind = "left out"
	Parted       Kind = "turned at two places"
	AtPlace      Kind = "turned at it" // of a group, as far as can be told
)

// Finding is a place where the field as a whole did not run the course as it
// was measured.
type Finding struct {
	Kind     Kind
	From, To float64           // m along the shortest line
	Turns    []int             // numbers of the turns there
	Metres   interval.Estimate // across or along the road, beyond what is permitted, at a turn-around beyond where a field turns as a rule (UsualBeyond); length of the part left out; of two groups, those of the first
	Length   interval.Estimate // m that the course was longer for it, below 0 shorter; of two groups, for the first
	Records  int               // that show it
	Groups   []Group           // two when Parted, the one further from the turn-around first; else none
}

// Group is a part of the field that turned elsewhere than the rest.
type Group struct {
	Kind    Kind              // Short or Long, or AtPlace
	Metres  interval.Estimate // m beyond where a field turns as a rule, below 0 before it
	Records int
}

// UsualBeyond is how far beyond a turn-around's furthest point the middle of a
// field goes as a rule, m, since nobody turns on the spot (an assumption).
const UsualBeyond = tipUsual

// Place is where the crowd runs at a station.
type Place struct {
	At          float64 // m along the line
	Records     int
	LeftOut     int
	Off         interval.Estimate // m left of the line; NaN with too few records
	Low, High   float64           // m left of the line between which nine of ten run
	Left, Right float64           // m from the line to the edges
	Density     []float64         // share of the records in every metre from the right edge to the left, the first and last with all beyond
}

// TurnCrowd is how a turn was run.
type TurnCrowd struct {
	Number  int
	At      float64           // m along the line
	Angle   float64           // rad
	Records int               // that show the turn
	Outside interval.Estimate // m outside the shortest line next to the turn; NaN when not known
	Beyond  interval.Estimate // m beyond a turn-around's furthest point; NaN elsewhere
	Extra   interval.Estimate // m that the middle half of the field ran beyond the line: quartiles and median
}

// Leaving is where runners left the permitted road.
type Leaving struct {
	From, To float64
	How      How
	Turns    []int
	Records  int
	Share    interval.Estimate // of the records that show the place
}

// Conclusion of a field.
type Conclusion string

// The conclusions.
const (
	Agrees     Conclusion = "agrees"
	CannotTell Conclusion = "cannot tell"
	LookAt     Conclusion = "look at"
)

// Verdict is what a field says of its course.
type Verdict struct {
	Records    int
	Conclusion Conclusion
	Why        string
	Turns      []int // to look at
	Findings   []Finding
	Crowd      []TurnCrowd
	Places     []Place
	Leavings   []Leaving
	Course     interval.Estimate // m, the length that the records support
	Bias       float64           // m, what is allowed for the error that receivers share at a place
	Straights  float64           // m of straight that it was learnt on
	Sees       float64           // m, the least moved turn-around that would be found more often than not
	SeesAcross float64           // m, the same across the road over 100 m
	SeesCorner float64           // m, the same across the road at both ends of a right-angled corner

	worst [4]float64 // largest test statistic: windows, corners, turn-arounds, guarded edges
	level [4]float64 // from which on each of them is a finding
}

// shared is the share of the variance of the shared error that is left in its
// mean over a window.
func shared(window float64) float64 {
	const n = 40
	sum, all := 0.0, 0.0
	for i := range n {
		x := (float64(i) + 0.5) / n
		sum += (1 - x) * (1 + x*window/biasLength) * math.Exp(-x*window/biasLength)
		all += 1 - x
	}
	return sum / all
}

// upper is the value that a standard normal figure exceeds with this
// probability, for a standard deviation learnt with so many degrees of freedom
// (first terms of the Cornish–Fisher expansion of Student's t; Abramowitz and
// Stegun 26.7.5).
func upper(p, freedom float64) float64 {
	z := math.Sqrt2 * math.Erfinv(1-2*p)
	z3, z5 := z*z*z, z*z*z*z*z
	return z + (z3+z)/4/freedom + (5*z5+16*z3+3*z)/96/freedom/freedom
}

// bias is what is known of the error that receivers share.
type bias struct{ sd, freedom, straights float64 }

// learn reads the size of the shared error off the straights. There the crowd
// keeps to some line of its own; how its middle moves about the shortest line,
// or about the middle of the road if it keeps to that more closely, is its own
// habit and the shared error together, so it is never less than the error.
func (g *Ground) learn(t *Tally, least int) bias {
	var a, b []float64
	for j, s := range g.stations {
		if s.straight && s.judged && t.Places[j].Across.total() >= least {
			y := t.Places[j].Across.quantile(0.5, acrossBin)
			a, b = append(a, y), append(b, y-(s.left+s.right)/2)
		}
	}
	out := bias{straights: float64(len(a)) * spacing}
	patches := out.straights / biasLength
	sd := 0.0
	if len(a) >= 5 {
		sd = math.Min(aboutMiddle(a), aboutMiddle(b))
	} else {
		patches = 0
	}
	out.freedom = patches + usualWeight
	out.sd = math.Max(biasFloor, math.Sqrt((patches*sd*sd+usualWeight*usualBias*usualBias)/out.freedom))
	return out
}

// aboutMiddle is a standard deviation about the median that a few far values
// do not move: what lies further out than 2.5 times the robust deviation is
// drawn in to there. It wastes less of the data than the median of the
// deviations alone.
func aboutMiddle(v []float64) float64 {
	const far = 2.5
	m := middle(v)
	d := make([]float64, len(v))
	for i, x := range v {
		d[i] = math.Abs(x - m)
	}
	limit := far * 1.4826 * middle(d)
	sum := 0.0
	for _, x := range d {
		x = math.Min(x, limit)
		sum += x * x
	}
	// Of a normal figure, drawing in beyond 2.5 deviations takes 2.2 % of the
	// variance.
	return math.Sqrt(sum / float64(len(v)) / 0.978)
}

func middle(v []float64) float64 {
	w := slices.Sorted(slices.Values(v))
	return w[len(w)/2]
}

// medianError is the standard error of a median of n figures of this spread.
func medianError(spread float64, n int) float64 {
	return 1.2533 * math.Max(spread, 0.5) / math.Sqrt(float64(n)) * (1 + 2/float64(n))
}

// Judge says what a field says of its course. course is the length of the
// shortest line with the doubt of the drawing.
func (g *Ground) Judge(t *Tally, course interval.Estimate) *Verdict {
	n := len(t.Rows)
	v := g.judge(t, n, course)
	v.Leavings = g.leavings(t)
	g.conclude(v)
	return v
}

func (g *Ground) judge(t *Tally, n int, course interval.Estimate) *Verdict {
	least := max(fewest, n/4)
	b := g.learn(t, least)
	v := &Verdict{Records: n, Bias: b.sd, Straights: b.straights}
	shift, variance := 0.0, 0.0
	if n >= fewest {
		v.Findings = g.windows(t, least, b, v)
		v.Findings = append(v.Findings, g.corners(t, least, b, v)...)
		v.Findings = append(v.Findings, g.guarded(t, least, b, v)...)
		v.Findings = append(v.Findings, g.leftOut(t, least, v.Findings)...)
		backs, s, va := g.backs(t, least, b, v)
		v.Findings = append(v.Findings, backs...)
		shift, variance = s, va
	}
	v.Findings = g.merged(v.Findings)
	for i := range v.Findings {
		f := &v.Findings[i]
		if f.Kind != Short && f.Kind != Long && f.Kind != Parted {
			f.Length = g.longer(t, least, *f, b)
			shift += f.Length.Value
			h := f.Length.Width() / 2 / interval.Z90
			variance += h * h
		}
		for _, k := range f.Turns {
			if !slices.Contains(v.Turns, k) {
				v.Turns = append(v.Turns, k)
			}
		}
	}
	slices.Sort(v.Turns)
	half := interval.Z90 * math.Sqrt(variance)
	v.Course = interval.Estimate{Value: course.Value + shift,
		Low:  course.Value + shift - math.Hypot(course.Value-course.Low, half),
		High: course.Value + shift + math.Hypot(course.High-course.Value, half)}
	g.crowd(t, least, b, v)
	return v
}

// windows looks for stretches where the middle of the crowd runs outside the
// permitted road. Long stretches average the shared error better, short ones
// dilute a fault less, so several lengths are tried, and the level is set for
// all trials together.
func (g *Ground) windows(t *Tally, least int, b bias, v *Verdict) []Finding {
	type trial struct {
		kind       Kind
		first, end int
		excess, sd float64
		records    int
	}
	type figure struct {
		ok          bool
		left, right float64
		se          float64
		n           int
	}
	var figures []figure
	var stations []station
	for j, e := range g.edges(t, least) {
		if s := g.stations[j]; !s.flank {
			stations = append(stations, s)
			figures = append(figures, figure{e.n > 0 && !s.corner, e.left, e.right, e.se, e.n})
		}
	}
	var trials []trial
	count := 0.0
	for _, window := range []int{4, 10, 20, 40} { // stations
		step := max(window/2, 2)
		for first := 0; first+window <= len(figures); first += step {
			var left, right, se float64
			ok, records := 0, 0
			for _, f := range figures[first : first+window] {
				if f.ok {
					ok++
					left, right, se = left+f.left, right+f.right, se+f.se
					records = max(records, f.n)
				}
			}
			if ok*3 < window*2 {
				continue
			}
			k := float64(ok)
			// All stations of a record share its own slow error.
			sd := math.Sqrt(b.sd*b.sd*shared(float64(window)*spacing) + se/k*se/k)
			trials = append(trials, trial{OutsideLeft, first, first + window, left / k, sd, records}, trial{OutsideRight, first, first + window, right / k, sd, records})
			count += 2
		}
	}
	if count == 0 {
		return nil
	}
	// Neighbouring and nested windows are nearly the same trial.
	level := upper(alarm/(count/3), b.freedom)
	v.level[0] = level
	v.SeesAcross = level * math.Sqrt(b.sd*b.sd*shared(100))
	sort.SliceStable(trials, func(i, j int) bool { return trials[i].excess/trials[i].sd > trials[j].excess/trials[j].sd })
	var out []Finding
	var taken []trial
	v.worst[0] = trials[0].excess / trials[0].sd
	for _, x := range trials {
		if x.excess < math.Max(level*x.sd, leastFault) {
			continue
		}
		again := false
		for _, y := range taken {
			again = again || x.kind == y.kind && x.first < y.end+5 && y.first < x.end+5
		}
		if again {
			continue
		}
		taken = append(taken, x)
		f := Finding{Kind: x.kind, From: stations[x.first].at, To: stations[x.end-1].at, Metres: interval.Normal(x.excess, x.sd), Records: x.records}
		f.Turns = g.turnsIn(f.From, f.To, 40)
		out = append(out, f)
	}
	return out
}

// edge is what the middle of the crowd does at a station: by how many metres
// it is outside each edge, below 0 when it is inside, and how well that is
// known apart from the shared error.
type edge struct {
	left, right, se float64
	n               int
}

// edges reads every station that enough records show.
func (g *Ground) edges(t *Tally, least int) []edge {
	out := make([]edge, len(g.stations))
	for j, s := range g.stations {
		sk := &t.Places[j].Across
		if n := sk.total(); s.judged && n >= least {
			m := sk.quantile(0.5, acrossBin)
			out[j] = edge{m - s.left, s.right - m, medianError(sk.spread(acrossBin), n), n}
		}
	}
	return out
}

// pool is the mean of what some stations say of one edge, with its standard
// deviation: the shared error is a vector that belongs to the place, so
// stations near each other share it as far as they look the same way, and the
// two legs of a right-angled corner do not.
func (g *Ground) pool(e []edge, stations []int, left bool, b bias) (excess, sd float64, records int) {
	var se, shared float64
	for _, i := range stations {
		if left {
			excess += e[i].left
		} else {
			excess += e[i].right
		}
		se += e[i].se
		records = max(records, e[i].n)
		p := g.stations[i]
		for _, j := range stations {
			q := g.stations[j]
			x := math.Hypot(p.point[0]-q.point[0], p.point[1]-q.point[1]) / biasLength
			shared += (p.dir[0]*q.dir[0] + p.dir[1]*q.dir[1]) * (1 + x) * math.Exp(-x)
		}
	}
	k := float64(len(stations))
	return excess / k, math.Sqrt(b.sd*b.sd*math.Max(shared, 0)/k/k + se/k*se/k), records
}

// corners looks at street corners, where a fault shows most: at the apex, and
// where the arc begins and ends. A runner who cuts the corner is as far inside
// there, square to the legs, and each leg has an error of its own.
func (g *Ground) corners(t *Tally, least int, b bias, v *Verdict) []Finding {
	if len(g.bends) == 0 {
		return nil
	}
	// Three trials at the inside of each corner that are nearly two, and one at
	// its outside, where a fault is far less likely.
	count := float64(len(g.bends))
	inner := upper(alarm*(1-outsideShare)/(2*count), b.freedom)
	outer := upper(alarm*outsideShare/count, b.freedom)
	v.level[1] = inner
	v.SeesCorner = inner * math.Hypot(b.sd/math.Sqrt2, tipSpread)
	e := g.edges(t, least)
	var out []Finding
	for _, c := range g.bends {
		at := g.stations[c.apex].at
		inside, outside := OutsideLeft, OutsideRight
		if g.Race.Line.Turns[g.stations[c.apex].turn].Side < 0 {
			inside, outside = outside, inside
		}
		best, most := Finding{}, 1.0 // of the statistic over its level
		try := func(kind Kind, level float64, stations ...int) {
			for _, i := range stations {
				if e[i].n == 0 {
					return
				}
			}
			excess, sd, n := g.pool(e, stations, kind == OutsideLeft, b)
			sd = math.Hypot(sd, tipSpread)
			if kind == inside {
				v.worst[1] = math.Max(v.worst[1], excess/sd)
			}
			if x := excess / sd / level; x >= most && excess >= leastFault {
				most = x
				best = Finding{Kind: kind, From: at - spacing, To: at + spacing, Metres: interval.Normal(excess, sd), Records: n}
			}
		}
		try(inside, inner, c.apex)
		try(inside, inner, c.before, c.after)
		try(inside, inner, c.before, c.apex, c.after)
		try(outside, outer, c.apex)
		if best.Kind != "" && !overlaps(v.Findings, best, 10) {
			best.Turns = g.turnsIn(at, at, 1)
			out = append(out, best)
		}
	}
	return out
}

func overlaps(list []Finding, f Finding, near float64) bool {
	for _, o := range list {
		if o.From-near < f.To && f.From < o.To+near {
			return true
		}
	}
	return false
}

// guarded looks at the edges that cones or a line keep, by the race sheet:
// there a fault is likelier than anywhere on the road, and they are few, so
// less is needed to call one.
func (g *Ground) guarded(t *Tally, least int, b bias, v *Verdict) []Finding {
	type trial struct {
		guard      guard
		stations   []int
		excess, sd float64
		records    int
	}
	e := g.edges(t, least)
	var trials []trial
	count := 0.0
	for _, x := range g.guards {
		var here []int
		for j, s := range g.stations {
			if s.at >= x.from && s.at <= x.to && e[j].n > 0 {
				here = append(here, j)
			}
		}
		before := len(trials)
		for window := 3; len(here) > 0; window *= 2 {
			size := min(window, len(here))
			for first := 0; first+size <= len(here); first += max(size/2, 1) {
				pick := here[first : first+size]
				excess, sd, n := g.pool(e, pick, x.left, b)
				trials = append(trials, trial{x, pick, excess, sd, n})
			}
			if size == len(here) {
				break
			}
		}
		if n := len(trials) - before; n > 0 {
			count += math.Max(1, float64(n)/4)
		}
	}
	if len(trials) == 0 {
		return nil
	}
	level := upper(alarm/count, b.freedom)
	v.level[3] = level
	sort.SliceStable(trials, func(i, j int) bool { return trials[i].excess/trials[i].sd > trials[j].excess/trials[j].sd })
	v.worst[3] = trials[0].excess / trials[0].sd
	var out []Finding
	for _, x := range trials {
		if x.excess < math.Max(level*x.sd, leastFault) {
			break
		}
		f := Finding{Kind: OutsideRight, From: g.stations[x.stations[0]].at, To: g.stations[x.stations[len(x.stations)-1]].at, Metres: interval.Normal(x.excess, x.sd), Records: x.records}
		if x.guard.left {
			f.Kind = OutsideLeft
		}
		if overlaps(v.Findings, f, 10) || overlaps(out, f, 50) {
			continue
		}
		f.Turns = g.turnsIn(f.From, f.To, 40)
		out = append(out, f)
	}
	return out
}

// leftOut finds parts that most of the field left out.
func (g *Ground) leftOut(t *Tally, least int, others []Finding) []Finding {
	var out []Finding
	first, end, seen, records := -1, 0, 0, 0
	flush := func() {
		if first >= 0 && seen >= 3 {
			f := Finding{Kind: Missing, From: g.stations[first].at, To: g.stations[end].at, Records: records}
			f.Metres = interval.Normal(f.To-f.From, spacing/2)
			f.Turns = g.turnsIn(f.From, f.To, 40)
			known := false
			for _, o := range others {
				known = known || o.From < f.To+50 && o.To > f.From-50
			}
			if !known {
				out = append(out, f)
			}
		}
		first, seen, records = -1, 0, 0
	}
	for j, s := range g.stations {
		if s.flank {
			continue
		}
		p := t.Places[j]
		n := p.Across.total() + int(p.Out)
		// More than half, and not by chance.
		if !s.judged || n < least || float64(p.Out) < float64(n)/2+math.Sqrt(float64(n)) {
			flush()
			continue
		}
		if first < 0 {
			first = j
		}
		end, seen = j, seen+1
		records = max(records, int(p.Out))
	}
	flush()
	return out
}

// backs looks at the turn-arounds. It also gives what all of them together say
// of the length: one that is not found wrong is drawn towards where it should
// be.
func (g *Ground) backs(t *Tally, least int, b bias, v *Verdict) (out []Finding, shift, variance float64) {
	if len(g.arounds) == 0 {
		return nil, 0, 0
	}
	level := upper(alarmBack/2/float64(len(g.arounds)), b.freedom)
	base := math.Hypot(b.sd, tipSpread)
	v.level[2] = level
	v.Sees = level * base
	for k, a := range g.arounds {
		s := &t.Reaches[k]
		n := s.total()
		if n < least {
			continue
		}
		var groups []Group
		whole := s
		if far, near, ok := groupsOf(s); ok {
			for _, x := range []sketch{far, near} {
				groups = append(groups, Group{AtPlace, interval.Normal(x.quantile(0.5, reachBin)-tipUsual,
					math.Hypot(base, medianError(x.spread(reachBin), x.total()))), x.total()})
			}
			// One of them did not turn at the place, whatever the shared error is.
			if groups[0].Kind = Short; groups[0].Metres.Value > 0 {
				groups[0].Kind = Long
			}
			// How long the course is the group says that turned where it should.
			s = &near
		}
		m := s.quantile(0.5, reachBin)
		sd := math.Hypot(base, medianError(s.spread(reachBin), s.total()))
		off := m - tipUsual
		f := Finding{From: a.at + math.Min(m, 0), To: a.at + math.Abs(m), Turns: []int{g.Race.Line.Turns[a.turn].Number}, Records: n,
			Metres: interval.Normal(off, sd), Length: interval.Normal(2*off, 2*sd)}
		if groups != nil {
			where := groups[0].Metres.Value + tipUsual
			out = append(out, Finding{Kind: Parted, From: a.at - math.Abs(where), To: a.at + math.Abs(where), Turns: f.Turns, Records: whole.total(),
				Metres: groups[0].Metres, Length: groups[0].Metres.Scale(2), Groups: groups})
		} else {
			v.worst[2] = math.Max(v.worst[2], math.Max(tipLeast-m, off-2)/sd)
		}
		switch {
		case tipLeast-m > level*sd:
			f.Kind = Short
		case off-2 > level*sd: // a crowd may go round some metres behind
			f.Kind = Long
		default:
			k := tipAnchor * tipAnchor / (tipAnchor*tipAnchor + sd*sd)
			shift += 2 * k * off
			variance += 4 * k * sd * sd
			continue
		}
		if groups == nil {
			out = append(out, f)
		} else {
			groups[1].Kind = f.Kind
		}
		shift += f.Length.Value
		variance += 4 * sd * sd
	}
	return out, shift, variance
}

// groupsOf parts the reaches at a turn-around in two when they clearly fall into
// two groups: far is the one that turned further from where it should. The
// error that receivers share moves both alike and has no say.
func groupsOf(s *sketch) (far, near sketch, ok bool) {
	n := s.total()
	least := max(fewest, int(math.Ceil(groupShare*float64(n))))
	low, high, ok := s.part(least, reachBin)
	if !ok {
		return far, near, false
	}
	a, b := low.quantile(0.5, reachBin), high.quantile(0.5, reachBin)
	third := (b - a) / 3
	spread := math.Max(math.Max(low.spread(reachBin), high.spread(reachBin)), reachBin)
	valley := float64(s.within(a+third, b-third, reachBin))
	if b-a < math.Max(groupApart, groupClear*spread) || valley > groupValley*float64(min(low.total(), high.total())) {
		return far, near, false
	}
	if math.Abs(a-tipUsual) > math.Abs(b-tipUsual) {
		return low, high, true
	}
	return high, low, true
}

// longer is by how much the crowd's middle way through a finding is longer
// than the line, m.
func (g *Ground) longer(t *Tally, least int, f Finding, b bias) interval.Estimate {
	const margin = 60.0
	if whole, ok := g.within(f); ok {
		f = whole
	} else if e, ok := g.shorter(t, least, f, b); ok {
		return e
	}
	var length, from, to float64
	have := false
	var x, y float64
	for j, s := range g.stations {
		if s.at < f.From-margin || s.at > f.To+margin || !s.judged || s.flank || t.Places[j].Across.total() < least ||
			int(t.Places[j].Out) > t.Places[j].Across.total() {
			continue
		}
		m := t.Places[j].Across.quantile(0.5, acrossBin)
		px, py := s.point[0]-s.dir[1]*m, s.point[1]+s.dir[0]*m
		if have {
			length += math.Hypot(px-x, py-y)
		} else {
			from, have = s.at, true
		}
		x, y, to = px, py, s.at
	}
	d := length - (to - from)
	return interval.Normal(d, math.Hypot(2*b.sd, 0.25*d))
}

// within is a finding at an edge that cones or a line keep, over the whole of
// that edge: when it gives way, it does so for its whole length.
func (g *Ground) within(f Finding) (Finding, bool) {
	ok := false
	for _, x := range g.guards {
		if x.left == (f.Kind == OutsideLeft) && (f.Kind == OutsideLeft || f.Kind == OutsideRight) && x.from < f.To && f.From < x.to {
			f.From, f.To, ok = math.Min(f.From, x.from), math.Max(f.To, x.to), true
		}
	}
	return f, ok
}

// merged puts findings at one guarded edge together, with the figures of the
// first, and gives all in the order of the course.
func (g *Ground) merged(list []Finding) []Finding {
	var out []Finding
next:
	for _, f := range list {
		whole, ok := g.within(f)
		for i := range out {
			o := &out[i]
			if ok && o.Kind == f.Kind && whole.From < o.To && o.From < whole.To {
				o.From, o.To = math.Min(o.From, f.From), math.Max(o.To, f.To)
				for _, k := range f.Turns {
					if !slices.Contains(o.Turns, k) {
						o.Turns = append(o.Turns, k)
					}
				}
				slices.Sort(o.Turns)
				continue next
			}
		}
		out = append(out, f)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].From < out[j].From })
	return out
}

// shorter is by how much a street corner that the crowd passes inside makes
// the course shorter. Passed d metres inside at the bisector, a turn by θ is
// shorter by 2d(1-cos θ/2)/cos θ/2 if the corner was cut straight across, and by
// 2d sin θ/2 if the whole road lay further in; which it was is left open.
func (g *Ground) shorter(t *Tally, least int, f Finding, b bias) (interval.Estimate, bool) {
	scale := g.length / g.Race.Line.Length
	var sum, variance float64
	some := false
	for j, s := range g.stations {
		sk := &t.Places[j].Across
		if !s.corner || s.at < f.From-20 || s.at > f.To+20 || sk.total() < least {
			continue
		}
		m := sk.quantile(0.5, acrossBin)
		for _, turn := range g.Race.Line.Turns {
			half := math.Min(math.Abs(turn.Angle)/2, 1.2)
			inside := m - s.left
			if turn.Angle < 0 {
				inside = s.right - m
			}
			if s.at < turn.From*scale-1 || s.at > turn.To*scale+1 || inside <= 0 || (turn.Angle > 0) != (f.Kind == OutsideLeft) {
				continue
			}
			across, inner := 2*(1-math.Cos(half))/math.Cos(half), 2*math.Sin(half)
			// Runners round either off, hence at least a quarter.
			mid, spread := (across+inner)/2, math.Max(math.Abs(inner-across)/math.Sqrt(12), 0.25)
			sum -= mid * inside
			variance += math.Pow(inside*spread, 2) + math.Pow(mid*math.Hypot(b.sd, tipSpread), 2)
			some = true
		}
	}
	return interval.Normal(sum, math.Sqrt(variance)), some
}

// turnsIn gives the numbers of the turns at or near a stretch.
func (g *Ground) turnsIn(from, to, near float64) []int {
	scale := g.length / g.Race.Line.Length
	var out []int
	for _, t := range g.Race.Line.Turns {
		if t.To*scale > from-near && t.From*scale < to+near {
			out = append(out, t.Number)
		}
	}
	return out
}

// crowd fills in where the crowd ran.
func (g *Ground) crowd(t *Tally, least int, b bias, v *Verdict) {
	none := interval.Exact(math.NaN())
	for j, s := range g.stations {
		sk := &t.Places[j].Across
		p := Place{At: s.at, Records: sk.total(), LeftOut: int(t.Places[j].Out), Off: none, Low: math.NaN(), High: math.NaN(), Left: s.left, Right: s.right}
		if p.Records >= fewest {
			m := sk.quantile(0.5, acrossBin)
			p.Off = interval.Normal(m, math.Hypot(b.sd, medianError(sk.spread(acrossBin), p.Records)))
			p.Low, p.High = sk.quantile(0.05, acrossBin), sk.quantile(0.95, acrossBin)
			p.Density = density(sk, s)
		}
		v.Places = append(v.Places, p)
	}
	scale := g.length / g.Race.Line.Length
	for k, turn := range g.Race.Line.Turns {
		c := TurnCrowd{Number: turn.Number, At: turn.At, Angle: turn.Angle, Outside: none, Beyond: none, Extra: none}
		// The station next to the turn where the place across can be told.
		best := 30.0
		for j, s := range g.stations {
			d := math.Abs(s.at - turn.At*scale)
			if p := v.Places[j]; s.judged && d < best && p.Records >= fewest {
				best, c.Outside, c.Records = d, p.Off.Scale(-float64(turn.Side)), p.Records
			}
		}
		for i, a := range g.arounds {
			if s := &t.Reaches[i]; a.turn == k && s.total() >= fewest {
				c.Records = s.total()
				c.Beyond = interval.Normal(s.quantile(0.5, reachBin), math.Hypot(math.Hypot(b.sd, tipSpread), medianError(s.spread(reachBin), s.total())))
			}
		}
		if s := &t.Extras[k]; s.total() >= fewest {
			c.Records = max(c.Records, s.total())
			c.Extra = interval.Estimate{Value: s.quantile(0.5, extraBin), Low: s.quantile(0.25, extraBin), High: s.quantile(0.75, extraBin)}
		}
		v.Crowd = append(v.Crowd, c)
	}
}

// density shares the records out over the metres from the right edge to the
// left.
func density(sk *sketch, s station) []float64 {
	n := max(1, int(math.Ceil(s.left-s.right)))
	out := make([]float64, n)
	for i, c := range sk.Count {
		y := (float64(sk.Low) + float64(i) + 0.5) * acrossBin
		out[max(0, min(int(math.Floor(y-s.right)), n-1))] += float64(c) / float64(sk.total())
	}
	return out
}

// leavings gathers where single records left the road.
func (g *Ground) leavings(t *Tally) []Leaving {
	type where struct {
		how  How
		turn int // number of the nearest turn, or minus the number of the one before
	}
	group := map[where]*Leaving{}
	scale := g.length / g.Race.Line.Length
	for _, r := range t.Rows {
		told := map[where]bool{}
		for _, s := range r.Left {
			mid := float64(s.From+s.To) / 2
			w := where{s.How, 0}
			nearest := 60.0
			for _, turn := range g.Race.Line.Turns {
				if turn.From*scale < mid {
					if w.turn <= 0 {
						w.turn = -turn.Number
					}
				}
				if d := math.Max(turn.From*scale-mid, mid-turn.To*scale); d < nearest {
					nearest, w.turn = d, turn.Number
				}
			}
			l := group[w]
			if l == nil {
				l = &Leaving{From: float64(s.From), To: float64(s.To), How: s.How}
				if w.turn > 0 {
					l.Turns = []int{w.turn}
				}
				group[w] = l
			}
			l.From, l.To = math.Min(l.From, float64(s.From)), math.Max(l.To, float64(s.To))
			if !told[w] {
				told[w] = true
				l.Records++
			}
		}
	}
	var out []Leaving
	for _, l := range group {
		shown := 0
		for j, s := range g.stations {
			if s.at >= l.From-spacing && s.at <= l.To+spacing {
				shown = max(shown, t.Places[j].Across.total()+int(t.Places[j].Out))
			}
		}
		l.Share = wilson(l.Records, max(shown, l.Records))
		out = append(out, *l)
	}
	sort.Slice(out, func(i, j int) bool {
		if out[i].From != out[j].From {
			return out[i].From < out[j].From
		}
		return out[i].How < out[j].How
	})
	return out
}

// wilson is the 90 % score interval of a share (Wilson 1927).
func wilson(k, n int) interval.Estimate {
	if n == 0 {
		return interval.Exact(math.NaN())
	}
	z, m, p := interval.Z90, float64(n), float64(k)/float64(n)
	mid := (p + z*z/2/m) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/4/m/m)
	return interval.Estimate{Value: p, Low: math.Max(0, math.Min(mid-half, p)), High: math.Min(1, math.Max(mid+half, p))}
}

// conclude puts the verdict in words.
func (g *Ground) conclude(v *Verdict) {
	covered := 0
	for _, p := range v.Places {
		if p.Records+p.LeftOut >= max(fewest, v.Records/4) {
			covered++
		}
	}
	official := g.Race.Official
	switch {
	case len(v.Findings) > 0 && !slices.ContainsFunc(v.Findings, func(f Finding) bool { return f.Kind != Parted }):
		v.Conclusion = LookAt
		v.Why = "a part of the field did not run the course that the rest ran"
	case len(v.Findings) > 0:
		v.Conclusion = LookAt
		v.Why = "the field as a whole did not run the course as it is drawn there"
	case v.Records < 2*fewest:
		v.Conclusion = CannotTell
		v.Why = fmt.Sprintf("%d records are too few; 20 are the least, 200 tell much more", v.Records)
	case covered*10 < 9*len(v.Places):
		v.Conclusion = CannotTell
		v.Why = fmt.Sprintf("only %d %% of the course is shown by enough records", 100*covered/max(len(v.Places), 1))
	case official > 0 && !v.Course.Holds(official):
		v.Conclusion = CannotTell
		v.Why = fmt.Sprintf("the field ran the drawn course, but its shortest line differs from the official distance by %.0f m: check drawing and road before anything else", v.Course.Value-official)
	default:
		v.Conclusion = Agrees
		v.Why = "the field ran the course as it is drawn, as far as records can tell"
	}
}
