package page

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"sort"
	"strings"

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

// draft is a sheet with a map, while it is made: what the sheet is about lies
// in the scene, from which draw makes the drawings.
type draft struct {
	*Sheet
	race  *race.Race
	scene *drawing.Scene
	units quantity.Units
}

// newDraft begins a sheet: its title block, and the race laid out for drawing
// with what was run on it.
func newDraft(kind string, r *race.Race, o Options, run Run) *draft {
	s := newScene(r, o.Units, o.Ground, run.Path, run.Fixes)
	sheet := &Sheet{Kind: kind, Title: text.CourseName(r.Name), Length: s.Length, HasPath: len(s.Path) > 0}
	sheet.cell("course", text.At(r.Line.Length, o.Units)+", "+text.Plural(len(r.Line.Turns), "turn"))
	if !r.Sheet.Date.IsZero() {
		sheet.cell("race day", r.Sheet.Date.Format("2006-01-02"))
	}
	sheet.cell("drawn", o.Date)
	sheet.cell("source", text.Clean(o.Source))
	road := "as drawn: the measured line"
	if !r.Road.Spec.CourseIsLine {
		margin := fmt.Sprintf("%.0f cm", 100*r.Road.Spec.Clearance.Kerb)
		if o.Units == quantity.Imperial {
			margin = quantity.Length(r.Road.Spec.Clearance.Kerb, o.Units)
		}
		road = fmt.Sprintf("%s wide, corners %s, %s from kerbs", quantity.Length(r.Road.Spec.Width, o.Units), quantity.Length(r.Road.Spec.CornerRadius, o.Units), margin)
		switch n := len(r.Sheet.Stretches); {
		case n == 1:
			road += "; 1 stretch differs"
		case n > 1:
			road += fmt.Sprintf("; %d stretches differ", n)
		}
	}
	sheet.cell("road", road)
	return &draft{sheet, r, s, o.Units}
}

// cell adds a field to the title block, unless there is nothing to say.
func (sheet *Sheet) cell(name, value string) {
	if value != "" {
		sheet.Block = append(sheet.Block, Cell{name, value})
	}
}

func (sheet *Sheet) figure(value, name, note string) {
	sheet.Figures = append(sheet.Figures, Figure{value, name, note})
}

func (sheet *Sheet) say(sentences ...string) { sheet.Verdict = append(sheet.Verdict, sentences...) }

func (sheet *Sheet) sign(svg template.HTML, words string) {
	sheet.Signs = append(sheet.Signs, Sign{svg, words})
}

func (sheet *Sheet) table(t Table) { sheet.Tables = append(sheet.Tables, t) }

// caution adds those cautions that are not there yet, as sentences.
func (sheet *Sheet) caution(list ...string) {
	for _, c := range list {
		c = text.Sentence(strings.TrimSpace(c))
		if c != "" && !slices.ContainsFunc(sheet.Cautions, func(old string) bool { return strings.EqualFold(old, c) }) {
			sheet.Cautions = append(sheet.Cautions, c)
		}
	}
}

// mostWorst is how many turns a page asks to look at first.
const mostWorst = 3

// rank picks the turns with the greatest values and points them out. describe
// gives a turn's figure and note.
func (d *draft) rank(value []float64, describe func(i int) (figure, note string)) {
	order := make([]int, 0, len(d.scene.Turns))
	for i := range d.scene.Turns {
		if i < len(value) && value[i] >= 0.05 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(value[b], value[a]) })
	for _, i := range order[:min(mostWorst, len(order))] {
		figure, note := describe(i)
		d.pointOut(&d.scene.Turns[i], figure, note)
	}
}

