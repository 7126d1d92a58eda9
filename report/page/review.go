package page

import (
	"html/template"
	"math"
	"slices"
	"strings"

	"tautline/geo/interval"
	"tautline/report/document"
	"tautline/report/drawing"
	"tautline/report/text"
	"tautline/strategy/effort"
	"tautline/strategy/pacing"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/review"
)

// Review draws how a race was run: where metres were lost, the watch ledger,
// the pace.
func Review(r *race.Race, v document.Review, run Run, o Options) (*Sheet, error) {
	u := o.Units
	d := newDraft("Review", r, o, run)
	d.cell("record", text.Clean(v.Record))
	clock := clockOf(run.Fixes)
	d.scene.Marks = passings(d.scene, marks(r, u), clock, v.TimeS)
	turns := turnsOf(v, len(d.scene.Turns))
	d.turnsToRunBetter(turns)
	d.reviewFigures(v)
	d.say(text.Verdict(v, u)...)
	if v.Effort != nil {
		d.say(v.Effort.Verdict...)
	}
	d.draw()
	for i, p := range byRank(d.scene.Turns) {
		if t := turns[p.Number-1]; t.How != "" {
			d.Plates[i].About += ". " + text.Sentence(t.How)
		}
	}
	d.Charts = append([]Chart{ledger(v, u)}, d.Charts...)
	if c, ok := pace(d.scene, clock, run, u); ok {
		d.Charts = append(d.Charts, c)
	}
	// What is official lies along the line in proportion.
	k := d.scene.Length / v.OfficialM
	d.Tables = append(d.Tables, ledgerTable(v, u), d.runTurns(turns))
	if len(v.Marks) > 0 {
		d.table(aheadTable(v, k, u))
	}
	if v.Effort != nil {
		d.table(effortTable(v, k, u))
	}
	d.table(d.marksTable())
	if v.Effort != nil {
		d.caution(text.EffortCaution)
	}
	d.caution(v.Warnings...)
	d.caution(r.Notes...)
	d.caution("The intervals are meant to hold the truth nine times in ten.", text.ClosedRoadCaution, text.LengthCaution,
		"A track shows where someone lives and when. This page holds it: think before passing it on.")
	return d.finish()
}

// passings are the marks with the time that each was passed at, and the finish.
func passings(s *drawing.Scene, marks []drawing.Mark, clock review.Clock, finishS *float64) []drawing.Mark {
	for i := range marks {
		if t := clock.At(marks[i].At); !math.IsNaN(t) {
			marks[i].Time = quantity.Clock(t)
		}
	}
	finish := drawing.Mark{At: s.Length, Name: "finish"}
	if finishS != nil {
		finish.Time = quantity.Clock(*finishS)
	}
	return append(marks, finish)
}

// turnsOf lays what a review says of the turns beside the turns of the map, by
// number; nil for one that the review does not have.
func turnsOf(v document.Review, n int) []*document.ReviewTurn {
	out := make([]*document.ReviewTurn, n)
	for i := range v.Turns {
		if k := v.Turns[i].Number - 1; k >= 0 && k < n {
			out[k] = &v.Turns[i]
		}
	}
	return out
}

// turnsToRunBetter writes on the map what was lost at each turn and points out
// those that cost most.
func (d *draft) turnsToRunBetter(turns []*document.ReviewTurn) {
	cost := make([]float64, len(turns))
	for i, t := range turns {
		if t != nil && !t.Unseen && t.ExtraM.Value > 0 {
			cost[i] = t.Cost()
			d.scene.Turns[i].Figure = quantity.Signed(t.ExtraM.Value, d.units)
		}
	}
	unsure := false
	d.rank(cost, func(i int) (string, string) {
		t := turns[i]
		note := "90 %: " + bounds(t.ExtraM, d.units)
		if t.LostS != nil {
			note += ", cost " + quantity.SecondsInterval(*t.LostS)
		}
		if t.ExtraM.Low <= 0 {
			note += "; not certain from this one record"
			unsure = true
		}
		return quantity.Signed(t.ExtraM.Value, d.units), note
	})
	d.WorstSay, d.WorstWhy = "Turns most worth running better", "Run beyond the shortest legal line."
	if unsure {
		d.WorstWhy += " Where the interval reaches zero, this one record cannot tell for certain; the total is surer than any single turn."
	}
}

