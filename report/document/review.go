package document

import (
	"tautline/geo/interval"
	"tautline/strategy/effort"
	"tautline/strategy/pacing"
	"tautline/strategy/plan"
)

// Review is what "tautline review --json" prints: where the distance between
// what the race announced and what the watch showed comes from.
type Review struct {
	Course      string            `json:"course"`
	Record      string            `json:"record"`
	OfficialM   float64           `json:"official_m"`  // where the account starts
	OfficialIs  string            `json:"official_is"` // "certified", "announced" or "shortest line" when nobody said
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

// Who is answerable for an item of the ledger.
type Who string

// The course, the runner's feet, the watch with its receiver, or the moments
// before the start line and after the finish line.
const (
	OfCourse Who = "course"
	OfFeet   Who = "feet"
	OfWatch  Who = "watch"
	OfEnds   Who = "ends"
)

// Causes in the ledger that change what a reader is told.
const (
	NotRecorded = "not recorded"
	OffCourse   = "off the course"
)

// Item is one line of the ledger.
type Item struct {
	Cause    string            `json:"cause"`
	Whose    Who               `json:"whose"`
	Metres   interval.Estimate `json:"metres"`
	Sentence string            `json:"sentence"` // plain words
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

// ReviewMark is a mile or kilometre mark.
type ReviewMark struct {
	Name        string  `json:"mark"`
	AtM         float64 `json:"at_m"`          // official
	WatchAheadM float64 `json:"watch_ahead_m"` // how far ahead of the mark the watch was there
	GrewM       float64 `json:"grew_m"`        // since the mark before
}

// NewEffort gives the document of a race's effort, nil when it was not judged.
// model is how effort was reckoned, heights where the heights came from when
// they are known.
func NewEffort(ran *pacing.Ran, model effort.Model, heights string) *Effort {
	if ran.Judgement == nil {
		return nil
	}
	e := &Effort{Heights: heights, Model: plan.Describe(model), Verdict: ran.Judgement.Verdict(), Pacing: NewPacing(ran.Judgement)}
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
