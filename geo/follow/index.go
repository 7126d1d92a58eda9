package follow

import (
	"math"
	"sort"

	"github.com/paulmach/orb"
)

const (
	// reach is how far from the course a fix is still looked at, in metres.
	// The search radius of one record never exceeds it.
	reach = 64.0
	// chordSagitta is how far, in metres, the course may bulge from a chord
	// of the search line. Final chainages come from the course itself.
	chordSagitta = 0.5
	// chordLength bounds a chord so that it touches few cells of the grid.
	chordLength = 128.0
	// maxChords bounds the work for drawings of planetary size: on those the
	// chords grow instead of their number.
	maxChords = 400_000
	// leastCells, cellsPerChord and maxCells bound the grid; wider areas get
	// larger cells.
	maxCells      = 1 << 20
	leastCells    = 1 << 14
	cellsPerChord = 64
)

// chord is a straight piece of the search line.
type chord struct {
	x, y   float64 // first end, m
	ux, uy float64 // unit direction
	length float64 // m, planar
	s, k   float64 // chainage of the first end; chainage per planar metre
}

// index finds the foot points of a position on the course. It is not changed
// once built.
type index struct {
	chords []chord
	exact  bool // the chords are the course's own pieces, or parts of them

	x0, y0, perCell float64
	nx, ny          int
	start           []int32 // per cell, into list
	list            []int32 // chord numbers within reach of the cell, rising
}

// foot is a place of the course to which a fix may belong.
type foot struct {
	s float64 // chainage, m
	d float64 // distance from the fix, m, not negative
}

func newIndex(points orb.LineString, chainage []float64) *index {
	x := &index{exact: true}
	limit := max(chordLength, planarLength(points)/maxChords)
	x.chords = make([]chord, 0, len(points))
	for i := 0; i < len(points)-1; {
		j := chordEnd(points, i, limit)
		if j > i+1 {
			x.exact = false
		}
		x.add(points[i], points[j], chainage[i], chainage[j], limit)
		i = j
	}
	x.grid(limit)
	return x
}

func planarLength(points orb.LineString) float64 {
	var sum float64
	for i := 1; i < len(points); i++ {
		sum += math.Hypot(points[i][0]-points[i-1][0], points[i][1]-points[i-1][1])
	}
	return sum
}

// chordEnd gives the last point that one chord from point i may reach: all
// points between lie within chordSagitta of it and move away from point i, so
// that a turn on the spot always ends a chord. The directions that pass close
// enough to every point so far form a cone, which makes this linear.
func chordEnd(points orb.LineString, i int, limit float64) int {
	a := points[i]
	var lx, ly, rx, ry float64 // left and right side of the cone
	open := true
	last := 0.0
	for j := i + 1; j < len(points); j++ {
		dx, dy := points[j][0]-a[0], points[j][1]-a[1]
		d := math.Hypot(dx, dy)
		if j > i+1 {
			if d <= last || d > limit {
				return j - 1
			}
			if !open && (lx*dy-ly*dx > 0 || rx*dy-ry*dx < 0) {
				return j - 1
			}
		}
		last = d
		if d <= chordSagitta {
			continue
		}
		// The two tangents from a to the circle of radius chordSagitta
		// round point j, as vectors of length d².
		t := math.Sqrt(d*d - chordSagitta*chordSagitta)
		nlx, nly := dx*t-dy*chordSagitta, dy*t+dx*chordSagitta
		nrx, nry := dx*t+dy*chordSagitta, dy*t-dx*chordSagitta
		if open {
			lx, ly, rx, ry, open = nlx, nly, nrx, nry, false
			continue
		}
		if lx*nly-ly*nlx < 0 {
			lx, ly = nlx, nly
		}
		if rx*nry-ry*nrx > 0 {
			rx, ry = nrx, nry
		}
	}
	return len(points) - 1
}

// add appends the chord from a to b, in parts of at most limit metres.
func (x *index) add(a, b orb.Point, sa, sb, limit float64) {
	dx, dy := b[0]-a[0], b[1]-a[1]
	whole := math.Hypot(dx, dy)
	n := max(1, int(math.Ceil(whole/limit)))
	length := whole / float64(n)
	for i := range n {
		f := float64(i) / float64(n)
		x.chords = append(x.chords, chord{
			x: a[0] + f*dx, y: a[1] + f*dy, ux: dx / whole, uy: dy / whole,
			length: length, s: sa + f*(sb-sa), k: (sb - sa) / whole,
		})
	}
}

