package page

import (
	"html/template"
	"math"

	"tautline/report/drawing"
	"tautline/report/text"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// Plan draws a plan for a race: target times at the marks of the strip map,
// the pace against the hills. c is the course that the plan was made for.
func Plan(r *race.Race, c *plan.Course, p *plan.Plan, o Options) (*Sheet, error) {
	u := o.Units
	d := newDraft("Plan", r, o, Run{})
	s := d.scene
	along := func(official float64) float64 { return r.Line.AlongAt(c.Chainage(official)) }
	for _, m := range marks(r, u) {
		if m.Kind != drawing.Distance {
			s.Marks = append(s.Marks, m)
		}
	}
	paces := drawing.Paces{Name: "target pace", Class: "plan"}
	flat := drawing.Paces{Name: "flat pace of even effort", Class: "even", Parts: []drawing.Pace{{From: 0, To: s.Length, Pace: p.FlatPace}}}
	for _, q := range p.Splits {
		from, to := along(q.From), along(q.To)
		s.Marks = append(s.Marks, drawing.Mark{At: to, Name: q.Mark, Time: quantity.Clock(float64(q.ShownElapsed))})
		paces.Parts = append(paces.Parts, drawing.Pace{From: from, To: to, Pace: q.Pace})
	}
	d.cell("athlete", text.Clean(p.Athlete))
	target := "from the pace on the level"
	if p.Given {
		target = "the goal, chip time with stops inside"
	}
	d.Figures = []Figure{
		{quantity.Clock(p.Target), "target", target},
		{quantity.Pace(p.FlatPace, u), "flat pace", "even effort on the level, calm and mild"},
		{quantity.Clock(p.Half), "half way", "at half the official distance"},
		{text.Far(p.Own, u), "your own distance", quantity.Signed(p.Own-p.Official, u) + " against the official " + text.Far(p.Official, u)},
	}
	d.Verdict = []string{"Even effort means that every pace, up and down, is worth the same pace on the level: slower up, somewhat faster down."}
	d.draw()
	d.Charts = append(d.Charts, three("pace", "Target pace", "Quicker is higher; it gives way on the climbs.", func(w float64) template.HTML {
		return drawing.PaceChart(s, "Target pace", []drawing.Paces{paces, flat}, func(v float64) string { return quantity.Pace(v, u) }, w, math.Max(170, math.Min(230, w/4)))
	}))
	d.Tables = append(d.Tables, splitTable(p, along, u), d.turnTable(), d.marksTable())
	for _, w := range p.Warnings {
		d.caution(w.Text)
	}
	d.caution(r.Notes...)
	d.caution(text.EffortCaution, text.ClosedRoadCaution)
	return d.finish()
}

// splitTable lists the splits; along gives the place of an official distance.
func splitTable(p *plan.Plan, along func(official float64) float64, u quantity.Units) Table {
	t := Table{ID: "splits", Title: "Splits", Head: []string{"mark", "split", "elapsed", "pace", "on the watch", "climb", "descent"}, Open: true}
	stops := p.Stops > 0
	if stops {
		t.Head = append(t.Head, "stop")
	}
	for _, q := range p.Splits {
		row := Row{At: along(q.To), HasAt: true, Cells: []string{
			text.Clean(q.Mark), quantity.Clock(float64(q.ShownSplit)), quantity.Clock(float64(q.ShownElapsed)), quantity.Pace(q.Pace, u), quantity.Pace(q.WatchPace, u),
			quantity.Length(math.Round(q.Climb.Value), u), quantity.Length(math.Round(q.Descent.Value), u),
		}}
		if stops {
			stop := ""
			if q.Stop > 0 {
				stop = quantity.Seconds(q.Stop)
			}
			row.Cells = append(row.Cells, stop)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
