package likely

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"tautline/geo/simulate"
)

// town is a line of straights joined by corners of 5.3 m radius.
func town(rng *rand.Rand, corners int) *Reference {
	r := &Reference{Points: orb.LineString{{0, 0}}, Along: []float64{0}}
	p, dir := orb.Point{}, 0.0
	on := func(step, d float64) {
		p = orb.Point{p[0] + step*math.Cos(d), p[1] + step*math.Sin(d)}
		r.Points = append(r.Points, p)
		r.Along = append(r.Along, r.Length()+step)
	}
	for range corners {
		on(120+250*rng.Float64(), dir)
		from := r.Length()
		angle := math.Pi / 2 * float64(1-2*rng.IntN(2))
		const n = 16
		for i := range n {
			on(2*5.3*math.Sin(math.Abs(angle)/n/2), dir+angle*(float64(i)+0.5)/n)
		}
		dir += angle
		r.Turns = append(r.Turns, Turn{from, r.Length(), angle})
	}
	on(150, dir)
	r.Reach = func(float64) (float64, float64) { return 7, -7 }
	return r
}

// steady is the record of a perfect receiver on a runner who follows the line.
func steady(r *Reference, every, speed float64) []Fix {
	var out []Fix
	for t := 0.0; t*speed <= r.Length()+10; t += every {
		p, _ := r.at(t * speed)
		out = append(out, Fix{p, t, t * speed})
	}
	return out
}

func TestARunnerOnTheLineRunsNothingExtra(t *testing.T) {
	r := town(rand.New(rand.NewPCG(1, 1)), 12)
	res := Infer(r, steady(r, 1, 3.3), Options{})
	if !res.Extra.Holds(0) || math.Abs(res.Extra.Value) > 0.002*r.Length() {
		t.Errorf("extra %+v on a line of %.0f m, want 0 in it", res.Extra, r.Length())
	}
}

func TestSparseFixesLoseCornersAndTheLossIsGivenBack(t *testing.T) {
	r := town(rand.New(rand.NewPCG(2, 1)), 20)
	res := Infer(r, steady(r, 5, 3.3), Options{})
	var lost float64
	for _, s := range res.Sections {
		lost += s.Lost
	}
	// An arc of 5.3 m, and steps of 16.5 m: between the loss of a sharp corner,
	// k(90°) d = 3.1 m, and half of it.
	if per := lost / 20; per < 1.3 || per > 3.2 {
		t.Errorf("%.2f m lost at each corner", per)
	}
	if !res.Extra.Holds(0) {
		t.Errorf("extra %+v, want 0 in it", res.Extra)
	}
}

// The excess of a straight is s²/(2 v²) with s the lateral change per second
// (Ranacher et al. 2016, in the small-error form for the mean).
func TestScatterIsWhatTheEnvironmentsClosedFormSays(t *testing.T) {
	for _, c := range []struct {
		name string
		env  simulate.Environment
	}{{"open road", simulate.OpenRoad()}, {"tree-lined", simulate.TreeLined()}, {"mid-rise", simulate.MidRise()}} {
		t.Run(c.name, func(t *testing.T) {
			r := town(rand.New(rand.NewPCG(3, 1)), 40)
			ref := simulate.Reference{Line: r.Points}
			for _, u := range r.Turns {
				ref.Turns = append(ref.Turns, simulate.Turn{From: u.From, To: u.To, Angle: u.Angle})
			}
			const seed = 5
			rng := simulate.Rand(seed, 1)
			truth, err := simulate.Runner{Speed: 3.3, WeaveSD: 0.2, WeaveLength: 40}.Run(ref, rng)
			if err != nil {
				t.Fatal(err)
			}
			c.env.JumpRate = 0
			rec := c.env.Record(truth, simulate.Options{}, rng)
			var fixes []Fix
			k := 0
			for i, p := range rec.Points {
				for k < len(truth.Times)-1 && truth.Times[k] < rec.Times[i] {
					k++
				}
				fixes = append(fixes, Fix{p, rec.Times[i], truth.Along[k]})
			}
			got, want := Infer(r, fixes, Options{}).Noise.ScatterRate, c.env.StraightExcess(3.3, 1)
			if math.Abs(got-want) > 0.25*want {
				t.Errorf("scatter %.5f, closed form %.5f (seed %d)", got, want, seed)
			}
		})
	}
}

