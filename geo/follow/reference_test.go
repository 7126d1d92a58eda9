package follow

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
)

// exhaustive is the model solved without short cuts: every foot of every fix
// from every foot of every earlier fix, all fixes between being off the course,
// without limits on how many places are remembered. It gives the least cost.
// The greatest chainage so far is carried as in decode.
func (m *model) exhaustive() float64 {
	n := len(m.fixes)
	layers := make([][]node, n)
	best := float64(n)*asideCost + m.part(m.startAt)
	for j := range n {
		for _, f := range m.index.feet(m.index.near(m.fixes[j].P), m.fixes[j].P, m.radius, nil) {
			o := node{f.s, f.s, float64(j)*asideCost + m.join(f.s)}
			for i := range j {
				t := m.between(i, j)
				away := 0.0
				if off := j - i - 1; off > 0 {
					away = leaveCost + float64(off)*offCost
				}
				for _, p := range layers[i] {
					if f.s < p.top-m.back {
						continue
					}
					if c := p.cost + away + t.cost(f.s-p.s); c < o.cost {
						o.cost, o.top = c, math.Max(f.s, p.top)
					}
				}
			}
			o.cost += m.emission.cost(f.d)
			layers[j] = append(layers[j], o)
			best = math.Min(best, o.cost+m.part(o.s)+float64(n-1-j)*asideCost)
		}
	}
	return best
}

// price computes the cost of a labelling, which decode must not understate.
func (m *model) price(at []float64) float64 {
	first, last := -1, -1
	cost := 0.0
	for j, s := range at {
		if math.IsNaN(s) {
			continue
		}
		d := math.Inf(1)
		for _, f := range m.index.feet(m.index.near(m.fixes[j].P), m.fixes[j].P, m.radius, nil) {
			if math.Abs(f.s-s) < 0.01 {
				d = f.d
			}
		}
		cost += m.emission.cost(d)
		if first < 0 {
			first = j
			cost += float64(j)*asideCost + m.join(s)
		} else {
			t := m.between(last, j)
			cost += t.cost(s - at[last])
			if off := j - last - 1; off > 0 {
				cost += leaveCost + float64(off)*offCost
			}
		}
		last = j
	}
	if first < 0 {
		return float64(len(at))*asideCost + m.part(m.startAt)
	}
	return cost + m.part(at[last]) + float64(len(at)-1-last)*asideCost
}

// TestDecoderAgainstTheFullModel compares the decoder with the full model on
// random courses with many legs. Without its limits on the places remembered
// it finds the best path even of a record that leaps about; with them it finds
// it, or one hardly worse, for a record whose runner moves without leaps.
func TestDecoderAgainstTheFullModel(t *testing.T) {
	for _, tt := range []struct {
		name           string
		leaps          bool
		bridge         float64
		maxAway        int
		missed, excess float64 // allowed: share of the cases, mean share of the cost
	}{
		{"leaping, without limits", true, 0, 1 << 20, 0.03, 0.001},
		{"moving, with limits", false, bridge, maxAway, 0.08, 0.005},
	} {
		const cases, length = 250, 120
		missed, excess := 0, 0.0
		for seed := range uint64(cases) {
			rng := rand.New(rand.NewPCG(seed, 99))
			var points []orb.Point
			for range 3 + rng.IntN(6) {
				points = append(points, orb.Point{400 * rng.Float64(), 400 * rng.Float64()})
			}
			points = repeat(1+rng.IntN(2), append(points, points[0])...)
			c := drawn(points...)
			r := record(seed, []float64{1, 1, 3}[rng.IntN(3)], 1+8*rng.Float64())
			a := c.Length() * rng.Float64()
			for len(r.fixes) < length {
				if tt.leaps {
					a = c.Length() * rng.Float64()
				}
				b := math.Min(c.Length(), a+40*r.every*rng.Float64())
				if b >= c.Length() {
					a = 0
					continue
				}
				switch rng.IntN(5) {
				case 0: // away from the course and back to it
					aside := orb.Point{c.At(a)[0] + 80*rng.NormFloat64(), c.At(a)[1] + 80*rng.NormFloat64()}
					r.by(4, c.At(a), aside, c.At(b))
				case 1:
					r.stand(c, a, 5*r.every, true)
					b = a
				default:
					r.along(c, a, b, 4)
				}
				a = b
			}
			o := Options{FinishAt: c.Length(), HalfWidth: usualHalfWidth}
			m := newModel(newIndex(c.Points, c.Chainage), r.fixes[:length], o)
			m.bridge, m.maxAway = tt.bridge, tt.maxAway
			at, cost := m.decode()
			full := m.exhaustive()
			if paid := m.price(at); math.Abs(paid-cost) > 0.01*float64(len(at)) {
				t.Errorf("%s, seed %d: the path costs %.3f, the decoder says %.3f", tt.name, seed, paid, cost)
			}
			if cost < full-1e-6 {
				t.Errorf("%s, seed %d: the decoder finds %.3f, less than the full model's %.3f", tt.name, seed, cost, full)
			}
			excess += (cost/full - 1) / cases
			if cost > full*1.02+1 {
				missed++
			}
		}
		if float64(missed) > tt.missed*cases || excess > tt.excess {
			t.Errorf("%s: %d of %d paths are more than 2 %% worse than the best, on average %.2g of its cost", tt.name, missed, cases, excess)
		} else {
			t.Logf("%s: %d of %d paths are more than 2 %% worse than the best, on average %.2g of its cost", tt.name, missed, cases, excess)
		}
	}
}
