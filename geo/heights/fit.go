package heights

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"tautline/geo/interval"
)

// cellFor chooses the spacing of the nodes: the usual distance of samples, at
// least leastCell.
func cellFor(good []Sample, length float64) float64 {
	gaps := make([]float64, 0, len(good))
	for i := 1; i < len(good); i++ {
		gaps = append(gaps, good[i].At-good[i-1].At)
	}
	slices.Sort(gaps)
	cell := math.Max(leastCell, gaps[len(gaps)/2])
	return math.Max(math.Min(cell, length/4), length/mostCells)
}

// build makes the road of the profile out of heights, two or more, that lie in
// order.
func (p *Profile) build(good []Sample, o Options) {
	good = p.unround(good)
	cell := cellFor(good, p.length)
	count := max(1, int(math.Ceil(p.length/cell)))
	nodes, perNode := gather(good, cell)
	nodes, cells, m := p.withoutOddities(nodes, cell, count, o)
	if o.Loop {
		p.close(nodes, o, m.noise)
	}
	// The mean slope is taken out and put back, so that the model's road has
	// none to explain.
	a, b := line(nodes)
	for i := range nodes {
		nodes[i].height -= a + b*nodes[i].at
	}
	for i := range cells {
		cells[i] -= a + b*(float64(i)+0.5)*cell
	}
	all := p.stations(nodes, cell, count)
	res := p.smooth(all, localVariance(cells, cell, m), cell, m)
	p.at = make([]float64, len(all))
	p.height = res.height
	p.variance = res.level
	for i, n := range all {
		p.at[i] = n.at
		p.height[i] += a + b*n.at
	}
	within(p.height, good)
	extend(p.at, p.height, res, nodes[0].at, nodes[len(nodes)-1].at, b)
	p.slow = m.noise.of(slow)
	if p.slow.variance == 0 {
		p.slow.scale = slowScale
	}
	typical := typicalVariance(all, res.level)
	p.settle(res, b, typical)
	p.describe(m, o, cell, perNode, typical)
}

// unround draws heights that were rounded through the middle of their steps.
func (p *Profile) unround(good []Sample) []Sample {
	quantum := lattice(good)
	if quantum == 0 {
		return good
	}
	sloped, done := ramps(good)
	if done {
		p.notes = append(p.notes, fmt.Sprintf("the heights are rounded to %.2g m; the road is drawn through the middle of the steps", quantum))
	}
	return sloped
}

// withoutOddities takes out of the nodes what no road does and gives the nodes
// that remain, their grid, and the model of what is in it: oddities would pull
// the road towards them. It looks twice, as the large ones hide small ones.
func (p *Profile) withoutOddities(nodes []node, cell float64, count int, o Options) ([]node, []float64, model) {
	cells := grid(nodes, cell, count)
	m := estimate(cells, cell, o)
	out := make([]bool, count) // cells that the road is drawn across
	for range 2 {
		odd := find(filled(cells), cell, m.noise)
		if len(odd.steps)+len(odd.bridged) == 0 {
			break
		}
		nodes = p.mend(nodes, odd.steps, cell)
		under := func(n node) bool { return out[min(int(n.at/cell), count-1)] }
		before := out
		out = mark(out, odd.bridged)
		// With few heights far apart a bridge may lie over all of them.
		if tooMuch(out) || !slices.ContainsFunc(nodes, func(n node) bool { return !under(n) }) {
			out = before
			p.notes = append(p.notes, "steep dips and humps make up more than a fifth of the course; they are taken as they stand")
			break
		}
		nodes = slices.DeleteFunc(nodes, under)
		cells = grid(nodes, cell, count)
		m = estimate(cells, cell, o)
	}
	p.noteBridges(out, cell)
	return nodes, cells, m
}

// smooth runs the smoother over the stations, and once more when some of their
// heights turn out to lie far off the road.
func (p *Profile) smooth(all []node, local []liveliness, cell float64, m model) result {
	variance := make([]liveliness, len(all))
	trust := make([]float64, len(all))
	for i, n := range all {
		variance[i] = local[min(int(n.at/cell), len(local)-1)]
		trust[i] = 1
	}
	k := newSmoother(m)
	res := k.run(all, variance, trust)
	if n := distrust(res.misfit, trust); n > 0 {
		res = k.run(all, variance, trust)
		p.notes = append(p.notes, fmt.Sprintf("%d heights lie far off the road and hardly count", n))
	}
	return res
}

// typicalVariance is that of the smoothed road's height, m2, at most of the
// stations where it was measured: its upper quartile.
func typicalVariance(all []node, level []float64) float64 {
	var known []float64
	for i, n := range all {
		if !math.IsNaN(n.height) {
			known = append(known, level[i])
		}
	}
	slices.Sort(known)
	return known[len(known)*3/4]
}

