package season

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"tautline/strategy/quantity"
)

// ICalendar gives the plan as an iCalendar object (RFC 5545): the goal, the
// races that are run, the easy days after each, the taper. Every entry takes
// whole days and blocks none. stamp is when the calendar was made; the same
// stamp and plan give the same bytes, and an entry keeps its identifier when
// the calendar is made again.
func (p *Plan) ICalendar(stamp time.Time) []byte {
	w := &icsWriter{stamp: stamp.UTC().Format("20060102T150405Z"), goal: p.Goal, seen: map[string]int{}}
	w.line("BEGIN", "VCALENDAR")
	w.line("VERSION", "2.0")
	w.line("PRODID", "-//Tautline//Season//EN")
	w.line("CALSCALE", "GREGORIAN")
	for _, e := range p.Entries {
		if e.Effort == Leave {
			continue
		}
		about := []string{capital(e.Purpose) + ".", "Rehearse:"}
		for _, r := range e.Rehearse {
			about = append(about, "- "+r)
		}
		for _, c := range e.Conflicts {
			what := "Against a rule: " + c.What
			if why := p.Why(c); why != "" {
				what += " (" + why + ")"
			}
			about = append(about, what+".")
		}
		w.event("race", p.Called(e.Race), e.Date, e.Date, fmt.Sprintf("%s, %s: %s", p.Called(e.Race), quantity.Distance(e.Distance, p.units), e.Effort), strings.Join(about, "\n"))
		if e.EasyDays > 0 {
			w.event("easy", p.Called(e.Race), e.Date.Add(day), e.Date.Add(time.Duration(e.EasyDays)*day), "Easy days after "+p.Called(e.Race),
				fmt.Sprintf("%d days without hard running (common practice).", e.EasyDays))
		}
	}
	if p.TaperFrom.Before(p.Goal.Date) {
		w.event("taper", "", p.TaperFrom, p.Goal.Date.Add(-day), "Taper", capital(p.TaperText)+".")
	}
	w.event("goal", p.Called(p.Goal), p.Goal.Date, p.Goal.Date, fmt.Sprintf("%s, %s: the goal", p.Called(p.Goal), quantity.Distance(p.Goal.Distance, p.units)), "")
	w.line("END", "VCALENDAR")
	return w.out.Bytes()
}

func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

type icsWriter struct {
	out   bytes.Buffer
	stamp string
	goal  Race
	seen  map[string]int
}

// event writes one entry from the first to the last of its days.
func (w *icsWriter) event(kind, name string, first, last time.Time, summary, about string) {
	id := fmt.Sprintf("%s\x00%s\x00%s\x00%s\x00%s", kind, name, first.Format(time.DateOnly), w.goal.Name, w.goal.Date.Format(time.DateOnly))
	w.seen[id]++
	if n := w.seen[id]; n > 1 {
		id += fmt.Sprintf("\x00%d", n)
	}
	hash := sha256.Sum256([]byte(id))
	w.line("BEGIN", "VEVENT")
	w.line("UID", hex.EncodeToString(hash[:16])+"@tautline")
	w.line("DTSTAMP", w.stamp)
	w.line("DTSTART;VALUE=DATE", first.Format("20060102"))
	w.line("DTEND;VALUE=DATE", last.Add(day).Format("20060102")) // the day after the last
	w.line("SUMMARY", escape(summary))
	if about != "" {
		w.line("DESCRIPTION", escape(about))
	}
	w.line("TRANSP", "TRANSPARENT")
	w.line("END", "VEVENT")
}

// escape makes a text fit for a TEXT value (RFC 5545, 3.3.11): backslash,
// semicolon, comma and line break are escaped, other control characters and
// what is not UTF-8 are left out.
func escape(s string) string {
	var b strings.Builder
	s = strings.ReplaceAll(s, "\r\n", "\n")
	for _, r := range strings.ToValidUTF8(s, "") {
		switch {
		case r == '\\' || r == ';' || r == ',':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n' || r == '\r':
			b.WriteString(`\n`)
		case unicode.IsControl(r):
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// foldAt is the most octets of a line without its end (RFC 5545, 3.1).
const foldAt = 75

// line writes a property, folded: a line break and a space wherever a line
// would have more than 75 octets, never inside a character.
func (w *icsWriter) line(name, value string) {
	room := foldAt
	for _, r := range name + ":" + value {
		n := utf8.RuneLen(r)
		if n > room {
			w.out.WriteString("\r\n ")
			room = foldAt - 1
		}
		w.out.WriteRune(r)
		room -= n
	}
	w.out.WriteString("\r\n")
}
