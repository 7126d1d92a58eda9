package season

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// property is a content line as RFC 5545, 3.1 has it.
type property struct{ name, params, value string }

type tester interface {
	Helper()
	Fatalf(string, ...any)
	Errorf(string, ...any)
}

var (
	nameForm  = regexp.MustCompile(`^[A-Z0-9-]+$`)
	dateForm  = regexp.MustCompile(`^\d{8}$`)
	stampForm = regexp.MustCompile(`^\d{8}T\d{6}Z$`)
)

// unfold reads content lines back by the RFC alone: lines end in CRLF, have at
// most 75 octets, and a line that begins with a space goes on with the one
// before.
func unfold(t tester, data []byte) []property {
	t.Helper()
	if !bytes.HasSuffix(data, []byte("\r\n")) {
		t.Fatalf("the last line does not end in CRLF")
	}
	var joined []string
	for _, l := range strings.Split(strings.TrimSuffix(string(data), "\r\n"), "\r\n") {
		if strings.ContainsAny(l, "\r\n") {
			t.Fatalf("a bare CR or LF in %q", l)
		}
		if len(l) > 75 {
			t.Errorf("a line of %d octets: %q", len(l), l)
		}
		if !utf8.ValidString(l) {
			t.Errorf("a character is torn: %q", l)
		}
		if strings.HasPrefix(l, " ") {
			if len(joined) == 0 {
				t.Fatalf("the first line is folded")
			}
			joined[len(joined)-1] += l[1:]
			continue
		}
		joined = append(joined, l)
	}
	var out []property
	for _, l := range joined {
		head, value, ok := strings.Cut(l, ":")
		if !ok {
			t.Fatalf("no colon in %q", l)
		}
		name, params, _ := strings.Cut(head, ";")
		if !nameForm.MatchString(name) {
			t.Errorf("property name %q", name)
		}
		for _, r := range value {
			if r < 0x20 && r != '\t' || r == 0x7F {
				t.Errorf("a control character in %q", l)
			}
		}
		out = append(out, property{name, params, value})
	}
	return out
}

// unescape reads a TEXT value (RFC 5545, 3.3.11).
func unescape(t tester, s string) string {
	t.Helper()
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		switch c := s[i]; c {
		case ',', ';':
			t.Errorf("a bare %q in a text: %q", c, s)
		case '\\':
			i++
			if i == len(s) {
				t.Fatalf("a text ends in a backslash: %q", s)
			}
			switch s[i] {
			case 'n', 'N':
				b.WriteByte('\n')
			case '\\', ',', ';':
				b.WriteByte(s[i])
			default:
				t.Errorf("an unknown escape in %q", s)
			}
		default:
			b.WriteByte(c)
		}
	}
	return b.String()
}

type icsEvent map[string]string

// checkICalendar parses a calendar and holds it to the RFC; it gives the
// events with their texts unescaped.
func checkICalendar(t tester, data []byte) []icsEvent {
	t.Helper()
	props := unfold(t, data)
	if len(props) < 5 || props[0] != (property{"BEGIN", "", "VCALENDAR"}) || props[len(props)-1] != (property{"END", "", "VCALENDAR"}) {
		t.Fatalf("the calendar is not enclosed")
	}
	var events []icsEvent
	var now icsEvent
	head := map[string]int{}
	for _, p := range props[1 : len(props)-1] {
		switch {
		case p.name == "BEGIN" && p.value == "VEVENT" && now == nil:
			now = icsEvent{}
		case p.name == "END" && p.value == "VEVENT" && now != nil:
			events, now = append(events, now), nil
		case p.name == "BEGIN" || p.name == "END":
			t.Fatalf("%s %s out of place", p.name, p.value)
		case now == nil:
			head[p.name]++
		default:
			if _, twice := now[p.name]; twice {
				t.Errorf("%s is there twice", p.name)
			}
			switch p.name {
			case "DTSTART", "DTEND":
				if p.params != "VALUE=DATE" || !dateForm.MatchString(p.value) {
					t.Errorf("%s;%s:%s is no date", p.name, p.params, p.value)
				}
				if _, err := time.Parse("20060102", p.value); err != nil {
					t.Errorf("%v", err)
				}
				now[p.name] = p.value
			case "DTSTAMP":
				if p.params != "" || !stampForm.MatchString(p.value) {
					t.Errorf("DTSTAMP %s is not in UTC", p.value)
				}
				now[p.name] = p.value
			default:
				now[p.name] = unescape(t, p.value)
			}
		}
	}
	if now != nil {
		t.Fatalf("an event is not closed")
	}
	// 3.6: VERSION and PRODID are required, once.
	if head["VERSION"] != 1 || head["PRODID"] != 1 || len(events) == 0 {
		t.Errorf("head %v, %d events", head, len(events))
	}
	seen := map[string]bool{}
	for _, e := range events {
		// 3.6.1: UID and DTSTAMP are required; DTSTART without METHOD too.
		if e["UID"] == "" || e["DTSTAMP"] == "" || e["DTSTART"] == "" || e["SUMMARY"] == "" {
			t.Errorf("an event lacks what it needs: %v", e)
		}
		if seen[e["UID"]] {
			t.Errorf("the identifier %s is there twice", e["UID"])
		}
		seen[e["UID"]] = true
		// 3.6.1: DTEND is not inclusive and must be later.
		if e["DTEND"] <= e["DTSTART"] {
			t.Errorf("an event from %s to %s", e["DTSTART"], e["DTEND"])
		}
	}
	return events
}

