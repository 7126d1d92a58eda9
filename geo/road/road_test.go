package road_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/road"
	"tautline/geo/taut"
)

func flat(pts ...orb.Point) *course.Course {
	c := &course.Course{Plane: earth.NewPlane(earth.LatLon{Lat: -33, Lon: 151})}
	at := 0.0
	for i, p := range pts {
		if i > 0 {
			at += math.Hypot(p[0]-pts[i-1][0], p[1]-pts[i-1][1])
		}
		c.Points = append(c.Points, p)
		c.Chainage = append(c.Chainage, at)
		c.Heights = append(c.Heights, math.NaN())
	}
	return c
}

func ptr(v float64) *float64 { return &v }

func solve(t *testing.T, c *course.Course, sp road.Spec) (*road.Road, *taut.Line) {
	t.Helper()
	r, err := road.Build(c, sp)
	if err != nil {
		t.Fatal(err)
	}
	l, err := taut.Solve(r)
	if err != nil {
		t.Fatal(err)
	}
	return r, l
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6f, want %.6f within %g", what, got, want, tol)
	}
}

func TestImpossibleRoadsAreRefusedWithTheirPlace(t *testing.T) {
	c := flat(orb.Point{0, 0}, orb.Point{300, 0}, orb.Point{300, 200})
	nan := math.NaN()
	for _, k := range []struct {
		name  string
		edit  func(*road.Spec)
		rule  road.Rule
		item  road.Item
		index int
		field string
	}{
		{"no width", func(s *road.Spec) { s.Width = 0 }, road.RuleWidth, road.ItemSpec, -1, "Width"},
		{"a width that is no number", func(s *road.Spec) { s.Width = nan }, road.RuleNumber, road.ItemSpec, -1, "Width"},
		{"a width beyond any road", func(s *road.Spec) { s.Width = 1000 }, road.RuleWidth, road.ItemSpec, -1, "Width"},
		{"a negative radius", func(s *road.Spec) { s.CornerRadius = -1 }, road.RuleRadius, road.ItemSpec, -1, "CornerRadius"},
		{"an infinite radius", func(s *road.Spec) { s.CornerRadius = math.Inf(1) }, road.RuleNumber, road.ItemSpec, -1, "CornerRadius"},
		{"a negative clearance", func(s *road.Spec) { s.Clearance.Cone = -0.1 }, road.RuleClearance, road.ItemSpec, -1, "Clearance.Cone"},
		{"clearances that fill the road", func(s *road.Spec) { s.Width = 0.6 }, road.RuleClearance, road.ItemSpec, -1, "Clearance"},
		{"a start off the course", func(s *road.Spec) { s.StartAt = -20 }, road.RuleOnCourse, road.ItemSpec, -1, "StartAt"},
		{"a finish off the course", func(s *road.Spec) { s.FinishAt = 700 }, road.RuleOnCourse, road.ItemSpec, -1, "FinishAt"},
		{"a finish before the start", func(s *road.Spec) { s.StartAt, s.FinishAt = 100, 50 }, road.RuleOrder, road.ItemSpec, -1, "FinishAt"},
		{"a stretch off the course", func(s *road.Spec) {
			s.Stretches = []road.Stretch{{From: 0, To: 10, Width: 5}, {From: 450, To: 900, Width: 5}}
		}, road.RuleOnCourse, road.ItemStretch, 1, "To"},
		{"a stretch that ends before it starts", func(s *road.Spec) { s.Stretches = []road.Stretch{{From: 20, To: 10, Width: 5}} }, road.RuleOrder, road.ItemStretch, 0, "To"},
		{"stretches that contradict each other", func(s *road.Spec) {
			s.Stretches = []road.Stretch{{From: 0, To: 100, Width: 5}, {From: 50, To: 150, Width: 6}}
		}, road.RuleAgree, road.ItemStretch, 1, "Width"},
		{"kerbs on the wrong sides", func(s *road.Spec) {
			s.Stretches = []road.Stretch{{From: 0, To: 100, Left: ptr(-3), Right: ptr(3)}}
		}, road.RuleWidth, road.ItemStretch, 0, "Left"},
		{"a lane off the road", func(s *road.Spec) {
			s.Stretches = []road.Stretch{{From: 0, To: 100, Part: road.Lane, LaneLeft: ptr(9)}}
		}, road.RulePart, road.ItemStretch, 0, "LaneLeft"},
		{"a lane without edges", func(s *road.Spec) { s.Stretches = []road.Stretch{{From: 0, To: 100, Part: road.Lane}} }, road.RulePart, road.ItemStretch, 0, "Part"},
		{"lane edges without a lane", func(s *road.Spec) { s.Stretches = []road.Stretch{{From: 0, To: 100, LaneLeft: ptr(1)}} }, road.RulePart, road.ItemStretch, 0, "Part"},
		{"a lane narrower than its clearances", func(s *road.Spec) {
			s.Stretches = []road.Stretch{{From: 0, To: 100, Part: road.Lane, LaneLeft: ptr(0.2), LaneRight: ptr(-0.2)}}
		}, road.RuleClearance, road.ItemStretch, 0, "Clearance"},
		{"an unknown part", func(s *road.Spec) { s.Stretches = []road.Stretch{{From: 0, To: 100, Part: 77}} }, road.RuleKind, road.ItemStretch, 0, "Part"},
		{"an unknown edge", func(s *road.Spec) { s.Stretches = []road.Stretch{{From: 0, To: 100, LeftEdge: 77}} }, road.RuleKind, road.ItemStretch, 0, "LeftEdge"},
		{"a gate off the road", func(s *road.Spec) { s.Gates = []road.Gate{{At: 100, From: 5, To: 8}} }, road.RulePart, road.ItemGate, 0, "From"},
		{"a gate that is no number", func(s *road.Spec) { s.Gates = []road.Gate{{At: 100, From: nan, To: 8}} }, road.RuleNumber, road.ItemGate, 0, "From"},
		{"a turn-around on a straight", func(s *road.Spec) { s.Turnarounds = []road.Turnaround{{At: 150}} }, road.RuleTurnaround, road.ItemTurnaround, 0, "At"},
		{"two turn-arounds at one place", func(s *road.Spec) { s.Turnarounds = []road.Turnaround{{At: 150}, {At: 150.2}} }, road.RuleAgree, road.ItemTurnaround, 1, "At"},
		{"a kerb of one point", func(s *road.Spec) { s.Kerbs = []road.DrawnKerb{{Line: orb.LineString{{0, 3}}}} }, road.RuleKerb, road.ItemKerb, 0, "Line"},
		{"a kerb on the other side", func(s *road.Spec) {
			s.Kerbs = []road.DrawnKerb{{Left: true, Line: orb.LineString{{0, -3}, {200, -3}}, From: 10, To: 190}}
		}, road.RuleKerb, road.ItemKerb, 0, "Line"},
		{"a kerb far away", func(s *road.Spec) {
			s.Kerbs = []road.DrawnKerb{{Left: true, Line: orb.LineString{{0, 900}, {200, 900}}, From: 10, To: 190}}
		}, road.RuleKerb, road.ItemKerb, 0, "Line"},
	} {
		t.Run(k.name, func(t *testing.T) {
			sp := road.Default()
			k.edit(&sp)
			_, err := road.Build(c, sp)
			var e *road.Error
			if !errors.As(err, &e) {
				t.Fatalf("got %v, want a *road.Error", err)
			}
			if e.Rule != k.rule || e.Item != k.item || e.Index != k.index || e.Field != k.field {
				t.Errorf("got %q of %s %d (%s), want %q of %s %d (%s)", e.Rule, e.Item, e.Index, e.Field, k.rule, k.item, k.index, k.field)
			}
			if e.What == "" || strings.HasSuffix(e.Error(), ".") {
				t.Errorf("message %q", e.Error())
			}
		})
	}
}