// reviewFigures are the lengths of a review, and its time.
func (d *draft) reviewFigures(v document.Review) {
	u := d.units
	official, reading := text.AccountEnds(v)
	d.figure(text.Far(v.WatchM, u), strings.TrimPrefix(reading, "what "), quantity.Signed(v.WatchM-v.OfficialM, u)+" against the "+official)
	d.figure(text.Far(v.RanM.Value, u), "really run", "line to line, 90 %: "+farBounds(v.RanM, u))
	d.figure(quantity.Signed(v.ExtraM.Value, u), "run beyond the shortest line", "90 %: "+bounds(v.ExtraM, u))
	if v.TimeS != nil {
		d.figure(quantity.Clock(*v.TimeS), "line to line", text.PaceOn(v, *v.TimeS, u))
	}
}

// runTurns is what every turn cost.
func (d *draft) runTurns(turns []*document.ReviewTurn) Table {
	t := Table{ID: "turns", Title: "Turns", Head: []string{"turn", "at", "to the", "ran extra", "90 % interval"}, Open: true}
	timed := slices.ContainsFunc(turns, func(x *document.ReviewTurn) bool { return x != nil && x.LostS != nil })
	if timed {
		t.Head = append(t.Head, "cost")
	}
	for i, turn := range d.scene.Turns {
		cells := []string{quantity.None, "not in the record"}
		cost := quantity.None
		if x := turns[i]; x != nil {
			cells = []string{quantity.Signed(x.ExtraM.Value, d.units), bounds(x.ExtraM, d.units)}
			if x.LostS != nil {
				cost = quantity.SecondsInterval(*x.LostS)
			}
		}
		if timed {
			cells = append(cells, cost)
		}
		t.Rows = append(t.Rows, d.turnRow(turn, cells...))
	}
	return t
}

// aheadTable is how far ahead of the marks the watch was. k turns official
// metres into metres along the shortest line.
func aheadTable(v document.Review, k float64, u quantity.Units) Table {
	t := Table{ID: "ahead", Title: "How far ahead of the marks the watch was", Head: []string{"mark", "ahead", "since the mark before"}}
	for _, m := range v.Marks {
		t.Rows = append(t.Rows, Row{At: m.AtM * k, HasAt: true, Cells: []string{text.Clean(m.Name), quantity.Signed(m.WatchAheadM, u), quantity.Signed(m.GrewM, u)}})
	}
	return t
}

