package review

import (
	"fmt"
	"math"
	"sort"

	"tautline/geo/interval"
	"tautline/geo/likely"
	"tautline/geo/record"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// How far some items of the ledger may be off, our own assumptions: half widths
// of their 90 % intervals, but for detourDoubt, a standard deviation.
const (
	detourDoubt = 0.03 // of the length off the course: scatter is not told apart there
	endDoubt    = 3.0  // m, position error where a line is crossed
	lossDoubt   = 0.2  // of the corner loss, as its shape is not known
	gapDoubt    = 0.1  // of what is booked where fixes are missing
)

// account gathers what the parts of a review are worked out from.
type account struct {
	r      *race.Race
	rec    record.Record
	v      *Review
	res    *likely.Result
	cum    []float64
	clock  []float64
	scale  float64
	stands stops
	blind  bool
	o      Options
	road   float64   // m, standard deviation of the shortest line by the road's doubt
	byTurn []float64 // m, the same around each turn
}

// doubt works out what the road's own doubt means for the line.
func (a *account) doubt() {
	a.byTurn = make([]float64, len(a.r.Line.Turns))
	if a.o.Doubt.Width == 0 && a.o.Doubt.Radius == 0 {
		return
	}
	var width, radius float64
	widths, radii := make([]float64, len(a.byTurn)), make([]float64, len(a.byTurn))
	for _, v := range a.r.Doubts() { // each kind comes twice, once in each direction
		for k := range a.byTurn {
			if k < len(v.ByTurn) {
				widths[k] += v.ByTurn[k] * v.Width / 2
				radii[k] += v.ByTurn[k] * v.Radius / 8 // over ±2 m
			}
		}
		width += v.Difference * v.Width / 2
		radius += v.Difference * v.Radius / 8
	}
	a.road = math.Hypot(width*a.o.Doubt.Width, radius*a.o.Doubt.Radius)
	for k := range a.byTurn {
		a.byTurn[k] = math.Hypot(widths[k]*a.o.Doubt.Width, radii[k]*a.o.Doubt.Radius)
	}
}

// widen adds an independent error of this standard deviation to an estimate.
func widen(e interval.Estimate, sd float64) interval.Estimate {
	h := interval.Z90 * sd
	return interval.Estimate{Value: e.Value, Low: e.Value - math.Hypot(e.Value-e.Low, h), High: e.Value + math.Hypot(e.High-e.Value, h)}
}

// halfWidth of a 90 % interval.
func halfWidth(e interval.Estimate) float64 { return e.Width() / 2 }

// around is an interval of this half width.
func around(v, half float64) interval.Estimate {
	return interval.Estimate{Value: v, Low: v - half, High: v + half}
}

// detour is a way off the course that was really run: longer than the part of
// the course that was left out, or a shorter way.
type detour struct {
	from, to float64 // m along the line that was left out
	length   float64 // m that was run in its place
}

// detours finds stretches of the record off the course at a runner's speed:
// they were run. Thrown fixes move faster than anybody runs. A shorter way is
// told only where fixes show it without a gap: a record without signal takes
// the short way as well.
func (a *account) detours() []detour {
	const least = 40.0                        // m more than the course
	short := math.Max(20, 8*a.v.Noise.Wander) // m less
	var out []detour
	m := a.v.Match
	usual := a.usualStep()
	last, done := -1, 0 // the last fix on the course, and the end of the last way off it
	for i := range m.At {
		if math.IsNaN(m.At[i]) {
			continue
		}
		if skipped := last >= 0 && m.At[i]-m.At[last] > a.cum[i]-a.cum[last]+short; skipped || last >= 0 && i > last+2 {
			first, end := a.leaves(last, i)
			if first = max(first, done); first >= end {
				last = i
				continue // within the way off the course before it
			}
			d := detour{a.r.Along(m.At[first]), a.r.Along(m.At[end]), a.cum[end] - a.cum[first]}
			extra := d.length - (d.to - d.from)
			if extra > least && a.wasRun(last, i, 30) || extra < -short && a.wasRun(last, i, 2*usual+1) && a.hidden(d) {
				out = append(out, d)
				done = end
			}
		}
		last = i
	}
	return out
}

// usualStep is the median time between fixes, s.
func (a *account) usualStep() float64 {
	steps := make([]float64, 0, len(a.clock))
	for i := 1; i < len(a.clock); i++ {
		steps = append(steps, a.clock[i]-a.clock[i-1])
	}
	sort.Float64s(steps)
	return steps[len(steps)/2]
}

// leaves gives the fix at which a way off the course left it and the one at
// which it came back. A fix still counts as on the course when it is farther
// off than the road is wide; from the last and the first such fix the record
// is followed back and on for as long as it comes nearer to the course.
func (a *account) leaves(last, first int) (from, to int) {
	m := a.v.Match
	off := func(i int) float64 { return math.Abs(m.Off[i]) }
	for from = last; from > 0 && last-from < 60 && !math.IsNaN(m.At[from-1]) && off(from-1) < off(from); from-- {
	}
	for to = first; to+1 < len(m.At) && to-first < 60 && !math.IsNaN(m.At[to+1]) && off(to+1) < off(to); to++ {
	}
	return from, to
}

// totals are what the sections and detours of a record add up to, m.
type totals struct {
	turns  float64 // run beyond the line in the turns
	unseen float64 // run before the record begins or after it ends
	shown  float64 // sum of the fixes beyond what was run, where the record shows it
	lost   float64 // of that, what the fixes cut off the turns
	off    float64 // run off the course, beyond the part of it that was left out; below 0 for a shorter way
	away   float64 // the whole length of the ways off the course
	stood  float64 // what the fixes wandered while the runner stood
	lead   float64 // recorded before the start line
	out    float64 // recorded after the finish line
}

// wasRun tells whether a runner can have gone from one fix to another by those
// between, none of them so many seconds apart.
func (a *account) wasRun(from, to int, seconds float64) bool {
	const fastest = 9.0 // m/s between fixes, position error included
	for k := from; k < to; k++ {
		dt := a.clock[k+1] - a.clock[k]
		if !(dt < seconds && a.cum[k+1]-a.cum[k] <= fastest*math.Max(dt, 1)) {
			return false
		}
	}
	return a.rec.Timed
}

// hidden tells whether most of what a detour left out is not shown otherwise.
func (a *account) hidden(d detour) bool {
	var shown float64
	for _, s := range a.res.Sections {
		if !s.Missing {
			shown += math.Max(0, math.Min(s.To/a.scale, d.to)-math.Max(s.From/a.scale, d.from))
		}
	}
	return shown < (d.to-d.from)/2
}

// guessed is what habits say was run beyond the line where a detour left it out.
func (a *account) guessed(d detour) (sum float64) {
	for _, s := range a.res.Sections {
		from, to := s.From/a.scale, s.To/a.scale
		if over := math.Min(to, d.to) - math.Max(from, d.from); s.Missing && over > 0 {
			sum += s.Extra.Value * over / (to - from)
		}
	}
	return sum
}

// totals adds up the sections, the ways off the course and the ends.
func (a *account) totals() totals {
	var t totals
	if !a.blind { // fixes that were put on the course may jump between its legs
		for _, d := range a.detours() {
			t.off += d.length - (d.to - d.from) - a.guessed(d)
			t.away += d.length
			if less := d.to - d.from - d.length; less > 0 {
				a.v.Notes = append(a.v.Notes, fmt.Sprintf("part of the course was not run: from %s to %s of it the record takes a way that is %s shorter; whether the result stands is for the race to say",
					quantity.Distance(d.from, quantity.Metric), quantity.Distance(d.to, quantity.Metric), quantity.Distance(less, quantity.Metric)))
			}
		}
	}
	if t.away > 0 { // these ways were run at least
		t.off = math.Max(t.off, t.away-a.r.Line.Length-a.res.Extra.Value)
	}
	first, last := 0.0, float64(len(a.cum)-1) // fixes at which the race begins and ends
	for _, s := range a.res.Sections {
		if !math.IsNaN(s.First) {
			first = s.First
			break
		}
	}
	for i := len(a.res.Sections) - 1; i >= 0; i-- {
		if s := a.res.Sections[i]; !math.IsNaN(s.Last) {
			last = s.Last
			break
		}
	}
	t.lead, t.out = index(a.cum, first), a.cum[len(a.cum)-1]-index(a.cum, last)
	for _, s := range a.stands.all {
		if float64(s.from) >= first && float64(s.to) <= last {
			t.stood += s.wandered
		}
	}
	for _, s := range a.res.Sections {
		if s.Turn >= 0 {
			t.turns += s.Extra.Value
		}
		ran := (s.To-s.From)/a.scale + s.Extra.Value
		switch {
		case !s.Missing:
			t.shown += index(a.cum, s.Last) - index(a.cum, s.First) + s.Unseen - ran
			t.unseen += s.Unseen
			t.lost += s.Lost
		case beyond(a.res, s):
			t.unseen += ran
		}
	}
	return t
}

// add writes one item of the ledger.
func (a *account) add(cause string, whose Whose, metres interval.Estimate, sentence string) {
	a.v.Ledger = append(a.v.Ledger, Item{cause, whose, metres, sentence})
}

// ledger makes the account. Every item but the last of each group is worked
// out on its own; what closes the account is the scatter, which is what the
// fixes add up to beyond what was run.
func (a *account) ledger() {
	t := a.totals()
	a.course()
	a.feet(t)
	a.ends(t)
	a.reception(t)
	a.close()
}

// course says where the ledger starts, and what the course itself adds.
func (a *account) course() {
	v := a.v
	line, surface := a.r.Line.Length, a.r.Line.SurfaceLength
	if math.IsNaN(surface) {
		surface = line
	}
	switch {
	case a.r.Official == 0:
		v.Start, v.StartIs = line, Line
	case a.r.Certified:
		v.Start, v.StartIs = a.r.Official, Certified
		long := race.LaidLong * v.Start
		a.add("laid out long", Course, interval.Estimate{Value: long, Low: 0, High: 2 * long},
			"A certified course is laid out a thousandth long so that it is never short.")
		a.add("the drawn map", Course, widen(around(surface-v.Start-long, long), a.road),
			"The shortest line on the drawn map differs by this from the certified course; the certificate is believed.")
	default:
		v.Start, v.StartIs = a.r.Official, Announced
		a.add("course against its name", Course, widen(interval.Exact(surface-v.Start), a.road),
			"The shortest legal line of the drawn course is longer or shorter than the announced distance.")
	}
	if v.StartIs != Line && surface != line {
		a.add("surface against map", Course, interval.Exact(line-surface),
			"A course is measured along the road's surface, up and down; a watch sums the map.")
	}
}

// feet says what the runner ran beyond the line.
func (a *account) feet(t totals) {
	v, res := a.v, a.res
	v.Between = res.Between
	v.Extra = widen(res.Extra.Shift(t.off), a.road)
	v.Ran = res.Extra.Shift(t.off + a.r.Line.Length)
	if t.away > 0 {
		v.Extra, v.Ran = widen(v.Extra, detourDoubt*t.away), widen(v.Ran, detourDoubt*t.away)
	}
	half := math.Sqrt(math.Max(0, halfWidth(res.Extra)*halfWidth(res.Extra)-halfWidth(res.Between)*halfWidth(res.Between)))
	a.add("turns run wide", Feet, widen(around(t.turns, half), a.road), "Going outside the shortest line in the turns.")
	a.add("between turns", Feet, res.Between, "Crossing the road and passing others between the turns.")
	if t.away > 0 {
		sentence := "A way that left the course and came back."
		if t.off < 0 {
			sentence = "A way that left the course and came back to it farther on: part of the course was not run."
		}
		a.add(OffCourse, Feet, widen(interval.Exact(t.off), detourDoubt*t.away), sentence)
	}
}

// ends says what was recorded outside the race, or not recorded of it.
func (a *account) ends(t totals) {
	if t.lead >= 0.5 {
		a.add("lead-in", Ends, around(t.lead, math.Min(t.lead, endDoubt)), "Recorded before the start line.")
	}
	if t.out >= 0.5 {
		a.add("run-out", Ends, around(t.out, math.Min(t.out, endDoubt)), "Recorded after the finish line.")
	}
	if t.unseen > 0.5 {
		a.add(NotRecorded, Watch, around(-t.unseen, math.Min(t.unseen, endDoubt)), "Parts of the course before the record begins or after it ends.")
	}
}

// reception says what the fixes lose and gain against the way that was run.
func (a *account) reception(t totals) {
	lossHalf := lossDoubt*math.Abs(t.lost) + 0.5
	a.add("corner loss", Watch, around(-t.lost, lossHalf), lossSentence(t.lost))
	a.add("scatter", Watch, around(t.shown+t.lost, math.Hypot(halfWidth(a.res.Extra), lossHalf)),
		"Position error makes the fixes zigzag, and the watch adds up the zigzag.")
	if t.stood >= 0.5 {
		a.add("standing", Watch, around(t.stood, 0.2*t.stood+1), "While you stood, the fixes wandered about.")
	}
	if a.stands.seconds > 0 {
		// The fixes of a stop are part of the record's sum but of no section.
		a.v.Notes = append(a.v.Notes, fmt.Sprintf("the runner stood for %.0f s in all; that time counts for nothing here", a.stands.seconds))
	}
}

// close makes the items add up to what the record, and then the watch, shows.
func (a *account) close() {
	v := a.v
	var sum float64
	for _, i := range v.Ledger {
		sum += i.Metres.Value
	}
	if gap := v.Recorded - v.Start - sum; math.Abs(gap) > 0.05 {
		a.add("gaps", Watch, around(gap, gapDoubt*math.Abs(gap)+1), "Where fixes are missing or thrown, the record goes another way than the runner.")
	} else { // rounding
		s := &v.Ledger[len(v.Ledger)-1].Metres
		*s = s.Shift(gap)
	}
	v.Watch, v.WatchIs = v.Recorded, "record"
	if a.o.Watch > 0 {
		v.Watch, v.WatchIs = a.o.Watch, "watch"
		a.add("the watch's own sum", Watch, interval.Exact(v.Watch-v.Recorded),
			"The watch counts by other means, or rounds, and shows something else than its fixes add up to.")
	}
}

// beyond tells whether a section lies before everything that the record shows
// or after it.
func beyond(res *likely.Result, s likely.Section) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range res.Path {
		low, high = math.Min(low, p.Along), math.Max(high, p.Along)
	}
	return s.To <= low+1 || s.From >= high-1
}

func lossSentence(lost float64) string {
	if lost < 0 {
		return "The receiver's filter swings out behind turns and comes back."
	}
	return "Fixes far apart, or filtered, cut the turns short."
}

// UsualDoubt is how well a road is known when nobody says: 90 % half widths of
// 0.3 m of width and 0.5 m of corner radius where they were given, of 1 m and
// 2 m where they were guessed (common practice for figures from a map).
func UsualDoubt(widthGiven, radiusGiven bool) Doubt {
	d := Doubt{FromHalfWidth(1), FromHalfWidth(2)}
	if widthGiven {
		d.Width = FromHalfWidth(0.3)
	}
	if radiusGiven {
		d.Radius = FromHalfWidth(0.5)
	}
	return d
}

// FromHalfWidth turns the half width of a 90 % interval into a standard
// deviation.
func FromHalfWidth(h float64) float64 { return h / interval.Z90 }
