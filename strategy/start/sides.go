package start

import "math"

// Sides compares the edges of the road with its middle over the stretch in
// which the crowd thins: the metres that each adds to the shortest way there.
type Sides struct {
	Known               bool // the turns are known
	Left, Right, Middle float64
	Over                float64 // m
	Better              string  // "left" or "right"
}

// sides compares the edges of a road, a metre inside the kerb, with its middle:
// the inner edge of a turn is the shortest way, every metre outwards adds the
// angle in radians.
func sides(width, over float64, turns []Turn) Sides {
	s := Sides{Over: over, Known: turns != nil}
	for _, t := range turns {
		if t.At > over {
			continue
		}
		across := width
		if t.Width > 0 {
			across = t.Width
		}
		whole := math.Abs(t.Angle) * math.Max(0, across-2)
		s.Middle += whole / 2
		if t.Angle > 0 {
			s.Right += whole
		} else {
			s.Left += whole
		}
	}
	s.Better = "left"
	if s.Right < s.Left {
		s.Better = "right"
	}
	return s
}
