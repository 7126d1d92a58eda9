package plan

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/inputerr"
	"tautline/geo/interval"
	"tautline/geo/published"
	"tautline/strategy/effort"
	"tautline/strategy/quantity"
)

// ramps is a ground of straight slopes between points.
type ramps struct{ at, height []float64 }

func (g ramps) Height(at float64) float64 { return interpolate(g.at, g.height, at) }

func (g ramps) sum(from, to, sign float64) interval.Estimate {
	var v float64
	last := g.Height(from)
	step := func(x float64) {
		h := g.Height(x)
		v += math.Max(0, sign*(h-last))
		last = h
	}
	for _, x := range g.at {
		if x > from && x < to {
			step(x)
		}
	}
	step(to)
	return interval.Exact(v)
}

func (g ramps) Climb(from, to float64) interval.Estimate   { return g.sum(from, to, 1) }
func (g ramps) Descent(from, to float64) interval.Estimate { return g.sum(from, to, -1) }

// slopes builds a ground from lengths in metres and gradients.
func slopes(pairs ...float64) (g ramps, length float64) {
	g = ramps{[]float64{0}, []float64{50}}
	h := 50.0
	for i := 0; i < len(pairs); i += 2 {
		length += pairs[i]
		h += pairs[i] * pairs[i+1]
		g.at, g.height = append(g.at, length), append(g.height, h)
	}
	return g, length
}

func must[T any](v T, err error) func(interface {
	Helper()
	Fatal(...any)
}) T {
	return func(t interface {
		Helper()
		Fatal(...any)
	}) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func hilly(t interface {
	Helper()
	Fatal(...any)
}) *Course {
	t.Helper()
	g, length := slopes(2000, 0, 3000, 0.02, 3000, -0.02, 2000, 0)
	return must(NewCourse(Route{Name: "hilly", Official: length, Shortest: length, Ground: g,
		Hills: []Hill{{"", 2000, 5000}}}))(t)
}

func flat(t interface {
	Helper()
	Fatal(...any)
}, official, shortest float64) *Course {
	t.Helper()
	return must(NewCourse(Route{Name: "flat", Official: official, Shortest: shortest}))(t)
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.6f, want %.6f within %.2g", what, got, want, within)
	}
}

// Arithmetic of the model done apart from this code: 10 km of 2 km level, 3 km
// up 2 %, 3 km down 2 %, 2 km level at a flat pace of 300 s/km.
func TestTimeOverAHillByDownhillCredit(t *testing.T) {
	c := hilly(t)
	for credit, want := range map[float64]float64{1: 3009.3, 1.0 / 3: 3068.8, 0: 3102.0} {
		m := effort.Default()
		m.Credit = credit
		s := Settings{FlatPace: 0.3, Model: m}
		r := newRun(c, s)
		near(t, fmt.Sprintf("credit %.2f", credit), r.time(0, len(c.gradient), 1/0.3, 1/0.3), want, 0.05)
		// And back: that time as the goal asks for the flat pace.
		s = Settings{Goal: want, Model: m}
		p := must(Make(c, must(Every(1000, 1000, "km", c.Official))(t), s))(t)
		near(t, "flat pace", 1000*p.FlatPace, 300, 0.01)
	}
}

func TestEverySplitOfAnEvenPlanHasTheSameFlatPace(t *testing.T) {
	c := hilly(t)
	p := must(Make(c, must(Every(1000, 1000, "km", c.Official))(t), Settings{Goal: 3068.8, Model: effort.Default()}))(t)
	for _, s := range p.Splits {
		near(t, s.Mark, 1000*s.FlatPace, 300, 0.02)
		want := 300.0
		switch {
		case s.To > 2000 && s.To <= 5000:
			want = 300 * 4.0082 / 3.6
			near(t, "gradient", s.Gradient, 0.02, 1e-9)
			near(t, "climb", s.Climb.Value, 20, 1e-9)
			near(t, "descent", s.Descent.Value, 0, 1e-9)
		case s.To > 5000 && s.To <= 8000:
			want = 300 / 1.0383
			near(t, "descent", s.Descent.Value, 20, 1e-9)
		}
		near(t, s.Mark+" pace", 1000*s.Pace, want, 0.05)
	}
	if len(p.Warnings) != 0 {
		t.Errorf("an even plan is warned of: %+v", p.Warnings)
	}
}

