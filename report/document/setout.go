package document

import (
	"bytes"

	"tautline/geo/gpxfile"
	"tautline/geo/interval"
	"tautline/strategy/marks"
	"tautline/strategy/race"
)

// SetOut is what "tautline setout --json" prints.
type SetOut struct {
	Name       string       `json:"name"`
	OfficialM  float64      `json:"official_m"`
	ShortestM  float64      `json:"shortest_m"`
	Proportion float64      `json:"map_over_official"`
	Known      int          `json:"known_places"`
	Marks      []PlacedMark `json:"marks"`
	Warnings   []string     `json:"warnings"`
	Caution    string       `json:"caution"`
}

// PlacedMark is a mark of a mark sheet.
type PlacedMark struct {
	Name      string            `json:"mark"`
	OfficialM float64           `json:"official_m"`
	AlongM    interval.Estimate `json:"along_m"` // along the shortest line on the map
	CourseM   float64           `json:"course_at_m"`
	Lat       float64           `json:"lat"`
	Lon       float64           `json:"lon"`
	Turn      int               `json:"nearest_turn"` // 0 for none
	FromTurnM *float64          `json:"from_turn_m"`  // along the line, negative before the turn
	FromApexM *float64          `json:"from_apex_m"`
	Side      string            `json:"side"`
	ToLeftM   *float64          `json:"to_left_m"`
	ToRightM  *float64          `json:"to_right_m"`
	Where     string            `json:"where"`
}

// NewSetOut tells the marks of a race.
func NewSetOut(r *race.Race, l *marks.List) SetOut {
	d := SetOut{Name: r.Name, OfficialM: millimetres(l.Official), ShortestM: millimetres(l.LineLength), Proportion: l.Proportion, Known: l.Known,
		Marks: []PlacedMark{}, Warnings: append([]string{}, r.Notes...), Caution: marks.Caution}
	for _, m := range l.Marks {
		x := PlacedMark{Name: m.Name, OfficialM: millimetres(m.Official), AlongM: outwards(m.Along, 1e-3), CourseM: millimetres(m.CourseAt),
			Lat: degrees(m.At.Lat), Lon: degrees(m.At.Lon),
			Turn: m.Turn, FromApexM: known(m.Apex), Side: string(m.Side), ToLeftM: known(m.ToLeft), ToRightM: known(m.ToRight), Where: m.Where()}
		if m.Turn > 0 {
			x.FromTurnM = new(millimetres(m.FromTurn))
		}
		d.Marks = append(d.Marks, x)
	}
	return d
}

// MarksGPX is the marks as waypoints of a GPX 1.1 file.
func MarksGPX(r *race.Race, l *marks.List) ([]byte, error) {
	var b bytes.Buffer
	err := gpxfile.Write(&b, &gpxfile.File{Name: r.Name + ": marks", Waypoints: l.Waypoints()})
	return b.Bytes(), err
}

// MarksCSV is the marks as rows of a CSV file.
func MarksCSV(l *marks.List) ([]byte, error) {
	var b bytes.Buffer
	err := l.WriteCSV(&b)
	return b.Bytes(), err
}
