// Package race puts a drawn course and its race sheet together: the course as
// it is run, the permitted road, the shortest legal line, and how sure that
// line is.
package race

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"sync"

	"tautline/geo/course"
	"tautline/geo/gpxfile"
	"tautline/geo/inputerr"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/strategy/quantity"
	"tautline/strategy/sheet"
)

// Race is a race that has been laid out. It is not changed after Prepare and
// is safe for concurrent use.
type Race struct {
	Name      string
	Sheet     *sheet.Sheet
	Course    *course.Course
	Road      *road.Road
	Line      *taut.Line
	Official  float64 // m; 0 when it is not known
	Certified bool
	Notes     []string // sentences for people about what was assumed or repaired
}

// Limits of what is believed without a word.
const (
	// far is the difference between the shortest line and the official
	// distance, as a fraction, from which the drawing is doubted. Drawings
	// that follow the road agree within a part in a hundred.
	far = 0.02
	// maxNotes of one kind are told; the rest are counted.
	maxNotes = 5
)

// Prepare lays out a race. name is what messages call the course file.
// Errors are *inputerr.Error.
func Prepare(name string, file *gpxfile.File, s *sheet.Sheet) (*Race, error) {
	drawn, notes, err := file.Course()
	if err != nil {
		return nil, err
	}
	r := &Race{Sheet: s, Certified: s.Certified, Notes: append(append([]string(nil), file.Warnings...), notes...)}
	for _, n := range []string{s.Name, drawn.Name, file.Name} {
		if r.Name == "" {
			r.Name = n
		}
	}
	if r.Course, err = s.Course(r.Name, drawn.Fixes()); errors.Is(err, course.ErrTooShort) {
		return nil, &inputerr.Error{File: name, What: err.Error(), Advice: "export the whole course as a track", Cause: err}
	} else if err != nil {
		return nil, err
	}
	laid, err := s.Resolve(r.Course)
	if err != nil {
		return nil, err
	}
	if r.Road, err = road.Build(r.Course, laid.Spec); err != nil {
		return nil, named(name, laid.Explain(err))
	}
	if r.Line, err = taut.Solve(r.Road); err != nil {
		return nil, named(name, err)
	}
	for i, w := range r.Road.Warnings {
		if i == maxNotes {
			r.Notes = append(r.Notes, fmt.Sprintf("%d further places of the drawing were repaired", len(r.Road.Warnings)-maxNotes))
			break
		}
		r.Notes = append(r.Notes, fmt.Sprintf("at %s of the drawn course: %s", quantity.Distance(w.At, quantity.Metric), w.What))
	}
	if s.Official > 0 {
		var note string
		if r.Official, note = quantity.Official(s.Official); note != "" {
			r.Notes = append(r.Notes, note)
		}
		if d := r.Line.Length - r.Official; math.Abs(d) > far*r.Official {
			r.Notes = append(r.Notes, fmt.Sprintf("the shortest line is %s but the official distance is %s: check that the drawing is the whole course and that the lines lie where they should",
				quantity.Distance(r.Line.Length, quantity.Metric), quantity.Distance(r.Official, quantity.Metric)))
		}
	}
	return r, nil
}

// named gives an error that no sheet explains the name of the course file.
func named(name string, err error) error {
	var in *inputerr.Error
	if errors.As(err, &in) {
		return err
	}
	return &inputerr.Error{File: name, What: err.Error(), Cause: err}
}

// Doubt is what the shortest line becomes when the road is not quite as
// stated.
type Doubt struct {
	Width  float64 // m by which the road is wider
	Radius float64 // m by which corner radii are larger
	Length float64 // m; NaN when no line exists on that road
	// Turns is how much of the difference to the stated road falls to each
	// turn, m: from half way to the turn before to half way to the next. Its
	// sum is the difference. nil when no line exists.
	Turns []float64
}

// The changes that Doubts tries, m.
const (
	WidthDoubt  = 1.0
	RadiusDoubt = 2.0
)

// Doubts works out the shortest line again with the road 1 m narrower and
// wider and with corner radii 2 m smaller and larger. Kerbs that were drawn
// stay where they are. A line that was given as such is not in doubt, and
// there is nothing to try.
func (r *Race) Doubts() []Doubt {
	if r.Road.Spec.CourseIsLine {
		return nil
	}
	doubts := make([]Doubt, 4)
	var all sync.WaitGroup
	for i, change := range [4][2]float64{{-WidthDoubt, 0}, {WidthDoubt, 0}, {0, -RadiusDoubt}, {0, RadiusDoubt}} {
		all.Go(func() { doubts[i] = r.doubt(change[0], change[1]) })
	}
	all.Wait()
	return doubts
}

func (r *Race) doubt(width, radius float64) Doubt {
	d := Doubt{Width: width, Radius: radius, Length: math.NaN()}
	other, err := road.Build(r.Course, changed(r.Road.Spec, width, radius))
	if err != nil {
		return d
	}
	line, err := taut.Solve(other)
	if err != nil {
		return d
	}
	d.Length = line.Length
	var bounds []float64
	for i := 1; i < len(r.Line.Turns); i++ {
		bounds = append(bounds, (r.Line.Turns[i-1].CourseAt+r.Line.Turns[i].CourseAt)/2)
	}
	var last float64
	for i := range r.Line.Turns {
		next := line.Length - r.Line.Length
		if i < len(bounds) {
			next = Along(line, bounds[i]) - Along(r.Line, bounds[i])
		}
		d.Turns = append(d.Turns, next-last)
		last = next
	}
	return d
}

// changed is a road with every stated width and corner radius changed, as far
// as they can be.
func changed(s road.Spec, width, radius float64) road.Spec {
	wider := func(w float64) float64 { return math.Max(0.1, math.Min(200, w+width)) }
	rounder := func(r float64) float64 { return math.Max(0, math.Min(100, r+radius)) }
	edge := func(p *float64, by float64) *float64 {
		if p == nil {
			return nil
		}
		return new(*p + by)
	}
	s.Width, s.CornerRadius = wider(s.Width), rounder(s.CornerRadius)
	s.Stretches = append([]road.Stretch(nil), s.Stretches...)
	for i := range s.Stretches {
		p := &s.Stretches[i]
		if p.Width > 0 {
			p.Width = wider(p.Width)
		}
		p.Left, p.Right = edge(p.Left, width/2), edge(p.Right, -width/2)
		if p.CornerRadius != nil {
			p.CornerRadius = new(rounder(*p.CornerRadius))
		}
	}
	return s
}

// Along gives the distance along the line, m, at which it passes a chainage of
// the drawn course.
func Along(l *taut.Line, chainage float64) float64 {
	i := sort.SearchFloat64s(l.At, chainage)
	switch {
	case i == 0:
		return l.Along[0]
	case i == len(l.At):
		return l.Along[len(l.Along)-1]
	}
	t := 0.0
	if d := l.At[i] - l.At[i-1]; d > 0 {
		t = (chainage - l.At[i-1]) / d
	}
	return l.Along[i-1] + t*(l.Along[i]-l.Along[i-1])
}
