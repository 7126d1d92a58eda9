package page_test

import (
	"fmt"
	"math"
	"strings"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/track"
	"tautline/report/page"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// The measured drawing of a course, as a file that needs nothing from
// elsewhere.
func ExampleLine() {
	ground := earth.NewPlane(earth.LatLon{Lat: 47, Lon: -29})
	var drawn []track.Fix
	for _, p := range [][2]float64{{0, 0}, {300, 0}, {300, 400}} {
		drawn = append(drawn, track.Fix{At: ground.From(p), Height: math.NaN()})
	}
	f := &gpxfile.File{Lines: []track.Line{{Name: "Tannery Corner", Segments: [][]track.Fix{drawn}}}}
	r, err := race.Prepare("corner.gpx", f, new(sheet.Sheet))
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := page.Line(r, r.Doubts(), page.Options{Date: "2027-04-19", Source: "corner.gpx"})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, figure := range s.Figures {
		fmt.Printf("%s: %s\n", figure.Name, figure.Value)
	}
	file, err := s.HTML()
	_, title, _ := strings.Cut(string(file), "<title>")
	title, _, _ = strings.Cut(title, "</title>")
	fmt.Println(title, err)
	fmt.Println("files that it asks for:", strings.Count(string(file), " src=")+strings.Count(string(file), "<link"))
	// Output:
	// shortest legal line: 0.690 km
	// drawn course: 0.700 km
	// Shortest legal line: Tannery Corner <nil>
	// files that it asks for: 0
}
