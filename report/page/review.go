package page

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"tautline/geo/interval"
	"tautline/report/document"
	"tautline/report/drawing"
	"tautline/report/text"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/review"
)

// Run is what a record shows, for drawing.
type Run struct {
	Path  []Place // in order along the line
	Fixes []Fix   // in the order of the record
	Plan  []Split // the target that the race was run for; nil without one
}

// Split is a target pace between two places along the shortest line.
type Split struct {
	From, To float64 // m along the shortest line
	Pace     float64 // s/m
}

// Splits are the target paces of a plan. c is the course that it was made for.
func Splits(r *race.Race, c *plan.Course, p *plan.Plan) []Split {
	var out []Split
	for _, q := range p.Splits {
		out = append(out, Split{r.Line.AlongAt(c.Chainage(q.From)), r.Line.AlongAt(c.Chainage(q.To)), q.Pace})
	}
	return out
}

// Review draws how a race was run: where metres were lost, the watch ledger,
// the pace.
func Review(r *race.Race, d document.Review, run Run, o Options) (*Sheet, error) {
	u := o.Units
	s := newScene(r, u, o.Ground, run.Path, run.Fixes)
	s.Marks = marks(r, u)
	clock := clockOf(run.Fixes)
	for i := range s.Marks {
		if t := clock.At(s.Marks[i].At); !math.IsNaN(t) {
			s.Marks[i].Time = quantity.Clock(t)
		}
	}
	finish := drawing.Mark{At: s.Length, Name: "finish"}
	if d.TimeS != nil {
		finish.Time = quantity.Clock(*d.TimeS)
	}
	s.Marks = append(s.Marks, finish)
	sheet := start("Review", r, s, o)
	if d.Record != "" {
		sheet.Block = append(sheet.Block, Cell{"record", text.Clean(d.Record)})
	}
	sheet.WorstSay = "Turns most worth running better"
	cost, unsure := make([]float64, len(s.Turns)), false
	of := make([]*document.ReviewTurn, len(s.Turns))
	for i := range d.Turns {
		t := &d.Turns[i]
		if k := t.Number - 1; k >= 0 && k < len(of) {
			of[k] = t
			cost[k] = t.ExtraM.Value
			if t.LostS != nil && t.ExtraM.Value > 0 {
				cost[k] = t.LostS.Value
			}
			if t.Unseen {
				cost[k] = 0
			} else if t.ExtraM.Value > 0 {
				s.Turns[k].Figure = quantity.Signed(t.ExtraM.Value, u)
			}
		}
	}
	rank(s, sheet, u, cost, func(i int) (string, string) {
		t := of[i]
		note := "90 %: " + bounds(t.ExtraM, u)
		if t.LostS != nil {
			note += ", cost " + quantity.SecondsInterval(*t.LostS)
		}
		if t.ExtraM.Low <= 0 {
			note += "; not certain from this one record"
			unsure = true
		}
		return quantity.Signed(t.ExtraM.Value, u), note
	})
	sheet.WorstWhy = "Run beyond the shortest legal line."
	if unsure {
		sheet.WorstWhy += " Where the interval reaches zero, this one record cannot tell for certain; the total is surer than any single turn."
	}
	shown := "the watch showed"
	if d.WatchIs == "record" {
		shown = "the record's length"
	}
	official := map[string]string{"certified": "certified distance", "announced": "announced distance"}[d.OfficialIs]
	if official == "" {
		official = "shortest legal line"
	}
	sheet.Figures = []Figure{
		{text.Far(d.WatchM, u), shown, quantity.Signed(d.WatchM-d.OfficialM, u) + " against the " + official},
		{text.Far(d.RanM.Value, u), "really run", "line to line, 90 %: " + farBounds(d.RanM, u)},
		{quantity.Signed(d.ExtraM.Value, u), "run beyond the shortest line", "90 %: " + bounds(d.ExtraM, u)},
	}
	if d.TimeS != nil {
		sheet.Figures = append(sheet.Figures, Figure{quantity.Clock(*d.TimeS), "line to line", quantity.Pace(*d.TimeS/d.OfficialM, u) + " on the official distance"})
	}
	sheet.Verdict = text.Verdict(d, u)
	if d.Effort != nil {
		sheet.Verdict = append(sheet.Verdict, d.Effort.Verdict...)
	}
	sheet.draw(s)
	for i, p := range byRank(s.Turns) {
		if t := of[p.Number-1]; t != nil && t.How != "" {
			sheet.Plates[i].About += ". " + text.Sentence(t.How)
		}
	}

	sheet.Charts = append([]Chart{ledger(d, official, shown, u)}, sheet.Charts...)
	if c, ok := pace(s, clock, run.Plan, u); ok {
		sheet.Charts = append(sheet.Charts, c)
	}

	sheet.Tables = append(sheet.Tables, ledgerTable(d, u))
	t := Table{ID: "turns", Title: "Turns", Head: []string{"turn", "at", "to the", "ran extra", "90 % interval"}, Open: true}
	timed := false
	for _, x := range d.Turns {
		timed = timed || x.LostS != nil
	}
	if timed {
		t.Head = append(t.Head, "cost")
	}
	for i, turn := range s.Turns {
		row := Row{ID: fmt.Sprintf("turn-%d", turn.Number), At: turn.At, HasAt: true, Rank: turn.Rank, Cells: []string{fmt.Sprint(turn.Number), text.At(turn.At, u), sideWords(turn.Angle)}}
		if x := of[i]; x != nil {
			row.Cells = append(row.Cells, quantity.Signed(x.ExtraM.Value, u), bounds(x.ExtraM, u))
			if x.LostS != nil {
				row.Cells = append(row.Cells, quantity.SecondsInterval(*x.LostS))
			} else if timed {
				row.Cells = append(row.Cells, quantity.None)
			}
		} else {
			row.Cells = append(row.Cells, quantity.None, "not in the record")
			if timed {
				row.Cells = append(row.Cells, quantity.None)
			}
		}
		t.Rows = append(t.Rows, row)
	}
	sheet.Tables = append(sheet.Tables, t)
	if len(d.Marks) > 0 {
		t := Table{ID: "ahead", Title: "How far ahead of the marks the watch was", Head: []string{"mark", "ahead", "since the mark before"}}
		k := s.Length / d.OfficialM
		for _, m := range d.Marks {
			t.Rows = append(t.Rows, Row{At: m.AtM * k, HasAt: true, Cells: []string{text.Clean(m.Name), quantity.Signed(m.WatchAheadM, u), quantity.Signed(m.GrewM, u)}})
		}
		sheet.Tables = append(sheet.Tables, t)
	}
	if d.Effort != nil {
		sheet.Tables = append(sheet.Tables, effortTable(d, s.Length/d.OfficialM, u))
	}
	sheet.Tables = append(sheet.Tables, marksTable(s, u))
	if d.Effort != nil {
		sheet.caution(text.EffortCaution)
	}
	sheet.caution(d.Warnings...)
	sheet.caution(r.Notes...)
	sheet.caution("The intervals are meant to hold the truth nine times in ten.", text.ClosedRoadCaution, text.LengthCaution,
		"A track shows where someone lives and when. This page holds it: think before passing it on.")
	return sheet, sheet.finish(s)
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
	return strings.TrimSuffix(strings.TrimPrefix(quantity.Signed(e.Low, u), "+"), unitOf(u)) + " to " + strings.TrimPrefix(quantity.Signed(e.High, u), "+")
}