func TestSplitsAddUpToTheGoal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var pairs []float64
		for range rapid.IntRange(1, 12).Draw(t, "slopes") {
			pairs = append(pairs, rapid.Float64Range(60, 5000).Draw(t, "length"), rapid.Float64Range(-0.09, 0.09).Draw(t, "gradient"))
		}
		pairs = append(pairs, 500, 0)
		g, length := slopes(pairs...)
		official := length * rapid.Float64Range(0.995, 1.005).Draw(t, "official")
		foot := rapid.Float64Range(0, length*0.8).Draw(t, "foot")
		c := must(NewCourse(Route{Official: official, Shortest: length, Ground: g,
			Heading: func(at float64) float64 { return at / 300 },
			Hills:   []Hill{{"", foot, foot + length/10}}}))(t)
		s := Settings{
			Model:     effort.Default(),
			Goal:      math.Round(10*official/rapid.Float64Range(2.4, 4.2).Draw(t, "speed")) / 10,
			Extra:     rapid.Float64Range(0, 0.02).Draw(t, "extra"),
			WatchLong: rapid.Float64Range(-0.01, 0.03).Draw(t, "watch"),
			GunDelay:  rapid.Float64Range(0, 400).Draw(t, "gun"),
			ClimbHold: rapid.Float64Range(0, 0.1).Draw(t, "hold"),
		}
		s.Model.Flex = rapid.Float64Range(0, 0.1).Draw(t, "flex")
		s.Crowd.Seconds = rapid.Float64Range(0, 0.02).Draw(t, "crowd") * s.Goal
		s.FirstHalfShare = rapid.Float64Range(-0.03, 0.03).Draw(t, "half")
		if rapid.Bool().Draw(t, "wind") {
			s.Model.Air = effort.Wind(3.5, rapid.Float64Range(0, 10).Draw(t, "m/s"))
		}
		if rapid.Bool().Draw(t, "hot") {
			s.Day = effort.Day{Heat: true, WBGT: 22}
		}
		for range rapid.IntRange(0, 4).Draw(t, "stops") {
			s.Stops = append(s.Stops, Stop{"aid", rapid.Float64Range(0, official-1).Draw(t, "at"), rapid.Float64Range(0, 30).Draw(t, "s")})
		}
		step := rapid.SampledFrom([]float64{quantity.Kilometre, quantity.Mile, 5 * quantity.Kilometre, 137}).Draw(t, "step")
		marks := must(Every(step, quantity.Kilometre, "km", official))(t)
		p := must(Make(c, marks, s))(t)

		var sum, stops, crowd, own float64
		var shown int
		last := 0.0
		for _, x := range p.Splits {
			sum += x.Split
			shown += x.ShownSplit
			stops += x.Stop
			crowd += x.Crowd
			own += x.Own
			if shown != x.ShownElapsed || math.Abs(sum-x.Elapsed) > 1e-6 || x.Elapsed < last || x.Pace <= 0 {
				t.Fatalf("%+v", x)
			}
			if math.Abs(float64(x.ShownElapsed)-x.Elapsed) > 0.5 {
				t.Fatalf("shown %d for %.1f", x.ShownElapsed, x.Elapsed)
			}
			// The watch's own figures agree with each other.
			if math.Abs(x.WatchPace*x.WatchLap-x.Pace*x.Own) > 1e-6 {
				t.Fatal("watch pace times watch lap is not the running time")
			}
			last = x.Elapsed
		}
		end := p.Splits[len(p.Splits)-1]
		if end.Elapsed != s.Goal || p.Target != s.Goal || end.Mark != Finish || end.To != official {
			t.Fatalf("ends at %v with goal %v", end.Elapsed, s.Goal)
		}
		var want float64
		for _, x := range s.Stops {
			want += x.Seconds
		}
		if math.Abs(stops-want) > 1e-6 || math.Abs(crowd-s.Crowd.Seconds) > 1e-6 || math.Abs(own-p.Own) > 1e-6 {
			t.Fatalf("stops %g of %g, crowd %g of %g, own %g of %g", stops, want, crowd, s.Crowd.Seconds, own, p.Own)
		}

		// The same flat pace without a goal gives the same time to the second,
		// unless the shape of the halves was changed by a share of another time.
		f := s
		f.Goal, f.FlatPace = 0, p.FlatPace
		q := must(Make(c, marks, f))(t)
		if math.Abs(q.Target-p.Target) > 0.5+1e-6 {
			t.Fatalf("goal %v gives a flat pace that gives %v", p.Target, q.Target)
		}
	})
}

