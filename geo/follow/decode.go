package follow

import (
	"math"
	"slices"
)

// Costs are negative log likelihoods without the constants that are the same
// for every path. A fix that lies well costs about 0.3.
const (
	offCost   = 4.0  // a fix off the course between two parts on it
	leaveCost = 3.0  // leaving the course, once
	asideCost = 2.5  // a fix of the lead-in or the run-out
	skipCost  = 1.0  // a metre of the course that the record does not show
	jumpCost  = 60.0 // at most, a way that distance and time do not explain
	usualCost = 3.0  // at most, a speed that is not the usual one
	rushCost  = 30.0 // two fixes farther apart than anyone runs in the time

	// Of two laps of which a record shows one, it is more likely the first.
	lateCost   = 40.0  // joining the course late
	lateWithin = 100.0 // m, over which lateCost grows

	fastest  = 12.0 // m/s, faster than any runner
	bridge   = 10.0 // m, places left closer together than this are one
	maxAway  = 64   // places remembered from which the course was left
	maxFeet  = 64   // feet kept of one fix
	maxNodes = 8_000_000
)

// emission is the Gaussian emission of Newson & Krumm (2009),
// doi 10.1145/1653771.1653818, with Huber's linear tails: a fix far out says
// little more than one at the edge of the plausible.
type emission struct{ sigma float64 }

const huberBend = 1.5 // standard deviations

func (e emission) cost(d float64) float64 {
	z := d / e.sigma
	if z <= huberBend {
		return 0.5 * z * z
	}
	return huberBend * (z - huberBend/2)
}

// transition is the exponential transition of Newson & Krumm (2009) on the
// difference between the way along the course and the way expected, with some
// changes. The expectation is a range, since only a straight distance made
// long by noise and a usual speed are known. Course beyond the straight
// distance is charged like course that is left out anywhere else, so that no
// path gains by leaving it out in one place and not in another. Moving back
// along the course costs more than standing. Between fixes far apart the usual
// speed tells on which side of a turn the runner is.
type transition struct {
	low, mid, high float64 // m: expected at least, explained by distance, by time
	perMetre       float64 // 1/beta, cost of a metre outside the range
	backMetre      float64 // added cost of a metre back
	always         float64 // cost of any way at all
	usual          float64 // m, at the usual speed
	perUsual       float64 // cost of a metre more or less than that, 0 between close fixes
}

func (t *transition) cost(way float64) float64 {
	if way >= t.low && way <= t.mid && way >= 0 && t.perUsual == 0 {
		return t.always
	}
	c := min(usualCost, math.Abs(way-t.usual)*t.perUsual)
	if way < t.low {
		c = min(jumpCost, c+(t.low-way)*t.perMetre)
	} else if way > t.high {
		c = min(jumpCost, c+(way-t.high)*t.perMetre)
	}
	if way > t.mid {
		c += skipCost * (way - t.mid)
	}
	if way < 0 {
		c -= way * t.backMetre
	}
	return c + t.always
}

// model holds what the costs of one record depend on.
type model struct {
	fixes    []Fix
	index    *index
	startAt  float64
	finishAt float64
	sigma    float64 // m, scatter of the fixes about the course
	white    float64 // m per axis, the part of it that is new in each fix
	emission emission
	radius   float64 // m, search radius
	back     float64 // m, farthest step back
	slack    float64 // m, noise in a distance between two fixes
	beta     float64 // m
	speed    float64 // m/s, usual speed; NaN without times
	bridge   float64 // m, places left closer together than this are one
	maxAway  int     // places remembered
	stride   float64 // m, usual distance between two fixes
}

