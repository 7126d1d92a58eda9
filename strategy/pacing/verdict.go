package pacing

import (
	"math"
	"slices"

	"tautline/strategy/quantity"
)

// steady is the share of effort within which a split counts as even: what
// seconds and the place of a mark cannot tell apart over a kilometre.
const steady = 0.02

// Verdict says in one or two sentences whether effort was even, and if not
// over which piece of the grain it was hardest and easiest and which half took
// more of it.
func (j *Judgement) Verdict(u quantity.Units) []string {
	hard, easy := -1, -1
	for i, e := range j.pieces {
		if e.To-e.From < leastPiece/2 {
			continue
		}
		if hard < 0 || e.Harder > j.pieces[hard].Harder {
			hard = i
		}
		if easy < 0 || e.Harder < j.pieces[easy].Harder {
			easy = i
		}
	}
	if hard < 0 || j.Unevenness < steady/2 && math.Abs(j.SecondHalf) < steady {
		return []string{"Effort was even."}
	}
	h, e := j.pieces[hard], j.pieces[easy]
	where := [2]string{"in the split to " + h.Mark, "in the one to " + e.Mark}
	if !j.shown(h) || !j.shown(e) {
		where = [2]string{stretch(h, u), stretch(e, u)}
	}
	lines := []string{
		"Effort was uneven: " + share(h.Harder) + " than the race as a whole " + where[0] + ", " + share(e.Harder) + " " + where[1] + ".",
	}
	switch {
	case j.SecondHalf < -steady:
		lines = append(lines, "It faded: the second half was "+share(j.SecondHalf)+" than the first.")
	case j.SecondHalf > steady:
		lines = append(lines, "Something was left: the second half was "+share(j.SecondHalf)+" than the first.")
	}
	return lines
}

// shown tells whether a piece is one of the splits.
func (j *Judgement) shown(piece Split) bool {
	return slices.ContainsFunc(j.Splits, func(e Split) bool { return e.From == piece.From && e.To == piece.To && e.Mark == piece.Mark })
}

// stretch says where a piece is that is no split.
func stretch(e Split, u quantity.Units) string {
	return "from " + quantity.DistanceFixed(e.From, u, 2) + " to " + quantity.DistanceFixed(e.To, u, 2) + " " + u.Name()
}

// share says an effort over another, less 1, in words.
func share(v float64) string {
	if v < 0 {
		return quantity.Percent(-v, 0) + " easier"
	}
	return quantity.Percent(v, 0) + " harder"
}
