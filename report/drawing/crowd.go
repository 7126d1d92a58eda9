package drawing

import (
	"math"
	"sort"
	"strings"
)

// Crowd is where a crowd ran at a place: its share in cells one metre wide,
// from the right edge of the permitted road to the left. The last cell may be
// narrower; the outermost hold those beyond the edges as well.
type Crowd struct {
	At          float64
	Left, Right float64 // edges, m left of the drawn course
	Share       []float64
}

// Span is a stretch pointed out by a bar beside the road.
type Span struct {
	From, To float64
	Left     bool   // on the left of the road
	Class    string // "span-worth", "span-left", "span-changed"
	Name     string // for a screen reader and for pointing at
}

// Cone is a cone on the road.
type Cone struct {
	At, Left float64
	Name     string
}

// Densities are the least shares of a crowd in one metre of the road, each
// with a tint of its own, palest first. Spread evenly over a road of 8 m there
// would be 12.5 % in each.
var Densities = []float64{0.03, 0.08, 0.16, 0.32}

// leastCell is how long a cell of the crowd is drawn at least, px.
const leastCell = 4.0

// crowd tints the road where the crowd ran. Places with too few records stay
// blank.
func (m Strips) crowd(p *pen, s *Scene, from, to float64, x, y func(float64) float64) {
	if len(s.Crowd) == 0 {
		return
	}
	// farthest is how far from its place a cell reaches at most, m.
	const farthest = 15.0
	all := s.Crowd
	border := func(i, j int) (float64, float64) { // between two neighbours, seen from each
		mid := (all[i].At + all[j].At) / 2
		return math.Min(mid, all[i].At+farthest), math.Max(mid, all[j].At-farthest)
	}
	lo := sort.Search(len(all), func(i int) bool { return all[i].At > from-farthest })
	tints := make([]strings.Builder, len(Densities))
	for i := lo; i < len(all) && all[i].At < to+farthest; {
		a := math.Max(from, all[i].At-farthest)
		if i > 0 {
			_, b := border(i-1, i)
			a = math.Max(from, b)
		}
		// Neighbours of the same width go together until the cell can be seen.
		j, sum := i, append([]float64(nil), all[i].Share...)
		end := func(j int) float64 {
			e := all[j].At + farthest
			if j+1 < len(all) {
				e, _ = border(j, j+1)
			}
			return math.Min(to, e)
		}
		for j+1 < len(all) && all[j+1].At < to+farthest && (end(j)-a)*m.Along < leastCell && len(all[j+1].Share) == len(sum) &&
			math.Abs(all[j+1].Left-all[i].Left) < 0.05 && math.Abs(all[j+1].Right-all[i].Right) < 0.05 && all[j+1].At-all[j].At < 2*farthest {
			j++
			for k, v := range all[j].Share {
				sum[k] += v
			}
		}
		c, n := all[i], float64(j-i+1)
		top, low := y(end(j)), y(a)
		wide := c.Left - c.Right
		for k := 0; k < len(sum) && low > top; {
			t := tint(sum[k] / n / cellWidth(k, wide))
			e := k + 1
			for e < len(sum) && tint(sum[e]/n/cellWidth(e, wide)) == t {
				e++
			}
			if t >= 0 {
				right, left := x(c.Right+float64(k)), x(math.Min(c.Left, c.Right+float64(e)))
				tints[t].WriteString("M" + num(left) + " " + num(top) + "H" + num(right) + "V" + num(low) + "H" + num(left) + "z")
			}
			k = e
		}
		i = j + 1
	}
	for t := range tints {
		if tints[t].Len() > 0 {
			p.raw(`<path class="crowd-`, num(float64(t+1)), `" d="`, tints[t].String(), "\"/>\n")
		}
	}
}

// cellWidth is the width of cell k on a road that is wide, m. The narrow rest
// of a metre at the left edge counts as half a metre at least, since those
// beyond the edge are in it.
func cellWidth(k int, wide float64) float64 {
	return math.Max(0.5, math.Min(1, wide-float64(k)))
}

// tint is the index of the tint for a share per metre, -1 for none.
func tint(share float64) int {
	t := -1
	for i, least := range Densities {
		if share >= least {
			t = i
		}
	}
	return t
}

// spans draws bars beside the road.
func (m Strips) spans(p *pen, s *Scene, from, to float64, y func(float64) float64) {
	for _, q := range s.Spans {
		a, b := math.Max(from, q.From), math.Min(to, q.To)
		if b < a || q.To < from || q.From >= to && to < s.Length {
			continue
		}
		const least, away = 5.0, 4.0 // px
		low, top := y(a), y(b)
		if low-top < least {
			mid := (low + top) / 2
			low, top = math.Min(mid+least/2, y(from)), math.Max(mid-least/2, y(to))
		}
		at := s.roadAt((a + b) / 2)
		u := stripMiddle - at.KerbRight*m.Across + away
		if q.Left {
			u = stripMiddle - at.KerbLeft*m.Across - away
		}
		p.raw("<g><title>", label(q.Name), "</title>")
		p.line(q.Class, u, low, u, top)
		p.raw("</g>\n")
	}
}

// cones draws single cones.
func (m Strips) cones(p *pen, s *Scene, from, to float64, x, y func(float64) float64) {
	for _, q := range s.Cones {
		if q.At < from || q.At > to || q.At == to && to < s.Length {
			continue
		}
		u, v := x(q.Left), y(q.At)
		p.raw("<g><title>", label(q.Name), "</title>")
		p.path("cone", []xy{{u - 4, v + 3.5}, {u, v - 5}, {u + 4, v + 3.5}}, true)
		p.raw("</g>\n")
	}
}
