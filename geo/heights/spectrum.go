package heights

import (
	"math"
	"slices"
)

// The heights are read as road plus noise. The road's gradient is a
// first-order Gauss-Markov process along the course; the noise is a sum of up
// to four parts, each stationary along the course. How much of each is in the
// data is told by the variance of second differences of block means at
// doubling block lengths: noise that is independent from point to point is
// averaged away in long blocks, a road is not.

// part is one kind of variation by its variogram: half the mean square of the
// change over a distance, for a unit amplitude.
type part struct {
	kind  kind
	scale float64 // m, correlation length
}

type kind int

const (
	white   kind = iota // independent from node to node
	gust                // first-order Gauss-Markov, short
	wander              // second-order Gauss-Markov, critically damped
	slow                // first-order Gauss-Markov, kilometres
	ground              // the road: integrated first-order Gauss-Markov gradient
	rolling             // the road: smooth hills of one size, nothing longer
	sky                 // satellite heights: slow and wander of one kind of surroundings
	posts               // a terrain model's errors, independent from sample to sample, straight between
)

// variogram at a distance > 0 in metres. For ground the amplitude is the
// variance of the gradient (a fraction), for the others a height variance.
func (p part) variogram(d float64) float64 {
	x := d / p.scale
	switch p.kind {
	case white:
		return 1
	case gust, slow:
		return -math.Expm1(-x)
	case wander:
		return 1 - (1+x)*math.Exp(-x)
	case rolling:
		return -math.Expm1(-x * x / 2)
	case posts:
		// Two hat functions in convolution are the cubic B-spline.
		switch {
		case x < 1:
			return x*x - x*x*x/2
		case x < 2:
			return 2.0/3 - (2-x)*(2-x)*(2-x)/6
		}
		return 2.0 / 3
	case sky:
		var sum float64
		for _, a := range skies[int(p.scale)] {
			sum += a.variance * a.part.variogram(d)
		}
		return sum
	default:
		return p.scale * p.scale * (x + math.Expm1(-x))
	}
}

// amount is a part with its amplitude.
type amount struct {
	part
	variance float64
}

// triangle is the autocorrelation of a box of m ones at lag l.
func triangle(l, m int) float64 { return float64(max(0, m-max(l, -l))) }

// curvature is the variance of B(i+1) - 2 B(i) + B(i-1), B being means of m
// cells of a given length, for a unit amplitude.
func (p part) curvature(m int, cell float64) float64 {
	if p.kind == white {
		return 6 / float64(m)
	}
	var sum float64
	for l := 1; l < 3*m; l++ {
		a := 6*triangle(l, m) - 4*triangle(l-m, m) + triangle(l-2*m, m)
		sum -= 2 * a * p.variogram(float64(l)*cell)
	}
	return sum / float64(m) / float64(m)
}

// change is the variance of B(i+1) - B(i).
func (p part) change(m int, cell float64) float64 {
	if p.kind == white {
		return 2 / float64(m)
	}
	var sum float64
	for l := 1; l < 2*m; l++ {
		sum -= 2 * (2*triangle(l, m) - triangle(l-m, m)) * p.variogram(float64(l)*cell)
	}
	return sum / float64(m) / float64(m)
}

// noise is what the heights hold besides the road.
type noise []amount

// variogram of all parts together.
func (n noise) variogram(d float64) float64 {
	var sum float64
	for _, a := range n {
		sum += a.variance * a.part.variogram(d)
	}
	return sum
}

func (n noise) change(m int, cell float64) float64 {
	var sum float64
	for _, a := range n {
		sum += a.variance * a.part.change(m, cell)
	}
	return sum
}

func (n noise) curvature(m int, cell float64) float64 {
	var sum float64
	for _, a := range n {
		sum += a.variance * a.part.curvature(m, cell)
	}
	return sum
}

func (n noise) of(k kind) amount {
	for _, a := range n {
		if a.kind == k {
			return a
		}
	}
	return amount{part: part{k, 1}}
}

// scale is the observed variance of the curvature at one block length.
type scale struct {
	m        int // block length in cells
	variance float64
	freedom  float64 // degrees of freedom
}

// Blocks are no longer than this many cells: longer ones are too few to tell
// anything, and costly.
const longestBlock = 256

// However many short blocks there are, they count no more than this: how
// heights look within some tens of metres is the work of filters and
// interpolation, which the parts describe only roughly.
const mostFreedom = 100

