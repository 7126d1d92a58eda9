package geojson

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
)

func show(f *File) string {
	var b strings.Builder
	for _, k := range f.Kerbs {
		fmt.Fprintf(&b, "%d: %s %s", k.Line, k.Side, k.Kind)
		for _, p := range k.Points {
			fmt.Fprintf(&b, " (%g, %g)", p.Lat, p.Lon)
		}
		b.WriteString("; ")
	}
	return b.String() + strings.Join(f.Warnings, "; ")
}

func TestReadKerbs(t *testing.T) {
	const line = `{"type":"LineString","coordinates":[[11,47],[11.5,47.25,600]]}`
	for _, c := range []struct{ name, in, want string }{
		{"a bare line", line, "1:  kerb (47, 11) (47.25, 11.5); "},
		{"a byte order mark", "\xEF\xBB\xBF" + line, "1:  kerb (47, 11) (47.25, 11.5); "},
		{"a feature with side and kind", `{"type":"Feature","properties":{"side":"Left","kind":"cone","more":[1,{"a":null}]},"geometry":` + line + `}`, "1: left cone (47, 11) (47.25, 11.5); "},
		{"properties that are null", `{"type":"Feature","properties":{"side":null},"geometry":` + line + `}`, "1:  kerb (47, 11) (47.25, 11.5); "},
		{"no properties", `{"type":"Feature","geometry":` + line + `}`, "1:  kerb (47, 11) (47.25, 11.5); "},
		{"the type after the geometry", "{\"geometry\":{\"coordinates\":[[1,2],[3,4]],\n\"type\":\"LineString\"},\n\"type\":\"Feature\"}", "1:  kerb (2, 1) (4, 3); "},
		{"a collection, each with its line", "{\"type\":\"FeatureCollection\",\"features\":[\n{\"type\":\"Feature\",\"properties\":{\"side\":\"right\"},\"geometry\":\n" + line + "},\n{\"type\":\"Feature\",\"properties\":{\"kind\":\"line\"},\"geometry\":" + line + "}]}",
			"3: right kerb (47, 11) (47.25, 11.5); 4:  line (47, 11) (47.25, 11.5); "},
		{"a line of several parts", `{"type":"MultiLineString","coordinates":[[[1,2],[3,4]],[[5,6],[7,8]]]}`, "1:  kerb (2, 1) (4, 3); 1:  kerb (6, 5) (8, 7); "},
		{"a collection of geometries", `{"type":"Feature","properties":{"side":"left"},"geometry":{"type":"GeometryCollection","geometries":[` + line + `]}}`, "1: left kerb (47, 11) (47.25, 11.5); "},
		{"points beside the lines", `{"type":"GeometryCollection","geometries":[` + line + `,{"type":"Point","coordinates":[1,2]},{"type":"MultiPoint","coordinates":[[1,2],[1,2]]}]}`,
			"1:  kerb (47, 11) (47.25, 11.5); points left out: 3; only lines can be kerbs"},
		{"a feature without geometry", `{"type":"FeatureCollection","features":[{"type":"Feature","geometry":null},{"type":"Feature","geometry":` + line + `}]}`,
			"1:  kerb (47, 11) (47.25, 11.5); line 1: a feature without geometry was left out"},
		// RFC 7946 section 3.1.9, its example.
		{"a line cut at the antimeridian", `{"type":"MultiLineString","coordinates":[[[170.0,45.0],[180.0,45.0]],[[-180.0,45.0],[-170.0,45.0]]]}`, "1:  kerb (45, 170) (45, 180) (45, -170); "},
		{"two parts that only look so", `{"type":"MultiLineString","coordinates":[[[170.0,45.0],[180.0,45.0]],[[-180.0,46.0],[-170.0,45.0]]]}`, "1:  kerb (45, 170) (45, 180); 1:  kerb (46, -180) (45, -170); "},
		{"the coordinate system named in the older way", `{"type":"LineString","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:OGC:1.3:CRS84"}},"coordinates":[[1,2],[3,4]]}`, "1:  kerb (2, 1) (4, 3); "},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := ReadKerbs("k.geojson", strings.NewReader(c.in))
			if err != nil {
				t.Fatal(err)
			}
			if got := show(f); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

func TestReadKerbsRefuses(t *testing.T) {
	collection := func(s string) string {
		return "{\"type\":\"FeatureCollection\",\"features\":[\n{\"type\":\"Feature\",\n" + s + "}]}"
	}
	line := `"geometry":{"type":"LineString","coordinates":[[1,2],[3,4]]}`
	for _, c := range []struct{ name, in, want string }{
		{"nothing", "", "k.geojson:1:1: the file is empty"},
		{"a number", "7", "1:1: a GeoJSON object is missing"},
		{"UTF-16", "\xFF\xFE{\x00", "1:1: the file is encoded in UTF-16"},
		{"a file cut off", `{"type":"LineString","coordinates":[[1,2],`, "1:43: the file is cut off"},
		{"a missing brace", "{\"type\":\n", "2:1: the file is cut off"},
		{"wrong syntax", "{\"type\":\"LineString\",\n\"coordinates\":[[1,2],[3 4]]}", "2:24: not well-formed JSON"},
		{"something after the end", "{}\n {}", "2:2: something follows"},
		{"an object without type", "{}", `1:1: an object has no "type"`},
		{"an unknown type", `{"type":"Circle"}`, `1:9: unknown type "Circle"`},
		{"a key twice", `{"type":"LineString","type":"Point"}`, `1:22: "type" is given twice`},
		{"a polygon", collection(`"geometry":{"type":"Polygon","coordinates":[]}`), "3:12: a Polygon cannot be a kerb"},
		{"only points", `{"type":"Point","coordinates":[1,2]}`, "the file holds no line"},
		{"no features", `{"type":"FeatureCollection","features":[]}`, "the file holds no line"},
		{"features that are no list", `{"type":"FeatureCollection","features":7}`, `has no "features"`},
		{"no coordinates", `{"type":"LineString"}`, "has no coordinates"},
		{"a line of one position", `{"type":"LineString","coordinates":[[1,2]]}`, "1:36: a line has fewer than two positions"},
		{"a position of one number", `{"type":"LineString","coordinates":[[1,2],[3]]}`, "1:43: a position is not [longitude, latitude]"},
		{"a position of texts", `{"type":"LineString","coordinates":[[1,2],["3","4"]]}`, "1:43: a position is not"},
		{"positions one level too deep", `{"type":"LineString","coordinates":[[[1,2],[3,4]]]}`, "a position is not"},
		{"positions one level too shallow", `{"type":"MultiLineString","coordinates":[[1,2],[3,4]]}`, "a position is not"},
		{"latitude before longitude", `{"type":"LineString","coordinates":[[47,111],[48,112]]}`, "1:37: position [47, 111] is not on earth (give longitude before latitude"},
		{"metres", `{"type":"LineString","coordinates":[[691000,5330000],[1,2]]}`, "is not on earth"},
		{"a number too large", `{"type":"LineString","coordinates":[[1,1e999],[1,2]]}`, "1:40: a number is too large"},
		{"NaN", `{"type":"LineString","coordinates":[[1,NaN],[1,2]]}`, "not well-formed JSON"},
		{"an unknown side", collection("\"properties\":{\n\"side\":\"middle\"},\n" + line), `4:8: unknown side "middle" (write left or right)`},
		{"a side that is a number", collection("\"properties\":{\"side\":1},\n" + line), "3:22: unknown side"},
		{"an unknown kind", collection("\"properties\":{\"kind\":\"wall\"},\n" + line), "unknown kind \"wall\" (write kerb or cone or line)"},
		{"properties that are a list", collection("\"properties\":[1],\n" + line), `"properties" is not an object`},
		{"another coordinate system", `{"type":"LineString","crs":{"properties":{"name":"urn:ogc:def:crs:EPSG::25832"}},"coordinates":[[1,2],[3,4]]}`, "another coordinate system"},
		{"deep nesting", strings.Repeat("[", 1_000_000), "nested more than 32 deep"},
		{"too many values", "[" + strings.Repeat("0,", MaxValues) + "0]", "more than 2000000 values"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := ReadKerbs("k.geojson", strings.NewReader(c.in))
			if err == nil {
				t.Fatalf("was read: %s", show(f))
			}
			var e *inputerr.Error
			if !errors.As(err, &e) || e.Advice == "" || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got  %v\nwant %s", err, c.want)
			}
		})
	}
}

