package text_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/track"
	"tautline/report/text"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

func lineReport(t *testing.T, s text.Screen, sheetText string) string {
	t.Helper()
	p := earth.NewPlane(earth.LatLon{Lat: 47, Lon: -29})
	var fixes []track.Fix
	for _, q := range [][2]float64{{0, 0}, {300, 0}, {300, 400}, {800, 400}} {
		fixes = append(fixes, track.Fix{At: p.From(q), Height: 100})
	}
	f := &gpxfile.File{Lines: []track.Line{{Name: "Two\x1b[2J Corners", Segments: [][]track.Fix{fixes}}}}
	sh, err := sheet.Read("r.toml", []byte(sheetText))
	if err != nil {
		t.Fatal(err)
	}
	r, err := race.Prepare("c.gpx", f, sh)
	if err != nil {
		t.Fatal(err)
	}
	return string(text.ShortestLine(s, r, r.Doubts()))
}

func TestTheLineReportSaysHowSureItIs(t *testing.T) {
	got := lineReport(t, text.Screen{Width: 80}, "official = \"1.2 km\"\ncertified = true\n")
	for _, want := range []string{"Shortest legal line: Two Corners\n", "certified; the line is", "How sure it is", "road 1 m narrower", "corner radius 2 m larger",
		"Turns (2)", "width ±1 m", "   1  ", "left    90°", "along the surface", "never certifies"} {
		if !strings.Contains(got, want) {
			t.Errorf("the report lacks %q:\n%s", want, got)
		}
	}
	if strings.Contains(got, "NaN") || strings.Contains(got, "\x1b") {
		t.Errorf("the report holds what it should not:\n%s", got)
	}
}

func TestAGivenLineIsNotDoubted(t *testing.T) {
	got := lineReport(t, text.Screen{Width: 80}, "course_is = \"line\"\n")
	if strings.Contains(got, "How sure") || !strings.Contains(got, "nothing was shortened") {
		t.Errorf("the report of a given line:\n%s", got)
	}
}

func TestTheLineReportFitsAnyWindow(t *testing.T) {
	for width := text.LeastWidth; width <= text.MostWidth; width += 5 {
		for _, units := range []quantity.Units{quantity.Metric, quantity.Imperial} {
			for l := range strings.SplitSeq(lineReport(t, text.Screen{Width: width, Units: units}, "official = \"1 mi\"\n"), "\n") {
				if n := utf8.RuneCountInString(l); n > width {
					t.Errorf("a line of %d in a window of %d: %q", n, width, l)
				}
			}
		}
	}
}
