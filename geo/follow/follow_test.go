package follow

import (
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"tautline/geo/course"
)

var (
	street    = drawn(every(50, []orb.Point{{0, 0}, {1500, 0}, {1500, 900}, {3200, 900}})...)
	outBack   = drawn(every(40, []orb.Point{{0, 0}, {1500, 0}, {1500, 1000}, {1500, 0}, {0, 0}})...)
	twoLanes  = drawn(every(40, []orb.Point{{0, 0}, {2000, 0}, {2000, 10}, {0, 10}})...)
	block     = []orb.Point{{0, 0}, {600, 0}, {600, 400}, {0, 400}, {0, 0}}
	oneLap    = drawn(every(30, block)...)
	fourLaps  = drawn(every(30, repeat(4, block...))...)
	twoLaps   = drawn(every(30, repeat(2, block...))...)
	eight     = drawn(every(20, repeat(2, figureEight(300)...))...)
	crossing4 = drawn(every(25, []orb.Point{{0, 0}, {1000, 0}, {1000, 400}, {500, 400}, {500, -400}, {0, -400}})...)
	hairpins  = drawn(every(20, []orb.Point{{0, 0}, {400, 0}, {400, 12}, {0, 12}, {0, 24}, {400, 24}, {400, 36}, {0, 36}})...)
	fine      = drawn(every(1, []orb.Point{{0, 0}, {1500, 0}, {1500, 900}, {700, 900}, {700, 0}, {0, 0}})...)
)

func figureEight(r float64) []orb.Point {
	var p []orb.Point
	for i := range 121 {
		a := 2 * math.Pi * float64(i) / 120
		p = append(p, orb.Point{2 * r * math.Sin(a), r * math.Sin(2*a)})
	}
	p[120] = p[0]
	return p
}

const pace = 3.3 // m/s

// play is a kind of record and what must come of it.
type play struct {
	name   string
	course *course.Course
	play   func(r *recorder, c *course.Course)
	opts   Options
	share  float64 // at least
	upTo   float64 // share at most, 0 for any
	forced float64 // share of the fixes off the course that may be matched
	why    []Why   // of Missing
	quiet  float64 // greatest noise at which it can be told, m; 0 for any
	torn   int     // fixes at which two truths meet
	clock  bool    // cannot be told without times
}

