// Package page makes what people look at: one page that holds a measured
// drawing of a race, as a file that needs nothing from elsewhere or as a part
// of the local web page.
package page

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"html/template"
	"slices"

	"tautline/geo/heights"
	"tautline/report/drawing"
	"tautline/report/text"
	"tautline/strategy/quantity"
)

//go:embed page.css
var pageStyle string

//go:embed page.js
var script string

//go:embed page.tmpl
var body string

var tmpl = template.Must(template.New("page").Funcs(template.FuncMap{"bound": text.Bound}).Parse(body))

// Style and Script are the style sheet and the script of a sheet, for a page
// that links them instead of holding them.
func Style() string  { return drawing.Style + pageStyle }
func Script() string { return script }

// Options say how a sheet is drawn.
type Options struct {
	Units  quantity.Units
	Ground *heights.Profile // nil when heights are not known
	Date   string           // of the drawing, for the title block; may be ""
	Source string           // what it was drawn from, for the title block; may be ""
}

// Sheet is a measured drawing of a race, ready to be written.
type Sheet struct {
	Kind     string // "Shortest legal line", "Review", "Plan"
	Class    string // of the whole, for the style sheet; may be ""
	Title    string
	Block    []Cell   // title block
	Figures  []Figure // the figures that answer the question
	Verdict  []string // the same in sentences
	Worst    []Worst
	WorstSay string // what the list of worst turns is
	WorstWhy string
	Strips   drawing.Strips
	HasPath  bool
	Signs    []Sign // of the strip map, besides those of every map
	Overview template.HTML
	Small    template.HTML // the overview for a phone
	Charts   []Chart
	Plates   []Plate
	Tables   []Table
	Lists    []List
	Sign     []string // what is written and signed by hand; nil for no room to
	Cautions []string
	Data     template.JS // JSON for the script
	Defs     template.HTML
	Length   float64
	Caption  string // of the strip map
}

// Cell is a field of the title block.
type Cell struct{ Name, Value string }

// Figure is a figure with its name and a note, such as its interval.
type Figure struct{ Value, Name, Note string }

// Worst is one of the turns to look at first.
type Worst struct {
	Rank, Number int
	At           float64 // m
	Figure       string  // "+6.1 m"
	Where        string  // "8.35 km, left 180°"
	Note         string
}

// Sign explains a sign of the strip map.
type Sign struct {
	SVG  template.HTML
	Text string
}

// List is a list of sentences under a heading.
type List struct {
	Title string
	Items []string
}

// Chart is a drawing in the three widths that it is shown at.
type Chart struct {
	ID, Title, About     string
	Narrow, Middle, Wide template.HTML
}

// Plate is the plan of a turn.
type Plate struct {
	Title, About string
	SVG          template.HTML
}

// Table is a table behind a drawing.
type Table struct {
	ID, Title, About string
	Head             []string
	Rows             []Row
	Open             bool
	Words            []int // columns that hold words, from 0: they stand left and may wrap
	Form             bool  // to be filled in by hand: its own sheets of paper, with lines
	Blocks           bool  // too wide for a phone: every row is a block there, with the heads beside its cells
}

// Wordy tells whether a column holds words.
func (t Table) Wordy(column int) bool { return slices.Contains(t.Words, column) }

// Row is a row of a table. ID makes it the target of links, At says which
// place it is about when HasAt is set.
type Row struct {
	ID    string
	At    float64
	HasAt bool
	Rank  int
	// Section makes it the heading of the rows below; it has one cell to read.
	Section bool
	Cells   []string
}

// Body is the sheet as a part of a page that has Style and Script.
func (s *Sheet) Body() (template.HTML, error) {
	var b bytes.Buffer
	filled := *s
	filled.Tables = nil
	for _, t := range s.Tables {
		if len(t.Rows) > 0 {
			filled.Tables = append(filled.Tables, t)
		}
	}
	s = &filled
	if err := tmpl.Execute(&b, s); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil
}

// HTML is the sheet as a file of its own. It holds all it needs, and a content
// policy that lets nothing else in: only the style sheet and the script with
// these hashes run.
func (s *Sheet) HTML() ([]byte, error) {
	content, err := s.Body()
	if err != nil {
		return nil, err
	}
	title := s.Kind
	if s.Title != "" {
		title += ": " + s.Title
	}
	var b bytes.Buffer
	b.WriteString("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n")
	b.WriteString(`<meta http-equiv="Content-Security-Policy" content="default-src 'none'; script-src '` + hash(script) + `'; style-src '` + hash(Style()) + `'; base-uri 'none'; form-action 'none'">` + "\n")
	b.WriteString("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<meta name=\"color-scheme\" content=\"light dark\">\n<meta name=\"referrer\" content=\"no-referrer\">\n")
	b.WriteString("<title>" + template.HTMLEscapeString(text.Clean(title)) + "</title>\n<style>" + Style() + "</style>\n</head>\n<body>\n")
	b.WriteString(string(content))
	b.WriteString("<script>" + script + "</script>\n</body>\n</html>\n")
	return b.Bytes(), nil
}

func hash(s string) string {
	sum := sha256.Sum256([]byte(s))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}
