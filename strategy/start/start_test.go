package start

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/inputerr"
	"tautline/geo/interval"
	"tautline/geo/published"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %.6g, want %.6g within %.3g", what, got, want, tolerance)
	}
}

// waveSpeed is how fast the start runs back through standing people, m/s: from
// memory, unchecked (Bain and Bartolo 2019).
const waveSpeed = 1.2

// criticalDensity is the density behind the start wave, runners per square
// metre; startWave its speed backwards at a density; queueDelay the delay of who
// stands so many metres behind the line. Lighthill-Whitham-Richards, triangular
// diagram.
func criticalDensity(flow, jog float64) float64 { return flow / jog }
func startWave(flow, density, jog float64) float64 {
	return flow / (density - criticalDensity(flow, jog))
}
func queueDelay(behind, density, flow float64) float64 { return behind * density / flow }

// spread is the standard deviation of arrival times at a distance and the peak
// flow of n people who start together and never meet.
func spread(n, mean, deviation, distance float64) (sd, peak float64) {
	sd = deviation * distance / (mean * mean)
	return sd, n / (math.Sqrt(2*math.Pi) * sd)
}

// Closed forms of the queue (Lighthill-Whitham-Richards, triangular diagram),
// worked out by hand.
func TestQueues(t *testing.T) {
	queue := func(what, unit, want string, within, ours float64) {
		t.Helper()
		published.Check(t, published.Figure{Source: "Lighthill, Whitham and Richards, triangular diagram", Trust: published.Exact, What: what, Unit: unit, Value: want, Tolerance: within}, ours)
	}
	queue("5000 runners over 8 m at 100 a minute and metre", "s", "375", 1e-9, delay(5000, 100.0/60, 8))
	queue("8000 runners over 20 m at 1.7 a second and metre", "s", "235", 0.5, delay(8000, 1.7, 20))
	queue("8000 runners over 20 m at 2.533 a second and metre", "s", "158", 0.5, delay(8000, 2.533, 20))
	near(t, "critical density", criticalDensity(2, 2.5), 0.8, 1e-12)
	near(t, "start wave", startWave(2, 3, 2.5), 0.90909, 1e-5)
	near(t, "delay of a metre", queueDelay(1, 3, 2), 1.5, 1e-12)
	near(t, "start wave of another", startWave(1.7, 2.5, 3), 0.87931, 1e-5)
	near(t, "its delay of a metre", queueDelay(1, 2.5, 1.7), 1.470588, 1e-6)
	near(t, "delay of a metre of the observed pair", queueDelay(1, greatestDensity, greatestFlow), 1.188, 5e-4)
	near(t, "jog that the observed pair and wave need", 1/(greatestDensity/greatestFlow-1/waveSpeed), jogSpeed, 0.03)
	rapid.Check(t, func(t *rapid.T) {
		q, v := rapid.Float64Range(1, 3).Draw(t, "flow"), rapid.Float64Range(1.5, 4).Draw(t, "jog")
		rho := q/v + rapid.Float64Range(0.3, 3).Draw(t, "more density")
		x := rapid.Float64Range(1, 300).Draw(t, "behind")
		if sum := x/startWave(q, rho, v) + x/v; math.Abs(sum-queueDelay(x, rho, q)) > 1e-9*sum {
			t.Errorf("wave and way take %.6f s, the queue %.6f s", sum, queueDelay(x, rho, q))
		}
	})
}

// Five chip-timed marathons of 5000 to 17000 cleared in about 420 s (Stone
// 1999, informal): 12 to 40 runners a second, which the published flows give on
// roads of 5 to 24 m.
func TestPublishedFlowsClearObservedFieldsOnRealRoads(t *testing.T) {
	for people, width := range map[float64]float64{5000: 6, 17000: 19} {
		q := defaultFlow()
		a, b := delay(people, q.High, width), delay(people, q.Low, width)
		observed := func(what, value string, ours float64) {
			t.Helper()
			published.Check(t, published.Figure{Source: "Stone 1999, five marathons cleared in about 420 s (informal)", Trust: published.Read,
				What: fmt.Sprintf("%.0f people over %.0f m, %s flow", people, width, what), Unit: "s", Value: value}, ours)
		}
		observed("greatest", "at most 420", a)
		observed("least", "at least 420", b)
	}
}

