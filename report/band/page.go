package band

import (
	"tautline/report/printed"
	"tautline/report/text"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

// page holds an overview, if there is one, and sheets in real millimetres, which
// want no frame but their own.
var page = printed.Page("band", `@page { size: {{.Paper}} portrait; margin: 0 }
html { background: #e8e8e6; color: #000; font: 11pt/1.4 Helvetica, Arial, "Liberation Sans", sans-serif }
body { margin: 0 }
svg, .overview { display: block; margin: 6mm auto; background: #fff }
.overview { box-sizing: border-box; width: {{.Width}}mm; min-height: {{.Height}}mm; padding: 16mm 14mm; position: relative }
.overview::before { content: ""; position: absolute; inset: 8mm; border: 0.18mm solid #000; pointer-events: none }
h1 { font-size: 13pt; margin: 0 0 1mm; font-weight: 700 }
p { margin: 0 0 4mm; font-size: 9pt }
table { border-collapse: collapse; width: 100%; font-size: 9.5pt; font-variant-numeric: tabular-nums }
th { font-size: 6.5pt; font-weight: 400; letter-spacing: 0.05em; text-align: right; vertical-align: bottom; padding: 1mm 1.2mm; border-bottom: 0.35mm solid #000 }
td { text-align: right; padding: 0.9mm 1.2mm; border-bottom: 0.12mm solid #000; white-space: nowrap }
th:first-child, td:first-child { text-align: left; white-space: normal }
td.target { font-weight: 700 }
thead { display: table-header-group }
tr { break-inside: avoid }
@media print {
  html { background: #fff }
  svg, .overview { margin: 0; break-after: page }
  svg:last-of-type { break-after: auto }
}
`, `{{with .Overview}}<section class="overview">
<h1>{{.Title}}</h1>
<p>{{.About}}</p>
<table>
<thead><tr><th>athlete</th><th>target</th><th>flat pace</th><th>half way</th>{{range .Marks}}<th>{{.}}</th>{{end}}<th>look again</th></tr></thead>
<tbody>
{{range .Rows}}<tr><td>{{.Name}}</td><td class="target">{{.Target}}</td><td>{{.FlatPace}}</td><td>{{.Half}}</td>{{range .Elapsed}}<td>{{.}}</td>{{end}}<td>{{.Warnings}}</td></tr>
{{end}}</tbody>
</table>
{{if .Refused}}<p style="margin-top:5mm">Without a plan:{{range .Refused}}<br>{{.}}{{end}}</p>
{{end}}<p style="margin-top:5mm">{{$.Caution}}</p>
</section>
{{end}}{{range .Sheets}}{{.}}
{{end}}`)

// overviewTable is a squad's overview as text.
type overviewTable struct {
	Title, About string
	Marks        []string
	Rows         []overviewRow
	Refused      []string
}

type overviewRow struct {
	Name, Target, FlatPace, Half, Warnings string
	Elapsed                                []string
}

func tableOf(o *plan.Overview, units quantity.Units) *overviewTable {
	t := &overviewTable{Title: "Squad plan", About: quantity.Distance(o.Official, units) + ", chip times with stops inside, quickest target first."}
	if name := text.Clean(o.Course); name != "" {
		t.Title += " · " + name
	}
	shown := len(o.Marks)
	for shown > 1 && o.Marks[shown-1].At >= o.Official {
		shown-- // the finish is the target
	}
	for _, m := range o.Marks[:shown] {
		t.Marks = append(t.Marks, text.Clean(m.Name))
	}
	for _, r := range o.Rows {
		x := overviewRow{Name: text.Clean(r.Name), Target: quantity.Clock(r.Target), FlatPace: quantity.Pace(r.FlatPace, units), Half: quantity.Clock(r.Half)}
		for _, e := range r.Elapsed[:min(shown, len(r.Elapsed))] {
			x.Elapsed = append(x.Elapsed, quantity.Clock(e))
		}
		if n := len(r.Warnings); n > 0 {
			x.Warnings = "see plan"
		}
		t.Rows = append(t.Rows, x)
	}
	for _, r := range o.Refused {
		t.Refused = append(t.Refused, text.Clean(r.Name)+": "+text.Line(r.Err.Error()))
	}
	return t
}
