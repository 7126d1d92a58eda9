// Package heights makes a road profile out of heights that were measured or
// looked up along a course: noisy, rounded, partly missing, from satellites,
// a barometer or terrain tiles.
//
// Summed as they stand, such heights are mostly hills that are not there:
// white noise of standard deviation s adds 0.56 s of climb per sample. The
// profile is the most likely road under a model of road and noise whose
// scales are taken from the heights themselves (spectrum.go), smoothed over
// the whole course at once (smooth.go), after rounding steps, jumps of the
// record and dips or humps that no road has are taken out (clean.go). Rises
// below a threshold that follows from the noise that remains are not counted
// as climbs: between the turning points that pass it the road only rises or
// only falls (climb.go). fit.go takes these steps in order. Method and Notes say
// in words what was done.
//
// What is left of noise on a flat course, measured by TestWhatNoiseLeaves (50
// seeds of 10 km each, a height every 3 m unless said; worst kilometre of all):
// white noise of 1 m every 3 or 20 m, and a barometer with gusts, drift and
// pressure steps, leave at most 0.5 m of climb and 0.3 % of even-effort pace;
// 30 m terrain tiles with 1 m noise, or with bridges and cuttings, 0.4 m and
// 0.2 %. A 40 m hill over 2 km keeps its height within 5 % under all of these.
// Satellite heights cannot promise that: on open road the 95 % figures are 0.4
// m and 0.3 %, but a 40 m hill comes out at 90 to 120 %; among trees it does at
// 70 to 120 %, among houses it may be missed, and in a street canyon it mostly
// is. Shorter and lower hills fare worse: of 20 m over 400 m nothing is left
// among trees. A course that rolls by less than some 4 m within 200 m cannot be
// told from the errors of a terrain model. A real dip of more than 15 % on
// both sides within 200 m would be bridged.
//
// Heights may be above the geoid or above the ellipsoid. The difference
// between the two changes by less than 0.1 m per kilometre nearly everywhere,
// so gradients do not care; a course's length on the surface changes by less
// than 0.002 % for a hundred metres of height.
package heights

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"tautline/geo/earth"
	"tautline/geo/interval"
)

// Sample is one height along a course.
type Sample struct {
	At     float64 // chainage, m
	Height float64 // m, NaN when missing
}

// Options say what is known of the heights besides their values.
type Options struct {
	// Loop says that start and finish are the same place, so that a difference
	// between their heights is drift and is taken out evenly. A terrain model
	// does not drift: with a Posting, Loop does nothing.
	Loop bool
	// Posting is the sample distance in metres of the terrain model that the
	// heights were interpolated from, about 30 m for 1 arc-second and 90 m for
	// 3; 0 for heights from anywhere else: what noise they have is then judged
	// by themselves alone.
	Posting float64
}

// source says where the heights come from.
func (o Options) source() string {
	if o.Posting > 0 {
		return "terrain tiles"
	}
	return "an unnamed source"
}

// Hill is a climb that stands out of the noise.
type Hill struct {
	Foot, Crest float64           // chainage, m
	Rise        interval.Estimate // m
}

// Profile is the height of the road along a course. It is not changed after
// New and is safe for concurrent use.
type Profile struct {
	length    float64
	known     bool
	at        []float64 // m, ascending, first 0, last length
	height    []float64 // m
	up, down  []float64 // m, climb and descent from the start
	hidden    []float64 // m, rises to be expected beyond those that count, from the start
	variance  []float64 // m2, of the height at a node, the slow part aside
	turns     []int     // nodes
	slow      amount
	threshold float64 // m, the least rise that counts as a climb; 0 without heights
	method    string
	notes     []string
}

// Limits.
const (
	lowest, highest = -500.0, 9000.0 // m; beyond them a height is a marker for "none"
	leastCell       = 10.0           // m
	mostCells       = 20_000
	// leastRise is the threshold for climbs where the noise allows a lower one.
	leastRise = 1.0
	// noiseRise is the threshold in standard deviations of the difference of
	// two heights of the smoothed road.
	noiseRise = 3.0
	nearby    = 100.0 // m, how far beyond the heights their gradient goes on
	farGap    = 500.0 // m, from which a gap between heights is worth a note
	// gradientWindow is the length in metres over which Gradient is taken.
	gradientWindow = 40.0
)