// scales measures the curvature variances of cells, some of which may be NaN.
// Squares beyond six times the variance count as six times (Huber's proposal
// 2), so that a hill, a bridge or an outlier on an otherwise quiet course does
// not pass for noise.
func scales(cells []float64) []scale {
	sums := newSums(cells)
	n := len(cells)
	var out []scale
	squares := make([]float64, 0, n)
	for m := 1; m <= longestBlock && 4*m <= n; m *= 2 {
		squares = squares[:0]
		step := max(1, m/4)
		for i := 0; i+3*m <= n; i += step {
			a, okA := sums.mean(i, m)
			b, okB := sums.mean(i+m, m)
			c, okC := sums.mean(i+2*m, m)
			if okA && okB && okC {
				d := a - 2*b + c
				squares = append(squares, d*d)
			}
		}
		independent := float64(len(squares)) * float64(step) / float64(m) / 1.5
		if len(squares) < 3 || independent < 1 {
			continue
		}
		out = append(out, scale{m, math.Max(usual(squares, m, step), 1e-8), math.Min(0.9*independent, mostFreedom)})
	}
	return out
}

// usual is the variance on the usual stretch: the median of the means over
// stretches of the course, so that what less than half of the course shows
// does not count. When there are too few stretches, see capped.
func usual(squares []float64, m, step int) float64 {
	// A stretch holds eight blocks or a hundred cells.
	per := max(8*m, 100) / step
	n := len(squares) / per
	if n < 5 {
		return capped(squares, m)
	}
	means := make([]float64, n)
	for i := range means {
		from, to := i*len(squares)/n, (i+1)*len(squares)/n
		for _, v := range squares[from:to] {
			means[i] += v / float64(to-from)
		}
	}
	slices.Sort(means)
	// The median of chi-squared with k degrees of freedom is k(1-2/9k)^3
	// (Wilson and Hilferty 1931).
	k := float64(per*step) / float64(m) / 1.5
	low := 1 - 2/(9*k)
	return (means[n/2] + means[(n-1)/2]) / 2 / (low * low * low)
}

// capped is the variance behind squares of normal values, each counted at
// most limit times the variance. Short blocks get a higher limit: straight
// interpolation between far samples leaves most of their squares at zero.
func capped(squares []float64, m int) float64 {
	limit, mean := 6.0, 0.9742 // mean of min(z^2, limit) for a normal z
	if m <= 4 {
		limit, mean = 12, 0.9992
	}
	var v float64
	for _, s := range squares {
		v += s / float64(len(squares))
	}
	for range 12 {
		var next float64
		for _, s := range squares {
			next += math.Min(s, limit*v)
		}
		next /= mean * float64(len(squares))
		if next > 0.99*v {
			break
		}
		v = next
	}
	return v
}

// sums gives means of blocks of cells, of which some may be NaN.
type sums struct {
	total []float64
	count []int
}

func newSums(cells []float64) sums {
	s := sums{make([]float64, len(cells)+1), make([]int, len(cells)+1)}
	for i, v := range cells {
		s.total[i+1], s.count[i+1] = s.total[i], s.count[i]
		if !math.IsNaN(v) {
			s.total[i+1] += v
			s.count[i+1]++
		}
	}
	return s
}

// mean of m cells from i on; false when more than a quarter of them is missing.
func (s sums) mean(i, m int) (float64, bool) {
	c := s.count[i+m] - s.count[i]
	return (s.total[i+m] - s.total[i]) / float64(max(c, 1)), 4*c >= 3*m
}

// table caches the variances of parts at the observed block lengths.
type table struct {
	seen []scale
	cell float64
	rows map[part][]float64
}

func (t *table) row(p part) []float64 {
	if r, ok := t.rows[p]; ok {
		return r
	}
	r := make([]float64, len(t.seen))
	for i, s := range t.seen {
		r[i] = p.curvature(s.m, t.cell)
	}
	t.rows[p] = r
	return r
}

// fit finds the amplitudes of parts that make the observed variances most
// likely, by multiplicative updates that keep them positive, and gives minus
// twice the log likelihood (up to a constant), every variance being a
// chi-squared one with its degrees of freedom. Amplitudes are no less than
// the variances of the parts, and that of the second part no more than most.
// A fit that is still far from beating the likelihood to beat after some
// rounds is given up.
func (t *table) fit(parts noise, most, beat float64) ([]float64, float64) {
	k := len(parts)
	rows := make([][]float64, k)
	amp := make([]float64, k)
	bound := func(j int, v float64) float64 {
		if j == 1 && most > 0 {
			v = math.Min(v, most)
		}
		return math.Max(v, parts[j].variance)
	}
	for j, p := range parts {
		rows[j] = t.row(p.part)
		least := math.Inf(1)
		for i, s := range t.seen {
			least = math.Min(least, s.variance/rows[j][i])
		}
		amp[j] = bound(j, math.Max(least, 1e-9)/float64(k))
	}
	total := make([]float64, len(t.seen))
	likelihood := func() (q float64) {
		for i, s := range t.seen {
			q += s.freedom * (math.Log(total[i]) + s.variance/total[i])
		}
		return q
	}
	for round := range 80 {
		t.predict(total, rows, amp)
		if round == 15 && likelihood() > beat+hopeless {
			break
		}
		moved := 0.0
		for j := range parts {
			var up, down float64
			for i, s := range t.seen {
				w := s.freedom * rows[j][i] / total[i]
				up += w * s.variance / total[i]
				down += w
			}
			next := bound(j, amp[j]*up/down)
			moved = math.Max(moved, math.Abs(next-amp[j])/(next+1e-12))
			amp[j] = next
		}
		if moved < 1e-3 {
			break
		}
	}
	t.predict(total, rows, amp)
	return amp, likelihood()
}

