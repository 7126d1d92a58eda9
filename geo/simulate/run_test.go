package simulate

import (
	"math"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"
)

// drawn builds a reference line from straights and arcs: pairs of a length (m)
// and an angle (rad) that is turned through, on a radius, after it.
type leg struct{ straight, angle, radius float64 }

func drawn(legs ...leg) Reference {
	r := Reference{Line: orb.LineString{{}}}
	heading, along := 0.0, 0.0
	ahead := func(d float64) {
		sin, cos := math.Sincos(heading)
		p := r.Line[len(r.Line)-1]
		r.Line = append(r.Line, orb.Point{p[0] + d*cos, p[1] + d*sin})
		along += d
	}
	for _, l := range legs {
		ahead(l.straight)
		if l.angle == 0 {
			continue
		}
		from := along
		if l.radius == 0 {
			heading += l.angle
		} else {
			n := int(math.Abs(l.angle)*l.radius/0.5) + 3
			step := l.angle / float64(n)
			for range n {
				heading += step / 2
				ahead(2 * l.radius * math.Sin(math.Abs(step)/2))
				heading += step / 2
			}
		}
		r.Turns = append(r.Turns, Turn{from - 30, along + 30, l.angle})
	}
	return r
}

// roadOf gives a reference a road that the line uses fully at turns: the room
// inside is nothing at the apex and grows away from it, up to width.
func roadOf(r Reference, width float64) Reference {
	r.Limits = func(along float64) (float64, float64) {
		inside, left := width/2, true
		for _, t := range r.Turns {
			d := math.Abs(along - (t.From+t.To)/2)
			half := (t.To-t.From)/2 - 30
			if room := max(d-half, 0) * 0.12; room < inside {
				inside, left = room, t.Angle > 0
			}
		}
		if left {
			return inside, width - inside
		}
		return width - inside, inside
	}
	return r
}

func streets() Reference {
	const right = math.Pi / 2
	return roadOf(drawn(leg{200, right, 5.3}, leg{150, -right, 5.3}, leg{120, 0.6, 60}, leg{180, -0.4, 25},
		leg{200, math.Pi, 0.3}, leg{200, 0.35, 0}, leg{150, -2.3, 12}, leg{100, 0, 0}), 8)
}

func careless() Runner {
	return Runner{
		ApexMiss: 3, ApexSpread: 1, WeaveSD: 0.6, WeaveLength: 20, DriftSD: 1.5, DriftLength: 150,
		Speed: 10.0 / 3, SpeedSD: 0.03, SpeedLength: 500, SideAcceleration: 3,
	}
}

func TestRunParts(t *testing.T) {
	ref := streets()
	for name, r := range map[string]Runner{
		"careless": careless(),
		"careful":  {WeaveSD: 0.1, WeaveLength: 60, Speed: 4},
		"perfect":  {Speed: 4},
		"with corral and run-out": {ApexMiss: 1, Speed: 3, LeadIn: Walk{Distance: 60, Wait: 90, Speed: 1},
			RunOut: Walk{Distance: 40, Wait: 20}},
	} {
		t.Run(name, func(t *testing.T) {
			for seed := range uint64(8) {
				tr, err := r.Run(ref, Rand(seed, 1))
				if err != nil {
					t.Fatal(err)
				}
				checkRun(t, tr, r)
			}
		})
	}
}

