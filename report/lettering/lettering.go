// Package lettering fits words into drawings: it reckons how wide a text will
// stand on the sheet, cuts or wraps it to the room there is, and makes it fit
// for SVG. Nobody knows which face a reader's machine will choose, so that
// widths err on the wide side of plain sans faces: what fits here fits there.
package lettering

import (
	"bytes"
	"encoding/xml"
	"strings"
	"unicode"

	"tautline/report/text"
)

// boldWider is how much wider a bold text stands.
const boldWider = 1.03

// Width is the width of a text, in the unit that the size of its letters is
// given in.
func Width(t string, size float64, bold bool) float64 {
	var em float64
	for _, r := range t {
		switch {
		case strings.ContainsRune("iljI.,:;'|!·", r):
			em += 0.30
		case strings.ContainsRune("mwMW", r):
			em += 0.92
		case strings.ContainsRune(" /-ftr()", r):
			em += 0.36
		case unicode.IsUpper(r):
			em += 0.74
		case r > 0x2e7f: // letters as wide as they are high
			em += 1.05
		default:
			em += 0.57
		}
	}
	if bold {
		em *= boldWider
	}
	return em * size
}

// Fit cuts a text that is wider than the room, and marks the cut by an
// ellipsis.
func Fit(t string, size float64, bold bool, room float64) string {
	if Width(t, size, bold) <= room {
		return t
	}
	r := []rune(t)
	for len(r) > 0 && Width(string(r)+"…", size, bold) > room {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ") + "…"
}

// Wrap breaks a text into lines no wider than the room. A word that is wider
// is cut.
func Wrap(t string, size, room float64) []string {
	var lines []string
	var line string
	for _, word := range strings.Fields(t) {
		longer := strings.TrimSpace(line + " " + word)
		if line != "" && Width(longer, size, false) > room {
			lines = append(lines, line)
			longer = word
		}
		line = Fit(longer, size, false, room)
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// Escape makes a text fit for content and attributes of SVG and HTML, whatever
// it holds: control characters are left out. It keeps its length; a name from
// a file is to be cut first, by text.Clean.
func Escape(t string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(text.Line(t))); err != nil {
		return "" // a buffer takes everything
	}
	return b.String()
}