func TestTheCalendarAsICalendar(t *testing.T) {
	c, err := Read("c.toml", []byte(file))
	if err != nil {
		t.Fatal(err)
	}
	p := choose(t, *c)
	stamp := time.Date(2027, 6, 1, 12, 0, 0, 0, time.FixedZone("", 2*3600))
	data := p.ICalendar(stamp)
	events := checkICalendar(t, data)
	find := func(summary string) icsEvent {
		for _, e := range events {
			if strings.HasPrefix(e["SUMMARY"], summary) {
				return e
			}
		}
		t.Fatalf("no event %q in %v", summary, events)
		return nil
	}
	goal := find("Velmarrow Marathon, 42.195 km: the goal")
	if goal["DTSTART"] != "20271017" || goal["DTEND"] != "20271018" || goal["DTSTAMP"] != "20270601T100000Z" || goal["TRANSP"] != "TRANSPARENT" {
		t.Errorf("%v", goal)
	}
	half := find("Ottery Half, 21.098 km: all out")
	if !strings.Contains(half["DESCRIPTION"], "\n- start: where to stand, the first kilometre not too fast\n- breakfast") {
		t.Errorf("%q", half["DESCRIPTION"])
	}
	if easy := find("Easy days after Ottery Half"); easy["DTSTART"] != "20270913" || easy["DTEND"] != "20270926" {
		t.Errorf("%v", easy)
	}
	if taper := find("Taper"); taper["DTSTART"] != "20270926" || taper["DTEND"] != "20271017" {
		t.Errorf("%v", taper)
	}
	if !bytes.Equal(data, choose(t, *c).ICalendar(stamp)) {
		t.Error("the same plan and stamp give other bytes")
	}
	later := checkICalendar(t, p.ICalendar(stamp.AddDate(0, 1, 0)))
	for i := range events {
		if events[i]["UID"] != later[i]["UID"] || events[i]["DTSTAMP"] == later[i]["DTSTAMP"] {
			t.Errorf("made again, %s has the identifier %s and the stamp %s", events[i]["UID"], later[i]["UID"], later[i]["DTSTAMP"])
		}
	}
}

// A race run against a rule says in the calendar which, and where the rule comes
// from.
func TestTheCalendarNamesTheRulesBroken(t *testing.T) {
	late := could("late", 1, 10000)
	late.Entered = true
	events := checkICalendar(t, choose(t, Calendar{Goal: goalOf(42195), Races: []Candidate{late}}).ICalendar(goalDay))
	if d := events[0]["DESCRIPTION"]; !strings.Contains(d, "less than 2 weeks (common practice, last_race_weeks).") {
		t.Errorf("%q", d)
	}
}

func TestTwoRacesOfOneNameAndDayHaveTheirOwnIdentifiers(t *testing.T) {
	twin := Candidate{Race: Race{Name: "twin", Date: on(5), Distance: 10000}, Entered: true}
	checkICalendar(t, choose(t, Calendar{Goal: goalOf(42195), Races: []Candidate{twin, twin}}).ICalendar(goalDay))
}

// Whatever a race is called, its name comes back as it was, but for control
// characters.
func TestAnyNameSurvivesTheCalendar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{
			strings.Repeat("ü", 80), strings.Repeat("走", 60), "a,b;c\\d", "line\nbreak", "tab\there", "\r\nBEGIN:VEVENT", "n\\n", strings.Repeat("x", 74), strings.Repeat("x", 75), "\x00\x7f\u0085",
		})).Draw(t, "name")
		p, err := Choose(Calendar{Goal: Race{Name: name, Date: goalDay, Distance: 10000}})
		if err != nil {
			t.Fatal(err)
		}
		events := checkICalendar(t, p.ICalendar(goalDay))
		want := name
		if want == "" {
			want = "the race over 10 km"
		}
		want = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(want)
		want = strings.Map(func(r rune) rune {
			if r != '\n' && (r < 0x20 || r >= 0x7F && r < 0xA0) {
				return -1
			}
			return r
		}, want)
		if got := events[len(events)-1]["SUMMARY"]; got != want+", 10 km: the goal" {
			t.Errorf("%q came back as %q", name, got)
		}
	})
}

// The line lengths at the bound: 75 octets stay whole, 76 are folded.
func TestFoldingAtTheBound(t *testing.T) {
	for n := 60; n < 230; n++ {
		w := &icsWriter{}
		value := strings.Repeat("é", n/2) + strings.Repeat("x", n%2)
		w.line("X", value)
		got := unfold(t, w.out.Bytes())
		if len(got) != 1 || got[0].value != value {
			t.Fatalf("%d octets came back as %v", n, got)
		}
		if whole := !strings.Contains(w.out.String(), "\r\n "); whole != (len(value)+2 <= 75) {
			t.Errorf("%d octets are whole: %v", len(value)+2, whole)
		}
	}
}
