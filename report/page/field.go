package page

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"tautline/report/document"
	"tautline/report/drawing"
	"tautline/report/text"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// Signs of the strip map that only some sheets have.
const (
	coneSign  = template.HTML(`<svg width="34" height="12" aria-hidden="true"><path class="edge-cone" d="M1 6H19"/><path class="cone" d="M23 10L27 2L31 10z"/></svg>`)
	worthSign = template.HTML(`<svg width="14" height="14" aria-hidden="true"><path class="span-worth" d="M7 1V13"/></svg>`)
	leftSign  = template.HTML(`<svg width="14" height="14" aria-hidden="true"><path class="span-left" d="M7 1V13"/></svg>`)
)

// Field draws what the records of many runners say of a course: the verdict,
// where the crowd ran, and where runners left the permitted road.
func Field(r *race.Race, f document.Field, o Options) (*Sheet, error) {
	u := o.Units
	d := newDraft("Field", r, o, Run{})
	d.Class = "crowded"
	d.cell("records", fmt.Sprint(f.Records))
	d.scene.Marks = marks(r, u)
	d.scene.Cones = cones(r)
	d.scene.Crowd, d.scene.Middle = crowdOf(r, f), middleOf(f)
	d.fieldFigures(f)
	d.say(text.FieldVerdict(f))
	d.say(text.FieldLength(f, u)...)
	found, left := d.findings(f), d.leavings(f)
	d.draw()
	d.crowdSigns(f)
	if len(found.Rows) > 0 {
		d.table(found)
	}
	d.Tables = append(d.Tables, left, d.crowdTurns(f), stations(f, u), runnerTable(f, u))
	d.Lists = append(d.Lists, handled(f))
	d.caution(f.Warnings...)
	d.caution(document.FieldCautions()...)
	d.caution("The intervals are meant to hold the truth nine times in ten; quartiles are called so.")
	return d.finish()
}

// fieldFigures are the verdict in a word and the lengths that it stands on.
func (d *draft) fieldFigures(f document.Field) {
	u := d.units
	verdict := f.Verdict
	switch n := len(f.LookAtTurns); {
	case n == 1:
		verdict += " turn " + text.TurnNumbers(f.LookAtTurns)
	case n > 1:
		verdict += " turns " + text.TurnNumbers(f.LookAtTurns)
	case len(f.Findings) > 0:
		verdict += " the places below"
	}
	d.figure(verdict, "verdict", text.Plural(f.Records, "record"))
	d.figure(text.Far(f.CourseM.Value, u), "course that the records support", "90 %: "+farBounds(f.CourseM, u))
	if f.OfficialM != nil {
		// A difference of lengths that are not known to a metre is not told to a
		// decimetre.
		d.figure(text.Far(*f.OfficialM, u), "official distance", "the records support "+quantity.Signed(math.Round(f.CourseM.Value-*f.OfficialM), u)+" against it")
	} else {
		d.figure(text.Far(f.ShortestM, u), "shortest legal line", "of the drawing; no official distance was given")
	}
	if q := f.ExtraQuartiles; q != nil {
		d.figure(quantity.Signed(q.Value, u), "the middle runner beyond the line", "half of them: "+bounds(*q, u))
	}
}

