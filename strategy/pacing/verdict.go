package pacing

import (
	"math"

	"tautline/strategy/quantity"
)

// steady is the share of effort within which a split counts as even: what
// seconds and the place of a mark cannot tell apart over a kilometre.
const steady = 0.02

// Verdict says in one or two sentences whether effort was even, and if not
// where it was hardest and easiest and which half took more of it.
func (j *Judgement) Verdict() []string {
	hard, easy := -1, -1
	for i, e := range j.Splits {
		if e.To-e.From < leastPiece/2 {
			continue
		}
		if hard < 0 || e.Harder > j.Splits[hard].Harder {
			hard = i
		}
		if easy < 0 || e.Harder < j.Splits[easy].Harder {
			easy = i
		}
	}
	if hard < 0 || j.Unevenness < steady/2 && math.Abs(j.SecondHalf) < steady {
		return []string{"Effort was even."}
	}
	h, e := j.Splits[hard], j.Splits[easy]
	lines := []string{
		"Effort was uneven: " + share(h.Harder) + " than the race as a whole in the split to " + h.Mark + ", " + share(e.Harder) + " in the one to " + e.Mark + ".",
	}
	switch {
	case j.SecondHalf < -steady:
		lines = append(lines, "It faded: the second half was "+share(j.SecondHalf)+" than the first.")
	case j.SecondHalf > steady:
		lines = append(lines, "Something was left: the second half was "+share(j.SecondHalf)+" than the first.")
	}
	return lines
}

// share says an effort over another, less 1, in words.
func share(v float64) string {
	if v < 0 {
		return quantity.Percent(-v, 0) + " easier"
	}
	return quantity.Percent(v, 0) + " harder"
}