// Why the diagram of walking crowds is not used for starts: what it lets pass
// is less than was seen, and its start wave is far too slow. The formula and
// its figures are Weidmann's (1993, from memory).
func TestTheWalkingDiagramDoesNotFitRunningStarts(t *testing.T) {
	speed := func(rho float64) float64 { return 1.34 * (1 - math.Exp(-1.913*(1/rho-1/5.4))) }
	most, at := 0.0, 0.0
	for rho := 0.01; rho < 5.4; rho += 0.0001 {
		if j := rho * speed(rho); j > most {
			most, at = j, rho
		}
	}
	near(t, "the most that walking lets pass", most, 1.22492, 1e-5)
	near(t, "its density", at, 1.7507, 5e-4)
	if ratio := leastFlow / most; ratio < 1.35 {
		t.Errorf("the least flow seen is %.2f times what walking lets pass", ratio)
	}
	if ratio := greatestFlow / most; ratio < 2 {
		t.Errorf("the greatest flow seen is %.2f times what walking lets pass", ratio)
	}
	for rho := 2.0; rho <= 3; rho += 0.1 {
		slope := ((rho+1e-5)*speed(rho+1e-5) - (rho-1e-5)*speed(rho-1e-5)) / 2e-5
		if wave := -slope; wave > 0.35 {
			t.Errorf("walking has a start wave of %.2f m/s at %.1f per square metre: near the %.1f that is seen", wave, rho, waveSpeed)
		}
	}
	if defaultFlow().Low <= most {
		t.Error("the flow used is one of walking")
	}
}

// The flows with waves are below what walking lets pass: nobody queued, so they
// say how many came. A line that gives one is told so.
func TestFlowsWithWavesAreToldToBeDemand(t *testing.T) {
	l := field()
	l.Flow = interval.Estimate{Value: 48.0 / 60, Low: 36.0 / 60, High: mostWaveFlow}
	a, err := Advise(l, Runner{Pace: 0.3, Distance: 10000}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Notes) != 1 {
		t.Errorf("notes %q", a.Notes)
	}
}

func field() Line {
	return Line{Width: 8, Pens: []Pen{
		{Name: "A", Fastest: 0.19, Slowest: 0.25, People: 400},
		{Name: "B", Fastest: 0.25, Slowest: 0.31, People: 1200},
		{Name: "C", Fastest: 0.31, Slowest: 0.37, People: 1400},
		{Name: "D", Fastest: 0.37, People: 1000},
	}}
}

func TestWeaving(t *testing.T) {
	near(t, "a hundred moves of a metre over ten", weave(100, 1, 10), 4.988, 0.001)
	// n a²/(2 l), the first term of the series.
	near(t, "the same by the short form", weave(100, 1, 10), 100*1.0/(2*10), 0.02)
	near(t, "no moves", weave(0, 1, 10), 0, 0)
}

func TestAFieldThatSpreads(t *testing.T) {
	sd, peak := spread(5000, 3, 0.45, 1000)
	near(t, "spread at 1 km", sd, 50, 1e-9)
	near(t, "peak flow at 1 km", peak, 39.9, 0.05)
	sd, peak = spread(5000, 3, 0.45, 3000)
	near(t, "spread at 3 km", sd, 150, 1e-9)
	near(t, "peak flow at 3 km", peak, 13.3, 0.05)
	near(t, "where 5000 have thinned to 2 a second and metre on 10 m", thinned(5000, 3, 0.45, 2, 10), 1995, 1)
	// Relative speed of two random runners, 2 s/√π, is what the passing rests
	// on: here by a sum over pairs.
	rng := rand.New(rand.NewPCG(4, 0))
	var sum float64
	const n = 200000
	for range n {
		sum += math.Abs(0.45 * (rng.NormFloat64() - rng.NormFloat64()))
	}
	near(t, "mean relative speed", sum/n, 2*0.45/math.Sqrt(math.Pi), 0.003)
}

