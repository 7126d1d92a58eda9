package taut

import "github.com/paulmach/orb"

// Side is the side a turn goes to.
type Side int

// The two sides.
const (
	Left  Side = 1
	Right Side = -1
)

func (s Side) String() string {
	if s == Left {
		return "left"
	}
	return "right"
}

// Line is the shortest legal line. Lengths are map metres unless they say
// surface.
type Line struct {
	Points        orb.LineString // in the course's plane, arcs as short chords
	Along         []float64      // m along the line, of every point
	At            []float64      // chainage along the drawn course, of every point, never decreasing
	Length        float64        // map length, m
	Centreline    float64        // map length of the drawn course from start to finish, m
	SurfaceLength float64        // m along the road's surface, NaN where the drawing has no heights
	Turns         []Turn
}

// Turn is a place where the course turns: a street corner, a bend, a hairpin
// or a turn-around.
type Turn struct {
	Number   int     // from 1, in the order they are run
	At       float64 // m along the shortest line, middle of the turn
	From, To float64 // m along the shortest line
	CourseAt float64 // chainage of the middle, m
	Angle    float64 // what the course turns there, radians, left positive
	Side     Side
	Apex     orb.Point // the point of the line nearest the inner edge, in the course's plane
	Radius   float64   // length of the turn over its angle, m
}
