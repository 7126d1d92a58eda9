// Package heights makes a road profile out of heights that were measured or
// looked up along a course: noisy, rounded, partly missing, from satellites,
// a barometer or terrain tiles.
//
// Summed as they stand, such heights are mostly hills that are not there:
// white noise of standard deviation s adds 0.56 s of climb per sample. The
// profile is the most likely road under a model of road and noise whose
// scales are taken from the heights themselves (spectrum.go), smoothed over
// the whole course at once (smooth.go), after rounding steps, jumps of the
// record and dips or humps that no road has are taken out (clean.go). Rises
// below a threshold that follows from the noise that remains are not counted
// as climbs: between the turning points that pass it the road only rises or
// only falls (climb.go). Method and Notes say in words what was done.
//
// What is left of noise on a flat course, measured by TestWhatNoiseLeaves (50
// seeds of 10 km each, a height every 3 m unless said; worst kilometre of all):
// white noise of 1 m every 3 or 20 m, and a barometer with gusts, drift and
// pressure steps, leave at most 0.5 m of climb and 0.3 % of even-effort pace;
// 30 m terrain tiles with 1 m noise, or with bridges and cuttings, 0.4 m and
// 0.2 %. A 40 m hill over 2 km keeps its height within 5 % under all of these.
// Satellite heights cannot promise that: on open road the 95 % figures are 0.4
// m and 0.3 %, but a 40 m hill comes out at 80 to 120 %; among trees it does at
// 70 to 120 %, among houses it may be missed, and in a street canyon it mostly
// is. Shorter and lower hills fare worse: of 20 m over 400 m nothing is left
// among trees. A course that rolls by less than some 4 m within 200 m cannot be
// told from the errors of a terrain model. A real dip of more than 15 % on
// both sides within 200 m would be bridged.
//
// Heights may be above the geoid or above the ellipsoid. The difference
// between the two changes by less than 0.1 m per kilometre nearly everywhere,
// so gradients do not care; a course's length on the surface changes by less
// than 0.002 % for a hundred metres of height.
package heights

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"tautline/geo/earth"
	"tautline/geo/interval"
)

// Sample is one height along a course.
type Sample struct {
	At     float64 // chainage, m
	Height float64 // m, NaN when missing
}

// Source is where heights come from, a hint for the model of their noise.
type Source int

// Sources. Unknown judges by the heights alone.
const (
	Unknown Source = iota
	Terrain
	Barometer
	Satellite
)

// String gives the source in words.
func (s Source) String() string {
	switch s {
	case Terrain:
		return "terrain tiles"
	case Barometer:
		return "a barometer"
	case Satellite:
		return "satellites"
	}
	return "an unnamed source"
}

// Options steer New. The zero value is the default.
type Options struct {
	Source Source
	// Loop says that start and finish are the same place, so that a difference
	// between their heights is drift and is taken out evenly.
	Loop bool
	// Threshold in metres replaces the least rise that counts as a climb; 0
	// derives it from the noise.
	Threshold float64
	// Posting is the sample distance in metres of the terrain model that the
	// heights were interpolated from, 0 when unknown; about 30 m for 1
	// arc-second and 90 m for 3. It matters with Terrain only.
	Posting float64
}

// Hill is a climb that stands out of the noise.
type Hill struct {
	Foot, Crest float64           // chainage, m
	Rise        interval.Estimate // m
}

// Profile is the height of the road along a course. It is not changed after
// New and is safe for concurrent use.
type Profile struct {
	length    float64
	known     bool
	coverage  float64
	at        []float64 // m, ascending, first 0, last length
	height    []float64 // m
	up, down  []float64 // m, climb and descent from the start
	hidden    []float64 // m, rises to be expected beyond those that count, from the start
	variance  []float64 // m2, of the height at a node, the slow part aside
	turns     []int     // nodes
	slow      amount
	threshold float64
	method    string
	notes     []string
	cell      float64
}

// Limits.
const (
	lowest, highest = -500.0, 9000.0 // m; beyond them a height is a marker for "none"
	leastCell       = 10.0           // m
	mostCells       = 20_000
	// leastRise is the threshold for climbs where the noise allows a lower one.
	leastRise = 1.0
	// noiseRise is the threshold in standard deviations of the difference of
	// two heights of the smoothed road.
	noiseRise = 3.0
	nearby    = 100.0 // m, a chainage this close to a sample is covered
	// gradientWindow is the length in metres over which Gradient is taken.
	gradientWindow = 40.0
)

