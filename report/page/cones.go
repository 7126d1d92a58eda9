package page

import (
	"tautline/geo/road"
	"tautline/report/drawing"
	"tautline/strategy/race"
)

// cones are the single cones of a race: at its turn-arounds and its gates.
func cones(r *race.Race) []drawing.Cone {
	var out []drawing.Cone
	spec := r.Road.Spec
	if spec.CourseIsLine {
		return nil
	}
	for _, t := range spec.Turnarounds {
		if t.Kind == road.RoundCone {
			out = append(out, drawing.Cone{At: r.Line.AlongAt(t.At), Name: "cone of the turn-around"})
		}
	}
	for _, g := range spec.Gates {
		if g.Edge != road.AutoEdge && g.Edge != road.Cone {
			continue
		}
		l, e := r.Road.RoadLateral(g.At)
		for _, v := range []float64{g.From, g.To} {
			if v < l-0.05 && v > e+0.05 {
				out = append(out, drawing.Cone{At: r.Line.AlongAt(g.At), Left: v, Name: "cone of the gate"})
			}
		}
	}
	return out
}

// coned tells whether cones bound the permitted road somewhere.
func coned(s *drawing.Scene) bool {
	for _, a := range s.Road {
		if a.LeftKind == "cone" || a.RightKind == "cone" {
			return true
		}
	}
	return false
}