// within keeps a road between its lowest and its highest measured place, and a
// little beyond: across a gap between wild heights the smoothest road would
// climb out of sight.
func within(height []float64, good []Sample) {
	const beyond = 30 // m, of a crest or a dip that no height was measured on
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range good {
		low, high = math.Min(low, s.Height), math.Max(high, s.Height)
	}
	for i, h := range height {
		height[i] = min(max(h, low-beyond), high+beyond)
	}
}

// extend draws the road before the first and behind the last measured height:
// on at its gradient there, no steeper than roads get, for as long as that may
// be told, then level.
func extend(at, height []float64, res result, from, to, tilt float64) {
	first := min(sort.SearchFloat64s(at, from), len(at)-1)
	last := sort.SearchFloat64s(at, to)
	draw := func(i, end int) {
		g := math.Max(-cliffSlope, math.Min(cliffSlope, res.slope[end]+tilt))
		d := math.Abs(at[i] - at[end])
		if d > nearby {
			d, res.slope[i], res.slopeVar[i] = nearby, -tilt, 0
		} else {
			res.slope[i] = g - tilt
		}
		if i < end {
			d = -d
		}
		height[i] = height[end] + g*d
	}
	for i := range at {
		if i < first {
			draw(i, first)
		} else if i > last {
			draw(i, last)
		}
	}
}

// mend takes jumps of the record out of the nodes behind them.
func (p *Profile) mend(nodes []node, steps []cliff, cell float64) []node {
	out := slices.Clone(nodes)
	for _, s := range steps {
		at := float64(s.to) * cell
		for i := range out {
			if out[i].at >= at {
				out[i].height -= s.jump
			}
		}
		p.notes = append(p.notes, fmt.Sprintf("a jump of %+.1f m at %s is taken for a fault of the record and removed", s.jump, place(at)))
	}
	return out
}

// mark gives the cells whose heights are left out once those of these stretches
// are too.
func mark(out []bool, stretches []stretch) []bool {
	next := slices.Clone(out)
	for _, s := range stretches {
		for i := s.from; i <= s.to; i++ {
			next[i] = true
		}
	}
	return next
}

// tooMuch tells whether more than a fifth of the course is left out.
func tooMuch(out []bool) bool {
	total := 0
	for _, b := range out {
		if b {
			total++
		}
	}
	return 5*total > len(out)
}

// noteBridges writes a note for each run of cells left out.
func (p *Profile) noteBridges(out []bool, cell float64) {
	for i := 0; i < len(out); i++ {
		if !out[i] {
			continue
		}
		from := i
		for i < len(out) && out[i] {
			i++
		}
		p.notes = append(p.notes, fmt.Sprintf("between %s and %s the heights dip or rise more sharply than roads do, as terrain does under a bridge or beside a cutting; the road is drawn across",
			place(float64(from)*cell), place(float64(i)*cell)))
	}
}

// close takes the difference between finish and start out evenly, where it is
// more than the noise of two single heights explains.
func (p *Profile) close(nodes []node, o Options, n noise) {
	if o.Posting > 0 || len(nodes) < 10 {
		return
	}
	first, last := nodes[0], nodes[len(nodes)-1]
	if last.at-first.at < 0.9*p.length {
		return
	}
	// The middle one of the heights at an end, up to five. On a drawn course they
	// stand so far apart that the next ones are up or down the hill.
	const near = 25.0
	middle := func(n []node, end float64) float64 {
		var h []float64
		for _, x := range n {
			if math.Abs(x.at-end) <= near {
				h = append(h, x.height)
			}
		}
		slices.Sort(h)
		return h[len(h)/2]
	}
	drift := middle(nodes[len(nodes)-5:], last.at) - middle(nodes[:5], first.at)
	var single float64 // variance of a single height
	for _, a := range n {
		if a.part.kind == white {
			single += a.variance
		}
	}
	if math.Abs(drift) < math.Max(0.5, interval.Z90*math.Sqrt(2*single)) || math.Abs(drift) > 50 {
		return
	}
	for i := range nodes {
		nodes[i].height -= drift * (nodes[i].at - first.at) / (last.at - first.at)
	}
	p.notes = append(p.notes, fmt.Sprintf("start and finish are the same place, but the heights differ by %+.1f m; the drift is taken out evenly", drift))
}

// line is the least-squares straight line through nodes.
func line(nodes []node) (a, b float64) {
	var n, sx, sy float64
	for _, x := range nodes {
		n++
		sx += x.at
		sy += x.height
	}
	sx, sy = sx/n, sy/n
	var xx, xy float64
	for _, x := range nodes {
		xx += (x.at - sx) * (x.at - sx)
		xy += (x.at - sx) * (x.height - sy)
	}
	if xx > 0 {
		b = xy / xx
	}
	return sy - b*sx, b
}

