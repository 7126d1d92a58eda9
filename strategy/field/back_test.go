package field

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"tautline/geo/interval"
	"tautline/geo/likely"
	"tautline/geo/record"
	"tautline/geo/simulate"
	"tautline/geo/taut"
	"tautline/geo/track"
	"tautline/strategy/race"
	"tautline/strategy/review"
)

// reachesOf puts so many values in a sketch of reaches.
func reachesOf(n int, draw func(k int) float64) *sketch {
	var s sketch
	for k := range n {
		s.add(draw(k), reachBin, reachEdge)
	}
	return &s
}

// crowds are how a sound crowd's reaches may scatter about their middle.
var crowds = map[string]func(rng *rand.Rand) float64{
	"one good receiver":                func(rng *rand.Rand) float64 { return 2.5 * rng.NormFloat64() },
	"one bad receiver":                 func(rng *rand.Rand) float64 { return 6 * rng.NormFloat64() },
	"runners who keep 4 m at most":     func(rng *rand.Rand) float64 { return 4*rng.Float64() + 2*rng.NormFloat64() },
	"receivers of all kinds":           func(rng *rand.Rand) float64 { return (1.5 + 6*rng.Float64()) * rng.NormFloat64() },
	"a twentieth that is far off":      func(rng *rand.Rand) float64 { return 3*rng.NormFloat64() - 40*math.Floor(rng.Float64()+0.05) },
	"half of them smoothed by 4 m":     func(rng *rand.Rand) float64 { return 2.5*rng.NormFloat64() - 4*math.Floor(rng.Float64()+0.5) },
	"errors with heavy tails (t, 2 f)": func(rng *rand.Rand) float64 { return 3 * rng.NormFloat64() / math.Sqrt(rng.ExpFloat64()) },
}

func TestOneCrowdIsNotTwo(t *testing.T) {
	const seed, fields = 1, 1000
	for name, draw := range crowds {
		for _, n := range []int{20, 25, 60, 200} {
			rng := simulate.Rand(seed, 51)
			invented := 0
			for range fields {
				if _, _, ok := groupsOf(reachesOf(n, func(int) float64 { return 2.5 + draw(rng) })); ok {
					invented++
				}
			}
			t.Logf("seed %d: %s, %d records: %d of %d fields", seed, name, n, invented, fields)
			if invented > fields/200 {
				t.Errorf("seed %d: %s: %d of %d crowds of %d records are taken for two", seed, name, invented, fields, n)
			}
		}
	}
}

func TestTwoCrowdsAreTwo(t *testing.T) {
	const seed, fields = 2, 200
	for _, c := range []struct {
		apart, sd, share float64
		n, found         int // fields of 200 at least
	}{
		{20, 2.5, 0.5, 60, 195}, {20, 2.5, 1. / 3, 60, 195}, {20, 3.5, 0.5, 60, 180}, {20, 2.5, 0.25, 60, 195}, {12, 2, 0.5, 200, 195}, {60, 4, 0.2, 100, 195},
	} {
		rng := simulate.Rand(seed, 52)
		found := 0
		for range fields {
			early := int(math.Round(c.share * float64(c.n)))
			far, near, ok := groupsOf(reachesOf(c.n, func(k int) float64 {
				v := 2.5 + c.sd*rng.NormFloat64()
				if k < early {
					v -= c.apart
				}
				return v
			}))
			if !ok {
				continue
			}
			found++
			if d := far.total() - early; d < -2 || d > 2 || near.total() != c.n-far.total() {
				t.Errorf("seed %d: %+v: %d and %d records", seed, c, far.total(), near.total())
			}
			if m := near.quantile(0.5, reachBin) - far.quantile(0.5, reachBin); math.Abs(m-c.apart) > 4*1.2533*c.sd*math.Sqrt(1/float64(far.total())+1/float64(near.total())) {
				t.Errorf("seed %d: %+v: %.1f m apart", seed, c, m)
			}
		}
		t.Logf("%+v: found in %d", c, found)
		if found < c.found {
			t.Errorf("seed %d: %+v: found in %d of %d fields", seed, c, found, fields)
		}
	}
}

