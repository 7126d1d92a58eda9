package forecast_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/geo/interval"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/forecast"
	"tautline/strategy/plan"
)

// The simulated runners. They are drawn from the published models and their
// published variation, not from the error model that the package weighs with:
// how a runner slows with distance comes from one of four models, race days
// scatter as Hopkins and Hewson 2001 saw with longer tails than the normal's,
// hills cost each runner a different share, gun delays and lengths are off.
type runner struct {
	rng    *rand.Rand
	model  string
	curve  func(d float64) float64 // s, on a mean day on the level
	factor float64                 // how much more variable than the fastest quartile
	drift  float64                 // of fitness per square root of a week
	weekly float64
}

const (
	simHalf     = 21097.5
	simMarathon = 42195.0
)

func drawRunner(rng *rand.Rand) runner {
	r := runner{rng: rng}
	ten := 3000 * math.Exp(0.18*rng.NormFloat64())
	ten = math.Max(1900, math.Min(4500, ten))
	ability := (ten - 1900) / 2600 // 0 fast to 1 slow
	r.weekly = 1000 * math.Max(18, math.Min(120, 75-45*ability+14*rng.NormFloat64()))
	r.factor = 1 + ability*rng.Float64()
	r.drift = 0.004 + 0.005*rng.Float64()
	law := func(k float64) func(float64) float64 {
		return func(d float64) float64 { return ten * math.Pow(d/10000, k) }
	}
	var vickers forecast.VickersVertosick2016
	late := 0.03 * rng.NormFloat64()
	switch u := rng.Float64(); {
	case u < 0.45:
		r.model = "power law, Vickers marathon"
		short := law(1.06 + 0.03*rng.NormFloat64())
		full := vickers.OneRace(forecast.Performance{Distance: simHalf, Time: short(simHalf)}, r.weekly) * math.Exp(late)
		r.curve = blend(short, full)
	case u < 0.65:
		r.model = "Daniels and Gilbert"
		var m forecast.DanielsGilbert1979
		index := m.Index(forecast.Performance{Distance: 10000, Time: ten})
		tilt := 0.02 * rng.NormFloat64()
		short := func(d float64) float64 { return m.Time(index, d) * math.Pow(d/10000, tilt) }
		full := short(simMarathon) * math.Exp(late)
		if r.weekly < 80e3 {
			// Too hopeful for those who train less, as the power law is.
			full = vickers.OneRace(forecast.Performance{Distance: simHalf, Time: short(simHalf)}, r.weekly) * math.Exp(late)
		}
		r.curve = blend(short, full)
	case u < 0.85:
		r.model = "Emig and Peltonen"
		gamma := 0.1 / math.Log(math.Max(3, math.Min(14, 6*math.Exp(0.35*rng.NormFloat64()))))
		unit := forecast.EmigPeltonen2020{Top: 1, Gamma: gamma}
		// Time over d at top speed v is unit time over d/v.
		lo, hi := 1.5, 8.0
		for range 60 {
			mid := (lo + hi) / 2
			if unit.Time(10000/mid) > ten {
				lo = mid
			} else {
				hi = mid
			}
		}
		m := forecast.EmigPeltonen2020{Top: lo, Gamma: gamma}
		r.curve = func(d float64) float64 { return m.Time(d) }
	default:
		r.model = "power law, steeper marathon"
		short := law(1.06 + 0.025*rng.NormFloat64())
		r.curve = blend(short, short(simHalf)*math.Pow(2, 1.125+0.03*rng.NormFloat64()))
	}
	return r
}

// blend goes from a curve up to the half to a marathon time.
func blend(short func(float64) float64, full float64) func(float64) float64 {
	extra := math.Log(full / short(simMarathon))
	return func(d float64) float64 {
		return short(d) * math.Exp(extra*math.Max(0, math.Log(d/simHalf)/math.Ln2))
	}
}

// day is what one race day does to the time, as a factor.
func (r runner) day(d float64) float64 {
	cv := 0.012 + 0.007*r.rng.Float64()
	switch {
	case d > 30000:
		cv = 0.026
	case d > 18000:
		cv = 0.022 + 0.010*r.rng.Float64()
	}
	// Student's t with 6 degrees of freedom, made to have this deviation.
	var chi float64
	for range 6 {
		z := r.rng.NormFloat64()
		chi += z * z
	}
	x := cv * math.Sqrt(r.factor) * r.rng.NormFloat64() / math.Sqrt(chi/6) * math.Sqrt(4.0/6)
	if d > 30000 && r.rng.Float64() < 0.15 {
		x += 0.04 * r.rng.ExpFloat64() // the late collapse
	}
	return math.Exp(x)
}