// hopeless is how far behind a fit may be after the first rounds. It exceeds
// what later rounds and the prices of parts can make up for.
const hopeless = 150

func (t *table) predict(total []float64, rows [][]float64, amp []float64) {
	for i := range total {
		total[i] = 1e-12
		for j := range rows {
			total[i] += amp[j] * rows[j][i]
		}
	}
}

// skies are the errors of satellite heights along the course of someone who
// runs at 10/3 m/s, in four surroundings: open road, trees, houses, a street
// canyon. The slow part is the textbook Gauss-Markov process of 1100 s (Beard
// and McLain 2012, after Rankin 1994; from memory, unchecked), 9.4 m there;
// the spread of 9.9 m of a wrist receiver is that of Gloersen O. et al. 2018,
// Frontiers in Physiology 9:1425; how it divides is assumed.
var skies = [4]noise{sky4(4, 1.5, 20), sky4(6, 4, 15), sky4(8, 8, 15), sky4(9.4, 15, 15)}

func sky4(slowSD, wanderSD, seconds float64) noise {
	return noise{{part{slow, slowScale}, slowSD * slowSD}, {part{wander, seconds * runner}, wanderSD * wanderSD}}
}

const (
	runner    = 10.0 / 3 // m/s, to turn the time scales of sensors into metres
	slowScale = 1100 * runner
)

// model is what the fit found.
type model struct {
	noise    noise
	gradient float64 // variance of the road's gradient on the usual stretch
	length   float64 // m, its correlation length
}

// Figures of the model that are choices, not measurements.
const (
	usualLength = 120.0 // m, correlation length of gradient when the data cannot tell
	// A road's gradient seldom has a standard deviation beyond this on the
	// usual stretch; what is more must be noise.
	steepest, steepestBy = 0.065, 0.01
	leastWhite           = 0.1 * 0.1 // m2 per node
	leastGradient        = 0.0003 * 0.0003
	// Where there are too few heights to tell, noise is taken from those at
	// most so far apart (m), and not for more than this (m2).
	closeCells, mostWhite = 50, 2 * 2
	// A more complicated model must lower minus twice the log likelihood by
	// this much for each part beyond the simple one.
	noisePrice, roadPrice = 5, 4
	// Satellite heights of a flat road look much like those of a gently rolling
	// one. In simulations of 10 to 42 km their likelihood came within 32 of the
	// best rolling road's; that of a rolling road seen by a barometer, with
	// white noise or through a terrain model was at least 87 away.
	// They are also smooth from point to point (quiet, m).
	favour, quiet = 40, 0.35
	// Rolling hills of a lower standard deviation than this in metres are
	// rather noise, at a price that grows to lowPrice as they vanish.
	leastRolling, lowPrice = 1.5, 20
	// The greatest standard deviation in metres of gusts, and of a terrain
	// model's errors from sample to sample. What goes beyond is the road's.
	mostGust, mostTerrain = 1.2, 1.5
	// The least standard deviation in metres of the slow part of satellite
	// heights: that on an open road.
	leastSlow = 4.0
)

// noiseGuess is one thing that the noise may be made of.
type noiseGuess struct {
	parts noise   // with their least amplitudes
	most  float64 // greatest amplitude of the second part; 0: any
	price float64 // on minus twice the log likelihood
	// alone is the price where nothing but this noise explains the heights: the
	// road is flat and the heights are smooth from point to point.
	alone float64
}

// roadGuess is one shape that the road may have; no parts: it is flat.
type roadGuess struct {
	parts noise
	price float64
}

