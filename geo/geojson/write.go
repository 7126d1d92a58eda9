package geojson

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"

	"tautline/geo/earth"
)

// Feature is a line (two points or more) or a place (one point) with its
// properties, which must be encodable as JSON.
type Feature struct {
	Points     []earth.LatLon
	Properties map[string]any
}

// Write writes a FeatureCollection: one feature to a line, positions with at
// most 7 decimals (about 1 cm), properties in alphabetical order, so that the
// same features always give the same bytes. Lines across the antimeridian are
// cut there (RFC 7946 section 3.1.9). A feature without points, a position that
// is not on earth, or a property that JSON cannot hold is an error, and then
// nothing is written.
func Write(w io.Writer, features []Feature) error {
	b := []byte("{\"type\":\"FeatureCollection\",\"features\":[\n")
	for i, f := range features {
		var err error
		if b, err = appendFeature(b, f); err != nil {
			return fmt.Errorf("feature %d: %w", i+1, err)
		}
		if i < len(features)-1 {
			b = append(b, ',')
		}
		b = append(b, '\n')
	}
	b = append(b, "]}\n"...)
	o := bufio.NewWriter(w)
	if _, err := o.Write(b); err != nil {
		return err
	}
	return o.Flush()
}

func appendFeature(b []byte, f Feature) ([]byte, error) {
	for _, p := range f.Points {
		if !(math.Abs(p.Lat) <= 90 && math.Abs(p.Lon) <= 180) {
			return nil, fmt.Errorf("position %v, %v is not on earth", p.Lat, p.Lon)
		}
	}
	b = append(b, `{"type":"Feature","properties":`...)
	properties := []byte("{}")
	if len(f.Properties) > 0 {
		var err error
		if properties, err = json.Marshal(f.Properties); err != nil {
			return nil, err
		}
	}
	b = append(append(b, properties...), `,"geometry":{"type":`...)
	switch len(f.Points) {
	case 0:
		return nil, fmt.Errorf("it has no points")
	case 1:
		b = append(b, `"Point","coordinates":`...)
		return append(appendPosition(b, f.Points[0]), "}}"...), nil
	}
	parts := cut(f.Points)
	if len(parts) == 1 {
		b = append(b, `"LineString","coordinates":`...)
		return append(appendLine(b, parts[0]), "}}"...), nil
	}
	b = append(b, `"MultiLineString","coordinates":[`...)
	for i, p := range parts {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendLine(b, p)
	}
	return append(b, "]}}"...), nil
}

// cut splits a line where it crosses the antimeridian, with a point on either
// side of it at the interpolated latitude.
func cut(line []earth.LatLon) [][]earth.LatLon {
	part := []earth.LatLon{line[0]}
	var parts [][]earth.LatLon
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		if d := b.Lon - a.Lon; math.Abs(d) > 180 {
			edge := math.Copysign(180, a.Lon)
			t := 0.0
			if run := d - math.Copysign(360, d); run != 0 {
				t = (edge - a.Lon) / run
			}
			lat := a.Lat + t*(b.Lat-a.Lat)
			if here := (earth.LatLon{Lat: lat, Lon: edge}); here != a {
				part = append(part, here)
			}
			if len(part) > 1 {
				parts = append(parts, part)
			}
			part = nil
			if there := (earth.LatLon{Lat: lat, Lon: -edge}); there != b {
				part = append(part, there)
			}
		}
		part = append(part, b)
	}
	if len(part) > 1 {
		parts = append(parts, part)
	}
	if len(parts) == 0 {
		return [][]earth.LatLon{line} // one place under both its longitudes
	}
	return parts
}

func appendLine(b []byte, line []earth.LatLon) []byte {
	b = append(b, '[')
	for i, p := range line {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendPosition(b, p)
	}
	return append(b, ']')
}

func appendPosition(b []byte, p earth.LatLon) []byte {
	b = append(b, '[')
	b = appendDegrees(b, p.Lon)
	b = append(b, ',')
	b = appendDegrees(b, p.Lat)
	return append(b, ']')
}

// appendDegrees writes 7 decimals without needless zeros and without minus zero.
func appendDegrees(b []byte, v float64) []byte {
	const scale = 1e7
	r := math.Round(v*scale) / scale
	if r == 0 {
		r = 0 // not -0
	}
	return strconv.AppendFloat(b, r, 'f', -1, 64)
}
