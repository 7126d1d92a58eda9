package page

import (
	"fmt"
	"html/template"
	"math"
	"sort"
	"strings"

	"tautline/geo/road"
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

	changedWords = "the line is another after the change, by so much"
)

// Field draws what the records of many runners say of a course: the verdict,
// where the crowd ran, and where runners left the permitted road.
func Field(r *race.Race, d document.Field, o Options) (*Sheet, error) {
	u := o.Units
	s := newScene(r, u, o.Ground, nil, nil)
	s.Marks = marks(r, u)
	s.Crowd = crowdOf(r, d)
	for _, p := range d.Stations {
		if p.OffM != nil && p.LowM != nil && p.HighM != nil {
			s.Middle = append(s.Middle, drawing.Swath{At: p.AtM, Left: p.OffM.Value, Low: *p.LowM, High: *p.HighM})
		}
	}
	s.Cones = cones(r)
	sheet := start("Field", r, s, o)
	sheet.Class = "crowded"
	sheet.Block = append(sheet.Block, Cell{"records", fmt.Sprint(d.Records)})

	verdict := d.Verdict
	switch n := len(d.LookAtTurns); {
	case n == 1:
		verdict += " turn " + text.TurnNumbers(d.LookAtTurns)
	case n > 1:
		verdict += " turns " + text.TurnNumbers(d.LookAtTurns)
	case len(d.Findings) > 0:
		verdict += " the places below"
	}
	sheet.Figures = []Figure{{verdict, "verdict", text.Plural(d.Records, "record")}, {text.Far(d.CourseM.Value, u), "course that the records support", "90 %: " + farBounds(d.CourseM, u)}}
	if d.OfficialM != nil {
		// A difference of lengths that are not known to a metre is not told to a
		// decimetre.
		sheet.Figures = append(sheet.Figures, Figure{text.Far(*d.OfficialM, u), "official distance", "the records support " + quantity.Signed(math.Round(d.CourseM.Value-*d.OfficialM), u) + " against it"})
	} else {
		sheet.Figures = append(sheet.Figures, Figure{text.Far(d.ShortestM, u), "shortest legal line", "of the drawing; no official distance was given"})
	}
	if q := d.ExtraQuartiles; q != nil {
		sheet.Figures = append(sheet.Figures, Figure{quantity.Signed(q.Value, u), "the middle runner beyond the line", "half of them: " + bounds(*q, u)})
	}
	sheet.Verdict = append([]string{text.FieldVerdict(d)}, text.FieldLength(d, u)...)

	// Places to look at, most metres first.
	order := make([]int, len(d.Findings))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool {
		return math.Abs(d.Findings[order[a]].LengthM.Value) > math.Abs(d.Findings[order[b]].LengthM.Value)
	})
	found := Table{ID: "findings", Title: "Where the field did not run the measured course", Open: true, Words: []int{2},
		Head:  []string{"at", "turns", "what the crowd did", "course longer by", "records"},
		About: "There the course was short or long, a marshal was missing, or cones stood elsewhere than when it was measured: go and look. Intervals are 90 %."}
	for _, i := range order {
		f := d.Findings[i]
		mid := (f.FromM + f.ToM) / 2
		row := Row{At: mid, HasAt: true, Cells: []string{text.At(mid, u), text.TurnNumbers(f.Turns), text.FieldFinding(f, u), text.SignedInterval(f.LengthM, u), fmt.Sprint(f.Records)}}
		figure := quantity.Signed(f.LengthM.Value, u)
		t := turnFor(s, f)
		if t != nil && t.Rank == 0 {
			t.Rank, t.Figure = len(sheet.Worst)+1, figure
			sheet.Worst = append(sheet.Worst, Worst{Rank: t.Rank, Number: t.Number, At: t.At, Figure: figure, Where: text.At(t.At, u) + ", " + sideWords(t.Angle), Note: "the crowd " + text.FieldFinding(f, u)})
			sheet.HasLost = true
			row.Rank = t.Rank
		} else if t == nil {
			s.Marks = append(s.Marks, drawing.Mark{At: mid, Name: "look", Time: figure, Kind: drawing.Name})
		}
		s.Spans = append(s.Spans, drawing.Span{From: f.FromM, To: f.ToM, Left: true, Class: "span-worth", Name: "the crowd " + text.FieldFinding(f, u)})
		found.Rows = append(found.Rows, row)
	}
	sheet.WorstSay, sheet.WorstWhy = "Look here", "By so much the course that the field ran was longer, with a minus shorter, than the measured one."

	left := Table{ID: "left", Title: "Runners who left the permitted road", Open: true, Words: []int{2},
		Head:  []string{"at", "turns", "how", "records", "share of the field", "90 % interval"},
		About: "Only what a record shows beyond its own error. A receiver may have been wrong: this shows no runner to have broken a rule."}
	for _, l := range d.LeftRoad {
		mid := (l.FromM + l.ToM) / 2
		left.Rows = append(left.Rows, Row{At: mid, HasAt: true, Cells: []string{text.At(mid, u), text.TurnNumbers(l.Turns), l.How, fmt.Sprint(l.Records),
			quantity.Percent(l.Share.Value, 0), quantity.Percent(l.Share.Low, 0) + " to " + quantity.Percent(l.Share.High, 0)}})
		s.Spans = append(s.Spans, drawing.Span{From: l.FromM, To: l.ToM, Class: "span-left", Name: fmt.Sprintf("%d %s", l.Records, l.How)})
		s.Marks = append(s.Marks, drawing.Mark{At: mid, Name: fmt.Sprintf("%d left", l.Records), Kind: drawing.Name})
	}
	sort.SliceStable(s.Marks, func(i, j int) bool { return s.Marks[i].At < s.Marks[j].At })

	sheet.draw(s)
	if len(s.Crowd) > 0 {
		sheet.Caption += " The tint says how much of the field ran in each metre of the road's width; those beyond an edge count in the outermost metre."
		for i, least := range drawing.Densities {
			words := quantity.Percent(least, 0)
			if i+1 < len(drawing.Densities) {
				words += " to " + quantity.Percent(drawing.Densities[i+1], 0)
			} else {
				words += " of the field and more, in one metre"
			}
			sheet.Signs = append(sheet.Signs, Sign{template.HTML(fmt.Sprintf(`<svg width="22" height="12" aria-hidden="true"><path class="crowd-%d" d="M0 0H22V12H0z"/><path class="kerb" d="M0 0H22V12H0z"/></svg>`, i+1)), words})
		}
	} else {
		sheet.Caption += " With so few records the crowd is not drawn."
	}
	if len(s.Cones) > 0 || coned(s) {
		sheet.Signs = append(sheet.Signs, Sign{coneSign, "cones"})
	}
	if len(d.Findings) > 0 {
		sheet.Signs = append(sheet.Signs, Sign{worthSign, "here the field as a whole ran another course"})
	}
	if len(d.LeftRoad) > 0 {
		sheet.Signs = append(sheet.Signs, Sign{leftSign, "here single runners left the permitted road"})
	}
	if len(found.Rows) > 0 {
		sheet.Tables = append(sheet.Tables, found)
	}
	sheet.Tables = append(sheet.Tables, left, crowdTurns(s, d, u), stations(d, u), runnerTable(d, u))
	sheet.Lists = append(sheet.Lists, handled(d))
	if len(d.LeftRoad) == 0 {
		sheet.Lists[0].Items = append(sheet.Lists[0].Items, "No record shows for certain that its runner left the permitted road.")
	}
	sheet.caution(d.Warnings...)
	sheet.caution(document.FieldCautions()...)
	sheet.caution("The intervals are meant to hold the truth nine times in ten; quartiles are called so.")
	return sheet, sheet.finish(s)
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
		left, right := r.Road.Lateral(chainage(r, p.AtM))
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

