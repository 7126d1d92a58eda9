package likely

import (
	"math"

	"github.com/paulmach/orb"

	"tautline/geo/interval"
)

// What is taken for granted of runners before a record is seen. Metres.
const (
	meanMiss  = 2.0  // how far outside the line turns are taken, over all runners
	sdMiss    = 1.5  // from runner to runner
	sdSide    = 0.6  // between a runner's left and right turns
	sdTurn    = 0.8  // from turn to turn
	carry     = 0.6  // share of that offset still there some 15 m before and after a turn
	meanApart = 0.3  // further offset there
	sdApart   = 1.0  // from runner to runner
	sdSlow    = 1.8  // receiver error that lasts a quarter of an hour and more
	slowTime  = 1100 // s
)

// strayings are how far runners stray from their habit before and after a
// turn, m; which it is the record says.
var strayings = [...]float64{0.4, 0.9, 1.7}

// part is the receiver's error at a time, along a direction in the plane.
type part struct {
	time float64
	dir  orb.Point
}

// sight is something that the record says: habits of the runner times their
// weights plus errors.
type sight struct {
	value, mean float64
	miss, side  float64 // weights of the runner's miss and of its difference left and right
	apart       float64 // weight of the further offset beside turns
	own         float64 // weight of the turn's own miss
	sec         int
	scatter     float64 // m, length whose scatter is doubtful
	loss        float64 // m
	stray       float64 // weight of straying
	noise       float64 // m², of its own
	parts       []part
}

