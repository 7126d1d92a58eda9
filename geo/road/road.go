package road

import "github.com/paulmach/orb"

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
