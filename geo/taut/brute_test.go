package taut_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"tautline/geo/road"
)

// brute is the shortest path through portals found without any geometry: the
// best of many points on every portal, by dynamic programming, again and
// again on a finer grid around the last best. The length is convex in the
// places on the portals, so this closes in on the optimum. It never gives
// less than the truth.
func brute(ps []road.Portal) float64 {
	const grid = 33
	n := len(ps)
	lo, hi := make([]float64, n), make([]float64, n)
	for i := range hi {
		hi[i] = 1
	}
	best := math.Inf(1)
	at := func(i int, t float64) orb.Point {
		l, r := ps[i].Left.P, ps[i].Right.P
		return orb.Point{l[0] + t*(r[0]-l[0]), l[1] + t*(r[1]-l[1])}
	}
	for range 45 {
		cost := make([]float64, grid)
		from := make([][grid]int, n)
		for i := 1; i < n; i++ {
			next := make([]float64, grid)
			for b := range grid {
				next[b] = math.Inf(1)
				q := at(i, lo[i]+(hi[i]-lo[i])*float64(b)/(grid-1))
				for a := range grid {
					p := at(i-1, lo[i-1]+(hi[i-1]-lo[i-1])*float64(a)/(grid-1))
					if d := cost[a] + math.Hypot(q[0]-p[0], q[1]-p[1]); d < next[b] {
						next[b], from[i][b] = d, a
					}
				}
			}
			cost = next
		}
		k := 0
		for b := range grid {
			if cost[b] < cost[k] {
				k = b
			}
		}
		best = math.Min(best, cost[k])
		for i := n - 1; i >= 0; i-- {
			t := lo[i] + (hi[i]-lo[i])*float64(k)/(grid-1)
			half := (hi[i] - lo[i]) * 0.35
			k = from[i][k]
			lo[i], hi[i] = math.Max(0, t-half), math.Min(1, t+half)
		}
	}
	return best
}

// sleeve is a random row of portals: straights, corners that fan about one
// end, hairpins.
func sleeve(rng *rand.Rand) []road.Portal {
	p, h := orb.Point{0, 0}, rng.Float64()*2*math.Pi
	half := 1 + 4*rng.Float64()
	ends := func() (l, r orb.Point) {
		sn, cs := math.Sincos(h)
		return orb.Point{p[0] - half*sn, p[1] + half*cs}, orb.Point{p[0] + half*sn, p[1] - half*cs}
	}
	var ps []road.Portal
	put := func() {
		l, r := ends()
		ps = append(ps, road.Portal{At: float64(len(ps)), Left: road.End{P: l}, Right: road.End{P: r}})
	}
	put()
	for len(ps) < 9 {
		d := 3 + 30*rng.Float64()
		p = orb.Point{p[0] + d*math.Cos(h), p[1] + d*math.Sin(h)}
		put()
		turn := (rng.Float64() - 0.5) * 2.8
		if rng.IntN(4) == 0 {
			turn = math.Copysign(2.5+0.6*rng.Float64(), turn)
		}
		l, r := ends()
		pivot := l
		if turn < 0 {
			pivot = r
		}
		steps := 1 + int(math.Abs(turn)/0.9)
		for range steps {
			sn, cs := math.Sincos(turn / float64(steps))
			x, y := p[0]-pivot[0], p[1]-pivot[1]
			p = orb.Point{pivot[0] + cs*x - sn*y, pivot[1] + sn*x + cs*y}
			h += turn / float64(steps)
			put()
			if turn > 0 {
				ps[len(ps)-1].Left.P = pivot
			} else {
				ps[len(ps)-1].Right.P = pivot
			}
		}
	}
	return ps
}

func TestStringIsAsShortAsBruteForceOnRandomSleeves(t *testing.T) {
	const seed = 20
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	worst := 0.0
	for i := range 120 {
		ps := sleeve(rng)
		if i%3 == 0 { // from a point to a point
			m := orb.Point{(ps[0].Left.P[0] + ps[0].Right.P[0]) / 2, (ps[0].Left.P[1] + ps[0].Right.P[1]) / 2}
			ps[0].Left.P, ps[0].Right.P = m, m
		}
		got, want := shortest(t, ps), brute(ps)
		if got > want+1e-7 {
			t.Fatalf("sleeve %d: %.9f m, but a path of %.9f m was found", i, got, want)
		}
		if want > got+1e-3 {
			t.Fatalf("sleeve %d: %.9f m is claimed, nothing below %.9f m was found", i, got, want)
		}
		worst = math.Max(worst, want-got)
	}
	t.Logf("largest difference %.2g m", worst)
}

// The same on roads built from drawn courses: corners, hairpins and jogs with
// their arcs. The arcs' chords make the brute force a little shorter.
func TestLineIsAsShortAsBruteForceOnBuiltRoads(t *testing.T) {
	const seed = 4
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 9))
	for i := range 12 {
		p, h := orb.Point{0, 0}, 0.0
		pts := []orb.Point{p}
		for range 3 {
			d := 12 + 40*rng.Float64()
			p = orb.Point{p[0] + d*math.Cos(h), p[1] + d*math.Sin(h)}
			pts = append(pts, p)
			h += (rng.Float64() - 0.5) * 5
		}
		sp := street(3+8*rng.Float64(), 6*rng.Float64(), 0.3)
		c := flat(pts...)
		r, err := road.Build(c, sp)
		if err != nil {
			t.Fatal(err)
		}
		got, want := shortest(t, r.Portals), brute(r.Portals)
		if math.Abs(got-want) > 0.02 {
			t.Errorf("course %d %v, width %.2f radius %.2f: %.6f m against %.6f m", i, pts, sp.Width, sp.CornerRadius, got, want)
		}
	}
}

// A portal that is worked out twice differs in the last digits, and a step of
// the road's width lies on one line but for the last digits.
func TestEndsThatDifferInTheLastDigitsDoNotTurnTheFunnelInsideOut(t *testing.T) {
	const seed = 11
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 2))
	for i := range 120 {
		var ps []road.Portal
		for _, p := range sleeve(rng) {
			// Far from the origin the last digits are larger.
			for _, e := range []*road.End{&p.Left, &p.Right} {
				e.P[0], e.P[1] = e.P[0]+3000, e.P[1]-2000
			}
			ps = append(ps, p)
			for range 1 + rng.IntN(2) {
				q := p
				if rng.IntN(3) == 0 { // a wider part of the road begins
					q.Left.P = orb.Point{p.Left.P[0] + 0.3*(p.Left.P[0]-p.Right.P[0]), p.Left.P[1] + 0.3*(p.Left.P[1]-p.Right.P[1])}
				}
				for _, e := range []*road.End{&q.Left, &q.Right} {
					e.P[0], e.P[1] = e.P[0]+2e-13*rng.NormFloat64(), e.P[1]+2e-13*rng.NormFloat64()
				}
				ps = append(ps, q)
			}
		}
		if err := certify(ps); err != nil {
			t.Fatalf("sleeve %d: %v", i, err)
		}
	}
}
