package likely

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"tautline/geo/simulate"
)

var cases = flag.Int("cases", 12, "cases per row")
var seedBase = flag.Uint64("seed", 1, "seed")
var row = flag.String("row", "", "variant")
var only = flag.String("only", "", "environment")

// testLine makes straights with arcs.
func testLine(length float64, rng *rand.Rand) *Reference {
	r := &Reference{}
	p := orb.Point{}
	dir := 0.0
	add := func(q orb.Point) {
		if n := len(r.Points); n > 0 {
			d := math.Hypot(q[0]-r.Points[n-1][0], q[1]-r.Points[n-1][1])
			if d < 1e-9 {
				return
			}
			r.Along = append(r.Along, r.Along[n-1]+d)
		} else {
			r.Along = append(r.Along, 0)
		}
		r.Points = append(r.Points, q)
	}
	add(p)
	for r.Length() < length-300 {
		s := 60 + 440*rng.Float64()
		p = orb.Point{p[0] + s*math.Cos(dir), p[1] + s*math.Sin(dir)}
		add(p)
		from := r.Length()
		var rad, ang float64
		switch u := rng.Float64(); {
		case u < 0.7:
			rad, ang = 5.3, math.Pi/2+0.15*rng.NormFloat64()
		case u < 0.95:
			rad, ang = 20+130*rng.Float64(), 0.5+1.5*rng.Float64()
		default:
			rad, ang = 0.5, math.Pi
		}
		sg := 1.0
		if rng.IntN(2) == 0 {
			sg = -1
		}
		n := max(8, int(rad*ang/0.8))
		for i := 1; i <= n; i++ {
			step := 2 * rad * math.Sin(ang/float64(n)/2)
			d := dir + sg*(float64(i)-0.5)*ang/float64(n)
			p = orb.Point{p[0] + step*math.Cos(d), p[1] + step*math.Sin(d)}
			add(p)
		}
		dir += sg * ang
		r.Turns = append(r.Turns, Turn{from, r.Length(), sg * ang})
	}
	s := math.Max(30, length-r.Length())
	add(orb.Point{p[0] + s*math.Cos(dir), p[1] + s*math.Sin(dir)})
	const w = 7.4
	r.Reach = func(a float64) (float64, float64) {
		// piecewise linear between turns: touching inside at each
		k := sort.Search(len(r.Turns), func(i int) bool { return (r.Turns[i].From+r.Turns[i].To)/2 > a })
		lv := func(i int) float64 {
			if i < 0 || i >= len(r.Turns) {
				return w / 2
			}
			if r.Turns[i].Angle > 0 {
				return 0
			}
			return w
		}
		pos := func(i int) float64 {
			if i < 0 {
				return 0
			}
			if i >= len(r.Turns) {
				return r.Length()
			}
			return (r.Turns[i].From + r.Turns[i].To) / 2
		}
		a0, a1 := pos(k-1), pos(k)
		f := 0.0
		if a1 > a0 {
			f = (a - a0) / (a1 - a0)
		}
		l := lv(k-1)*(1-f) + lv(k)*f
		if k > 0 && a <= r.Turns[k-1].To {
			l = lv(k - 1)
		}
		if k < len(r.Turns) && a >= r.Turns[k].From {
			l = lv(k)
		}
		return l, -(w - l)
	}
	return r
}

