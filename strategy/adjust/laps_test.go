package adjust_test

import (
	"math"
	"testing"

	"tautline/geo/gpxfile"
	"tautline/geo/road"
	"tautline/strategy/adjust"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// laid is the demo race: two laps with an out and back round a cone, a gate, a
// lane and streets of different width.
func laid(t *testing.T) *race.Race {
	t.Helper()
	f, err := gpxfile.Open("../demo/files/course.gpx")
	if err != nil {
		t.Fatal(err)
	}
	s, err := sheet.Open("../demo/files/race.toml")
	if err != nil {
		t.Fatal(err)
	}
	r, err := race.Prepare("course.gpx", f, s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A displacement by 1 m moves the ends of every straight only: no drawing of
// two laps may lose a part of one.
func TestNoDisplacedDrawingOfTwoLapsLosesItsWay(t *testing.T) {
	r := laid(t)
	d := adjust.Doubts{Drawing: 1, Reach: 100, Trials: 4}
	for seed := range uint64(60) {
		d.Seed = seed
		s, err := adjust.HowSure(r.Course, r.Road.Spec, d, nil)
		if err != nil {
			t.Fatal(err)
		}
		if s.Trials != d.Trials || len(s.Notes) > 0 {
			t.Fatalf("seed %d: %d of %d drawings used: %v", seed, s.Trials, d.Trials, s.Notes)
		}
		// 90 % half width of the sum over some thirty straights, each changed
		// by 1.4 m at most where it is longer than the reach.
		if !(s.Drawing > 0.5 && s.Drawing < 40) {
			t.Errorf("seed %d: drawings displaced by 1 m change the length by %.1f m", seed, s.Drawing)
		}
	}
}

// A metre more room saves at most a metre for each radian that the course
// turns there.
func TestAMetreMoreRoomOnALapSavesNoMoreThanItsTurns(t *testing.T) {
	r := laid(t)
	ws, err := adjust.Worths(r.Course, r.Road.Spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(ws) == 0 {
		t.Fatal("the demo race has no restriction")
	}
	for i, w := range ws {
		// The mole is straight and run out and back on either lap.
		if round := w.Item == road.ItemTurnaround; round != (i < 2) || round && (w.Index != i || math.Abs(w.PerMetre-2) > 0.01) {
			t.Errorf("%d: %s %d loses %.2f m by a metre", i+1, w.Item, w.Index+1, w.PerMetre)
		}
		if math.IsNaN(w.PerMetre) {
			continue // nothing to loosen
		}
		turned := math.Pi // steps of the width before and after
		for _, x := range r.Line.Turns {
			if x.CourseAt > w.From-60 && x.CourseAt < w.To+60 {
				turned += math.Abs(x.Angle)
			}
		}
		if w.PerMetre < -0.01 || w.PerMetre > turned {
			t.Errorf("%s %d: %.2f m saved by a metre more room, with turns of %.2f rad", w.Item, w.Index+1, w.PerMetre, turned)
		}
	}
}
