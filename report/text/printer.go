package text

import (
	"bytes"
	"strings"
)

// Printer collects the lines of a report that fits a screen.
type Printer struct {
	b bytes.Buffer
	s Screen
}

// NewPrinter begins a report.
func NewPrinter(s Screen) *Printer { return &Printer{s: s} }

// Bytes is the report as it is so far.
func (p *Printer) Bytes() []byte { return p.b.Bytes() }

// Blank prints an empty line.
func (p *Printer) Blank() { p.b.WriteByte('\n') }

// Line prints a line that fits.
func (p *Printer) Line(l string) { p.b.WriteString(strings.TrimRight(l, " ") + "\n") }

// Title prints the name of the report.
func (p *Printer) Title(t string) {
	for _, l := range Wrap(t, p.s.Width, 2) {
		p.Line(p.s.Heading(l))
	}
}

// Heading prints the heading of a section, set off from what is above it.
func (p *Printer) Heading(h string) {
	p.Blank()
	for _, l := range Wrap(h, p.s.Width, 0) {
		p.Line(p.s.Heading(l))
	}
}

// Para prints a paragraph, indented throughout.
func (p *Printer) Para(t string, indent int) {
	for _, l := range Wrap(t, p.s.Width-indent, 0) {
		p.Line(strings.Repeat(" ", indent) + l)
	}
}

// Points prints a list of sentences, each with a dash.
func (p *Printer) Points(list []string) {
	for _, t := range list {
		for i, l := range Wrap(Line(t), p.s.Width-2, 0) {
			mark := "- "
			if i > 0 {
				mark = "  "
			}
			p.Line(mark + l)
		}
	}
}

// Table prints a table.
func (p *Printer) Table(t Table) {
	for _, l := range t.Lines(p.s.Width) {
		p.Line(l)
	}
}
