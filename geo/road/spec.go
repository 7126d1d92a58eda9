package road

import (
	"github.com/paulmach/orb"
)

// Spec says which road a race may use. All lengths are metres. Chainages are
// map metres along the drawn course from its first point. Lateral positions
// are metres to the left of the drawn course, so the right kerb is negative.
//
// The zero value of an optional field means "as the default"; where zero is
// itself a sensible value the field is a pointer and nil means the default.
// Start from Default, not from the zero Spec, which keeps no clearance.
type Spec struct {
	Width        float64   // kerb to kerb, the drawn course in its middle; (0, 200]
	CornerRadius float64   // radius of the kerb at street corners; [0, 100]
	Clearance    Clearance // kept from the edges
	Part         Part      // Whole, RightHalf or LeftHalf, wherever no stretch says otherwise
	Stretches    []Stretch
	Gates        []Gate
	Turnarounds  []Turnaround
	Kerbs        []DrawnKerb
	StartAt      float64 // chainage of the start line
	FinishAt     float64 // chainage of the finish line; 0 means the end of the drawn course
	CourseIsLine bool    // the drawn course is already the measured line: nothing is shortened
}

// Default is a road 8 m wide with 5 m kerb radius, the whole of it permitted
// and the usual clearances. Width and radius are common practice for a town
// street, not a measurement: say them when they are known.
func Default() Spec {
	return Spec{Width: 8, CornerRadius: 5, Clearance: UsualClearance()}
}

// Clearance is the distance kept from an edge, by the edge's kind, in metres.
type Clearance struct {
	Kerb, Cone, Line float64
}

// UsualClearance is 0.30 m from kerbs and cones (road measurement and, with a
// kerb, the 400 m track) and 0.20 m from a painted line (track lanes; no
// source gives a figure for a painted line on a road).
func UsualClearance() Clearance { return Clearance{Kerb: 0.30, Cone: 0.30, Line: 0.20} }

// Of is the clearance kept from one kind of edge, AutoEdge taken as a kerb.
func (c Clearance) Of(k EdgeKind) float64 {
	switch k {
	case Cone:
		return c.Cone
	case PaintedLine:
		return c.Line
	case Free:
		return 0
	}
	return c.Kerb
}

// EdgeKind says what an edge of the permitted road is.
type EdgeKind int

// AutoEdge becomes Kerb at the side of the road, PaintedLine where the
// permitted part ends at the middle, and Cone where it ends elsewhere on the
// road. Free is an edge that is measured without clearance.
const (
	AutoEdge EdgeKind = iota
	Kerb
	Cone
	PaintedLine
	Free
)

func (k EdgeKind) String() string {
	return [...]string{"auto", "kerb", "cone", "line", "free"}[max(0, min(int(k), 4))]
}

// or is the kind itself, or what AutoEdge becomes where it stands.
func (k EdgeKind) or(auto EdgeKind) EdgeKind {
	if k == AutoEdge {
		return auto
	}
	return k
}

// Part says which part of the road may be used.
type Part int

// AutoPart takes the part of the Spec; in the Spec itself it is Whole. Lane is
// the part between LaneLeft and LaneRight of a stretch.
const (
	AutoPart Part = iota
	Whole
	RightHalf
	LeftHalf
	Lane
)

func (p Part) String() string {
	return [...]string{"auto", "whole", "right half", "left half", "lane"}[max(0, min(int(p), 4))]
}

// Stretch is a piece of the course with its own road. Where stretches overlap
// each may set different things; setting the same thing to different values on
// the same piece is an error.
type Stretch struct {
	From, To float64 // chainage, From < To, on the course
	Width    float64 // kerb to kerb around the drawn course; 0 means the default
	// Left and Right are the lateral positions of the kerbs, for a road that
	// is not centred on the drawn course: a road reaching 3 m to the left and
	// 6 m to the right has Left 3 and Right -6. They outrank Width.
	Left, Right *float64
	Part        Part
	// LaneLeft and LaneRight are the lateral positions of the edges of the
	// permitted lane, with Part Lane; nil means the kerb on that side. A
	// no-go side is a lane with one edge only.
	LaneLeft, LaneRight *float64
	CornerRadius        *float64
	// LeftEdge and RightEdge are the kinds of the edges of the permitted part.
	LeftEdge, RightEdge EdgeKind
}

// Gate forces the runner through the opening between two lateral positions.
type Gate struct {
	At       float64  // chainage
	From, To float64  // lateral positions of the opening's two ends, either order; an end beyond the kerb is no restriction
	Edge     EdgeKind // AutoEdge is Cone
}

// TurnKind says how the runner turns back.
type TurnKind int

// AtPoint: to a point and back, measured without clearance, the default
// wherever the drawn course turns back along itself. RoundCone: round a point
// with clearance. RoundMedian: round the end of a median, a half disc of half
// the median's width, with clearance.
const (
	AtPoint TurnKind = iota
	RoundCone
	RoundMedian
)

// Turnaround is a place where the course turns back along itself.
type Turnaround struct {
	At   float64 // chainage of the drawn turning point, or the point next to it
	Kind TurnKind
	// Radius is that of the half disc at a median end (half the median's
	// width), or of a ring of cones; the centre is the drawn turning point.
	Radius float64
	// Clearance replaces the usual one of a cone (RoundCone) or kerb (RoundMedian).
	Clearance *float64
	// Clockwise turns to the right; normally a runner keeps right and turns left.
	Clockwise bool
}

// DrawnKerb is a kerb drawn as a line instead of a width, in the course's
// plane, drawn in the direction of travel or against it. A course that comes
// back along the same street has it on the other side then: for the way back it
// is given once more.
type DrawnKerb struct {
	Left     bool // which side of the course
	Line     orb.LineString
	From, To float64 // the stretch it holds for; both 0: as far as it reaches
	Edge     EdgeKind
}
