// Package text prints results for people in a terminal: lines that fit its
// width, columns that line up, plain characters when the output is redirected,
// and nothing in a name from a file that could command the terminal. Sentences,
// names and cells that pages say in the same words are exported.
package text

import (
	"io"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/term"

	"tautline/strategy/quantity"
)

// Limits of the width in characters. Below the least, lines may wrap in the
// terminal; above the most, prose is hard to read.
const (
	LeastWidth = 40
	MostWidth  = 100
	plainWidth = 80 // when nothing says how wide the window is
)

// Screen says how to print.
type Screen struct {
	Width int            // characters in a line, LeastWidth to MostWidth
	Bold  bool           // whether headings may be set in bold by a terminal escape
	Units quantity.Units // people's units: kilometres and metres, or miles and feet
}

// NewScreen looks at where the output goes. COLUMNS in the environment decides
// the width, else the terminal, else 80 characters. Escapes are used only on a
// terminal that understands them, and never when NO_COLOR is set to anything.
func NewScreen(out io.Writer, getenv func(string) string) Screen {
	s := Screen{Width: plainWidth}
	if f, ok := out.(interface{ Fd() uintptr }); ok && term.IsTerminal(int(f.Fd())) {
		s.Bold = getenv("NO_COLOR") == "" && getenv("TERM") != "dumb"
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 0 {
			s.Width = w
		}
	}
	if w, err := strconv.Atoi(getenv("COLUMNS")); err == nil && w > 0 {
		s.Width = w
	}
	s.Width = max(LeastWidth, min(MostWidth, s.Width))
	return s
}

// Heading sets a heading apart: in bold where the screen allows it.
func (s Screen) Heading(h string) string {
	if s.Bold {
		return "\x1b[1m" + h + "\x1b[0m"
	}
	return h
}

// longestName is how many characters of a name from a file are shown.
const longestName = 60

// Clean makes a name from a file fit to print: terminal escapes, control
// characters and characters that turn the direction of writing are taken out,
// any white space becomes one space, and a long name is cut.
func Clean(s string) string {
	words := strings.Join(strings.Fields(Line(s)), " ")
	if runes := []rune(words); len(runes) > longestName {
		return strings.TrimRight(string(runes[:longestName]), " ") + "…"
	}
	return words
}

// Line makes any text fit to print on one line, as Clean does, but keeps its
// length and its spaces.
func Line(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); {
		if skip := escapeLength(s[i:]); skip > 0 {
			i += skip
			continue
		}
		r, size := utf8.DecodeRuneInString(s[i:])
		i += size
		switch {
		case unicode.IsSpace(r):
			b.WriteByte(' ')
		case unicode.IsControl(r), unicode.In(r, unicode.Cf, unicode.Co, unicode.Cs):
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// escapeLength is the length of the terminal escape that s begins with, in
// bytes, 0 when it begins with none (ECMA-48: the seven-bit form after ESC and
// the eight-bit form in U+0080 to U+009F).
func escapeLength(s string) int {
	var kind byte
	var head int
	switch {
	case len(s) >= 2 && s[0] == 0x1B:
		kind, head = s[1], 2
	case len(s) >= 2 && s[0] == 0xC2 && s[1] >= 0x80 && s[1] <= 0x9F:
		kind, head = s[1]-0x40, 2
	default:
		return 0
	}
	switch kind {
	case '[': // control sequence: up to a final byte
		for i := head; i < len(s); i++ {
			if s[i] >= 0x40 && s[i] <= 0x7E {
				return i + 1
			}
			if s[i] < 0x20 || s[i] > 0x7E {
				return i
			}
		}
		return len(s)
	case ']', 'P', 'X', '^', '_': // control string: up to its terminator
		for i := head; i < len(s); i++ {
			switch {
			case s[i] == 0x07:
				return i + 1
			case s[i] == 0x1B && i+1 < len(s) && s[i+1] == '\\':
				return i + 2
			case s[i] == 0xC2 && i+1 < len(s) && s[i+1] == 0x9C:
				return i + 2
			}
		}
		return len(s)
	}
	if s[0] == 0x1B && kind >= 0x80 {
		return 1
	}
	return head
}