// A simulated field against the closed forms: standing rows, a start wave, a
// jog to the line.
func TestSimulatedRowsCrossWhenTheClosedFormSays(t *testing.T) {
	const rho, q, v, width, people = 2.5, 2.0, 2.8, 8.0, 3000
	wave := startWave(q, rho, v)
	row := 1 / math.Sqrt(rho) // m between rows, each of width·√ρ people
	perRow := width * math.Sqrt(rho)
	const dt = 0.01
	n := int(people / perRow)
	at := make([]float64, n)
	crossed := make([]float64, n)
	for i := range at {
		at[i] = float64(i) * row
		crossed[i] = -1
	}
	for now := 0.0; now < 1000 && crossed[n-1] < 0; now += dt {
		front := wave * now
		for i := range at {
			if crossed[i] < 0 && float64(i)*row <= front {
				if at[i] -= v * dt; at[i] <= 0 {
					crossed[i] = now
				}
			}
		}
	}
	for _, i := range []int{0, n / 4, n / 2, n - 1} {
		near(t, fmt.Sprintf("row %d of %d", i, n), crossed[i], queueDelay(float64(i)*row, rho, q), 0.05+0.002*crossed[i])
		near(t, fmt.Sprintf("row %d of %d by the people ahead", i, n), crossed[i], delay(float64(i)*perRow, q, width), 0.05+0.002*crossed[i])
	}
}

// A simulated field of people who run their own paces from the line on.
func TestSimulatedPassesAgreeWithTheClosedForm(t *testing.T) {
	const seed = 11
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	l := field()
	flow := defaultFlow().Value
	type person struct{ crosses, pace float64 }
	const fields = 30
	type key struct {
		place    int
		distance float64
	}
	sums := map[key][2]float64{}
	places := []int{0, 300, 1000, 2200, 3900}
	distances := []float64{500, 1500, 4000}
	const own = 0.28
	for range fields {
		var people []person
		for i, p := range l.Pens {
			slowest := p.Slowest
			if i == len(l.Pens)-1 {
				slowest = p.Fastest * 1.25
			}
			mean := (p.Fastest + slowest) / 2
			sd := math.Hypot((slowest-p.Fastest)/math.Sqrt(12), 0.06*mean)
			for range int(p.People) {
				people = append(people, person{float64(len(people)) / (flow * l.Width), mean + sd*rng.NormFloat64()})
			}
		}
		for _, place := range places {
			me := people[place].crosses
			for _, d := range distances {
				k := key{place, d}
				c := sums[k]
				for j, p := range people {
					ends, mine := p.crosses+p.pace*d, me+own*d
					if j < place && ends > mine {
						c[0]++
					}
					if j > place && ends < mine {
						c[1]++
					}
				}
				sums[k] = c
			}
		}
	}
	for k, c := range sums {
		passes, passed := l.passes(own, float64(k.place)/(flow*l.Width), k.distance, flow)
		for i, want := range []float64{passes, passed} {
			got := c[i] / fields
			// Four standard errors of a count and one person.
			near(t, fmt.Sprintf("place %d, %.0f m, %d", k.place, k.distance, i), got, want, 1+4*math.Sqrt(want/fields))
		}
	}
}

func TestWhereToLineUp(t *testing.T) {
	for _, c := range []struct {
		name        string
		pace        float64
		pen         int
		low, high   float64 // people ahead
		notes, more int
	}{
		{"faster than any pen: the very front", 0.18, 0, 0, 0, 1, 2},
		{"in the second pen, a third back", 0.27, 1, 780, 820, 0, 4},
		{"between pens that meet", 0.31, 1, 1590, 1600, 0, 4},
		{"slower than any pen: the very back", 0.7, 3, 3990, 4000, 1, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, err := Advise(field(), Runner{Pace: c.pace, Distance: 10000}, nil)
			if err != nil {
				t.Fatal(err)
			}
			if b := a.Best; b.Pen != c.pen || b.Ahead < c.low || b.Ahead > c.high || len(a.Notes) != c.notes || len(a.Others) != c.more {
				t.Errorf("pen %d, %.0f ahead, notes %q, %d others", b.Pen, b.Ahead, a.Notes, len(a.Others))
			}
		})
	}
}