func TestTrial(t *testing.T) {
	Debug = *cases == 1
	type variant struct {
		name   string
		length float64
		opt    simulate.Options
	}
	vars := []variant{
		{"10k 1s", 10000, simulate.Options{}},
		{"10k 5s", 10000, simulate.Options{Every: 5}},
		{"10k ma5", 10000, simulate.Options{Filter: simulate.MovingAverage(5)}},
		{"10k kal.1", 10000, simulate.Options{Filter: simulate.Kalman(0.1, 3)}},
		{"10k kal1", 10000, simulate.Options{Filter: simulate.Kalman(1, 3)}},
		{"10k kal.3 5s", 10000, simulate.Options{Filter: simulate.Kalman(0.3, 3), Every: 5}},
		{"42k 1s", 42195, simulate.Options{}},
	}
	envs := simulate.Environments()
	names := []string{"open", "tree", "mid", "canyon", "legacy", "clean"}
	defer func() {}()
	envs = append(envs[:min(4, len(envs))], simulate.Legacy())
	clean := simulate.OpenRoad()
	clean.Slow.SD, clean.Fast.SD, clean.WanderAcross, clean.WanderAlong, clean.White = 0, 0.01, 0, 0, 0.002
	envs = append(envs, clean)
	for e, env := range envs {
		if *only != "" && *only != names[e] {
			continue
		}
		for _, v := range vars {
			if *row != "" && !strings.Contains(v.name, *row) {
				continue
			}
			var errs, naive, widths, trueX, filt, losses, cheap []float64
			var cover, turnCover, turns float64
			var eb, et, er []float64
			for c := range *cases {
				rng := simulate.Rand(*seedBase+uint64(c), 7)
				ref := testLine(v.length, rng)
				sr := simulate.Reference{Line: ref.Points, Limits: func(a float64) (float64, float64) { l, r := ref.Reach(a); return l, -r }}
				for _, tt := range ref.Turns {
					sr.Turns = append(sr.Turns, simulate.Turn{From: tt.From, To: tt.To, Angle: tt.Angle})
				}
				runner := simulate.Runner{
					ApexMiss: 4 * rng.Float64(), ApexSpread: 0.8 * rng.Float64(),
					WeaveSD: 0.1 + 0.7*rng.Float64(), WeaveLength: 15 + 45*rng.Float64(),
					DriftSD: 2 * rng.Float64(), DriftLength: 100 + 400*rng.Float64(),
					Speed: 2.5 + 2*rng.Float64(), SpeedSD: 0.03, SpeedLength: 600,
				}
				truth, err := runner.Run(sr, rng)
				if err != nil {
					t.Fatal(err)
				}
				rec := env.Record(truth, v.opt, rng)
				// ideal follower
				var fx []Fix
				for i, q := range rec.Points {
					tm := rec.Times[i]
					j := sort.SearchFloat64s(truth.Times, tm)
					j = min(max(j, 1), len(truth.Times)-1)
					fx = append(fx, Fix{P: q, T: tm, Along: truth.Along[j]})
				}
				res := Infer(ref, fx, Options{})
				d := res.Extra.Value - truth.Extra
				var b, rw float64
				for _, s := range res.Sections {
					if s.Turn < 0 {
						b += s.Extra.Value - truthOf(truth, s.From, s.To)
					} else {
						rw += s.Raw - truthOf(truth, s.From, s.To)
					}
				}
				eb, et, er = append(eb, b/v.length*100), append(et, (d-b)/v.length*100), append(er, rw/v.length*100)
				errs = append(errs, d/v.length*100)
				trueX = append(trueX, truth.Extra/v.length*100)
				naive = append(naive, (rec.Length()-truth.Ran)/v.length*100)
				widths = append(widths, res.Extra.Width()/v.length*100)
				filt = append(filt, res.Noise.Filter)
				var l float64
				for _, s := range res.Sections {
					l += s.Loss
				}
				losses = append(losses, l/v.length*100)
				cheap = append(cheap, naive[len(naive)-1])
				if res.Extra.Holds(truth.Extra) {
					cover++
				}
				if *cases == 1 {
					for _, s := range res.Sections {
						if s.Turn >= 0 {
							fmt.Printf("turn %d ang %.2f est %.2f truth %.2f loss %.2f actual %.2f\n", s.Turn, ref.Turns[s.Turn].Angle, s.Extra.Value, truthOf(truth, s.From, s.To), s.Loss, truthOf(truth, s.From, s.To)+s.To-s.From-s.Recorded)
						}
					}
					var bt, bl float64
					for _, s := range res.Sections {
						if s.Turn < 0 {
							bt += truthOf(truth, s.From, s.To)
							bl += s.To - s.From
						}
					}
					fmt.Printf("%+v\nbetween %v truth %v = %.5f weave a=%.2f l=%.1f v=%.2f; n=%d\n", res.Noise, res.Between, bt, bt/bl, runner.WeaveSD, runner.WeaveLength, runner.Speed, len(rec.Points))
				}
				for _, s := range res.Sections {
					if s.Turn >= 0 {
						turns++
						if s.Extra.Holds(truthOf(truth, s.From, s.To)) {
							turnCover++
						}
					}
				}
			}
			b, r := biasRMSE(errs)
			nb, nr := biasRMSE(naive)
			x, _ := biasRMSE(trueX)
			eb0, eb1 := biasRMSE(eb)
			et0, et1 := biasRMSE(et)
			er0, er1 := biasRMSE(er)
			var cs float64
			for _, q := range cheap {
				cs += (q - nb) * (q - nb)
			}
			w, _ := biasRMSE(widths)
			f, _ := biasRMSE(filt)
			lo, _ := biasRMSE(losses)
			fmt.Printf("%-7s %-13s extra %.2f | rmse %.3f bias %+.3f cover %.2f width/rmse %.1f | naive %.3f %+.3f cheap %.3f | filter %.1fs loss %.3f turncover %.2f | between %+.3f %.3f turns %+.3f %.3f raw %+.3f %.3f\n",
				names[e], v.name, x, r, b, cover/float64(*cases), w/r, nr, nb, math.Sqrt(cs/float64(len(cheap))), f, lo, turnCover/turns, eb0, eb1, et0, et1, er0, er1)
		}
	}
}

func biasRMSE(v []float64) (bias, rmse float64) {
	for _, x := range v {
		bias += x
		rmse += x * x
	}
	n := float64(len(v))
	return bias / n, math.Sqrt(rmse / n)
}

func truthOf(tr simulate.Truth, from, to float64) float64 {
	i := sort.SearchFloat64s(tr.Along, from)
	j := sort.SearchFloat64s(tr.Along, to)
	var sum float64
	for k := i + 1; k <= j && k < len(tr.Points); k++ {
		sum += math.Hypot(tr.Points[k][0]-tr.Points[k-1][0], tr.Points[k][1]-tr.Points[k-1][1])
	}
	return sum - (to - from)
}