// findings points out where the field did not run the measured course, most
// metres first: at the turns that it is about, else by a mark.
func (d *draft) findings(f document.Field) Table {
	u := d.units
	found := Table{ID: "findings", Title: "Where the field did not run the measured course", Open: true, Blocks: true, Words: []int{2},
		Head:  []string{"at", "turns", "what the crowd did", "course longer by", "records"},
		About: "There the course was short or long, a marshal was missing, or cones stood elsewhere than when it was measured: go and look. Intervals are 90 %."}
	d.WorstSay, d.WorstWhy = "Look here", "By so much the course that the field ran was longer, with a minus shorter, than the measured one."
	for _, t := range text.FieldTips(f, u) {
		found.About += " " + t
	}
	list := slices.Clone(f.Findings)
	slices.SortStableFunc(list, func(a, b document.FieldFinding) int {
		return cmp.Compare(math.Abs(b.LengthM.Value), math.Abs(a.LengthM.Value))
	})
	for _, x := range list {
		mid := (x.FromM + x.ToM) / 2
		row := Row{At: mid, HasAt: true, Cells: []string{text.At(mid, u), text.TurnNumbers(x.Turns), text.FieldFinding(x, u), text.SignedInterval(x.LengthM, u), fmt.Sprint(x.Records)}}
		figure, what := quantity.Signed(x.LengthM.Value, u), "the crowd "+text.FieldFinding(x, u)
		t := turnFor(d.scene, x)
		if t != nil && t.Rank == 0 {
			d.pointOut(t, figure, what)
			row.Rank = t.Rank
		} else if t == nil {
			d.scene.Marks = append(d.scene.Marks, drawing.Mark{At: mid, Name: "look", Time: figure, Kind: drawing.Name})
		}
		d.scene.Spans = append(d.scene.Spans, drawing.Span{From: x.FromM, To: x.ToM, Left: true, Class: "span-worth", Name: what})
		found.Rows = append(found.Rows, row)
	}
	return found
}

// turnFor is the turn that a finding is about: the first of its own, nil when
// it has none.
func turnFor(s *drawing.Scene, f document.FieldFinding) *drawing.Turn {
	for _, n := range f.Turns {
		for i := range s.Turns {
			if s.Turns[i].Number == n {
				return &s.Turns[i]
			}
		}
	}
	return nil
}

// leavings points out where single runners left the permitted road.
func (d *draft) leavings(f document.Field) Table {
	left := Table{ID: "left", Title: "Runners who left the permitted road", Open: true, Blocks: true, Words: []int{2},
		Head:  []string{"at", "turns", "how", "records", "share of the field", "90 % interval"},
		About: "Only what a record shows beyond its own error. A receiver may have been wrong: this shows no runner to have broken a rule."}
	for _, l := range f.LeftRoad {
		mid := (l.FromM + l.ToM) / 2
		left.Rows = append(left.Rows, Row{At: mid, HasAt: true, Cells: []string{text.At(mid, d.units), text.TurnNumbers(l.Turns), l.How, fmt.Sprint(l.Records),
			quantity.Percent(l.Share.Value, 0), quantity.Percent(l.Share.Low, 0) + " to " + quantity.Percent(l.Share.High, 0)}})
		d.scene.Spans = append(d.scene.Spans, drawing.Span{From: l.FromM, To: l.ToM, Class: "span-left", Name: fmt.Sprintf("%d %s", l.Records, l.How)})
		d.scene.Marks = append(d.scene.Marks, drawing.Mark{At: mid, Name: fmt.Sprintf("%d left", l.Records), Kind: drawing.Name})
	}
	return left
}

// crowdSigns explains the signs of the map that stand for a crowd.
func (d *draft) crowdSigns(f document.Field) {
	if len(d.scene.Crowd) > 0 {
		d.Caption += " The tint says how much of the field ran in each metre of the road's width; those beyond an edge count in the outermost metre."
		for i, least := range drawing.Densities {
			words := quantity.Percent(least, 0)
			if i+1 < len(drawing.Densities) {
				words += " to " + quantity.Percent(drawing.Densities[i+1], 0)
			} else {
				words += " of the field and more, in one metre"
			}
			d.sign(template.HTML(fmt.Sprintf(`<svg width="22" height="12" aria-hidden="true"><path class="crowd-%d" d="M0 0H22V12H0z"/><path class="kerb" d="M0 0H22V12H0z"/></svg>`, i+1)), words)
		}
	} else {
		d.Caption += " With so few records the crowd is not drawn."
	}
	if len(f.Findings) > 0 {
		d.sign(worthSign, "here the field as a whole ran another course")
	}
	if len(f.LeftRoad) > 0 {
		d.sign(leftSign, "here single runners left the permitted road")
	}
}

