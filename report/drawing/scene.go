package drawing

import (
	"sort"
)

// Scene is a course and what was run on it, laid along the shortest legal
// line.
type Scene struct {
	Name   string
	Length float64 // of the shortest legal line, m
	Unit   Unit
	Road   []Across // along the course, in order, the ends included
	Line   []Place  // the shortest legal line
	Path   []Swath  // the likely path with its band; nil without a record
	Turns  []Turn
	Marks  []Mark
	Ground []Ground // nil when heights are not known
	Crowd  []Crowd  // where a crowd ran; nil without one
	Middle []Swath  // the crowd's middle and where nine of ten ran, m left of the shortest line
	Spans  []Span   // stretches pointed out beside the road
	Cones  []Cone   // single cones on the road
	Plan   Plane    // the same in the plane
}

// Unit is what distances along the course are shown in.
type Unit struct {
	Metres float64
	Name   string // "km", "mi"
}

// At prints a place along the course, "8.35".
func (u Unit) At(m float64) string { return short(m/u.Metres, 2) }

// Across is the road at a place: the kerbs, and the edges of the part that a
// runner may use.
type Across struct {
	At                  float64
	KerbLeft, KerbRight float64
	Left, Right         float64
	LeftKind, RightKind string // "kerb", "cone", "line", "free"
}

// Place is a point of a line.
type Place struct{ At, Left float64 }

// Swath is a point of the likely path with its 90 % band; Left is NaN where
// the record does not show it.
type Swath struct{ At, Left, Low, High float64 }

// Turn is a turn of the shortest legal line.
type Turn struct {
	Number       int
	At, From, To float64
	Angle        float64 // degrees, left positive
	Rank         int     // 1 to 3 for the turns most worth running better, else 0
	Figure       string  // what was lost there, "+6.1 m"; may be ""
	X, Y         float64 // apex in the plane, m
}

// Left tells whether it is a left turn.
func (t Turn) Left() bool { return t.Angle > 0 }

// Kind is what a mark is.
type Kind int

// The kinds of mark.
const (
	Distance Kind = iota // a kilometre or a mile, a named place
	Aid
	Mat
	Name // of a Span; no line across the road
)

// Mark is a place in the margin.
type Mark struct {
	At    float64
	Name  string
	Short string // for the narrow margin; "" takes the name
	Time  string // target or passing time; may be ""
	Kind  Kind
}

// Ground is the height and gradient at a place.
type Ground struct{ At, Height, Gradient float64 }

// Point is a point of the plane, m east and north.
type Point struct{ X, Y float64 }

// Plane holds what a plan at true scale is drawn from.
type Plane struct {
	Kerbs [][]Point // the road, kerb lines
	Edges [][]Point // edges of the permitted part that are no kerbs
	Line  []Station
	Path  []Station // the likely path
	Fixes []Fix
}

// Station is a point of the plane with its place along the course.
type Station struct {
	At   float64
	X, Y float64
	// NX, NY is the direction to the left, and Low, High the 90 % band across
	// it relative to the point, m.
	NX, NY    float64
	Low, High float64
}

// Fix is a fix of the record; At is NaN off the course, T in s is NaN without
// a time.
type Fix struct{ X, Y, At, T float64 }

// roadAt is the road at a place.
func (s *Scene) roadAt(at float64) Across {
	i := sort.Search(len(s.Road), func(i int) bool { return s.Road[i].At > at }) - 1
	if len(s.Road) == 0 {
		return Across{}
	}
	return s.Road[max(0, min(i, len(s.Road)-1))]
}

// lineAt is where the shortest line lies across the road at a place.
func (s *Scene) lineAt(at float64) float64 { return between(s.Line, at) }

func between(line []Place, at float64) float64 {
	if len(line) == 0 {
		return 0
	}
	i := sort.Search(len(line), func(i int) bool { return line[i].At >= at })
	switch {
	case i == 0:
		return line[0].Left
	case i == len(line):
		return line[len(line)-1].Left
	}
	a, b := line[i-1], line[i]
	if b.At <= a.At {
		return b.Left
	}
	return a.Left + (at-a.At)/(b.At-a.At)*(b.Left-a.Left)
}

// cut gives the part of a sampled line between two places, the ends filled in.
func cut[T any](all []T, at func(T) float64, from, to float64, mix func(a, b T, t float64) T) []T {
	lo := sort.Search(len(all), func(i int) bool { return at(all[i]) >= from })
	hi := sort.Search(len(all), func(i int) bool { return at(all[i]) > to })
	var out []T
	if lo > 0 && lo < len(all) && at(all[lo]) > from {
		a, b := all[lo-1], all[lo]
		out = append(out, mix(a, b, (from-at(a))/(at(b)-at(a))))
	}
	out = append(out, all[lo:hi]...)
	if hi > 0 && hi < len(all) && at(all[hi-1]) < to {
		a, b := all[hi-1], all[hi]
		out = append(out, mix(a, b, (to-at(a))/(at(b)-at(a))))
	}
	return out
}

func mixPlace(a, b Place, t float64) Place {
	return Place{a.At + t*(b.At-a.At), a.Left + t*(b.Left-a.Left)}
}

func mixSwath(a, b Swath, t float64) Swath {
	return Swath{a.At + t*(b.At-a.At), a.Left + t*(b.Left-a.Left), a.Low + t*(b.Low-a.Low), a.High + t*(b.High-a.High)}
}