// New makes a profile of a course of the given map length (m, positive) from
// samples in any order. Samples beyond the ends by more than a metre, and
// lengths or options that are no numbers, are errors; heights that are NaN or
// outside -500 to 9000 m count as missing. Without any height the profile is
// flat at 0 m and Known is false. The samples are not changed.
func New(samples []Sample, length float64, o Options) (*Profile, error) {
	if !(length > 0) || math.IsInf(length, 1) {
		return nil, fmt.Errorf("length of %g m for a height profile is not positive", length)
	}
	if !(o.Threshold >= 0) || o.Threshold > 1000 {
		return nil, fmt.Errorf("climb threshold of %g m is not between 0 and 1000", o.Threshold)
	}
	if !(o.Posting >= 0) || o.Posting > 10_000 {
		return nil, fmt.Errorf("terrain posting of %g m is not between 0 and 10000", o.Posting)
	}
	good := make([]Sample, 0, len(samples))
	for _, s := range samples {
		if !(s.At >= -1 && s.At <= length+1) {
			return nil, fmt.Errorf("height sample at chainage %g m is off the course of %g m", s.At, length)
		}
		if s.Height > lowest && s.Height < highest {
			good = append(good, Sample{math.Max(0, math.Min(length, s.At)), s.Height})
		}
	}
	byPlace := func(a, b Sample) int {
		switch {
		case a.At < b.At:
			return -1
		case a.At > b.At:
			return 1
		}
		return 0
	}
	if !slices.IsSortedFunc(good, byPlace) {
		slices.SortStableFunc(good, byPlace)
	}
	p := &Profile{length: length, threshold: o.Threshold}
	if len(good) < 2 || good[len(good)-1].At-good[0].At < 1 {
		p.unknown(good, len(samples))
		return p, nil
	}
	p.known = true
	p.cover(good, len(samples))
	p.build(good, o)
	return p, nil
}

// unknown makes the flat profile of a course without heights.
func (p *Profile) unknown(good []Sample, given int) {
	h := 0.0
	if len(good) > 0 {
		h = good[0].Height
	}
	p.at, p.height = []float64{0, p.length}, []float64{h, h}
	p.up, p.down, p.hidden, p.variance = make([]float64, 2), make([]float64, 2), make([]float64, 2), make([]float64, 2)
	p.method = "no heights are known; the course is taken as flat"
	if given > 0 {
		p.notes = append(p.notes, fmt.Sprintf("of %d height samples %d can be used, too few for a profile", given, len(good)))
	}
}

// cover measures how much of the course lies near a sample.
func (p *Profile) cover(good []Sample, given int) {
	covered, last := 0.0, 0.0
	widest, where := 0.0, 0.0
	for i, s := range good {
		from := math.Max(last, s.At-nearby)
		to := math.Min(p.length, s.At+nearby)
		covered += math.Max(0, to-from)
		last = math.Max(last, to)
		if i > 0 {
			if gap := s.At - good[i-1].At; gap > widest {
				widest, where = gap, good[i-1].At
			}
		}
	}
	p.coverage = covered / p.length
	if missing := given - len(good); missing > 0 {
		p.notes = append(p.notes, fmt.Sprintf("%d of %d samples have no usable height", missing, given))
	}
	if widest > 500 {
		p.notes = append(p.notes, fmt.Sprintf("no heights for %.0f m from %s on; the road is drawn straight across", widest, place(where)))
	}
	if gap := good[0].At; gap > 500 {
		p.notes = append(p.notes, fmt.Sprintf("no heights before %s; the road is taken as level there", place(gap)))
	}
	if last := good[len(good)-1].At; p.length-last > 500 {
		p.notes = append(p.notes, fmt.Sprintf("no heights after %s; the road is taken as level there", place(last)))
	}
}

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