func TestAHarderCourseNeedsAFasterFlatPaceAndALongerGoalASlowerOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		goal := rapid.Float64Range(2400, 4500).Draw(t, "goal")
		marks := []Mark{{Finish, 10000}}
		s := Settings{Goal: goal, Model: effort.Default()}
		level := must(Make(flat(t, 10000, 10000), marks, s))(t)
		hill := must(Make(hilly(t), marks, s))(t)
		s.Goal += 10
		longer := must(Make(hilly(t), marks, s))(t)
		if hill.FlatPace >= level.FlatPace || longer.FlatPace <= hill.FlatPace {
			t.Fatalf("level %g, hill %g, hill and ten seconds more %g", level.FlatPace, hill.FlatPace, longer.FlatPace)
		}
	})
}

// Common practice: marks are the official ones, so a path 0.5 % longer is run
// at a pace 0.5 % quicker per own km for the same splits.
func TestTheOwnPathLiesBetweenTheMarksInProportion(t *testing.T) {
	c := flat(t, 10000, 10020)
	marks := must(Every(quantity.Kilometre, quantity.Kilometre, "km", 10000))(t)
	p := must(Make(c, marks, Settings{Goal: 3000, Model: effort.Default(), Extra: 0.003, WatchLong: 0.01}))(t)
	own := 10020 * 1.003
	near(t, "own distance", p.Own, own, 1e-9)
	for _, s := range p.Splits {
		near(t, "split", s.Split, 300, 1e-9)
		near(t, "pace", 1000*s.Pace, 3000/own*1000, 1e-6)
		near(t, "watch lap", s.WatchLap, own/10*1.01, 1e-6)
		near(t, "watch pace", 1000*s.WatchPace, 3000/own*1000/1.01, 1e-6)
		near(t, "watch at the mark", s.Watch, s.To/10000*own*1.01, 1e-6)
	}
	published.Check(t, published.Figure{Source: "marks are the official ones", Trust: published.CommonPractice,
		What: "pace per own km for 10 km in 50:00 on a path 0.5 % longer", Unit: "s/km", Value: "298.5", Tolerance: 0.05}, 1000*p.Splits[0].Pace)
}

func TestAStopBelongsToTheSplitAfterItsMark(t *testing.T) {
	c := flat(t, 10000, 10000)
	marks := must(Every(5*quantity.Kilometre, quantity.Kilometre, "km", 10000))(t)
	p := must(Make(c, marks, Settings{Goal: 3060, Model: effort.Default(), GunDelay: 90,
		Stops: []Stop{{"table", 5000, 45}, {"shoe", 4999, 15}}}))(t)
	near(t, "at 5 km", p.Splits[0].Elapsed, 1515, 1e-9)
	near(t, "at 10 km", p.Splits[1].Elapsed, 3060, 1e-9)
	near(t, "standing before 5 km", p.Splits[0].Stop, 15, 1e-9)
	near(t, "standing after 5 km", p.Splits[1].Stop, 45, 1e-9)
	near(t, "pace", 1000*p.Splits[1].Pace, 300, 1e-9)
	near(t, "by the gun", p.Splits[1].Gun, 3150, 1e-9)
}

// Stone 1999 (informal data): 65 % of the crowd's cost in the first mile and 35
// in the second.
func TestTheCrowdsCostFadesAsReported(t *testing.T) {
	c := flat(t, 42195, 42195)
	marks := must(Every(quantity.Mile, quantity.Mile, "mi", 42195))(t)
	p := must(Make(c, marks, Settings{Goal: 4 * 3600, Model: effort.Default(), Crowd: Crowd{Seconds: 60}}))(t)
	stone := func(what, value string, within, ours float64) {
		t.Helper()
		published.Check(t, published.Figure{Source: "Stone 1999 (informal)", Trust: published.Read, What: what, Value: value, Tolerance: within}, ours)
	}
	stone("share of the crowd's cost in the first mile", "0.65", 0.01, p.Splits[0].Crowd/60)
	stone("share of the crowd's cost in the second mile", "0.35", 0.04, p.Splits[1].Crowd/60)
	near(t, "third mile", p.Splits[2].Crowd/60, 0, 0.04)
	near(t, "tenth mile", p.Splits[9].Crowd, 0, 1e-9)
	// Lost seconds come back evenly over the whole race.
	want := (4*3600 - 60) / 42.195
	near(t, "pace later", 1000*p.Splits[9].Pace, want, 0.01)
	if p.Splits[0].FlatPace <= p.Splits[9].FlatPace {
		t.Error("the crowded mile is not shown as the easier one")
	}
}

