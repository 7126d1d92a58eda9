package page

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tautline/geo/road"
	"tautline/report/drawing"
	"tautline/report/text"
	"tautline/strategy/adjust"
	"tautline/strategy/appraise"
	"tautline/strategy/eligible"
	placing "tautline/strategy/marks"
	"tautline/strategy/measure"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// Appraisal draws the official length beside the line: the turns that carry
// the doubt, what each restriction is worth, where metres can be added. Lengths
// are all in metres: what they settle is settled with a tape.
func Appraisal(a *appraise.Appraisal, o Options) (*Sheet, error) {
	r := a.Race
	d := newDraft("Course against line", r, o, Run{})
	d.scene.Marks = marksFar(r, o.Units)
	d.scene.Cones = cones(r)
	d.comparison(a)
	if a.Certainty != nil {
		d.mostDoubtful(a.Certainty)
	}
	worths := d.restrictions(a)
	d.dearest(a, worths)
	moved := d.change(a.Change)
	d.draw()
	if len(d.scene.Spans) > 0 && len(a.Worths) > 0 {
		d.sign(worthSign, "right of the road: a restriction, its letter and what it adds")
	}
	if len(moved.Rows) > 0 {
		d.sign(worthSign, "left of the road: the line is another after the change, by so much")
	}
	d.Tables = append(d.Tables, worths, moved)
	if len(a.Options) > 0 {
		d.table(optionTable(a))
	}
	d.Tables = append(d.Tables, d.doubtTables(a.Certainty)...)
	if a.Figures != nil {
		d.table(rulesTable("rules", "Drop, and start to finish, against the rules", "Start and finish", *a.Figures, a.Findings))
	}
	for i, x := range a.OnTheWay {
		to := placing.Name(x.To)
		d.table(rulesTable(fmt.Sprintf("rules-%d", i+1), "Records at "+to+" against the rules", "Start and "+to, x.Figures, x.Findings))
	}
	d.caution(r.Notes...)
	d.caution(a.Notes...)
	if a.Figures != nil {
		d.caution(eligible.Caution)
	}
	d.caution(adjust.Caution, measure.NeverCertifies)
	return d.finish()
}

// marksFar are the kilometres or miles alone: an appraisal's margin is for
// what restrictions are worth.
func marksFar(r *race.Race, u quantity.Units) []drawing.Mark {
	return slices.DeleteFunc(marks(r, u), func(m drawing.Mark) bool { return m.Kind != drawing.Distance })
}

// comparison sets the length on the ground beside the line.
func (d *draft) comparison(a *appraise.Appraisal) {
	c := a.Compared
	if c == nil {
		d.figure(text.Metres(a.Race.Line.Length), "shortest line on the map", "")
		d.say("Give the official distance or a measurement to compare the line with.")
		return
	}
	d.figure(text.Metres(c.Measured.Value), "on the ground", text.Line(a.Basis))
	d.figure(text.Metres(c.Line.Value), text.ComparedLine(c), fmt.Sprintf("90 %%: %.1f to %.1f m", c.Line.Low, c.Line.High))
	d.figure(text.SignedMetres(c.Difference.Value), "ground less line", fmt.Sprintf("90 %%: %+.1f to %+.1f m", c.Difference.Low, c.Difference.High))
	d.say(text.ComparisonVerdict(a))
}

// mostDoubtful points out the turns that carry the most doubt.
func (d *draft) mostDoubtful(c *adjust.Certainty) {
	value := make([]float64, len(d.scene.Turns))
	for _, x := range c.Turns {
		if k := x.Turn - 1; k >= 0 && k < len(value) {
			value[k] = x.Half
		}
	}
	d.WorstSay, d.WorstWhy = "Turns that carry the most doubt", "By so much the line may be off there, half way to the neighbouring turns: width, corner kerbs and drawing together. Better ones are worth measuring there first. A corner of several laps counts once."
	d.rank(onceEach(d.race, value), func(i int) (string, string) { return fmt.Sprintf("±%.1f m", value[i]), "" })
}