// coned tells whether cones bound the permitted road somewhere.
func coned(s *drawing.Scene) bool {
	for _, a := range s.Road {
		if a.LeftKind == "cone" || a.RightKind == "cone" {
			return true
		}
	}
	return false
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

func crowdTurns(s *drawing.Scene, d document.Field, u quantity.Units) Table {
	t := Table{ID: "turns", Title: "The crowd's line in the turns", Open: true,
		Head:  []string{"turn", "at", "to the", "crowd's middle outside the line", "90 % interval", "ran wide, median", "quartiles", "records"},
		About: "How far outside the shortest line the middle of the crowd ran next to the turn; at a turn-around, marked “beyond”, how far beyond the line's furthest point it turned."}
	of := map[int]document.FieldTurn{}
	for _, x := range d.Turns {
		of[x.Number] = x
	}
	for _, turn := range s.Turns {
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
		t.Rows = append(t.Rows, Row{ID: fmt.Sprintf("turn-%d", turn.Number), At: turn.At, HasAt: true, Rank: turn.Rank,
			Cells: []string{fmt.Sprint(turn.Number), text.At(turn.At, u), sideWords(turn.Angle), out, sure, wide, half, fmt.Sprint(x.Records)}})
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

func named(d document.Field) bool {
	for _, r := range d.Runners {
		if r.Name != "" {
			return true
		}
	}
	return false
}

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
