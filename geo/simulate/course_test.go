package simulate

import (
	"math"
	"testing"

	"tautline/geo/course"
)

func TestRandomCourses(t *testing.T) {
	for _, kind := range Kinds() {
		t.Run(kind.String(), func(t *testing.T) {
			for seed := range uint64(60) {
				for _, length := range []float64{2000, 10_000, 42_195} {
					c := RandomCourse(kind, length, Rand(seed, 9))
					near(t, "length", c.Length(), length, 1)
					if c.Width < 6 || c.Width > 12 || c.CornerRadius < 3 || c.CornerRadius > 8 {
						t.Errorf("seed %d: width %g m, corner radius %g m", seed, c.Width, c.CornerRadius)
					}
					read, err := course.New("", c.Fixes())
					if err != nil {
						t.Fatal(err)
					}
					near(t, "length on the earth", read.Length(), length, 1.1)
					if len(read.Points) != len(c.Line) {
						t.Errorf("seed %d: %d points read of %d drawn", seed, len(read.Points), len(c.Line))
					}
					checkTurnbacks(t, c)
				}
			}
		})
	}
}

// checkTurnbacks compares the turn-arounds a course tells of with its sharpest
// vertices.
func checkTurnbacks(t *testing.T, c Course) {
	t.Helper()
	var found []float64
	chainage := 0.0
	for i := 1; i+1 < len(c.Line); i++ {
		a, b := minus(c.Line[i], c.Line[i-1]), minus(c.Line[i+1], c.Line[i])
		chainage += math.Hypot(a[0], a[1])
		if math.Abs(angle(a, b)) > 3 {
			found = append(found, chainage)
		}
	}
	if len(found) != len(c.Turnbacks) {
		t.Fatalf("turn-arounds at %v, told of %v", found, c.Turnbacks)
	}
	for i := range found {
		near(t, "turn-around", c.Turnbacks[i], found[i], 1e-6)
	}
	if c.Kind == OutAndBack && (len(found) != 1 || distance(c.Line[0], c.Line[len(c.Line)-1]) > 1e-9) {
		t.Errorf("not out and back: turn-arounds at %v", found)
	}
	if c.Kind == Laps && distance(c.Line[0], c.Line[len(c.Line)-1]) > 1e-6 {
		t.Error("laps that do not close")
	}
}

func BenchmarkRunMarathon(b *testing.B) {
	ref := roadOf(drawn(leg{20_000, math.Pi / 2, 5.3}, leg{22_000, 0, 0}), 8)
	for b.Loop() {
		if _, err := careless().Run(ref, Rand(1, 1)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRecordMarathon(b *testing.B) {
	ref := roadOf(drawn(leg{20_000, math.Pi / 2, 5.3}, leg{22_000, 0, 0}), 8)
	truth, err := careless().Run(ref, Rand(1, 1))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		MidRise().Record(truth, Options{}, Rand(1, 2))
	}
}
