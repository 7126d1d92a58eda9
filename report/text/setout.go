package text

import (
	"fmt"
	"math"

	"tautline/strategy/marks"
	"tautline/strategy/race"
)

// Marks prints a mark sheet.
func Marks(s Screen, r *race.Race, l *marks.List) []byte {
	p := NewPrinter(s)
	p.Title("Mark sheet: " + CourseName(r.Name))
	p.Blank()
	p.Para(fmt.Sprintf("%.2f m of official distance lie on %.2f m of the shortest legal line on the map: 1 m is %.5f m on the map.", l.Official, l.LineLength, l.Proportion), 0)
	if l.Known > 0 {
		pins := "pin"
		if l.Known == 1 {
			pins = "pins"
		}
		p.Para(fmt.Sprintf("%s of known distance %s the line in between.", Plural(l.Known, "place"), pins), 0)
	}
	p.Blank()
	t := Table{Columns: []Column{{Head: "mark"}, {Head: "m", Right: true}, {Head: "on the line", Right: true}, {Head: "between", Right: true}, {Head: "latitude, longitude"}, {Head: "where", Flex: true}}}
	for _, m := range l.Marks {
		between := "" // start and finish are where they are
		if m.Along.Width() > 0.05 {
			between = fmt.Sprintf("%.0f and %.0f", math.Floor(m.Along.Low), math.Ceil(m.Along.High))
		}
		t.Rows = append(t.Rows, []string{Clean(m.Name), fmt.Sprintf("%.1f", m.Official), fmt.Sprintf("%.1f", m.Along.Value), between,
			LatLon(m.At), m.Where()})
	}
	p.Table(t)
	p.Blank()
	p.Para("“Between” bounds the place if all of the difference between map and official distance lay before the mark, or all of it after. Metres to a turn are along the line, to the middle of the turn. Left and right are those of a runner; the clearance is what the line keeps from an edge, 30 cm from a kerb unless the race sheet says otherwise.", 0)
	p.Heading("Cautions")
	p.Points(append(sentences(r.Notes), marks.Caution))
	return p.Bytes()
}