func TestAFirstHalfHeldBackMovesItsSecondsToTheSecond(t *testing.T) {
	c := hilly(t)
	marks := must(Points([]Mark{{"half", 5000}}, 10000))(t)
	even := must(Make(c, marks, Settings{Goal: 3068, Model: effort.Default()}))(t)
	for _, s := range []Settings{
		{FirstHalf: 20}, {FirstHalf: -20}, {FirstHalfShare: 0.02},
	} {
		want := s.FirstHalf + s.FirstHalfShare*even.Splits[0].Elapsed
		s.Goal, s.Model = 3068, effort.Default()
		p := must(Make(c, marks, s))(t)
		near(t, "moved", p.Splits[0].Elapsed-even.Splits[0].Elapsed, want, 0.11)
		near(t, "finish", p.Splits[1].Elapsed, 3068, 0)
		near(t, "half", p.Half, p.Splits[0].Elapsed, 0.051)
		near(t, "even pace", p.FlatPace, even.FlatPace, 1e-9)
	}
}

func TestTheFirstThirdOfAClimbIsHeldBackByTheShareAskedFor(t *testing.T) {
	c := hilly(t)
	marks := must(Points([]Mark{{"foot", 2000}, {"third", 3000}, {"crest", 5000}}, 10000))(t)
	p := must(Make(c, marks, Settings{Goal: 3100, Model: effort.Default(), ClimbHold: 0.05}))(t)
	third, rest := p.Splits[1], p.Splits[2]
	near(t, "held", third.Pace/rest.Pace, 1.05, 1e-9)
	near(t, "flat-equivalent", third.FlatPace/rest.FlatPace, 1.05, 1e-9)
	near(t, "before the climb", p.Splits[0].FlatPace, rest.FlatPace, 1e-9)
}

func TestAHotDayLengthensTheTimeOfAFlatPaceByTheStatedShare(t *testing.T) {
	c := flat(t, 42195, 42195)
	marks := []Mark{{Finish, 42195}}
	s := Settings{FlatPace: 10800.0 / 42195, Model: effort.Default()}
	mild := must(Make(c, marks, s))(t)
	s.Day = effort.Day{Heat: true, WBGT: 20}
	hot := must(Make(c, marks, s))(t)
	near(t, "mild", mild.Target, 10800, 0)
	near(t, "hot", hot.Target, 10800*1.0175, 0.5)
	near(t, "flat-equivalent on a hot day", hot.Splits[0].FlatPace, s.FlatPace, 1e-5)
	if !hot.Slowing.Holds(0.0175) || hot.Slowing.Low >= hot.Slowing.Value {
		t.Errorf("%+v", hot.Slowing)
	}
}

func TestAnOutAndBackInWindIsSlowerAndTheWindSideToo(t *testing.T) {
	east := func(at float64) float64 {
		if at > 5000 {
			return math.Pi
		}
		return 0
	}
	c := must(NewCourse(Route{Official: 10000, Shortest: 10000, Heading: east}))(t)
	marks := must(Every(5*quantity.Kilometre, quantity.Kilometre, "km", 10000))(t)
	calm := must(Make(c, marks, Settings{FlatPace: 0.25, Model: effort.Default()}))(t)
	m := effort.Default()
	m.Air = effort.Wind(1.5*math.Pi, 6) // from the west
	windy := must(Make(c, marks, Settings{FlatPace: 0.25, Model: m}))(t)
	if windy.Target <= calm.Target {
		t.Errorf("windy %g, calm %g", windy.Target, calm.Target)
	}
	if windy.Splits[0].Split >= calm.Splits[0].Split || windy.Splits[1].Split <= calm.Splits[1].Split {
		t.Errorf("out %g, back %g", windy.Splits[0].Split, windy.Splits[1].Split)
	}
	near(t, "even effort in wind", windy.Splits[0].FlatPace/windy.Splits[1].FlatPace, 1, 1e-4)
	if _, err := Make(flat(t, 10000, 10000), marks, Settings{FlatPace: 0.25, Model: m}); err == nil {
		t.Error("wind is taken on a course without headings")
	}
	half := must(NewCourse(Route{Official: 10000, Shortest: 10000, Heading: east, Sheltered: func(float64) float64 { return 1 }}))(t)
	still := must(Make(half, marks, Settings{FlatPace: 0.25, Model: m}))(t)
	near(t, "fully sheltered", still.Target, calm.Target, 0)
}

