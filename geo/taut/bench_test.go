package taut_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/tkrajina/gpxgo/gpx"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/geo/track"
)

// town draws a course of straights, street corners and bends with one station
// a metre, as a route planner or a survey would.
func town(stations int, wobble float64) []track.Fix {
	rng := rand.New(rand.NewPCG(7, 42))
	var fixes []track.Fix
	plane := earth.NewPlane(earth.LatLon{Lat: 51, Lon: 3})
	x, y, h := 0.0, 0.0, 0.0
	put := func(n int, turn float64) {
		for range n {
			if len(fixes) == stations {
				return
			}
			p := plane.From([2]float64{x + wobble*rng.NormFloat64(), y + wobble*rng.NormFloat64()})
			// As a file with seven decimals gives them: to the centimetre.
			p.Lat, p.Lon = math.Round(p.Lat*1e7)/1e7, math.Round(p.Lon*1e7)/1e7
			fixes = append(fixes, track.Fix{At: p, Height: 20})
			h += turn / float64(n)
			x, y = x+math.Cos(h), y+math.Sin(h)
		}
	}
	for len(fixes) < stations {
		put(30+rng.IntN(250), 0)
		switch side := float64(1 - 2*rng.IntN(2)); rng.IntN(4) {
		case 0, 1:
			put(5+rng.IntN(8), side*math.Pi/2)
		case 2:
			put(60+rng.IntN(200), side*(0.3+rng.Float64()))
		default:
			put(1, side*math.Pi/2)
		}
	}
	return fixes
}

func document(fixes []track.Fix) []byte {
	var b strings.Builder
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="bench" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>` + "\n")
	for i, f := range fixes {
		fmt.Fprintf(&b, "<trkpt lat=\"%.7f\" lon=\"%.7f\"><ele>%.1f</ele><time>2024-05-05T%02d:%02d:%02dZ</time></trkpt>\n", f.At.Lat, f.At.Lon, f.Height, 8+i/3600%12, i/60%60, i%60)
	}
	b.WriteString("</trkseg></trk></gpx>\n")
	return []byte(b.String())
}

func line(b *testing.B, fixes []track.Fix) *taut.Line {
	c, err := course.New("bench", fixes)
	if err != nil {
		b.Fatal(err)
	}
	r, err := road.Build(c, road.Default())
	if err != nil {
		b.Fatal(err)
	}
	l, err := taut.Solve(r)
	if err != nil {
		b.Fatal(err)
	}
	return l
}

// BenchmarkMarathonEveryMetre builds and solves a marathon drawn every metre;
// BenchmarkParseMarathon is what gpxgo takes to parse the same drawing.
func BenchmarkMarathonEveryMetre(b *testing.B) {
	fixes := town(42195, 0)
	for b.Loop() {
		line(b, fixes)
	}
}

// BenchmarkMarathonWobbly is the same with each station 0.3 m off.
func BenchmarkMarathonWobbly(b *testing.B) {
	fixes := town(42195, 0.3)
	for b.Loop() {
		line(b, fixes)
	}
}

func BenchmarkParseMarathon(b *testing.B) {
	doc := document(town(42195, 0))
	b.SetBytes(int64(len(doc)))
	for b.Loop() {
		if _, err := gpx.ParseBytes(doc); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkStations(b *testing.B) {
	for _, n := range []int{10000, 20000, 40000, 80000} {
		fixes := town(n, 0)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				line(b, fixes)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*n), "ns/station")
		})
	}
}

// BenchmarkScribble is a drawing that turns back at every point. The time for
// a point must not grow with their number.
func BenchmarkScribble(b *testing.B) {
	plane := earth.NewPlane(earth.LatLon{Lat: 47, Lon: -29})
	for _, n := range []int{5000, 10000, 20000} {
		fixes := make([]track.Fix, n)
		for i := range fixes {
			fixes[i] = track.Fix{At: plane.From([2]float64{0.05 * float64(i), 3 * float64(i%2)}), Height: math.NaN()}
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				line(b, fixes)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*n), "ns/point")
		})
	}
}
