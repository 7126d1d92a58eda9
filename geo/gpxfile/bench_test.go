package gpxfile

import (
	"bytes"
	"fmt"
	"math"
	"runtime"
	"testing"
	"time"

	"github.com/tkrajina/gpxgo/gpx"
)

// drawing is a course of n points drawn every metre; record one with heights,
// times and an extension at every point, as watches write it.
func drawing(n int) []byte {
	var b bytes.Buffer
	b.WriteString(head + "<trk><name>Drawn every metre</name><trkseg>\n")
	for i := range n {
		a := float64(i) * 1e-5
		fmt.Fprintf(&b, "<trkpt lat=\"%.7f\" lon=\"%.7f\"><ele>%.1f</ele></trkpt>\n", 47+0.1*math.Sin(a), 11+0.1*math.Cos(a), 500+20*math.Sin(a*30))
	}
	b.WriteString("</trkseg></trk></gpx>\n")
	return b.Bytes()
}

func recording(n int) []byte {
	var b bytes.Buffer
	b.WriteString(head + "<trk><name>Recorded</name><trkseg>\n")
	for i := range n {
		a := float64(i) * 1e-4
		fmt.Fprintf(&b, "<trkpt lat=\"%.7f\" lon=\"%.7f\">\n <ele>%.1f</ele>\n <time>2031-05-04T%02d:%02d:%02d.000Z</time>\n <extensions><x:a xmlns:x=\"urn:example\"><x:rate>%d</x:rate><x:steps>85</x:steps></x:a></extensions>\n</trkpt>\n",
			47+0.1*math.Sin(a), 11+0.1*math.Cos(a), 500.0, 9+i/3600, i/60%60, i%60, 150+i%10)
	}
	b.WriteString("</trkseg></trk></gpx>\n")
	return b.Bytes()
}

// The library alone stands beside each for comparison in one run.
func BenchmarkRead(b *testing.B) {
	for _, c := range []struct {
		name string
		file []byte
	}{
		{"drawing of 42000 points", drawing(42000)},
		{"record of 12000 points", recording(12000)},
	} {
		b.Run(c.name+"/this package", func(b *testing.B) {
			b.SetBytes(int64(len(c.file)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Read("x.gpx", bytes.NewReader(c.file)); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(c.name+"/library alone", func(b *testing.B) {
			b.SetBytes(int64(len(c.file)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := gpx.ParseBytes(c.file); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// What stays in memory for each point once a file is read.
func BenchmarkMemoryPerPoint(b *testing.B) {
	const n = 1_000_000
	file := drawing(n)
	live := func() uint64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	var per float64
	for b.Loop() {
		before := live()
		f, err := Read("x.gpx", bytes.NewReader(file))
		if err != nil {
			b.Fatal(err)
		}
		per = float64(live()-before) / n
		runtime.KeepAlive(f)
	}
	b.ReportMetric(per, "B/point")
}

func BenchmarkWrite(b *testing.B) {
	f, err := Read("x.gpx", bytes.NewReader(recording(12000)))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	var o bytes.Buffer
	for b.Loop() {
		o.Reset()
		if err := Write(&o, f); err != nil {
			b.Fatal(err)
		}
	}
}

// How long a million points take against the library alone, which reads the
// same file right before or after: the ratio says more than either time.
func BenchmarkAMillionPointsAgainstTheLibrary(b *testing.B) {
	file := drawing(1_000_000)
	var ours, theirs time.Duration
	for b.Loop() {
		began := time.Now()
		if _, err := Read("x.gpx", bytes.NewReader(file)); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(began)
		runtime.GC()
		began = time.Now()
		if _, err := gpx.ParseBytes(file); err != nil {
			b.Fatal(err)
		}
		theirs += time.Since(began)
		runtime.GC()
	}
	b.ReportMetric(ours.Seconds()/theirs.Seconds(), "x-library")
}
