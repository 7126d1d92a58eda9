package field_test

import (
	"fmt"
	"io/fs"

	"tautline/geo/gpxfile"
	"tautline/geo/interval"
	"tautline/geo/record"
	"tautline/strategy/demo"
	"tautline/strategy/field"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// Three records say nothing of a course, and the verdict knows it.
func Example() {
	read := func(name string) *gpxfile.File {
		f, err := demo.Files().Open(name)
		if err != nil {
			panic(err)
		}
		defer f.Close()
		g, err := gpxfile.Read(name, f)
		if err != nil {
			panic(err)
		}
		return g
	}
	text, err := fs.ReadFile(demo.Files(), demo.SheetFile)
	if err != nil {
		panic(err)
	}
	s, err := sheet.Read(demo.SheetFile, text)
	if err != nil {
		panic(err)
	}
	r, err := race.Prepare(demo.CourseFile, read(demo.CourseFile), s)
	if err != nil {
		panic(err)
	}
	ground := field.Lay(r)
	tally := ground.NewTally()
	for _, name := range []string{"careful.gpx", "wide.gpx", "poor-watch.gpx"} {
		line, _, err := read(name).Record()
		if err != nil {
			panic(err)
		}
		look, err := ground.Look(name, name, record.Clean(line))
		if err != nil {
			panic(err)
		}
		tally.Add(look)
	}
	v := ground.Judge(tally, interval.Exact(r.Official))
	fmt.Println(v.Records, "records:", v.Conclusion)
	// Output:
	// 3 records: cannot tell
}