func unitOf(u quantity.Units) string {
	if u == quantity.Imperial {
		return " ft"
	}
	return " m"
}

func farBounds(e interval.Estimate, u quantity.Units) string {
	return quantity.DistanceFixed(e.Low, u, 3) + " to " + text.Far(e.High, u)
}

// ledger draws the account in whole metres or feet that add up.
func ledger(d document.Review, official, shown string, u quantity.Units) Chart {
	per := 1.0
	if u == quantity.Imperial {
		per = quantity.Foot
	}
	values := make([]float64, len(d.Ledger))
	for i, item := range d.Ledger {
		values[i] = item.Metres.Value / per
	}
	whole := text.Together(values)
	sum := 0
	var steps []drawing.Step
	for i, item := range d.Ledger {
		sum += whole[i]
		step := drawing.Step{Name: item.Cause, Value: item.Metres.Value, Low: item.Metres.Low, High: item.Metres.High, Figure: signedWhole(whole[i]) + unitOf(u), Class: string(item.Whose)}
		if item.Metres.Width() > 0 {
			step.Range = fmt.Sprintf("%.0f to %.0f%s", math.Floor(item.Metres.Low/per), math.Ceil(item.Metres.High/per), unitOf(u))
		}
		steps = append(steps, step)
	}
	about := "Each step begins where the one above it ends; together they lead from the " + official + " to what " + strings.TrimSuffix(shown, " showed") + " showed. Full bars were run, hatched ones never were; the thin lines are 90 % intervals."
	if d.WatchIs == "record" {
		about = "Each step begins where the one above it ends; together they lead from the " + official + " to the record's length. Full bars were run, hatched ones never were; the thin lines are 90 % intervals."
	}
	return three("ledger", "Watch ledger", about, func(w float64) template.HTML {
		return drawing.Ledger(steps, drawing.End{Name: official, Figure: text.Far(d.OfficialM, u)}, drawing.End{Name: shown, Figure: text.Far(d.WatchM, u)}, signedWhole(sum)+unitOf(u), math.Min(w, 900))
	})
}

