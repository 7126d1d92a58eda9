package document_test

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/track"
	"tautline/report/document"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// corners is a race with a left and a right turn.
func corners(t *testing.T) *race.Race {
	t.Helper()
	p := earth.NewPlane(earth.LatLon{Lat: 47, Lon: -29})
	var fixes []track.Fix
	for _, q := range [][2]float64{{0, 0}, {300, 0}, {300, 400}, {800, 400}} {
		fixes = append(fixes, track.Fix{At: p.From(q), Height: math.NaN()})
	}
	f := &gpxfile.File{Lines: []track.Line{{Name: "Two <Corners>", Segments: [][]track.Fix{fixes}}}}
	s, err := sheet.Read("r.toml", []byte("official = \"1.2 km\"\ncertified = true\n"))
	if err != nil {
		t.Fatal(err)
	}
	r, err := race.Prepare("c.gpx", f, s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestTheJSONHasItsKeys(t *testing.T) {
	r := corners(t)
	b, err := json.Marshal(document.NewLine(r, r.Doubts()))
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		CentrelineM, ShortestM float64
		Raw                    map[string]any
	}
	if err := json.Unmarshal(b, &got.Raw); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"centreline_m", "shortest_m", "surface_m", "official_m", "certified", "turns", "warnings"} {
		if _, ok := got.Raw[key]; !ok {
			t.Errorf("the key %s is missing", key)
		}
	}
	if got.Raw["surface_m"] != nil {
		t.Error("a drawing without heights has a surface length")
	}
	turns := got.Raw["turns"].([]any)
	if len(turns) != 2 {
		t.Fatalf("%d turns", len(turns))
	}
	for i, want := range []struct {
		angle float64
		side  string
	}{{90, "left"}, {-90, "right"}} {
		turn := turns[i].(map[string]any)
		if turn["number"] != float64(i+1) || turn["side"] != want.side || math.Abs(turn["angle_deg"].(float64)-want.angle) > 1 || turn["at_m"].(float64) <= 0 {
			t.Errorf("turn %d is %v", i+1, turn)
		}
	}
}

func TestTheGPXIsTheLine(t *testing.T) {
	r := corners(t)
	b, err := document.LineGPX(r)
	if err != nil {
		t.Fatal(err)
	}
	f, err := gpxfile.Read("out.gpx", bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Lines) != 1 || len(f.Waypoints) != 2 || !strings.HasPrefix(f.Waypoints[1].Name, "turn 2 right") {
		t.Fatalf("%d lines, waypoints %v", len(f.Lines), f.Waypoints)
	}
	c, err := course.New("", f.Lines[0].Fixes())
	if err != nil {
		t.Fatal(err)
	}
	// 7 decimals of a degree are 1 cm; the chords of arcs are part of the line.
	if d := math.Abs(c.Length() - r.Line.Length); d > 0.1 {
		t.Errorf("the track is %.3f m long, the line %.3f m", c.Length(), r.Line.Length)
	}
}

func TestTheGeoJSONHoldsLineCourseAndTurns(t *testing.T) {
	b, err := document.LineGeoJSON(corners(t))
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Features []struct {
			Geometry   struct{ Type string }
			Properties map[string]any
		}
	}
	if err := json.Unmarshal(b, &got); err != nil {
		t.Fatal(err)
	}
	var kinds []string
	for _, f := range got.Features {
		kinds = append(kinds, f.Geometry.Type+" "+f.Properties["what"].(string))
	}
	if want := "LineString shortest legal line, LineString drawn course, Point turn, Point turn"; strings.Join(kinds, ", ") != want {
		t.Errorf("features are %v", kinds)
	}
}
