package band

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"tautline/report/text"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

// Text is a plan for the terminal: what was asked for, the splits, what to look
// at again, and the caution.
func Text(p *plan.Plan, screen text.Screen) []string {
	u := screen.Units
	var lines []string
	title := cmp.Or(strings.Trim(text.Clean(p.Athlete)+" · "+text.Clean(p.Course), " ·"), "Pace plan")
	for _, l := range text.Wrap(title, screen.Width, 0) {
		lines = append(lines, screen.Heading(l))
	}
	goal := "Goal " + quantity.Clock(p.Target) + " over " + quantity.Distance(p.Official, u) + ": even effort is " + quantity.Pace(p.FlatPace, u) + " on the level."
	if !p.Given {
		goal = "Even effort at " + quantity.Pace(p.FlatPace, u) + " on the level gives " + quantity.Clock(p.Target) + " over " + quantity.Distance(p.Official, u) + "."
	}
	lines = append(lines, text.Wrap(goal, screen.Width, 0)...)
	lines = append(lines, Splits(p, screen)...)
	lines = append(lines, "")
	return append(lines, text.Wrap(text.EffortCaution, screen.Width, 0)...)
}

// Splits is the part of a plan's Text that says how the goal is run: the path
// and what the day costs, the splits, what to look at again.
func Splits(p *plan.Plan, screen text.Screen) []string {
	u := screen.Units
	var lines []string
	say := func(s string) { lines = append(lines, text.Wrap(s, screen.Width, 0)...) }
	own := "Own path " + quantity.Distance(p.Own, u) + ", half way in " + quantity.Clock(p.Half)
	if p.GunDelay > 0 {
		own += ", by the gun " + quantity.Clock(p.Target+p.GunDelay)
	}
	say(own + ".")
	if cost := SlowingText(p); cost != "" {
		say(cost)
	}
	lines = append(lines, "")
	s := lay(p, Options{Units: u})
	columns := fitting(s.splitColumns(), screen.Width)
	table := text.Table{Rows: make([][]string, len(p.Splits))}
	for _, c := range columns {
		table.Columns = append(table.Columns, c.Column)
		for i, cell := range c.cells {
			table.Rows[i] = append(table.Rows[i], cell)
		}
	}
	lines = append(lines, table.Lines(screen.Width)...)
	lines = append(lines, "")
	legend := "Paces are per " + u.Name() + " of your own path; flat is what the pace is worth on the level"
	if s.watch {
		legend += ", watch the pace that the watch will show"
		if slices.ContainsFunc(columns, func(f splitColumn) bool { return f.Head == "lap" }) {
			legend += ", lap the distance that it will count for the split"
		}
	}
	if slices.ContainsFunc(columns, func(f splitColumn) bool { return f.Head == upDown }) {
		unit := "metres"
		if u == quantity.Imperial {
			unit = "feet"
		}
		legend += ", up/down climb and descent in " + unit
	}
	say(legend + ".")
	if len(p.Warnings) > 0 {
		lines = append(lines, "", screen.Heading("Look again"))
		for _, w := range p.Warnings {
			lines = append(lines, text.Wrap(w.Text+" Why: "+w.Why+".", screen.Width, 2)...)
		}
	}
	return lines
}

// SlowingText says what heat and altitude cost a plan, "" for nothing.
func SlowingText(p *plan.Plan) string {
	if !(p.Slowing.Value > 0) {
		return ""
	}
	return "Heat and altitude are taken to cost " + quantity.Percent(p.Slowing.Value, 1) + " (" + quantity.Percent(p.Slowing.Low, 1) + " to " + quantity.Percent(p.Slowing.High, 1) + ")."
}

// splitColumn is one column of the splits on the terminal.
type splitColumn struct {
	text.Column
	cells []string
	rank  int // the highest go first when the window is narrow; those without stay
}

// upDown heads climb and descent.
const upDown = "up/down"