// between gives the transition from fix i to fix j.
func (m *model) between(i, j int) transition {
	a, b := &m.fixes[i], &m.fixes[j]
	g := math.Hypot(b.P[0]-a.P[0], b.P[1]-a.P[1])
	t := transition{
		low:       0.7*g - m.slack,
		mid:       g + m.slack,
		high:      1.5*(g+m.stride) + m.slack,
		perMetre:  1 / m.beta,
		backMetre: 1 / max(1, m.slack/2),
	}
	if dt := b.T - a.T; dt >= 0 { // false without times
		if !math.IsNaN(m.speed) {
			usual := m.speed * dt
			t.high = max(1.25*g, 1.6*usual) + m.slack
			if usual > max(30, 4*m.slack) {
				t.usual, t.perUsual = usual, usualCost/usual
			}
		}
		if g > fastest*dt+4*m.slack+reach/2 {
			t.always = rushCost
		}
	}
	t.high = max(t.high, t.mid)
	return t
}

// join is the cost of joining the course at chainage s for the first time.
func (m *model) join(s float64) float64 {
	skipped := max(0, min(s, m.finishAt)-m.startAt)
	return skipCost*skipped + lateCost*min(1, skipped/lateWithin)
}

// part is the cost of leaving the course at chainage s for good.
func (m *model) part(s float64) float64 {
	return skipCost * max(0, m.finishAt-max(s, m.startAt))
}

// node is a foot of a fix: its chainage, the greatest chainage of the path
// that leads to it, and the cost of that path.
type node struct{ s, top, cost float64 }

// step is what is kept of every node to the end: its chainage, which is found
// again exactly on the course, and the number of the node before it, -1 when
// the path joins the course here.
type step struct {
	s    float32
	back int32
}

// steps is a list in blocks, which grows without being copied.
type steps struct {
	blocks []*[stepBlock]step
	n      int32
}

const stepBlock = 1 << 13

func (l *steps) add(s float64, back int32) {
	if l.n%stepBlock == 0 {
		l.blocks = append(l.blocks, new([stepBlock]step))
	}
	l.blocks[l.n/stepBlock][l.n%stepBlock] = step{float32(s), back}
	l.n++
}

func (l *steps) at(k int32) *step { return &l.blocks[k/stepBlock][k%stepBlock] }

// away is a path that has left the course.
type away struct {
	node   int32
	fix    int32
	s, top float64
	cost   float64
}

// onward is the transition from a path off the course to a fix, computed when
// it is first asked for.
type onward struct {
	transition
	fix int32
}

// decode finds the cheapest path: for every fix its chainage on the chord
// line, NaN where it is off the course. The states are the feet of a fix and,
// for paths that are off the course, the place where they left it, so that a
// path comes back with its progress known. A path never goes more than back
// below its greatest chainage; since that depends on the whole path, the
// cheapest path to a foot is kept for the best one, which is exact as long as
// paths to the same foot have the same greatest chainage.
func (m *model) decode() (at []float64, cost float64) {
	n := len(m.fixes)
	d := decoder{
		model: m, layer: make([]int32, n), keep: max(8, min(maxFeet, maxNodes/n)),
		end: -1, endCost: math.Inf(1),
	}
	for i := range m.fixes {
		d.advance(i)
	}
	at = make([]float64, n)
	for i := range at {
		at[i] = math.NaN()
	}
	if nowhere := d.lead + m.part(m.startAt); nowhere <= d.endCost {
		return at, nowhere
	}
	for i, k := n-1, d.end; k >= 0; k = d.past.at(k).back {
		for d.layer[i] > k {
			i--
		}
		at[i] = float64(d.past.at(k).s)
	}
	return at, d.endCost
}

// decoder is how far decode has come.
type decoder struct {
	*model
	past  steps   // the nodes of all fixes so far
	layer []int32 // for every fix the number of its first node
	keep  int     // nodes kept of one fix

	old, cur []node  // nodes of the last fix and of this one, by chainage
	from     []int32 // the nodes before those of cur
	gone     []away
	onwards  []onward // of the paths in gone, by the same index

	lead    float64 // cost of a path whose fixes so far are all a lead-in
	end     int32   // the node after which the cheapest path leaves for good
	endCost float64

	// Kept from fix to fix so that they are made once.
	feet           []foot
	chords         []int32
	places, sorted []float64
}

