package heights

import "math"

// node is one or several samples close together.
type node struct {
	at     float64 // m, mean chainage
	height float64 // m, mean height; NaN where the line is only wanted
	weight float64 // number of samples, relative to the usual node's
}

// most is the largest number of states: the road's height and the two parts
// of its gradient, wander and its change, slow part, gust.
const most = 7

// liveliness is the variance of the road's gradient somewhere: of the part
// that changes within the usual length, and of the part that holds on for
// longLength.
type liveliness struct{ short, long float64 }

const longLength = 500.0 // m

func (v liveliness) between(w liveliness) liveliness {
	return liveliness{(v.short + w.short) / 2, (v.long + w.long) / 2}
}

type matrix [most * most]float64
type vector [most]float64

// smoother is the Kalman smoother of the model that spectrum.go describes, over
// nodes at any spacing.
type smoother struct {
	n                         int // states in use
	iWander, iSlow, iGust     int // 0 when absent
	white, wander, slow, gust amount
	length                    float64
}

func newSmoother(m model) *smoother {
	k := &smoother{n: 3, length: m.length}
	k.white = m.noise.of(white)
	if a := m.noise.of(wander); a.variance > 0 {
		k.wander, k.iWander = a, k.n
		k.n += 2
	}
	if a := m.noise.of(slow); a.variance > 0 {
		k.slow, k.iSlow = a, k.n
		k.n++
	}
	if a := m.noise.of(gust); a.variance > 0 {
		k.gust, k.iGust = a, k.n
		k.n++
	}
	return k
}

// transition is F, whose entries lie at most two beside the diagonal, and the
// covariance Q of what is new after a distance d on a stretch whose gradient
// has these variances.
func (k *smoother) transition(d float64, v liveliness) (f, q matrix) {
	n := k.n
	f[0] = 1
	for i, g := range [2]struct{ v, l float64 }{{v.short, k.length}, {v.long, longLength}} {
		i++
		e := math.Exp(-d / g.l)
		a := -math.Expm1(-d / g.l)
		f[i], f[i*n+i] = g.l*a, e
		q[0] += math.Max(0, g.v*g.l*(2*d-4*g.l*a+g.l*(1-e*e)))
		q[i] = g.v * g.l * a * a
		q[i*n], q[i*n+i] = q[i], g.v*(1-e*e)
	}
	if i := k.iWander; i > 0 {
		T, s := k.wander.scale, k.wander.variance
		x, e := d/T, math.Exp(-d/T)
		f00, f01, f10, f11 := e*(1+x), e*d, -e*x/T, e*(1-x)
		f[i*n+i], f[i*n+i+1], f[(i+1)*n+i], f[(i+1)*n+i+1] = f00, f01, f10, f11
		s1 := s / (T * T)
		q[i*n+i] = s - f00*f00*s - f01*f01*s1
		q[i*n+i+1] = -f00*f10*s - f01*f11*s1
		q[(i+1)*n+i] = q[i*n+i+1]
		q[(i+1)*n+i+1] = s1 - f10*f10*s - f11*f11*s1
	}
	if i := k.iSlow; i > 0 {
		e := math.Exp(-d / k.slow.scale)
		f[i*n+i], q[i*n+i] = e, k.slow.variance*(1-e*e)
	}
	if i := k.iGust; i > 0 {
		e := math.Exp(-d / k.gust.scale)
		f[i*n+i], q[i*n+i] = e, k.gust.variance*(1-e*e)
	}
	return f, q
}

// reach is how far beside the diagonal a transition has entries.
const reach = 2

// times gives A B for a banded A.
func (k *smoother) times(a, b *matrix) (c matrix) {
	n := k.n
	for i := range n {
		for m := max(0, i-reach); m <= min(n-1, i+reach); m++ {
			x := a[i*n+m]
			if x == 0 {
				continue
			}
			for j := range n {
				c[i*n+j] += x * b[m*n+j]
			}
		}
	}
	return c
}

// between gives A B A' for a banded A and a symmetric B.
func (k *smoother) between(a, b *matrix) (c matrix) {
	n := k.n
	ab := k.times(a, b)
	for i := range n {
		for m := range n {
			x := ab[i*n+m]
			for j := max(0, m-reach); j <= min(n-1, m+reach); j++ {
				c[i*n+j] += x * a[j*n+m]
			}
		}
	}
	return c
}

func (k *smoother) transposed(a *matrix) (c matrix) {
	for i := range k.n {
		for j := range k.n {
			c[j*k.n+i] = a[i*k.n+j]
		}
	}
	return c
}

// state is what the forward pass leaves behind for the backward pass.
type state struct {
	x     vector
	p     matrix
	f     matrix // from the node before
	resid float64
	s     float64 // variance of resid, 0 when the node has no height
	gain  vector  // P H'
}

// result is the smoothed road at the nodes.
type result struct {
	height   []float64 // m
	level    []float64 // m2, variance of the height, the slow part aside
	slope    []float64 // its gradient
	slopeVar []float64 // variance of the gradient
	misfit   []float64 // observed less smoothed (all parts), in its standard deviations; NaN without height
}