// wave is ground that rises and falls.
type wave struct{ height, length float64 }

func (w wave) Height(at float64) float64 {
	return w.height / 2 * (1 - math.Cos(2*math.Pi*at/w.length))
}
func (w wave) Climb(from, to float64) interval.Estimate   { return interval.Estimate{} }
func (w wave) Descent(from, to float64) interval.Estimate { return interval.Estimate{} }

type hillyCourse struct {
	course *plan.Course
	cost   float64 // time on it over time on the level, by the effort model
}

// hilly lays out a course with its cost, once for each length.
func hilly(t testing.TB, cache map[float64]hillyCourse, d float64) hillyCourse {
	if c, ok := cache[d]; ok {
		return c
	}
	c, err := plan.NewCourse(plan.Route{Official: d, Shortest: d, Ground: wave{16, 1500}})
	if err != nil {
		t.Fatal(err)
	}
	marks, err := plan.Every(1000, 1000, "km", d)
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(c, marks, plan.Settings{FlatPace: 0.3, Model: effort.Default()})
	if err != nil {
		t.Fatal(err)
	}
	cache[d] = hillyCourse{c, p.Target / (0.3 * d)}
	if x := cache[d].cost; x < 1.005 || x > 1.06 {
		t.Fatalf("the hills cost a factor of %.4f", x)
	}
	return cache[d]
}

var simDay = time.Date(2027, 10, 3, 0, 0, 0, 0, time.UTC)

// career draws a runner's races before a goal, and the goal's outcome.
func career(t testing.TB, rng *rand.Rand, goal float64, cache map[float64]hillyCourse) (a *athlete.Athlete, courses map[int]*plan.Course, r runner, outcome float64) {
	r = drawRunner(rng)
	a = &athlete.Athlete{Name: "sim"}
	if rng.Float64() < 0.7 {
		a.Weekly = r.weekly * math.Exp(0.1*rng.NormFloat64())
	}
	courses = map[int]*plan.Course{}
	n := 1 + rng.IntN(4)
	weeks := make([]float64, n)
	for i := range weeks {
		weeks[i] = float64(2 + rng.IntN(30))
	}
	// Fitness as a walk from the oldest week to the goal.
	fit := make([]float64, 41)
	for w := len(fit) - 2; w >= 0; w-- {
		fit[w] = fit[w+1] + r.drift*rng.NormFloat64()
	}
	distances := []float64{5000, 10000, 10000, 15000, simHalf}
	for i := range n {
		d := distances[rng.IntN(len(distances))]
		long := d
		x := athlete.Race{Distance: d, Date: simDay.AddDate(0, 0, -7*int(weeks[i]))}
		if rng.Float64() < 0.15 { // not the stated length, and known not to be
			long = d * (1 + 0.01*rng.NormFloat64())
			x.Length = long * (1 + 0.001*rng.NormFloat64())
		} else {
			long = d * (1 + 0.0007*rng.NormFloat64())
		}
		time_ := r.curve(long) * r.day(d) * math.Exp(fit[int(weeks[i])])
		if x.Length == 0 && rng.Float64() < 0.3 {
			h := hilly(t, cache, d)
			courses[i], x.Course = h.course, "hills.gpx"
			time_ *= math.Pow(h.cost, 1+0.3*rng.NormFloat64())
		}
		switch u := rng.Float64(); {
		case u < 0.15:
			x.Effort = athlete.Hard
			time_ *= 1 + math.Max(0, 0.02+0.015*rng.NormFloat64())
		case u < 0.22:
			x.Effort = athlete.Steady
			time_ *= 1 + math.Max(0, 0.06+0.035*rng.NormFloat64())
		}
		if rng.Float64() < 0.2 {
			x.Gun = true
			delay := time.Duration(60 * rng.Float64() * float64(time.Second))
			if rng.Float64() < 0.5 {
				x.GunDelay = &delay
			}
			time_ += delay.Seconds()
		}
		x.Time = time.Duration(time_ * float64(time.Second))
		a.Races = append(a.Races, x)
	}
	return a, courses, r, r.curve(goal) * r.day(goal) * math.Exp(fit[0])
}

