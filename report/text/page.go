package text

import (
	"bytes"
	"strings"
)

// page collects the lines of a report.
type page struct {
	b bytes.Buffer
	s Screen
}

func (p *page) blank() { p.b.WriteByte('\n') }

func (p *page) line(l string) { p.b.WriteString(strings.TrimRight(l, " ") + "\n") }

// title is the name of the report, underlined where bold cannot be used.
func (p *page) title(t string) {
	for _, l := range Wrap(t, p.s.Width, 2) {
		p.line(p.s.Heading(l))
	}
}

func (p *page) heading(h string) {
	p.blank()
	for _, l := range Wrap(h, p.s.Width, 0) {
		p.line(p.s.Heading(l))
	}
}

// para prints a paragraph, indented throughout.
func (p *page) para(t string, indent int) {
	for _, l := range Wrap(t, p.s.Width-indent, 0) {
		p.line(strings.Repeat(" ", indent) + l)
	}
}

// points prints a list of sentences, each with a dash.
func (p *page) points(list []string) {
	for _, t := range list {
		for i, l := range Wrap(Line(t), p.s.Width-2, 0) {
			mark := "- "
			if i > 0 {
				mark = "  "
			}
			p.line(mark + l)
		}
	}
}

func (p *page) table(t Table) {
	for _, l := range t.Lines(p.s.Width) {
		p.line(l)
	}
}
