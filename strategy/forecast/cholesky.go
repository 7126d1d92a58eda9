package forecast

import "math"

// cholesky is the lower triangle of a symmetric positive definite matrix: at
// most a few hundred rows, one per race.
type cholesky [][]float64

// factor gives the triangle; ok is false when the matrix is not positive
// definite to working precision.
func factor(n int, at func(i, j int) float64) (l cholesky, ok bool) {
	l = make(cholesky, n)
	for i := range n {
		l[i] = make([]float64, i+1)
		for j := range i + 1 {
			sum := at(i, j)
			for k := range j {
				sum -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = sum / l[j][j]
				continue
			}
			if !(sum > 1e-12) {
				return nil, false
			}
			l[i][i] = math.Sqrt(sum)
		}
	}
	return l, true
}

// solve gives x with L Lᵀ x = b.
func (l cholesky) solve(b []float64) []float64 {
	n := len(l)
	x := make([]float64, n)
	copy(x, b)
	for i := range n {
		for k := range i {
			x[i] -= l[i][k] * x[k]
		}
		x[i] /= l[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			x[i] -= l[k][i] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x
}

func dot(a, b []float64) float64 {
	var sum float64
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}
