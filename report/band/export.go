package band

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
	"tautline/report/text"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

// safe makes a text from a file fit for a cell: a spreadsheet must not take it
// for a formula, so a leading = + - @ (also in their wide forms) or control
// character is set behind an apostrophe.
func safe(s string) string {
	s = text.Clean(s)
	if t := strings.TrimLeft(s, " \u00a0"); t != "" && strings.ContainsRune("=+-@＝＋－＠\t\r|%", []rune(t)[0]) {
		return "'" + s
	}
	return s
}

func number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	if s := strconv.FormatFloat(v, 'f', decimals, 64); strings.Trim(s, "-0.") != "" {
		return s
	}
	return strconv.FormatFloat(0, 'f', decimals, 64)
}

// CSV is the splits of plans as a table with a line of heads (RFC 4180): times
// in whole seconds that add up to the target, paces in seconds per km, lengths
// in metres. Texts are never read as formulas.
func CSV(plans ...*plan.Plan) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	// Writing into memory cannot fail.
	_ = w.Write([]string{"athlete", "mark", "to_m", "split_s", "elapsed_s", "clock", "gun_s", "stop_s", "climb_m", "descent_m",
		"gradient_percent", "pace_s_per_km", "flat_pace_s_per_km", "watch_pace_s_per_km", "watch_lap_m", "watch_m"})
	for _, p := range plans {
		for _, s := range p.Splits {
			_ = w.Write([]string{safe(p.Athlete), safe(s.Mark), number(s.To, 1), strconv.Itoa(s.ShownSplit), strconv.Itoa(s.ShownElapsed),
				quantity.Clock(float64(s.ShownElapsed)), number(s.Gun, 0), number(s.Stop, 0),
				number(s.Climb.Value, 1), number(s.Descent.Value, 1), number(100*s.Gradient, 2),
				number(1000*s.Pace, 1), number(1000*s.FlatPace, 1), number(1000*s.WatchPace, 1), number(s.WatchLap, 0), number(s.Watch, 0)})
		}
	}
	w.Flush()
	return b.Bytes()
}

// OverviewCSV is a squad's overview as a table, one athlete a line.
func OverviewCSV(o *plan.Overview) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	head := []string{"athlete", "target_s", "target", "flat_pace_s_per_km", "half_s", "gun_s"}
	for _, m := range o.Marks {
		head = append(head, safe(m.Name))
	}
	_ = w.Write(append(head, "warnings"))
	for _, r := range o.Rows {
		line := []string{safe(r.Name), number(r.Target, 0), quantity.Clock(r.Target), number(1000*r.FlatPace, 1), number(r.Half, 0), number(r.Gun, 0)}
		for _, e := range r.Elapsed {
			line = append(line, quantity.Clock(e))
		}
		_ = w.Write(append(line, strings.Join(r.Warnings, " ")))
	}
	w.Flush()
	return b.Bytes()
}

// gpx 1.1, only what waypoints need; the order of elements is the schema's.
type gpxFile struct {
	XMLName  xml.Name    `xml:"http://www.topografix.com/GPX/1/1 gpx"`
	Version  string      `xml:"version,attr"`
	Creator  string      `xml:"creator,attr"`
	Metadata gpxMetadata `xml:"metadata"`
	Points   []gpxPoint  `xml:"wpt"`
}

type gpxMetadata struct {
	Name string `xml:"name,omitempty"`
	Desc string `xml:"desc,omitempty"`
}

type gpxPoint struct {
	Lat  string `xml:"lat,attr"`
	Lon  string `xml:"lon,attr"`
	Name string `xml:"name"`
	Desc string `xml:"desc"`
	Type string `xml:"type"`
}

// GPX is a GPX 1.1 file with a waypoint at each mark, named by mark and target:
// "10 km 47:30". at gives the place of an official distance in metres.
func GPX(p *plan.Plan, at func(official float64) earth.LatLon, u quantity.Units) ([]byte, error) {
	f := gpxFile{Version: "1.1", Creator: "Tautline", Metadata: gpxMetadata{
		Name: strings.TrimSpace(text.Clean(p.Course) + " " + quantity.Clock(p.Target)),
		Desc: strings.TrimSpace("Target splits " + text.Clean(p.Athlete)),
	}}
	for _, s := range p.Splits {
		where := at(s.To)
		if !(math.Abs(where.Lat) <= 90) || math.IsNaN(where.Lon) || math.IsInf(where.Lon, 0) {
			return nil, &inputerr.Error{What: "the mark " + strconv.Quote(text.Clean(s.Mark)) + " has no place on the earth", Advice: "check the course"}
		}
		clock := quantity.Clock(float64(s.ShownElapsed))
		desc := "split " + quantity.Clock(float64(s.ShownSplit)) + ", pace " + quantity.Pace(s.Pace, u)
		if s.Stop > 0 {
			desc += ", stop " + quantity.Clock(s.Stop)
		}
		f.Points = append(f.Points, gpxPoint{
			Lat: strconv.FormatFloat(where.Lat, 'f', 7, 64), Lon: strconv.FormatFloat(math.Remainder(where.Lon, 360), 'f', 7, 64),
			Name: text.Clean(s.Mark) + " " + clock, Desc: desc, Type: "target",
		})
	}
	var b bytes.Buffer
	b.WriteString(xml.Header)
	e := xml.NewEncoder(&b)
	e.Indent("", "  ")
	if err := e.Encode(f); err != nil {
		return nil, err
	}
	b.WriteByte('\n')
	return b.Bytes(), nil
}

// Text is a plan for the terminal: what was asked for, the splits, what to look
// at again, and the caution.
func Text(p *plan.Plan, screen text.Screen) []string {
	u := quantity.Metric
	if screen.Miles {
		u = quantity.Imperial
	}
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
		{Column: text.Column{Head: "grade", Right: true}, rank: 4}, {Column: text.Column{Head: "pace", Right: true}, rank: 1},
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
	legend := "Paces are per " + strings.TrimPrefix(bareUnit(u), "/") + " of your own path; flat is what the pace is worth on the level"
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
	say(Caution)
	return lines
}

// OverviewText is a squad's overview for the terminal.
func OverviewText(o *plan.Overview, screen text.Screen) []string {
	u := quantity.Metric
	if screen.Miles {
		u = quantity.Imperial
	}
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
	return append(lines, text.Wrap(Caution, screen.Width, 0)...)
}
