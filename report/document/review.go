package document

import (
	"math"

	"tautline/geo/interval"
	"tautline/strategy/effort"
	"tautline/strategy/pacing"
	"tautline/strategy/race"
	"tautline/strategy/review"
)

// Review is what "tautline review --json" prints: where the distance between
// what the race announced and what the watch showed comes from.
type Review struct {
	Course      string            `json:"course"`
	Record      string            `json:"record"`
	OfficialM   float64           `json:"official_m"`  // where the account starts
	OfficialIs  review.Basis      `json:"official_is"` // "certified", "announced" or "shortest line" when nobody said
	ShortestM   float64           `json:"shortest_m"`  // map length of the shortest legal line
	WatchM      float64           `json:"watch_m"`     // where the account ends
	WatchIs     string            `json:"watch_is"`    // "watch" when --watch gives it, else "record": the sum of the fixes
	RecordM     float64           `json:"record_m"`    // the sum of the fixes
	RanM        interval.Estimate `json:"ran_m"`       // start line to finish line
	ExtraM      interval.Estimate `json:"extra_m"`     // ran less shortest
	BetweenM    interval.Estimate `json:"between_turns_m"`
	TimeS       *float64          `json:"time_s"`        // start line to finish line; null without times
	MatchedPart float64           `json:"matched_share"` // of the course that the record covers, 0 to 1
	Ledger      []Item            `json:"ledger"`        // values add up to watch_m - official_m
	Turns       []ReviewTurn      `json:"turns"`
	Marks       []ReviewMark      `json:"marks"`
	Effort      *Effort           `json:"effort"` // null without times from line to line
	Warnings    []string          `json:"warnings"`
}

// Effort is how evenly a race was run, and against which plan.
type Effort struct {
	GoalS   *float64 `json:"goal_s"`  // of the plan that it is compared with; null without one
	Heights string   `json:"heights"` // "course", "terrain", or "none": judged as on the level
	Model   string   `json:"model"`
	Verdict []string `json:"verdict"` // sentences
	Pacing
}

// Item is one line of the ledger.
type Item struct {
	Cause    string            `json:"cause"`
	Whose    review.Whose      `json:"whose"`
	Metres   interval.Estimate `json:"metres"`
	Sentence string            `json:"sentence"` // plain words
}

// SumOf adds up the items of the ledger that are of one doing, but for what the
// record does not show: that says nothing of the watch's reception. Half widths
// are added by their squares: the items are separate things.
func (r Review) SumOf(whose review.Whose) interval.Estimate {
	var sum, low, high float64
	for _, i := range r.Ledger {
		if i.Whose == whose && i.Cause != review.NotRecorded {
			sum += i.Metres.Value
			low += (i.Metres.Value - i.Metres.Low) * (i.Metres.Value - i.Metres.Low)
			high += (i.Metres.High - i.Metres.Value) * (i.Metres.High - i.Metres.Value)
		}
	}
	return interval.Estimate{Value: sum, Low: sum - math.Sqrt(low), High: sum + math.Sqrt(high)}
}

// SumFor adds up the items of the ledger with one cause, bounds and all: they
// are parts of one thing.
func (r Review) SumFor(cause string) interval.Estimate {
	var sum interval.Estimate
	for _, i := range r.Ledger {
		if i.Cause == cause {
			sum = interval.Estimate{Value: sum.Value + i.Metres.Value, Low: sum.Low + i.Metres.Low, High: sum.High + i.Metres.High}
		}
	}
	return sum
}

// ReviewTurn is a turn as the runner took it.
type ReviewTurn struct {
	Number   int                `json:"number"`
	AtM      float64            `json:"at_m"` // along the shortest line
	AngleDeg float64            `json:"angle_deg"`
	Side     string             `json:"side"`
	ExtraM   interval.Estimate  `json:"extra_m"`
	LostS    *interval.Estimate `json:"lost_s"` // null without times
	How      string             `json:"how"`    // how to run it better; may be ""
	Unseen   bool               `json:"unseen"` // the record does not show the turn; extra_m is then guessed from the others
}

// Cost is what turns are put in order by: seconds where they are known, else
// metres.
func (t ReviewTurn) Cost() float64 {
	if t.LostS != nil {
		return t.LostS.Value
	}
	return t.ExtraM.Value
}

// ReviewMark is a mile or kilometre mark.
type ReviewMark struct {
	Name        string  `json:"mark"`
	AtM         float64 `json:"at_m"`          // official
	WatchAheadM float64 `json:"watch_ahead_m"` // how far ahead of the mark the watch was there
	GrewM       float64 `json:"grew_m"`        // since the mark before
}

// NewReview gives the document of a review.
func NewReview(r *race.Race, recordName string, v *review.Review) Review {
	d := Review{
		Course: r.Name, Record: recordName,
		OfficialM: millimetres(v.Start), OfficialIs: v.StartIs, ShortestM: millimetres(v.Shortest),
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
		d.Ledger = append(d.Ledger, Item{Cause: it.Cause, Whose: it.Whose, Metres: e, Sentence: it.Sentence})
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

// NewEffort gives the document of a race's effort, nil when it was not judged.
// model is how effort was reckoned, heights where the heights came from when
// they are known.
func NewEffort(ran *pacing.Ran, model effort.Model, heights string) *Effort {
	if ran.Judgement == nil {
		return nil
	}
	e := &Effort{Heights: heights, Model: model.Describe(), Verdict: ran.Judgement.Verdict(ran.Units), Pacing: NewPacing(ran.Judgement)}
	if !ran.Course.HasHeights() {
		e.Heights = NoHeights
	}
	if ran.Planned != nil {
		goal := ran.Planned.Target
		e.GoalS = &goal
	}
	return e
}

// Where heights came from.
const (
	CourseHeights  = "course"
	TerrainHeights = "terrain"
	NoHeights      = "none"
)
