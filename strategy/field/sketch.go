package field

import "math"

// sketch is a histogram of one figure over the records: whole numbers only, so
// that sketches add up to the same in any order and any partition.
type sketch struct {
	Low   int32    `json:"low"`   // bin of the first count
	Count []uint32 `json:"count"` // trimmed: the first and the last are above 0
}

// add counts a value in bins of this width in metres; values beyond ±edge
// count as edge.
func (s *sketch) add(v, width, edge float64) {
	s.put(int32(math.Floor(min(max(v, -edge), edge)/width)), 1)
}

func (s *sketch) put(bin int32, n uint32) {
	if n == 0 {
		return
	}
	if len(s.Count) == 0 {
		s.Low, s.Count = bin, []uint32{n}
		return
	}
	if bin < s.Low {
		grown := make([]uint32, int(s.Low-bin)+len(s.Count))
		copy(grown[s.Low-bin:], s.Count)
		s.Low, s.Count = bin, grown
	}
	for int(bin-s.Low) >= len(s.Count) {
		s.Count = append(s.Count, 0)
	}
	s.Count[bin-s.Low] += n
}

// join adds another sketch.
func (s *sketch) join(o sketch) {
	for i, n := range o.Count {
		s.put(o.Low+int32(i), n)
	}
}

func (s *sketch) total() (n int) {
	for _, c := range s.Count {
		n += int(c)
	}
	return n
}

// quantile gives a quantile, spread evenly within its bin; NaN without values.
func (s *sketch) quantile(q, width float64) float64 {
	want := q * float64(s.total())
	sum := 0.0
	for i, c := range s.Count {
		if c > 0 && sum+float64(c) >= want {
			return (float64(s.Low) + float64(i) + (want-sum)/float64(c)) * width
		}
		sum += float64(c)
	}
	return math.NaN()
}

// part cuts the values in two where they lie closest to the medians of the two
// parts, each with so many values at least; not ok when no cut leaves as many.
func (s *sketch) part(least int, width float64) (low, high sketch, ok bool) {
	best := math.Inf(1)
	for cut := 1; cut < len(s.Count); cut++ {
		if s.Count[cut] == 0 {
			continue // the same cut as the next
		}
		a, b := sketch{s.Low, s.Count[:cut]}, sketch{s.Low + int32(cut), s.Count[cut:]}
		if a.total() < least || b.total() < least {
			continue
		}
		if apart := a.deviations(width) + b.deviations(width); apart < best {
			best, low, high, ok = apart, a, b, true
		}
	}
	return low, high, ok
}

// deviations is the sum of all distances from the median.
func (s *sketch) deviations(width float64) (sum float64) {
	m := s.quantile(0.5, width)
	for i, n := range s.Count {
		sum += float64(n) * math.Abs((float64(s.Low)+float64(i)+0.5)*width-m)
	}
	return sum
}

// within counts the values of the bins whose middle lies between two values.
func (s *sketch) within(from, to, width float64) (n int) {
	for i, c := range s.Count {
		if v := (float64(s.Low) + float64(i) + 0.5) * width; v >= from && v <= to {
			n += int(c)
		}
	}
	return n
}

// spread is the robust standard deviation: from the quartiles of a normal
// distribution.
func (s *sketch) spread(width float64) float64 {
	return (s.quantile(0.75, width) - s.quantile(0.25, width)) / 1.349
}