func codes(p *Plan) map[string]bool {
	m := map[string]bool{}
	for _, w := range p.Warnings {
		m[w.Code] = true
		if w.Text == "" || w.Why == "" {
			m["empty"] = true
		}
	}
	return m
}

func TestPlansAgainstTheEvidenceAreWarnedOf(t *testing.T) {
	marathon := flat(t, 42195, 42195)
	g, length := slopes(2000, 0, 600, 0.12, 2400, -0.06, 10000, 0)
	steep := must(NewCourse(Route{Official: length, Shortest: length, Ground: g}))(t)
	loose := effort.Default()
	loose.Credit, loose.Cap = 1, 2
	flex := effort.Default()
	flex.Flex = 0.10
	old := effort.Published(effort.Davies1980, effort.Davies1980)
	for _, c := range []struct {
		what   string
		course *Course
		s      Settings
		want   []string
	}{
		{"even effort on the level", marathon, Settings{Goal: 3.5 * 3600}, nil},
		{"a first half 1.5 % too fast", marathon, Settings{Goal: 3.5 * 3600, FirstHalfShare: -0.015}, []string{FirstHalfFast}},
		{"a first half 3 % too fast", marathon, Settings{Goal: 3.5 * 3600, FirstHalfShare: -0.03}, []string{FirstHalfFast, FastStart}},
		{"a first half held back by 3 %", marathon, Settings{Goal: 3.5 * 3600, FirstHalfShare: 0.03}, []string{FirstHalfSlow}},
		{"too near the critical speed", marathon, Settings{Goal: 3.5 * 3600, CriticalSpeed: 3.5}, []string{OverCritical}},
		{"below the critical speed's guard", marathon, Settings{Goal: 3.5 * 3600, CriticalSpeed: 3.6}, nil},
		{"descents at the whole energetic gain", steep, Settings{Goal: 4200, Model: loose}, []string{FastDescent}},
		{"descents at the default", steep, Settings{Goal: 4200}, nil},
		{"climbs ten percent harder", steep, Settings{Goal: 4200, Model: flex}, nil},
		{"steeper than Davies", steep, Settings{Goal: 4200, Model: old}, []string{SteepGround}},
		{"warm", marathon, Settings{Goal: 4 * 3600, Day: effort.Day{Heat: true, WBGT: 20}}, []string{HotDay}},
		{"too hot", marathon, Settings{Goal: 4 * 3600, Day: effort.Day{Heat: true, WBGT: 29}}, []string{HotDay, DayBeyond}},
		{"a line far from the official distance", flat(t, 42195, 41800), Settings{Goal: 4 * 3600}, []string{LineDiffers}},
		{"walking", marathon, Settings{Goal: 7 * 3600}, []string{SpeedBeyond}},
	} {
		if c.s.Model == (effort.Model{}) {
			c.s.Model = effort.Default()
		}
		p := must(Make(c.course, []Mark{{Finish, c.course.Official}}, c.s))(t)
		got := codes(p)
		for _, w := range c.want {
			if !got[w] {
				t.Errorf("%s: no warning %s in %v", c.what, w, got)
			}
			delete(got, w)
		}
		if len(got) > 0 {
			t.Errorf("%s: also %v", c.what, got)
		}
	}
	// Held back against the plan, the climb's later part exceeds the guard.
	p := must(Make(steep, []Mark{{Finish, length}}, Settings{Goal: 4200, Model: flex, FirstHalfShare: -0.02}))(t)
	if !codes(p)[HardClimb] {
		t.Errorf("no warning of a hard climb: %v", codes(p))
	}
}

// Smyth and Muniz-Pumares 2020 with a critical speed of 4.0 m/s: a first half
// of 93.5 minutes is the limit.
func TestCriticalSpeedGuardAtItsLimit(t *testing.T) {
	c := flat(t, 42195, 42195)
	for minutes, want := range map[float64]bool{93.4: true, 93.6: false} {
		p := must(Make(c, []Mark{{Finish, 42195}}, Settings{Goal: 2 * 60 * minutes, Model: effort.Default(), CriticalSpeed: 4}))(t)
		if codes(p)[OverCritical] != want {
			t.Errorf("first half of %g minutes: warned %v", minutes, !want)
		}
	}
}