// backLooks are records on a course of which one turn-around was 20 m short for
// some: what they say, of those for whom it was sound and those for whom not.
type backLooks struct {
	g              *Ground
	around         int // the turn-around
	sound, short   []*Look
	measured, less float64 // m, the line that was measured, and with the turn-around short
}

const (
	backSeed  = 3
	backShort = 20.0 // m
)

func backField(t *testing.T, length float64, n int, f simulate.Filter) backLooks {
	t.Helper()
	measured, ran, at, ok := planted(fault{shortBack, backShort, simulate.Turnbacks}, length, simulate.Rand(backSeed, 21))
	if !ok {
		t.Fatalf("seed %d gives no course with a turn-around", backSeed)
	}
	b := backLooks{g: Lay(measured), around: -1, measured: measured.Line.Length, less: ran.Line.Length}
	for i, a := range b.g.arounds {
		if math.Abs(a.at-at) < 40 {
			b.around = i
		}
	}
	if b.around < 0 {
		t.Fatalf("seed %d: no turn-around at %.0f m", backSeed, at)
	}
	rng := simulate.Rand(backSeed, 53)
	environments := []simulate.Environment{simulate.OpenRoad(), simulate.TreeLined(), simulate.MidRise()}
	for i := range 2 * n {
		on, list := measured, &b.sound
		if i%2 == 1 {
			on, list = ran, &b.short
		}
		tr, err := someRunner(rng).Run(simulate.Along(on.Road, on.Line), rng)
		if err != nil {
			t.Fatal(err)
		}
		o := simulate.Options{Filter: f, Plane: on.Course.Plane, Began: time.Date(2026, 9, 20, 9, 0, 0, 0, time.UTC)}
		rec := environments[i/2%len(environments)].Record(tr, o, rng)
		l, err := b.g.Look(fmt.Sprintf("%03d", i), fmt.Sprint(i), record.Clean(track.Line{Segments: [][]track.Fix{rec.Fixes}}))
		if err != nil {
			t.Fatal(err)
		}
		*list = append(*list, l)
	}
	return b
}

func (b backLooks) judge(looks ...[]*Look) (*Verdict, *sketch) {
	t := b.g.NewTally()
	for _, l := range slices.Concat(looks...) {
		t.Add(l)
	}
	return b.g.Judge(t, interval.Exact(b.measured)), &t.Reaches[b.around]
}

// A crowd whose watches smooth, or swing out, turns where it turned: without
// allowing for the filter, an average of 9 s would show it 5 m early and this
// forward filter 3 m late.
func TestWhatAFilterDoesToATurnAroundIsNoFault(t *testing.T) {
	for name, f := range map[string]simulate.Filter{"an average of 9 s": simulate.MovingAverage(9), "a forward filter": simulate.Kalman(0.1, 3)} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := backField(t, 3000, 10, f) // one record of a short course does not betray its filter
			v, reaches := b.judge(b.sound)
			// Where a runner goes round is known to some metres only.
			const most = 4.0
			if m := reaches.quantile(0.5, reachBin); math.Abs(m-tipUsual) > most || len(v.Findings) > 0 {
				t.Errorf("seed %d: the middle one of a sound field turns %.1f m beyond, findings %+v", backSeed, m, v.Findings)
			}
			v, reaches = b.judge(b.short)
			if m := reaches.quantile(0.5, reachBin); math.Abs(m-tipUsual+backShort) > most {
				t.Errorf("seed %d: with a turn-around %g m short the middle one turns %.1f m beyond", backSeed, backShort, m)
			}
			if len(v.Findings) != 1 || v.Findings[0].Kind != Short {
				t.Errorf("seed %d: a turn-around %g m short: %+v", backSeed, backShort, v.Findings)
			}
		})
	}
}

