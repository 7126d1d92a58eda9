package likely

import (
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"

	"tautline/geo/interval"
)

// Fix is one fix of a record in the plane of the reference line.
type Fix struct {
	P     orb.Point
	T     float64 // s from any origin, NaN without time
	Along float64 // first guess of the place along the reference line, NaN where the follower found none
}

// margin is how far before and after a turn, in metres, its section reaches:
// a runner who goes wide leaves the line before the kerb begins to bend.
const margin = 18.0

// usualSpeed is that of a runner of 5:00/km, m/s.
const usualSpeed = 10. / 3

// section is a part of the reference line between two normals to it.
type section struct {
	turn     int     // index into Reference.Turns, -1 between turns
	from, to float64 // m along the line
	first    float64 // fractional index of the fix at from
	last     float64 // fractional index of the fix at to
	rec      float64 // m, recorded length between the two normals
	seconds  float64 // s between the two normals, NaN without time
	steps    float64
	unseen   float64 // m of it at the record's ends that the record does not show
	missing  bool    // no record, or a gap in it
}

func (s section) length() float64  { return s.to - s.from }
func (s section) surplus() float64 { return s.rec - s.length() }

// cut parts the line into sections: one around every turn and one between.
func cut(r *Reference, from, to float64) []section {
	var out []section
	at := from
	for k, t := range r.Turns {
		lo, hi := t.From-margin, t.To+margin
		if k > 0 {
			lo = math.Max(lo, (r.Turns[k-1].To+t.From)/2)
		}
		if k+1 < len(r.Turns) {
			hi = math.Min(hi, (t.To+r.Turns[k+1].From)/2)
		}
		lo, hi = math.Max(lo, from), math.Min(hi, to)
		if hi <= lo {
			continue
		}
		if lo > at {
			out = append(out, section{turn: -1, from: at, to: lo})
		}
		out = append(out, section{turn: k, from: lo, to: hi})
		at = hi
	}
	if to > at {
		out = append(out, section{turn: -1, from: at, to: to})
	}
	return out
}

// cutSeen is cut for a record that shows the line from low to high: what it
// does not show is parted from what it shows.
func cutSeen(r *Reference, from, to, low, high float64) []section {
	if low < from+atLine {
		low = from
	}
	if high > to-atLine {
		high = to
	}
	if high <= low {
		return cut(r, from, to)
	}
	var out []section
	for _, span := range [3][2]float64{{from, low}, {low, high}, {high, to}} {
		if span[1] > span[0] {
			out = append(out, cut(r, span[0], span[1])...)
		}
	}
	return out
}

// placed is a record laid along the line.
type placed struct {
	fixes []Fix
	from  []int     // index of each among the fixes given
	s, y  []float64 // m along and off the line
	cum   []float64 // m, recorded length up to each fix
	gap   []bool    // the step from this fix to the next is a gap
	dt    float64   // s, median step; 1 without times
	step  float64   // m, median step
}

// place finds every fix's place along the line near the follower's guess.
// Fixes without a guess are left out: what they were is the caller's matter.
func place(r *Reference, fixes []Fix) *placed {
	p := &placed{}
	for i, f := range fixes {
		if math.IsNaN(f.Along) {
			if n := len(p.gap); n > 0 {
				p.gap[n-1] = true
			}
			continue
		}
		s, y := r.foot(f.P, f.Along, 25)
		if n := len(p.fixes); n > 0 {
			q := p.fixes[n-1]
			p.cum = append(p.cum, p.cum[n-1]+math.Hypot(f.P[0]-q.P[0], f.P[1]-q.P[1]))
		} else {
			p.cum = append(p.cum, 0)
		}
		p.fixes = append(p.fixes, f)
		p.from = append(p.from, i)
		p.s, p.y = append(p.s, s), append(p.y, y)
		p.gap = append(p.gap, false)
	}
	n := len(p.fixes)
	if n < 2 {
		return p
	}
	var dts, steps []float64
	for i := 1; i < n; i++ {
		steps = append(steps, p.cum[i]-p.cum[i-1])
	}
	p.step = median(steps)
	if math.IsNaN(p.fixes[0].T) {
		p.guessTimes(steps)
	}
	for i := 1; i < n; i++ {
		dts = append(dts, p.fixes[i].T-p.fixes[i-1].T)
	}
	p.dt = median(dts)
	if !(p.dt > 0) {
		p.dt = 1
	}
	for i := range n - 1 {
		if d := dts[i]; d > math.Max(15, 3.5*p.dt) || p.gapStep(steps[i]) || p.skips(i, steps[i]) {
			p.gap[i] = true
		}
	}
	return p
}

// guessTimes stands in for the clock of a record without times, which has these
// steps in metres. Receivers write fixes at even times, mostly every second, and
// a step that is too long or too short is error, not speed. Where steps are as
// uneven as no runner's, fixes were left out, and a steady runner stands in.
func (p *placed) guessTimes(steps []float64) {
	every := p.step / usualSpeed
	if every > 0.6 && every < 1.6 || every < 0.01 {
		every = 1
	}
	sorted := slices.Sorted(slices.Values(steps))
	const uneven = 4 // times as long are the steps of the upper tenth as those of the lower
	even := sorted[len(sorted)*9/10] < uneven*sorted[len(sorted)/10]
	p.fixes[0].T = 0
	for i, step := range steps {
		dt := every
		if !even || p.gapStep(step) {
			dt = step / usualSpeed
		}
		p.fixes[i+1].T = p.fixes[i].T + dt
	}
}