// crowdOf lays the crowd's density onto the strip map: in proportion between
// the edges of the permitted road, since cross-sections at corners are longer
// than the road is wide.
func crowdOf(r *race.Race, d document.Field) []drawing.Crowd {
	var out []drawing.Crowd
	for _, p := range d.Stations {
		if len(p.Density) == 0 {
			continue
		}
		left, right := r.Road.Lateral(r.Line.CourseAt(p.AtM))
		wide, drawn := p.LeftM-p.RightM, left-right
		if !(wide > 0) || !(drawn > 0) {
			continue
		}
		c := drawing.Crowd{At: p.AtM, Left: left, Right: right, Share: p.Density}
		// Cells of a metre across a longer cross-section become cells of a metre
		// of the road.
		if n := int(math.Max(1, math.Ceil(drawn-1e-6))); math.Abs(wide-drawn) > 0.3 || n != len(p.Density) {
			c.Share = spread(p.Density, wide, drawn, n)
		}
		out = append(out, c)
	}
	return out
}

// spread puts shares in cells of a metre on a road that is wide into n cells of
// a metre on one that is drawn, metres, in proportion.
func spread(share []float64, wide, drawn float64, n int) []float64 {
	out := make([]float64, n)
	for i, v := range share {
		a, b := float64(i)/wide*drawn, math.Min(wide, float64(i+1))/wide*drawn
		if b <= a {
			out[n-1] += v
			continue
		}
		for k := max(0, int(a)); k < n; k++ {
			if o := math.Min(b, float64(k+1)) - math.Max(a, float64(k)); o > 0 {
				out[k] += v * o / (b - a)
			}
		}
	}
	return out
}

// middleOf is the crowd's middle and where nine of ten ran.
func middleOf(f document.Field) []drawing.Swath {
	var out []drawing.Swath
	for _, p := range f.Stations {
		if p.OffM != nil && p.LowM != nil && p.HighM != nil {
			out = append(out, drawing.Swath{At: p.AtM, Left: p.OffM.Value, Low: *p.LowM, High: *p.HighM})
		}
	}
	return out
}

// crowdTurns is the crowd's line turn by turn.
func (d *draft) crowdTurns(f document.Field) Table {
	u := d.units
	t := Table{ID: "turns", Title: "The crowd's line in the turns", Open: true,
		Head:  []string{"turn", "at", "to the", "crowd's middle outside the line", "90 % interval", "ran wide, median", "quartiles", "records"},
		About: "How far outside the shortest line the middle of the crowd ran next to the turn; at a turn-around, marked “beyond”, how far beyond the line's furthest point it turned."}
	of := map[int]document.FieldTurn{}
	for _, x := range f.Turns {
		of[x.Number] = x
	}
	for _, turn := range d.scene.Turns {
		x := of[turn.Number]
		out, sure, wide, half := quantity.None, quantity.None, quantity.None, quantity.None
		switch {
		case x.BeyondM != nil:
			out, sure = quantity.Length(x.BeyondM.Value, u)+" beyond", bounds(*x.BeyondM, u)
		case x.OutsideM != nil:
			out, sure = quantity.Length(x.OutsideM.Value, u), bounds(*x.OutsideM, u)
		}
		if x.ExtraM != nil {
			wide, half = quantity.Signed(x.ExtraM.Value, u), bounds(*x.ExtraM, u)
		}
		t.Rows = append(t.Rows, d.turnRow(turn, out, sure, wide, half, fmt.Sprint(x.Records)))
	}
	return t
}