func TestFilesThatCannotBeRead(t *testing.T) {
	cause := errors.New("bad sector")
	if _, err := ReadKerbs("k", iotest.ErrReader(cause)); !errors.Is(err, cause) {
		t.Errorf("got %v", err)
	}
	if _, err := ReadKerbs("k", io.LimitReader(zeros{}, MaxBytes+10)); err == nil || !strings.Contains(err.Error(), "larger than 32 MB") {
		t.Errorf("got %v", err)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { return len(p), nil }

func TestWrite(t *testing.T) {
	for _, c := range []struct {
		name string
		in   []Feature
		want string // of the features, in one line each
	}{
		{"nothing", nil, ""},
		{"a line, longitude first, 7 decimals, no needless zeros", []Feature{{Points: []earth.LatLon{{Lat: 47.123456789, Lon: 11.5}, {Lat: 48, Lon: -0.00000001}}}},
			`{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[11.5,47.1234568],[0,48]]}}`},
		{"a place with properties in order", []Feature{{Points: []earth.LatLon{{Lat: 1, Lon: 2}}, Properties: map[string]any{"turn": 3, "at_m": 12.5, "name": "</script>"}}},
			`{"type":"Feature","properties":{"at_m":12.5,"name":"\u003c/script\u003e","turn":3},"geometry":{"type":"Point","coordinates":[2,1]}}`},
		// RFC 7946 section 3.1.9, its example.
		{"the example of the standard", []Feature{{Points: []earth.LatLon{{Lat: 45, Lon: 170}, {Lat: 45, Lon: -170}}}},
			`{"type":"Feature","properties":{},"geometry":{"type":"MultiLineString","coordinates":[[[170,45],[180,45]],[[-180,45],[-170,45]]]}}`},
		{"westwards, with the latitude at the cut", []Feature{{Points: []earth.LatLon{{Lat: 0, Lon: -179}, {Lat: 4, Lon: 177}}}},
			`{"type":"Feature","properties":{},"geometry":{"type":"MultiLineString","coordinates":[[[-179,0],[-180,1]],[[180,1],[177,4]]]}}`},
		{"a point on the antimeridian", []Feature{{Points: []earth.LatLon{{Lat: 0, Lon: 179}, {Lat: 0, Lon: 180}, {Lat: 0, Lon: -179}}}},
			`{"type":"Feature","properties":{},"geometry":{"type":"MultiLineString","coordinates":[[[179,0],[180,0]],[[-180,0],[-179,0]]]}}`},
		{"from the antimeridian away on the other side", []Feature{{Points: []earth.LatLon{{Lat: 0, Lon: 180}, {Lat: 0, Lon: -179}}}},
			`{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[-180,0],[-179,0]]}}`},
		{"one place under both its longitudes", []Feature{{Points: []earth.LatLon{{Lat: 1, Lon: 180}, {Lat: 1, Lon: -180}}}},
			`{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[180,1],[-180,1]]}}`},
		{"along the antimeridian with changing sign", []Feature{{Points: []earth.LatLon{{Lat: 0, Lon: 180}, {Lat: 1, Lon: -180}, {Lat: 2, Lon: -180}}}},
			`{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[-180,0],[-180,1],[-180,2]]}}`},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b bytes.Buffer
			if err := Write(&b, c.in); err != nil {
				t.Fatal(err)
			}
			if !json.Valid(b.Bytes()) {
				t.Errorf("not JSON: %s", b.Bytes())
			}
			want := "{\"type\":\"FeatureCollection\",\"features\":[\n" + c.want + "\n]}\n"
			if c.want == "" {
				want = "{\"type\":\"FeatureCollection\",\"features\":[\n]}\n"
			}
			if b.String() != want {
				t.Errorf("got  %s\nwant %s", b.String(), want)
			}
		})
	}
	for name, f := range map[string]Feature{
		"no points":                     {},
		"a position that is no number":  {Points: []earth.LatLon{{Lat: math.NaN()}}},
		"a position beyond the pole":    {Points: []earth.LatLon{{Lat: 91}}},
		"a property that is not JSON":   {Points: []earth.LatLon{{}}, Properties: map[string]any{"a": func() {}}},
		"a property that is not finite": {Points: []earth.LatLon{{}}, Properties: map[string]any{"a": math.Inf(1)}},
	} {
		t.Run("refuses "+name, func(t *testing.T) {
			var b bytes.Buffer
			if err := Write(&b, []Feature{{Points: []earth.LatLon{{}}}, f}); err == nil || !strings.HasPrefix(err.Error(), "feature 2: ") || b.Len() > 0 {
				t.Errorf("error %v, %d bytes", err, b.Len())
			}
		})
	}
}