// pointOut gives a turn the next rank, on the map and in the list of turns to
// look at first.
func (d *draft) pointOut(t *drawing.Turn, figure, note string) {
	t.Rank, t.Figure = len(d.Worst)+1, figure
	d.Worst = append(d.Worst, Worst{Rank: t.Rank, Number: t.Number, At: t.At, Figure: figure, Where: text.At(t.At, d.units) + ", " + sideWords(t.Angle), Note: note})
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

// draw makes the drawings that all sheets have.
func (d *draft) draw() {
	s := d.scene
	sort.SliceStable(s.Marks, func(i, j int) bool { return s.Marks[i].At < s.Marks[j].At })
	d.Defs = drawing.Defs
	d.Strips = drawing.StripMap(s)
	d.cell("strip map", fmt.Sprintf("%s %s a strip, across %.0f times the scale along", trim(d.Strips.Length/s.Unit.Metres), s.Unit.Name, d.Strips.Exaggeration()))
	d.Caption = fmt.Sprintf("The road unrolled, from the bottom of each strip to its top, then on to the next: left on the drawing is left on the road. Kerb to kerb it is drawn %.0f times wider than along.", d.Strips.Exaggeration())
	d.Overview, d.Small = drawing.Overview(s, 340, 250), drawing.Overview(s, 172, 148)
	for _, t := range byRank(s.Turns) {
		d.Plates = append(d.Plates, Plate{
			Title: fmt.Sprintf("%d · Turn %d", t.Rank, t.Number),
			About: fmt.Sprintf("%s %s, %s; %s", s.Unit.At(t.At), s.Unit.Name, sideWords(t.Angle), t.Figure),
			SVG:   drawing.Plate(s, t),
		})
	}
	if len(s.Cones) > 0 || coned(s) {
		d.sign(coneSign, "cones")
	}
	if len(s.Ground) > 0 {
		d.Charts = append(d.Charts, three("heights", "Heights", "The strokes under the ground lean up or down the hill; longer is steeper.", func(w float64) template.HTML {
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

// three draws a chart in its three widths.
func three(id, title, about string, draw func(w float64) template.HTML) Chart {
	return Chart{ID: id, Title: title, About: about, Narrow: draw(narrow), Middle: draw(middle), Wide: draw(wide)}
}

// finish adds what the script needs.
func (d *draft) finish() (*Sheet, error) {
	b, err := newData(d.scene, d.units)
	d.Data = template.JS(b) // encoding/json escapes what could end a script element
	return d.Sheet, err
}

func sideWords(angle float64) string {
	if angle > 0 {
		return fmt.Sprintf("left %.0f°", angle)
	}
	return fmt.Sprintf("right %.0f°", -angle)
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
	per, name := u.Per(), u.Name()
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
	return out
}

// turnRow is the row of a turn: its number, where it is, and to which side it
// turns, then what else there is to say.
func (d *draft) turnRow(t drawing.Turn, cells ...string) Row {
	return Row{ID: fmt.Sprintf("turn-%d", t.Number), At: t.At, HasAt: true, Rank: t.Rank,
		Cells: append([]string{fmt.Sprint(t.Number), text.At(t.At, d.units), sideWords(t.Angle)}, cells...)}
}

// turnTable lists the turns, so that the links of the strip map have a target.
func (d *draft) turnTable() Table {
	t := Table{ID: "turns", Title: "Turns", Head: []string{"turn", "at", "to the"}}
	for _, turn := range d.scene.Turns {
		t.Rows = append(t.Rows, d.turnRow(turn))
	}
	return t
}

// marksTable lists the marks, with their times where there are any.
func (d *draft) marksTable() Table {
	t := Table{ID: "marks", Title: "Marks and aid stations", Head: []string{"place", "along the line"}}
	timed := false
	for _, m := range d.scene.Marks {
		timed = timed || m.Time != ""
	}
	if timed {
		t.Head = append(t.Head, "time")
	}
	for _, m := range d.scene.Marks {
		row := Row{At: m.At, HasAt: true, Cells: []string{text.Clean(m.Name), text.Far(m.At, d.units)}}
		if timed {
			row.Cells = append(row.Cells, m.Time)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
