package document_test

import (
	"fmt"
	"math"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/track"
	"tautline/report/document"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// What a program reads about the shortest line of a course with one corner.
func ExampleNewLine() {
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
	d := document.NewLine(r, nil)
	fmt.Printf("%s: drawn %.0f m, shortest legal line %.1f m\n", d.Name, d.CentrelineM, d.ShortestM)
	for _, t := range d.Turns {
		fmt.Printf("turn %d at %.0f m: %.0f degrees to the %s\n", t.Number, t.AtM, t.AngleDeg, t.Side)
	}
	// Output:
	// Tannery Corner: drawn 700 m, shortest legal line 690.3 m
	// turn 1 at 295 m: 90 degrees to the left
}
