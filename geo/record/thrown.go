package record

import (
	"slices"

	"tautline/geo/earth"
)

// A fix is thrown that is farther from both its neighbours than thrownFar
// metres, and faster than thrownSpeed m/s away from them, while a runner gets
// from the one to the other.
const (
	thrownFar   = 40.0
	thrownSpeed = 25.0
	thrownMost  = 3    // in a row
	runner      = 10.0 // m/s
)

// Reached is a record without the fixes, up to three in a row, to which nobody
// can have gone and come back: one fix thrown far aside for a second would
// lengthen the record by twice as much. A note says how many were dropped. A
// record without times stays as it is, and so do all other jumps: whoever
// follows the record along a course can tell them. The argument is not changed.
func Reached(rec Record) Record {
	thrown := thrownIn(rec)
	n := 0
	out := rec
	out.Fixes, out.Gaps = nil, nil
	at := make([]int, len(rec.Fixes)) // where each fix has gone
	for i, f := range rec.Fixes {
		at[i] = len(out.Fixes)
		if thrown[i] {
			n++
			continue
		}
		out.Fixes = append(out.Fixes, f)
	}
	if n == 0 {
		return rec
	}
	for _, g := range rec.Gaps {
		if !thrown[g.Before] && !thrown[g.Before+1] {
			out.Gaps = append(out.Gaps, Gap{at[g.Before], g.Seconds})
		}
	}
	out.Notes = append(slices.Clone(rec.Notes), dropped(n, "to which nobody can have gone and come back"))
	return out
}

// thrownIn tells the thrown fixes of a record.
func thrownIn(rec Record) []bool {
	thrown := make([]bool, len(rec.Fixes))
	if !rec.Timed {
		return thrown
	}
	step := func(i, j int) (metres, seconds float64) {
		a, b := rec.Fixes[i], rec.Fixes[j]
		return earth.Distance(a.At, b.At), b.Time.Sub(a.Time).Seconds()
	}
	far := func(i, j int) bool {
		d, t := step(i, j)
		return d > thrownFar && d > thrownSpeed*t
	}
	for i := 1; i+1 < len(rec.Fixes); i++ {
		if !far(i-1, i) {
			continue
		}
		for j := i; j < i+thrownMost && j+1 < len(rec.Fixes); j++ {
			if d, t := step(i-1, j+1); far(j, j+1) && d <= runner*t {
				for k := i; k <= j; k++ {
					thrown[k] = true
				}
				i = j
				break
			}
		}
	}
	return thrown
}
