package taut_test

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"tautline/geo/road"
	"tautline/geo/taut"
)

func minus(a, b orb.Point) orb.Point { return orb.Point{a[0] - b[0], a[1] - b[1]} }
func inner(a, b orb.Point) float64   { return a[0]*b[0] + a[1]*b[1] }
func outer(a, b orb.Point) float64   { return a[0]*b[1] - a[1]*b[0] }
func size(a orb.Point) float64       { return math.Hypot(a[0], a[1]) }

// meet gives the first place at or after t0 of the piece from a to b, as a
// fraction of it, that lies on a portal or nearer to it than tol.
func meet(a, b orb.Point, t0 float64, p *road.Portal, tol float64) (float64, bool) {
	g := minus(b, a)
	l2 := inner(g, g)
	try := func(t float64) bool {
		q := orb.Point{a[0] + t*g[0], a[1] + t*g[1]}
		return toSegment(q, p.Left.P, p.Right.P) <= tol
	}
	if try(t0) {
		return t0, true
	}
	best, found := math.Inf(1), false
	note := func(t float64) {
		if t >= t0 && t <= 1 && t < best && try(t) {
			best, found = t, true
		}
	}
	h := minus(p.Right.P, p.Left.P)
	if d := outer(g, h); d != 0 {
		note(outer(minus(p.Left.P, a), h) / d)
	}
	if l2 > 0 {
		// Where the piece grazes an end.
		note(inner(minus(p.Left.P, a), g) / l2)
		note(inner(minus(p.Right.P, a), g) / l2)
	}
	note(1)
	return best, found
}

// passes gives the places where a line passes portals one after the other:
// each the first that is not before the last. It fails at the first portal
// that the line does not pass.
func passes(line orb.LineString, ps []road.Portal, tol float64) ([]orb.Point, error) {
	k, t := 0, 0.0
	out := make([]orb.Point, len(ps))
	for i := range ps {
		found := false
		for j, t0 := k, t; j+1 < len(line); j, t0 = j+1, 0 {
			if x, ok := meet(line[j], line[j+1], t0, &ps[i], tol); ok {
				k, t, found = j, x, true
				break
			}
		}
		if !found {
			off := math.Inf(1)
			for j := k; j < len(line); j++ {
				off = math.Min(off, toSegment(line[j], ps[i].Left.P, ps[i].Right.P))
				if j+1 < len(line) {
					off = math.Min(off, math.Min(toSegment(ps[i].Left.P, line[j], line[j+1]), toSegment(ps[i].Right.P, line[j], line[j+1])))
				}
			}
			return nil, fmt.Errorf("the line passes portal %d of %d at %.3f m by %.6f m", i, len(ps), ps[i].At, off)
		}
		a, b := line[k], line[k+1]
		out[i] = orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
	}
	return out, nil
}

// atLeast is a length that no path through the portals can fall below, from a
// path that is thought to be the shortest. For any unit vectors u the length
// of a path x is at least Σ u_i·(x_i+1 - x_i) = Σ x_i·(u_i-1 - u_i), and every
// term is least at one of the portal's ends (duality of convex optimization).
// With the directions of the shortest path the bound is its length; nothing
// of how the path was found comes into it.
func atLeast(ps []road.Portal, x []orb.Point) float64 {
	n := len(ps)
	u := make([]orb.Point, n+1) // u[i] leads to portal i; none to the first, none from the last
	const still = 1e-7
	known := make([]bool, n+1)
	known[0], known[n] = true, true
	for i := 1; i < n; i++ {
		g := minus(x[i], x[i-1])
		if l := size(g); l > still {
			u[i], known[i] = orb.Point{g[0] / l, g[1] / l}, true
		}
	}
	term := func(i int, in, out orb.Point) float64 {
		d := minus(in, out)
		return math.Min(inner(ps[i].Left.P, d), inner(ps[i].Right.P, d))
	}
	// Portals passed at one place: the path turns at the one that holds it best.
	for i := 1; i < n; i++ {
		if known[i] {
			continue
		}
		j := i
		for !known[j] {
			j++
		}
		in, out := u[i-1], u[j]
		best, at := math.Inf(-1), i-1
		for k := i - 1; k < j; k++ {
			d := minus(in, out)
			if v := term(k, in, out) - inner(x[k], d); v > best {
				best, at = v, k
			}
		}
		for k := i; k < j; k++ {
			u[k], known[k] = in, true
			if k > at {
				u[k] = out
			}
		}
	}
	sum := 0.0
	for i := range n {
		sum += term(i, u[i], u[i+1])
	}
	return sum
}

// polygon takes the arcs off portals.
func polygon(ps []road.Portal) []road.Portal {
	out := make([]road.Portal, len(ps))
	for i, p := range ps {
		out[i] = road.Portal{At: p.At, Left: road.End{P: p.Left.P}, Right: road.End{P: p.Right.P}}
	}
	return out
}

// certify checks that the string through the portals is the shortest.
func certify(ps []road.Portal) error {
	flat := polygon(ps)
	p, err := taut.Shortest(flat)
	if err != nil {
		return err
	}
	x, err := passes(p.Points, flat, 2e-6)
	if err != nil {
		return err
	}
	if low := atLeast(flat, x); p.Length-low > 1e-3 || low-p.Length > 1e-3 {
		return fmt.Errorf("the line has %.6f m, but only %.6f m are proved to be needed", p.Length, low)
	}
	round, err := taut.Shortest(ps)
	if err != nil {
		return err
	}
	if _, err := passes(round.Points, ps, 0.01); err != nil {
		return fmt.Errorf("with arcs %w", err)
	}
	// Where bends follow each other closely or the width steps, an arc has few
	// samples and their chords are up to 3 cm shorter each.
	if d := round.Length - p.Length; math.Abs(d) > 0.1+1e-4*p.Length {
		return fmt.Errorf("the line has %.6f m with arcs, %.6f m round their samples", round.Length, p.Length)
	}
	return nil
}
