package likely

import (
	"math"
	"sort"

	"github.com/paulmach/orb"
)

// Turn is a turn of the reference line: the stretch along it in which the
// course turns, and by how much.
type Turn struct {
	From, To float64 // m along the reference line
	Angle    float64 // rad, left positive
}

// Reference is the line that distance is counted against: the shortest legal
// line, with its kerb arcs as fine polylines. It is not modified.
type Reference struct {
	Points orb.LineString // m
	Along  []float64      // m along the line at each point, strictly increasing from 0
	Turns  []Turn         // in order, not overlapping
	// Reach tells how far the permitted road reaches from the line, in metres:
	// left >= 0 and right <= 0. Nil stands for a road of unknown width, for
	// which a street of 8 m is assumed.
	Reach func(along float64) (left, right float64)
}

// Length is the length of the reference line in metres.
func (r *Reference) Length() float64 { return r.Along[len(r.Along)-1] }

// leg gives the index of the piece that holds a place along the line and the
// fraction along it; places beyond the ends belong to the end pieces.
func (r *Reference) leg(along float64) (int, float64) {
	i := sort.SearchFloat64s(r.Along, along) - 1
	i = max(0, min(i, len(r.Points)-2))
	return i, (along - r.Along[i]) / (r.Along[i+1] - r.Along[i])
}

// at gives the point and the unit direction of travel at a place.
func (r *Reference) at(along float64) (p, dir orb.Point) {
	i, t := r.leg(along)
	a, b := r.Points[i], r.Points[i+1]
	d := orb.Point{b[0] - a[0], b[1] - a[1]}
	p = orb.Point{a[0] + t*d[0], a[1] + t*d[1]}
	if l := math.Hypot(d[0], d[1]); l > 0 {
		dir = orb.Point{d[0] / l, d[1] / l}
	}
	return p, dir
}

// back is the turning, in radians, from which the legs of a turn come so close
// that nearness alone cannot tell them apart.
const back = 2.2

// foot finds the place on the line nearest to p among the places within reach
// metres (along the line) of guess, and the lateral offset there, left
// positive. Restricting the search keeps the legs of an out-and-back apart; at
// a turn-around the guess says which leg it is.
func (r *Reference) foot(p orb.Point, guess, reach float64) (along, off float64) {
	lo, hi := guess-reach, guess+reach
	for k := sort.Search(len(r.Turns), func(k int) bool { return r.Turns[k].To > lo }); k < len(r.Turns) && r.Turns[k].From < hi; k++ {
		if t := r.Turns[k]; math.Abs(t.Angle) > back {
			if mid := (t.From + t.To) / 2; guess < mid {
				hi = min(hi, mid)
			} else {
				lo = max(lo, mid)
			}
		}
	}
	i, _ := r.leg(lo)
	best := math.Inf(1)
	for ; i < len(r.Points)-1 && (r.Along[i] < hi || math.IsInf(best, 1)); i++ {
		a, b := r.Points[i], r.Points[i+1]
		dx, dy := b[0]-a[0], b[1]-a[1]
		l2 := dx*dx + dy*dy
		if l2 == 0 {
			continue
		}
		t := ((p[0]-a[0])*dx + (p[1]-a[1])*dy) / l2
		switch { // beyond the ends the line goes straight on
		case t < 0 && i > 0:
			t = 0
		case t > 1 && i < len(r.Points)-2:
			t = 1
		}
		// A long straight that the course passes elsewhere must not draw a fix
		// out of reach.
		if step := r.Along[i+1] - r.Along[i]; step > 0 {
			t = min(max(t, (guess-reach-r.Along[i])/step), (guess+reach-r.Along[i])/step)
		}
		ex, ey := p[0]-a[0]-t*dx, p[1]-a[1]-t*dy
		if d := ex*ex + ey*ey; d < best {
			best = d
			along = r.Along[i] + t*(r.Along[i+1]-r.Along[i])
			off = (dx*ey - dy*ex) / math.Sqrt(l2)
			if t == 0 || t == 1 {
				off = math.Copysign(math.Sqrt(d), off)
			}
		}
	}
	return along, off
}

// reach is Reach with its default.
func (r *Reference) reach(along float64) (left, right float64) {
	if r.Reach == nil {
		return 4, -4
	}
	return r.Reach(along)
}