// estimate finds road and noise in cells of a given length: of all guesses at
// both the most likely pair, simpler ones preferred.
func estimate(cells []float64, cell float64, o Options) model {
	t := &table{scales(cells), cell, map[part][]float64{}}
	if len(t.seen) < 3 {
		return t.usualRoad()
	}
	roads := roadGuesses(o)
	best := math.Inf(1)
	var m model
	for _, g := range noiseGuesses(o) {
		for _, road := range roads {
			if found, q := t.weigh(g, road, best); q < best {
				best, m = q, found
			}
		}
	}
	return m
}

// usualRoad is the model where the heights are too few to tell: a road as they
// usually are, and what it leaves of the shortest blocks is noise.
func (t *table) usualRoad() model {
	m := model{gradient: 0.03 * 0.03, length: usualLength}
	v := leastWhite
	if len(t.seen) > 0 && t.cell <= closeCells {
		road := m.gradient * part{ground, usualLength}.curvature(1, t.cell)
		v = math.Max(v, math.Min((t.seen[0].variance-road)/6, mostWhite))
	}
	m.noise = noise{{part{white, 1}, v}}
	return m
}

// noiseGuesses are what the noise of such heights may be made of.
func noiseGuesses(o Options) []noiseGuess {
	point := amount{part{white, 1}, leastWhite}
	// Neighbouring samples of a terrain model share their errors.
	terrain := func(posting, least, most, price float64) noiseGuess {
		return noiseGuess{noise{point, {part{posts, posting}, least * least}}, most * most, price, price}
	}
	if o.Posting > 0 {
		return []noiseGuess{terrain(o.Posting, 0.5, mostTerrain, 0)}
	}
	guesses := []noiseGuess{{parts: noise{point}}}
	for _, l := range []float64{10, 17, 30} {
		guesses = append(guesses, noiseGuess{noise{point, {part{gust, l}, 0}}, mostGust * mostGust, noisePrice, noisePrice})
	}
	for _, posting := range []float64{30, 60, 90} {
		guesses = append(guesses, terrain(posting, 0, mostGust, noisePrice))
	}
	for k, s := range skies {
		least := leastSlow * leastSlow / s.of(slow).variance
		guesses = append(guesses, noiseGuess{noise{point, {part{sky, float64(k)}, least}}, math.Inf(1), noisePrice, -favour})
	}
	return guesses
}

// roadGuesses are the shapes that the road may have.
func roadGuesses(o Options) []roadGuess {
	rollingPrice := 2.0 * roadPrice
	if o.Posting > 0 {
		rollingPrice = 3.0 * roadPrice
	}
	roads := []roadGuess{{}}
	for _, l := range []float64{80, 160, 320} {
		roads = append(roads, roadGuess{noise{{part{ground, l}, 0}}, roadPrice})
	}
	for _, l := range []float64{28, 40, 65, 100, 160} {
		if l < o.Posting/2 {
			continue // hills that a terrain model cannot show
		}
		r := amount{part{rolling, l}, 0}
		roads = append(roads, roadGuess{noise{r}, rollingPrice}, roadGuess{noise{r, {part{ground, 160}, 0}}, roadPrice + rollingPrice})
	}
	return roads
}

// weigh fits a pair of guesses and gives minus twice its log likelihood (up to a
// constant) with all prices; beat is the likelihood to beat, see fit.
func (t *table) weigh(g noiseGuess, road roadGuess, beat float64) (model, float64) {
	parts := slices.Concat(g.parts, road.parts)
	amp, q := t.fit(parts, g.most, beat)
	m := model{assemble(g.parts, amp), 0, usualLength}
	for i, r := range road.parts {
		v := amp[len(g.parts)+i]
		if r.kind == rolling {
			q += lowPrice * math.Max(0, 1-math.Sqrt(v)/leastRolling)
			v /= r.scale * r.scale
		}
		if v > m.gradient {
			m.length = r.scale
		}
		m.gradient += v
	}
	if over := (math.Sqrt(m.gradient) - steepest) / steepestBy; over > 0 {
		q += over * over
	}
	price := g.price + road.price
	if len(road.parts) == 0 && amp[0] < quiet*quiet {
		price = g.alone
	}
	return m, q + price
}

// assemble gives the noise of these parts with their amplitudes, the first of
// amp, in kinds that the smoother knows.
func assemble(parts noise, amp []float64) noise {
	var n noise
	for i, p := range parts {
		if amp[i] <= 0 {
			continue
		}
		if p.kind == sky {
			for _, a := range skies[int(p.scale)] {
				n = append(n, amount{a.part, a.variance * amp[i]})
			}
			continue
		}
		if p.kind == posts {
			// For the smoother: same variance, same integral of the
			// autocorrelation.
			n = append(n, amount{part{wander, 0.375 * p.scale}, amp[i] * 2 / 3})
			continue
		}
		n = append(n, amount{p.part, amp[i]})
	}
	return n
}