func TestPensInTheWrongOrderAreTold(t *testing.T) {
	const want = "pen %s stands behind pen %s but is for faster runners only: check their paces and their order"
	pen := func(name string, fastest, slowest float64) Pen {
		return Pen{Name: name, Fastest: fastest, Slowest: slowest, People: 100}
	}
	for _, c := range []struct {
		name          string
		pens          []Pen
		behind, front string // "": in order
	}{
		{"the slowest paces fall", []Pen{pen("A", 0, 0.36), pen("B", 0, 0.24)}, "B", "A"},
		{"the slowest paces rise", []Pen{pen("A", 0, 0.24), pen("B", 0, 0.36)}, "", ""},
		{"the same for both", []Pen{pen("A", 0, 0.3), pen("B", 0, 0.3)}, "", ""},
		{"an open pen between", []Pen{pen("A", 0, 0.36), pen("guests", 0, 0), pen("C", 0, 0.24)}, "C", "A"},
		{"an open pen at the back", []Pen{pen("A", 0, 0.24), pen("B", 0, 0.36), pen("C", 0, 0)}, "", ""},
		{"the fastest paces fall", []Pen{pen("", 0.3, 0), pen("", 0.24, 0)}, "2", "1"},
		{"the fastest paces rise", []Pen{pen("", 0.24, 0), pen("", 0.3, 0)}, "", ""},
		{"slower than all that stand behind", []Pen{pen("A", 0.3, 0), pen("B", 0, 0.3)}, "B", "A"},
		{"wide in front of narrow", []Pen{pen("A", 0.2, 0.4), pen("B", 0.3, 0.4)}, "", ""},
		{"narrow in front of wide", []Pen{pen("A", 0.25, 0.3), pen("B", 0.2, 0.4)}, "", ""},
		{"the first of several", []Pen{pen("A", 0, 0.36), pen("B", 0, 0.3), pen("C", 0, 0.24)}, "B", "A"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := Line{Width: 8, Pens: c.pens}
			for i := range l.Pens {
				if fastest, slowest := l.bounds(i); !(fastest > 0 && fastest < slowest) {
					t.Errorf("pen %d is for %.3f to %.3f s/m", i+1, fastest, slowest)
				}
			}
			a, err := Advise(l, Runner{Pace: 0.27, Distance: 10000}, nil)
			if err != nil {
				t.Fatal(err)
			}
			told := slices.DeleteFunc(slices.Clone(a.Notes), func(n string) bool { return !strings.Contains(n, "stands behind") })
			switch {
			case c.behind == "" && len(told) > 0, c.behind != "" && !slices.Equal(told, []string{fmt.Sprintf(want, c.behind, c.front)}):
				t.Errorf("notes %q", a.Notes)
			case c.behind != "" && len(a.Notes) != 1:
				t.Errorf("of pens in doubt more is told: %q", a.Notes)
			}
		})
	}
	// Who fits a pen stands there, wherever it is.
	l := Line{Width: 8, Pens: []Pen{pen("A", 0, 0.36), pen("B", 0, 0.24)}}
	if a, err := Advise(l, Runner{Pace: 0.22, Distance: 10000}, nil); err != nil || a.Best.Pen != 1 {
		t.Errorf("%+v, %v", a, err)
	}
}

func TestTooFarBackCostsMoreAndTooFarForwardIsPassed(t *testing.T) {
	a, err := Advise(field(), Runner{Pace: 0.28, Distance: 42195}, nil)
	if err != nil {
		t.Fatal(err)
	}
	spots := map[string]Spot{a.Best.Where: a.Best}
	for _, s := range a.Others {
		spots[s.Where] = s
	}
	front, right, back := spots["at the front"], spots["right place"], spots["at the back"]
	if !(front.Passed.Value > right.Passed.Value+100 && right.Passed.Value > back.Passed.Value) {
		t.Errorf("passed by %.0f, %.0f, %.0f", front.Passed.Value, right.Passed.Value, back.Passed.Value)
	}
	if !(back.Crowd.Value > 3*right.Crowd.Value && back.Passes.Value > 2*right.Passes.Value && back.Weave.Value > 2*right.Weave.Value) {
		t.Errorf("right %+v\nback %+v", right, back)
	}
	// "Tens of metres at most": the worst place of this field.
	if back.Weave.Value > 100 {
		t.Errorf("weaving of %.0f m", back.Weave.Value)
	}
	near(t, "delay at the front", front.Delay.Value, 0, 0)
	near(t, "delay at the back", back.Delay.Value, delay(3999, defaultFlow().Value, 8), 1e-6)
	if d := back.Delay; !(d.Low < delay(3999, greatestFlow, 8)+1 && d.High > delay(3999, leastFlow, 8)-1) {
		t.Errorf("the delay's interval is narrower than the published flows: %+v", d)
	}
}

