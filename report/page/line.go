package page

import (
	"fmt"
	"math"

	"tautline/geo/taut"
	"tautline/report/text"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// Line draws the shortest legal line of a race: the turns to look at first are
// those where what is known of the road matters most.
func Line(r *race.Race, doubts []taut.Variant, o Options) (*Sheet, error) {
	u := o.Units
	d := newDraft("Shortest legal line", r, o, Run{})
	d.scene.Marks = marks(r, u)
	d.WorstSay = "Turns whose kerbs are most worth measuring"
	swing := swings(doubts, len(r.Line.Turns))
	d.WorstWhy = "What the road's width and corner radius, as far as they are known, leave open there. A corner of several laps counts once."
	d.rank(onceEach(r, swing), func(i int) (string, string) { return "±" + quantity.Length(swing[i], u), "" })
	d.figure(text.Far(r.Line.Length, u), "shortest legal line", "map length, start line to finish line")
	if !math.IsNaN(r.Line.SurfaceLength) {
		d.figure(text.Far(r.Line.SurfaceLength, u), "along the surface", "with hills and altitude, "+quantity.Signed(r.Line.SurfaceLength-r.Line.Length, u))
	}
	d.figure(text.Far(r.Line.Centreline, u), "drawn course", quantity.Signed(r.Line.Centreline-r.Line.Length, u)+" against the line")
	if r.Official > 0 {
		what := "as announced"
		if r.Certified {
			what = "certified"
		}
		d.figure(text.Far(r.Official, u), "official distance", what+"; the line is "+quantity.Signed(r.Line.Length-r.Official, u)+" against it")
	}
	if r.Road.Spec.CourseIsLine {
		d.say("The drawn course was taken as the measured line itself; nothing was shortened.")
	} else {
		d.say(fmt.Sprintf("The road is %s wide with corner radius %s where the race sheet says nothing else. Another road has another line: see the table below.",
			quantity.Length(r.Road.Spec.Width, u), quantity.Length(r.Road.Spec.CornerRadius, u)))
	}
	d.draw()
	if len(doubts) > 0 {
		t := Table{ID: "doubts", Title: "How sure the line is", Head: []string{"if the", "shortest line", "change"}, Open: true}
		for _, x := range doubts {
			t.Rows = append(t.Rows, Row{Cells: []string{text.OtherRoad(x, "is ", u), text.Far(x.Length, u), quantity.Signed(x.Difference, u)}})
		}
		d.table(t)
	}
	t := Table{ID: "turns", Title: "Turns", Head: []string{"turn", "at", "to the", "radius of the line", "in doubt by"}, Open: true,
		About: "The last column says how far the line there may be off because width and radius are not better known, as far as half way to the neighbouring turns."}
	for i, turn := range d.scene.Turns {
		t.Rows = append(t.Rows, d.turnRow(turn, quantity.Length(r.Line.Turns[i].Radius, u), "±"+quantity.Length(swing[i], u)))
	}
	d.table(t)
	d.table(d.marksTable())
	d.caution(r.Notes...)
	d.caution(text.LengthCaution, text.ClosedRoadCaution)
	return d.finish()
}

// swings is how far the line may be off at each turn, m: the larger of the
// differences that the doubts make there.
func swings(doubts []taut.Variant, n int) []float64 {
	out := make([]float64, n)
	for _, d := range doubts {
		for i, v := range d.ByTurn {
			if i < n {
				out[i] = math.Max(out[i], math.Abs(v))
			}
		}
	}
	return out
}
