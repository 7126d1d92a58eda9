package start

import (
	"cmp"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tautline/geo/interval"
)

var (
	fields    = flag.Int("fields", 10, "how many simulated fields the bands of the crowd are held against")
	fieldSeed = flag.Uint64("field-seed", 1009, "their seed")
)

// lost is what a runner of a simulated field experiences.
type lost struct {
	first, all     float64 // s lost in the first kilometre, and over the distance
	passes, passed float64
	moves          float64 // to a lane beside
}

// inLanes runs a field in lanes of 75 cm and gives what the runners at the given
// places, who run at a pace of their own, lose against it from the line on, each
// over a distance. People jog over the line, come up to their own pace when
// nobody is in the way, go round when a lane beside has room, and otherwise
// follow at 0.8 m.
func inLanes(rng *rand.Rand, l Line, pace float64, places []int, over []float64) []lost {
	const dt, apart, room, slack, pull = 0.25, 0.8, 0.8, 1.0, 1.0
	type person struct {
		own, now, x, enters float64
		moves               int
		first, all          float64
	}
	lanes := make([][]*person, int(l.Width/0.75)) // front first
	flow := defaultFlow().Value * l.Width
	var people []*person
	for i, p := range l.Pens {
		mean, sd := l.paces(i)
		for range int(p.People) {
			own := math.Max(0.17, mean+sd*rng.NormFloat64())
			people = append(people, &person{own: 1 / own, now: jogSpeed, enters: float64(len(people)) / flow, first: math.NaN(), all: math.NaN()})
		}
	}
	for _, k := range places {
		people[k].own = 1 / pace
	}
	at := func(lane []*person, x float64) int { // index of the first at or behind x
		i, _ := slices.BinarySearchFunc(lane, x, func(p *person, x float64) int {
			if p.x > x {
				return -1
			}
			return 1
		})
		return i
	}
	out := make([]lost, len(places))
	longest := slices.Max(over)
	next, done := 0, 0
	for now := 0.0; now < 4000 && done < len(places); now += dt {
		for ; next < len(people) && people[next].enters <= now; next++ {
			k := next % len(lanes)
			lanes[k] = append(lanes[k], people[next])
		}
		for k := range lanes {
			for i := 0; i < len(lanes[k]); i++ {
				p, want := lanes[k][i], lanes[k][i].own
				if i > 0 {
					leader := lanes[k][i-1]
					if follow := leader.now + (leader.x-p.x-apart)/slack; follow < want {
						moved := false
						for _, to := range []int{k - 1, k + 1} {
							if to < 0 || to >= len(lanes) || moved {
								continue
							}
							j := at(lanes[to], p.x)
							free := j == len(lanes[to]) || p.x-lanes[to][j].x > room
							ahead := want
							if j > 0 {
								free = free && lanes[to][j-1].x-p.x > room
								ahead = lanes[to][j-1].now + (lanes[to][j-1].x-p.x-apart)/slack
							}
							if free && ahead > follow+0.1 {
								lanes[k] = slices.Delete(lanes[k], i, i+1)
								lanes[to] = slices.Insert(lanes[to], j, p)
								moved = true
								p.moves++
								want = math.Min(want, ahead)
							}
						}
						if moved {
							i--
						} else {
							want = math.Max(0, follow)
						}
					}
				}
				p.now += math.Max(-2*pull*dt, math.Min(pull*dt, want-p.now))
			}
		}
		for _, p := range people[:next] {
			p.x += p.now * dt
		}
		for k := range lanes {
			slices.SortStableFunc(lanes[k], func(a, b *person) int { return cmp.Compare(b.x, a.x) }) // nearly in order already
			gone := 0
			for gone < len(lanes[k]) && lanes[k][gone].x > longest+400 {
				gone++
			}
			lanes[k] = lanes[k][gone:]
		}
		for n, k := range places {
			p, distance := people[k], over[n]
			if math.IsNaN(p.first) && p.x >= math.Min(1000, distance) {
				p.first = now - p.enters - math.Min(1000, distance)*pace
			}
			if math.IsNaN(p.all) && p.x >= distance {
				p.all = now - p.enters - distance*pace
				done++
				out[n] = lost{first: p.first, all: p.all, moves: float64(p.moves)}
				for j, other := range people {
					if j < k && other.x < p.x {
						out[n].passes++
					} else if j > k && other.x > p.x {
						out[n].passed++
					}
				}
			}
		}
	}
	return out
}

