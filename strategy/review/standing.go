package review

import (
	"math"
	"sort"

	"github.com/paulmach/orb"

	"tautline/geo/follow"
)

// A runner who moves less than standSpan metres in standSeconds stands.
const (
	standSeconds = 20.0
	standSpan    = 8.0
)

// stops are the fixes at which the runner stood.
type stops struct {
	inside  []bool    // the fix lies within a stop, after its first and before its last
	before  []float64 // s stood up to each fix
	seconds float64
	all     []stop
}

// stop is one of them.
type stop struct {
	from, to int     // its first and its last fix
	wandered float64 // m that the record is longer for it
}

// standing finds where the runner stood. What a receiver writes while its
// owner stands is error alone, and the time is not running time.
func standing(fixes []follow.Fix) stops {
	s := stops{inside: make([]bool, len(fixes)), before: make([]float64, len(fixes))}
	for i := 0; i < len(fixes); i++ {
		s.before[i] = s.seconds
		j := i + 1
		for j < len(fixes) && math.Hypot(fixes[j].P[0]-fixes[i].P[0], fixes[j].P[1]-fixes[i].P[1]) < standSpan {
			j++
		}
		j-- // the last fix near this one
		if stood := fixes[j].T - fixes[i].T; stood >= standSeconds && j > i+1 {
			for k := i + 1; k < j; k++ {
				s.inside[k] = true
				s.before[k] = s.seconds
			}
			at := stop{from: i, to: j, wandered: -math.Hypot(fixes[j].P[0]-fixes[i].P[0], fixes[j].P[1]-fixes[i].P[1])}
			for k := i; k < j; k++ {
				at.wandered += math.Hypot(fixes[k+1].P[0]-fixes[k].P[0], fixes[k+1].P[1]-fixes[k].P[1])
			}
			s.all = append(s.all, at)
			s.seconds += stood - 2 // the way between the two fixes took some time
			s.before[j] = s.seconds
			i = j
		}
	}
	return s
}

// lerpAt interpolates y over increasing x.
func lerpAt(x, y []float64, at float64) float64 {
	i := max(0, min(sort.SearchFloat64s(x, at)-1, len(x)-2))
	t := (at - x[i]) / (x[i+1] - x[i])
	return y[i] + t*(y[i+1]-y[i])
}

func lerpPoint(x []float64, y orb.LineString, at float64) orb.Point {
	i := max(0, min(sort.SearchFloat64s(x, at)-1, len(x)-2))
	t := (at - x[i]) / (x[i+1] - x[i])
	return orb.Point{y[i][0] + t*(y[i+1][0]-y[i][0]), y[i][1] + t*(y[i+1][1]-y[i][1])}
}

// index interpolates a list at a fractional index.
func index(v []float64, x float64) float64 {
	if math.IsNaN(x) || len(v) == 0 {
		return math.NaN()
	}
	if len(v) == 1 {
		return v[0]
	}
	i := max(0, min(int(x), len(v)-2))
	return v[i] + (x-float64(i))*(v[i+1]-v[i])
}
