package text

import (
	"regexp"
	"strings"
	"unicode/utf8"
)

// withUnit finds a figure with its unit, which should not be torn apart.
var withUnit = regexp.MustCompile(`(\d) (m|km|mi|ft|cm|in|s|°C|%)([^\p{L}]|$)`)

// Wrap breaks a text into lines of at most width characters, each after the
// first set in by indent spaces. A figure stays with its unit; a word longer
// than the line is cut.
func Wrap(s string, width, indent int) []string {
	const bound = "\x00" // in place of the space between figure and unit
	s = bind(strings.ReplaceAll(s, bound, ""), bound)
	lines := wrap(s, width, indent)
	for i := range lines {
		lines[i] = strings.ReplaceAll(lines[i], bound, " ")
	}
	return lines
}

// Bound puts a space that does not break between a figure and its unit, for a
// page that wraps its own lines.
func Bound(s string) string { return bind(s, "\u00a0") }

func bind(s, space string) string {
	return withUnit.ReplaceAllString(s, "${1}"+space+"${2}${3}")
}

func wrap(s string, width, indent int) []string {
	indent = min(indent, width/2)
	var lines []string
	line, n := "", 0
	flush := func() {
		lines = append(lines, strings.TrimRight(line, " "))
		line, n = strings.Repeat(" ", indent), indent
	}
	empty := func() bool { return strings.TrimSpace(line) == "" }
	for word := range strings.FieldsSeq(s) {
		w := utf8.RuneCountInString(word)
		if !empty() && n+1+w > width {
			flush()
		}
		if !empty() {
			line, n = line+" ", n+1
		}
		for w > width-n {
			runes := []rune(word)
			room := width - n
			line += string(runes[:room])
			word, w = string(runes[room:]), w-room
			flush()
		}
		line, n = line+word, n+w
	}
	if !empty() || len(lines) == 0 {
		flush()
	}
	return lines
}

// Column is one column of a Table.
type Column struct {
	Head  string
	Right bool // figures stand to the right
	Flex  bool // a text that may be broken into lines when the window is narrow
}

// Table is a set of rows. Too wide for the window, its flexible column is
// broken into lines; still too wide, every row becomes a block of "head value"
// lines, so that nothing is cut off.
type Table struct {
	Columns []Column
	Rows    [][]string
}

// gap is the number of spaces between two columns.
const gap = 2

// leastFlex is the narrowest a flexible column gets before rows are stacked.
const leastFlex = 16

// Lines lays the table out in at most width characters.
func (t Table) Lines(width int) []string {
	widths := make([]int, len(t.Columns))
	total, flex := -gap, -1
	for i, c := range t.Columns {
		widths[i] = utf8.RuneCountInString(c.Head)
		for _, r := range t.Rows {
			widths[i] = max(widths[i], utf8.RuneCountInString(r[i]))
		}
		total += widths[i] + gap
		if c.Flex {
			flex = i
		}
	}
	if over := total - width; over > 0 {
		if flex < 0 || widths[flex]-over < leastFlex {
			return t.stacked(width)
		}
		widths[flex] -= over
	}
	heads := make([]string, len(t.Columns))
	named := false
	for i, c := range t.Columns {
		heads[i] = c.Head
		named = named || c.Head != ""
	}
	var lines []string
	if named {
		lines = t.row(lines, heads, widths, flex)
	}
	for _, r := range t.Rows {
		lines = t.row(lines, r, widths, flex)
	}
	return lines
}

func (t Table) row(lines []string, cells []string, widths []int, flex int) []string {
	parts := []string{""}
	if flex >= 0 {
		parts = Wrap(cells[flex], widths[flex], 0)
	}
	for k, part := range parts {
		var b strings.Builder
		for i, c := range t.Columns {
			cell := cells[i]
			if i == flex {
				cell = part
			} else if k > 0 {
				cell = ""
			}
			pad := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell))
			if i > 0 {
				b.WriteString(strings.Repeat(" ", gap))
			}
			if c.Right {
				b.WriteString(pad + cell)
			} else {
				b.WriteString(cell + pad)
			}
		}
		lines = append(lines, strings.TrimRight(b.String(), " "))
	}
	return lines
}

func (t Table) stacked(width int) []string {
	head := 0
	for _, c := range t.Columns {
		head = max(head, utf8.RuneCountInString(c.Head))
	}
	head = min(head, width/2-gap)
	var lines []string
	for k, r := range t.Rows {
		if k > 0 {
			lines = append(lines, "")
		}
		for i, c := range t.Columns {
			if r[i] == "" {
				continue
			}
			label := c.Head
			if n := utf8.RuneCountInString(label); n < head {
				label += strings.Repeat(" ", head-n)
			}
			if label == "" {
				lines = append(lines, Wrap(r[i], width, gap)...)
				continue
			}
			// Spaces in the label must survive the wrapping of the value.
			for j, part := range Wrap(r[i], width-max(head, utf8.RuneCountInString(label))-gap, 0) {
				if j > 0 {
					label = strings.Repeat(" ", utf8.RuneCountInString(label))
				}
				lines = append(lines, label+strings.Repeat(" ", gap)+part)
			}
		}
	}
	return lines
}
