package band

import (
	"bytes"
	"encoding/xml"
	"strconv"
	"strings"
	"unicode"
)

const pt = 25.4 / 72 // mm in a typographer's point

// pen writes drawing elements of SVG in millimetres. Every text passes through
// one escaping function.
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
	p.raw(`<text x="`, mm(x), `" y="`, mm(y), `" font-size="`, mm(s.size), `"`, a.String(), ">", escape(t), "</text>")
}

// escape makes a text fit for the content of SVG and HTML elements.
func escape(s string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		return ""
	}
	return b.String()
}

// width estimates the width of a text in a plain sans face, mm. It errs on the
// wide side, so that what fits here fits on paper.
func width(t string, size float64, bold bool) float64 {
	var em float64
	for _, r := range t {
		switch {
		case strings.ContainsRune("iljI.,:;'|!·", r):
			em += 0.30
		case strings.ContainsRune("mwMW", r):
			em += 0.92
		case r == ' ' || r == '/' || r == '-' || r == 'f' || r == 't' || r == 'r' || r == '(' || r == ')':
			em += 0.36
		case unicode.IsUpper(r):
			em += 0.74
		case r > 0x2e7f:
			em += 1.05
		default:
			em += 0.57
		}
	}
	if bold {
		em *= 1.03
	}
	return em * size
}

// fit cuts a text that is wider than there is room, with an ellipsis.
func fit(t string, size float64, bold bool, room float64) string {
	if width(t, size, bold) <= room {
		return t
	}
	r := []rune(t)
	for len(r) > 0 && width(string(r)+"…", size, bold) > room {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ") + "…"
}

// wrap breaks a text into lines no wider than the room.
func wrap(t string, size, room float64) []string {
	var lines []string
	var line string
	for _, word := range strings.Fields(t) {
		longer := strings.TrimSpace(line + " " + word)
		if line != "" && width(longer, size, false) > room {
			lines = append(lines, line)
			longer = word
		}
		line = fit(longer, size, false, room)
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