func signedWhole(v int) string {
	if v == 0 {
		return "0"
	}
	return strings.Replace(fmt.Sprintf("%+d", v), "-", "−", 1)
}

func ledgerTable(d document.Review, u quantity.Units) Table {
	t := Table{ID: "ledger-table", Title: "The account in figures", Head: []string{"item", "metres", "90 % interval", "whose"}, Open: true}
	if u == quantity.Imperial {
		t.Head[1] = "feet"
	}
	for _, item := range d.Ledger {
		whose := map[review.Whose]string{review.Course: "the course", review.Feet: "your feet", review.Watch: "the watch", review.Ends: "before and after the race"}[item.Whose]
		t.Rows = append(t.Rows, Row{Cells: []string{text.Clean(item.Cause), quantity.Signed(item.Metres.Value, u), bounds(item.Metres, u), whose}})
	}
	t.Rows = append(t.Rows, Row{Cells: []string{"in all", quantity.Signed(d.WatchM-d.OfficialM, u), "", ""}})
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
func pace(s *drawing.Scene, c review.Clock, target []Split, u quantity.Units) (Chart, bool) {
	if !c.Known() {
		return Chart{}, false
	}
	first, last := c.Ends()
	part := s.Unit.Metres / 2
	for s.Length/part > 90 {
		part *= 2
	}
	model := effort.Default().Ready()
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
			sum, n := 0.0, 0.0
			for x := from + 5; x < to; x += 10 {
				sum += 1 / model.Stretch(effort.Conditions{Gradient: s.GradientAt(x)}).FlatSpeed(1/p)
				n++
			}
			if n > 0 {
				flat.Parts = append(flat.Parts, drawing.Pace{From: from, To: to, Pace: sum / n})
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
	if len(target) > 0 {
		title = "Pace against plan"
		planned := drawing.Paces{Name: "plan", Class: "plan"}
		for _, q := range target {
			planned.Parts = append(planned.Parts, drawing.Pace{From: q.From, To: q.To, Pace: q.Pace})
		}
		lines = append(lines, planned)
		about += " The plain thin line is the plan at even effort."
	}
	return three("pace", title, about, func(w float64) template.HTML {
		return drawing.PaceChart(s, title, lines, func(v float64) string { return quantity.Pace(v, u) }, w, math.Max(170, math.Min(230, w/4)))
	}), true
}
