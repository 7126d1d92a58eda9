package band

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"math"
	"strconv"
	"strings"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
	"tautline/report/text"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

// safe makes a text from a file fit for a cell: a spreadsheet must not take it
// for a formula, so a leading = + - @ (also in their wide forms) or control
// character is set behind an apostrophe.
func safe(s string) string {
	s = text.Clean(s)
	if t := strings.TrimLeft(s, " \u00a0"); t != "" && strings.ContainsRune("=+-@＝＋－＠\t\r|%", []rune(t)[0]) {
		return "'" + s
	}
	return s
}

func number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	if s := strconv.FormatFloat(v, 'f', decimals, 64); strings.Trim(s, "-0.") != "" {
		return s
	}
	return strconv.FormatFloat(0, 'f', decimals, 64)
}

// CSV is the splits of plans as a table with a line of heads (RFC 4180): times
// in whole seconds that add up to the target, paces in seconds per km, lengths
// in metres. Texts are never read as formulas.
func CSV(plans ...*plan.Plan) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	// Writing into memory cannot fail.
	_ = w.Write([]string{"athlete", "mark", "to_m", "split_s", "elapsed_s", "clock", "gun_s", "stop_s", "climb_m", "descent_m",
		"gradient_percent", "pace_s_per_km", "flat_pace_s_per_km", "watch_pace_s_per_km", "watch_lap_m", "watch_m"})
	for _, p := range plans {
		for _, s := range p.Splits {
			_ = w.Write([]string{safe(p.Athlete), safe(s.Mark), number(s.To, 1), strconv.Itoa(s.ShownSplit), strconv.Itoa(s.ShownElapsed),
				quantity.Clock(float64(s.ShownElapsed)), number(s.Gun, 0), number(s.Stop, 0),
				number(s.Climb.Value, 1), number(s.Descent.Value, 1), number(100*s.Gradient, 2),
				number(1000*s.Pace, 1), number(1000*s.FlatPace, 1), number(1000*s.WatchPace, 1), number(s.WatchLap, 0), number(s.Watch, 0)})
		}
	}
	w.Flush()
	return b.Bytes()
}

// OverviewCSV is a squad's overview as a table, one athlete a line.
func OverviewCSV(o *plan.Overview) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	head := []string{"athlete", "target_s", "target", "flat_pace_s_per_km", "half_s", "gun_s"}
	for _, m := range o.Marks {
		head = append(head, safe(m.Name))
	}
	_ = w.Write(append(head, "warnings"))
	for _, r := range o.Rows {
		line := []string{safe(r.Name), number(r.Target, 0), quantity.Clock(r.Target), number(1000*r.FlatPace, 1), number(r.Half, 0), number(r.Gun, 0)}
		for _, e := range r.Elapsed {
			line = append(line, quantity.Clock(e))
		}
		_ = w.Write(append(line, strings.Join(r.Warnings, " ")))
	}
	w.Flush()
	return b.Bytes()
}

// gpx 1.1, only what waypoints need; the order of elements is the schema's.
type gpxFile struct {
	XMLName  xml.Name    `xml:"http://www.topografix.com/GPX/1/1 gpx"`
	Version  string      `xml:"version,attr"`
	Creator  string      `xml:"creator,attr"`
	Metadata gpxMetadata `xml:"metadata"`
	Points   []gpxPoint  `xml:"wpt"`
}

type gpxMetadata struct {
	Name string `xml:"name,omitempty"`
	Desc string `xml:"desc,omitempty"`
}

type gpxPoint struct {
	Lat  string `xml:"lat,attr"`
	Lon  string `xml:"lon,attr"`
	Name string `xml:"name"`
	Desc string `xml:"desc"`
	Type string `xml:"type"`
}

// GPX is a GPX 1.1 file with a waypoint at each mark, named by mark and target:
// "10 km 47:30". at gives the place of an official distance in metres.
func GPX(p *plan.Plan, at func(official float64) earth.LatLon, u quantity.Units) ([]byte, error) {
	f := gpxFile{Version: "1.1", Creator: "Tautline", Metadata: gpxMetadata{
		Name: strings.TrimSpace(text.Clean(p.Course) + " " + quantity.Clock(p.Target)),
		Desc: strings.TrimSpace("Target splits " + text.Clean(p.Athlete)),
	}}
	for _, s := range p.Splits {
		where := at(s.To)
		if !(math.Abs(where.Lat) <= 90) || math.IsNaN(where.Lon) || math.IsInf(where.Lon, 0) {
			return nil, &inputerr.Error{What: "the mark " + strconv.Quote(text.Clean(s.Mark)) + " has no place on the earth", Advice: "check the course"}
		}
		clock := quantity.Clock(float64(s.ShownElapsed))
		desc := "split " + quantity.Clock(float64(s.ShownSplit)) + ", pace " + quantity.Pace(s.Pace, u)
		if s.Stop > 0 {
			desc += ", stop " + quantity.Clock(s.Stop)
		}
		f.Points = append(f.Points, gpxPoint{
			Lat: strconv.FormatFloat(where.Lat, 'f', 7, 64), Lon: strconv.FormatFloat(math.Remainder(where.Lon, 360), 'f', 7, 64),
			Name: text.Clean(s.Mark) + " " + clock, Desc: desc, Type: "target",
		})
	}
	var b bytes.Buffer
	b.WriteString(xml.Header)
	e := xml.NewEncoder(&b)
	e.Indent("", "  ")
	if err := e.Encode(f); err != nil {
		return nil, err
	}
	b.WriteByte('\n')
	return b.Bytes(), nil
}
