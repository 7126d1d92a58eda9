package taut

import (
	"math"

	"tautline/geo/road"
)

// By how much Sensitivity varies the road, in metres: a width paced out or
// read off a map is good to about a metre, a kerb's radius to about two.
const (
	WidthStep  = 1.0
	RadiusStep = 2.0
)

// Variant is the shortest line on a road that is a little different.
type Variant struct {
	Name   string  // "narrower", "wider", "sharper corners", "rounder corners"
	Width  float64 // change of the width kerb to kerb, m, half of it on each side
	Radius float64 // change of the kerb radius at corners, m
	Length float64 // m
	// Difference is Length less the line's own, m: the sum of ByTurn.
	Difference float64
	// ByTurn is the part of the difference around each turn of the line, m,
	// up to halfway to the next turn. A line without turns has one entry.
	ByTurn []float64
}

// Sensitivity says how much the shortest line of a road, base, depends on what
// is known of the road: the same course with the road one metre narrower and
// wider, and with corner radii two metres smaller and larger. Drawn kerbs and
// the edges of lanes stay where they are. A road that cannot be made narrower is
// narrowed as far as clearances allow; one that cannot be built with so great a
// difference, because a gate would close, is tried with less, and with none at
// last: Width and Radius say what was tried. Lengths are on the map.
func Sensitivity(r *road.Road, base *Line) []Variant {
	build := func(width, radius float64) (*Line, error) {
		other, err := road.Build(r.Course, r.Spec.Vary(width, radius))
		if err != nil {
			return nil, err
		}
		return OnMap(other)
	}
	vs := []Variant{
		{Name: "narrower", Width: -WidthStep},
		{Name: "wider", Width: WidthStep},
		{Name: "sharper corners", Radius: -RadiusStep},
		{Name: "rounder corners", Radius: RadiusStep},
	}
	cuts := halfways(base)
	own := lengths(base, cuts)
	for i := range vs {
		v := &vs[i]
		// A gate or a lane may leave no road where it is that much different.
		l, err := build(v.Width, v.Radius)
		for tries := 0; err != nil && tries < 3; tries++ {
			v.Width, v.Radius = v.Width/2, v.Radius/2
			l, err = build(v.Width, v.Radius)
		}
		if err != nil {
			l, v.Width, v.Radius = base, 0, 0
		}
		v.Length = l.Length
		v.Difference = l.Length - base.Length
		v.ByTurn = lengths(l, cuts)
		for k := range v.ByTurn {
			v.ByTurn[k] -= own[k]
		}
	}
	return vs
}

// halfways are the chainages halfway between turns.
func halfways(l *Line) []float64 {
	var cuts []float64
	for i := 1; i < len(l.Turns); i++ {
		cuts = append(cuts, (l.Turns[i-1].CourseAt+l.Turns[i].CourseAt)/2)
	}
	return cuts
}

// lengths are the lengths of the line between chainages.
func lengths(l *Line, cuts []float64) []float64 {
	out := make([]float64, 0, len(cuts)+1)
	last := 0.0
	for _, at := range cuts {
		x := math.Max(last, l.AlongAt(at))
		out = append(out, x-last)
		last = x
	}
	return append(out, l.Length-last)
}