// skips tells whether the record leaves out a part of the line at a step, so
// that all fixes before it lie before that part and all behind it behind.
func (p *placed) skips(i int, step float64) bool {
	const around = 8 // fixes on either side
	if p.s[i+1]-p.s[i] <= step+skip {
		return false
	}
	before := slices.Max(p.s[max(0, i-around) : i+1])
	return slices.Min(p.s[i+1:min(len(p.s), i+1+around)])-before > step+skip
}

// gapStep tells whether a step is so long that fixes are missing in it.
func (p *placed) gapStep(step float64) bool { return step > math.Max(60, 4*p.step) }

func median(v []float64) float64 {
	w := make([]float64, 0, len(v))
	for _, x := range v {
		if !math.IsNaN(x) {
			w = append(w, x)
		}
	}
	if len(w) == 0 {
		return math.NaN()
	}
	sort.Float64s(w)
	return w[len(w)/2]
}

// skip is how many metres of the line more than its own length a step may take:
// beyond that a part of the line was left out.
const skip = 25.0

// atLine is how far from a normal, in metres, a record may begin or end that was
// begun or ended there.
const atLine = 8.0

// measure fills in what the record says of each section. Where the record
// passes a normal more than once, because its error along the road is larger
// than a step, the middle passage counts.
func (p *placed) measure(secs []section) {
	n := len(p.fixes)
	cross := func(b float64, start int) (float64, int) {
		first, last := -1, -1
		i := start
		for ; i < n-1; i++ {
			if p.s[i] < b && p.s[i+1] >= b || i == 0 && p.s[i] == b {
				if first < 0 {
					first = i
				}
				last = i
			}
			if first >= 0 && p.s[i] > b+20 {
				break
			}
			if first < 0 && p.s[i] > b+60 {
				break
			}
		}
		if first < 0 {
			return math.NaN(), start
		}
		mid := first
		for j := first; j <= last; j++ {
			if p.s[j] < b && p.s[j+1] >= b && math.Abs(float64(2*j-first-last)) < math.Abs(float64(2*mid-first-last)) {
				mid = j
			}
		}
		return float64(mid) + (b-p.s[mid])/(p.s[mid+1]-p.s[mid]), max(start, first-40)
	}
	at := 0
	prev := math.NaN()
	for k := range secs {
		sec := &secs[k]
		if k == 0 || secs[k-1].to != sec.from {
			prev, at = cross(sec.from, at)
		}
		// A record that begins or ends at the normal, give or take its error,
		// does not pass it.
		if math.IsNaN(prev) {
			if short := p.s[0] - sec.from; math.Abs(short) < atLine {
				prev, sec.unseen = 0, sec.unseen+short
			}
		}
		sec.first = prev
		prev, at = cross(sec.to, at)
		if math.IsNaN(prev) {
			if short := sec.to - p.s[n-1]; math.Abs(short) < atLine {
				prev, sec.unseen = float64(n-1), sec.unseen+short
			}
		}
		sec.last = prev
		if math.IsNaN(sec.first) || math.IsNaN(sec.last) || sec.last < sec.first {
			sec.missing = true
			continue
		}
		sec.rec = p.cumAt(sec.last) - p.cumAt(sec.first) + sec.unseen
		sec.seconds = p.timeAt(sec.last) - p.timeAt(sec.first)
		sec.steps = sec.last - sec.first
		for i := int(sec.first); i <= int(sec.last) && i < n-1; i++ {
			if p.gap[i] {
				sec.missing = true
			}
		}
	}
}

func (p *placed) cumAt(x float64) float64 { return lerp(p.cum, x) }

func (p *placed) timeAt(x float64) float64 {
	i := min(int(x), len(p.fixes)-2)
	a, b := p.fixes[i].T, p.fixes[i+1].T
	return a + (x-float64(i))*(b-a)
}

// given turns a fractional index among the placed fixes into one among the
// fixes given.
func (p *placed) given(x float64) float64 {
	if math.IsNaN(x) {
		return x
	}
	i := max(0, min(int(x), len(p.from)-2))
	return float64(p.from[i]) + (x-float64(i))*float64(p.from[i+1]-p.from[i])
}

func lerp(v []float64, x float64) float64 {
	i := max(0, min(int(x), len(v)-2))
	return v[i] + (x-float64(i))*(v[i+1]-v[i])
}

// Options are what is known beside the record.
type Options struct {
	From, To float64 // m along the line: the part to account for; To = 0 means the whole line
	// Blind says that the fixes do not show where across the road the runner
	// was, because they were put on a line. Then habits alone speak.
	Blind bool
}

// Section is one part of the line, between two normals to it, with what was
// run there.
type Section struct {
	Turn     int               // index into Reference.Turns, -1 between turns
	From, To float64           // m along the line
	Extra    interval.Estimate // m run beyond the line
	Shown    float64           // m beyond the line that the record alone says, before habits are weighed in
	Lost     float64           // m that sampling and filtering cut off at the corner; below 0 what a filter swings out
	// First and Last are the indices among the fixes given, fractional, at
	// which the record passes the two normals; NaN where it does not.
	First, Last float64
	Unseen      float64 // m of the section that lie just before the record begins or behind its end
	Missing     bool    // the record does not show the section, or has a gap in it
}

// Result is the likely path in figures.
type Result struct {
	Extra    interval.Estimate // m, all sections
	Between  interval.Estimate // m, sections between turns
	Sections []Section
	Path     []Place // in the order of the record
	Noise    Noise
}