// stations is the table behind the tint, thinned so that it stays readable.
func stations(d document.Field, u quantity.Units) Table {
	every := math.Max(100, math.Ceil(d.ShortestM/150/100)*100)
	t := Table{ID: "crowd", Title: "Where the crowd ran, place by place",
		Head:  []string{"at", "records", "crowd's middle", "90 % interval", "nine of ten between", "edges of the road"},
		About: fmt.Sprintf("Metres or feet to the left of the shortest legal line, with a minus to the right, about every %s; the JSON document has every place.", quantity.Distance(every, quantity.Metric))}
	next := 0.0
	for _, p := range d.Stations {
		if p.AtM < next || p.OffM == nil || p.LowM == nil || p.HighM == nil {
			continue
		}
		next = (math.Floor(p.AtM/every) + 1) * every
		t.Rows = append(t.Rows, Row{At: p.AtM, HasAt: true, Cells: []string{text.At(p.AtM, u), fmt.Sprint(p.Records), quantity.Signed(p.OffM.Value, u), bounds(*p.OffM, u),
			quantity.Signed(*p.LowM, u) + " and " + quantity.Signed(*p.HighM, u), quantity.Signed(p.RightM, u) + " and " + quantity.Signed(p.LeftM, u)}})
	}
	return t
}

// named tells whether runners are named.
func named(d document.Field) bool {
	for _, r := range d.Runners {
		if r.Name != "" {
			return true
		}
	}
	return false
}

// runnerTable lists the runners, unless they are many and only numbered.
func runnerTable(d document.Field, u quantity.Units) Table {
	t := Table{ID: "runners", Title: "The runners", Head: []string{"runner", "matched", "ran", "beyond the line", "90 % interval", "watch over official"}}
	if d.OfficialM == nil {
		t.Head[5] = "watch over line"
	}
	names := named(d)
	if names {
		t.Head = append(t.Head, "record")
		t.Words = []int{6}
	} else if len(d.Runners) > text.MostRunners {
		return t // a number says nothing; the JSON document has them all
	}
	for _, r := range d.Runners {
		row := Row{Cells: []string{fmt.Sprint(r.Number), quantity.Percent(r.MatchedPart, 0), text.Far(r.RanM.Value, u), quantity.Signed(r.ExtraM.Value, u), bounds(r.ExtraM, u), quantity.Signed(r.SurplusM, u)}}
		if names {
			row.Cells = append(row.Cells, text.Clean(r.Name))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// handled says what became of the records that were given. Files are named
// only where runners are, since a file is often named after its runner.
func handled(d document.Field) List {
	l := List{Title: "How the records were handled"}
	l.Items = append(l.Items, text.Plural(d.Records, "record")+" counted. Each was laid along the course; where it does not show the course, it counts for nothing there.")
	if d.CountedTwice > 0 {
		l.Items = append(l.Items, fmt.Sprintf("%s came more than once and counted once.", text.Plural(d.CountedTwice, "record")))
	}
	names := named(d)
	count, order := map[string]int{}, []string{}
	for _, r := range d.Refused {
		why := text.Line(r.Why)
		if !names {
			why = withoutFile(r)
		}
		if count[why] == 0 {
			order = append(order, why)
		}
		count[why]++
	}
	if n := len(d.Refused); n > 0 {
		l.Items = append(l.Items, fmt.Sprintf("%s could not be used and did not count:", text.Plural(n, "file")))
	} else {
		l.Items = append(l.Items, "No file was refused.")
	}
	for i, why := range order {
		if i == 20 {
			l.Items = append(l.Items, fmt.Sprintf("and %d more reasons.", len(order)-i))
			break
		}
		if count[why] > 1 {
			why = fmt.Sprintf("%d files: %s", count[why], why)
		}
		l.Items = append(l.Items, why)
	}
	if !names {
		l.Items = append(l.Items, "Runners are numbered, not named.")
	}
	if len(d.LeftRoad) == 0 {
		l.Items = append(l.Items, "No record shows for certain that its runner left the permitted road.")
	}
	return l
}

// withoutFile is why a file was refused, without the name of the file.
func withoutFile(r document.FieldRefusal) string {
	// Line and column help only with the file at hand.
	why := strings.TrimLeft(strings.TrimPrefix(r.Why, r.Name), ":0123456789")
	why = strings.TrimSpace(why)
	base := r.Name[strings.LastIndexAny(r.Name, `/\`)+1:]
	if base == "" || strings.Contains(why, base) {
		return "a file that cannot be used"
	}
	return text.Line(why)
}
