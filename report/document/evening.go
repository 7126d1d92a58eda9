package document

import (
	"time"

	"tautline/strategy/plan"
)

// Evening is what "tautline brief --json" prints: what a runner wants to know
// the evening before a race.
type Evening struct {
	Athlete  string        `json:"athlete"`
	Race     string        `json:"race"`
	Date     string        `json:"date,omitempty"`
	TargetS  float64       `json:"target_s"`
	Given    bool          `json:"goal_given"`
	Forecast *Forecast     `json:"forecast"` // null when there is nothing to go by
	Start    *Start        `json:"start"`    // null when the pens are not known
	Plan     Plan          `json:"plan"`
	Turns    []EveningTurn `json:"turns"`
	Cautions []string      `json:"cautions"`
}

// EveningTurn is a turn that matters.
type EveningTurn struct {
	Number   int     `json:"number"`
	AtM      float64 `json:"at_m"` // official
	AngleDeg float64 `json:"angle_deg"`
	Side     string  `json:"side"`
	WideM    float64 `json:"two_metres_wide_m"` // what running two metres further out adds
}

// NewEvening begins the document of an evening with the plan; date is zero when
// it is not known.
func NewEvening(race string, date time.Time, p *plan.Plan) Evening {
	return Evening{Athlete: p.Athlete, Race: race, Date: day(date), TargetS: p.Target, Given: p.Given, Plan: NewPlan(p), Turns: []EveningTurn{}}
}

// NewEveningTurn tells a turn: at an official distance in metres, by an angle in
// radians, left positive, with what two metres further out add, m.
func NewEveningTurn(number int, at, angle, wide float64) EveningTurn {
	side := "right"
	if angle > 0 {
		side = "left"
	}
	return EveningTurn{number, tenths(at), round(angle/degree, 1), side, tenths(wide)}
}