func TestATuneUpWithoutItsHillsAndLine(t *testing.T) {
	c := hilly(t)
	m := effort.Default()
	e := must(Level(c, Settings{Goal: 3068.8, Model: m}))(t)
	near(t, "time on the level", e.Time, 3000, 0.1)
	// The same race run 1 % wide and with a 20 s stop is worth more.
	e = must(Level(c, Settings{Goal: 3068.8*1.01 + 20, Model: m, Extra: 0.01, Stops: []Stop{{"lace", 3000, 20}}}))(t)
	near(t, "time on the level", e.Time, 3000, 0.1)
	if _, err := Level(c, Settings{FlatPace: 0.3, Model: m}); err == nil {
		t.Error("a race without a time was taken")
	}
}

func TestMarksAreNamedAndEndAtTheFinish(t *testing.T) {
	names := func(marks []Mark) (s string) {
		for _, m := range marks {
			s += fmt.Sprintf("%s@%.0f;", m.Name, m.At)
		}
		return s
	}
	for _, c := range []struct {
		step, unit float64
		name       string
		official   float64
		want       string
	}{
		{quantity.Kilometre, quantity.Kilometre, "km", 3000, "1 km@1000;2 km@2000;finish@3000;"},
		{quantity.Kilometre, quantity.Kilometre, "km", 2500, "1 km@1000;2 km@2000;finish@2500;"},
		{5 * quantity.Kilometre, quantity.Kilometre, "km", 21097.5, "5 km@5000;10 km@10000;15 km@15000;20 km@20000;finish@21098;"},
		{quantity.Mile, quantity.Mile, "mi", 5000, "1 mi@1609;2 mi@3219;3 mi@4828;finish@5000;"},
		{quantity.Mile / 2, quantity.Mile, "mi", 1700, "0.5 mi@805;1 mi@1609;finish@1700;"},
	} {
		if got := names(must(Every(c.step, c.unit, c.name, c.official))(t)); got != c.want {
			t.Errorf("got %s want %s", got, c.want)
		}
	}
	if twice := must(Points([]Mark{{"square", 5000}, {"square", 5000}, {"mat", 5000}}, 10000))(t); twice[0].Name != "square, mat" {
		t.Errorf("a place that is a table and a mark is called %q", twice[0].Name)
	}
	points := must(Points([]Mark{{"table B", 7000}, {"start", 0}, {"mat", 5000}, {"table A", 5000.4}, {"arch", 9999.9}}, 10000))(t)
	if got := names(points); got != "mat, table A@5000;table B@7000;finish@10000;" {
		t.Error(got)
	}
	if got := names(HillMarks(hilly(t))); got != "climb 1 foot@2000;climb 1 crest@5000;" {
		t.Error(got)
	}
	for _, at := range []float64{10002, -5, math.NaN(), math.Inf(1)} {
		if _, err := Points([]Mark{{"off", at}}, 10000); err == nil {
			t.Errorf("a point at %g was taken", at)
		}
	}
	for _, step := range []float64{0, -1, math.NaN(), 0.5} {
		if _, err := Every(step, 1, "m", 10000); err == nil {
			t.Errorf("a step of %g was taken", step)
		}
	}
}