// run smooths. The variance of the gradient is given for every node; it
// allows short hills on a quiet course. Weights below one in trust multiply
// the precision of a node.
func (k *smoother) run(nodes []node, variance []liveliness, trust []float64) result {
	n := k.n
	var h vector // observation: road plus the correlated parts
	h[0] = 1
	for _, i := range []int{k.iWander, k.iSlow, k.iGust} {
		if i > 0 {
			h[i] = 1
		}
	}
	states := make([]state, len(nodes))
	var x vector
	var p matrix
	p[0], p[n+1], p[2*n+2] = 300*300, variance[0].short, variance[0].long
	if i := k.iWander; i > 0 {
		p[i*n+i], p[(i+1)*n+i+1] = k.wander.variance, k.wander.variance/(k.wander.scale*k.wander.scale)
	}
	if i := k.iSlow; i > 0 {
		p[i*n+i] = k.slow.variance
	}
	if i := k.iGust; i > 0 {
		p[i*n+i] = k.gust.variance
	}
	for t := range nodes {
		s := &states[t]
		if t > 0 {
			d := nodes[t].at - nodes[t-1].at
			var q matrix
			s.f, q = k.transition(d, variance[t-1].between(variance[t]))
			p = k.between(&s.f, &p)
			var y vector
			for i := range n {
				for j := max(0, i-reach); j <= min(n-1, i+reach); j++ {
					y[i] += s.f[i*n+j] * x[j]
				}
				for j := range n {
					p[i*n+j] += q[i*n+j]
				}
			}
			x = y
		}
		s.x, s.p = x, p
		if math.IsNaN(nodes[t].height) {
			continue
		}
		r := k.white.variance / nodes[t].weight / trust[t]
		var fit float64
		for i := range n {
			for j := range n {
				s.gain[i] += p[i*n+j] * h[j]
			}
			fit += h[i] * x[i]
		}
		s.s = r
		for i := range n {
			s.s += h[i] * s.gain[i]
		}
		s.resid = nodes[t].height - fit
		for i := range n {
			x[i] += s.gain[i] * s.resid / s.s
			for j := range n {
				p[i*n+j] -= s.gain[i] * s.gain[j] / s.s
			}
		}
	}
	return k.back(nodes, states, h)
}

// back is the modified Bryson-Frazier form of the fixed-interval smoother
// (Bierman G.J. 1973, Automatica 9:275-280; from memory, unchecked): it needs
// no inverse, which the road's tiny variances on flat ground would not bear.
func (k *smoother) back(nodes []node, states []state, h vector) result {
	n := k.n
	n0 := len(nodes)
	res := result{make([]float64, n0), make([]float64, n0), make([]float64, n0), make([]float64, n0), make([]float64, n0)}
	var lambda vector
	var big matrix
	for t := len(nodes) - 1; t >= 0; t-- {
		s := &states[t]
		if s.s > 0 {
			// lambda = -H' e/S + C' lambda, big = H'H/S + C' big C, C = I - K H.
			var kl float64
			var bk vector
			var kbk float64
			for i := range n {
				kl += s.gain[i] / s.s * lambda[i]
				for j := range n {
					bk[i] += big[i*n+j] * s.gain[j] / s.s
				}
			}
			for i := range n {
				kbk += s.gain[i] / s.s * bk[i]
			}
			for i := range n {
				lambda[i] -= h[i] * (s.resid/s.s + kl)
				for j := range n {
					big[i*n+j] += h[i]*h[j]*(1/s.s+kbk) - h[i]*bk[j] - bk[i]*h[j]
				}
			}
		}
		var pl vector
		for i := range n {
			for j := range n {
				pl[i] += s.p[i*n+j] * lambda[j]
			}
		}
		res.height[t] = s.x[0] - pl[0]
		// Variance of c'x, c taking road and slow part.
		var c vector
		c[0] = 1
		if k.iSlow > 0 {
			c[k.iSlow] = 1
		}
		res.level[t] = k.form(&s.p, &big, c)
		res.slope[t] = s.x[1] - pl[1] + s.x[2] - pl[2]
		res.slopeVar[t] = k.form(&s.p, &big, vector{0, 1, 1})
		res.misfit[t] = math.NaN()
		if s.s > 0 {
			var fit float64
			for i := range n {
				fit += h[i] * (s.x[i] - pl[i])
			}
			r := k.white.variance / nodes[t].weight
			res.misfit[t] = (nodes[t].height - fit) / math.Sqrt(r)
		}
		if t > 0 {
			ft := k.transposed(&s.f)
			var y vector
			for i := range n {
				for j := max(0, i-reach); j <= min(n-1, i+reach); j++ {
					y[i] += ft[i*n+j] * lambda[j]
				}
			}
			lambda = y
			big = k.between(&ft, &big)
		}
	}
	return res
}

// form is c' (P - P B P) c.
func (k *smoother) form(p, b *matrix, c vector) float64 {
	n := k.n
	var pc vector
	var sum float64
	for i := range n {
		for j := range n {
			pc[i] += p[i*n+j] * c[j]
		}
		sum += c[i] * pc[i]
	}
	for i := range n {
		for j := range n {
			sum -= pc[i] * b[i*n+j] * pc[j]
		}
	}
	return math.Max(0, sum)
}
