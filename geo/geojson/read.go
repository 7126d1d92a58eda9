// Package geojson reads kerb lines from GeoJSON and writes lines and points as
// GeoJSON (RFC 7946): longitude before latitude, degrees on WGS84.
package geojson

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
)

// What a file may ask of us. Kerbs of a marathon drawn every metre on both
// sides have 90 000 points.
const (
	// MaxBytes is the size of a file.
	MaxBytes = 32 << 20
	// MaxValues counts numbers, texts, arrays and objects.
	MaxValues = 2_000_000
	// MaxDepth is how deep arrays and objects may be nested.
	MaxDepth = 32
)

// Kinds and sides a kerb line may have.
const (
	KindKerb = "kerb" // a raised kerb, the default
	KindCone = "cone" // a line of cones
	KindLine = "line" // a painted line
	Left     = "left"
	Right    = "right"
)

// Kerb is one edge of the permitted road.
type Kerb struct {
	Side   string // Left or Right of the direction of the course, "" when the file does not say
	Kind   string // KindKerb, KindCone or KindLine
	Points []earth.LatLon
	Line   int // the line of the file where its geometry starts
}

// File is what a kerb file says.
type File struct {
	Kerbs    []Kerb
	Warnings []string // sentences for people about what was left out
}

// ReadKerbs reads a FeatureCollection, a Feature, a GeometryCollection or a
// bare geometry; name is what messages call the file. LineStrings and
// MultiLineStrings become kerbs, points are left out with a warning, polygons
// are refused. The properties "side" (left, right) and "kind" (kerb, cone,
// line) are optional. A line that was cut at the antimeridian (RFC 7946
// section 3.1.9) is joined again. Errors are *inputerr.Error.
func ReadKerbs(name string, r io.Reader) (*File, error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, &inputerr.Error{File: name, What: "cannot be read: " + err.Error(), Advice: "copy it again", Cause: err}
	}
	p := &reader{name: name, raw: raw, file: &File{}}
	switch {
	case len(raw) > MaxBytes:
		return nil, p.fail(-1, fmt.Sprintf("the file is larger than %d MB", MaxBytes>>20), "draw the kerbs with fewer points")
	case len(bytes.TrimSpace(raw)) == 0:
		return nil, p.fail(0, "the file is empty", "export it again")
	case bytes.HasPrefix(raw, []byte("\xFE\xFF")), bytes.HasPrefix(raw, []byte("\xFF\xFE")), bytes.HasPrefix(raw, []byte("{\x00")), bytes.HasPrefix(raw, []byte("\x00{")):
		return nil, p.fail(0, "the file is encoded in UTF-16", "save it as UTF-8")
	}
	p.raw = bytes.TrimPrefix(raw, []byte("\xEF\xBB\xBF"))
	p.dec = json.NewDecoder(bytes.NewReader(p.raw))
	p.dec.UseNumber()
	root, err := p.value(1)
	if err != nil {
		return nil, err
	}
	end := p.offset()
	if _, err := p.dec.Token(); err != io.EOF {
		return nil, p.fail(end, "something follows the GeoJSON object", "remove it")
	}
	if err := p.object(root, nil); err != nil {
		return nil, err
	}
	if len(p.file.Kerbs) == 0 {
		return nil, p.fail(-1, "the file holds no line", "draw the kerbs as LineString features")
	}
	if p.points > 0 {
		p.file.Warnings = append(p.file.Warnings, fmt.Sprintf("points left out: %d; only lines can be kerbs", p.points))
	}
	return p.file, nil
}

type kind uint8

const (
	null kind = iota
	boolean
	text
	num
	array
	dict
)

// node is a JSON value with the place where it stands.
type node struct {
	kind kind
	at   int // byte
	num  float64
	text string
	kids []node
	keys []string // of a dict
}

func (n *node) get(key string) *node {
	for i, k := range n.keys {
		if k == key {
			return &n.kids[i]
		}
	}
	return nil
}

type reader struct {
	name   string
	raw    []byte
	dec    *json.Decoder
	values int
	points int
	file   *File
}

// fail makes an error for a byte of the file; -1 is the file as a whole.
func (p *reader) fail(at int, what, advice string) error {
	e := &inputerr.Error{File: p.name, What: what, Advice: advice}
	if at >= 0 {
		e.Line, e.Column = p.place(at)
	}
	return e
}