// aField draws a start: one to five pens, 60 to 320 people for each metre of the
// road, paces from those of a club race to those of a fun run.
func aField(rng *rand.Rand) (l Line, pace float64) {
	l.Width = 4 + 10*rng.Float64()
	pens := 1 + rng.IntN(5)
	people := math.Min(2600, (60+260*rng.Float64())*l.Width)
	fast, range_ := 0.19+0.03*rng.Float64(), 0.10+0.15*rng.Float64()
	for i := range pens {
		from, to := float64(i)/float64(pens), float64(i+1)/float64(pens)
		l.Pens = append(l.Pens, Pen{Fastest: fast + range_*from, Slowest: fast + range_*to, People: math.Floor(people / float64(pens) * (0.6 + 0.8*rng.Float64()))})
	}
	return l, fast + range_*(0.1+0.8*rng.Float64())
}

// Fields that hold each other up: the stated bands of the crowd's cost, of the
// passes and of the weaving hold what happens to nine in ten, everywhere and at
// the right place alone. The cost's figures were fitted to other seeds. More:
//
//	go test ./strategy/start -run TestBandsOfTheCrowd -v -fields 240
func TestBandsOfTheCrowdHoldOnSimulatedFields(t *testing.T) {
	if *fields < 1 {
		t.Fatal("no fields")
	}
	rng := rand.New(rand.NewPCG(*fieldSeed, 0))
	type tally struct{ n, in int }
	held := map[string]*tally{}
	twice := map[string]*tally{}
	tell := func(m map[string]*tally, what string, in bool) {
		if m[what] == nil {
			m[what] = &tally{}
		}
		m[what].n++
		if in {
			m[what].in++
		}
	}
	within := func(e interval.Estimate, v float64) bool { return v >= e.Low-0.5 && v <= e.High+0.5 }
	for range *fields {
		l, pace := aField(rng)
		r := Runner{Pace: pace, Distance: 10000}
		pen, share, _ := l.right(pace)
		spots := []Spot{l.spot("right place", pen, share, r)}
		for pen := range l.Pens {
			spots = append(spots, l.spot("anywhere", pen, rng.Float64(), r))
		}
		// Five runners about each place, all places in one field: a field for each
		// would take long and tell little more.
		var places []int
		var over []float64
		of := make([][]int, len(spots))
		for i, s := range spots {
			for k := -2; k <= 2; k++ {
				if j := int(s.Ahead) + k*max(1, int(l.people())/60); j >= 0 && j < int(l.people()) && !slices.Contains(places, j) {
					of[i] = append(of[i], len(places))
					places, over = append(places, j), append(over, s.Over)
				}
			}
		}
		runs := inLanes(rng, l, pace, places, over)
		for i, s := range spots {
			if len(of[i]) == 0 {
				continue // where another spot is already
			}
			var mean lost
			for _, k := range of[i] {
				x, n := runs[k], float64(len(of[i]))
				mean.all, mean.first = mean.all+x.all/n, mean.first+x.first/n
				mean.passes, mean.passed, mean.moves = mean.passes+x.passes/n, mean.passed+x.passed/n, mean.moves+x.moves/n
			}
			for _, where := range []string{"everywhere", s.Where} {
				if where == "anywhere" {
					continue
				}
				tell(held, where+", cost", within(s.Crowd, mean.all))
				tell(held, where+", cost of the first km", within(s.FirstKm, mean.first))
				tell(held, where+", passes", within(s.Passes, mean.passes))
				tell(held, where+", passed by", within(s.Passed, mean.passed))
				// A lane is 75 cm wide, a move over ten metres.
				tell(held, where+", weaving", within(s.Weave, weave(mean.moves, 0.75, 10)))
				c := s.Crowd.Value
				tell(twice, where, mean.all >= c/2-1 && mean.all <= 2*c+1)
			}
			if testing.Verbose() {
				t.Logf("%-12s W %4.1f n %4.0f at %4.0f: lost %5.1f of %5.1f, first km %5.1f of %5.1f, passes %4.0f of %4.0f, passed %4.0f of %4.0f, weaving %4.1f of %4.1f (%.0f moves)", s.Where, l.Width, l.people(), s.Ahead,
					mean.all, s.Crowd.Value, mean.first, s.FirstKm.Value, mean.passes, s.Passes.Value, mean.passed, s.Passed.Value, weave(mean.moves, 0.75, 10), s.Weave.Value, mean.moves)
			}
		}
	}
	t.Logf("seed %d, %d fields", *fieldSeed, *fields)
	report := func(what string, x *tally) {
		share := float64(x.in) / float64(x.n)
		t.Logf("%s: %.1f %% of %d", what, 100*share, x.n)
		// Two standard errors below nine in ten.
		if share < 0.9-2*math.Sqrt(0.09/float64(x.n)) {
			t.Errorf("%s: held in %.1f %% of %d", what, 100*share, x.n)
		}
	}
	for what, x := range held {
		report(what, x)
	}
	for where, x := range twice {
		report(fmt.Sprintf("%s, the cost within a factor of two and a second", where), x)
	}
}