type tally struct{ in, below, above, n int }

func (t *tally) add(e interval.Estimate, truth float64) {
	t.n++
	switch {
	case truth < e.Low:
		t.below++
	case truth > e.High:
		t.above++
	default:
		t.in++
	}
}

func (t tally) share() float64 { return float64(t.in) / float64(t.n) }

func (t tally) String() string {
	return fmt.Sprintf("%5.1f %% of %4d (faster %4.1f %%, slower %4.1f %%)", 100*t.share(), t.n, 100*float64(t.below)/float64(t.n), 100*float64(t.above)/float64(t.n))
}

// Seeds 1 to 6 were looked at while the widths were chosen; those from 101 on
// were held back and are what the test judges by. Others:
//
//	go test ./strategy/forecast -run NineTimesInTen -v -first-seed 90001 -seeds 24
var (
	firstSeed = flag.Uint64("first-seed", 101, "first seed of the simulated runners")
	seedCount = flag.Uint64("seeds", 6, "how many seeds")
)

// seeds are at least one.
func seeds() []uint64 {
	out := []uint64{*firstSeed}
	for k := uint64(1); k < *seedCount; k++ {
		out = append(out, *firstSeed+k)
	}
	return out
}

func TestTheIntervalHoldsTheTruthNineTimesInTenOnSimulatedRunners(t *testing.T) {
	const perSeed = 150
	goals := []float64{5000, 10000, simHalf, simMarathon}
	var all tally
	by := map[string]*tally{}
	count := func(key string) *tally {
		if by[key] == nil {
			by[key] = new(tally)
		}
		return by[key]
	}
	var errorSquares, widths float64
	var marathons int
	cache := map[float64]hillyCourse{}
	t.Logf("seeds %v", seeds())
	for _, seed := range seeds() {
		for _, goal := range goals {
			rng := rand.New(rand.NewPCG(seed, uint64(goal)))
			for range perSeed {
				a, courses, r, truth := career(t, rng, goal, cache)
				f, err := forecast.ForGoal(a, forecast.Goal{Distance: goal, On: simDay}, forecast.Options{
					Course: func(i int, _ athlete.Race) (*plan.Course, error) { return courses[i], nil },
				})
				if err != nil || f.None != "" {
					t.Fatalf("seed %d: %v %v", seed, err, f)
				}
				all.add(f.Level, truth)
				count(fmt.Sprintf("goal %.1f km", goal/1000)).add(f.Level, truth)
				count("truth: "+r.model).add(f.Level, truth)
				count(fmt.Sprintf("%d races", len(a.Races))).add(f.Level, truth)
				if goal == simMarathon {
					d := (f.Level.Value - truth) / 60
					errorSquares, marathons = errorSquares+d*d, marathons+1
				}
				widths += f.Level.Width() / 2 / f.Level.Value
			}
		}
	}
	var keys []string
	for k := range by {
		keys = append(keys, k)
	}
	table := []string{fmt.Sprintf("%-42s %v", "all", all)}
	for _, k := range sorted(keys) {
		table = append(table, fmt.Sprintf("%-42s %v", k, *by[k]))
	}
	t.Logf("\n%s\nmean half width %.1f %%; marathon error %.1f min (root mean square)", strings.Join(table, "\n"), 100*widths/float64(all.n), math.Sqrt(errorSquares/float64(marathons)))
	if s := all.share(); s < 0.85 || s > 0.95 {
		t.Errorf("the intervals hold the truth in %.1f %%, want 85 to 95 %%", 100*s)
	}
	for k, v := range by {
		// A single kind of truth may be further off than the mixture that the
		// interval is for, but not without bound.
		low, high := 0.80, 0.985
		if strings.HasPrefix(k, "goal") || strings.HasSuffix(k, "races") {
			low, high = 0.85, 0.95
		}
		if s := v.share(); s < low || s > high {
			t.Errorf("%s: %v, want %.0f to %.0f %%", k, *v, 100*low, 100*high)
		}
	}
	// Both sides must be able to be wrong: an interval that is only ever missed
	// on one side is in the wrong place.
	if all.below < all.n/100 || all.above < all.n/100 {
		t.Errorf("misses lie on one side: %v", all)
	}
}

func sorted(keys []string) []string {
	out := slices.Clone(keys)
	slices.Sort(out)
	return out
}
