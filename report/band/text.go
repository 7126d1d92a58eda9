package band

import (
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
	title := strings.TrimSpace(strings.Trim(text.Clean(p.Athlete)+" · "+text.Clean(p.Course), " ·"))
	if title == "" {
		title = "Pace plan"
	}
	for _, l := range text.Wrap(title, screen.Width, 0) {
		lines = append(lines, screen.Heading(l))
	}
	say := func(s string) { lines = append(lines, text.Wrap(s, screen.Width, 0)...) }
	if p.Given {
		say("Goal " + quantity.Clock(p.Target) + " over " + quantity.Distance(p.Official, u) + ": even effort is " + quantity.Pace(p.FlatPace, u) + " on the level.")
	} else {
		say("Even effort at " + quantity.Pace(p.FlatPace, u) + " on the level gives " + quantity.Clock(p.Target) + " over " + quantity.Distance(p.Official, u) + ".")
	}
	own := "Own path " + quantity.Distance(p.Own, u) + ", half way in " + quantity.Clock(p.Half)
	if p.GunDelay > 0 {
		own += ", by the gun " + quantity.Clock(p.Target+p.GunDelay)
	}
	say(own + ".")
	if p.Slowing.Value > 0 {
		say("Heat and altitude are taken to cost " + quantity.Percent(p.Slowing.Value, 1) + " (" + quantity.Percent(p.Slowing.Low, 1) + " to " + quantity.Percent(p.Slowing.High, 1) + ").")
	}
	lines = append(lines, "")

	s := lay(p, Options{Units: u})
	type figures struct {
		text.Column
		cells []string
		rank  int // the highest go first when the window is narrow
	}
	columns := []figures{
		{Column: text.Column{Head: "mark", Flex: true}}, {Column: text.Column{Head: "split", Right: true}}, {Column: text.Column{Head: "clock", Right: true}},
		{Column: text.Column{Head: "gradient", Right: true}, rank: 4}, {Column: text.Column{Head: "pace", Right: true}, rank: 1},
		{Column: text.Column{Head: "flat", Right: true}, rank: 6}, {Column: text.Column{Head: "watch", Right: true}, rank: 2},
		{Column: text.Column{Head: "lap", Right: true}, rank: 7},
		{Column: text.Column{Head: "up/down", Right: true}, rank: 5}, {Column: text.Column{Head: "gun", Right: true}, rank: 3},
	}
	wanted := []bool{true, true, true, s.climbs(), true, true, s.watch, s.watch, s.climbs(), p.GunDelay > 0}
	for i, x := range p.Splits {
		r := s.rows[i]
		mark := text.Clean(x.Mark)
		if x.Stop > 0 {
			mark += ", stop " + quantity.Clock(x.Stop)
		}
		for k, cell := range []string{mark, r.split, r.elapsed, quantity.Percent(x.Gradient, 1), r.pace, bare(quantity.Pace(x.FlatPace, u)), r.watch, r.lap, strings.ReplaceAll(r.hill, "−", "-"), r.gun} {
			columns[k].cells = append(columns[k].cells, cell)
		}
	}
	for k := len(columns) - 1; k >= 0; k-- {
		if !wanted[k] {
			columns = slices.Delete(columns, k, k+1)
		}
	}
	for {
		wide, out := 0, 0
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
		if wide-2 <= screen.Width || columns[out].rank == 0 {
			break
		}
		columns = slices.Delete(columns, out, out+1)
	}
	table := text.Table{Rows: make([][]string, len(p.Splits))}
	for _, c := range columns {
		table.Columns = append(table.Columns, c.Column)
		for i, cell := range c.cells {
			table.Rows[i] = append(table.Rows[i], cell)
		}
	}
	lines = append(lines, table.Lines(screen.Width)...)
	legend := "Paces are per " + text.Unit(u) + " of your own path; flat is what the pace is worth on the level"
	if s.watch {
		legend += ", watch the pace that the watch will show"
		if slices.ContainsFunc(columns, func(f figures) bool { return f.Head == "lap" }) {
			legend += ", lap the distance that it will count for the split"
		}
	}
	lines = append(lines, "")
	say(legend + ".")
	if len(p.Warnings) > 0 {
		lines = append(lines, "", screen.Heading("Look again"))
		for _, w := range p.Warnings {
			lines = append(lines, text.Wrap(w.Text+" Why: "+w.Why+".", screen.Width, 2)...)
		}
	}
	lines = append(lines, "")
	say(text.EffortCaution)
	return lines
}

// OverviewText is a squad's overview for the terminal.
func OverviewText(o *plan.Overview, screen text.Screen) []string {
	u := screen.Units
	t := tableOf(o, u)
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
