package sheet

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"tautline/strategy/quantity"
)

// Bytes writes the sheet as a TOML file, keys in the order of the package
// comment, only those that say something. Read gives the same sheet back, to
// the last bit of every number.
func (s *Sheet) Bytes() []byte {
	w := &writer{}
	w.race(s)
	w.table("[start]", func() {
		w.far("at", s.Start.At)
		if s.Start.Gun != nil {
			w.text("gun", timeOfDay(*s.Start.Gun))
		}
	})
	w.table("[finish]", func() { w.far("at", s.Finish.At) })
	w.table("[road]", func() { w.road(s.Road) })
	for _, p := range s.Stretches {
		w.item("[[stretch]]", func() { w.stretch(p) })
	}
	for _, g := range s.Gates {
		w.item("[[gate]]", func() { w.gate(g) })
	}
	for _, t := range s.Turnarounds {
		w.item("[[turnaround]]", func() { w.turnaround(t) })
	}
	for _, a := range s.Aid {
		w.item("[[aid]]", func() {
			w.far("at", &a.At)
			w.text("name", a.Name)
			if a.Stop != 0 {
				w.line("stop", number(a.Stop.Seconds()))
			}
		})
	}
	for _, m := range s.Marks {
		w.item("[[mark]]", func() {
			w.far("at", &m.At)
			w.text("name", m.Name)
			w.yes("mat", m.Mat)
		})
	}
	w.table("[weather]", func() { w.weather(s.Weather) })
	return w.b.Bytes()
}

// race writes the keys at the top of the file.
func (w *writer) race(s *Sheet) {
	w.text("name", s.Name)
	if !s.Date.IsZero() {
		w.line("date", s.Date.Format(time.DateOnly))
	}
	if s.Official != 0 {
		w.far("official", &s.Official)
	}
	w.yes("certified", s.Certified)
	w.text("course_is", string(s.CourseIs))
	w.whole("laps", s.Laps)
	w.text("kerbs", s.Kerbs)
}

func (w *writer) road(r Road) {
	w.near("width", r.Width)
	w.near("corner_radius", r.CornerRadius)
	w.text("use", string(r.Use))
	var kinds []string
	for _, k := range []struct {
		key string
		v   *float64
	}{{"kerb", r.Clearance.Kerb}, {"cone", r.Clearance.Cone}, {"line", r.Clearance.Line}} {
		if k.v != nil {
			kinds = append(kinds, k.key+" = "+strconv.Quote(near(*k.v)))
		}
	}
	if len(kinds) > 0 {
		w.line("clearance", "{ "+strings.Join(kinds, ", ")+" }")
	}
}

func (w *writer) stretch(p Stretch) {
	w.text("name", p.Name)
	w.far("from", &p.From)
	w.far("to", &p.To)
	w.whole("lap", p.Lap)
	w.near("width", p.Width)
	w.near("corner_radius", p.CornerRadius)
	w.text("use", string(p.Use))
	w.across("left_kerb", p.LeftKerb)
	w.across("right_kerb", p.RightKerb)
	w.across("lane_left", p.LaneLeft)
	w.across("lane_right", p.LaneRight)
	w.text("left_edge", string(p.LeftEdge))
	w.text("right_edge", string(p.RightEdge))
}

func (w *writer) gate(g Gate) {
	w.text("name", g.Name)
	w.far("at", &g.At)
	w.whole("lap", g.Lap)
	w.line("between", fmt.Sprintf("[%q, %q]", acrossText(g.Between[0]), acrossText(g.Between[1])))
	w.text("edge", string(g.Edge))
}

func (w *writer) turnaround(t Turnaround) {
	w.text("name", t.Name)
	w.far("at", &t.At)
	w.whole("lap", t.Lap)
	w.text("kind", string(t.Kind))
	if t.Radius != 0 {
		w.near("radius", &t.Radius)
	}
	w.near("clearance", t.Clearance)
	if t.Clockwise {
		w.text("turn", "right")
	}
}