func (p *reader) place(at int) (line, column int) {
	before := p.raw[:min(at, len(p.raw))]
	return 1 + bytes.Count(before, []byte("\n")), len(before) - bytes.LastIndexByte(before, '\n')
}

// offset is where the next token starts.
func (p *reader) offset() int {
	at := int(p.dec.InputOffset())
	for at < len(p.raw) && strings.IndexByte(" \t\r\n,:", p.raw[at]) >= 0 {
		at++
	}
	return at
}

func (p *reader) value(depth int) (node, error) {
	n := node{at: p.offset()}
	p.values++
	switch {
	case depth > MaxDepth:
		return n, p.fail(n.at, fmt.Sprintf("values are nested more than %d deep", MaxDepth), "export the file again")
	case p.values > MaxValues:
		return n, p.fail(n.at, fmt.Sprintf("more than %d values", MaxValues), "draw the kerbs with fewer points")
	}
	t, err := p.dec.Token()
	if err != nil {
		return n, p.syntax(err)
	}
	switch t := t.(type) {
	case nil:
	case bool:
		n.kind = boolean
	case string:
		n.kind, n.text = text, t
	case json.Number:
		n.kind = num
		if n.num, err = strconv.ParseFloat(string(t), 64); err != nil || math.IsInf(n.num, 0) {
			return n, p.fail(n.at, "a number is too large", "correct it")
		}
	case json.Delim:
		n.kind = array
		if t == '{' {
			n.kind = dict
		}
		for p.dec.More() {
			if n.kind == dict {
				at := p.offset()
				k, err := p.dec.Token()
				if err != nil {
					return n, p.syntax(err)
				}
				key := k.(string)
				if n.get(key) != nil {
					return n, p.fail(at, fmt.Sprintf("%q is given twice", clip(key)), "remove one of them")
				}
				n.keys = append(n.keys, key)
			}
			kid, err := p.value(depth + 1)
			if err != nil {
				return n, err
			}
			n.kids = append(n.kids, kid)
		}
		if _, err := p.dec.Token(); err != nil {
			return n, p.syntax(err)
		}
	}
	return n, nil
}

