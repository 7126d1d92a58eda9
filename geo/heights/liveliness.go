package heights

import "math"

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
