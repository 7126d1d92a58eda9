package marks

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"tautline/geo/gpxfile"
	"tautline/geo/track"
)

// Where says in words where a mark lies, for a person with a tape.
func (m Mark) Where() string {
	s := ""
	switch {
	case m.Turn == 0:
		s = "no turn on the course"
	case m.InTurn:
		s = fmt.Sprintf("in turn %d", m.Turn)
	case m.FromTurn < 0:
		s = fmt.Sprintf("%.1f m before turn %d", -m.FromTurn, m.Turn)
	default:
		s = fmt.Sprintf("%.1f m after turn %d", m.FromTurn, m.Turn)
	}
	in := func(d float64) string {
		if d < 0.05 {
			return "at its clearance"
		}
		return fmt.Sprintf("%.1f m farther in than its clearance", d)
	}
	switch m.Side {
	case Left:
		s += ", left edge, " + in(m.ToLeft)
	case Right:
		s += ", right edge, " + in(m.ToRight)
	case Middle:
		s += ", middle of the road"
	case Unknown:
	}
	return s
}

// Waypoints gives the marks as named places for a GPX file. Their heights are
// unknown.
func (l *List) Waypoints() []gpxfile.Waypoint {
	w := make([]gpxfile.Waypoint, 0, len(l.Marks))
	for _, m := range l.Marks {
		w = append(w, gpxfile.Waypoint{
			Fix:  track.Fix{At: m.At, Height: math.NaN()},
			Name: m.Name, Description: fmt.Sprintf("%.1f m along the line; %s", m.Along.Value, m.Where()),
		})
	}
	return w
}

// WriteCSV writes one row per mark, lengths in metres, positions in degrees
// on WGS84 with seven decimals (about 1 cm). What is not known is empty.
func (l *List) WriteCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	rows := [][]string{{"mark", "official_m", "along_m", "along_low_m", "along_high_m", "latitude", "longitude", "turn", "from_turn_m", "from_apex_m", "side", "to_left_m", "to_right_m"}}
	num := func(v float64, decimals int) string {
		if math.IsNaN(v) {
			return ""
		}
		return strconv.FormatFloat(v, 'f', decimals, 64)
	}
	for _, m := range l.Marks {
		turn, from := "", ""
		if m.Turn > 0 {
			turn, from = strconv.Itoa(m.Turn), num(m.FromTurn, 2)
		}
		rows = append(rows, []string{
			m.Name, num(m.Official, 2), num(m.Along.Value, 2), num(m.Along.Low, 2), num(m.Along.High, 2),
			num(m.At.Lat, 7), num(m.At.Lon, 7), turn, from, num(m.Apex, 2), string(m.Side), num(m.ToLeft, 2), num(m.ToRight, 2),
		})
	}
	if err := c.WriteAll(rows); err != nil {
		return fmt.Errorf("write the marks: %w", err)
	}
	return nil
}
