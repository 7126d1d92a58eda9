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
	var past steps
	layer := make([]int32, n+1)
	keep := max(8, min(maxFeet, maxNodes/n))

	var feet []foot
	var old, cur []node // the nodes of two fixes, by chainage
	var from []int32
	var sorted, places []float64
	var some []int32 // chords
	var gone []away
	var onwards []onward
	lead := 0.0
	end, endCost := int32(-1), math.Inf(1)

	for i := range m.fixes {
		before := past.n - int32(len(old))
		layer[i] = past.n
		near := m.index.near(m.fixes[i].P)
		if len(near) > crowd && len(old)+len(gone) > 0 {
			places = places[:0]
			for q := range old {
				places = append(places, old[q].s)
			}
			for k := range gone {
				places = append(places, gone[k].s)
			}
			slices.Sort(places)
			a, b := m.fixes[i-1].P, m.fixes[i].P
			on := 2*math.Hypot(b[0]-a[0], b[1]-a[1]) + m.back + reach
			some = m.index.ahead(near, places, m.back+reach, on, some)
			near = some
		}
		feet = m.index.feet(near, m.fixes[i].P, m.radius, feet[:0])
		cur, from = cur[:0], from[:0]
		var t transition
		if len(feet) > 0 && len(old) > 0 {
			t = m.between(i-1, i)
		}
		reachable, jumpable := 0, 0
		jump, jumpFrom := math.Inf(1), 0
		widest := t.high + jumpCost*m.beta
		for len(onwards) < len(gone) {
			onwards = append(onwards, onward{fix: -1})
		}
		for _, f := range feet {
			best, b, top := lead+m.join(f.s), int32(-1), f.s
			for reachable < len(old) && old[reachable].s <= f.s+m.back {
				reachable++
			}
			// Of the nodes so far back that the way from them costs the
			// full jump, the best one is the best for all later feet too.
			for jumpable < reachable && old[jumpable].s < f.s-widest {
				if c := old[jumpable].cost - skipCost*old[jumpable].s; c < jump {
					jump, jumpFrom = c, jumpable
				}
				jumpable++
			}
			if c := jump + skipCost*(f.s-t.mid) + jumpCost + t.always; c < best {
				best, b, top = c, before+int32(jumpFrom), max(f.s, old[jumpFrom].top)
			}
			for q := reachable - 1; q >= jumpable; q-- {
				o := &old[q]
				if o.cost < best && f.s >= o.top-m.back {
					if c := o.cost + t.cost(f.s-o.s); c < best {
						best, b, top = c, before+int32(q), max(f.s, o.top)
					}
				}
			}
			for k := range gone {
				h := &gone[k]
				if h.cost >= best || f.s < h.top-m.back {
					continue
				}
				on := &onwards[k]
				if on.fix != int32(i) {
					on.transition, on.fix = m.between(int(h.fix), i), int32(i)
				}
				way := f.s - h.s
				if h.cost+skipCost*(way-on.mid) >= best {
					continue
				}
				if c := h.cost + on.cost(way); c < best {
					best, b, top = c, h.node, max(f.s, h.top)
				}
			}
			c := best + m.emission.cost(f.d)
			cur, from = append(cur, node{f.s, top, c}), append(from, b)
		}
		if len(cur) > keep {
			cur, from, sorted = prune(cur, from, sorted, keep)
		}
		for k, b := range from {
			past.add(cur[k].s, b)
		}

		gone = m.wander(gone, old, before, i-1)
		endCost += asideCost
		for k := range cur {
			if c := cur[k].cost + m.part(cur[k].s); c < endCost {
				end, endCost = layer[i]+int32(k), c
			}
		}
		lead += asideCost
		old, cur = cur, old
	}
	layer[n] = past.n

	at = make([]float64, n)
	for i := range at {
		at[i] = math.NaN()
	}
	if nowhere := lead + m.part(m.startAt); nowhere <= endCost {
		return at, nowhere
	}
	for i, k := n-1, end; k >= 0; k = past.at(k).back {
		for layer[i] > k {
			i--
		}
		at[i] = float64(past.at(k).s)
	}
	return at, endCost
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