// grid lists for every cell the chords within reach of any of its points.
func (x *index) grid(limit float64) {
	lox, loy := math.Inf(1), math.Inf(1)
	hix, hiy := math.Inf(-1), math.Inf(-1)
	grow := func(px, py float64) {
		lox, loy = min(lox, px), min(loy, py)
		hix, hiy = max(hix, px), max(hiy, py)
	}
	for i := range x.chords {
		c := &x.chords[i]
		grow(c.x, c.y)
		grow(c.x+c.ux*c.length, c.y+c.uy*c.length)
	}
	w, h := hix-lox+2*reach, hiy-loy+2*reach
	cells := float64(min(maxCells, max(leastCells, cellsPerChord*len(x.chords))))
	cell := max(reach, limit/2, math.Sqrt(w*h/cells), max(w, h)/cells)
	x.x0, x.y0, x.perCell = lox-reach, loy-reach, 1/cell
	x.nx, x.ny = int(w/cell)+1, int(h/cell)+1

	x.start = make([]int32, x.nx*x.ny+1)
	visit := func(do func(cell int, chord int32)) {
		near := reach + cell*math.Sqrt2/2
		for i := range x.chords {
			c := &x.chords[i]
			ex, ey := c.x+c.ux*c.length, c.y+c.uy*c.length
			i0 := max(0, int((min(c.x, ex)-reach-x.x0)*x.perCell))
			i1 := min(x.nx-1, int((max(c.x, ex)+reach-x.x0)*x.perCell))
			j0 := max(0, int((min(c.y, ey)-reach-x.y0)*x.perCell))
			j1 := min(x.ny-1, int((max(c.y, ey)+reach-x.y0)*x.perCell))
			for j := j0; j <= j1; j++ {
				py := x.y0 + (float64(j)+0.5)*cell - c.y
				for i2 := i0; i2 <= i1; i2++ {
					px := x.x0 + (float64(i2)+0.5)*cell - c.x
					along := px*c.ux + py*c.uy
					over := along - max(0, min(c.length, along))
					across := py*c.ux - px*c.uy
					if over*over+across*across <= near*near {
						do(j*x.nx+i2, int32(i))
					}
				}
			}
		}
	}
	visit(func(cell int, _ int32) { x.start[cell+1]++ })
	for i := 1; i < len(x.start); i++ {
		x.start[i] += x.start[i-1]
	}
	x.list = make([]int32, x.start[len(x.start)-1])
	next := append([]int32(nil), x.start[:len(x.start)-1]...)
	visit(func(cell int, chord int32) {
		x.list[next[cell]] = chord
		next[cell]++
	})
}

// near gives the chords that may lie within reach of a position.
func (x *index) near(p orb.Point) []int32 {
	fx, fy := (p[0]-x.x0)*x.perCell, (p[1]-x.y0)*x.perCell
	if !(fx >= 0 && fy >= 0 && fx < float64(x.nx) && fy < float64(x.ny)) {
		return nil
	}
	c := int(fy)*x.nx + int(fx)
	return x.list[x.start[c]:x.start[c+1]]
}

// feet appends every place on these chords near p, which are given in order,
// where the distance from p to the course, as a function of chainage, is
// smallest around and at most r. They come in order of chainage. The course is
// continued straight on for r beyond its ends, so that a runner passes the
// start and the finish line at speed instead of gathering on its last point.
func (x *index) feet(list []int32, p orb.Point, r float64, out []foot) []foot {
	prev, over := int32(-2), false
	r2 := r * r
	first := len(out)
	for _, n := range list {
		c := &x.chords[n]
		dx, dy := p[0]-c.x, p[1]-c.y
		along := dx*c.ux + dy*c.uy
		across := dy*c.ux - dx*c.uy
		corner := over && n == prev+1
		prev, over = n, along > c.length
		var f foot
		switch {
		case across > r || across < -r:
			continue
		case along < 0:
			d2 := dx*dx + dy*dy
			if d2 > r2 {
				continue
			}
			if n == 0 {
				f = foot{c.s + along*c.k, math.Abs(across)}
			} else if corner {
				f = foot{c.s, math.Sqrt(d2)}
			} else {
				continue
			}
		case along > c.length:
			if int(n) < len(x.chords)-1 {
				continue
			}
			if e := along - c.length; e*e+across*across > r2 {
				continue
			}
			f = foot{c.s + along*c.k, math.Abs(across)}
		default:
			f = foot{c.s + along*c.k, math.Abs(across)}
		}
		if k := len(out) - 1; k >= first && f.s-out[k].s < sameFoot {
			if f.d < out[k].d {
				out[k] = f
			}
			continue
		}
		out = append(out, f)
	}
	return out
}

// ahead thins a list of chords, in order, to those from which a path at one of
// the places, which are in order too, may go on: within back behind it and on
// beyond it. The first chords of the list stay, so that a path can begin.
func (x *index) ahead(list []int32, places []float64, back, on float64, out []int32) []int32 {
	out = append(out[:0], list[:crowd/4]...)
	k := crowd / 4
	for _, s := range places {
		rest := list[k:]
		n := sort.Search(len(rest), func(i int) bool {
			c := &x.chords[rest[i]]
			return c.s+c.length*c.k >= s-back
		})
		for k += n; k < len(list) && x.chords[list[k]].s <= s+on; k++ {
			out = append(out, list[k])
		}
	}
	return out
}

// crowd is the number of chords near a position from which on only those near
// the paths in hand are looked at.
const crowd = 1024

// sameFoot is the chainage in metres below which two feet are one.
const sameFoot = 2.0

// distance gives the distance from p to the course, NaN beyond reach.
func (x *index) distance(p orb.Point) float64 {
	best := math.Inf(1)
	for _, n := range x.near(p) {
		c := &x.chords[n]
		dx, dy := p[0]-c.x, p[1]-c.y
		along := dx*c.ux + dy*c.uy
		over := along - max(0, min(c.length, along))
		across := dy*c.ux - dx*c.uy
		best = min(best, over*over+across*across)
	}
	if best > reach*reach {
		return math.NaN()
	}
	return math.Sqrt(best)
}
