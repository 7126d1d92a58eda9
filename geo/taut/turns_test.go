package taut_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"tautline/geo/road"
	"tautline/geo/taut"
)

// arc draws a bend by an angle at a radius from a point and heading, in steps.
func arc(p orb.Point, heading, angle, radius, step float64) ([]orb.Point, float64) {
	n := int(math.Ceil(math.Abs(angle) * radius / step))
	side := math.Copysign(1, angle)
	cx, cy := p[0]-side*radius*math.Sin(heading), p[1]+side*radius*math.Cos(heading)
	var out []orb.Point
	for i := 1; i <= n; i++ {
		h := heading + angle*float64(i)/float64(n)
		out = append(out, orb.Point{cx + side*radius*math.Sin(h), cy - side*radius*math.Cos(h)})
	}
	return out, heading + angle
}

func dense(pts []orb.Point, step, wobble float64) []orb.Point {
	rng := rand.New(rand.NewPCG(3, 3))
	var out []orb.Point
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		n := max(1, int(math.Hypot(b[0]-a[0], b[1]-a[1])/step))
		for k := range n {
			f := float64(k) / float64(n)
			out = append(out, orb.Point{a[0] + f*(b[0]-a[0]) + wobble*rng.NormFloat64(), a[1] + f*(b[1]-a[1]) + wobble*rng.NormFloat64()})
		}
	}
	return append(out, pts[len(pts)-1])
}

func TestTurnsAreWhereTheCourseTurns(t *testing.T) {
	corner := []orb.Point{{0, 0}, {200, 0}, {200, 300}}
	five := []orb.Point{{0, 0}, {197, 0}, {198.5, .3}, {199.4, .8}, {199.8, 1.5}, {200, 3}, {200, 300}}
	bend := []orb.Point{{0, 0}, {200, 0}}
	more, h := arc(bend[1], 0, math.Pi/3, 80, 3)
	bend = append(bend, more...)
	bend = append(bend, orb.Point{bend[len(bend)-1][0] + 200*math.Cos(h), bend[len(bend)-1][1] + 200*math.Sin(h)})
	swing := []orb.Point{{0, 0}, {200, 0}}
	more, h = arc(swing[1], 0, 0.4, 700, 10)
	swing = append(swing, more...)
	swing = append(swing, orb.Point{swing[len(swing)-1][0] + 200*math.Cos(h), swing[len(swing)-1][1] + 200*math.Sin(h)})
	loop := []orb.Point{{0, 0}, {100, 0}}
	more, _ = arc(loop[1], 0, -2*math.Pi, 30, 2)
	loop = append(append(loop, more...), orb.Point{200, 0})
	for _, k := range []struct {
		name   string
		pts    []orb.Point
		angles []float64 // degrees
		tol    float64
	}{
		{"a corner of one vertex", corner, []float64{90}, 0.01},
		{"a corner of five close vertices", five, []float64{90}, 0.01},
		{"a corner drawn every metre", dense(corner, 1, 0), []float64{90}, 1},
		{"a corner recorded with 0.5 m of scatter", dense(corner, 3, 0.5), []float64{90}, 6},
		{"a bend", bend, []float64{60}, 2},
		{"a swing too gentle to count", swing, nil, 0},
		{"a straight", []orb.Point{{0, 0}, {100, 0}, {200, 1}, {300, 0}}, nil, 0},
		{"a straight recorded with 1 m of scatter", dense([]orb.Point{{0, 0}, {900, 0}}, 3, 1), nil, 0},
		{"left, then right", []orb.Point{{0, 0}, {100, 0}, {100, 50}, {200, 50}}, []float64{90, -90}, 0.01},
		{"two corners a block apart", []orb.Point{{0, 0}, {100, 0}, {100, 40}, {0, 40}}, []float64{90, 90}, 0.01},
		{"a hairpin of two close vertices", []orb.Point{{0, 0}, {100, 0}, {100, 8}, {0, 8}}, []float64{180}, 0.01},
		{"out and back", []orb.Point{{0, 0}, {100, 0}, {0, 0}}, []float64{180}, 0.01},
		{"right round a loop", loop, []float64{-360}, 4},
	} {
		t.Run(k.name, func(t *testing.T) {
			_, l := solve(t, flat(k.pts...), road.Default())
			if len(l.Turns) != len(k.angles) {
				t.Fatalf("%d turns %+v, want %d", len(l.Turns), l.Turns, len(k.angles))
			}
			for i, turn := range l.Turns {
				near(t, fmt.Sprintf("angle %d", i+1), turn.Angle*180/math.Pi, k.angles[i], k.tol)
				if turn.Number != i+1 || (turn.Angle > 0) != (turn.Side == taut.Left) {
					t.Errorf("turn %+v", turn)
				}
				if !(turn.From <= turn.At && turn.At <= turn.To && turn.From >= 0 && turn.To <= l.Length) {
					t.Errorf("turn from %.2f to %.2f m at %.2f m of %.2f m", turn.From, turn.To, turn.At, l.Length)
				}
				if i > 0 && turn.From < l.Turns[i-1].To-1e-9 {
					t.Errorf("turn %d overlaps the one before", i+1)
				}
			}
		})
	}
}