// Infer infers how far a runner ran beyond the reference line, in all and
// section by section.
func Infer(r *Reference, fixes []Fix, o Options) *Result {
	if o.To == 0 {
		o.To = r.Length()
	}
	p := place(r, fixes)
	res := &Result{}
	if len(p.fixes) < 3 {
		return res
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range p.s {
		low, high = math.Min(low, s), math.Max(high, s)
	}
	secs := cutSeen(r, o.From, o.To, low, high)
	p.measure(secs)
	noise, _ := p.listen(secs, make([]float64, len(secs)))
	loss, filtered := p.losses(r, secs, noise)
	noise, samples := p.listen(secs, loss)
	noise.Filter = filtered
	n := len(secs)
	sights := make([]sight, 0, 3*n) // the first n are of the sections themselves
	for i, sec := range secs {
		g := sight{sec: i, scatter: sec.length(), loss: loss[i]}
		for _, k := range r.kinks(sec.from, sec.to, 30) {
			a := 2 * math.Asin(math.Min(1, math.Hypot(k.dT[0], k.dT[1])/2))
			g.miss += a
			g.side += math.Copysign(a, k.side)
			g.parts = append(g.parts, part{p.timeOf(secs, i, k.at), orb.Point{-k.dT[0], -k.dT[1]}})
		}
		g.own = g.miss
		g.mean = meanMiss*g.miss + noise.Weave*sec.length()
		rate := rateAt(samples, noise, (sec.from+sec.to)/2)
		g.value = sec.surplus() - rate*sec.length() + loss[i]
		g.noise = noise.RateVar*sec.length() + 0.01
		if sec.missing {
			g.value, g.noise = g.mean, 1e6
		}
		sights = append(sights, g)
	}
	for i, sec := range secs {
		if sec.turn < 0 || sec.missing {
			continue
		}
		t := r.Turns[sec.turn]
		for _, w := range [2][2]float64{{math.Max(t.From-25, sec.from-7), t.From - 5}, {t.To + 5, math.Min(t.To+25, sec.to+7)}} {
			if g, ok := p.beside(r, sec, t, w[0], w[1]); ok {
				g.sec = i
				g.noise += noise.StepVar
				sights = append(sights, g)
			}
		}
	}

	var weights [len(strayings)]float64
	posts := make([][]float64, len(strayings))
	covs := make([]matrix, len(strayings))
	best := math.Inf(-1)
	for k, stray := range strayings {
		posts[k], covs[k], weights[k] = judge(sights, n, noise, stray)
		best = math.Max(best, weights[k])
	}
	var sum float64
	for k := range weights {
		weights[k] = math.Exp(weights[k] - best)
		sum += weights[k]
	}
	// Mix the answers.
	post := make([]float64, n)
	cov := newMatrix(n)
	for k := range weights {
		weights[k] /= sum
		for i := range n {
			post[i] += weights[k] * posts[k][i]
		}
	}
	for k := range weights {
		for i := range n {
			for j := range n {
				cov[i][j] += weights[k] * (covs[k][i][j] + (posts[k][i]-post[i])*(posts[k][j]-post[j]))
			}
		}
	}

	var total, between, vTotal, vBetween float64
	for i, sec := range secs {
		total += post[i]
		if sec.turn < 0 {
			between += post[i]
		}
		for j := range secs {
			vTotal += cov[i][j]
			if sec.turn < 0 && secs[j].turn < 0 {
				vBetween += cov[i][j]
			}
		}
		res.Sections = append(res.Sections, Section{
			Turn: sec.turn, From: sec.from, To: sec.to,
			Extra: interval.Normal(post[i], math.Sqrt(cov[i][i])), Lost: loss[i],
			First: p.given(sec.first), Last: p.given(sec.last), Missing: sec.missing,
		})
	}
	res.Extra = interval.Normal(total, math.Sqrt(vTotal))
	res.Between = interval.Normal(between, math.Sqrt(vBetween))
	res.Noise = noise
	res.Path = p.path(r, noise)
	return res
}

// beside looks how far outside the line the record is on a stretch beside a
// turn.
func (p *placed) beside(r *Reference, sec section, t Turn, from, to float64) (sight, bool) {
	out := -math.Copysign(1, t.Angle)
	g := sight{miss: carry, side: -carry * out, own: carry, apart: 1, stray: 1, mean: carry*meanMiss + meanApart}
	if to-from < 3 {
		return g, false
	}
	var y, time, n float64
	for i := max(0, int(sec.first)-10); i < len(p.fixes) && float64(i) < sec.last+10; i++ {
		if p.s[i] >= from && p.s[i] <= to {
			y += out * p.y[i]
			time += p.fixes[i].T
			n++
		}
	}
	if n == 0 {
		return g, false
	}
	_, dir := r.at((from + to) / 2)
	g.value = y / n
	g.noise = 0.05
	g.parts = []part{{time / n, orb.Point{-dir[1] * out, dir[0] * out}}}
	return g, true
}

// judge gives mean and covariance of what was run in the first n sights'
// sections beyond the line, given all sights, and how likely the sights are.
func judge(sights []sight, n int, noise Noise, stray float64) (post []float64, cov matrix, likelihood float64) {
	m := len(sights)
	all := newMatrix(m) // of the sights
	prior := newMatrix(m)
	wander := noise.Wander * noise.Wander
	for i, a := range sights {
		for j := range i + 1 {
			b := sights[j]
			v := sdMiss*sdMiss*a.miss*b.miss + sdSide*sdSide*a.side*b.side + sdApart*sdApart*a.apart*b.apart
			if a.sec == b.sec {
				v += sdTurn * sdTurn * a.own * b.own
			}
			v += 4e-8 * a.scatter * b.scatter
			if i == j && i < n {
				v += 0.01
			}
			prior[i][j], prior[j][i] = v, v
			v += noise.ScatterSD*noise.ScatterSD*a.scatter*b.scatter + 0.015*a.loss*b.loss
			for _, x := range a.parts {
				for _, y := range b.parts {
					dt := math.Abs(x.time - y.time)
					if math.IsNaN(dt) {
						dt = 1e9
					}
					v += (x.dir[0]*y.dir[0] + x.dir[1]*y.dir[1]) *
						(wander*(1+dt/15)*math.Exp(-dt/15) + sdSlow*sdSlow*math.Exp(-dt/slowTime))
				}
			}
			if i == j {
				v += a.noise + stray*stray*a.stray*a.stray
			}
			all[i][j], all[j][i] = v, v
		}
	}
	l := cholesky(all)
	innov := make([]float64, m)
	for i, g := range sights {
		innov[i] = g.value - g.mean
		likelihood -= math.Log(l[i][i])
	}
	w := solve(l, innov)
	for i := range innov {
		likelihood -= innov[i] * w[i] / 2
	}
	post = make([]float64, n)
	cov = newMatrix(n)
	half := make(matrix, n)
	for i := range n {
		post[i] = sights[i].mean
		for j := range m {
			post[i] += prior[i][j] * w[j]
		}
		half[i] = forward(l, prior[i])
		for j := range i + 1 {
			v := prior[i][j]
			for k := range m {
				v -= half[i][k] * half[j][k]
			}
			cov[i][j], cov[j][i] = v, v
		}
	}
	return post, cov, likelihood
}

// bendPart is a part of a section in which the line turns.
type bendPart struct {
	at   float64
	dT   orb.Point
	side float64
}

// kinks gathers the changes of direction of the line between two places into
// parts no longer than span metres.
func (r *Reference) kinks(from, to, span float64) []bendPart {
	var out []bendPart
	i, _ := r.leg(from)
	_, start := r.at(from)
	dir, begin := start, from
	flush := func(at float64) {
		d := orb.Point{dir[0] - start[0], dir[1] - start[1]}
		if math.Hypot(d[0], d[1]) > 0.01 {
			out = append(out, bendPart{(begin + at) / 2, d, start[0]*dir[1] - start[1]*dir[0]})
		}
		start, begin = dir, at
	}
	for i++; i < len(r.Points)-1 && r.Along[i] < to; i++ {
		if r.Along[i]-begin > span {
			flush(r.Along[i])
		}
		_, d := r.at((r.Along[i] + r.Along[i+1]) / 2)
		if d[0]*dir[0]+d[1]*dir[1] < 0 || start[0]*d[0]+start[1]*d[1] < 0 { // keep parts below a right angle
			flush(r.Along[i])
		}
		dir = d
	}
	flush(to)
	return out
}

func (p *placed) timeOf(secs []section, i int, at float64) float64 {
	s := secs[i]
	if math.IsNaN(s.first) || math.IsNaN(s.last) {
		return math.NaN()
	}
	f := (at - s.from) / math.Max(s.length(), 1e-9)
	return p.timeAt(s.first) + f*(p.timeAt(s.last)-p.timeAt(s.first))
}

type matrix [][]float64

func newMatrix(n int) matrix {
	buf := make([]float64, n*n)
	m := make(matrix, n)
	for i := range m {
		m[i] = buf[i*n : (i+1)*n]
	}
	return m
}

func cholesky(a matrix) matrix {
	n := len(a)
	l := newMatrix(n)
	for i := range n {
		for j := 0; j <= i; j++ {
			s := a[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][i] = math.Sqrt(math.Max(s, 1e-12))
			} else {
				l[i][j] = s / l[j][j]
			}
		}
	}
	return l
}

// forward solves l x = b.
func forward(l matrix, b []float64) []float64 {
	x := append([]float64(nil), b...)
	for i := range l {
		for k := range i {
			x[i] -= l[i][k] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x
}

// solve solves l l' x = b.
func solve(l matrix, b []float64) []float64 {
	n := len(l)
	x := forward(l, b)
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			x[i] -= l[k][i] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x
}
