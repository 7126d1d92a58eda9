package field

import (
	"archive/zip"
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"tautline/geo/gpxfile"
	"tautline/geo/simulate"
	"tautline/geo/track"
)

var (
	writeDir     = flag.String("write-field", "", "folder to write a simulated field to: course.gpx and records/, to try the program on; nothing is written unless given")
	writeRecords = flag.Int("write-records", 1000, "records of that field")
	writeLength  = flag.Float64("write-length", 5000, "metres of its course")
)

// TestWriteField writes a field to a folder for whoever wants to see the
// program at work on many files: most records as files, one of every ten in a
// zip file.
func TestWriteField(t *testing.T) {
	if *writeDir == "" {
		t.Skip("no -write-field given")
	}
	rng := simulate.Rand(5, 31)
	measured, ran, _, ok := planted(fault{sound, 0, simulate.Corners}, *writeLength, rng)
	if !ok {
		t.Fatal("no course")
	}
	put := func(path string, line track.Line) []byte {
		var b bytes.Buffer
		if err := gpxfile.Write(&b, &gpxfile.File{Lines: []track.Line{line}}); err != nil {
			t.Fatal(err)
		}
		if path != "" {
			write(t, path, b.Bytes())
		}
		return b.Bytes()
	}
	records := filepath.Join(*writeDir, "records")
	if err := os.MkdirAll(records, 0o755); err != nil {
		t.Fatal(err)
	}
	var drawn []track.Fix
	for i, p := range measured.Course.Points {
		drawn = append(drawn, track.Fix{At: measured.Course.Plane.From(p), Height: measured.Course.Heights[i]})
	}
	put(filepath.Join(*writeDir, "course.gpx"), track.Line{Name: "A simulated course", Segments: [][]track.Fix{drawn}})
	ref := simulate.Along(ran.Road, ran.Line)
	var truths []simulate.Truth
	for range paths {
		tr, err := someRunner(rng).Run(ref, rng)
		if err != nil {
			t.Fatal(err)
		}
		truths = append(truths, tr)
	}
	archive, err := os.Create(filepath.Join(records, "some.zip"))
	if err != nil {
		t.Fatal(err)
	}
	z := zip.NewWriter(archive)
	for k := range *writeRecords {
		rec := simulate.TreeLined().Record(truths[k%len(truths)], simulate.Options{Plane: ran.Course.Plane, Decimals: 7, Began: time.Date(2026, 9, 20, 9, 0, 0, 0, time.UTC)}, rng)
		name := fmt.Sprintf("r%05d.gpx", k)
		line := track.Line{Segments: [][]track.Fix{rec.Fixes}}
		if k%10 != 9 {
			put(filepath.Join(records, name), line)
			continue
		}
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(put("", line)); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if err := archive.Close(); err != nil {
		t.Fatal(err)
	}
}