func (w *writer) weather(x Weather) {
	w.number("temperature", x.Temperature)
	w.number("wbgt", x.WBGT)
	w.number("wind", x.Wind)
	if x.WindFrom != nil {
		w.line("wind_from", compass(*x.WindFrom))
	}
	w.number("altitude", x.Altitude)
}

// writer collects lines; a table without lines is left out.
type writer struct{ b bytes.Buffer }

func (w *writer) line(key, value string) { fmt.Fprintf(&w.b, "%s = %s\n", key, value) }

func (w *writer) text(key, v string) {
	if v != "" {
		w.line(key, quoted(v))
	}
}

func (w *writer) yes(key string, v bool) {
	if v {
		w.line(key, "true")
	}
}

func (w *writer) whole(key string, v int) {
	if v != 0 {
		w.line(key, strconv.Itoa(v))
	}
}

func (w *writer) number(key string, v *float64) {
	if v != nil {
		w.line(key, number(*v))
	}
}

func (w *writer) far(key string, v *float64) {
	if v != nil {
		w.line(key, strconv.Quote(far(*v)))
	}
}

func (w *writer) near(key string, v *float64) {
	if v != nil {
		w.line(key, strconv.Quote(near(*v)))
	}
}

func (w *writer) across(key string, v *float64) {
	if v != nil {
		w.line(key, strconv.Quote(acrossText(*v)))
	}
}

func (w *writer) table(head string, body func()) {
	before := w.b.Len()
	w.head(head)
	after := w.b.Len()
	if body(); w.b.Len() == after {
		w.b.Truncate(before)
	}
}

func (w *writer) item(head string, body func()) {
	w.head(head)
	body()
}

func (w *writer) head(head string) {
	if w.b.Len() > 0 {
		w.b.WriteByte('\n')
	}
	w.b.WriteString(head + "\n")
}

// quoted is a TOML basic string (TOML 1.0, section "String").
func quoted(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range strings.ToValidUTF8(s, "\uFFFD") {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < 0x20 || r == 0x7F:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// far writes a distance of the size of a course, in the first form that reads
// back to the same number: kilometres, miles, else metres.
func far(m float64) string {
	if m >= quantity.Kilometre {
		for _, f := range []struct {
			unit   float64
			places int
			name   string
		}{{quantity.Kilometre, 3, "km"}, {quantity.Mile, 4, "mi"}} {
			text := trimmed(m/f.unit, f.places) + " " + f.name
			if back, err := quantity.ParseDistance(text, quantity.NoUnit); err == nil && back == m {
				return text
			}
		}
	}
	return near(m)
}

// near writes a short distance in metres or, where that is shorter, feet.
func near(m float64) string {
	text := number(m) + " m"
	if feet := trimmed(m/quantity.Foot, 2) + " ft"; len(feet) < len(text) {
		if back, err := quantity.ParseDistance(feet, quantity.NoUnit); err == nil && back == m {
			return feet
		}
	}
	return text
}

func trimmed(v float64, places int) string {
	s := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

func acrossText(left float64) string {
	switch {
	case left > 0:
		return near(left) + " left"
	case left < 0:
		return near(-left) + " right"
	}
	return "middle"
}

func timeOfDay(d time.Duration) string {
	t := time.Date(0, 1, 1, 0, 0, 0, 0, time.UTC).Add(d)
	if t.Second() == 0 && t.Nanosecond() == 0 {
		return t.Format("15:04")
	}
	return t.Format("15:04:05.999999999")
}

// compass writes a direction in degrees, with as many decimals as it takes to
// read the same angle back.
func compass(radians float64) string {
	degrees := radians * 180 / math.Pi
	for places := range 15 {
		text := trimmed(degrees, places)
		if v, err := strconv.ParseFloat(text, 64); err == nil && math.Mod(v, 360)*math.Pi/180 == radians {
			return text
		}
	}
	return number(degrees)
}
