package review_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/tkrajina/gpxgo/gpx"

	"tautline/geo/gpxfile"
	"tautline/geo/record"
	"tautline/geo/simulate"
	"tautline/geo/track"
	"tautline/strategy/race"
	"tautline/strategy/review"
	"tautline/strategy/sheet"
)

// marathonFiles are a course of about 1000 points and a record of it at 1 Hz.
func marathonFiles(b *testing.B) (course, rec []byte) {
	b.Helper()
	rng := simulate.Rand(3, 11)
	c := simulate.RandomCourse(simulate.Corners, 42195, rng)
	file := &gpxfile.File{Lines: []track.Line{{Name: "course", Segments: [][]track.Fix{c.Fixes()}}}}
	r, err := race.Prepare("course", file, &sheet.Sheet{})
	if err != nil {
		b.Fatal(err)
	}
	runner := simulate.Runner{ApexMiss: 2, ApexSpread: 0.5, WeaveSD: 0.3, WeaveLength: 30, DriftSD: 1, DriftLength: 200, Speed: 3.35}
	truth, err := runner.Run(simulate.Along(r.Road, r.Line), rng)
	if err != nil {
		b.Fatal(err)
	}
	fixes := simulate.TreeLined().Record(truth, simulate.Options{Plane: r.Course.Plane, Decimals: 7, Began: time.Date(2026, 9, 20, 9, 0, 0, 0, time.UTC)}, rng).Fixes
	var one, two bytes.Buffer
	if err := gpxfile.Write(&one, file); err != nil {
		b.Fatal(err)
	}
	if err := gpxfile.Write(&two, &gpxfile.File{Lines: []track.Line{{Segments: [][]track.Fix{fixes}}}}); err != nil {
		b.Fatal(err)
	}
	b.Logf("course of %d points, record of %d fixes", len(c.Line), len(fixes))
	return one.Bytes(), two.Bytes()
}

// BenchmarkReview compares a whole review, reading included, with what gpxgo
// alone takes to parse the two files.
func BenchmarkReview(b *testing.B) {
	course, rec := marathonFiles(b)
	b.Run("review", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			f, err := gpxfile.Read("course", bytes.NewReader(course))
			if err != nil {
				b.Fatal(err)
			}
			r, err := race.Prepare("course", f, &sheet.Sheet{})
			if err != nil {
				b.Fatal(err)
			}
			g, err := gpxfile.Read("record", bytes.NewReader(rec))
			if err != nil {
				b.Fatal(err)
			}
			line, _, err := g.Record()
			if err != nil {
				b.Fatal(err)
			}
			if _, err := review.Of(r, record.Clean(line), review.Options{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("gpxgo alone", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			for _, data := range [][]byte{course, rec} {
				if _, err := gpx.ParseBytes(data); err != nil {
					b.Fatal(err)
				}
			}
		}
	})
}