func clip(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

func (p *reader) syntax(err error) error {
	if err == io.EOF || errors.Is(err, io.ErrUnexpectedEOF) {
		return p.fail(len(p.raw), "the file is cut off", "export or copy it again")
	}
	at := p.offset()
	var s *json.SyntaxError
	what := err.Error()
	if errors.As(err, &s) {
		at = max(0, int(s.Offset)-1)
	}
	return p.fail(at, "not well-formed JSON: "+what, "export the file again, or correct it in a text editor")
}

// object reads a GeoJSON object; properties are those of the feature around it.
func (p *reader) object(n node, properties *node) error {
	if n.kind != dict {
		return p.fail(n.at, "a GeoJSON object is missing here", "export the file again as GeoJSON")
	}
	if crs := n.get("crs"); crs != nil && crs.kind != null && !wgs84(crs) {
		return p.fail(crs.at, "the file uses another coordinate system than WGS84 degrees", "export it in longitude and latitude on WGS84")
	}
	what := n.get("type")
	if what == nil || what.kind != text {
		return p.fail(n.at, `an object has no "type"`, "export the file again as GeoJSON")
	}
	list := func(key string, properties *node) error {
		all := n.get(key)
		if all == nil || all.kind != array {
			return p.fail(n.at, fmt.Sprintf("a %s has no %q", what.text, key), "export the file again")
		}
		for _, k := range all.kids {
			if err := p.object(k, properties); err != nil {
				return err
			}
		}
		return nil
	}
	switch what.text {
	case "FeatureCollection":
		return list("features", nil)
	case "GeometryCollection":
		return list("geometries", properties)
	case "Feature":
		geometry := n.get("geometry")
		if geometry == nil || geometry.kind == null {
			p.file.Warnings = append(p.file.Warnings, fmt.Sprintf("line %d: a feature without geometry was left out", p.line(n.at)))
			return nil
		}
		return p.object(*geometry, n.get("properties"))
	case "Point":
		p.points++
		return nil
	case "MultiPoint":
		if c := n.get("coordinates"); c != nil {
			p.points += len(c.kids)
		}
		return nil
	case "Polygon", "MultiPolygon":
		return p.fail(n.at, "a "+what.text+" cannot be a kerb", "draw the kerb as a LineString on the side where runners pass")
	case "LineString", "MultiLineString":
	default:
		return p.fail(what.at, fmt.Sprintf("unknown type %q", clip(what.text)), "draw the kerbs as LineString features")
	}
	side, kind, err := p.properties(properties)
	if err != nil {
		return err
	}
	coordinates := n.get("coordinates")
	if coordinates == nil || coordinates.kind != array {
		return p.fail(n.at, "a "+what.text+" has no coordinates", "export the file again")
	}
	parts := []node{*coordinates}
	if what.text == "MultiLineString" {
		parts = coordinates.kids
	}
	joined := false
	for _, part := range parts {
		points, err := p.positions(part)
		if err != nil {
			return err
		}
		if last := len(p.file.Kerbs) - 1; joined && continues(p.file.Kerbs[last].Points, points) {
			p.file.Kerbs[last].Points = append(p.file.Kerbs[last].Points, points[1:]...)
			continue
		}
		joined = true
		p.file.Kerbs = append(p.file.Kerbs, Kerb{Side: side, Kind: kind, Points: points, Line: p.line(part.at)})
	}
	return nil
}

func (p *reader) line(at int) int {
	l, _ := p.place(at)
	return l
}

// continues tells whether b is the other half of a line that was cut at the
// antimeridian.
func continues(a, b []earth.LatLon) bool {
	end, start := a[len(a)-1], b[0]
	return math.Abs(end.Lon) == 180 && start.Lon == -end.Lon && math.Abs(end.Lat-start.Lat) < 2e-7
}

// wgs84 tells whether the coordinate system of the older GeoJSON is the one
// that RFC 7946 has fixed.
func wgs84(crs *node) bool {
	props := crs.get("properties")
	if props == nil {
		return false
	}
	name := props.get("name")
	return name != nil && (strings.HasSuffix(name.text, ":CRS84") || strings.HasSuffix(name.text, ":4326"))
}

func (p *reader) properties(n *node) (side, kind string, err error) {
	kind = KindKerb
	if n == nil || n.kind == null {
		return side, kind, nil
	}
	if n.kind != dict {
		return "", "", p.fail(n.at, `"properties" is not an object`, "export the file again")
	}
	choose := func(key string, into *string, allowed ...string) error {
		v := n.get(key)
		if v == nil || v.kind == null {
			return nil
		}
		s := strings.ToLower(strings.TrimSpace(v.text))
		for _, a := range allowed {
			if v.kind == text && s == a {
				*into = a
				return nil
			}
		}
		return p.fail(v.at, fmt.Sprintf("unknown %s %q", key, clip(v.text)), "write "+strings.Join(allowed, " or "))
	}
	if err := choose("side", &side, Left, Right); err != nil {
		return "", "", err
	}
	return side, kind, choose("kind", &kind, KindKerb, KindCone, KindLine)
}

func (p *reader) positions(n node) ([]earth.LatLon, error) {
	if n.kind != array {
		return nil, p.fail(n.at, "a line is not a list of positions", "export the file again")
	}
	points := make([]earth.LatLon, 0, len(n.kids))
	for _, k := range n.kids {
		if k.kind != array || len(k.kids) < 2 || k.kids[0].kind != num || k.kids[1].kind != num {
			return nil, p.fail(k.at, "a position is not [longitude, latitude]", "export the file again")
		}
		at := earth.LatLon{Lat: k.kids[1].num, Lon: k.kids[0].num}
		if math.Abs(at.Lon) > 180 || math.Abs(at.Lat) > 90 {
			return nil, p.fail(k.at, fmt.Sprintf("position [%g, %g] is not on earth", at.Lon, at.Lat),
				"give longitude before latitude, in degrees; check that they are not swapped and not in metres")
		}
		points = append(points, at)
	}
	if len(points) < 2 {
		return nil, p.fail(n.at, "a line has fewer than two positions", "remove it or draw it again")
	}
	return points, nil
}