// path is the cheapest path to a foot that is known so far, without the
// foot's own cost.
type path struct {
	cost float64
	back int32   // the node before, -1 when the path joins the course here
	top  float64 // greatest chainage
}

// advance takes one more fix in.
func (d *decoder) advance(i int) {
	before := d.past.n - int32(len(d.old))
	d.layer[i] = d.past.n
	d.feet = d.index.feet(d.near(i), d.fixes[i].P, d.radius, d.feet[:0])
	d.nodes(i, before)
	if len(d.cur) > d.keep {
		d.cur, d.from, d.sorted = prune(d.cur, d.from, d.sorted, d.keep)
	}
	for k, b := range d.from {
		d.past.add(d.cur[k].s, b)
	}
	d.gone = d.wander(d.gone, d.old, before, i-1)
	d.endCost += asideCost
	for k := range d.cur {
		if c := d.cur[k].cost + d.part(d.cur[k].s); c < d.endCost {
			d.end, d.endCost = d.layer[i]+int32(k), c
		}
	}
	d.lead += asideCost
	d.old, d.cur = d.cur, d.old
}

// near gives the chords on which a fix may have feet: in a crowd of them those
// that a path in hand may reach.
func (d *decoder) near(i int) []int32 {
	list := d.index.near(d.fixes[i].P)
	if len(list) <= crowd || len(d.old)+len(d.gone) == 0 {
		return list
	}
	d.places = d.places[:0]
	for q := range d.old {
		d.places = append(d.places, d.old[q].s)
	}
	for k := range d.gone {
		d.places = append(d.places, d.gone[k].s)
	}
	slices.Sort(d.places)
	a, b := d.fixes[i-1].P, d.fixes[i].P
	on := 2*math.Hypot(b[0]-a[0], b[1]-a[1]) + d.back + reach
	d.chords = d.index.ahead(list, d.places, d.back+reach, on, d.chords)
	return d.chords
}

// nodes makes the nodes of a fix from its feet, each with the cheapest path to
// it. The node numbered before is the first of the last fix.
func (d *decoder) nodes(i int, before int32) {
	d.cur, d.from = d.cur[:0], d.from[:0]
	w := walk{old: d.old, before: before, back: d.back, jump: math.Inf(1)}
	if len(d.feet) > 0 && len(d.old) > 0 {
		w.transition = d.between(i-1, i)
	}
	w.widest = w.high + jumpCost*d.beta
	for len(d.onwards) < len(d.gone) {
		d.onwards = append(d.onwards, onward{fix: -1})
	}
	for _, f := range d.feet {
		best := path{d.lead + d.join(f.s), -1, f.s}
		best = w.cheapest(f.s, best)
		best = d.comeBack(i, f.s, best)
		d.cur = append(d.cur, node{f.s, best.top, best.cost + d.emission.cost(f.d)})
		d.from = append(d.from, best.back)
	}
}

// walk leads the paths on the course from the nodes of one fix to the feet of
// the next, which are asked for in order of chainage.
type walk struct {
	transition
	old    []node
	before int32   // number of the first of old
	back   float64 // m, farthest step back
	widest float64 // m, a way that costs the full jump

	reachable int     // nodes of old that are not too far ahead of the foot
	jumpable  int     // nodes of old from which the way to the foot is wider than widest
	jump      float64 // least cost of these, less that of the course up to the node
	jumpFrom  int
}

