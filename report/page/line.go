package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"sort"
	"strings"

	"tautline/geo/taut"
	"tautline/report/drawing"
	"tautline/report/text"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

// Widths that charts are drawn at, px: a phone, paper, a screen.
const (
	narrow = 358.0
	middle = 720.0
	wide   = 1180.0
)

func sideWords(angle float64) string {
	if angle > 0 {
		return fmt.Sprintf("left %.0f°", angle)
	}
	return fmt.Sprintf("right %.0f°", -angle)
}

// Line draws the shortest legal line of a race: the turns to look at first are
// those where what is known of the road matters most.
func Line(r *race.Race, doubts []taut.Variant, o Options) (*Sheet, error) {
	s := newScene(r, o.Units, o.Ground, nil, nil)
	s.Marks = marks(r, o.Units)
	u := o.Units
	sheet := start("Shortest legal line", r, s, o)
	sheet.WorstSay = "Turns whose kerbs are most worth measuring"
	swing := swings(doubts, len(r.Line.Turns))
	sheet.WorstWhy = "What the road's width and corner radius, as far as they are known, leave open there. A corner of several laps counts once."
	rank(s, sheet, u, onceEach(r, swing), func(i int) (string, string) { return "±" + quantity.Length(swing[i], u), "" })
	sheet.Figures = []Figure{{text.Far(r.Line.Length, u), "shortest legal line", "map length, start line to finish line"}}
	if !math.IsNaN(r.Line.SurfaceLength) {
		sheet.Figures = append(sheet.Figures, Figure{text.Far(r.Line.SurfaceLength, u), "along the surface", "with hills and altitude, " + quantity.Signed(r.Line.SurfaceLength-r.Line.Length, u)})
	}
	sheet.Figures = append(sheet.Figures, Figure{text.Far(r.Line.Centreline, u), "drawn course", quantity.Signed(r.Line.Centreline-r.Line.Length, u) + " against the line"})
	if r.Official > 0 {
		what := "as announced"
		if r.Certified {
			what = "certified"
		}
		sheet.Figures = append(sheet.Figures, Figure{text.Far(r.Official, u), "official distance", what + "; the line is " + quantity.Signed(r.Line.Length-r.Official, u) + " against it"})
	}
	if r.Road.Spec.CourseIsLine {
		sheet.Verdict = append(sheet.Verdict, "The drawn course was taken as the measured line itself; nothing was shortened.")
	} else {
		sheet.Verdict = append(sheet.Verdict, fmt.Sprintf("The road is %s wide with corner radius %s where the race sheet says nothing else. Another road has another line: see the table below.",
			quantity.Length(r.Road.Spec.Width, u), quantity.Length(r.Road.Spec.CornerRadius, u)))
	}
	sheet.draw(s)
	if len(doubts) > 0 {
		t := Table{ID: "doubts", Title: "How sure the line is", Head: []string{"if the", "shortest line", "change"}, Open: true}
		for _, d := range doubts {
			t.Rows = append(t.Rows, Row{Cells: []string{text.OtherRoad(d, "is ", u), text.Far(d.Length, u), quantity.Signed(d.Difference, u)}})
		}
		sheet.Tables = append(sheet.Tables, t)
	}
	t := Table{ID: "turns", Title: "Turns", Head: []string{"turn", "at", "to the", "radius of the line", "in doubt by"}, Open: true,
		About: "The last column says how far the line there may be off because width and radius are not better known, as far as half way to the neighbouring turns."}
	for i, turn := range r.Line.Turns {
		t.Rows = append(t.Rows, Row{
			ID: fmt.Sprintf("turn-%d", turn.Number), At: turn.At, HasAt: true, Rank: s.Turns[i].Rank,
			Cells: []string{fmt.Sprint(turn.Number), text.At(turn.At, u), sideWords(s.Turns[i].Angle), quantity.Length(turn.Radius, u), "±" + quantity.Length(swing[i], u)},
		})
	}
	sheet.Tables = append(sheet.Tables, t, marksTable(s, u))
	sheet.caution(r.Notes...)
	sheet.caution(text.LengthCaution, text.ClosedRoadCaution)
	return sheet, sheet.finish(s)
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

// onceEach is the values of turns, 0 for a corner that an earlier lap has.
func onceEach(r *race.Race, value []float64) []float64 {
	once := append([]float64(nil), value...)
	for i, t := range r.Line.Turns {
		for _, before := range r.Line.Turns[:i] {
			if i < len(once) && math.Hypot(t.Apex[0]-before.Apex[0], t.Apex[1]-before.Apex[1]) < 10 {
				once[i] = 0
			}
		}
	}
	return once
}

// mostWorst is how many turns a page asks to look at first.
const mostWorst = 3

// rank picks the turns with the greatest values, marks them in the scene and
// lists them. describe gives a turn's figure and note.
func rank(s *drawing.Scene, sheet *Sheet, u quantity.Units, value []float64, describe func(i int) (figure, note string)) {
	order := make([]int, 0, len(s.Turns))
	for i := range s.Turns {
		if i < len(value) && value[i] >= 0.05 {
			order = append(order, i)
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return value[order[a]] > value[order[b]] })
	for k, i := range order[:min(mostWorst, len(order))] {
		t := &s.Turns[i]
		figure, note := describe(i)
		t.Rank, t.Figure = k+1, figure
		sheet.Worst = append(sheet.Worst, Worst{Rank: k + 1, Number: t.Number, At: t.At, Figure: figure, Where: text.At(t.At, u) + ", " + sideWords(t.Angle), Note: note})
		sheet.HasLost = true
	}
}

// start fills in what all sheets share.
func start(kind string, r *race.Race, s *drawing.Scene, o Options) *Sheet {
	title := text.Clean(r.Name)
	if title == "" {
		title = "unnamed course"
	}
	sheet := &Sheet{Kind: kind, Title: title, Length: s.Length, HasPath: len(s.Path) > 0}
	sheet.Block = []Cell{{"course", text.At(r.Line.Length, o.Units) + ", " + text.Plural(len(r.Line.Turns), "turn")}}
	if !r.Sheet.Date.IsZero() {
		sheet.Block = append(sheet.Block, Cell{"race day", r.Sheet.Date.Format("2006-01-02")})
	}
	if o.Date != "" {
		sheet.Block = append(sheet.Block, Cell{"drawn", o.Date})
	}
	if o.Source != "" {
		sheet.Block = append(sheet.Block, Cell{"source", text.Clean(o.Source)})
	}
	road := "as drawn: the measured line"
	if !r.Road.Spec.CourseIsLine {
		road = fmt.Sprintf("%s wide, corners %s, %.0f cm from kerbs", quantity.Length(r.Road.Spec.Width, o.Units), quantity.Length(r.Road.Spec.CornerRadius, o.Units), 100*r.Road.Spec.Clearance.Kerb)
		switch n := len(r.Sheet.Stretches); {
		case n == 1:
			road += "; 1 stretch differs"
		case n > 1:
			road += fmt.Sprintf("; %d stretches differ", n)
		}
	}
	sheet.Block = append(sheet.Block, Cell{"road", road})
	return sheet
}

// draw makes the drawings that all sheets have.
func (sheet *Sheet) draw(s *drawing.Scene) {
	sheet.Defs = drawing.Defs
	sheet.Strips = drawing.StripMap(s)
	sheet.Block = append(sheet.Block, Cell{"strip map", fmt.Sprintf("%s %s a strip, across %.0f times the scale along", trim(sheet.Strips.Length/s.Unit.Metres), s.Unit.Name, sheet.Strips.Exaggeration())})
	sheet.Caption = fmt.Sprintf("The road unrolled, from the bottom of each strip to its top, then on to the next: left on the drawing is left on the road. Kerb to kerb it is drawn %.0f times wider than along.", sheet.Strips.Exaggeration())
	sheet.Overview, sheet.Small = drawing.Overview(s, 340, 250), drawing.Overview(s, 172, 148)
	for _, t := range byRank(s.Turns) {
		sheet.Plates = append(sheet.Plates, Plate{
			Title: fmt.Sprintf("%d · Turn %d", t.Rank, t.Number),
			About: fmt.Sprintf("%s %s, %s; %s", s.Unit.At(t.At), s.Unit.Name, sideWords(t.Angle), t.Figure),
			SVG:   drawing.Plate(s, t),
		})
	}
	if len(s.Ground) > 0 {
		sheet.Charts = append(sheet.Charts, three("heights", "Heights", "The strokes under the ground lean up or down the hill; longer is steeper.", func(w float64) template.HTML {
			return drawing.Profile(s, w, math.Max(150, math.Min(210, w/4)))
		}))
	}
}

func trim(v float64) string { return fmt.Sprintf("%g", math.Round(v*100)/100) }

func byRank(turns []drawing.Turn) []drawing.Turn {
	var out []drawing.Turn
	for _, t := range turns {
		if t.Rank > 0 {
			out = append(out, t)
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Rank < out[j].Rank })
	return out
}

func three(id, title, about string, draw func(w float64) template.HTML) Chart {
	return Chart{ID: id, Title: title, About: about, Narrow: draw(narrow), Middle: draw(middle), Wide: draw(wide)}
}

// caution adds those cautions that are not there yet, as sentences.
func (sheet *Sheet) caution(list ...string) {
	for _, c := range list {
		c = text.Sentence(strings.TrimSpace(c))
		if c != "" && !slices.ContainsFunc(sheet.Cautions, func(old string) bool { return strings.EqualFold(old, c) }) {
			sheet.Cautions = append(sheet.Cautions, c)
		}
	}
}

// finish adds what the script needs.
func (sheet *Sheet) finish(s *drawing.Scene) error {
	b, err := newData(s)
	sheet.Data = template.JS(b) // encoding/json escapes what could end a script element
	return err
}

// marks are the kilometres or miles, aid stations and named places of a race,
// laid onto its line in proportion to the official distance.
func marks(r *race.Race, u quantity.Units) []drawing.Mark {
	official := r.Official
	if official == 0 {
		official = r.Line.Length
	}
	k := r.Line.Length / official
	var out []drawing.Mark
	per, name := u.Per(), text.Unit(u)
	for i := 1; float64(i)*per < official-1; i++ {
		out = append(out, drawing.Mark{At: float64(i) * per * k, Name: fmt.Sprintf("%d %s", i, name)})
	}
	for _, a := range r.Sheet.Aid {
		label := "aid"
		if a.Name != "" {
			label = "aid, " + a.Name
		}
		out = append(out, drawing.Mark{At: a.At * k, Name: label, Short: "aid", Kind: drawing.Aid})
	}
	for _, m := range r.Sheet.Marks {
		x := drawing.Mark{At: m.At * k, Name: m.Name}
		if m.Mat {
			x.Kind, x.Name, x.Short = drawing.Mat, "mat, "+m.Name, "mat"
		}
		out = append(out, x)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].At < out[j].At })
	return out
}

func marksTable(s *drawing.Scene, u quantity.Units) Table {
	t := Table{ID: "marks", Title: "Marks and aid stations", Head: []string{"place", "along the line"}}
	timed := false
	for _, m := range s.Marks {
		timed = timed || m.Time != ""
	}
	if timed {
		t.Head = append(t.Head, "time")
	}
	for _, m := range s.Marks {
		row := Row{At: m.At, HasAt: true, Cells: []string{text.Clean(m.Name), text.Far(m.At, u)}}
		if timed {
			row.Cells = append(row.Cells, m.Time)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