func TestAConeMovedDuringTheRaceGivesTwoGroups(t *testing.T) {
	const n = 24
	b := backField(t, 1500, n, simulate.Filter{})
	if v, _ := b.judge(b.sound); len(v.Findings) > 0 || !v.Course.Holds(b.measured) {
		t.Errorf("seed %d: a sound field: %+v, length %+v", backSeed, v.Findings, v.Course)
	}
	if v, _ := b.judge(b.short); len(v.Findings) != 1 || v.Findings[0].Kind != Short || !v.Findings[0].Metres.Holds(-backShort) || !v.Course.Holds(b.less) {
		t.Errorf("seed %d: a field of which all turn %g m early: %+v, length %+v", backSeed, backShort, v.Findings, v.Course)
	}
	for _, early := range []int{n, n / 2} {
		v, _ := b.judge(b.sound, b.short[:early])
		if v.Conclusion != LookAt || len(v.Findings) != 1 || v.Findings[0].Kind != Parted || len(v.Findings[0].Groups) != 2 || len(v.Turns) != 1 {
			t.Errorf("seed %d: %d of %d early: %s, %+v", backSeed, early, n+early, v.Conclusion, v.Findings)
			continue
		}
		f := v.Findings[0]
		far, near := f.Groups[0], f.Groups[1]
		// A record that lost its signal there shows nothing.
		if far.Records > early || far.Records < early-2 || near.Records > n || near.Records < n-2 || f.Records != far.Records+near.Records {
			t.Errorf("seed %d: %d of %d early: groups %+v of %d", backSeed, early, n+early, f.Groups, f.Records)
		}
		if far.Kind != Short || near.Kind != AtPlace || !far.Metres.Holds(-backShort) || !near.Metres.Holds(0) {
			t.Errorf("seed %d: %d of %d early: groups %+v", backSeed, early, n+early, f.Groups)
		}
		if !f.Length.Holds(b.less-b.measured) || !v.Course.Holds(b.measured) {
			t.Errorf("seed %d: length by %+v, want %.1f; course %+v, want %.0f", backSeed, f.Length, b.less-b.measured, v.Course, b.measured)
		}
	}
}

// An average over a length takes half of it off a turn on the spot, and off a
// right angle 1-(1+asinh(1)/√2)/2 of it (closed forms).
func TestCornersSayWhatAFilterTakesOffATurnAround(t *testing.T) {
	for angle, want := range map[float64]float64{math.Pi: 0.5, math.Pi / 2: 1 - (1+math.Asinh(1)/math.Sqrt2)/2, 0: 0} {
		if got := averagedOff(angle); math.Abs(got-want) > 1e-3 {
			t.Errorf("%.3f rad: %g, want %g", angle, got, want)
		}
	}
	g := &Ground{Race: &race.Race{Line: &taut.Line{Turns: []taut.Turn{
		{Angle: math.Pi / 2, To: 8}, {Angle: -math.Pi / 2, From: 100, To: 108}, {Angle: 3.1, From: 200, To: 202}, {Angle: 1.5, From: 300, To: 400},
	}}}, arounds: []around{{turn: 2}}}
	corner := 20 * averagedOff(math.Pi/2)
	for name, c := range map[string]struct {
		sections []likely.Section
		want     float64
	}{
		"a turn-around that is shown":  {[]likely.Section{{Turn: 0, Lost: corner}, {Turn: -1}, {Turn: 2, Lost: 8}}, 8},
		"one that was missed":          {[]likely.Section{{Turn: 0, Lost: corner}, {Turn: 1, Lost: corner}, {Turn: 2, Lost: 30, Missing: true}, {Turn: 3, Lost: 0.1}}, 20 * 0.5},
		"a filter that swings out":     {[]likely.Section{{Turn: 2, Lost: -3}}, -3},
		"nothing that could be judged": {[]likely.Section{{Turn: 2, Lost: 30, Missing: true}, {Turn: 3, Lost: 1}}, 0},
	} {
		if got := g.smoothingOf(&review.Review{Sections: c.sections, Noise: likely.Noise{Filter: 1}}); math.Abs(got.cut-c.want) > 0.02 {
			t.Errorf("%s: %g m, want %g", name, got.cut, c.want)
		}
	}
}