func TestStretchesThatSetDifferentThingsMayOverlap(t *testing.T) {
	sp := road.Default()
	sp.Stretches = []road.Stretch{{From: 0, To: 200, Width: 6}, {From: 100, To: 300, CornerRadius: ptr(2)}, {From: 150, To: 250, Part: road.RightHalf}}
	r, _ := solve(t, flat(orb.Point{0, 0}, orb.Point{400, 0}), sp)
	for _, k := range []struct{ at, left, right, radius float64 }{
		{50, 3, -3, 5}, {120, 3, -3, 2}, {170, 0, -3, 2}, {220, 0, -4, 2}, {270, 4, -4, 2}, {350, 4, -4, 5},
	} {
		left, right := r.Lateral(k.at)
		if left != k.left || right != k.right || r.CornerRadius(k.at) != k.radius {
			t.Errorf("at %g m: %g to %g m, radius %g; want %g to %g m, radius %g", k.at, left, right, r.CornerRadius(k.at), k.left, k.right, k.radius)
		}
	}
	if l, _ := r.EdgeKinds(170); l != road.PaintedLine {
		t.Errorf("the middle of the road is a %s", l)
	}
	if l, _ := r.RoadLateral(170); l != 3 {
		t.Errorf("the left kerb is at %g m beside the permitted half", l)
	}
	if l, _ := r.Clearances(170); l != 0.20 {
		t.Errorf("%g m are kept from a painted line", l)
	}
}

