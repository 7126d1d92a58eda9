// Package follow says where along a course each fix of a record lies: its
// chainage, in order, on courses that use the same street twice, run in laps
// or cross themselves, through lost signal and detours, and for records that
// begin before the start line, end after the finish line or hold only a part.
//
// The method is the hidden Markov model of Newson P., Krumm J. (2009), "Hidden
// Markov map matching through noise and sparseness", ACM SIGSPATIAL GIS,
// 336–343, doi 10.1145/1653771.1653818, with the chainage on the known course
// as the state, so that both legs of an out-and-back are different places.
package follow

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/inputerr"
)

// Fix is one point of a record in the plane of the course.
type Fix struct {
	P orb.Point // east, north in metres
	T float64   // s since any moment, NaN without time
}

// Options say where the race is on the drawn course.
type Options struct {
	// StartAt and FinishAt are the chainages of the start and finish lines
	// on the drawn course, m. FinishAt 0 is the end of the course.
	StartAt, FinishAt float64
	// HalfWidth is how far the road reaches to either side of the drawn
	// line, m. 0 is 6 m.
	HalfWidth float64
}

// usualHalfWidth is the half width of the road in metres when none is given:
// an ordinary two-lane street with margins (an assumption).
const usualHalfWidth = 6.0

// Why says why a part of the course is missing from a record.
type Why string

const (
	NoFixes      Why = "no fixes"          // the fixes pause here: lost signal
	OffCourse    Why = "off the course"    // the fixes lie elsewhere
	LeftOut      Why = "left out"          // the record goes on at once farther along
	BeforeRecord Why = "before the record" // the record begins farther along
	AfterRecord  Why = "after the record"  // the record ends before
)

// Gap is a part of the course, chainages From < To in metres, that the record
// does not show.
type Gap struct {
	From, To float64
	Why      Why
}

// Span is a part of the record that follows the course without a gap: fixes
// First to Last, both matched, and the chainages in metres at its two ends. A
// few fixes inside may be unmatched: thrown by the receiver, or too far back.
// To is less than From in a record run the other way.
type Span struct {
	First, Last int
	From, To    float64
}

// Match is a record laid along a course.
type Match struct {
	// At is the chainage of each fix in metres, NaN where it is not on the
	// course. It is never more than Back below an earlier one. Values just
	// below 0 or above the length of the course lie on its straight
	// continuation.
	At []float64
	// Off is the distance of each fix from the drawn line, m, positive to
	// the left in the direction in which the course is drawn, NaN where At is.
	Off   []float64
	Spans []Span
	// Share is the part of the course from start to finish line that the
	// spans cover, 0 to 1.
	Share float64
	// FixShare is the part of the fixes that are matched, 0 to 1.
	FixShare float64
	// Missing lists the parts from start to finish line that are not covered,
	// without those so short that they may be position error: Back inside
	// the course, twice that at either line.
	Missing []Gap
	// Scatter is the robust standard deviation of Off, m: 1.4826 times the
	// median distance. It holds the runner's place on the road as well as
	// position error. NaN without a matched fix.
	Scatter float64
	// Back is the farthest, in metres, that a chainage may fall below the
	// greatest before it.
	Back float64
	// StartIndex and FinishIndex tell where between two fixes the start and
	// the finish line were crossed, as fractional numbers of fixes. They are
	// NaN when the record does not reach the line. A record that begins or
	// ends within a few sigma of the line is taken to begin or end on it.
	StartIndex, FinishIndex float64
	// StartTime and FinishTime are the times of the crossings on the clock
	// of the fixes, s, NaN without times.
	StartTime, FinishTime float64
	// Reversed says that the record runs the course from its end to its
	// start. At then falls; the crossings are still those of Options.
	Reversed bool
	// Notes are plain sentences for the reader, without a full stop.
	Notes []string
}

// sigmaOf is the standard deviation of a normal error about zero whose absolute
// value has the given median (Newson & Krumm 2009, from memory, unchecked;
// 1/0.6745). It is right for a distance across the course, not for a radial one.
func sigmaOf(median float64) float64 { return 1.4826 * median }

const (
	greatest   = 1e8       // m, no plane of a course reaches farther
	leastSigma = 4.0       // m
	mostSigma  = reach / 4 // m
	leastBack  = 20.0      // m
	leastGap   = 50.0      // m of course that may pass between two fixes unremarked
)

// Along lays a record along a course. It takes time in proportion to the
// number of fixes and to the number of times the course passes the same spot,
// and memory in proportion to the fixes. The course and the fixes are not
// changed. Positions beyond any plane, options off the course and an empty
// record give an *inputerr.Error, a course without two points
// course.ErrTooShort; a record of something else is no error, its Share is
// near 0.
func Along(c *course.Course, fixes []Fix, o Options) (*Match, error) {
	o, err := check(c, fixes, o)
	if err != nil {
		return nil, err
	}
	x := newIndex(c.Points, c.Chainage)
	m := newModel(x, fixes, o)
	chords, cost := m.decode()
	match := m.match(c, chords, o)
	if match.Scatter > 1.2*m.sigma && m.sigma < mostSigma {
		// The nearest leg made the scatter look small.
		m.scatter(match.Scatter, o.HalfWidth)
		chords, cost = m.decode()
		match = m.match(c, chords, o)
	}
	if match.FixShare < 0.6 {
		r := *m
		r.fixes = backwards(fixes)
		chords, other := r.decode()
		if other < cost {
			if back := r.match(c, chords, o); back.FixShare > 1.5*match.FixShare {
				match = back
				match.turnRound()
			}
		}
	}
	match.clock(fixes)
	match.explain(o)
	return match, nil
}

