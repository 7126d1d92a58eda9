package likely

import "math"

// bumps is how many places around a turn the runner may stray sideways at,
// bumpSpan how far apart they are in metres.
const (
	bumps    = 7
	bumpSpan = 12.0
	strays   = 1.5 // m
)

// bumpsAt gives the sideways movement of each bump at a place on the path.
func bumpsAt(out *[bumps]complex128, u float64, left []complex128, begin, apex float64) {
	i := max(0, min(int((u+apex-begin)/grid), len(left)-2))
	for j := range out {
		out[j] = 0
		if x := math.Abs(u/bumpSpan - float64(j-bumps/2)); x < 2 {
			var v float64
			if x < 1 {
				v = 2./3 - x*x + x*x*x/2
			} else {
				v = (2 - x) * (2 - x) * (2 - x) / 6
			}
			out[j] = left[i] * complex(v, 0)
		}
	}
}

// straying is the part of a least-squares fit of a record's steps that is the
// same for every filter: how much of them straying sideways explains. The
// places to stray at are held back by a penalty.
type straying struct {
	root [bumps][bumps]float64 // Cholesky factor of their normal matrix
	y    [bumps]float64        // right-hand side behind it
}

func newStraying(steps []complex128, x [][bumps]complex128, ridge float64) *straying {
	var s straying
	a, b := &s.root, &s.y
	for k := range x {
		for i, p := range x[k] {
			if p == 0 {
				continue
			}
			for j := range i + 1 {
				a[i][j] += along(p, x[k][j])
			}
			b[i] += along(p, steps[k])
		}
	}
	for i := range bumps {
		a[i][i] += ridge + 1e-9
		for j := range i + 1 {
			v := a[i][j]
			for k := range j {
				v -= a[i][k] * a[j][k]
			}
			if i == j {
				a[i][i] = math.Sqrt(math.Max(v, 1e-12))
			} else {
				a[i][j] = v / a[j][j]
			}
		}
	}
	s.y = s.behind(s.y)
	return &s
}

// along is the scalar product of two vectors in the plane.
func along(p, q complex128) float64 { return real(p)*real(q) + imag(p)*imag(q) }

// behind solves root x = v.
func (s *straying) behind(v [bumps]float64) [bumps]float64 {
	for i := range v {
		for k := range i {
			v[i] -= s.root[i][k] * v[k]
		}
		v[i] /= s.root[i][i]
	}
	return v
}

// explained is the part of the steps' sum of squares, less the penalty, that
// is explained by straying and by the steps of a record that shows these
// places, turned and stretched as fits best.
func (s *straying) explained(steps []complex128, x [][bumps]complex128, shown []complex128) float64 {
	var ahead, aside [bumps]float64 // products with the shown steps, and with them a quarter turn to the left
	var square, b0, b1 float64
	for k := range x {
		d := shown[k+1] - shown[k]
		left := complex(-imag(d), real(d))
		square += along(d, d)
		b0 += along(d, steps[k])
		b1 += along(left, steps[k])
		for i, p := range x[k] {
			if p != 0 {
				ahead[i] += along(p, d)
				aside[i] += along(p, left)
			}
		}
	}
	ahead, aside = s.behind(ahead), s.behind(aside)
	m00, m11, m01 := square+1e-9, square+1e-9, 0.0
	var sum float64
	for i, y := range s.y {
		sum += y * y
		m00 -= ahead[i] * ahead[i]
		m11 -= aside[i] * aside[i]
		m01 -= ahead[i] * aside[i]
		b0 -= ahead[i] * y
		b1 -= aside[i] * y
	}
	m00 = math.Max(m00, 1e-12)
	m11 = math.Max(m11-m01*m01/m00, 1e-12)
	b1 -= b0 * m01 / m00
	return sum + b0*b0/m00 + b1*b1/m11
}
