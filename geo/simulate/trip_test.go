package simulate

import (
	"math"
	"testing"

	"tautline/geo/course"
	"tautline/geo/road"
	"tautline/geo/taut"
)

// reference builds the road of an invented course and its shortest line.
func reference(t *testing.T, c Course) Reference {
	t.Helper()
	drawn, err := course.New("", c.Fixes())
	if err != nil {
		t.Fatal(err)
	}
	spec := road.Default()
	spec.Width, spec.CornerRadius = c.Width, c.CornerRadius
	for _, at := range c.Turnbacks {
		spec.Turnarounds = append(spec.Turnarounds, road.Turnaround{At: at})
	}
	r, err := road.Build(drawn, spec)
	if err != nil {
		t.Fatal(err)
	}
	line, err := taut.Solve(r)
	if err != nil {
		t.Fatal(err)
	}
	return Along(r, line)
}

func TestInventedCoursesCanBeRun(t *testing.T) {
	for _, kind := range Kinds() {
		t.Run(kind.String(), func(t *testing.T) {
			for seed := range uint64(4) {
				ref := reference(t, RandomCourse(kind, 5000, Rand(seed, 1)))
				for who, r := range map[string]Runner{"careless": careless(), "careful": {WeaveSD: 0.1, WeaveLength: 30, Speed: 4}} {
					tr, err := r.Run(ref, Rand(seed, 2))
					if err != nil {
						t.Fatalf("seed %d, %s: %v", seed, who, err)
					}
					if tr.Overstep > 0.05 {
						t.Errorf("seed %d, %s: leaves the road by %g m", seed, who, tr.Overstep)
					}
					if rad := tightest(tr); rad < 0.3 {
						t.Errorf("seed %d, %s: turns with a radius of %g m", seed, who, rad)
					}
					for i, turn := range tr.Turns {
						// Nobody gains by more than the smoothing takes, and
						// nobody loses more than half round a circle of 8 m.
						if turn.Extra < -0.5 || turn.Extra > 30 || math.IsNaN(turn.Extra) {
							t.Errorf("seed %d, %s: turn %d of %.2f rad costs %g m", seed, who, i, ref.Turns[i].Angle, turn.Extra)
						}
					}
				}
			}
		})
	}
}