// check refuses what Along cannot use and gives the options with their
// defaults filled in.
func check(c *course.Course, fixes []Fix, o Options) (Options, error) {
	if len(fixes) == 0 {
		return o, &inputerr.Error{What: "the record has no fixes", Advice: "give the record that the watch kept of this race"}
	}
	if c == nil || len(c.Points) < 2 {
		return o, course.ErrTooShort
	}
	for i, f := range fixes {
		if !(math.Abs(f.P[0]) <= greatest && math.Abs(f.P[1]) <= greatest) || math.IsInf(f.T, 0) {
			return o, &inputerr.Error{
				What:   fmt.Sprintf("fix %d of the record has no usable position or time", i+1),
				Advice: "check that course and record are of the same place",
			}
		}
	}
	for i, p := range c.Points {
		if !(math.Abs(p[0]) <= greatest && math.Abs(p[1]) <= greatest) {
			return o, &inputerr.Error{What: fmt.Sprintf("point %d of the course is not in its plane", i+1)}
		}
	}
	length := c.Length()
	if o.FinishAt == 0 {
		o.FinishAt = length
	}
	if o.HalfWidth == 0 {
		o.HalfWidth = usualHalfWidth
	}
	const beyond = 1.0 // rounding of a chainage given by hand
	if !(o.StartAt >= -beyond && o.StartAt < o.FinishAt && o.FinishAt <= length+beyond) {
		return o, &inputerr.Error{
			What:   fmt.Sprintf("the start line at %.0f m and the finish line at %.0f m are not in order on a course of %.0f m", o.StartAt, o.FinishAt, length),
			Advice: "give the two lines as distances along the drawn course",
		}
	}
	if !(o.HalfWidth > 0 && o.HalfWidth <= 100) {
		return o, &inputerr.Error{
			What:   fmt.Sprintf("a road that reaches %g m to either side cannot be used", o.HalfWidth),
			Advice: "give more than 0 and at most 100 m",
		}
	}
	return o, nil
}

// newModel learns from the record itself how far its fixes scatter and how
// fast it usually goes.
func newModel(x *index, fixes []Fix, o Options) *model {
	const samples = 400
	every := len(fixes)/samples + 1
	var off, speed, stride, jitter []float64
	for i := 0; i < len(fixes); i += every {
		if i > 1 {
			a, b, c := fixes[i-2].P, fixes[i-1].P, fixes[i].P
			jitter = append(jitter, math.Hypot(a[0]-2*b[0]+c[0], a[1]-2*b[1]+c[1]))
		}
		if d := x.distance(fixes[i].P); !math.IsNaN(d) {
			off = append(off, d)
		}
		if i > 0 {
			a, b := fixes[i-1], fixes[i]
			g := math.Hypot(b.P[0]-a.P[0], b.P[1]-a.P[1])
			stride = append(stride, g)
			if v := g / (b.T - a.T); v > 0.8 && v <= fastest {
				speed = append(speed, v)
			}
		}
	}
	// The second difference of white noise has six times its variance, and
	// a runner's own changes of speed and direction have little. Its length
	// is the same whichever way the plane lies; the median of a Rayleigh
	// distance is 1.17741 standard deviations per axis.
	white := 0.0
	if len(jitter) > 0 {
		white = median(jitter) / (1.17741 * math.Sqrt(6))
	}
	sigma := leastSigma
	if len(off) > 0 {
		sigma = sigmaOf(median(off))
	}
	m := &model{
		fixes: fixes, index: x,
		startAt: o.StartAt, finishAt: o.FinishAt,
		speed: math.NaN(), white: white, bridge: bridge, maxAway: maxAway,
	}
	m.scatter(sigma, o.HalfWidth)
	if len(speed) > 0 {
		m.speed = median(speed)
	}
	if len(stride) > 0 {
		m.stride = median(stride)
	}
	return m
}

// scatter sets what depends on the scatter of the fixes about the course.
func (m *model) scatter(sigma, halfWidth float64) {
	sigma = min(mostSigma, max(leastSigma, sigma))
	m.sigma = sigma
	// The place on the road is spread evenly from kerb to kerb.
	m.emission = emission{math.Sqrt(sigma*sigma + halfWidth*halfWidth/3)}
	m.slack = max(2, sigma/2, min(2*m.white, 2*sigma))
	m.beta = max(3, m.slack)
	m.radius = min(reach, max(30, 4*m.emission.sigma))
	m.back = max(leastBack, 6*m.emission.sigma)
}

// median gives the median of values and sorts them.
func median(values []float64) float64 {
	slices.Sort(values)
	n := len(values)
	if n%2 == 1 {
		return values[n/2]
	}
	return (values[n/2-1] + values[n/2]) / 2
}

// backwards is a record run the other way, its clock too.
func backwards(fixes []Fix) []Fix {
	r := slices.Clone(fixes)
	slices.Reverse(r)
	for i := range r {
		r[i].T = -r[i].T
	}
	return r
}