func TestSettingsThatCannotBeAreRefused(t *testing.T) {
	c := hilly(t)
	nan := math.NaN()
	for name, spoil := range map[string]func(*Settings){
		"no goal":                       func(s *Settings) { s.Goal = 0 },
		"goal and flat pace":            func(s *Settings) { s.FlatPace = 0.3 },
		"a goal that is no number":      func(s *Settings) { s.Goal = nan },
		"a negative goal":               func(s *Settings) { s.Goal = -3000 },
		"a goal beyond anyone":          func(s *Settings) { s.Goal = 900 },
		"a goal of a day":               func(s *Settings) { s.Goal = 86400 },
		"a goal shorter than its stops": func(s *Settings) { s.Stops = []Stop{{"", 1, 3000}} },
		"too much extra":                func(s *Settings) { s.Extra = 0.2 },
		"a watch that reads double":     func(s *Settings) { s.WatchLong = 1 },
		"a negative gun delay":          func(s *Settings) { s.GunDelay = -1 },
		"a crowd without end":           func(s *Settings) { s.Crowd.Seconds = math.Inf(1) },
		"a crowd beyond the course":     func(s *Settings) { s.Crowd.Over = 20000 },
		"a half changed twice":          func(s *Settings) { s.FirstHalf, s.FirstHalfShare = 1, 0.01 },
		"a half changed by too much":    func(s *Settings) { s.FirstHalf = 400 },
		"a hold that is no number":      func(s *Settings) { s.ClimbHold = nan },
		"a stop past the finish":        func(s *Settings) { s.Stops = []Stop{{"", 10000, 5}} },
		"a stop of no length":           func(s *Settings) { s.Stops = []Stop{{"", 100, nan}} },
		"no model":                      func(s *Settings) { s.Model = effort.Model{} },
		"an impossible day":             func(s *Settings) { s.Day = effort.Day{Heat: true, WBGT: 90} },
	} {
		s := Settings{Goal: 3000, Model: effort.Default()}
		spoil(&s)
		var e *inputerr.Error
		if _, err := Make(c, []Mark{{Finish, c.Official}}, s); !errors.As(err, &e) || e.What == "" || e.Advice == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, marks := range map[string][]Mark{
		"no marks":        nil,
		"no finish":       {{"1 km", 1000}},
		"marks backwards": {{"2 km", 2000}, {"1 km", 1000}, {Finish, 10000}},
		"a mark twice":    {{"a", 2000}, {"b", 2000}, {Finish, 10000}},
	} {
		if _, err := Make(c, marks, Settings{Goal: 3000, Model: effort.Default()}); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func TestRoutesThatCannotBeAreRefused(t *testing.T) {
	wall, _ := slopes(1000, 0, 10, 5, 1000, 0)
	for name, r := range map[string]Route{
		"no length":             {Official: 10000},
		"a sprint":              {Official: 100, Shortest: 100},
		"not a number":          {Official: math.NaN(), Shortest: 10000},
		"another course":        {Official: 21097.5, Shortest: 10000},
		"a line backwards":      {Official: 1000, Shortest: 1000, Along: []float64{0, 5, 3}, At: []float64{0, 5, 6}},
		"lists of two lengths":  {Official: 1000, Shortest: 1000, Along: []float64{0, 5}, At: []float64{0}},
		"a wall across the way": {Official: 2010, Shortest: 2010, Ground: wall},
	} {
		var e *inputerr.Error
		if _, err := NewCourse(r); !errors.As(err, &e) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A line that cuts corners runs at another rate than the drawn course: places
// must keep their place on the course.
func TestPlacesKeepTheirPlaceWhereTheLineIsShorterThanTheDrawing(t *testing.T) {
	// The drawing is 1020 m: 500 m, a corner drawn 20 m long that the line
	// takes in 10 m, 500 m.
	c := must(NewCourse(Route{Official: 1000, Shortest: 1010,
		Along: []float64{0, 500, 510, 1010}, At: []float64{0, 500, 520, 1020}}))(t)
	for chainage, want := range map[float64]float64{0: 0, 500: 495.05, 510: 500, 520: 504.95, 1020: 1000} {
		near(t, "official", c.OfficialAt(chainage), want, 0.005)
		near(t, "and back", c.Chainage(c.OfficialAt(chainage)), chainage, 1e-9)
	}
}

func TestASquadGetsOnePlanEachAndOneOverview(t *testing.T) {
	c := hilly(t)
	marks := must(Every(quantity.Kilometre, quantity.Kilometre, "km", 10000))(t)
	var squad []Settings
	for i := range 40 {
		squad = append(squad, Settings{Name: fmt.Sprint("runner ", i), Goal: 3900 - 20*float64(i), Model: effort.Default()})
	}
	squad[7].Goal = -1
	results := Squad(c, marks, squad)
	for i, r := range results {
		if i == 7 {
			if r.Err == nil || r.Plan != nil {
				t.Error("a goal below zero was planned")
			}
			continue
		}
		alone := must(Make(c, marks, squad[i]))(t)
		if r.Err != nil || r.Name != squad[i].Name || r.Plan.FlatPace != alone.FlatPace || r.Plan.Target != squad[i].Goal {
			t.Fatalf("athlete %d: %+v", i, r)
		}
	}
	o := NewOverview(c, marks, results, 4)
	if len(o.Rows) != 39 || len(o.Refused) != 1 || len(o.Marks) != 4 || o.Marks[3].Name != Finish || o.Marks[0].At != 2000 {
		t.Fatalf("%d rows, %d refused, marks %v", len(o.Rows), len(o.Refused), o.Marks)
	}
	for i, r := range o.Rows {
		if i > 0 && r.Target < o.Rows[i-1].Target {
			t.Error("not in the order of targets")
		}
		if len(r.Elapsed) != 4 || r.Elapsed[3] != r.Target {
			t.Errorf("%+v", r)
		}
	}
	if got := Squad(c, marks, nil); len(got) != 0 {
		t.Error("plans for nobody")
	}
}

func marathonCourse(t interface {
	Helper()
	Fatal(...any)
}) *Course {
	t.Helper()
	var pairs []float64
	for i := range 42 {
		pairs = append(pairs, 1000, 0.03*math.Sin(float64(i)))
	}
	g, length := slopes(append(pairs, 195, 0)...)
	return must(NewCourse(Route{Official: 42195, Shortest: length, Ground: g, Heading: func(at float64) float64 { return at / 900 }}))(t)
}

func BenchmarkOneMarathon(b *testing.B) {
	c := marathonCourse(b)
	marks := must(Every(quantity.Kilometre, quantity.Kilometre, "km", c.Official))(b)
	windy := effort.Default()
	windy.Air = effort.Wind(4, 5)
	for name, m := range map[string]effort.Model{"calm": effort.Default(), "windy": windy} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Make(c, marks, Settings{Goal: 12600, Model: m}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkSquadOf1000(b *testing.B) {
	c := marathonCourse(b)
	marks := must(Every(quantity.Kilometre, quantity.Kilometre, "km", c.Official))(b)
	squad := make([]Settings, 1000)
	windy := effort.Default()
	windy.Air = effort.Wind(4, 5)
	for i := range squad {
		squad[i] = Settings{Goal: 9000 + 10*float64(i), Model: windy}
	}
	for b.Loop() {
		for _, r := range Squad(c, marks, squad) {
			if r.Err != nil {
				b.Fatal(r.Err)
			}
		}
	}
}

func TestWhatLiesBeyondItsLimitsIsToldAsPeopleWriteIt(t *testing.T) {
	c := flat(t, 10000, 10000)
	for want, change := range map[string]func(*Settings){
		"the goal is 300:00:00 (it should be 0:00 to 277:46:40)":                                                             func(s *Settings) { s.Goal = 300 * 3600 },
		"the extra distance is 20 % (it should be 0 % to 10 %)":                                                              func(s *Settings) { s.Extra = 0.2 },
		"what the watch reads long is -20 % (it should be -10 % to 10 %)":                                                    func(s *Settings) { s.WatchLong = -0.2 },
		"the distance in which the crowd thins is 50 km (it should be 0 m to 10 km)":                                         func(s *Settings) { s.Crowd.Over = 50000 },
		"the crowd's cost is not a number (it should be 0:00 to 1:00:00)":                                                    func(s *Settings) { s.Crowd.Seconds = math.NaN() },
		"the effort flex uphill is 20 % (it should be 0 % to 10 %)":                                                          func(s *Settings) { s.Model.Flex = 0.2 },
		"a flat pace of 50:00/km is beyond what anyone runs (give one from 2:05/km to 33:20/km, and check its unit)":         func(s *Settings) { s.Goal, s.FlatPace = 0, 3 },
		"a goal of 1:00 over 10 km asks for a pace beyond 2:05/km to 33:20/km on the level":                                  func(s *Settings) { s.Goal = 60 },
		"the stop \"mill\" is at 12 km, off a course of 10 km (give its distance from the start)":                            func(s *Settings) { s.Stops = []Stop{{"mill", 12000, 5}} },
		"a wind of 35 m/s is 17.5 m/s at a runner's height (give one of at most 30 m/s (108 km/h), or leave it out: in more": func(s *Settings) { s.Model.Air = effort.Wind(0, 35) },
	} {
		s := Settings{Goal: 3000, Model: effort.Default()}
		change(&s)
		windy := c
		if s.Model.Air.K > 0 {
			windy = must(NewCourse(Route{Official: 10000, Shortest: 10000, Heading: func(float64) float64 { return 0 }}))(t)
		}
		_, err := Make(windy, must(Every(1000, 1000, "km", 10000))(t), s)
		var in *inputerr.Error
		if !errors.As(err, &in) || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%v\nwant %s", err, want)
		}
	}
}
