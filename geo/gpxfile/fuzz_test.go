package gpxfile

import (
	"bytes"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"tautline/geo/inputerr"
)

// Whatever the bytes: no panic, and either an error that names the file and
// says something, or fixes that are on earth, no more than there were bytes to
// hold them, and that can be written and read back.
func FuzzRead(f *testing.F) {
	seeds, err := filepath.Glob(filepath.Join(corpus, "*.gpx"))
	if err != nil || len(seeds) == 0 {
		f.Fatalf("no seeds (%v)", err)
	}
	for _, path := range seeds {
		seed, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := read("fuzz.gpx", bytes.NewReader(data), 3)
		if err != nil {
			var e *inputerr.Error
			if !errors.As(err, &e) || e.File != "fuzz.gpx" || e.What == "" || e.Advice == "" {
				t.Fatalf("error without place or advice: %#v", err)
			}
			if file != nil {
				t.Fatal("an error and a file")
			}
			return
		}
		points := len(file.Waypoints)
		for _, w := range file.Waypoints {
			checkFix(t, w.At.Lat, w.At.Lon, w.Height)
		}
		for _, l := range file.Lines {
			if len(l.Segments) == 0 {
				t.Fatal("a line without segments")
			}
			for _, s := range l.Segments {
				if len(s) == 0 {
					t.Fatal("an empty segment")
				}
				points += len(s)
				for _, x := range s {
					checkFix(t, x.At.Lat, x.At.Lon, x.Height)
				}
			}
		}
		// The shortest point is <wpt lat="1" lon="1"/> or one with a namespace
		// prefix; every one takes at least 20 bytes.
		if points > len(data)/20 {
			t.Fatalf("%d points from %d bytes", points, len(data))
		}
		whole, err := Read("fuzz.gpx", bytes.NewReader(data))
		if err != nil || !same(whole, file) {
			t.Fatalf("in one piece it reads differently: %s\nand %s", outcome(whole, err), outcome(file, nil))
		}
		if _, _, err := file.Record(); (err == nil) != (len(file.Lines) > 0) {
			t.Fatalf("%d lines, and Record says %v", len(file.Lines), err)
		}
		var b, again bytes.Buffer
		if err := Write(io.MultiWriter(&b), file); err != nil {
			t.Fatalf("cannot be written: %v", err)
		}
		back, err := Read("fuzz.gpx", bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatalf("what was written cannot be read: %v\n%s", err, b.Bytes())
		}
		if err := Write(&again, back); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(b.Bytes(), again.Bytes()) {
			t.Fatalf("written again it differs:\n%s\n%s", b.Bytes(), again.Bytes())
		}
	})
}

func checkFix(t *testing.T, lat, lon, height float64) {
	t.Helper()
	if !(math.Abs(lat) <= 90 && math.Abs(lon) <= 180) {
		t.Fatalf("position %v, %v", lat, lon)
	}
	if !math.IsNaN(height) && !(height >= MinHeight && height <= MaxHeight) {
		t.Fatalf("height %v", height)
	}
}

func FuzzTime(f *testing.F) {
	for _, s := range []string{"2031-05-04T09:00:00Z", "2031-05-04 09:00:00.5+05:30", "2031-12-31T24:00:00-0930", ""} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, s []byte) {
		at, _, ok := parseTime(s)
		if ok != !at.IsZero() {
			t.Fatalf("%q: %v, %v", s, at, ok)
		}
		// A zone of 14 hours can reach into the years next to the limits.
		if y := at.Year(); ok && (y < MinYear-1 || y > 10000) {
			t.Fatalf("%q: year %d", s, y)
		}
	})
}
