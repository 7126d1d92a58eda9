package heights

import (
	"fmt"
	"math"
	"slices"
)

// lattice finds the step in metres on which all heights lie, 0 when it is too
// fine to matter or there is none.
func lattice(samples []Sample) float64 {
	const finest = 0.2
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range samples {
		lo, hi = math.Min(lo, s.Height), math.Max(hi, s.Height)
	}
	for _, q := range []float64{10, 5, 2, 1, 0.5, 0.3048, 0.25, finest} {
		tolerance := 1e-6
		if q == 0.3048 { // feet turned into metres with two or three decimals
			tolerance = 0.006
		}
		on := hi-lo > 1.5*q
		for _, s := range samples {
			if !on {
				break
			}
			on = math.Abs(s.Height-q*math.Round(s.Height/q)) <= tolerance
		}
		if on {
			return q
		}
	}
	return 0
}

// ramps turns the staircase of rounded heights into the slopes between its
// steps: where a run of equal heights ends, the road passes midway between
// the two values. Runs at a top or in a hollow keep their value in their
// middle. Short runs mean that noise, not rounding, makes the steps; then the
// samples stay as they are.
func ramps(samples []Sample) ([]Sample, bool) {
	type knot struct{ at, height float64 }
	type run struct{ from, to int }
	var runs []run
	for i := range samples {
		if i > 0 && samples[i].Height == samples[i-1].Height {
			runs[len(runs)-1].to = i
		} else {
			runs = append(runs, run{i, i})
		}
	}
	if len(samples) < 4*len(runs) || len(runs) < 2 {
		return samples, false
	}
	value := func(r run) float64 { return samples[r.from].Height }
	middle := func(r run) float64 { return (samples[r.from].At + samples[r.to].At) / 2 }
	var knots []knot
	for i, r := range runs {
		top := i == 0 || i == len(runs)-1 || (value(r) > value(runs[i-1])) == (value(r) > value(runs[i+1]))
		if top {
			knots = append(knots, knot{middle(r), value(r)})
		}
		if i+1 < len(runs) {
			next := runs[i+1]
			knots = append(knots, knot{(samples[r.to].At + samples[next.from].At) / 2, (value(r) + value(next)) / 2})
		}
	}
	out := slices.Clone(samples)
	k := 0
	for i := range out {
		for k+1 < len(knots) && knots[k+1].at < out[i].At {
			k++
		}
		a, b := knots[k], knots[min(k+1, len(knots)-1)]
		switch {
		case out[i].At <= a.at || b.at <= a.at:
			out[i].Height = a.height
		case out[i].At >= b.at:
			out[i].Height = b.height
		default:
			out[i].Height = a.height + (b.height-a.height)*(out[i].At-a.at)/(b.at-a.at)
		}
	}
	return out, true
}

// gather puts samples that lie in the same cell into one node. Weights are
// relative to the usual node: the noise that estimate finds is that of a usual
// node. It also gives the number of samples behind the usual node.
func gather(samples []Sample, cell float64) (nodes []node, usual float64) {
	last := -1
	for _, s := range samples {
		c := int(s.At / cell)
		if c != last {
			nodes = append(nodes, node{})
			last = c
		}
		n := &nodes[len(nodes)-1]
		n.weight++
		n.at += (s.At - n.at) / n.weight
		n.height += (s.Height - n.height) / n.weight
	}
	for _, n := range nodes {
		usual += 1 / n.weight / float64(len(nodes))
	}
	usual = 1 / usual
	for i := range nodes {
		nodes[i].weight /= usual
	}
	return nodes, usual
}

// grid gives the height in every cell, moved from the node's own chainage to
// the cell's middle along the slope of the surroundings; NaN where there is
// no node.
func grid(nodes []node, cell float64, count int) []float64 {
	out := make([]float64, count)
	for i := range out {
		out[i] = math.NaN()
	}
	for i, n := range nodes {
		c := min(int(n.at/cell), count-1)
		a, b := nodes[max(0, i-4)], nodes[min(len(nodes)-1, i+4)]
		slope := 0.0
		if b.at > a.at {
			slope = (b.height - a.height) / (b.at - a.at)
		}
		out[c] = n.height + slope*((float64(c)+0.5)*cell-n.at)
	}
	return out
}

