package likely

import "math"

// matrix is square, its rows one after the other in memory.
type matrix [][]float64

func newMatrix(n int) matrix {
	buf := make([]float64, n*n)
	m := make(matrix, n)
	for i := range m {
		m[i] = buf[i*n : (i+1)*n]
	}
	return m
}

func cholesky(a matrix) matrix {
	n := len(a)
	l := newMatrix(n)
	for i := range n {
		for j := 0; j <= i; j++ {
			s := a[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][i] = math.Sqrt(math.Max(s, 1e-12))
			} else {
				l[i][j] = s / l[j][j]
			}
		}
	}
	return l
}

// forward solves l x = b.
func forward(l matrix, b []float64) []float64 {
	x := append([]float64(nil), b...)
	for i := range l {
		for k := range i {
			x[i] -= l[i][k] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x
}

// solve solves l l' x = b.
func solve(l matrix, b []float64) []float64 {
	n := len(l)
	x := forward(l, b)
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			x[i] -= l[k][i] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x
}