// letter names the restrictions of a map: A to Z, then AA.
func letter(i int) string {
	if i < 26 {
		return string(rune('A' + i))
	}
	return letter(i/26-1) + letter(i%26)
}

// restrictions marks every restriction by a letter, on the map and in a table,
// with what it is worth.
func (d *draft) restrictions(a *appraise.Appraisal) Table {
	u := d.units
	t := Table{ID: "restrictions", Title: "What each restriction is worth", Open: true, Blocks: true, Words: []int{1, 6},
		Head: []string{"", "restriction", "along the line", "turns", "adds", "lost per metre", "what it is"}, About: text.AboutRestrictions}
	for i, w := range a.Worths {
		from, to := d.race.Line.AlongAt(w.From), d.race.Line.AlongAt(w.To)
		mid := (from + to) / 2
		where := text.At(from, u)
		if w.To > w.From {
			where = quantity.DistanceFixed(from, u, 2) + "–" + text.At(to, u)
		}
		label := text.Restriction(w)
		if name := text.Clean(a.Name(w)); name != "" {
			label += ", " + name
		}
		worth := text.SignedMetres(w.Metres)
		t.Rows = append(t.Rows, Row{At: mid, HasAt: true, Cells: []string{letter(i), label, where, text.TurnNumbers(w.Turns), worth, text.LostPerMetre(w), w.What}})
		if w.Item != road.ItemSpec { // that one is everywhere
			d.scene.Spans = append(d.scene.Spans, drawing.Span{From: from, To: to, Class: "span-worth", Name: fmt.Sprintf("%s, %s: %s", letter(i), label, worth)})
			d.scene.Marks = append(d.scene.Marks, drawing.Mark{At: mid, Name: letter(i), Time: worth, Kind: drawing.Name})
		}
	}
	return t
}

// slight is the worth below which a restriction is not called out, m: lines
// and cones cannot be set more exactly.
const slight = 0.5

// dearest says which restriction most depends on, the first of the table, and
// which one costs more when it is not there at all.
func (d *draft) dearest(a *appraise.Appraisal, worths Table) {
	if len(a.Worths) == 0 {
		d.say(text.NoRestriction)
		return
	}
	w, most := a.Worths[0], 0
	for i, x := range a.Worths {
		if x.Metres > a.Worths[most].Metres {
			most = i
		}
	}
	if worth := math.Max(a.Worths[most].Metres, w.Loss()); worth < slight {
		d.say(fmt.Sprintf("No restriction is worth more than %s here, missing or a metre out of place: the shortest line hardly touches them.", text.Metres(worth)))
		return
	}
	each := ""
	if a.Race.Sheet.LapCount() > 1 {
		each = " each time it is passed"
	}
	without := func(w adjust.Worth) string {
		return fmt.Sprintf("without it the course is %s short%s", text.Metres(w.Metres), each)
	}
	var says []string
	if w.Metres >= 0.05 {
		says = append(says, without(w))
	}
	if !math.IsNaN(w.PerMetre) && w.PerMetre >= 0.05 {
		wrong := "its cones or its line stand too far out"
		if w.Item == road.ItemTurnaround {
			wrong = "it stands too early" + each
		}
		says = append(says, fmt.Sprintf("it loses %s for every metre that %s", text.Metres(w.PerMetre), wrong))
	}
	if len(says) > 0 {
		d.say(fmt.Sprintf("Most depends on %s, %s: %s. It must not move.", letter(0), worths.Rows[0].Cells[1], strings.Join(says, ", and ")))
	}
	if x := a.Worths[most]; x.Metres >= w.Metres+slight {
		d.say(fmt.Sprintf("%s, %s, must not be missing: %s.", letter(most), worths.Rows[most].Cells[1], without(x)))
	}
}