func checkRun(t *testing.T, tr Truth, r Runner) {
	t.Helper()
	sum := tr.BetweenTurns
	for _, turn := range tr.Turns {
		sum += turn.Extra
	}
	if math.Abs(sum-tr.Extra) > 1e-9 || math.Abs(tr.Ran-tr.Shortest-tr.Extra) > 1e-9 {
		t.Errorf("turns and the rest add up to %g, extra is %g", sum, tr.Extra)
	}
	// The truth path itself is as long as its parts say.
	whole := 0.0
	for i := 1; i < len(tr.Points); i++ {
		whole += distance(tr.Points[i-1], tr.Points[i])
		if tr.Times[i] <= tr.Times[i-1] || tr.Along[i] < tr.Along[i-1] {
			t.Fatalf("point %d of %d: time %g after %g, along %g after %g", i, len(tr.Points), tr.Times[i], tr.Times[i-1], tr.Along[i], tr.Along[i-1])
		}
	}
	if want := tr.LeadIn + tr.Ran + tr.RunOut; math.Abs(whole-want) > 1e-6 {
		t.Errorf("the path is %g m long, its parts %g m", whole, want)
	}
	if tr.Overstep > 0.03 {
		t.Errorf("the path leaves the road by %g m", tr.Overstep)
	}
	if rad := tightest(tr); rad < 0.9 {
		t.Errorf("the path turns with a radius of %g m", rad)
	}
	if got := -tr.Times[0]; math.Abs(got-(r.LeadIn.Distance/r.LeadIn.speed()+r.LeadIn.Wait)) > 0.2 {
		t.Errorf("the lead-in takes %g s", got)
	}
}

// tightest is the smallest radius of the path, taken over a metre.
func tightest(tr Truth) float64 {
	least := math.Inf(1)
	var line orb.LineString
	for i, p := range tr.Points { // without the repetitions of standing
		if i == 0 || distance(p, line[len(line)-1]) > spacing/2 {
			line = append(line, p)
		}
	}
	for k := 4; k+4 < len(line); k++ {
		a, b := minus(line[k], line[k-4]), minus(line[k+4], line[k])
		turned := math.Abs(angle(a, b))
		least = min(least, (math.Hypot(a[0], a[1])+math.Hypot(b[0], b[1]))/2/max(turned, 1e-9))
	}
	return least
}

func TestAPerfectRunnerRunsTheShortestLine(t *testing.T) {
	// Arcs that a body can run need nothing given back but the pull of the
	// smoothing, and a straight nothing at all.
	for _, c := range []struct {
		name string
		ref  Reference
		most float64 // m
	}{
		{"a straight", drawn(leg{500, 0, 0}), 1e-9},
		{"a wide bend", roadOf(drawn(leg{100, 1, 80}, leg{100, 0, 0}), 8), 0.1},
		{"a street corner with its kerb radius", roadOf(drawn(leg{100, math.Pi / 2, 5.3}, leg{100, 0, 0}), 8), 0.4},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr, err := Runner{Speed: 4}.Run(c.ref, Rand(1, 1))
			if err != nil {
				t.Fatal(err)
			}
			if tr.Extra < -0.01 || tr.Extra > c.most {
				t.Errorf("extra %g m, want 0 to %g", tr.Extra, c.most)
			}
		})
	}
}

func TestMissingTheApexOfALongBendCostsItsAngleTimesTheMiss(t *testing.T) {
	// A bend of angle θ run w outside all the way is w θ longer; blending back
	// adds of the order w²/blend.
	const angle, w = 2.0, 2.0
	ref := roadOf(drawn(leg{200, angle, 80}, leg{200, 0, 0}), 10)
	r := Runner{ApexMiss: w, BlendMin: 25, BlendMax: 25, Speed: 4}
	for seed := range uint64(12) {
		tr, err := r.Run(ref, Rand(seed, 1))
		if err != nil {
			t.Fatal(err)
		}
		if got := tr.Turns[0].Miss; math.Abs(got-w) > 0.15 {
			t.Errorf("seed %d: missed by %g m", seed, got)
		}
		if tr.Extra < angle*w*0.95 || tr.Extra > angle*w+1.2 {
			t.Errorf("seed %d: extra %g m, want about %g", seed, tr.Extra, angle*w)
		}
	}
}