func TestAStretchHoldsAtTheEndOfTheCourse(t *testing.T) {
	c := flat(orb.Point{0, 0}, orb.Point{300, 0}, orb.Point{300, 1})
	sp := road.Default()
	sp.Stretches = []road.Stretch{{From: 200, To: 301, Width: 20, LeftEdge: road.Cone}}
	sp.Gates = []road.Gate{{At: 301, From: 6, To: 9}}
	r, err := road.Build(c, sp)
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range []float64{300.5, 301, 310} {
		if left, right := r.RoadLateral(at); left != 10 || right != -10 {
			t.Errorf("the kerbs are at %g and %g m at %g m", left, right, at)
		}
		if left, right := r.EdgeKinds(at); left != road.Cone || right != road.Kerb {
			t.Errorf("the edges are %s and %s at %g m", left, right, at)
		}
	}
	// The finish line, just behind a corner, is as on a road of that width
	// throughout.
	sp.Gates, sp.Stretches[0].LeftEdge = nil, road.AutoEdge
	r, err = road.Build(c, sp)
	if err != nil {
		t.Fatal(err)
	}
	sp.Width, sp.Stretches = 20, nil
	wide, err := road.Build(c, sp)
	if err != nil {
		t.Fatal(err)
	}
	got, want := r.Portals[len(r.Portals)-1], wide.Portals[len(wide.Portals)-1]
	near(t, "left end", math.Hypot(got.Left.P[0]-want.Left.P[0], got.Left.P[1]-want.Left.P[1]), 0, 1e-6)
	near(t, "right end", math.Hypot(got.Right.P[0]-want.Right.P[0], got.Right.P[1]-want.Right.P[1]), 0, 1e-6)
}

func TestAPlaceBeyondTheEndByRoundingIsTheEnd(t *testing.T) {
	c := flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{200, 300})
	sp := road.Default()
	sp.Gates = []road.Gate{{At: 500, From: -2, To: -4}}
	_, at := solve(t, c, sp)
	sp.Gates[0].At = 500.4
	_, beyond := solve(t, c, sp)
	near(t, "to a gate 0.4 m beyond the finish", beyond.Length, at.Length, 0)
	sp.Gates = nil
	_, open := solve(t, c, sp)
	if at.Length == open.Length {
		t.Errorf("the gate at the finish makes no difference to %.3f m", open.Length)
	}
	for _, lines := range [][2]float64{{500.2, 500.8}, {-0.8, -0.2}} {
		sp.StartAt, sp.FinishAt = lines[0], lines[1]
		var e *road.Error
		if _, err := road.Build(c, sp); !errors.As(err, &e) || e.Rule != road.RuleOrder || e.Field != "FinishAt" {
			t.Errorf("from %g to %g m: %v", lines[0], lines[1], err)
		}
	}
}

