package heights

import "math"

// localVariance is the variance of the road's gradient in each cell: that of
// the usual stretch, and more where the heights stand out of what noise and
// the usual road make of them. Slopes of long blocks tell the long part,
// changes of slope between short blocks the short part.
func localVariance(cells []float64, cell float64, m model) []liveliness {
	out := make([]liveliness, len(cells))
	base := math.Max(m.gradient, leastGradient)
	for i := range out {
		out[i] = liveliness{base, leastGradient}
	}
	s := newSums(cells)
	longHills(out, s, cell, m, base)
	shortHills(out, s, cell, m, base)
	return out
}

// longHills raises the long part where slopes of long blocks stand out.
func longHills(out []liveliness, s sums, cell float64, m model, base float64) {
	n := len(out)
	usual, long := part{ground, m.length}, part{ground, longLength}
	for _, b := range blocks([]float64{240, 480, 960}, cell, n/2) {
		half := max(1, b/2)
		var squares []float64
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
			v := math.Min(excess/unit, mostLively)
			for q := max(0, (j-spread)*half); q < min(n, (j+spread)*half+2*b); q++ {
				out[q].long = math.Max(out[q].long, v)
			}
		})
	}
}

// shortHills raises the short part where changes of slope between short blocks
// stand out of what noise, the usual road and the long part make of them.
func shortHills(out []liveliness, s sums, cell float64, m model, base float64) {
	n := len(out)
	usual, long := part{ground, m.length}, part{ground, longLength}
	for _, b := range blocks([]float64{40, 80, 160}, cell, n/3) {
		half := max(1, b/2)
		var squares []float64
		for i := 0; i+3*b <= n; i += half {
			x, ok1 := s.mean(i, b)
			y, ok2 := s.mean(i+b, b)
			z, ok3 := s.mean(i+2*b, b)
			d := x - 2*y + z
			if !ok1 || !ok2 || !ok3 {
				d = math.NaN()
			}
			explained := out[min(n-1, i+3*b/2)].long * long.curvature(b, cell)
			squares = append(squares, math.Max(0, d*d-explained))
		}
		expected := m.noise.curvature(b, cell) + base*usual.curvature(b, cell)
		unit := usual.curvature(b, cell)
		surges(squares, outstandingShort*expected, expected, wideSpread, func(j int, excess float64) {
			v := math.Min(excess/unit, mostLively)
			for q := max(0, (j-wideSpread)*half); q < min(n, (j+wideSpread)*half+3*b); q++ {
				out[q].short = math.Max(out[q].short, v)
			}
		})
	}
}

// blocks gives the different numbers of cells, 1 to most, that ascending lengths
// in metres come to.
func blocks(lengths []float64, cell float64, most int) []int {
	var out []int
	for _, l := range lengths {
		b := max(1, int(math.Round(l/cell)))
		if b <= most && (len(out) == 0 || b > out[len(out)-1]) {
			out = append(out, b)
		}
	}
	return out
}

// mostLively is the greatest variance of gradient that is told, 15 % squared.
const mostLively = 0.15 * 0.15

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
