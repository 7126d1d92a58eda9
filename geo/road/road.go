package road

import (
	"github.com/paulmach/orb"

	"tautline/geo/course"
)

// Road is the permitted road along a course. It is not changed after Build
// and is safe for concurrent use.
type Road struct {
	Course   *course.Course
	Spec     Spec
	StartAt  float64 // chainage of the start line
	FinishAt float64 // chainage of the finish line
	Portals  []Portal
	Warnings []Warning

	parts []part
	backs []TurnBack
}

// part is a section that has been built, kept for drawing.
type part struct {
	*section
	coreL, coreR []node
	from, to     float64
}

// Portal is a cross-section of the permitted road, clearance already taken
// off. Where an end lies on an arc round a corner, Centre and Radius are those
// of the arc; otherwise Radius is 0.
type Portal struct {
	At          float64 // chainage, never decreasing
	Left, Right End
}

// End is one end of a portal.
type End struct {
	P      orb.Point
	Centre orb.Point
	Radius float64
}