// A kerb drawn where the width puts it must give the same line.
func TestDrawnKerbsReplaceWidths(t *testing.T) {
	c := flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{200, 300})
	sp := road.Default()
	sp.CornerRadius = 0
	_, want := solve(t, c, sp)
	left, right := orb.LineString{{-5, 4}, {196, 4}, {196, 305}}, orb.LineString{{-5, -4}, {204, -4}, {204, 305}}
	for _, k := range []struct {
		name  string
		kerbs []road.DrawnKerb
	}{
		{"both kerbs", []road.DrawnKerb{{Left: true, Line: left}, {Line: right}}},
		{"the inner kerb only", []road.DrawnKerb{{Left: true, Line: left}}},
		{"drawn against the direction of travel", []road.DrawnKerb{{Left: true, Line: orb.LineString{left[2], left[1], left[0]}}}},
		{"for the corner only", []road.DrawnKerb{{Left: true, Line: left, From: 150, To: 260}}},
	} {
		t.Run(k.name, func(t *testing.T) {
			s := sp
			s.Kerbs = k.kerbs
			if len(k.kerbs) == 2 || k.kerbs[0].From == 0 {
				s.Width = 30 // the widths must not matter
			}
			r, l := solve(t, c, s)
			near(t, "length", l.Length, want.Length, 1e-4)
			a, _ := r.Lateral(180)
			near(t, "left kerb", a, 4, 1e-6)
		})
	}
	// With corners of its own: a bay to run into and an island to run round.
	s := sp
	s.Kerbs = []road.DrawnKerb{{Left: true, Line: orb.LineString{{-5, 4}, {60, 4}, {60, -1}, {80, -1}, {80, 4}, {196, 4}, {196, 305}}}}
	_, l := solve(t, c, s)
	if l.Length <= want.Length+0.01 || l.Length > want.Length+3 {
		t.Errorf("round an island of 5 m: %.3f m against %.3f m", l.Length, want.Length)
	}
}

func TestADrawnKerbHasItsOwnKind(t *testing.T) {
	sp := road.Default()
	sp.Kerbs = []road.DrawnKerb{
		{Left: true, Line: orb.LineString{{20, 3}, {80, 3}}, Edge: road.Cone},
		{Left: true, Line: orb.LineString{{120, 3}, {180, 3}}, Edge: road.PaintedLine},
	}
	r, _ := solve(t, flat(orb.Point{0, 0}, orb.Point{100, 0}, orb.Point{200, 0}), sp)
	// The edges of a piece of the drawing are of one kind, that of a kerb only
	// where the middle of the piece has one.
	for _, k := range []struct {
		at   float64
		want road.EdgeKind
	}{{50, road.Cone}, {150, road.PaintedLine}} {
		if left, right := r.EdgeKinds(k.at); left != k.want || right != road.Kerb {
			t.Errorf("the edges at %g m are %s and %s, want %s and %s", k.at, left, right, k.want, road.Kerb)
		}
	}
}

// A kerb to the left on the way out lies to the right on the way back.
func TestADrawnKerbServesOneWayOfAnOutAndBack(t *testing.T) {
	c := flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{0, 0})
	kerb := orb.LineString{{20, 3}, {180, 3}}
	sp := road.Default()
	sp.Kerbs = []road.DrawnKerb{{Left: true, Line: kerb}}
	r, _ := solve(t, c, sp)
	for _, k := range []struct{ at, left, right float64 }{{100, 3, -4}, {300, 4, -4}} {
		left, right := r.Lateral(k.at)
		near(t, fmt.Sprintf("left edge at %g m", k.at), left, k.left, 1e-9)
		near(t, fmt.Sprintf("right edge at %g m", k.at), right, k.right, 1e-9)
	}
	sp.Kerbs = append(sp.Kerbs, road.DrawnKerb{Line: kerb})
	r, _ = solve(t, c, sp)
	_, right := r.Lateral(300)
	near(t, "right edge at 300 m with the kerb for the way back", right, -3, 1e-9)

	// A left kerb that lies to the right wherever the course passes.
	sp.Kerbs = []road.DrawnKerb{{Left: true, Line: orb.LineString{{20, -3}, {180, -3}}}}
	if _, err := road.Build(flat(orb.Point{0, 0}, orb.Point{200, 0}), sp); err == nil || !strings.Contains(err.Error(), "other side") {
		t.Errorf("a left kerb on the right gives %v", err)
	}
}

// The second lap passes 20 m to the right of the first: the kerb to the left of
// the first is none of its own. Two metres apart they share it.
func TestADrawnKerbIsNoEdgeOfALegBehindAnother(t *testing.T) {
	for _, k := range []struct{ apart, left float64 }{{20, 4}, {2, 5}} {
		c := flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{200, -100}, orb.Point{0, -100}, orb.Point{0, -k.apart}, orb.Point{200, -k.apart})
		sp := road.Default()
		sp.Kerbs = []road.DrawnKerb{{Left: true, Line: orb.LineString{{20, 3}, {180, 3}}}}
		r, _ := solve(t, c, sp)
		left, _ := r.Lateral(100)
		near(t, fmt.Sprintf("left edge of the first lap, %g m apart", k.apart), left, 3, 1e-9)
		left, _ = r.Lateral(c.Length() - 100)
		near(t, fmt.Sprintf("left edge of the second lap, %g m apart", k.apart), left, k.left, 1e-9)
	}
}

