package document

import (
	"math"

	"tautline/geo/interval"
	"tautline/strategy/race"
	"tautline/strategy/review"
)

// NewReview gives the document of a review.
func NewReview(r *race.Race, recordName string, v *review.Review) Review {
	d := Review{
		Course: r.Name, Record: recordName,
		OfficialM: millimetres(v.Start), OfficialIs: string(v.StartIs), ShortestM: millimetres(v.Shortest),
		WatchM: millimetres(v.Watch), WatchIs: v.WatchIs, RecordM: millimetres(v.Recorded),
		RanM: estimate(v.Ran), ExtraM: estimate(v.Extra), BetweenM: estimate(v.Between),
		TimeS: known(v.Seconds), MatchedPart: v.Share,
		Ledger: []Item{}, Turns: []ReviewTurn{}, Marks: []ReviewMark{}, Warnings: []string{},
	}
	// Rounding must not open the account: what it leaves over goes to the
	// largest item.
	sum, largest := 0.0, 0
	for i, it := range v.Ledger {
		e := estimate(it.Metres)
		sum += e.Value
		d.Ledger = append(d.Ledger, Item{Cause: it.Cause, Whose: Who(it.Whose), Metres: e, Sentence: it.Sentence})
		if math.Abs(e.Value) > math.Abs(d.Ledger[largest].Metres.Value) {
			largest = i
		}
	}
	if len(d.Ledger) > 0 {
		m := &d.Ledger[largest].Metres
		*m = estimate(m.Shift(d.WatchM - d.OfficialM - sum))
	}
	for _, t := range v.Turns {
		rt := ReviewTurn{Number: t.Number, AtM: millimetres(t.At), AngleDeg: millimetres(t.Angle / degree), Side: t.Side.String(), ExtraM: estimate(t.Extra), How: t.How, Unseen: !t.Seen}
		if !math.IsNaN(t.Lost.Value) {
			e := estimate(t.Lost)
			rt.LostS = &e
		}
		d.Turns = append(d.Turns, rt)
	}
	for _, m := range v.Marks {
		d.Marks = append(d.Marks, ReviewMark{m.Name, millimetres(m.At), millimetres(m.Ahead), millimetres(m.Grew)})
	}
	d.Warnings = append(append(d.Warnings, r.Notes...), v.Notes...)
	return d
}

// estimate rounds an estimate for output.
func estimate(e interval.Estimate) interval.Estimate {
	return interval.Estimate{Value: millimetres(e.Value), Low: millimetres(e.Low), High: millimetres(e.High)}
}
