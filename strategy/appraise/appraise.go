// Package appraise is a race director's account of a course before anybody has
// run it: its official or measured length against the shortest legal line, how
// sure that line is and which turns carry the doubt, what each restriction is
// worth, where metres can be added, what a change on race day does, and how
// drop and separation stand against stated rules.
//
// It gathers what strategy/adjust, strategy/marks and strategy/eligible work
// out, each from the same race.
package appraise

import (
	"fmt"
	"math"

	"tautline/geo/earth"
	"tautline/geo/interval"
	"tautline/geo/road"
	"tautline/strategy/adjust"
	"tautline/strategy/eligible"
	"tautline/strategy/marks"
	"tautline/strategy/measure"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// UsualHeightError is the half width of the 90 % interval of a height from a
// map or a receiver, m, when nobody says (common practice).
const UsualHeightError = 5

// Options are what is known or asked beside the race. The zero value asks for
// nothing but has no doubt at all: start from UsualOptions.
type Options struct {
	Drawing     float64         // m that the drawing lies off its road, a standard deviation
	HeightError float64         // m, half width of the 90 % interval of a height
	Measured    *measure.Result // a measurement to compare with; nil takes the official distance
	Add         *float64        // m on the ground to add, below zero to remove; nil takes what the measurement asks for
	Changed     *race.Race      // the race as it will be or was on the day; nil without
	Redrawn     bool            // the changed race has a drawing of its own
	RecordAt    []float64       // official distances, m, on the way at which records are to count
}

// UsualOptions are the doubts of a drawing and of heights when nobody says.
func UsualOptions() Options {
	return Options{Drawing: adjust.UsualDoubts().Drawing, HeightError: UsualHeightError}
}

// Appraisal collects what was found; nil parts were not worked out.
type Appraisal struct {
	Race      *race.Race
	Certainty *adjust.Certainty // of the shortest line; nil where the drawing is the measured line
	Compared  *adjust.Comparison
	Basis     string // of the comparison, in words
	Announced bool   // compared with an official distance, not with a measuring ride
	Worths    []adjust.Worth
	Add       float64 // m on the ground, NaN when nothing is to be added
	Options   []adjust.Option
	Change    *adjust.Change
	Figures   *eligible.Figures
	Findings  []eligible.Finding
	OnTheWay  []OnTheWay
	Notes     []string
}

// OnTheWay is a distance between start and finish at which records count.
type OnTheWay struct {
	To       float64 // m, official
	Figures  eligible.Figures
	Findings []eligible.Finding
}

// Progress is told of every long step by name; it gives the step's watch and
// what to call at its end.
type Progress func(step string) (watch adjust.Watch, end func())

// Silent is the Progress that shows nothing.
func Silent(string) (adjust.Watch, func()) { return nil, func() {} }

// Of appraises a race. It fails when a line of a changed road cannot be pulled,
// or when a distance of Options.RecordAt does not lie on the way.
func Of(r *race.Race, o Options, progress Progress) (*Appraisal, error) {
	a := &Appraisal{Race: r, Add: math.NaN()}
	certainty, err := a.doubt(o, progress)
	if err != nil {
		return nil, err
	}
	a.compare(o, certainty)
	if err := a.places(o, progress); err != nil {
		return nil, err
	}
	if after := o.Changed; after != nil {
		tolerance := adjust.Tolerance
		if o.Redrawn {
			tolerance = 1
		}
		a.Change = adjust.BeforeAfter(r.Line, r.Course.Plane, after.Line, after.Course.Plane, tolerance)
	}
	return a, a.rules(o)
}

// doubt works out how sure the line is and what each restriction is worth.
func (a *Appraisal) doubt(o Options, progress Progress) (*adjust.Certainty, error) {
	r := a.Race
	if r.Road.Spec.CourseIsLine {
		a.Notes = append(a.Notes, adjust.ErrLineGiven.Error())
		return &adjust.Certainty{Line: r.Line, Length: interval.Exact(r.Line.Length)}, nil
	}
	doubts := adjust.UsualDoubts()
	doubts.Drawing = o.Drawing
	watch, end := progress("lines for the doubt of the map")
	c, err := adjust.HowSure(r.Course, r.Road.Spec, doubts, watch)
	end()
	if err != nil {
		return nil, err
	}
	a.Certainty = c
	a.Notes = append(a.Notes, c.Notes...)
	watch, end = progress("restrictions taken away in turn")
	a.Worths, err = adjust.Worths(r.Course, r.Road.Spec, watch)
	end()
	return c, err
}

// compare sets the measured or the official length beside the line.
func (a *Appraisal) compare(o Options, certainty *adjust.Certainty) {
	var ground interval.Estimate
	switch m := o.Measured; {
	case m != nil:
		ground, a.Basis = m.Ground, "the measuring ride, without the short-course factor"
		if m.Adjust != nil {
			a.Add = m.Adjust.Ground
		}
	case a.Race.Official > 0:
		ground, a.Basis = announced(a.Race)
		a.Announced = true
	default:
		return
	}
	c := adjust.Compare(ground, certainty)
	a.Compared = &c
}

// announced is what to compare a line with when there is only an official
// distance: a certified course is laid out 0.1 % long and lies within 0 to
// 0.2 % above its distance (AIMS, The Long Run, 2009: a marathon is 0 to
// 84.4 m long); an announced one is taken as it stands.
func announced(r *race.Race) (interval.Estimate, string) {
	if r.Certified {
		return interval.Estimate{Value: r.Official * measure.ShortCourseFactor, Low: r.Official, High: r.Official * 1.002},
			"the certified distance: laid out 0.1 % long, 0 to 0.2 % in truth"
	}
	return interval.Exact(r.Official), "the announced distance, which nobody has certified: how far it is right is not known"
}

// places works out where start, finish or a turn-around must move.
func (a *Appraisal) places(o Options, progress Progress) error {
	if o.Add != nil {
		a.Add = *o.Add
	}
	if math.IsNaN(a.Add) || a.Add == 0 {
		return nil
	}
	watch, end := progress("places moved in turn")
	var err error
	a.Options, err = adjust.Options(a.Race.Course, a.Race.Road.Spec, a.Add, watch)
	end()
	if err != nil {
		return err
	}
	if n := a.unmoved(); len(a.Options) > 0 && n > 0 {
		what := fmt.Sprintf("%d turn-arounds are", n)
		if n == 1 {
			what = "1 turn-around is"
		}
		a.Notes = append(a.Notes, what+" drawn with several points and left out of the places to move; moving one out by half of the metres adds them as well")
	}
	return nil
}

// unmoved counts turns by more than 150 degrees that no option moves.
func (a *Appraisal) unmoved() int {
	n := 0
	for _, t := range a.Race.Line.Turns {
		if math.Abs(t.Angle) < 150*math.Pi/180 {
			continue
		}
		n++
		for _, o := range a.Options {
			if o.Place == adjust.Turnaround && earth.Distance(o.From, a.Race.Course.Plane.From(t.Apex)) < 20 {
				n--
				break
			}
		}
	}
	return n
}

// rules holds the race, and its parts at which records are to count, against
// the rules on drop and separation.
func (a *Appraisal) rules(o Options) error {
	whole := a.ends(o.HeightError)
	figures, findings, err := eligible.Check(whole)
	if err != nil {
		return err
	}
	a.Figures, a.Findings = &figures, findings
	for _, to := range o.RecordAt {
		x := OnTheWay{To: to}
		part, err := a.upTo(whole, to, o.HeightError)
		if err != nil {
			return err
		}
		if x.Figures, x.Findings, err = eligible.Check(part); err != nil {
			return err
		}
		a.OnTheWay = append(a.OnTheWay, x)
	}
	return nil
}

// ends is what the rules on drop and separation ask of a race.
func (a *Appraisal) ends(heightError float64) eligible.Course {
	r := a.Race
	official := r.Official
	if official == 0 {
		official = r.Line.Length
	}
	c := r.Course
	return eligible.Course{
		Start: c.Plane.From(c.At(r.Road.StartAt)), Finish: c.Plane.From(c.At(r.Road.FinishAt)),
		StartHeight: a.height(r.Road.StartAt, heightError), FinishHeight: a.height(r.Road.FinishAt, heightError),
		Official: official,
	}
}

// upTo is the part of a race up to an official distance: a record at a distance
// on the way must meet the rules from the start to there.
func (a *Appraisal) upTo(whole eligible.Course, to, heightError float64) (eligible.Course, error) {
	if !(to > 0) {
		return whole, fmt.Errorf("%w: records cannot count at %s from the start", marks.ErrMark, quantity.Distance(to, quantity.Metric))
	}
	list, err := marks.Place(marks.Input{Line: a.Race.Line, Plane: a.Race.Course.Plane, Road: a.Race.Road, Official: a.Race.Official},
		[]marks.Want{{Name: marks.Name(to), Official: to}})
	if err != nil {
		return whole, err
	}
	m := list.Marks[0]
	whole.Finish, whole.Official = m.At, to
	whole.FinishHeight = a.height(m.CourseAt, heightError)
	return whole, nil
}

// height of the drawn course at a chainage, m, NaN without heights.
func (a *Appraisal) height(at, wrong float64) interval.Estimate {
	h := a.Race.Course.HeightAt(at)
	return interval.Estimate{Value: h, Low: h - wrong, High: h + wrong}
}

// Name gives what the race sheet calls a restriction, "" when it has no name.
func (a *Appraisal) Name(w adjust.Worth) string {
	s := a.Race.Sheet
	// What holds on every lap stands in the road once for each.
	var names []string
	add := func(name string, lap int) {
		n := 1
		if lap == 0 {
			n = s.LapCount()
		}
		for range n {
			names = append(names, name)
		}
	}
	of := 0
	switch w.Item {
	case road.ItemStretch:
		of = len(a.Race.Road.Spec.Stretches)
		for _, x := range s.Stretches {
			add(x.Name, x.Lap)
		}
	case road.ItemGate:
		of = len(a.Race.Road.Spec.Gates)
		for _, x := range s.Gates {
			add(x.Name, x.Lap)
		}
	case road.ItemTurnaround:
		of = len(a.Race.Road.Spec.Turnarounds)
		for _, x := range s.Turnarounds {
			add(x.Name, x.Lap)
		}
	case road.ItemSpec, road.ItemKerb:
	}
	if w.Index < 0 || w.Index >= len(names) || len(names) != of {
		return ""
	}
	return names[w.Index]
}
