// Package adjust sets the official or measured length of a course beside the
// shortest legal line of the map, and works out what changes: which turns
// carry the doubt, what each restriction is worth in metres, where start,
// finish or a turn-around must move to add or remove metres, and what a change
// on race day does.
//
// A map length never certifies a course and seldom settles a question of 0.1 %:
// the doubt of road width, corner radius and drawing is given with it.
package adjust

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/geo/track"
)

// Caution belongs beside every figure of this package.
const Caution = "The line comes from a map, not from a measuring ride. It shows where to look; it certifies nothing."

// ErrLineGiven says that the drawn course is already the measured line, so
// that road and restrictions have no bearing on its length.
var ErrLineGiven = errors.New("the drawn course is the measured line already: no road, restriction or cone changes its length")

// Watch is told how many of the lines of a step have been worked out; it may
// be nil.
type Watch func(done, of int)

// count gives a function that tells the watch of one more line.
func (w Watch) count(of int) func() {
	done := 0
	return func() {
		if done++; w != nil {
			w(min(done, of), of)
		}
	}
}

// lineOf is the shortest legal line of a course and its road, on the map: lines
// are compared here, and heights would only blur that.
func lineOf(c *course.Course, spec road.Spec) (*taut.Line, error) {
	r, err := road.Build(c, spec)
	if err != nil {
		return nil, err
	}
	return taut.OnMap(r)
}

// finishOf is the chainage of the finish line.
func finishOf(c *course.Course, spec road.Spec) float64 {
	if spec.FinishAt == 0 {
		return c.Length()
	}
	return spec.FinishAt
}

// window is a piece of the drawn course that belongs to one turn: half way to
// the turns on either side.
type window struct {
	turn     int // number, 0 for a course without turns
	from, to float64
}

func windows(l *taut.Line) []window {
	first, last := l.At[0], l.At[len(l.At)-1]
	if len(l.Turns) == 0 {
		return []window{{0, first, last}}
	}
	var w []window
	from := first
	for i, t := range l.Turns {
		to := last
		if i+1 < len(l.Turns) {
			to = (t.CourseAt + l.Turns[i+1].CourseAt) / 2
		}
		w = append(w, window{t.Number, from, to})
		from = to
	}
	return w
}

// in gives the length of a line inside a window.
func (w window) in(l *taut.Line) float64 { return l.AlongAt(w.to) - l.AlongAt(w.from) }

// clone copies a spec so that its lists can be changed.
func clone(s road.Spec) road.Spec {
	s.Stretches = slices.Clone(s.Stretches)
	s.Gates = slices.Clone(s.Gates)
	s.Turnarounds = slices.Clone(s.Turnarounds)
	s.Kerbs = slices.Clone(s.Kerbs)
	return s
}

// redraw gives the course with its points moved, and the spec with its places
// moved along. move gets the index and the place of a point and gives the new
// place.
func redraw(c *course.Course, spec road.Spec, move func(i int, p orb.Point) orb.Point) (*course.Course, road.Spec, error) {
	fixes := make([]track.Fix, len(c.Points))
	for i, p := range c.Points {
		fixes[i] = track.Fix{At: c.Plane.From(move(i, p)), Height: c.Heights[i]}
	}
	d, err := course.New(c.Name, fixes)
	if err != nil {
		return nil, spec, err
	}
	if len(d.Points) != len(c.Points) {
		return nil, spec, fmt.Errorf("moving the drawing put two of its points on one spot")
	}
	at := func(x float64) float64 { return math.Max(0, math.Min(placeOn(c, d, x), d.Length())) }
	return d, moved(spec, at, c.Plane, d.Plane), nil
}

// placeOn gives the chainage of a place of c on a course with as many points.
func placeOn(c, d *course.Course, chainage float64) float64 {
	i, t := c.Leg(chainage)
	return d.Chainage[i] + t*(d.Chainage[i+1]-d.Chainage[i])
}

// moved gives a spec whose places are moved by at and whose drawn kerbs, which
// stay where they are on the ground, are taken from one plane to another.
func moved(spec road.Spec, at func(chainage float64) float64, from, to earth.Plane) road.Spec {
	s := clone(spec)
	s.StartAt = at(s.StartAt)
	if s.FinishAt != 0 {
		s.FinishAt = at(s.FinishAt)
	}
	for i := range s.Stretches {
		s.Stretches[i].From, s.Stretches[i].To = at(s.Stretches[i].From), at(s.Stretches[i].To)
	}
	for i := range s.Gates {
		s.Gates[i].At = at(s.Gates[i].At)
	}
	for i := range s.Turnarounds {
		s.Turnarounds[i].At = at(s.Turnarounds[i].At)
	}
	for i := range s.Kerbs {
		k := &s.Kerbs[i]
		if k.From != 0 || k.To != 0 {
			k.From, k.To = at(k.From), at(k.To)
		}
		line := make(orb.LineString, len(k.Line))
		for j, p := range k.Line {
			line[j] = to.To(from.From(p))
		}
		k.Line = line
	}
	return s
}
