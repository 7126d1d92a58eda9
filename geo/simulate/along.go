package simulate

import (
	"math"
	"sort"

	"github.com/paulmach/orb"

	"tautline/geo/road"
	"tautline/geo/taut"
)

// Along makes the reference of a run from a road and its shortest legal line:
// the road's two edges, as the portals give them, limit the run to the left
// and to the right along the normal of the line.
func Along(r *road.Road, line *taut.Line) Reference {
	const every = 0.5 // m between the places where the limits are measured
	ref := Reference{Line: line.Points}
	length := 0.0
	run := make([]float64, len(line.Points)) // the plane's lengths, not the map's
	for i := 1; i < len(run); i++ {
		length += distance(line.Points[i-1], line.Points[i])
		run[i] = length
	}
	last := 0.0
	for _, t := range line.Turns {
		turn := Turn{From: max(at(line.Along, run, t.From), last), To: at(line.Along, run, t.To), Angle: t.Angle}
		last = max(turn.To, last)
		if turn.To > turn.From {
			ref.Turns = append(ref.Turns, turn)
		}
	}
	n := int(math.Ceil(length/every)) + 1
	place := func(along float64) int { return min(max(int(along/every+0.5), 0), n-1) }
	left, right := make([]float64, n), make([]float64, n)
	for i := range left {
		left[i], right[i] = math.Inf(1), math.Inf(1)
	}
	leftEdge, rightEdge := edge{r: r, left: true}, edge{r: r}
	for _, s := range ref.stations(0, 0) {
		chainage := at(run, line.At, s.along)
		i := place(s.along)
		left[i] = min(left[i], leftEdge.room(s, chainage))
		right[i] = min(right[i], rightEdge.room(s, chainage))
	}
	for _, side := range [][]float64{left, right} { // a line of a few metres may skip a place
		for i := range side {
			if math.IsInf(side[i], 1) {
				side[i] = side[max(i-1, 0)]
			}
		}
	}
	ref.open(left, right, every)
	ref.Limits = func(along float64) (float64, float64) {
		i := place(along)
		return left[i], right[i]
	}
	if heights := r.Course.Heights; len(heights) > 0 && !math.IsNaN(heights[0]) {
		ref.Height = func(along float64) float64 { return at(r.Course.Chainage, heights, at(run, line.At, along)) }
	}
	return ref
}

// open gives the road back in left and right where it shrinks to a point: at a
// turn-around the measured line goes to a point and back, but a runner goes
// round it, on the road that is there.
func (r Reference) open(left, right []float64, every float64) {
	const pinched = 0.5 // m, narrower than any road
	tight := make([]bool, len(left))
	for i := range left {
		tight[i] = left[i]+right[i] < pinched
	}
	for i := range left {
		if !tight[i] {
			continue
		}
		before, after := i, i
		for before > 0 && tight[before] {
			before--
		}
		for after < len(left)-1 && tight[after] {
			after++
		}
		if r.angleAt(float64(i)*every) > 0 {
			right[i] = max(right[before], right[after])
		} else {
			left[i] = max(left[before], left[after])
		}
	}
}

// edge is one edge of the permitted road, the ends of its portals joined up.
type edge struct {
	r    *road.Road
	left bool
}

// point is the edge's end of a portal.
func (e edge) point(i int) orb.Point {
	if e.left {
		return e.r.Portals[i].Left.P
	}
	return e.r.Portals[i].Right.P
}

// room is how far the road reaches on the edge's side of a station.
func (e edge) room(s station, chainage float64) float64 {
	const (
		reach = 40  // m of chainage to either side in which the edge is looked for
		touch = 0.1 // m, a line that touches the edge may lie this far beyond it by rounding
	)
	d := s.left
	if !e.left {
		d = orb.Point{-d[0], -d[1]}
	}
	portals := e.r.Portals
	best := math.Inf(1)
	i := sort.Search(len(portals), func(i int) bool { return portals[i].At >= chainage-reach })
	for i = max(i, 1); i < len(portals) && portals[i-1].At <= chainage+reach; i++ {
		a, b := minus(e.point(i-1), s.at), minus(e.point(i), s.at)
		// The station is the origin and d the axis of the ray.
		ca, cb := d[0]*a[1]-d[1]*a[0], d[0]*b[1]-d[1]*b[0]
		if ca*cb > 0 || ca == cb {
			continue
		}
		f := ca / (ca - cb)
		if x := (1-f)*dot(a, d) + f*dot(b, d); x > -touch {
			best = min(best, max(x, 0))
		}
	}
	if !math.IsInf(best, 1) {
		return best
	}
	// No edge across: at the very ends of the road take the nearest portal.
	k := min(sort.Search(len(portals), func(i int) bool { return portals[i].At >= chainage }), len(portals)-1)
	return max(dot(minus(e.point(k), s.at), d), 0)
}