func TestADrawnKerbFarFromTheCourseIsRefused(t *testing.T) {
	c := flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{200, 300})
	sp := road.Default()
	sp.Kerbs = []road.DrawnKerb{{Left: true, Line: orb.LineString{{-5, 4}, {196, 4}}}, {Line: orb.LineString{{0, -3000}, {200, -3000}}}}
	_, err := road.Build(c, sp)
	if want := "drawn kerb 2: it lies 3000 m from the course at its nearest"; err == nil || !strings.HasPrefix(err.Error(), want) {
		t.Errorf("error is %v", err)
	}
}

func TestEdgesAreDrawnWithTheirCorners(t *testing.T) {
	r, _ := solve(t, flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{200, 300}), road.Default())
	o := r.Outlines()
	if len(o) != 1 {
		t.Fatalf("%d outlines", len(o))
	}
	for _, p := range o[0].Left {
		// Every point of the inner kerb is on a leg or on the arc of 5 m.
		d := math.Abs(math.Hypot(p[0]-191, p[1]-9) - 5)
		if !(p[0] <= 191+1e-3 && math.Abs(p[1]-4) < 1e-3) && !(p[1] >= 9-1e-3 && math.Abs(p[0]-196) < 1e-3) && d > 1e-3 {
			t.Errorf("%v is not on the kerb", p)
		}
	}
	if first := o[0].Right[0]; math.Hypot(first[0], first[1]+4) > 1e-6 {
		t.Errorf("the right kerb starts at %v", first)
	}
	turned, _ := solve(t, flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{0, 0}), road.Default())
	if n := len(turned.Outlines()); n != 2 {
		t.Errorf("an out-and-back has %d outlines, want 2", n)
	}
}

// Nearly all of the course lies behind the line on which its first leg of 4.5 m
// begins, and ahead of none of its portals.
func TestALineJustBeforeASharpCornerDoesNotCutOffTheRoad(t *testing.T) {
	out := []orb.Point{{0, 0}, {-2.6, 3.7}, {200, 3.5}, {430, 10}, {429, 240}}
	back := []orb.Point{{429, 240}, {430, 10}, {200, 3.5}, {-2.6, 3.7}, {0, 0}}
	for _, k := range []struct {
		name string
		pts  []orb.Point
		lane road.Stretch
	}{
		{"the start", out, road.Stretch{From: 0, To: 420, Width: 12, Part: road.Lane, LaneLeft: ptr(-1)}},
		{"the finish", back, road.Stretch{From: 250, To: flat(back...).Length(), Width: 12, Part: road.Lane, LaneRight: ptr(1)}},
	} {
		sp := road.Default()
		sp.Stretches = []road.Stretch{k.lane}
		c := flat(k.pts...)
		r, l := solve(t, c, sp)
		// Two corners are cut on the inside by half a road each, at most.
		if l.Length < c.Length()-4.6-2*12 || l.Length > c.Length() {
			t.Errorf("%s: %.1f m on a course of %.1f m", k.name, l.Length, c.Length())
		}
		if len(r.Warnings) != 1 || !strings.Contains(r.Warnings[0].What, "sharp corner") {
			t.Errorf("%s: warnings %v", k.name, r.Warnings)
		}
	}
}

func TestHairpinNarrowsTheInnerSideOnly(t *testing.T) {
	r, _ := solve(t, flat(orb.Point{0, 0}, orb.Point{100, 0}, orb.Point{100, 6}, orb.Point{0, 6}), road.Default())
	left, right := r.Lateral(95)
	near(t, "inner edge", left, 3, 0.01)
	near(t, "outer edge", right, -4, 0)
	left, _ = r.Lateral(3)
	near(t, "inner edge far from the hairpin", left, 4, 0)
}