func TestTurnKnowsItsPlaceOnTheLine(t *testing.T) {
	_, l := solve(t, flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{200, 300}), street(8, 5, 0.3))
	turn := l.Turns[0]
	arcLength := 5.3 * math.Pi / 2
	near(t, "middle", turn.At, 191+arcLength/2, 0.05)
	near(t, "chainage", turn.CourseAt, 200, 1e-9)
	near(t, "length", turn.To-turn.From, arcLength+2, 0.1) // a metre on either side
	s := 5.3 / math.Sqrt2
	near(t, "apex east", turn.Apex[0], 191+s, 0.01)
	near(t, "apex north", turn.Apex[1], 9-s, 0.01)
}

func TestPlacesOnTheLineAndOnTheCourseLeadBackToEachOther(t *testing.T) {
	_, l := solve(t, flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{200, 300}), street(8, 5, 0.3))
	for along := 0.5; along < l.Length; along += 0.5 {
		near(t, fmt.Sprintf("%.1f m along the line", along), l.AlongAt(l.CourseAt(along)), along, 1e-6)
	}
	near(t, "before the start", l.CourseAt(-10), 0, 1e-9)
	near(t, "beyond the finish", l.CourseAt(l.Length+10), 500, 1e-9)
}

func TestSensitivityPutsTheDifferenceIntoTheTurns(t *testing.T) {
	c := flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{200, 200}, orb.Point{400, 200}, orb.Point{400, 120})
	r, base := solve(t, c, street(8, 5, 0.3))
	vs := taut.Sensitivity(r, base)
	if len(base.Turns) != 3 || len(vs) != 4 {
		t.Fatalf("%d turns, %d variants", len(base.Turns), len(vs))
	}
	want := map[string]float64{"narrower": 1, "wider": -1, "sharper corners": 1, "rounder corners": -1}
	for _, v := range vs {
		sum := 0.0
		for _, d := range v.ByTurn {
			sum += d
			if d*want[v.Name] <= 0 {
				t.Errorf("%s: %+.3f m in a turn", v.Name, d)
			}
		}
		near(t, v.Name+": sum over the turns", sum, v.Difference, 1e-9)
		near(t, v.Name+": difference", v.Length-base.Length, v.Difference, 1e-9)
	}
	// The first and last corners stand alone: the closed form holds for the
	// pair that is not run diagonally.
	r, one := solve(t, flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{200, 300}), street(8, 5, 0.3))
	vs = taut.Sensitivity(r, one)
	if len(one.Turns) != 1 {
		t.Fatalf("%d turns", len(one.Turns))
	}
	for _, v := range vs {
		near(t, v.Name, v.ByTurn[0], -2*(v.Width/2)+v.Radius*(math.Pi/2-2), 1e-6)
	}
}

func TestSensitivityOfANarrowRoadStopsAtItsClearances(t *testing.T) {
	r, base := solve(t, flat(orb.Point{0, 0}, orb.Point{100, 0}, orb.Point{100, 100}), street(1.22, 0, 0.3))
	vs := taut.Sensitivity(r, base)
	for _, v := range vs {
		if math.IsNaN(v.Length) || v.Name == "narrower" && v.Length < base.Length-1e-9 {
			t.Errorf("%s: %.3f m against %.3f m", v.Name, v.Length, base.Length)
		}
	}
}

func ExampleSolve() {
	// 200 m, a right angle to the left, 300 m, on a street of 8 m whose kerbs
	// are rounded with 5 m.
	c := flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{200, 300})
	r, err := road.Build(c, road.Default())
	if err != nil {
		fmt.Println(err)
		return
	}
	l, err := taut.Solve(r)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("drawn %.1f m, shortest %.1f m\n", l.Centreline, l.Length)
	for _, t := range l.Turns {
		fmt.Printf("turn %d, %s, %.0f° at %.0f m\n", t.Number, t.Side, math.Abs(t.Angle)*180/math.Pi, t.At)
	}
	// Output:
	// drawn 500.0 m, shortest 490.3 m
	// turn 1, left, 90° at 195 m
}
