package follow

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"tautline/geo/course"
)

// marathon is a winding course of about n points and 42 km with both legs on
// one street.
func marathon(n int) *course.Course {
	half := make([]orb.Point, 0, n)
	const length = 21_100.0
	x, y := 0.0, 0.0
	for i := range n/2 + 1 {
		half = append(half, orb.Point{x, y})
		a := 1.2*math.Sin(float64(i)/float64(n)*60) + 0.4*math.Sin(float64(i)/float64(n)*410)
		d := length / float64(n/2)
		x, y = x+d*math.Cos(a), y+d*math.Sin(a)
	}
	points := half
	for i := len(half) - 2; i >= 0; i-- {
		points = append(points, half[i])
	}
	return drawn(points...)
}

func BenchmarkMarathon(b *testing.B) {
	for _, points := range []int{1000, 10_000, 42_000} {
		c := marathon(points)
		r := record(1, 1, 4).along(c, 0, c.Length(), 42_200.0/12_600)
		b.Run(fmt.Sprintf("%d_fixes_on_%d_points", len(r.fixes), points), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if m, err := Along(c, r.fixes, Options{}); err != nil || m.Share < 0.98 {
					b.Fatal(err, m.Share)
				}
			}
		})
	}
}

func BenchmarkGrowth(b *testing.B) {
	c := marathon(10_000)
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		v := c.Length() / float64(n)
		r := record(1, 1, 3)
		r.along(c, 0, c.Length(), v)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Along(c, r.fixes, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkPile is the hostile case: everything at one spot that the course
// passes fifty times.
func BenchmarkPile(b *testing.B) {
	c := drawn(every(20, repeat(50, block...))...)
	r := record(1, 1, 5).stand(c, 300, 100_000, true)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Along(c, r.fixes, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkTrack is a day on a 400 m track, every lap drawn.
func BenchmarkTrack(b *testing.B) {
	var lap []orb.Point
	for i := range 61 {
		a := math.Pi * (float64(i)/30 - 0.5)
		x := 42.195
		if i > 30 {
			x = -x
		}
		lap = append(lap, orb.Point{x + 36.8*math.Cos(a), 36.8 * math.Sin(a)})
	}
	lap[60] = lap[0]
	c := drawn(repeat(500, lap...)...)
	r := record(1, 1, 4).along(c, 0, c.Length(), c.Length()/86_400)
	b.ReportAllocs()
	for b.Loop() {
		m, err := Along(c, r.fixes, Options{})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(m.Share, "share")
	}
}

// BenchmarkTangle is a course of 100 000 points scribbled over one block, and
// a long record there.
func BenchmarkTangle(b *testing.B) {
	r := record(1, 1, 5)
	points := make([]orb.Point, 100_000)
	for i := range points {
		points[i] = orb.Point{60 * r.rng.Float64(), 60 * r.rng.Float64()}
	}
	c := drawn(points...)
	r.along(c, 0, 2000, 1)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Along(c, r.fixes, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