func TestWavesStartAtTheirTime(t *testing.T) {
	l := field()
	l.Pens[2].After = 600
	a, err := Advise(l, Runner{Pace: 0.31001, Distance: 10000}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "delay of the first of a wave", a.Best.Delay.Value, 600, 0.5)
	together, _ := Advise(field(), Runner{Pace: 0.28, Distance: 42195}, nil)
	apart, _ := Advise(l, Runner{Pace: 0.28, Distance: 42195}, nil)
	if !(apart.Best.Over < together.Best.Over) {
		t.Errorf("the crowd thins in %.0f m with a wave and %.0f m without", apart.Best.Over, together.Best.Over)
	}
}

func TestSidesOfTheRoad(t *testing.T) {
	turns := []Turn{{At: 200, Angle: math.Pi / 2}, {At: 250, Angle: math.Pi / 2}, {At: 280, Angle: -math.Pi / 2}, {At: 9000, Angle: -6}}
	a, err := Advise(field(), Runner{Pace: 0.28, Distance: 10000}, turns)
	if err != nil {
		t.Fatal(err)
	}
	s := a.Sides
	// Six metres between the two edges that are run: each radian outside costs
	// six, in the middle three.
	near(t, "left edge", s.Left, 6*math.Pi/2, 1e-9)
	near(t, "right edge", s.Right, 6*math.Pi, 1e-9)
	near(t, "middle", s.Middle, 3*1.5*math.Pi, 1e-9)
	// A road of another width than the line counts by its own.
	narrow := []Turn{{At: 200, Angle: math.Pi / 2, Width: 5}, {At: 280, Angle: -math.Pi / 2}}
	if a, err = Advise(field(), Runner{Pace: 0.28, Distance: 10000}, narrow); err != nil {
		t.Fatal(err)
	}
	near(t, "left edge with a narrow turn", a.Sides.Left, 6*math.Pi/2, 1e-9)
	near(t, "right edge with a narrow turn", a.Sides.Right, 3*math.Pi/2, 1e-9)
	if s.Better != "left" || !s.Known {
		t.Errorf("%+v", s)
	}
}

// What a plan makes of the cost: all of it, most in the first kilometre.
func TestThePlanTakesTheCost(t *testing.T) {
	a, err := Advise(field(), Runner{Pace: 0.28, Distance: 10000}, nil)
	if err != nil {
		t.Fatal(err)
	}
	delay, crowd := a.Best.ForPlan()
	c, err := plan.NewCourse(plan.Route{Official: 10000, Shortest: 10000})
	if err != nil {
		t.Fatal(err)
	}
	marks, _ := plan.Every(1000, 1000, "km", 10000)
	p, err := plan.Make(c, marks, plan.Settings{Goal: 2800, Model: effort.Default(), GunDelay: delay, Crowd: crowd})
	if err != nil {
		t.Fatal(err)
	}
	var sum float64
	for _, s := range p.Splits {
		sum += s.Crowd
	}
	near(t, "the splits' shares", sum, a.Best.Crowd.Value, 0.01*a.Best.Crowd.Value)
	near(t, "the first kilometre's", p.Splits[0].Crowd, a.Best.FirstKm.Value, 0.02*a.Best.Crowd.Value)
	near(t, "gun time", p.Splits[9].Gun, 2800+delay, 0.1)
}