// cheapest is the cheapest of best and the paths that lead to a foot at
// chainage s from a node of the fix before.
func (w *walk) cheapest(s float64, best path) path {
	for w.reachable < len(w.old) && w.old[w.reachable].s <= s+w.back {
		w.reachable++
	}
	// Of the nodes so far back that the way from them costs the full jump, the
	// best one is the best for all later feet too.
	for w.jumpable < w.reachable && w.old[w.jumpable].s < s-w.widest {
		if c := w.old[w.jumpable].cost - skipCost*w.old[w.jumpable].s; c < w.jump {
			w.jump, w.jumpFrom = c, w.jumpable
		}
		w.jumpable++
	}
	if c := w.jump + skipCost*(s-w.mid) + jumpCost + w.always; c < best.cost {
		best = path{c, w.before + int32(w.jumpFrom), max(s, w.old[w.jumpFrom].top)}
	}
	for q := w.reachable - 1; q >= w.jumpable; q-- {
		o := &w.old[q]
		if o.cost < best.cost && s >= o.top-w.back {
			if c := o.cost + w.cost(s-o.s); c < best.cost {
				best = path{c, w.before + int32(q), max(s, o.top)}
			}
		}
	}
	return best
}

// comeBack is the cheapest of best and the paths that come back to the course
// with fix i, at chainage s.
func (d *decoder) comeBack(i int, s float64, best path) path {
	for k := range d.gone {
		h := &d.gone[k]
		if h.cost >= best.cost || s < h.top-d.back {
			continue
		}
		on := &d.onwards[k]
		if on.fix != int32(i) {
			on.transition, on.fix = d.between(int(h.fix), i), int32(i)
		}
		way := s - h.s
		if h.cost+skipCost*(way-on.mid) >= best.cost {
			continue
		}
		if c := h.cost + on.cost(way); c < best.cost {
			best = path{c, h.node, max(s, h.top)}
		}
	}
	return best
}

// wander moves the paths that are off the course past one more fix and adds
// those that leave it after fix i, whose nodes are old. Of paths that left the
// course at nearly the same place the cheapest is kept. Those that are worth no
// more than a jump from a path on the course go, and when there are too many
// the dearest.
func (m *model) wander(gone []away, old []node, first int32, i int) []away {
	base, baseAt := math.Inf(1), 0.0
	for q := range old {
		if c := old[q].cost - skipCost*old[q].s; c < base {
			base, baseAt = c, old[q].s
		}
	}
	n := 0
	for k := range gone {
		h := &gone[k]
		h.cost += offCost
		if h.s >= baseAt && h.cost >= base+jumpCost+skipCost*h.s {
			continue
		}
		if n < k {
			gone[n] = *h
		}
		n++
	}
	gone = gone[:n]
	base = math.Inf(1)
	for q := range old {
		o := &old[q]
		if c := o.cost - skipCost*o.s; c < base {
			base = c
		} else if c+leaveCost+offCost >= base+jumpCost {
			continue
		}
		h := away{node: first + int32(q), fix: int32(i), s: o.s, top: o.top, cost: o.cost + leaveCost + offCost}
		place, worst := -1, 0
		for k := range gone {
			if math.Abs(gone[k].s-o.s) < m.bridge {
				place = k
				break
			}
			if gone[k].cost > gone[worst].cost {
				worst = k
			}
		}
		if place < 0 && len(gone) < m.maxAway {
			gone = append(gone, h)
			continue
		}
		if place < 0 {
			place = worst
		}
		if h.cost < gone[place].cost {
			gone[place] = h
		}
	}
	return gone
}

// prune keeps the cheapest nodes of a fix, in order, earlier chainages first
// among equals.
func prune(nodes []node, from []int32, sorted []float64, keep int) ([]node, []int32, []float64) {
	sorted = sorted[:0]
	for _, o := range nodes {
		sorted = append(sorted, o.cost)
	}
	slices.Sort(sorted)
	limit := sorted[keep-1]
	equal := 0
	for _, c := range sorted[:keep] {
		if c == limit {
			equal++
		}
	}
	k := 0
	for q, o := range nodes {
		if o.cost > limit {
			continue
		}
		if o.cost == limit {
			if equal == 0 {
				continue
			}
			equal--
		}
		nodes[k], from[k] = o, from[q]
		k++
	}
	return nodes[:k], from[:k], sorted
}
