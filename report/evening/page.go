package evening

import (
	"bytes"

	"tautline/report/band"
	"tautline/report/printed"
	"tautline/report/text"
	"tautline/strategy/quantity"
)

// page fits one sheet of A4 or letter.
var page = printed.Page("evening", printed.Style+`@page { size: {{.Paper}} portrait; margin: 12mm }
h2 { font-size: 7pt; font-weight: 400; letter-spacing: 0.08em; text-transform: uppercase; margin: 3.5mm 0 1mm }
.splits { columns: {{.Columns}}; column-gap: 8mm }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; font-size: 9pt }
th { font-size: 6.5pt; font-weight: 400; letter-spacing: 0.05em }
th, td { text-align: right; padding: 0.35mm 1mm; border-bottom: 0.12mm solid #000; white-space: nowrap }
th:first-child, td:first-child { text-align: left; white-space: normal }
td.clock { font-weight: 700 }
tr { break-inside: avoid }
ul { margin: 0; padding-left: 4mm; font-size: 8pt }
@media print { body { max-width: none } }
`, `<h1>{{.Title}}</h1>
{{range .Goal}}<p>{{.}}</p>
{{end}}<h2>Start</h2>
{{range .Place}}<p>{{.}}</p>
{{end}}<h2>Splits, chip time</h2>
<div class="splits"><table>
<tr><th>mark</th><th>clock</th><th>split</th><th>pace{{.Per}}</th></tr>
{{range .Splits}}<tr><td>{{.Mark}}</td><td class="clock">{{.Clock}}</td><td>{{.Split}}</td><td>{{.Pace}}</td></tr>
{{end}}</table></div>
{{if .Turns}}<h2>Turns that matter</h2>
<table>
<tr><th>turn</th><th>at</th><th>to the</th><th>by</th><th>{{.Wide}}</th></tr>
{{range .Turns}}<tr>{{range .}}<td>{{.}}</td>{{end}}</tr>
{{end}}</table>
{{end}}{{if .Warnings}}<h2>Look again</h2>
<ul>{{range .Warnings}}<li>{{.}}</li>{{end}}</ul>
{{end}}<h2>Cautions</h2>
<ul>{{range .Cautions}}<li>{{.}}</li>{{end}}</ul>
`)

// twoColumns is the number of splits from which they stand in two columns, so
// that the page stays one.
const twoColumns = 16

// Page gives the page for printing. paper is a CSS page size, "A4" or "letter".
func Page(s *Sheet, paper string) ([]byte, error) {
	type split struct{ Mark, Clock, Split, Pace string }
	d := struct {
		Title, Paper, Per  string
		Wide               string
		Columns            int
		Goal, Place        []string
		Splits             []split
		Turns              [][5]string
		Warnings, Cautions []string
	}{Title: s.title(), Paper: paper, Wide: s.wideAdds(), Per: " per km", Columns: 1, Goal: s.goal(), Place: s.place(""), Turns: s.turnRows(), Cautions: s.cautions()}
	if s.Units == quantity.Imperial {
		d.Per = " per mile"
	}
	for _, x := range s.Plan.Splits {
		mark := text.Clean(x.Mark)
		if x.Stop > 0 {
			mark += ", stop " + quantity.Clock(x.Stop)
		}
		d.Splits = append(d.Splits, split{mark, quantity.Clock(float64(x.ShownElapsed)), quantity.Clock(float64(x.ShownSplit)), quantity.Clock(x.Pace * s.Units.Per())})
	}
	if len(d.Splits) >= twoColumns {
		d.Columns = 2
	}
	if cost := band.SlowingText(s.Plan); cost != "" {
		d.Goal = append(d.Goal, cost)
	}
	for _, w := range s.Plan.Warnings {
		d.Warnings = append(d.Warnings, w.Text)
	}
	var b bytes.Buffer
	if err := page.Execute(&b, d); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