// filled closes the gaps of a grid by straight lines.
func filled(cells []float64) []float64 {
	out := slices.Clone(cells)
	last := -1
	for i, v := range cells {
		if math.IsNaN(v) {
			continue
		}
		for j := last + 1; j < i; j++ {
			if last < 0 {
				out[j] = v
			} else {
				out[j] = cells[last] + (v-cells[last])*float64(j-last)/float64(i-last)
			}
		}
		last = i
	}
	for j := last + 1; j < len(out); j++ {
		out[j] = out[max(last, 0)]
	}
	return out
}

// What no road does. The figures are choices, stated in Method and Notes.
const (
	cliffSlope   = 0.15  // steeper than this over cliffRun on both sides is no road
	cliffRun     = 30.0  // m
	flankSlope   = 0.05  // a cliff's flanks reach as far as it is steeper than this
	shortGap     = 200.0 // m; longer dips and humps must be steeper by longSlope
	longSlope    = 0.25
	longestCliff = 120.0 // m; what is steep for longer is taken for a road
	longestGap   = 400.0 // m, the longest dip or hump that is bridged
	stepSlope    = 0.30  // steeper than this, once, is a step in the record
	leastStep    = 4.0   // m
	leastHump    = 3.0   // m
	// A dip or hump of width W between straight shoulders is no road when it
	// is deeper than W squared over this (m): its gradient would change by
	// 4 pi / 3000, 0.4 % in every metre, sharper than the vertical curves of
	// streets.
	humpRadius = 3000.0
	// Standard deviations of noise; a hump must pass on both sides.
	certain, certainHump = 5.0, 4.0
)

// stretch is a range of cells, both ends included.
type stretch struct{ from, to int }

// cliff is a place that is steeper than roads get.
type cliff struct {
	stretch
	jump  float64 // m
	slope float64 // the steepest over cliffRun, positive
}

// oddities are what a grid shows that no road does.
type oddities struct {
	bridged []stretch // dips and humps to draw the road across
	steps   []cliff   // jumps of the record
}

// find looks for oddities in a filled grid with this noise.
func find(z []float64, cell float64, n noise) oddities {
	var o oddities
	w := max(1, int(math.Round(cliffRun/cell)))
	sd := changes(z, w, float64(w)*cell, n)
	cliffs := cliffsOf(z, cell, w, certain*sd)
	for k := 0; k < len(cliffs); k++ {
		if k+1 < len(cliffs) && facing(z, cell, w, cliffs[k], cliffs[k+1], sd) {
			o.bridged = append(o.bridged, stretch{cliffs[k].from + 1, cliffs[k+1].to - 1})
			k++
			continue
		}
		if isFlank(cliffs, k, cell) {
			continue
		}
		if s, ok := step(z, cell, cliffs[k], certain*sd); ok {
			o.steps = append(o.steps, s)
		}
	}
	o.bridged = append(o.bridged, humps(z, cell, n)...)
	return o
}

// cliffsOf finds the places that are steeper over w cells than roads get, by
// more than sure metres, with their flanks.
func cliffsOf(z []float64, cell float64, w int, sure float64) []cliff {
	run := float64(w) * cell
	var cliffs []cliff
	for i := 0; i+w < len(z); i++ {
		rise := z[i+w] - z[i]
		if math.Abs(rise) < cliffSlope*run || math.Abs(rise) < sure {
			continue
		}
		if k := len(cliffs) - 1; k >= 0 && i <= cliffs[k].to && (cliffs[k].jump > 0) == (rise > 0) {
			cliffs[k].to = i + w
			cliffs[k].jump = z[i+w] - z[cliffs[k].from]
			cliffs[k].slope = math.Max(cliffs[k].slope, math.Abs(rise)/run)
			continue
		}
		cliffs = append(cliffs, cliff{stretch{i, i + w}, rise, math.Abs(rise) / run})
	}
	// The window reaches over the foot; what is left flat does not belong.
	cliffs = slices.DeleteFunc(cliffs, func(c cliff) bool { return float64(c.to-c.from)*cell > longestCliff+2*run })
	// A hump ends where its flanks end, not where they cease to be cliffs.
	most := int(longestCliff / cell)
	for k := range cliffs {
		c := &cliffs[k]
		up := math.Copysign(1, c.jump)
		for range most {
			if c.from < w || up*(z[c.from]-z[c.from-w]) < flankSlope*run {
				break
			}
			c.from--
		}
		for range most {
			if c.to+w >= len(z) || up*(z[c.to+w]-z[c.to]) < flankSlope*run {
				break
			}
			c.to++
		}
	}
	return cliffs
}