// change marks where the line is another after a change, on the map and in a
// table, which has no rows without one.
func (d *draft) change(c *adjust.Change) Table {
	if c == nil {
		return Table{}
	}
	metres := text.SignedMetres(c.Metres)
	d.figure(metres, "by the change", fmt.Sprintf("%.1f m before, %.1f m after", c.Before, c.After))
	if len(c.Pieces) == 0 {
		d.say("The change leaves the shortest line where it was.")
	}
	t := Table{ID: "change", Title: "Before and after", Open: true, Head: []string{"along the line before", "change", "apart up to", "turns before", "turns after"},
		About: fmt.Sprintf("The line was %.1f m and becomes %.1f m: %s. Every mark after such a piece moves by its change.", c.Before, c.After, metres)}
	for _, x := range c.Pieces {
		mid, by := (x.From+x.To)/2, text.SignedMetres(x.Metres)
		t.Rows = append(t.Rows, Row{At: mid, HasAt: true, Cells: []string{quantity.DistanceFixed(x.From, d.units, 2) + "–" + text.At(x.To, d.units), by, text.Metres(x.Apart), text.TurnNumbers(x.Turns), text.TurnNumbers(x.NewTurns)}})
		d.scene.Spans = append(d.scene.Spans, drawing.Span{From: x.From, To: x.To, Left: true, Class: "span-changed", Name: "changed by " + by})
		d.scene.Marks = append(d.scene.Marks, drawing.Mark{At: mid, Name: "change", Time: by, Kind: drawing.Name})
	}
	return t
}

// optionTable lists where metres can be added.
func optionTable(a *appraise.Appraisal) Table {
	t := Table{ID: "options", Title: fmt.Sprintf("To %s %.2f m on the ground", text.AddOrRemove(a.Add), math.Abs(a.Add)), Open: true, Blocks: true, Words: []int{0, 3}, Head: []string{"place", "move", "new place", "how"}}
	for _, x := range a.Options {
		t.Rows = append(t.Rows, Row{Cells: text.Move(x)})
	}
	return t
}

// doubtTables are what the map leaves open, in all and at every turn.
func (d *draft) doubtTables(c *adjust.Certainty) []Table {
	if c == nil {
		return []Table{d.turnTable()}
	}
	open := Table{ID: "doubts", Title: "What the map leaves open", Open: true, Words: []int{0}, Head: []string{"", "the line changes by"}}
	for _, row := range text.OpenDoubts(c) {
		open.Rows = append(open.Rows, Row{Cells: row})
	}
	turns := Table{ID: "turns", Title: "Turns and their doubt", Open: true, Head: []string{"turn", "at", "to the", "together", "width", "corner", "drawing"},
		About: "By how many metres the line may be off between half way from the turn before and half way to the next."}
	of := map[int]adjust.Share{}
	for _, x := range c.Turns {
		of[x.Turn] = x
	}
	for _, t := range d.scene.Turns {
		width, corner, drawn, together := text.TurnDoubt(of[t.Number])
		turns.Rows = append(turns.Rows, d.turnRow(t, together, width, corner, drawn))
	}
	return []Table{open, turns}
}

// rulesTable sets drop and separation beside the rules.
func rulesTable(id, title, ends string, f eligible.Figures, findings []eligible.Finding) Table {
	about := fmt.Sprintf("%s lie %.0f m apart in a straight line, %.1f %% of the distance", ends, f.Separation.Value, 100*f.Share.Value)
	if math.IsNaN(f.Drop.Value) {
		about += "; the drawing has no heights at both ends, so the drop is not known."
	} else {
		about += fmt.Sprintf("; the drop is %.1f m, %.2f m per km (90 %%: %.2f to %.2f).", f.Drop.Value, f.DropPerKM.Value, f.DropPerKM.Low, f.DropPerKM.High)
	}
	t := Table{ID: id, Title: title, Open: id == "rules", Blocks: true, Words: []int{0, 1, 2, 3}, Head: []string{"for", "verdict", "rule", "why"}, About: about}
	for _, x := range findings {
		rule, why := text.RuleAndWhy(x)
		t.Rows = append(t.Rows, Row{Cells: []string{string(x.Rule.Use), string(x.Verdict), rule, why}})
	}
	return t
}