// New makes a profile of a course of the given map length (m, positive) from
// samples in any order. Samples beyond the ends by more than a metre, a length
// or a posting that is no number, and a posting beyond 10 km are errors; heights
// that are NaN or outside -500 to 9000 m count as missing. With fewer than two
// heights a metre apart the profile is flat at the one there is, else at 0 m,
// and Known is false. The samples are not changed.
func New(samples []Sample, length float64, o Options) (*Profile, error) {
	if !(length > 0) || math.IsInf(length, 1) {
		return nil, fmt.Errorf("length of %g m for a height profile is not positive", length)
	}
	if !(o.Posting >= 0) || o.Posting > 10_000 {
		return nil, fmt.Errorf("terrain posting of %g m is not between 0 and 10000", o.Posting)
	}
	good := make([]Sample, 0, len(samples))
	for _, s := range samples {
		if !(s.At >= -1 && s.At <= length+1) {
			return nil, fmt.Errorf("height sample at chainage %g m is off the course of %g m", s.At, length)
		}
		if s.Height > lowest && s.Height < highest {
			good = append(good, Sample{math.Max(0, math.Min(length, s.At)), s.Height})
		}
	}
	byPlace := func(a, b Sample) int { return cmp.Compare(a.At, b.At) }
	if !slices.IsSortedFunc(good, byPlace) {
		slices.SortStableFunc(good, byPlace)
	}
	p := &Profile{length: length}
	if len(good) < 2 || good[len(good)-1].At-good[0].At < 1 {
		p.unknown(good, len(samples))
		return p, nil
	}
	p.known = true
	p.noteMissing(good, len(samples))
	p.build(good, o)
	return p, nil
}

// unknown makes the flat profile of a course without heights.
func (p *Profile) unknown(good []Sample, given int) {
	h := 0.0
	if len(good) > 0 {
		h = good[0].Height
	}
	p.at, p.height = []float64{0, p.length}, []float64{h, h}
	p.up, p.down, p.hidden, p.variance = make([]float64, 2), make([]float64, 2), make([]float64, 2), make([]float64, 2)
	p.method = "no heights are known; the course is taken as flat"
	if given > 0 {
		p.notes = append(p.notes, fmt.Sprintf("of %d height samples %d can be used, too few for a profile", given, len(good)))
	}
}

// noteMissing writes notes on where the heights are missing. Up to farGap that
// is ordinary for a drawn course.
func (p *Profile) noteMissing(good []Sample, given int) {
	widest, where := 0.0, 0.0
	for i := 1; i < len(good); i++ {
		if gap := good[i].At - good[i-1].At; gap > widest {
			widest, where = gap, good[i-1].At
		}
	}
	if missing := given - len(good); missing > 0 {
		p.notes = append(p.notes, fmt.Sprintf("%d of %d samples have no usable height", missing, given))
	}
	if widest > farGap {
		p.notes = append(p.notes, fmt.Sprintf("no heights for %.0f m from %s on; the road is drawn straight across", widest, place(where)))
	}
	if gap := good[0].At; gap > farGap {
		p.notes = append(p.notes, fmt.Sprintf("no heights before %s; the road is taken as level there", place(gap)))
	}
	if last := good[len(good)-1].At; p.length-last > farGap {
		p.notes = append(p.notes, fmt.Sprintf("no heights after %s; the road is taken as level there", place(last)))
	}
}

// locate gives the piece that holds a chainage and the fraction along it.
func (p *Profile) locate(at float64) (int, float64) {
	i := sort.SearchFloat64s(p.at, at) - 1
	i = max(0, min(i, len(p.at)-2))
	t := (at - p.at[i]) / (p.at[i+1] - p.at[i])
	return i, math.Max(0, math.Min(1, t))
}

func (p *Profile) value(of []float64, at float64) float64 {
	i, t := p.locate(at)
	return of[i] + t*(of[i+1]-of[i])
}

// Height of the road at a chainage, in metres. Beyond the ends the course
// goes on level. NaN gives NaN.
func (p *Profile) Height(at float64) float64 {
	if math.IsNaN(at) {
		return at
	}
	return p.value(p.height, at)
}

// Gradient of the road at a chainage as a fraction, rising positive, taken
// over the 40 m around it (on the smoothed profile).
func (p *Profile) Gradient(at float64) float64 {
	w := math.Min(gradientWindow, p.length)
	from := math.Max(0, math.Min(at-w/2, p.length-w))
	return p.MeanGradient(from, from+w)
}