func TestAllPartsOfTheLineAreAccountedForOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := town(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)), rapid.IntRange(1, 15).Draw(t, "corners"))
		fixes := steady(r, 1, 3.3)
		from := rapid.IntRange(0, len(fixes)/2).Draw(t, "from")
		to := rapid.IntRange(from+10, len(fixes)).Draw(t, "to")
		noise := rand.New(rand.NewPCG(7, 1))
		for i := range fixes {
			fixes[i].P[0] += noise.NormFloat64() / 3
			fixes[i].P[1] += noise.NormFloat64() / 3
		}
		res := Infer(r, fixes[from:to], Options{})
		at := 0.0
		for _, s := range res.Sections {
			if math.Abs(s.From-at) > 1e-6 {
				t.Fatalf("a section begins at %g, the last ended at %g", s.From, at)
			}
			at = s.To
			if !(s.Extra.Low <= s.Extra.Value && s.Extra.Value <= s.Extra.High) {
				t.Fatalf("extra %+v", s.Extra)
			}
		}
		if math.Abs(at-r.Length()) > 1e-6 {
			t.Fatalf("the sections end at %g of %g", at, r.Length())
		}
	})
}

func TestWhereARecordLiesDoesNotMatter(t *testing.T) {
	r := town(rand.New(rand.NewPCG(9, 1)), 10)
	fixes := steady(r, 1, 3.3)
	rng := rand.New(rand.NewPCG(4, 1))
	for i := range fixes {
		fixes[i].P[0] += rng.NormFloat64() / 4
		fixes[i].P[1] += rng.NormFloat64() / 4
	}
	want := Infer(r, fixes, Options{}).Extra.Value
	sin, cos := math.Sincos(0.7)
	turn := func(p orb.Point) orb.Point { return orb.Point{cos*p[0] - sin*p[1] + 900, sin*p[0] + cos*p[1] - 400} }
	moved := &Reference{Along: r.Along, Turns: r.Turns, Reach: r.Reach}
	for _, p := range r.Points {
		moved.Points = append(moved.Points, turn(p))
	}
	for i := range fixes {
		fixes[i].P = turn(fixes[i].P)
	}
	if got := Infer(moved, fixes, Options{}).Extra.Value; math.Abs(got-want) > 0.02 {
		t.Errorf("extra %.3f after turning and moving everything, %.3f before", got, want)
	}
}

func TestABlindRecordLeavesTheWordToHabit(t *testing.T) {
	r := town(rand.New(rand.NewPCG(9, 1)), 20)
	res := Infer(r, steady(r, 1, 3.3), Options{Blind: true})
	if res.Extra.Value < 0.5*meanMiss*20*math.Pi/2 || res.Extra.Width() < res.Extra.Value {
		t.Errorf("extra %+v: want the habit of runners, and wide", res.Extra)
	}
}

func TestNothingComesOfNothing(t *testing.T) {
	r := town(rand.New(rand.NewPCG(9, 1)), 2)
	nan := math.NaN()
	for _, fixes := range [][]Fix{nil, steady(r, 1, 3)[:2], {{orb.Point{}, 0, nan}, {orb.Point{}, 1, nan}, {orb.Point{}, 2, nan}}} {
		if res := Infer(r, fixes, Options{}); len(res.Sections) != 0 {
			t.Errorf("%d fixes gave %d sections", len(fixes), len(res.Sections))
		}
	}
	still := make([]Fix, 50) // all at one spot, without times
	for i := range still {
		still[i] = Fix{orb.Point{30, 0}, nan, 30}
	}
	if res := Infer(r, still, Options{}); math.IsNaN(res.Extra.Value) {
		t.Error("a record at one spot gave no figure")
	}
}

func ExampleInfer() {
	r := &Reference{
		Points: orb.LineString{{0, 0}, {500, 0}, {1000, 0}},
		Along:  []float64{0, 500, 1000},
	}
	var fixes []Fix
	for t := range 301 {
		x := float64(t) * 10 / 3
		fixes = append(fixes, Fix{P: orb.Point{x, 2}, T: float64(t), Along: x})
	}
	fmt.Printf("%.1f m beyond the line\n", math.Abs(Infer(r, fixes, Options{}).Extra.Value))
	// Output: 0.0 m beyond the line
}
