package page

import (
	"fmt"
	"math"

	"tautline/report/drawing"
	"tautline/report/text"
	placing "tautline/strategy/marks"
	"tautline/strategy/race"
)

// tick is a box to tick by hand.
const tick = "☐"

// MarkSheet draws where the marks of a race go, with a sheet to take along.
func MarkSheet(r *race.Race, l *placing.List, o Options) (*Sheet, error) {
	u := o.Units
	d := newDraft("Mark sheet", r, o, Run{})
	d.Class = "marked"
	for i, m := range l.Marks {
		d.scene.Marks = append(d.scene.Marks, drawing.Mark{At: m.Along.Value, Name: m.Name, Time: fmt.Sprintf("no. %d", i+1)})
	}
	d.scene.Cones = cones(r)
	d.figure(fmt.Sprint(len(l.Marks)), "marks", "numbered in the order they are run")
	d.figure(text.Far(l.Official, u), "official distance", fmt.Sprintf("%.2f m", l.Official))
	d.figure(text.Far(l.LineLength, u), "shortest legal line on the map", fmt.Sprintf("1 m is %.5f m on the map", l.Proportion))
	how := "Marks stand at the same share of the line on the map as of the official distance"
	if l.Known > 0 {
		how += fmt.Sprintf(", in between %s of known distance", text.Plural(l.Known, "place"))
	}
	d.say(how + ". " + placing.Caution)
	d.draw()
	d.Caption += " Every mark carries its number on the sheet below."
	d.Tables = append(d.Tables, markTable(l), d.turnTable())
	d.Sign = []string{"Set out by", "Date and time", "Checked by"}
	d.caution(r.Notes...)
	d.caution(placing.Caution, text.LengthCaution)
	return d.finish()
}

// markTable is the sheet to take along and fill in.
func markTable(l *placing.List) Table {
	t := Table{ID: "mark-sheet", Title: "Mark sheet", Open: true, Form: true, Blocks: true, Words: []int{1, 5, 6, 8},
		Head: []string{"no.", "mark", "official m", "on the line m", "between", "latitude, longitude", "where to find it", "set", "notes"},
		About: "Metres to a turn are along the line, to the middle of the turn; left and right are those of a runner. “Between” bounds the place on the line if all of the difference between map and official distance lay before the mark, or all of it behind. " +
			"The clearance is what the line keeps from an edge, 30 cm from a kerb unless the race sheet says otherwise."}
	for i, m := range l.Marks {
		between := ""
		if m.Along.Width() > 0.05 {
			between = fmt.Sprintf("%.0f–%.0f", math.Floor(m.Along.Low), math.Ceil(m.Along.High))
		}
		t.Rows = append(t.Rows, Row{At: m.Along.Value, HasAt: true, Cells: []string{fmt.Sprint(i + 1), text.Clean(m.Name), fmt.Sprintf("%.1f", m.Official), fmt.Sprintf("%.1f", m.Along.Value), between,
			text.LatLon(m.At), m.Where(), tick, ""}})
	}
	return t
}
