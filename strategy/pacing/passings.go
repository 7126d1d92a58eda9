package pacing

import (
	"errors"
	"fmt"
	"math"

	"tautline/strategy/plan"
	"tautline/strategy/race"
	"tautline/strategy/review"
)

// Why effort cannot be judged from a record.
var (
	errUntimed = errors.New("the record has no times")
	errPart    = errors.New("the record does not show the race from start line to finish line")
)

// shortSplit is the least length of a split to the finish that is judged by
// itself, m: over less, the few metres that a receiver errs by look like
// effort.
const shortSplit = 150.0

// passings are when the official marks of a course were passed in a race that
// has been reviewed. r is the race that the course was made from. A mark that
// the record does not show is left out, and so is one just before the finish;
// the notes tell which are not shown. Without the times of start and finish the
// error is errUntimed or errPart.
func passings(r *race.Race, c *plan.Course, v *review.Review, marks []plan.Mark) (race []Passing, notes []string, err error) {
	switch {
	case !v.Timed():
		return nil, nil, errUntimed
	case math.IsNaN(v.Seconds) || !v.Clock.Known():
		return nil, nil, errPart
	}
	first, last := v.Clock.Ends()
	along := func(official float64) float64 { return r.Line.AlongAt(c.Chainage(official)) }
	// The record may begin or end a few metres inside the lines.
	within := func(s float64) float64 { return math.Max(first, math.Min(last, s)) }
	stood := orZero(v.Clock.Stood(within(along(0))))
	unseen := 0
	for _, m := range marks {
		p := Passing{Name: m.Name, At: m.At, Elapsed: v.Seconds}
		up := orZero(v.Clock.Stood(within(along(m.At))))
		if m.At < c.Official {
			if c.Official-m.At < shortSplit {
				continue
			}
			if p.Elapsed = v.Clock.At(along(m.At)); math.IsNaN(p.Elapsed) || p.Elapsed >= v.Seconds {
				unseen++
				continue
			}
		}
		p.Stopped = math.Max(0, up-stood)
		stood = math.Max(stood, up)
		race = append(race, p)
	}
	switch {
	case unseen == 1:
		notes = append(notes, "one mark is not shown by the record: effort is judged over the two splits beside it together")
	case unseen > 1:
		notes = append(notes, fmt.Sprintf("%d marks are not shown by the record: effort is judged over the splits beside them together", unseen))
	}
	return race, notes, nil
}

// ownExtra is the share that was run beyond the shortest legal line, within
// what settings allow.
func ownExtra(v *review.Review) float64 {
	return math.Max(0, math.Min(plan.MaxExtra, v.Extra.Value/v.Shortest))
}

func orZero(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}