var plays = []play{
	{name: "a street run from end to end", course: street, share: 0.99,
		play: func(r *recorder, c *course.Course) { r.along(c, 0, c.Length(), pace) }},
	{name: "an out-and-back on one line", course: outBack, share: 0.99,
		play: func(r *recorder, c *course.Course) { r.along(c, 0, c.Length(), pace) }},
	{name: "an out-and-back with the legs 10 m apart", course: twoLanes, share: 0.99,
		play: func(r *recorder, c *course.Course) { r.along(c, 0, c.Length(), pace) }},
	{name: "four laps", course: fourLaps, share: 0.99,
		play: func(r *recorder, c *course.Course) { r.along(c, 0, c.Length(), pace) }},
	{name: "two figure eights", course: eight, share: 0.99,
		play: func(r *recorder, c *course.Course) { r.along(c, 0, c.Length(), pace) }},
	{name: "a course that crosses itself", course: crossing4, share: 0.99,
		play: func(r *recorder, c *course.Course) { r.along(c, 0, c.Length(), pace) }},
	{name: "hairpins 12 m apart", course: hairpins, share: 0.97,
		play: func(r *recorder, c *course.Course) { r.along(c, 0, c.Length(), pace) }},
	{name: "a course drawn every metre", course: fine, share: 0.99,
		play: func(r *recorder, c *course.Course) { r.along(c, 0, c.Length(), pace) }},
	{name: "a short underpass", course: outBack, share: 0.99,
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, 700, pace).silent(13).along(c, 740, c.Length(), pace)
		}},
	{name: "a lost signal over 400 m", course: outBack, share: 0.90, upTo: 0.93, why: []Why{NoFixes},
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, 700, pace).silent(120).along(c, 1100, c.Length(), pace)
		}},
	{name: "a lost signal round the turn", clock: true, course: outBack, share: 0.90, upTo: 0.96, why: []Why{NoFixes},
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, 2400, pace).silent(60).along(c, 2600, c.Length(), pace)
		}},
	{name: "a fix every 60 s", clock: true, course: outBack, share: 0.94,
		play: func(r *recorder, c *course.Course) { r.every = 60; r.along(c, 0, c.Length(), pace) }},
	{name: "a fix every 30 s on four laps", course: fourLaps, share: 0.94,
		play: func(r *recorder, c *course.Course) { r.every = 30; r.along(c, 0, c.Length(), pace) }},
	{name: "a fix every 5 s on two lanes", course: twoLanes, share: 0.99,
		play: func(r *recorder, c *course.Course) { r.every = 5; r.along(c, 0, c.Length(), pace) }},
	{name: "a detour round a block", course: street, share: 0.85, upTo: 0.93, forced: 0.3, why: []Why{OffCourse},
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, 600, pace).by(pace, orb.Point{600, 0}, orb.Point{600, 200}, orb.Point{1000, 200}, orb.Point{1000, 0}).along(c, 1000, c.Length(), pace)
		}},
	{name: "a wrong turn and back", course: outBack, share: 0.98, forced: 0.3,
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, 1500, pace).by(pace, orb.Point{1500, 0}, orb.Point{1900, 0}, orb.Point{1500, 0}).along(c, 1500, c.Length(), pace)
		}},
	{name: "a wrong turn onto a later part of the course", course: crossing4, share: 0.97, forced: 0.3,
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, 500, pace).by(pace, orb.Point{500, 0}, orb.Point{500, -300}, orb.Point{500, 0}).along(c, 500, c.Length(), pace)
		}},
	{name: "a way back along the course for a lost glove", course: outBack, share: 0.98, forced: 1,
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, 900, pace).along(c, 900, 700, pace).onto(c, 700, 900, pace, false)
			r.along(c, 900, c.Length(), pace)
		}},
	{name: "bursts of fixes thrown 50 to 300 m away", course: outBack, share: 0.98, forced: 0.2,
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, 300, pace).throw(1, 60).along(c, 300, 900, pace).throw(3, 300).along(c, 900, 1700, pace)
			r.throw(4, 90).along(c, 1700, 3100, pace).throw(5, 150).along(c, 3100, c.Length(), pace)
		}},
	{name: "a first fix far away", course: outBack, share: 0.98, forced: 0.01,
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, pace*2.5, pace).throw(2, 250).along(c, pace*2, c.Length(), pace)
		}},
	{name: "ten minutes in the corral", course: oneLap, share: 0.98, forced: 1,
		play: func(r *recorder, c *course.Course) {
			r.stand(c, -25, 600, false).along(c, -25, 0, 1.2)
			r.along(c, 0, c.Length(), pace)
		}},
	{name: "a warm-up along the course and back", course: outBack, share: 0.98, forced: 0.25,
		play: func(r *recorder, c *course.Course) {
			r.onto(c, 0, 600, 2.6, false).along(c, 600, 0, 2.6).stand(c, 0, 120, false)
			r.along(c, 0, c.Length(), pace)
		}},
	{name: "three strides up and down on a lap course", quiet: 6, course: fourLaps, share: 0.98, forced: 0.35,
		play: func(r *recorder, c *course.Course) {
			for range 3 {
				r.onto(c, 0, 100, 4, false).along(c, 100, 0, 2)
			}
			r.along(c, 0, c.Length(), pace)
		}},
	{name: "a warm-up elsewhere and a walk on after the finish", course: oneLap, share: 0.98, forced: 0.3,
		play: func(r *recorder, c *course.Course) {
			r.by(2.5, orb.Point{-300, 300}, orb.Point{-300, 0}, orb.Point{0, 0}).along(c, 0, c.Length(), pace)
			r.by(1.4, orb.Point{0, 0}, orb.Point{0, -300})
		}},
	{name: "a walk back along the course after the finish", course: street, share: 0.98, forced: 0.3,
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, c.Length(), pace).along(c, c.Length(), c.Length()-500, 1.4)
		}},
	{name: "a walk on into the next lap after the finish", course: oneLap, share: 0.98, forced: 0.35,
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, c.Length(), pace).onto(c, 0, 300, 1.4, false)
		}},
	{name: "start and finish lines inside the drawn course", course: street, share: 0.98, opts: Options{StartAt: 200, FinishAt: 3900},
		play: func(r *recorder, c *course.Course) { r.along(c, 120, 4000, pace) }},
	{name: "a record that starts at km 3", course: outBack, share: 0.37, upTo: 0.42, why: []Why{BeforeRecord},
		play: func(r *recorder, c *course.Course) { r.along(c, 3000, c.Length(), pace) }},
	{name: "a watch that died at km 3", course: outBack, share: 0.57, upTo: 0.62, why: []Why{AfterRecord},
		play: func(r *recorder, c *course.Course) { r.along(c, 0, 3000, pace) }},
	{name: "a course of two laps of which one was run", course: twoLaps, share: 0.48, upTo: 0.52, why: []Why{AfterRecord},
		play: func(r *recorder, c *course.Course) { r.along(c, 0, c.Length()/2, pace) }},
	{name: "three pauses of five minutes", course: outBack, share: 0.98,
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, 800, pace).stand(c, 800, 300, true).along(c, 800, 2350, pace).stand(c, 2350, 300, true)
			r.along(c, 2350, 4000, pace).stand(c, 4000, 300, true).along(c, 4000, c.Length(), pace)
		}},
	{name: "a pause without fixes", course: outBack, share: 0.98,
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, 2450, pace).silent(900).along(c, 2450, c.Length(), pace)
		}},
	{name: "a turn made 150 m early", torn: 2, course: outBack, share: 0.9, upTo: 0.95, why: []Why{LeftOut},
		play: func(r *recorder, c *course.Course) {
			r.along(c, 0, 2350, pace).along(c, 2650, c.Length(), pace)
		}},
}