func TestBadStartsAreRefused(t *testing.T) {
	good := Runner{Pace: 0.3, Distance: 10000}
	for _, c := range []struct {
		name   string
		change func(*Line, *Runner)
	}{
		{"no width", func(l *Line, _ *Runner) { l.Width = 0 }},
		{"a width that is no number", func(l *Line, _ *Runner) { l.Width = math.NaN() }},
		{"no pens", func(l *Line, _ *Runner) { l.Pens = nil }},
		{"an empty pen", func(l *Line, _ *Runner) { l.Pens = []Pen{{People: 0}} }},
		{"a pen the wrong way round", func(l *Line, _ *Runner) {
			l.Pens = []Pen{{People: 10, Fastest: 0.4, Slowest: 0.3}}
		}},
		{"waves out of order", func(l *Line, _ *Runner) {
			l.Pens = []Pen{{People: 10, After: 60}, {People: 10, After: 30}}
		}},
		{"endless flow", func(l *Line, _ *Runner) {
			l.Flow = interval.Estimate{Value: math.Inf(1), Low: 1, High: math.Inf(1)}
		}},
		{"no pace", func(_ *Line, r *Runner) { r.Pace = 0 }},
		{"no race", func(_ *Line, r *Runner) { r.Distance = math.NaN() }},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, r := field(), good
			c.change(&l, &r)
			_, err := Advise(l, r, nil)
			var in *inputerr.Error
			if !errors.As(err, &in) {
				t.Errorf("error is %v", err)
			}
		})
	}
}

// Any start gives ordered, finite figures; more people ahead never mean less
// delay.
func TestAnyStartGivesFiguresInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Line{Width: rapid.Float64Range(1, 40).Draw(t, "width")}
		slowest := 0.0
		for range rapid.IntRange(1, 6).Draw(t, "pens") {
			p := Pen{People: float64(rapid.IntRange(1, 20000).Draw(t, "people"))}
			if rapid.Bool().Draw(t, "paced") {
				p.Fastest = math.Max(0.15, slowest)
				p.Slowest = p.Fastest + rapid.Float64Range(0.01, 0.15).Draw(t, "range")
				slowest = p.Slowest
			}
			l.Pens = append(l.Pens, p)
		}
		a, err := Advise(l, Runner{Pace: rapid.Float64Range(0.15, 0.9).Draw(t, "pace"), Distance: rapid.Float64Range(1000, 100000).Draw(t, "distance")}, nil)
		if err != nil {
			t.Fatal(err)
		}
		spots := append([]Spot{a.Best}, a.Others...)
		slices.SortStableFunc(spots, func(x, y Spot) int { return int(x.Ahead - y.Ahead) })
		last := 0.0
		for _, s := range spots {
			for what, e := range map[string]interval.Estimate{"delay": s.Delay, "crowd": s.Crowd, "first km": s.FirstKm, "passes": s.Passes, "passed": s.Passed, "weave": s.Weave} {
				if !(e.Low >= 0 && e.Low <= e.Value+1e-9 && e.Value <= e.High+1e-9 && !math.IsInf(e.High, 1)) {
					t.Errorf("%s at %s: %+v", what, s.Where, e)
				}
			}
			if s.Delay.Value < last {
				t.Errorf("%s crosses before someone in front", s.Where)
			}
			last = s.Delay.Value
		}
	})
}

// Starts whose flow scatters as the published range and whose pens are counted
// with an error: the interval of the delay holds nine in ten.
func TestTheDelayIntervalHoldsOnSimulatedStarts(t *testing.T) {
	const seed, starts = 31, 4000
	rng := rand.New(rand.NewPCG(seed, 0))
	q := defaultFlow()
	scatter := math.Log(q.High/q.Low) / 2 / interval.Z90
	in := 0
	for range starts {
		l := field()
		pace := 0.24 + 0.2*rng.Float64()
		a, err := Advise(l, Runner{Pace: pace, Distance: 10000}, nil)
		if err != nil {
			t.Fatal(err)
		}
		ahead := a.Best.Ahead * (1 + 0.15/interval.Z90*rng.NormFloat64())
		if a.Best.Delay.Holds(delay(ahead, q.Value*math.Exp(scatter*rng.NormFloat64()), l.Width)) {
			in++
		}
	}
	if share := float64(in) / starts; share < 0.87 || share > 0.93 {
		t.Errorf("seed %d: the interval holds %.1f %%", seed, 100*share)
	}
}
