// Package review is the account of a race that has been run: how far a runner
// went beyond the shortest legal line and where, and why the watch showed what
// it showed.
package review

import (
	"errors"
	"fmt"
	"math"

	"tautline/geo/earth"
	"tautline/geo/follow"
	"tautline/geo/inputerr"
	"tautline/geo/interval"
	"tautline/geo/likely"
	"tautline/geo/record"
	"tautline/geo/taut"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// Options are what is known beside the course and the record.
type Options struct {
	Watch float64 // m that the watch showed; 0 when nobody said
	Doubt Doubt
	Mark  float64 // m between marks; 0 for every kilometre
}

// Doubt is how well the road is known: standard deviations in metres of its
// width from kerb to kerb and of the radius of corner kerbs, each the same
// error everywhere.
type Doubt struct{ Width, Radius float64 }

// Review is the account of one record. Lengths are metres along the map unless
// they say otherwise, times seconds; everything uncertain carries a 90 %
// interval.
type Review struct {
	Start    float64 // where the ledger starts: the official distance, or the shortest line
	StartIs  Basis
	Shortest float64 // the shortest legal line
	Watch    float64 // where the ledger ends
	WatchIs  string  // "watch" or "record"
	Recorded float64 // the sum of the fixes
	Ran      interval.Estimate
	Extra    interval.Estimate // ran beyond the shortest line
	Between  interval.Estimate // of it, between turns
	Seconds  float64           // from start line to finish line, NaN without times
	Share    float64           // of the course that the record covers
	Ledger   []Item
	Turns    []Turn
	Marks    []Mark
	Path     []likely.Place // along the shortest line
	Sections []likely.Section
	Noise    likely.Noise
	Match    *follow.Match
	Clock    Clock        // when the runner was where
	Fixes    []follow.Fix // all fixes of the record, in the course's plane, by the record's own clock
	Notes    []string

	timed bool
}

// Timed tells whether the record has times.
func (v *Review) Timed() bool { return v.timed }

// Basis is where a ledger starts.
type Basis string

// A certified distance outranks the map, an announced one is compared with it;
// without either the shortest line itself is the start.
const (
	Certified Basis = "certified"
	Announced Basis = "announced"
	Line      Basis = "shortest line"
)

// Whose doing an item of the ledger is.
type Whose string

// The course, the runner's feet, the watch and its reception, or what was
// recorded outside the race.
const (
	Course Whose = "course"
	Feet   Whose = "feet"
	Watch  Whose = "watch"
	Ends   Whose = "ends"
)

// Causes of items that change what a reader is told.
const (
	NotRecorded = "not recorded"
	OffCourse   = "off the course"
)

// Item is one line of the ledger.
type Item struct {
	Cause    string
	Whose    Whose
	Metres   interval.Estimate
	Sentence string
}

// Turn is a turn as it was run.
type Turn struct {
	taut.Turn
	Extra   interval.Estimate // m
	Lost    interval.Estimate // s at the runner's pace there; NaN without times
	Outside interval.Estimate // m outside the shortest line at the apex, as the path shows it
	Seen    bool              // false when the record does not show the turn
	How     string
}

// Mark is a kilometre or mile mark.
type Mark struct {
	Name  string
	At    float64 // m, official
	Ahead float64 // m that the watch was ahead of it
	Grew  float64 // m since the mark before
}

// ErrElsewhere says that the record is not of this course.
var ErrElsewhere = errors.New("the record does not follow the course: less than a tenth of the course is covered")

// WatchError says that a watch cannot have shown such a distance on this course
// with this record, m: mostly the unit was left out.
type WatchError struct{ Shown, Recorded float64 }

func (e *WatchError) Error() string {
	return fmt.Sprintf("a watch that showed %s does not go with a record of %s (write the distance with its unit, such as %q)",
		quantity.Distance(e.Shown, quantity.Metric), quantity.Distance(e.Recorded, quantity.Metric), quantity.Distance(e.Recorded, quantity.Metric))
}

// mostMissing parts of the course are told one by one.
const mostMissing = 5

// leastShare of the course must be covered for anything to be said.
const leastShare = 0.1

// Of reviews a record of a race.
func Of(r *race.Race, rec record.Record, o Options) (*Review, error) {
	if len(rec.Fixes) < 3 {
		return nil, &inputerr.Error{What: "the record has fewer than three fixes", Advice: "give the record that the watch kept of this race"}
	}
	v := &Review{Shortest: r.Line.Length, Seconds: math.NaN(), timed: rec.Timed}
	v.Notes = append(v.Notes, rec.Notes...)
	if r.Timed && !rec.Timed {
		v.Notes = append(v.Notes, "the course has times and the record has none: should they have changed places, give the course first, then the record")
	}
	fixes := fixesOf(r, rec)
	v.Fixes = fixes
	clock := make([]float64, len(rec.Fixes)) // s at each fix
	cum := make([]float64, len(rec.Fixes))   // m along the map up to it
	for i, f := range rec.Fixes {
		clock[i] = fixes[i].T
		if i > 0 {
			cum[i] = cum[i-1] + earth.Distance(rec.Fixes[i-1].At, f.At)
		}
	}
	v.Recorded = cum[len(cum)-1]
	if w := o.Watch; w != 0 && !(w > math.Min(v.Recorded, v.Shortest)/2 && w < 2*math.Max(v.Recorded, v.Shortest)) {
		return nil, &WatchError{w, v.Recorded}
	}
	left, right := r.Road.RoadLateral((r.Road.StartAt + r.Road.FinishAt) / 2)
	m, err := follow.Along(r.Course, fixes, follow.Options{StartAt: r.Road.StartAt, FinishAt: r.Road.FinishAt, HalfWidth: math.Max((left-right)/2, 3)})
	if err != nil {
		return nil, err
	}
	if m.Reversed {
		return nil, &inputerr.Error{What: "the record runs the course from its finish to its start", Advice: "turn the course round, or check that it is the right race"}
	}
	if m.Share < leastShare {
		return nil, ErrElsewhere
	}
	v.Match, v.Share = m, m.Share
	v.Notes = append(v.Notes, m.Notes...)
	told := 0
	for _, g := range m.Missing {
		if g.Why == follow.BeforeRecord || g.Why == follow.AfterRecord {
			continue // the follower's own notes say so
		}
		if told++; told > mostMissing {
			v.Notes = append(v.Notes, "further parts of the course are not shown")
			break
		}
		v.Notes = append(v.Notes, fmt.Sprintf("the record does not show the course from %s to %s of the drawing: %s",
			quantity.Distance(g.From, quantity.Metric), quantity.Distance(g.To, quantity.Metric), g.Why))
	}
	if v.Seconds = m.FinishTime - m.StartTime; !(v.Seconds > 0) {
		v.Seconds = math.NaN() // a record so short and spoilt that it crosses the lines the wrong way round
	}

	ref, scale := reference(r)
	stands := standing(fixes)
	v.Clock = clockFrom(r, rec, m, clock, stands)
	in := make([]likely.Fix, len(fixes))
	for i, f := range fixes {
		in[i] = likely.Fix{P: f.P, T: f.T - stands.before[i], Along: r.Along(m.At[i]) * scale}
		if stands.inside[i] {
			in[i].Along = math.NaN()
		}
	}
	blind := snapped(m.Off)
	if blind {
		v.Notes = append(v.Notes, "the record lies on the drawn course: something put its fixes there, so it does not show where on the road you ran, and the extra distance is a guess from other runners' habits")
	}
	res := likely.Infer(ref, in, likely.Options{To: ref.Length(), Blind: blind})
	if len(res.Sections) == 0 {
		return nil, ErrElsewhere
	}
	v.Path, v.Sections, v.Noise = res.Path, res.Sections, res.Noise
	for i := range v.Path {
		v.Path[i].Along /= scale
	}
	a := account{r: r, rec: rec, v: v, res: res, cum: cum, scale: scale, clock: clock, stands: stands, blind: blind, o: o}
	a.doubt()
	a.ledger()
	a.turns()
	a.marks()
	return v, nil
}

// snapped tells whether the fixes were put on the drawn course: nine in ten of
// them lie within a few decimetres of it, where no receiver puts them.
func snapped(off []float64) bool {
	const near, share = 0.3, 0.9
	var on, n float64
	for _, o := range off {
		if !math.IsNaN(o) {
			n++
			if math.Abs(o) < near {
				on++
			}
		}
	}
	return n > 0 && on >= share*n
}

// fixesOf lays the fixes of a record into the plane of a course, at seconds
// since the first of them, NaN without times.
func fixesOf(r *race.Race, rec record.Record) []follow.Fix {
	fixes := make([]follow.Fix, len(rec.Fixes))
	for i, f := range rec.Fixes {
		fixes[i] = follow.Fix{P: r.Course.Plane.To(f.At), T: math.NaN()}
		if rec.Timed {
			fixes[i].T = f.Time.Sub(rec.Fixes[0].Time).Seconds()
		}
	}
	return fixes
}

// pinched is narrower than any road, m.
const pinched = 1.5

// reference gives the line in the plane's own metres, which differ from the
// map's by parts in a million, and how many of the plane's make one.
func reference(r *race.Race) (*likely.Reference, float64) {
	ref := &likely.Reference{}
	var length float64
	at := make([]float64, 0, len(r.Line.Points)) // chainage at each point
	for i, p := range r.Line.Points {
		if n := len(ref.Points); n > 0 {
			q := ref.Points[n-1]
			d := math.Hypot(p[0]-q[0], p[1]-q[1])
			if d < 1e-6 {
				continue
			}
			length += d
		}
		ref.Points = append(ref.Points, p)
		ref.Along = append(ref.Along, length)
		at = append(at, r.Line.At[i])
	}
	scale := length / r.Line.Length
	var last float64
	for _, t := range r.Line.Turns {
		from, to := math.Max(t.From*scale, last), math.Min(t.To*scale, length)
		last = math.Max(to, last)
		ref.Turns = append(ref.Turns, likely.Turn{From: from, To: last, Angle: t.Angle})
	}
	ref.Reach = func(s float64) (float64, float64) {
		c := lerpAt(ref.Along, at, s)
		left, right := r.Road.Lateral(c)
		if left-right < pinched {
			// Before the line's turn-around point the road shrinks to it, but
			// runners have the road that is there.
			left, right = r.Road.RoadLateral(c)
		}
		p, q := lerpPoint(ref.Along, ref.Points, s), r.Course.At(c)
		h := r.Course.Heading(c)
		off := -math.Sin(h)*(p[0]-q[0]) + math.Cos(h)*(p[1]-q[1])
		return math.Max(left-off, 0), math.Min(right-off, 0)
	}
	return ref, scale
}
