package simulate

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/geo/track"
)

// roadAlong builds the default road along a line of points in metres.
func roadAlong(t *testing.T, spec road.Spec, line ...orb.Point) *road.Road {
	t.Helper()
	plane := earth.NewPlane(midOcean)
	var fixes []track.Fix
	for i, p := range line {
		fixes = append(fixes, track.Fix{At: plane.From(p), Height: 10 * float64(i)})
	}
	c, err := course.New("", fixes)
	if err != nil {
		t.Fatal(err)
	}
	r, err := road.Build(c, spec)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestLimitsOfAStraightRoad(t *testing.T) {
	r := roadAlong(t, road.Default(), orb.Point{0, 0}, orb.Point{400, 0})
	p := r.Course.Points
	// A line 1 m to the left of the middle of a road of 8 m with 0.30 m kept
	// from each kerb: 2.7 m to the left, 4.7 m to the right.
	line := &taut.Line{
		Points: orb.LineString{{p[0][0], p[0][1] + 1}, {p[1][0], p[1][1] + 1}},
		Along:  []float64{0, 400}, At: []float64{0, 400}, Length: 400,
	}
	ref := Along(r, line)
	for _, at := range []float64{0, 0.3, 77, 200, 399.9, 400} {
		left, right := ref.Limits(at)
		near(t, "left", left, 2.7, 0.001)
		near(t, "right", right, 4.7, 0.001)
	}
	near(t, "height", ref.Height(200), 5, 1e-3)
}

func TestLimitsRoundAStreetCorner(t *testing.T) {
	// Left turn by 90°, kerb radius 5 m and 0.30 m clearance: the inner arc has
	// its centre 9 m left of the middle lines and a radius of 5.3 m.
	r := roadAlong(t, road.Default(), orb.Point{-200, 0}, orb.Point{0, 0}, orb.Point{0, 200})
	v := r.Course.Points[1]
	centre := orb.Point{v[0] - 9, v[1] + 9}
	line := &taut.Line{Points: orb.LineString{{v[0] - 200, v[1] + 3.7}}, Along: []float64{0}, At: []float64{0}}
	add := func(q orb.Point, at float64) {
		n := len(line.Points) - 1
		line.Along = append(line.Along, line.Along[n]+distance(line.Points[n], q))
		line.Points, line.At = append(line.Points, q), append(line.At, at)
	}
	const steps = 30
	for i := range steps + 1 {
		sin, cos := math.Sincos(-math.Pi/2 + math.Pi/2*float64(i)/steps)
		add(orb.Point{centre[0] + 5.3*cos, centre[1] + 5.3*sin}, 191+18*float64(i)/steps)
	}
	from := line.Along[1]
	to := line.Along[len(line.Along)-1]
	add(orb.Point{v[0] - 3.7, v[1] + 200}, 400)
	line.Turns = []taut.Turn{{Number: 1, From: from, To: to, At: (from + to) / 2, Angle: math.Pi / 2}}
	ref := Along(r, line)
	for _, at := range []float64{20, 150, from + 1, (from + to) / 2, to - 1, to + 50} {
		left, _ := ref.Limits(at)
		near(t, "left", left, 0, 0.05)
	}
	_, right := ref.Limits(100)
	near(t, "right on the straight", right, 7.4, 0.01)
	// At the apex the outer edge is the corner of the lines 3.7 m outside; half
	// a metre of the line turns by several degrees, and the nearest edge there counts.
	_, right = ref.Limits((from + to) / 2)
	if corner := 12.7*math.Sqrt2 - 5.3; right > corner+0.01 || right < corner-2 {
		t.Errorf("right at the apex: %g m, the corner is %g m away", right, corner)
	}

	tr, err := Runner{Speed: 4, ApexMiss: 2}.Run(ref, Rand(1, 1))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "miss", tr.Turns[0].Miss, 2, 0.4)
	if tr.Overstep > 0.03 || tr.Extra < 1 || tr.Extra > 6 {
		t.Errorf("overstep %g m, extra %g m", tr.Overstep, tr.Extra)
	}
}

func TestARunnerGoesRoundATurnAroundPoint(t *testing.T) {
	// Out and back on the middle line to a point: the measured line turns on
	// the spot, the runner needs a circle and keeps on the road.
	spec := road.Default()
	spec.Turnarounds = []road.Turnaround{{At: 300}}
	r := roadAlong(t, spec, orb.Point{0, 0}, orb.Point{300, 0}, orb.Point{0, 0})
	p := r.Course.Points
	line := &taut.Line{
		Points: orb.LineString{p[0], p[1], p[2]}, Along: []float64{0, 300, 600}, At: []float64{0, 300, 600}, Length: 600,
		Turns: []taut.Turn{{Number: 1, At: 300, From: 280, To: 320, Angle: math.Pi}},
	}
	ref := Along(r, line)
	for seed := range uint64(6) {
		tr, err := careless().Run(ref, Rand(seed, 1))
		if err != nil {
			t.Fatal(err)
		}
		if tr.Overstep > 0.03 || tr.Turns[0].Extra < 1 || tr.Turns[0].Extra > 25 {
			t.Errorf("seed %d: overstep %g m, extra at the turn %g m", seed, tr.Overstep, tr.Turns[0].Extra)
		}
		if rad := tightest(tr); rad < 0.5 {
			t.Errorf("seed %d: turns with a radius of %g m", seed, rad)
		}
		// It goes round the left-hand way: out on one side, back on the other,
		// and beyond the point or beside it, never short of it by much.
		if tr.Turns[0].Miss < -0.05 {
			t.Errorf("seed %d: turns %g m short of the point", seed, -tr.Turns[0].Miss)
		}
	}
}