func TestTheSameSeedGivesTheSameRunAndRecord(t *testing.T) {
	ref := streets()
	one, _ := careless().Run(ref, Rand(7, 1))
	two, _ := careless().Run(ref, Rand(7, 1))
	if !slices.Equal(one.Points, two.Points) || !slices.Equal(one.Times, two.Times) {
		t.Error("two runs of one seed differ")
	}
	a, b := Canyon().Record(one, Options{}, Rand(7, 2)), Canyon().Record(two, Options{}, Rand(7, 2))
	if !slices.Equal(a.Points, b.Points) {
		t.Error("two records of one seed differ")
	}
	if c := Canyon().Record(one, Options{}, Rand(8, 2)); slices.Equal(a.Points, c.Points) {
		t.Error("records of two seeds are the same")
	}
}

func TestRunsOfAnyRunnerAddUpAndStayOnTheRoad(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var legs []leg
		for range rapid.IntRange(1, 5).Draw(rt, "turns") {
			legs = append(legs, leg{
				rapid.Float64Range(90, 300).Draw(rt, "straight"),
				rapid.Float64Range(0.3, 2.6).Draw(rt, "angle") * float64(rapid.SampledFrom([]int{-1, 1}).Draw(rt, "side")),
				rapid.SampledFrom([]float64{3.3, 5.3, 20, 60}).Draw(rt, "radius"),
			})
		}
		legs = append(legs, leg{100, 0, 0})
		ref := roadOf(drawn(legs...), rapid.Float64Range(5, 12).Draw(rt, "width"))
		r := Runner{
			ApexMiss: rapid.Float64Range(0, 4).Draw(rt, "miss"), ApexSpread: rapid.Float64Range(0, 1).Draw(rt, "spread"),
			WeaveSD: rapid.Float64Range(0, 0.8).Draw(rt, "weave"), WeaveLength: rapid.Float64Range(15, 60).Draw(rt, "weave length"),
			DriftSD: rapid.Float64Range(0, 2).Draw(rt, "drift"), DriftLength: rapid.Float64Range(100, 500).Draw(rt, "drift length"),
			Speed: rapid.Float64Range(2.5, 5.5).Draw(rt, "speed"), SpeedSD: 0.04, SpeedLength: 400, SideAcceleration: 3,
		}
		tr, err := r.Run(ref, Rand(rapid.Uint64().Draw(rt, "seed"), 1))
		if err != nil {
			rt.Fatal(err)
		}
		sum := tr.BetweenTurns
		for _, turn := range tr.Turns {
			sum += turn.Extra
		}
		if math.Abs(sum-tr.Extra) > 1e-9 {
			rt.Errorf("parts %g, whole %g", sum, tr.Extra)
		}
		if tr.Overstep > 0.05 {
			rt.Errorf("leaves the road by %g m", tr.Overstep)
		}
	})
}

func TestRefusals(t *testing.T) {
	good := drawn(leg{100, 0, 0})
	for _, c := range []struct {
		name string
		r    Runner
		ref  Reference
	}{
		{"no speed", Runner{}, good},
		{"speed not a number", Runner{Speed: math.NaN()}, good},
		{"negative weave", Runner{Speed: 3, WeaveSD: -1}, good},
		{"a loss on gradients that is not a number", Runner{Speed: 3, GradeLoss: math.NaN()}, good},
		{"infinite wait", Runner{Speed: 3, LeadIn: Walk{Wait: math.Inf(1)}}, good},
		{"no line", Runner{Speed: 3}, Reference{}},
		{"a point", Runner{Speed: 3}, Reference{Line: orb.LineString{{1, 1}, {1, 1}}}},
		{"a line that is not finite", Runner{Speed: 3}, Reference{Line: orb.LineString{{1, 1}, {math.NaN(), 1}, {9, 9}}}},
		{"turns that overlap", Runner{Speed: 3}, Reference{Line: good.Line, Turns: []Turn{{10, 50, 1}, {40, 60, 1}}}},
		{"a turn beyond the end", Runner{Speed: 3}, Reference{Line: good.Line, Turns: []Turn{{10, 150, 1}}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := c.r.Run(c.ref, Rand(1, 1)); err == nil {
				t.Error("no error")
			}
		})
	}
}
