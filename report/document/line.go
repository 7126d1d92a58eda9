// Package document holds the forms in which results leave the program for
// other programs: the JSON objects and the files of points and lines. Lengths
// end in _m, times in _s, angles in _deg; an uncertain figure is an
// interval.Estimate. More keys may be added; these keep their names.
package document

import (
	"bytes"
	"fmt"
	"math"

	"tautline/geo/geojson"
	"tautline/geo/gpxfile"
	"tautline/geo/taut"
	"tautline/geo/track"
	"tautline/strategy/race"
)

// Line is what "tautline line --json" prints.
type Line struct {
	Name        string   `json:"name"`
	CentrelineM float64  `json:"centreline_m"` // map length of the drawn course, start to finish
	ShortestM   float64  `json:"shortest_m"`   // map length of the shortest legal line
	SurfaceM    *float64 `json:"surface_m"`    // its length along the road's surface; null without heights
	OfficialM   *float64 `json:"official_m"`   // null when it is not known
	Certified   bool     `json:"certified"`
	Turns       []Turn   `json:"turns"`
	Doubts      []Doubt  `json:"if_the_road_differs"`
	Warnings    []string `json:"warnings"`
}

// Turn is a turn of the shortest legal line.
type Turn struct {
	Number   int     `json:"number"`
	AtM      float64 `json:"at_m"`        // along the shortest line, the middle of the turn
	CourseM  float64 `json:"course_at_m"` // along the drawn course
	AngleDeg float64 `json:"angle_deg"`   // what the course turns there; left is positive
	Side     string  `json:"side"`
	RadiusM  float64 `json:"radius_m"` // of the line, on average
	Lat      float64 `json:"lat"`      // of the line's point nearest the inner edge
	Lon      float64 `json:"lon"`
}

// Doubt is what the shortest line would be on a road that differs.
type Doubt struct {
	WidthM    float64   `json:"wider_by_m"`
	RadiusM   float64   `json:"radius_larger_by_m"`
	ShortestM float64   `json:"shortest_m"`
	TurnsM    []float64 `json:"by_turn_m"` // how the difference falls to the turns, in their order
}

// NewLine tells the shortest line of a race.
func NewLine(r *race.Race, doubts []taut.Variant) Line {
	d := Line{
		Name: r.Name, CentrelineM: millimetres(r.Line.Centreline), ShortestM: millimetres(r.Line.Length), SurfaceM: known(r.Line.SurfaceLength),
		Certified: r.Certified, Turns: []Turn{}, Doubts: []Doubt{}, Warnings: append([]string{}, r.Notes...),
	}
	if r.Official > 0 {
		d.OfficialM = new(r.Official)
	}
	for _, t := range r.Line.Turns {
		p := r.Course.Plane.From(t.Apex)
		d.Turns = append(d.Turns, Turn{
			Number: t.Number, AtM: millimetres(t.At), CourseM: millimetres(t.CourseAt), AngleDeg: tenths(t.Angle / degree), Side: t.Side.String(),
			RadiusM: millimetres(t.Radius), Lat: degrees(p.Lat), Lon: degrees(p.Lon),
		})
	}
	for _, x := range doubts {
		y := Doubt{WidthM: x.Width, RadiusM: x.Radius, ShortestM: millimetres(x.Length), TurnsM: []float64{}}
		for _, v := range x.ByTurn {
			y.TurnsM = append(y.TurnsM, millimetres(v))
		}
		d.Doubts = append(d.Doubts, y)
	}
	return d
}

// turnName is what a turn is called on a map.
func turnName(t taut.Turn) string { return fmt.Sprintf("turn %d %s", t.Number, t.Side) }

// LineGPX is the shortest line as a GPX 1.1 file: one track, and a waypoint at
// the apex of each turn.
func LineGPX(r *race.Race) ([]byte, error) {
	f := &gpxfile.File{Name: r.Name}
	fix := func(p [2]float64) track.Fix { return track.Fix{At: r.Course.Plane.From(p), Height: math.NaN()} }
	var fixes []track.Fix
	for _, p := range r.Line.Points {
		fixes = append(fixes, fix(p))
	}
	f.Lines = []track.Line{{Name: "shortest legal line", Segments: [][]track.Fix{fixes}}}
	for _, t := range r.Line.Turns {
		f.Waypoints = append(f.Waypoints, gpxfile.Waypoint{Fix: fix(t.Apex), Name: turnName(t), Description: fmt.Sprintf("at %.0f m along the shortest legal line, %.0f degrees", t.At, math.Abs(t.Angle)/degree)})
	}
	var b bytes.Buffer
	err := gpxfile.Write(&b, f)
	return b.Bytes(), err
}

// LineGeoJSON is the same as a GeoJSON FeatureCollection: the line, the drawn
// course and a point for each turn.
func LineGeoJSON(r *race.Race) ([]byte, error) {
	line := geojson.Feature{Properties: map[string]any{"what": "shortest legal line", "length_m": millimetres(r.Line.Length)}}
	for _, p := range r.Line.Points {
		line.Points = append(line.Points, r.Course.Plane.From(p))
	}
	drawn := geojson.Feature{Properties: map[string]any{"what": "drawn course", "length_m": millimetres(r.Course.Length())}}
	for _, p := range r.Course.Points {
		drawn.Points = append(drawn.Points, r.Course.Plane.From(p))
	}
	features := []geojson.Feature{line, drawn}
	for _, t := range NewLine(r, nil).Turns {
		features = append(features, geojson.Feature{
			Points:     append(drawn.Points[:0:0], r.Course.Plane.From(r.Line.Turns[t.Number-1].Apex)),
			Properties: map[string]any{"what": "turn", "number": t.Number, "at_m": t.AtM, "angle_deg": t.AngleDeg, "side": t.Side},
		})
	}
	var b bytes.Buffer
	err := geojson.Write(&b, features)
	return b.Bytes(), err
}
