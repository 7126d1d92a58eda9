package review_test

import (
	"fmt"
	"io/fs"
	"math"

	"tautline/geo/gpxfile"
	"tautline/geo/record"
	"tautline/strategy/demo"
	"tautline/strategy/race"
	"tautline/strategy/review"
	"tautline/strategy/sheet"
)

func Example() {
	v, err := reviewed("poor-watch.gpx")
	if err != nil {
		fmt.Println(err)
		return
	}
	at := v.Start // the official distance
	fmt.Printf("%.0f m\n", at)
	for _, x := range v.Ledger {
		at += x.Metres.Value
		if math.Abs(x.Metres.Value) >= 15 {
			fmt.Printf("%s: %.0f m\n", x.Cause, x.Metres.Value)
		}
	}
	fmt.Printf("with the smaller ones %.0f m, the watch showed %.0f m\n", at, v.Watch)
	// Output:
	// 10000 m
	// turns run wide: 54 m
	// lead-in: 88 m
	// run-out: 50 m
	// scatter: 154 m
	// gaps: 39 m
	// with the smaller ones 10397 m, the watch showed 10397 m
}

// reviewed takes a record of the demo the whole way, from the files on.
func reviewed(name string) (*review.Review, error) {
	read := func(name string) (*gpxfile.File, error) {
		f, err := demo.Files().Open(name)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		return gpxfile.Read(name, f)
	}
	text, err := fs.ReadFile(demo.Files(), demo.SheetFile)
	if err != nil {
		return nil, err
	}
	s, err := sheet.Read(demo.SheetFile, text)
	if err != nil {
		return nil, err
	}
	drawn, err := read(demo.CourseFile)
	if err != nil {
		return nil, err
	}
	r, err := race.Prepare(demo.CourseFile, drawn, s)
	if err != nil {
		return nil, err
	}
	f, err := read(name)
	if err != nil {
		return nil, err
	}
	line, _, err := f.Record()
	if err != nil {
		return nil, err
	}
	return review.Of(r, record.Clean(line), review.Options{Doubt: review.UsualDoubt(true, true)})
}