// effortTable is the effort split by split. k turns official metres into metres
// along the shortest line.
func effortTable(d document.Review, k float64, u quantity.Units) Table {
	t := Table{ID: "effort", Title: "Effort split by split", Head: []string{"mark", "run", "gradient", "worth on the level", "effort against the mean", "ahead of even effort"}}
	if d.Effort.GoalS != nil {
		t.Head = append(t.Head, "plan", "ahead of plan")
	}
	for _, e := range d.Effort.Splits {
		row := Row{At: e.ToM * k, HasAt: true, Cells: []string{
			text.Clean(e.Mark), quantity.Clock(e.RunS), quantity.Percent(e.Gradient, 1), quantity.Pace(e.FlatPaceSPerKm/1000, u),
			quantity.Percent(e.HarderShare, 0), quantity.Seconds(math.Round(e.AheadOfEvenS)),
		}}
		if e.PlannedS != nil && e.AheadOfPlanS != nil {
			row.Cells = append(row.Cells, quantity.Clock(*e.PlannedS), quantity.Seconds(math.Round(*e.AheadOfPlanS)))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// bounds prints the ends of an interval of a short length.
func bounds(e interval.Estimate, u quantity.Units) string {
	if e.Width() == 0 {
		return "exact"
	}
	_, unit := text.ShortUnit(u)
	return strings.TrimSuffix(strings.TrimPrefix(quantity.Signed(e.Low, u), "+"), " "+unit) + " to " + strings.TrimPrefix(quantity.Signed(e.High, u), "+")
}

func farBounds(e interval.Estimate, u quantity.Units) string {
	return quantity.DistanceFixed(e.Low, u, 3) + " to " + text.Far(e.High, u)
}

// ledger draws the account in whole metres or feet that add up.
func ledger(d document.Review, u quantity.Units) Chart {
	official, reading := text.AccountEnds(d)
	_, unit := text.ShortUnit(u)
	items, sum := text.Account(d, u)
	var steps []drawing.Step
	for i, item := range d.Ledger {
		step := drawing.Step{Name: item.Cause, Value: item.Metres.Value, Low: item.Metres.Low, High: item.Metres.High, Figure: drawnWhole(items[i].Value) + " " + unit, Class: string(item.Whose)}
		if b := items[i].Bounds; b != "" {
			step.Range = b + " " + unit
		}
		steps = append(steps, step)
	}
	about := "Each step begins where the one above it ends; together they lead from the " + official + " to " + reading + ". Full bars were run, hatched ones never were; the thin lines are 90 % intervals."
	return three("ledger", "Watch ledger", about, func(w float64) template.HTML {
		return drawing.Ledger(steps, drawing.End{Name: official, Figure: text.Far(d.OfficialM, u)}, drawing.End{Name: strings.TrimPrefix(reading, "what "), Figure: text.Far(d.WatchM, u)}, drawnWhole(sum)+" "+unit, math.Min(w, 900))
	})
}

// drawnWhole is a whole figure of the ledger as a drawing has it, with a real
// minus sign.
func drawnWhole(v int) string { return strings.Replace(text.SignedWhole(v), "-", "−", 1) }

// ledgerTable is the account in figures, those of the drawing.
func ledgerTable(d document.Review, u quantity.Units) Table {
	t := Table{ID: "ledger-table", Title: "The account in figures", Head: []string{"item", "metres", "90 % interval", "whose"}, Open: true}
	if u == quantity.Imperial {
		t.Head[1] = "feet"
	}
	_, unit := text.ShortUnit(u)
	items, sum := text.Account(d, u)
	for i, item := range d.Ledger {
		bounds := "exact"
		if b := items[i].Bounds; b != "" {
			bounds = b + " " + unit
		}
		whose := map[review.Whose]string{review.Course: "the course", review.Feet: "your feet", review.Watch: "the watch", review.Ends: "before and after the race"}[item.Whose]
		t.Rows = append(t.Rows, Row{Cells: []string{text.Clean(item.Cause), text.SignedWhole(items[i].Value) + " " + unit, bounds, whose}})
	}
	t.Rows = append(t.Rows, Row{Cells: []string{"in all", text.SignedWhole(sum) + " " + unit, "", ""}})
	return t
}

// clockOf is the clock of the fixes of a page.
func clockOf(fixes []Fix) review.Clock {
	along, time := make([]float64, len(fixes)), make([]float64, len(fixes))
	for i, f := range fixes {
		along[i], time[i] = f.Along, f.Time
	}
	return review.NewClock(along, time, nil)
}

// pace draws the pace of a run, its flat-equivalent, and what was planned.
func pace(s *drawing.Scene, c review.Clock, run Run, u quantity.Units) (Chart, bool) {
	if !c.Known() {
		return Chart{}, false
	}
	first, last := c.Ends()
	part := s.Unit.Metres / 2
	for s.Length/part > 90 {
		part *= 2
	}
	still := run.Model
	still.Air = effort.Air{} // the chart is of the hills
	model := still.Ready()
	ran := drawing.Paces{Name: "pace", Class: "ran"}
	flat := drawing.Paces{Name: "flat-equivalent pace (effort)", Class: "even"}
	for from := 0.0; from < s.Length-1; from += part {
		to := math.Min(from+part, s.Length)
		a, b := c.At(math.Max(from, first+0.01)), c.At(math.Min(to, last-0.01))
		length := math.Min(to, last) - math.Max(from, first)
		if math.IsNaN(a) || math.IsNaN(b) || length < part/3 {
			continue
		}
		p := (b - a) / length
		ran.Parts = append(ran.Parts, drawing.Pace{From: from, To: to, Pace: p})
		if len(s.Ground) > 0 {
			var gradients []float64
			for x := from + 5; x < to; x += 10 {
				gradients = append(gradients, s.GradientAt(x))
			}
			if len(gradients) > 0 {
				flat.Parts = append(flat.Parts, drawing.Pace{From: from, To: to, Pace: pacing.FlatPace(model, p, gradients)})
			}
		}
	}
	if len(ran.Parts) == 0 {
		return Chart{}, false
	}
	lines := []drawing.Paces{ran}
	about := "Quicker is higher."
	if len(flat.Parts) > 0 {
		lines = append(lines, flat)
		about += " The dashed line is the pace on the level that took the same effort: level means even effort."
	}
	title := "Pace and effort"
	if len(run.Plan) > 0 {
		title = "Pace against plan"
		planned := drawing.Paces{Name: "plan", Class: "plan"}
		for _, q := range run.Plan {
			planned.Parts = append(planned.Parts, drawing.Pace{From: q.From, To: q.To, Pace: q.Pace})
		}
		lines = append(lines, planned)
		about += " The plain thin line is the plan at even effort."
	}
	return three("pace", title, about, func(w float64) template.HTML {
		return drawing.PaceChart(s, title, lines, func(v float64) string { return quantity.Pace(v, u) }, w, math.Max(170, math.Min(230, w/4)))
	}), true
}