// What is written is read back, and no written piece spans the antimeridian.
func TestWhatIsWrittenIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Near the antimeridian but never on it; short pieces, like kerbs.
		lon := rapid.SampledFrom([]float64{0, 11, -179.9, 179.9}).Draw(t, "around")
		line := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) earth.LatLon {
			l := math.Remainder(lon+float64(rapid.IntRange(-1_999_999, 1_999_999).Draw(t, "lon"))/1e7+0.00000005, 360)
			return earth.LatLon{Lat: float64(rapid.IntRange(-900_000_000, 900_000_000).Draw(t, "lat")) / 1e7, Lon: math.Round(l*1e7) / 1e7}
		}), 2, 20).Draw(t, "line")
		if slices.ContainsFunc(line, func(p earth.LatLon) bool { return math.Abs(p.Lon) == 180 }) {
			t.Skip()
		}
		var b bytes.Buffer
		if err := Write(&b, []Feature{{Points: line, Properties: map[string]any{"side": "left", "kind": "cone"}}}); err != nil {
			t.Fatal(err)
		}
		for _, part := range cut(line) {
			for i := 1; i < len(part); i++ {
				if math.Abs(part[i].Lon-part[i-1].Lon) > 180 {
					t.Fatalf("part %v spans the antimeridian", part)
				}
			}
		}
		f, err := ReadKerbs("k", &b)
		if err != nil {
			t.Fatal(err)
		}
		if len(f.Kerbs) != 1 || f.Kerbs[0].Side != Left || f.Kerbs[0].Kind != KindCone {
			t.Fatalf("got %s", show(f))
		}
		var got []earth.LatLon
		for _, p := range f.Kerbs[0].Points {
			if math.Abs(p.Lon) != 180 {
				got = append(got, p)
			}
		}
		if !slices.Equal(got, line) {
			t.Fatalf("got  %v\nwant %v", got, line)
		}
	})
}