// build smooths.
func (p *Profile) build(good []Sample, o Options) {
	quantum := lattice(good)
	if quantum > 0 {
		var done bool
		if good, done = ramps(good); done {
			p.notes = append(p.notes, fmt.Sprintf("the heights are rounded to %.2g m; the road is drawn through the middle of the steps", quantum))
		}
	}
	cell := cellFor(good, p.length)
	p.cell = cell
	count := max(1, int(math.Ceil(p.length/cell)))
	nodes, perNode := gather(good, cell)
	cells := grid(nodes, cell, count)
	m := estimate(cells, cell, o)

	// Oddities first, as they would pull the road towards them; twice, as the
	// large ones hide small ones.
	out := make([]bool, count)
	for range 2 {
		odd := find(filled(cells), cell, m.noise)
		if len(odd.steps)+len(odd.bridged) == 0 {
			break
		}
		nodes = p.mend(nodes, odd.steps, cell)
		if !mark(out, odd.bridged) {
			p.notes = append(p.notes, "steep dips and humps make up more than a fifth of the course; they are taken as they stand")
			break
		}
		nodes = slices.DeleteFunc(nodes, func(n node) bool { return out[min(int(n.at/cell), count-1)] })
		cells = grid(nodes, cell, count)
		m = estimate(cells, cell, o)
	}
	p.noteBridges(out, cell)
	if o.Loop {
		p.close(nodes, o.Source, m.noise)
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
	all := p.stations(nodes, cells, cell, count)
	local := localVariance(cells, cell, m)
	variance := make([]liveliness, len(all))
	for i, n := range all {
		variance[i] = local[min(int(n.at/cell), count-1)]
	}
	trust := make([]float64, len(all))
	for i := range trust {
		trust[i] = 1
	}
	k := newSmoother(m)
	res := k.run(all, variance, trust)
	if n := distrust(res.misfit, trust); n > 0 {
		res = k.run(all, variance, trust)
		p.notes = append(p.notes, fmt.Sprintf("%d heights lie far off the road and hardly count", n))
	}
	p.at = make([]float64, len(all))
	p.height = res.height
	p.variance = res.level
	for i, n := range all {
		p.at[i] = n.at
		p.height[i] += a + b*n.at
	}
	extend(p.at, p.height, res, nodes[0].at, nodes[len(nodes)-1].at, b)
	p.slow = m.noise.of(slow)
	if p.slow.variance == 0 {
		p.slow.scale = slowScale
	}
	var known []float64
	for i, n := range all {
		if !math.IsNaN(n.height) {
			known = append(known, res.level[i])
		}
	}
	typical := upperQuartile(known)
	p.settle(o.Threshold, res, b, typical)
	p.describe(m, o, cell, perNode, typical)
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

// mark adds stretches to the cells whose heights are left out, unless that
// would leave out more than a fifth of the course.
func mark(out []bool, stretches []stretch) bool {
	next := slices.Clone(out)
	for _, s := range stretches {
		for i := s.from; i <= s.to; i++ {
			next[i] = true
		}
	}
	total := 0
	for _, b := range next {
		if b {
			total++
		}
	}
	if 5*total > len(out) {
		return false
	}
	copy(out, next)
	return true
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
func (p *Profile) close(nodes []node, source Source, n noise) {
	if source == Terrain || len(nodes) < 10 {
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
	error := middle(nodes[len(nodes)-5:], last.at) - middle(nodes[:5], first.at)
	var single float64 // variance of a single height
	for _, a := range n {
		if a.part.kind == white {
			single += a.variance
		}
	}
	if math.Abs(error) < math.Max(0.5, interval.Z90*math.Sqrt(2*single)) || math.Abs(error) > 50 {
		return
	}
	for i := range nodes {
		nodes[i].height -= error * (nodes[i].at - first.at) / (last.at - first.at)
	}
	p.notes = append(p.notes, fmt.Sprintf("start and finish are the same place, but the heights differ by %+.1f m; the drift is taken out evenly", error))
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
func (p *Profile) stations(nodes []node, cells []float64, cell float64, count int) []node {
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

// localVariance is the variance of the road's gradient in each cell: that of
// the usual stretch, and more where the heights stand out of what noise and
// the usual road make of them. Slopes of long blocks tell the long part,
// changes of slope between short blocks the short part.
func localVariance(cells []float64, cell float64, m model) []liveliness {
	n := len(cells)
	out := make([]liveliness, n)
	base := math.Max(m.gradient, leastGradient)
	for i := range out {
		out[i] = liveliness{base, leastGradient}
	}
	s := newSums(cells)
	usual, long := part{ground, m.length}, part{ground, longLength}
	squares := make([]float64, 0, n)
	lastB := 0
	for _, block := range []float64{240, 480, 960} {
		b := max(1, int(math.Round(block/cell)))
		if 2*b > n || b == lastB {
			continue
		}
		lastB = b
		half := max(1, b/2)
		squares = squares[:0]
		for i := 0; i+2*b <= n; i += half {
			x, ok1 := s.mean(i, b)
			y, ok2 := s.mean(i+b, b)
			d := y - x
			if !ok1 || !ok2 {
				d = math.NaN()
			}
			squares = append(squares, d*d)
		}
		expected := m.noise.change(b, cell) + base*usual.change(b, cell)
		unit := long.change(b, cell)
		surges(squares, outstanding*expected, expected, spread, func(j int, excess float64) {
			v := math.Min(excess/unit, 0.15*0.15)
			for q := max(0, (j-spread)*half); q < min(n, (j+spread)*half+2*b); q++ {
				out[q].long = math.Max(out[q].long, v)
			}
		})
	}
	lastB = 0
	for _, block := range []float64{40, 80, 160} {
		b := max(1, int(math.Round(block/cell)))
		if 3*b > n || b == lastB {
			continue
		}
		lastB = b
		half := max(1, b/2)
		squares = squares[:0]
		for i := 0; i+3*b <= n; i += half {
			x, ok1 := s.mean(i, b)
			y, ok2 := s.mean(i+b, b)
			z, ok3 := s.mean(i+2*b, b)
			d := x - 2*y + z
			if !ok1 || !ok2 || !ok3 {
				d = math.NaN()
			}
			// What the long part explains is no surge of the short one.
			long := out[min(n-1, i+3*b/2)].long * long.curvature(b, cell)
			squares = append(squares, math.Max(0, d*d-long))
		}
		expected := m.noise.curvature(b, cell) + base*usual.curvature(b, cell)
		unit := usual.curvature(b, cell)
		surges(squares, outstandingShort*expected, expected, wideSpread, func(j int, excess float64) {
			v := math.Min(excess/unit, 0.15*0.15)
			for q := max(0, (j-wideSpread)*half); q < min(n, (j+wideSpread)*half+3*b); q++ {
				out[q].short = math.Max(out[q].short, v)
			}
		})
	}
	return out
}

const (
	// outstanding is how many times the expected mean square a window's must
	// reach to be a hill: with about three independent values in a window,
	// chance alone does so once in some hundred thousand windows.
	outstanding, outstandingShort = 10, 16
	// The reach of a window to either side in half blocks: wider for short
	// blocks, whose neighbours may share their errors.
	spread, wideSpread = 2, 4
)

// surges calls found with the middle of every window whose mean square is at
// least so much, and the excess over the expected one.
func surges(squares []float64, least, expected float64, spread int, found func(j int, excess float64)) {
	for j := range squares {
		var sum, k float64
		for q := max(0, j-spread); q <= min(len(squares)-1, j+spread); q++ {
			if !math.IsNaN(squares[q]) {
				sum += squares[q]
				k++
			}
		}
		if k > 0 && sum/k >= least {
			found(j, sum/k-expected)
		}
	}
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

// settle finds the turning points (threshold 0: from the variance of the road's
// height where it was measured), makes the road rise or fall only between
// them, and sums up.
func (p *Profile) settle(threshold float64, res result, tilt, variance float64) {
	n := len(p.at)
	p.threshold = threshold
	if threshold == 0 {
		p.threshold = math.Max(leastRise, noiseRise*math.Sqrt(2*variance))
		p.threshold = math.Ceil(p.threshold*10) / 10
	}
	p.turns = TurningPoints(p.height, p.threshold)
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

func upperQuartile(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[len(s)*3/4]
}

// describe writes Method. Variance is that of the smoothed road where it was
// measured.
func (p *Profile) describe(m model, o Options, cell, perNode, variance float64) {
	text := fmt.Sprintf("heights from %s with noise of %.1f m from point to point", o.Source, math.Sqrt(m.noise.of(white).variance*perNode))
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

// locate gives the piece that holds a chainage and the fraction along it.
func (p *Profile) locate(at float64) (int, float64) {
	i := sort.SearchFloat64s(p.at, at) - 1
	i = max(0, min(i, len(p.at)-2))
	t := (at - p.at[i]) / (p.at[i+1] - p.at[i])
	return i, math.Max(0, math.Min(1, t))
}

func (p *Profile) value(of []float64, at float64) float64 {
	i, t := p.locate(at)
	return of[i] + t*(of[i+1]-of[i])
}

// Height of the road at a chainage, in metres. Beyond the ends the course
// goes on level. NaN gives NaN.
func (p *Profile) Height(at float64) float64 {
	if math.IsNaN(at) {
		return at
	}
	return p.value(p.height, at)
}

// Gradient of the road at a chainage as a fraction, rising positive, taken
// over the 40 m around it (on the smoothed profile).
func (p *Profile) Gradient(at float64) float64 {
	w := math.Min(gradientWindow, p.length)
	from := math.Max(0, math.Min(at-w/2, p.length-w))
	return p.MeanGradient(from, from+w)
}

// MeanGradient between two chainages, as a fraction; 0 when they are equal.
func (p *Profile) MeanGradient(from, to float64) float64 {
	from, to = p.clamp(from), p.clamp(to)
	if from == to {
		return 0
	}
	return (p.Height(to) - p.Height(from)) / (to - from)
}

func (p *Profile) clamp(at float64) float64 { return math.Max(0, math.Min(p.length, at)) }

// Climb is the sum of the rises between two chainages (m), from before to.
// Climbs of consecutive parts add up. The interval comes from the noise that
// remains at the turning points; its upper end also takes in the rises to be
// expected below the threshold and below what the smoothing can see.
func (p *Profile) Climb(from, to float64) interval.Estimate { return p.sum(p.up, from, to) }

// Descent is the sum of the falls between two chainages as a positive figure
// (m); see Climb.
func (p *Profile) Descent(from, to float64) interval.Estimate { return p.sum(p.down, from, to) }

func (p *Profile) sum(of []float64, from, to float64) interval.Estimate {
	from, to = p.clamp(from), p.clamp(to)
	if !(to > from) || !p.known {
		return interval.Exact(0)
	}
	v := p.value(of, to) - p.value(of, from)
	// Every rise is the difference of two heights with independent errors,
	// and of one slow error at two places.
	variance, picked := 0.0, 0.0
	last := from
	add := func(at float64) {
		variance += 2 * p.slow.variance * -math.Expm1(-(at-last)/p.slow.scale)
		last = at
	}
	variance += p.value(p.variance, from)/2 + p.value(p.variance, to)/2
	for _, i := range p.turns {
		if p.at[i] > from && p.at[i] < to {
			variance += p.variance[i]
			picked += pickedHigh * math.Sqrt(p.variance[i])
			add(p.at[i])
		}
	}
	add(to)
	e := interval.Normal(v, math.Sqrt(variance))
	e.Low = math.Max(0, e.Low-picked)
	e.High += math.Max(0, p.value(p.hidden, to)-p.value(p.hidden, from))
	return e
}

// pickedHigh is what a turning point, picked as the extreme among its
// neighbours, is too extreme by at most, in its standard deviations: the mean
// of the greater of two or three independent normal values.
const pickedHigh = 0.7

// Known tells whether the profile rests on heights.
func (p *Profile) Known() bool { return p.known }

// Coverage is the share of the course within 100 m of a height, 0 to 1.
func (p *Profile) Coverage() float64 { return p.coverage }

// Threshold is the least rise in metres that counts as a climb.
func (p *Profile) Threshold() float64 { return p.threshold }

// Length is the map length in metres the profile was made for.
func (p *Profile) Length() float64 { return p.length }

// Method says in one sentence how the heights were read.
func (p *Profile) Method() string { return p.method }

// Notes say what was taken out of the heights and where they are missing.
func (p *Profile) Notes() []string { return slices.Clone(p.notes) }

// Hills are the climbs that stand out of the noise, in order of chainage.
func (p *Profile) Hills() []Hill {
	var out []Hill
	for k := 1; k < len(p.turns); k++ {
		i, j := p.turns[k-1], p.turns[k]
		rise := p.height[j] - p.height[i]
		if rise <= 0 {
			continue
		}
		d := p.at[j] - p.at[i]
		v := p.variance[i] + p.variance[j] + 2*p.slow.variance*-math.Expm1(-d/p.slow.scale)
		out = append(out, Hill{p.at[i], p.at[j], interval.Normal(rise, math.Sqrt(v))})
	}
	return out
}

// Surface turns the map length of the stretch between two chainages (m, from
// before to) into the length on the road's surface: altitude and gradient
// taken into account (earth.OnSurface). The map length may differ from the
// difference of the chainages, as along a shorter line; it is spread evenly.
func (p *Profile) Surface(from, to, mapLength float64) float64 {
	from, to = p.clamp(from), p.clamp(to)
	if !(to > from) || !p.known {
		return mapLength
	}
	scale := mapLength / (to - from)
	var sum float64
	at, h := from, p.Height(from)
	i, _ := p.locate(from)
	for at < to {
		i++
		next := to
		if i < len(p.at) && p.at[i] < to {
			next = p.at[i]
		}
		if next <= at {
			continue
		}
		hn := p.Height(next)
		sum += earth.OnSurface((next-at)*scale, (h+hn)/2, hn-h)
		at, h = next, hn
	}
	return sum
}
