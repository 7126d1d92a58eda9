// Package race puts a drawn course and its race sheet together: the course as
// it is run, the permitted road, the shortest legal line, and how sure that
// line is.
package race

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"tautline/geo/course"
	"tautline/geo/gpxfile"
	"tautline/geo/inputerr"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/geo/track"
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
	Timed     bool     // the drawing has times, as a recorded track has
	Notes     []string // sentences for people about what was assumed or repaired
}

// LaidLong is the share by which a certified course is laid out longer than its
// name, so that it is not short: the short-course prevention factor 1.001,
// USATF Course Measurement and Certification Procedures, "Statement of
// Requirements" (older web edition). With the measurement's own error its true
// length lies between 0 and twice that above its name (AIMS, H. Jones, "The
// Long Run", 2009).
const LaidLong = 0.001

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
		var in *inputerr.Error
		if errors.As(err, &in) && in.File == "" {
			at := *in
			at.File = name
			return nil, &at
		}
		return nil, err
	}
	r.Timed = slices.ContainsFunc(drawn.Fixes(), track.Fix.HasTime)
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
	length, what := r.Official, "the official distance"
	if length == 0 {
		length, what = r.Line.Length, "the shortest line"
	}
	if err := s.OnTheWay(length, what); err != nil {
		return nil, err
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

// Doubts works out the shortest line again with the road a metre narrower and
// wider and with corner radii two metres smaller and larger, in this order. A
// line that was given as such is not in doubt, and there is nothing to try.
func (r *Race) Doubts() []taut.Variant {
	if r.Road.Spec.CourseIsLine {
		return nil
	}
	return taut.Sensitivity(r.Road, r.Line)
}

// Along turns a chainage of the drawn course, m, into metres along the shortest
// line: below zero before the start line, beyond its length after the finish
// line, NaN for NaN.
func (r *Race) Along(at float64) float64 {
	switch {
	case math.IsNaN(at):
		return at
	case at < r.Road.StartAt:
		return at - r.Road.StartAt
	case at > r.Road.FinishAt:
		return r.Line.Length + at - r.Road.FinishAt
	}
	return r.Line.AlongAt(at)
}