// splitColumns are the columns of the splits that have something to say.
func (s *sheetPlan) splitColumns() []splitColumn {
	var columns []splitColumn
	add := func(wanted bool, rank int, head string, cell func(i int) string) {
		if !wanted {
			return
		}
		f := splitColumn{Column: text.Column{Head: head, Right: true}, rank: rank}
		for i := range s.rows {
			f.cells = append(f.cells, cell(i))
		}
		columns = append(columns, f)
	}
	add(true, 0, "mark", func(i int) string {
		x := s.p.Splits[i]
		if x.Stop > 0 {
			return text.Clean(x.Mark) + ", stop " + quantity.Clock(x.Stop)
		}
		return text.Clean(x.Mark)
	})
	columns[0].Right, columns[0].Flex = false, true
	add(true, 0, "split", func(i int) string { return s.rows[i].split })
	add(true, 0, "clock", func(i int) string { return s.rows[i].elapsed })
	add(s.climbs(), 4, "gradient", func(i int) string { return quantity.Percent(s.p.Splits[i].Gradient, 1) })
	add(true, 1, "pace", func(i int) string { return s.rows[i].pace })
	add(true, 6, "flat", func(i int) string { return bare(quantity.Pace(s.p.Splits[i].FlatPace, s.o.Units)) })
	add(s.watch, 2, "watch", func(i int) string { return s.rows[i].watch })
	add(s.watch, 7, "lap", func(i int) string { return s.rows[i].lap })
	add(s.climbs(), 5, upDown, func(i int) string { return strings.ReplaceAll(s.rows[i].hill, "−", "-") })
	add(s.p.GunDelay > 0, 3, "gun", func(i int) string { return s.rows[i].gun })
	return columns
}

// fitting leaves out columns, those of the highest rank first, until the rest
// fits in a window.
func fitting(columns []splitColumn, width int) []splitColumn {
	columns = slices.Clone(columns)
	for {
		wide, out := -2, 0
		for k, c := range columns {
			w := utf8.RuneCountInString(c.Head)
			for _, cell := range c.cells {
				w = max(w, utf8.RuneCountInString(cell))
			}
			if c.Flex {
				w = min(w, 16) // narrower, the table would be stacked
			}
			wide += w + 2
			if c.rank > columns[out].rank {
				out = k
			}
		}
		if wide <= width || columns[out].rank == 0 {
			return columns
		}
		columns = slices.Delete(columns, out, out+1)
	}
}

// OverviewText is a squad's overview for the terminal.
func OverviewText(o *plan.Overview, screen text.Screen) []string {
	t := tableOf(o, screen.Units)
	var lines []string
	for _, l := range text.Wrap(t.Title, screen.Width, 0) {
		lines = append(lines, screen.Heading(l))
	}
	lines = append(lines, text.Wrap(t.About, screen.Width, 0)...)
	lines = append(lines, "")
	// The finish is the target; the other marks stay as far as there is room.
	var marks []int
	wide := len("target") + len("10:00/km") + len("half way") + 6
	name := len("athlete")
	for _, r := range t.Rows {
		name = max(name, min(20, utf8.RuneCountInString(r.Name)))
	}
	for i, m := range o.Marks[:len(t.Marks)] {
		w := 2 + max(utf8.RuneCountInString(t.Marks[i]), len("3:30:00"))
		if m.At < o.Official && name+wide+w <= screen.Width {
			marks = append(marks, i)
			wide += w
		}
	}
	table := text.Table{Columns: []text.Column{{Head: "athlete", Flex: true}, {Head: "target", Right: true}, {Head: "flat", Right: true}, {Head: "half way", Right: true}}}
	for _, i := range marks {
		table.Columns = append(table.Columns, text.Column{Head: t.Marks[i], Right: true})
	}
	var codes []string
	who := map[string][]string{}
	for i, r := range t.Rows {
		row := []string{r.Name, r.Target, r.FlatPace, r.Half}
		for _, k := range marks {
			row = append(row, r.Elapsed[k])
		}
		table.Rows = append(table.Rows, row)
		for _, c := range o.Rows[i].Warnings {
			if len(who[c]) == 0 {
				codes = append(codes, c)
			}
			who[c] = append(who[c], r.Name)
		}
	}
	lines = append(lines, table.Lines(screen.Width)...)
	if len(codes) > 0 {
		lines = append(lines, "", screen.Heading("Look again"))
	}
	for _, c := range codes {
		names := who[c]
		if len(names) == len(t.Rows) && len(names) > 1 {
			names = []string{"everybody"}
		} else if len(names) > 8 {
			names = append(slices.Clone(names[:8]), fmt.Sprintf("%d more", len(names)-8))
		}
		lines = append(lines, text.Wrap(strings.ReplaceAll(c, "-", " ")+": "+strings.Join(names, ", "), screen.Width, 2)...)
	}
	for _, r := range t.Refused {
		lines = append(lines, text.Wrap("No plan for "+r+".", screen.Width, 2)...)
	}
	lines = append(lines, "")
	return append(lines, text.Wrap(text.EffortCaution, screen.Width, 0)...)
}