// Whatever the bytes: no panic; an error with advice, or lines of two or more
// positions on earth, no more than the bytes can hold, that can be written.
func FuzzReadKerbs(f *testing.F) {
	for _, s := range []string{
		`{"type":"LineString","coordinates":[[11,47],[11.5,47.25,600]]}`,
		`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"side":"left","kind":"cone"},"geometry":{"type":"MultiLineString","coordinates":[[[170.0,45.0],[180.0,45.0]],[[-180.0,45.0],[-170.0,45.0]]]}}]}`,
		`{"type":"Feature","geometry":{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,2]}]}}`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := ReadKerbs("k", bytes.NewReader(data))
		if err != nil {
			var e *inputerr.Error
			if !errors.As(err, &e) || e.What == "" || e.Advice == "" || e.Line > 1+bytes.Count(data, []byte("\n")) {
				t.Fatalf("%#v", err)
			}
			return
		}
		points := 0
		var features []Feature
		for _, k := range file.Kerbs {
			points += len(k.Points)
			if len(k.Points) < 2 || k.Line < 1 || k.Kind == "" {
				t.Fatalf("kerb %+v", k)
			}
			for _, p := range k.Points {
				if !(math.Abs(p.Lat) <= 90 && math.Abs(p.Lon) <= 180) {
					t.Fatalf("position %v", p)
				}
			}
			features = append(features, Feature{Points: k.Points})
		}
		if points > len(data)/4 {
			t.Fatalf("%d points from %d bytes", points, len(data))
		}
		var b bytes.Buffer
		if err := Write(&b, features); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadKerbs("k", &b); err != nil {
			t.Fatalf("what was written cannot be read: %v", err)
		}
	})
}

func BenchmarkReadKerbs(b *testing.B) {
	line := make([]earth.LatLon, 42000)
	for i := range line {
		line[i] = earth.LatLon{Lat: 47 + float64(i)*1e-5, Lon: 11}
	}
	var file bytes.Buffer
	if err := Write(&file, []Feature{{Points: line}}); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(file.Len()))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ReadKerbs("k", bytes.NewReader(file.Bytes())); err != nil {
			b.Fatal(err)
		}
	}
}