// TestRecordsAreFollowed holds each kind of record, made with a known truth,
// against its match, with and without times.
func TestRecordsAreFollowed(t *testing.T) {
	for _, p := range plays {
		for _, noise := range []float64{1, 3, 6, 12} {
			if p.quiet > 0 && noise > p.quiet {
				continue
			}
			for seed := range uint64(3) {
				p.check(t, noise, seed, true)
				if !p.clock {
					p.check(t, noise, seed, false)
				}
			}
		}
	}
}

// check plays one record and follows it. A fix is right within 4 sigma of its
// noise, or 10 m, of its true chainage; corners drawn as one point account for
// the 10 m.
func (p play) check(t *testing.T, noise float64, seed uint64, timed bool) {
	t.Helper()
	r := record(seed, 1, noise)
	p.play(r, p.course)
	name := p.name
	if !timed {
		name += ", without times"
		for i := range r.fixes {
			r.fixes[i].T = math.NaN()
		}
	}
	m, err := Along(p.course, r.fixes, p.opts)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	v := judge(m, r.truth, max(10, 4*noise), max(60, 8*noise))
	fail := func(format string, args ...any) {
		t.Helper()
		t.Errorf("%s, noise %g m, seed %d: "+format, append([]any{name, noise, seed}, args...)...)
	}
	if float64(v.near) < 0.95*float64(v.known) {
		fail("%d of %d fixes are near, %d missed, worst %.0f m", v.near, v.known, v.missed, v.worst)
	}
	if v.wrong > p.torn {
		fail("%d of %d fixes are on another leg, worst %.0f m", v.wrong, v.known, v.worst)
	}
	if v.without > 0 && p.forced < 1 && float64(v.forced) > p.forced*float64(v.without)+noise {
		fail("%d of %d fixes off the course are matched", v.forced, v.without)
	}
	loose := 0.004 * noise
	if m.Share < p.share-loose || (p.upTo > 0 && m.Share > p.upTo+loose) {
		fail("share %.3f, want %.2f to %.2f; missing %v", m.Share, p.share, p.upTo, m.Missing)
	}
	if noise <= 6 && timed && !sameWhys(m.Missing, p.why) {
		fail("missing %v, want %v", m.Missing, p.why)
	}
	if m.Reversed {
		fail("is taken for a record run in reverse")
	}
}

func sameWhys(gaps []Gap, want []Why) bool {
	if len(gaps) != len(want) {
		return false
	}
	for i, g := range gaps {
		if g.Why != want[i] {
			return false
		}
	}
	return true
}

func TestReverseIsRecognised(t *testing.T) {
	for _, c := range []*course.Course{street, oneLap, crossing4, eight} {
		r := record(3, 1, 4).onto(c, c.Length(), 0, pace, true)
		m, err := Along(c, r.fixes, Options{})
		if err != nil {
			t.Fatal(err)
		}
		v := judge(m, r.truth, 16, 60)
		if !m.Reversed || v.wrong > 0 || float64(v.near) < 0.95*float64(v.known) || m.Share < 0.97 {
			t.Errorf("reversed %v, share %.3f, %+v", m.Reversed, m.Share, v)
		}
		if len(m.Notes) == 0 || !strings.Contains(m.Notes[0], "reverse") {
			t.Errorf("notes %q do not say so", m.Notes)
		}
	}
}
