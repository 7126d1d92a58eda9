package band

import (
	"bytes"
	"strconv"
	"strings"

	"tautline/report/lettering"
)

const pt = 25.4 / 72 // mm in a typographer's point

// pen writes drawing elements of SVG in millimetres.
type pen struct{ b bytes.Buffer }

// mm prints a length to a hundredth of a millimetre.
func mm(v float64) string {
	s := strconv.FormatFloat(v, 'f', 2, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

func (p *pen) raw(parts ...string) {
	for _, s := range parts {
		p.b.WriteString(s)
	}
	p.b.WriteByte('\n')
}

// Weights of line, mm.
const (
	hair  = 0.12
	thin  = 0.18
	solid = 0.35
)

func (p *pen) line(x1, y1, x2, y2, width float64, dash string) {
	if dash != "" {
		dash = `" stroke-dasharray="` + dash
	}
	p.raw(`<path d="M`, mm(x1), " ", mm(y1), "L", mm(x2), " ", mm(y2), `" stroke-width="`, mm(width), dash, `"/>`)
}

func (p *pen) box(x, y, w, h, width float64) {
	p.raw(`<path d="M`, mm(x), " ", mm(y), "h", mm(w), "v", mm(h), "h", mm(-w), `z" stroke-width="`, mm(width), `"/>`)
}

// strokes draws many separate lines of one weight as one path.
func (p *pen) strokes(ends [][4]float64, width float64) {
	if len(ends) == 0 {
		return
	}
	var d strings.Builder
	for _, e := range ends {
		d.WriteString("M" + mm(e[0]) + " " + mm(e[1]) + "L" + mm(e[2]) + " " + mm(e[3]))
	}
	p.raw(`<path d="`, d.String(), `" stroke-width="`, mm(width), `"/>`)
}

// style of a text.
type style struct {
	size   float64 // mm
	bold   bool
	end    bool    // stands to the right of its point
	middle bool    // stands across its point
	spaced bool    // letters apart, for captions
	turn   float64 // degrees clockwise about its point
}

func (p *pen) text(x, y float64, s style, t string) {
	var a strings.Builder
	if s.bold {
		a.WriteString(` font-weight="700"`)
	}
	if s.end {
		a.WriteString(` text-anchor="end"`)
	}
	if s.middle {
		a.WriteString(` text-anchor="middle"`)
	}
	if s.spaced {
		a.WriteString(` letter-spacing="` + mm(0.08*s.size) + `"`)
	}
	if s.turn != 0 {
		a.WriteString(` transform="rotate(` + mm(s.turn) + " " + mm(x) + " " + mm(y) + `)"`)
	}
	p.raw(`<text x="`, mm(x), `" y="`, mm(y), `" font-size="`, mm(s.size), `"`, a.String(), ">", lettering.Escape(t), "</text>")
}