// MeanGradient between two chainages, as a fraction; 0 when they are equal.
func (p *Profile) MeanGradient(from, to float64) float64 {
	from, to = p.clamp(from), p.clamp(to)
	if from == to {
		return 0
	}
	return (p.Height(to) - p.Height(from)) / (to - from)
}

func (p *Profile) clamp(at float64) float64 { return math.Max(0, math.Min(p.length, at)) }

// Climb is the sum of the rises between two chainages (m), from before to.
// Climbs of consecutive parts add up. The interval comes from the noise that
// remains at the turning points; its upper end also takes in the rises to be
// expected below the threshold and below what the smoothing can see.
func (p *Profile) Climb(from, to float64) interval.Estimate { return p.sum(p.up, from, to) }

// Descent is the sum of the falls between two chainages as a positive figure
// (m); see Climb.
func (p *Profile) Descent(from, to float64) interval.Estimate { return p.sum(p.down, from, to) }

func (p *Profile) sum(of []float64, from, to float64) interval.Estimate {
	from, to = p.clamp(from), p.clamp(to)
	if !(to > from) || !p.known {
		return interval.Exact(0)
	}
	v := p.value(of, to) - p.value(of, from)
	// Every rise is the difference of two heights with independent errors,
	// and of one slow error at two places.
	variance, picked := 0.0, 0.0
	last := from
	add := func(at float64) {
		variance += 2 * p.slow.variance * -math.Expm1(-(at-last)/p.slow.scale)
		last = at
	}
	variance += p.value(p.variance, from)/2 + p.value(p.variance, to)/2
	for _, i := range p.turns {
		if p.at[i] > from && p.at[i] < to {
			variance += p.variance[i]
			picked += pickedHigh * math.Sqrt(p.variance[i])
			add(p.at[i])
		}
	}
	add(to)
	e := interval.Normal(v, math.Sqrt(variance))
	e.Low = math.Max(0, e.Low-picked)
	e.High += math.Max(0, p.value(p.hidden, to)-p.value(p.hidden, from))
	return e
}

// pickedHigh is what a turning point, picked as the extreme among its
// neighbours, is too extreme by at most, in its standard deviations: the mean
// of the greater of two or three independent normal values.
const pickedHigh = 0.7

// Known tells whether the profile rests on heights.
func (p *Profile) Known() bool { return p.known }

// Length is the map length in metres the profile was made for.
func (p *Profile) Length() float64 { return p.length }

// Method says in one sentence how the heights were read.
func (p *Profile) Method() string { return p.method }

// Notes say what was taken out of the heights and where they are missing.
func (p *Profile) Notes() []string { return slices.Clone(p.notes) }

// Hills are the climbs that stand out of the noise, in order of chainage.
func (p *Profile) Hills() []Hill {
	var out []Hill
	for k := 1; k < len(p.turns); k++ {
		i, j := p.turns[k-1], p.turns[k]
		rise := p.height[j] - p.height[i]
		if rise <= 0 {
			continue
		}
		d := p.at[j] - p.at[i]
		v := p.variance[i] + p.variance[j] + 2*p.slow.variance*-math.Expm1(-d/p.slow.scale)
		out = append(out, Hill{p.at[i], p.at[j], interval.Normal(rise, math.Sqrt(v))})
	}
	return out
}

// Surface turns the map length of the stretch between two chainages (m, from
// before to) into the length on the road's surface: altitude and gradient
// taken into account (earth.OnSurface). The map length may differ from the
// difference of the chainages, as along a shorter line; it is spread evenly.
func (p *Profile) Surface(from, to, mapLength float64) float64 {
	from, to = p.clamp(from), p.clamp(to)
	if !(to > from) || !p.known {
		return mapLength
	}
	scale := mapLength / (to - from)
	var sum float64
	at, h := from, p.Height(from)
	i, _ := p.locate(from)
	for at < to {
		i++
		next := to
		if i < len(p.at) && p.at[i] < to {
			next = p.at[i]
		}
		if next <= at {
			continue
		}
		hn := p.Height(next)
		sum += earth.OnSurface((next-at)*scale, (h+hn)/2, hn-h)
		at, h = next, hn
	}
	return sum
}
