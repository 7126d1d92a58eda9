package text

import (
	"fmt"
	"math"

	"tautline/geo/taut"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// ShortestLine prints the shortest legal line of a race.
func ShortestLine(s Screen, r *race.Race, doubts []taut.Variant) []byte {
	p := NewPrinter(s)
	u := s.Units
	p.Title("Shortest legal line: " + CourseName(r.Name))
	p.Blank()

	far := func(m float64) string { return Far(m, u) }
	rows := [][]string{{"shortest legal line", far(r.Line.Length), "map length, start line to finish line"}}
	if !math.IsNaN(r.Line.SurfaceLength) {
		rows = append(rows, []string{"along the surface", far(r.Line.SurfaceLength), fmt.Sprintf("with hills and altitude, %s", quantity.Signed(r.Line.SurfaceLength-r.Line.Length, u))})
	}
	rows = append(rows, []string{"drawn course", far(r.Line.Centreline), fmt.Sprintf("map length, %s against the line", quantity.Signed(r.Line.Centreline-r.Line.Length, u))})
	if r.Official > 0 {
		what := "as announced"
		if r.Certified {
			what = "certified"
		}
		rows = append(rows, []string{"official distance", far(r.Official), fmt.Sprintf("%s; the line is %s against it", what, quantity.Signed(r.Line.Length-r.Official, u))})
	}
	p.Table(Table{Columns: []Column{{}, {Right: true}, {Flex: true}}, Rows: rows})

	if r.Road.Spec.CourseIsLine {
		p.Blank()
		p.Para("The drawn course was taken as the measured line itself; nothing was shortened.", 0)
	} else {
		p.Blank()
		p.Para(fmt.Sprintf("Road %s wide and corner radius %s where the race sheet says nothing else; %s kept from kerbs.",
			quantity.Length(r.Road.Spec.Width, u), quantity.Length(r.Road.Spec.CornerRadius, u), hand(r.Road.Spec.Clearance.Kerb, u)), 0)
	}
	if math.IsNaN(r.Line.SurfaceLength) {
		p.Para("The drawing has no heights, so lengths are map lengths; a measurement follows the surface and is a little longer on hills.", 0)
	}

	if len(doubts) > 0 {
		p.Heading("How sure it is")
		t := Table{Columns: []Column{{Head: "if the"}, {Head: "shortest line", Right: true}, {Head: "change", Right: true}}}
		for _, d := range doubts {
			t.Rows = append(t.Rows, []string{OtherRoad(d, "", u), far(d.Length), quantity.Signed(d.Difference, u)})
		}
		p.Table(t)
	}

	p.Heading(fmt.Sprintf("Turns (%d)", len(r.Line.Turns)))
	if len(r.Line.Turns) == 0 {
		p.Para("The course has no turns.", 0)
	} else {
		t := Table{Columns: []Column{{Head: "turn", Right: true}, {Head: "at", Right: true}, {Head: "to the"}, {Head: "by", Right: true}}}
		width, radius := pair(doubts, 0, 1), pair(doubts, 2, 3)
		if width != nil {
			t.Columns = append(t.Columns, Column{Head: "width ±" + quantity.Length(taut.WidthStep, u), Right: true})
		}
		if radius != nil {
			t.Columns = append(t.Columns, Column{Head: "radius ±" + quantity.Length(taut.RadiusStep, u), Right: true})
		}
		for i, turn := range r.Line.Turns {
			row := []string{fmt.Sprint(turn.Number), far(turn.At), turn.Side.String(), fmt.Sprintf("%.0f°", math.Abs(turn.Angle)*180/math.Pi)}
			if width != nil {
				row = append(row, swing(width, i, u))
			}
			if radius != nil {
				row = append(row, swing(radius, i, u))
			}
			t.Rows = append(t.Rows, row)
		}
		p.Table(t)
		if width != nil || radius != nil {
			p.Blank()
			p.Para("The last columns say how much of the doubt sits at each turn and half way to its neighbours: what the line there would gain or lose.", 0)
		}
	}

	p.Heading("Cautions")
	p.Points(append(sentences(r.Notes), LengthCaution, ClosedRoadCaution))
	return p.Bytes()
}

// OtherRoad says how the road of a variant differs: "road 1 m narrower", or with
// a verb, "is ", "road is 1 m narrower".
func OtherRoad(d taut.Variant, verb string, u quantity.Units) string {
	what, by, words := "road", d.Width, [2]string{"narrower", "wider"}
	if d.Radius != 0 {
		what, by, words = "corner radius", d.Radius, [2]string{"smaller", "larger"}
	}
	word := words[1]
	if by < 0 {
		word = words[0]
	}
	return fmt.Sprintf("%s %s%s %s", what, verb, quantity.Length(math.Abs(by), u), word)
}

// hand prints a clearance: centimetres or inches.
func hand(m float64, u quantity.Units) string {
	if u == quantity.Imperial {
		return fmt.Sprintf("%.0f in", m/quantity.Inch)
	}
	return fmt.Sprintf("%.0f cm", m*100)
}

// pair gives the per-turn differences of two opposite doubts, nil when either
// is missing.
func pair(doubts []taut.Variant, i, j int) [][2]float64 {
	if j >= len(doubts) {
		return nil
	}
	out := make([][2]float64, len(doubts[i].ByTurn))
	for k := range out {
		out[k] = [2]float64{doubts[i].ByTurn[k], doubts[j].ByTurn[k]}
	}
	return out
}

// swing prints the larger of the two differences a turn's doubt makes.
func swing(pairs [][2]float64, i int, u quantity.Units) string {
	most := math.Max(math.Abs(pairs[i][0]), math.Abs(pairs[i][1]))
	per, name := ShortUnit(u)
	return fmt.Sprintf("±%.1f %s", most/per, name)
}