// Drawings that go wrong in ordinary ways.
func TestCrookedDrawingsAreRepaired(t *testing.T) {
	straight := func(extra ...orb.Point) *course.Course {
		pts := []orb.Point{{0, 0}, {100, 0}}
		pts = append(pts, extra...)
		return flat(append(pts, orb.Point{200, 0}, orb.Point{300, 0})...)
	}
	for _, k := range []struct {
		name string
		c    *course.Course
		most float64
	}{
		{"a spike to the side", straight(orb.Point{100.5, 6}, orb.Point{101, 0}), 300.5},
		{"a step back", straight(orb.Point{104, 0.2}, orb.Point{101, 0.1}, orb.Point{110, 0}), 300.5},
		{"a long step back", straight(orb.Point{112, 0.2}, orb.Point{104, 0.1}, orb.Point{130, 0}), 300.5},
		{"a knot", straight(orb.Point{102, 1}, orb.Point{101, 2}, orb.Point{100, 1}, orb.Point{101, 0}), 309},
	} {
		t.Run(k.name, func(t *testing.T) {
			_, l := solve(t, k.c, road.Default())
			if l.Length < 299.9 || l.Length > k.most {
				t.Errorf("%.3f m, want 300 to %.1f m", l.Length, k.most)
			}
		})
	}
}

func TestTurningBackIsKeptHoweverItIsDrawn(t *testing.T) {
	var dense []orb.Point
	for i := range 101 {
		dense = append(dense, orb.Point{float64(i), 0.02 * float64(i%3)})
	}
	for i := 99; i >= 0; i-- {
		dense = append(dense, orb.Point{float64(i), 0.02 * float64(i%2)})
	}
	for _, k := range []struct {
		name string
		c    *course.Course
	}{
		{"two legs", flat(orb.Point{0, 0}, orb.Point{100, 0}, orb.Point{0, 0})},
		{"two legs that part a little", flat(orb.Point{0, 0}, orb.Point{100, 0}, orb.Point{0, 2})},
		{"every metre with a wobble", flat(dense...)},
	} {
		t.Run(k.name, func(t *testing.T) {
			r, l := solve(t, k.c, road.Default())
			near(t, "length", l.Length, 200, 0.05)
			if len(r.TurnBacks()) != 1 || math.Abs(r.TurnBacks()[0].At-100) > 1 {
				t.Errorf("turn-arounds %v", r.TurnBacks())
			}
		})
	}
}

func TestEveryPortalComesAfterTheOneBefore(t *testing.T) {
	for i, c := range []*course.Course{
		flat(orb.Point{0, 0}, orb.Point{60, 0}, orb.Point{60, 12}, orb.Point{20, 20}, orb.Point{90, 40}, orb.Point{90, -60}),
		flat(orb.Point{0, 0}, orb.Point{30, 0}, orb.Point{30, 5}, orb.Point{60, 5}, orb.Point{60, -5}, orb.Point{10, -30}),
	} {
		r, err := road.Build(c, road.Default())
		if err != nil {
			t.Fatal(err)
		}
		for k := 1; k < len(r.Portals); k++ {
			a, b := r.Portals[k-1], r.Portals[k]
			if b.At < a.At-1e-9 {
				t.Errorf("course %d: chainage falls from %.3f to %.3f m", i, a.At, b.At)
			}
			if math.IsNaN(b.Left.P[0] + b.Left.P[1] + b.Right.P[0] + b.Right.P[1]) {
				t.Errorf("course %d: portal %d is %v", i, k, b)
			}
		}
	}
}

func ExampleBuild() {
	c := flat(orb.Point{0, 0}, orb.Point{200, 0}, orb.Point{200, 300})
	sp := road.Default() // 8 m wide, corners of 5 m, 0.30 m from the kerb
	sp.Stretches = []road.Stretch{{From: 0, To: 150, Part: road.RightHalf}}
	r, err := road.Build(c, sp)
	if err != nil {
		fmt.Println(err)
		return
	}
	left, right := r.Lateral(100)
	fmt.Printf("at 100 m: %.1f to %.1f m beside the drawn course\n", left, right)
	left, right = r.Lateral(180)
	fmt.Printf("at 180 m: %.1f to %.1f m\n", left, right)
	// Output:
	// at 100 m: 0.0 to -4.0 m beside the drawn course
	// at 180 m: 4.0 to -4.0 m
}