// stations are the nodes with heights, and nodes without in empty cells and
// at both ends of the course.
func (p *Profile) stations(nodes []node, cell float64, count int) []node {
	all := make([]node, 0, count+2)
	add := func(n node) {
		if k := len(all) - 1; k >= 0 && n.at-all[k].at < 0.01 {
			if math.IsNaN(all[k].height) {
				n.at = all[k].at
				all[k] = n
			}
			return
		}
		all = append(all, n)
	}
	bare := func(at float64) node { return node{at, math.NaN(), 1} }
	add(bare(0))
	j := 0
	for c := range count {
		found := false
		for j < len(nodes) && (c == count-1 || int(nodes[j].at/cell) <= c) {
			add(nodes[j])
			j++
			found = true
		}
		if !found {
			add(bare(math.Min((float64(c)+0.5)*cell, p.length)))
		}
	}
	add(bare(p.length))
	// The last one carries the end exactly.
	all[len(all)-1].at = p.length
	return all
}

// distrust lowers the trust in nodes that lie far off the smoothed road, as
// Huber's weights do, and counts them.
func distrust(misfit, trust []float64) int {
	const far = 4.5
	n := 0
	for i, r := range misfit {
		if a := math.Abs(r); a > far {
			trust[i] = far / a * far / a / 4
			n++
		}
	}
	return n
}

// settle finds the turning points by a threshold from the typical variance of
// the road's height, makes the road rise or fall only between them, and sums up.
func (p *Profile) settle(res result, tilt, variance float64) {
	n := len(p.at)
	p.threshold = math.Max(leastRise, noiseRise*math.Sqrt(2*variance))
	p.threshold = math.Ceil(p.threshold*10) / 10
	p.turns = turningPoints(p.height, p.threshold)
	bounds := append([]int{0}, p.turns...)
	bounds = append(bounds, n-1)
	for k := 1; k < len(bounds); k++ {
		i, j := bounds[k-1], bounds[k]
		if j > i {
			// The ends of a piece may be no extremes (start, finish), so they
			// are brought inside what lies between.
			monotone(p.height[i:j+1], p.height[j] >= p.height[i])
		}
	}
	p.up, p.down, p.hidden = make([]float64, n), make([]float64, n), make([]float64, n)
	for i := 1; i < n; i++ {
		d := p.height[i] - p.height[i-1]
		p.up[i] = p.up[i-1] + math.Max(0, d)
		p.down[i] = p.down[i-1] + math.Max(0, -d)
		g := (res.slope[i]+res.slope[i-1])/2 + tilt
		sd := math.Sqrt((res.slopeVar[i] + res.slopeVar[i-1]) / 2)
		p.hidden[i] = p.hidden[i-1] + (p.at[i]-p.at[i-1])*meanRise(g, sd) - math.Max(0, d)
	}
}

// meanRise is the mean of the positive part of a normal gradient: what noise
// or what the smoothing cannot see adds to a sum of rises.
func meanRise(mean, sd float64) float64 {
	if sd <= 0 {
		return math.Max(0, mean)
	}
	z := mean / sd
	return mean*0.5*math.Erfc(-z/math.Sqrt2) + sd*math.Exp(-z*z/2)/math.Sqrt(2*math.Pi)
}

// describe writes Method. Variance is the typical one of the smoothed road.
func (p *Profile) describe(m model, o Options, cell, perNode, variance float64) {
	text := fmt.Sprintf("heights from %s with noise of %.1f m from point to point", o.source(), math.Sqrt(m.noise.of(white).variance*perNode))
	add := func(k kind, what string) float64 {
		a := m.noise.of(k)
		if a.variance > 0.05*0.05 {
			text += fmt.Sprintf(", %.1f m %s %.0f m", math.Sqrt(a.variance), what, a.scale)
		}
		return a.variance * a.scale
	}
	// Noise per metre at long wavelengths, which a mean over a length divides.
	density := m.noise.of(white).variance * cell
	density += 2 * add(gust, "that lasts")
	density += 4 * add(wander, "of wander over")
	add(slow, "of drift over")
	mean := math.Max(cell, math.Min(density/math.Max(variance, 1e-9), p.length))
	text += fmt.Sprintf("; smoothed to the most likely road, about as a mean over %s would", roundLength(mean))
	if m.gradient == 0 {
		text += ", level where nothing stands out of the noise"
	}
	p.method = fmt.Sprintf("%s; rises under %.1f m do not count as climb", text, p.threshold)
}

// roundLength writes a length in metres that is known roughly.
func roundLength(v float64) string {
	if v >= 1000 {
		return fmt.Sprintf("%.0f km", v/1000)
	}
	return fmt.Sprintf("%.0f m", math.Max(10, math.Round(v/10)*10))
}
