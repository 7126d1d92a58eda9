package heights

import "math"

// turningPoints gives the positions in heights where the line turns, by the
// hysteresis rule: a reversal is accepted only after the line has moved at
// least threshold from the running extreme. The first and the last accepted
// extreme are included; a last unfinished rise or fall counts if it reached
// the threshold. Heights that never move that far give nil. A threshold of 0
// accepts every reversal. Heights and threshold are in the same unit; NaN is
// not allowed.
//
// A threshold never loses an isolated hill as high as itself, and drops every
// rise that is lower, so a climb means nothing without its threshold.
func turningPoints(heights []float64, threshold float64) []int {
	if len(heights) == 0 {
		return nil
	}
	var turns []int
	low, high := 0, 0 // lowest and highest since the last accepted turn
	direction := 0
	for i, h := range heights {
		switch direction {
		case 0:
			if h < heights[low] {
				low = i
			}
			if h > heights[high] {
				high = i
			}
			moved := heights[high] - heights[low]
			if moved < threshold || moved <= 0 {
				continue
			}
			if high > low {
				turns, direction = append(turns, low), 1
			} else {
				turns, direction = append(turns, high), -1
			}
		case 1:
			if h > heights[high] {
				high = i
			} else if d := heights[high] - h; d >= threshold && d > 0 {
				turns, direction, low = append(turns, high), -1, i
			}
		case -1:
			if h < heights[low] {
				low = i
			} else if d := h - heights[low]; d >= threshold && d > 0 {
				turns, direction, high = append(turns, low), 1, i
			}
		}
	}
	switch direction {
	case 1:
		turns = append(turns, high)
	case -1:
		turns = append(turns, low)
	}
	return turns
}

// monotone replaces values by the nearest line (least squares) that never
// falls, or with rising false never rises: pooling of adjacent violators
// (Ayer M. et al. 1955, Annals of Mathematical Statistics 26:641-647). The
// first and the last value are kept as the line's bounds, so that pieces
// joined at turning points stay joined.
func monotone(values []float64, rising bool) {
	n := len(values)
	if n < 3 {
		return
	}
	sign := 1.0
	if !rising {
		sign = -1
	}
	type pool struct {
		sum   float64
		count int
	}
	pools := make([]pool, 0, n)
	first, last := sign*values[0], sign*values[n-1]
	for _, v := range values[1 : n-1] {
		pools = append(pools, pool{sign * v, 1})
		for k := len(pools) - 1; k > 0; k-- {
			a, b := pools[k-1], pools[k]
			if a.sum*float64(b.count) <= b.sum*float64(a.count) {
				break
			}
			pools[k-1] = pool{a.sum + b.sum, a.count + b.count}
			pools = pools[:k]
		}
	}
	i := 1
	for _, p := range pools {
		v := sign * math.Max(first, math.Min(last, p.sum/float64(p.count)))
		for range p.count {
			values[i] = v
			i++
		}
	}
}