// facing tells whether two cliffs in a row are the sides of a dip or a hump: one
// up and one down, near each other, and level behind with before, but for what
// noise of this standard deviation does.
func facing(z []float64, cell float64, w int, a, b cliff, sd float64) bool {
	run := float64(w) * cell
	width := float64(b.to-a.from) * cell
	left := z[b.to] - z[a.from]
	steep := math.Min(a.slope, b.slope)
	return (a.jump > 0) != (b.jump > 0) && width <= longestGap+2*run &&
		(width <= shortGap+2*run || steep >= longSlope) &&
		math.Abs(left) < math.Max(0.5*math.Min(math.Abs(a.jump), math.Abs(b.jump)), math.Sqrt(2)*sd)
}

// isFlank tells whether a cliff has one near it that goes the other way: it is a
// side of something, not a step.
func isFlank(cliffs []cliff, k int, cell float64) bool {
	opposed := func(j int) bool {
		return j >= 0 && j < len(cliffs) && (cliffs[j].jump > 0) != (cliffs[k].jump > 0) &&
			float64(max(cliffs[j].from-cliffs[k].to, cliffs[k].from-cliffs[j].to))*cell < longestGap
	}
	return opposed(k-1) || opposed(k+1)
}

// changes is the standard deviation of the noise's change over a distance of
// a cells: that of the model, or when it is less (as oddities swell the
// model's noise) that of the usual change of slope, by its median.
func changes(z []float64, a int, distance float64, n noise) float64 {
	sd := math.Sqrt(2 * n.variogram(distance))
	bends := make([]float64, 0, len(z))
	for i := a; i+a < len(z); i++ {
		bends = append(bends, math.Abs(z[i+a]-2*z[i]+z[i-a]))
	}
	if len(bends) < 20 {
		return sd
	}
	slices.Sort(bends)
	// 1.4826 turns a median of absolute values into a standard deviation; white
	// noise bends with three times the variance of its changes.
	return math.Min(sd, 1.4826*bends[len(bends)/2]/math.Sqrt(3))
}

// step tells whether a cliff is a jump of the record: a rise within few cells
// that is still there beyond what the slopes on both sides explain.
func step(z []float64, cell float64, c cliff, sure float64) (cliff, bool) {
	// Narrow to the steepest cell border. A jump within a cell shows at one or
	// two of them, what is drawn from sample to sample of a terrain model at
	// more.
	best, at := 0.0, c.from
	for i := c.from; i < c.to; i++ {
		if d := math.Abs(z[i+1] - z[i]); d > best {
			best, at = d, i
		}
	}
	from, to := max(0, at-1), min(len(z)-1, at+2)
	sharp := math.Max(math.Abs(z[at+1]-z[from]), math.Abs(z[to]-z[at]))
	const side = 6
	if from < side || to+side >= len(z) {
		return c, false
	}
	limit := cliffSlope * cell
	bound := func(rise float64) float64 { return math.Max(-limit, math.Min(limit, rise/side)) }
	slope := (bound(z[from]-z[from-side]) + bound(z[to+side]-z[to])) / 2
	jump := z[to] - z[from] - slope*float64(to-from)
	if math.Abs(jump) < math.Max(leastStep, sure) || best < stepSlope*cell || sharp < 0.9*math.Abs(jump) {
		return c, false
	}
	return cliff{stretch{at, at + 1}, jump, best / cell}, true
}

// humps finds dips and humps that are too sharp for a road although their
// sides are not steep enough for a cliff: straight shoulders on both sides,
// continued, both miss the middle to the same side.
func humps(z []float64, cell float64, n noise) []stretch {
	var out []stretch
	lastA := 0
	for _, half := range []float64{20, 30, 50, 75, 100} {
		a := int(math.Round(half / cell))
		if a < 1 || a == lastA {
			continue
		}
		lastA = a
		width := 2 * float64(a) * cell
		sd := changes(z, a, float64(a)*cell, n)
		least := math.Max(math.Max(leastHump, width*width/humpRadius), certainHump*sd)
		for i := 2 * a; i+2*a < len(z); i++ {
			chord := z[i] - (z[i-a]+z[i+a])/2
			if math.Abs(chord) < least {
				continue
			}
			left := z[i] - (2*z[i-a] - z[i-2*a])
			right := z[i] - (2*z[i+a] - z[i+2*a])
			sign := math.Copysign(1, chord)
			if sign*left >= least/2 && sign*right >= least/2 {
				out = append(out, stretch{i - a + 1, i + a - 1})
			}
		}
	}
	return out
}

// place writes a chainage for a note.
func place(at float64) string { return fmt.Sprintf("%.2f km", at/1000) }
