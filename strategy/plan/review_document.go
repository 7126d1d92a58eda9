package plan

import (
	"math"

	"tautline/strategy/quantity"
)

// ReviewDocument is a race's effort as programs read it.
type ReviewDocument struct {
	TimeS           float64               `json:"time_s"`
	FlatPaceSPerKm  float64               `json:"flat_pace_s_per_km"` // mean
	UnevenShare     float64               `json:"uneven_share"`       // standard deviation of effort
	SecondHalfShare float64               `json:"second_half_share"`  // effort of the second half over the first, less 1
	EvenGainS       RangeDocument         `json:"even_gain_s"`        // a range of models, not a 90 % interval
	Splits          []ReviewDocumentSplit `json:"splits"`
}

// RangeDocument is a Range.
type RangeDocument struct {
	Value float64 `json:"value"`
	Least float64 `json:"least"`
	Most  float64 `json:"most"`
}

// ReviewDocumentSplit is one split of a ReviewDocument. What needs a plan is
// null without one.
type ReviewDocumentSplit struct {
	Mark           string   `json:"mark"`
	ToM            float64  `json:"to_m"` // official
	RunS           float64  `json:"run_s"`
	ElapsedS       float64  `json:"elapsed_s"`
	Gradient       float64  `json:"gradient"`
	PaceSPerKm     float64  `json:"pace_s_per_km"`
	FlatPaceSPerKm float64  `json:"flat_pace_s_per_km"`
	HarderShare    float64  `json:"harder_share"`    // effort over the race's mean, less 1
	EvenElapsedS   float64  `json:"even_elapsed_s"`  // the same finish at even effort
	AheadOfEvenS   float64  `json:"ahead_of_even_s"` // negative: behind
	PlannedS       *float64 `json:"planned_s"`
	AheadOfPlanS   *float64 `json:"ahead_of_plan_s"`
	OverPlanShare  *float64 `json:"over_plan_share"` // effort over the planned effort, less 1
}

// Document rounds the review for programs: times to a tenth of a second, shares
// to a hundredth of a percent.
func (rv *Review) Document() ReviewDocument {
	maybe := func(v, unit float64) *float64 {
		if math.IsNaN(v) {
			return nil
		}
		v = round(v, unit)
		return &v
	}
	d := ReviewDocument{
		TimeS: round(rv.Time, 0.1), FlatPaceSPerKm: round(1000*rv.FlatPace, 0.01),
		UnevenShare: round(rv.Unevenness, 1e-4), SecondHalfShare: round(rv.SecondHalf, 1e-4),
		EvenGainS: RangeDocument{round(rv.EvenGain.Value, 0.1), round(rv.EvenGain.Low, 0.1), round(rv.EvenGain.High, 0.1)},
		Splits:    []ReviewDocumentSplit{},
	}
	for _, e := range rv.Splits {
		d.Splits = append(d.Splits, ReviewDocumentSplit{
			Mark: e.Mark, ToM: round(e.To, 0.1), RunS: round(e.Run, 0.1), ElapsedS: round(e.Elapsed, 0.1),
			Gradient: round(e.Gradient, 1e-5), PaceSPerKm: round(1000*e.Pace, 0.01), FlatPaceSPerKm: round(1000*e.FlatPace, 0.01),
			HarderShare: round(e.Harder, 1e-4), EvenElapsedS: round(e.Even, 0.1), AheadOfEvenS: round(e.Ahead, 0.1),
			PlannedS: maybe(e.Planned, 0.1), AheadOfPlanS: maybe(e.AheadOfPlan, 0.1), OverPlanShare: maybe(e.OverPlan, 1e-4),
		})
	}
	return d
}

// Steady is the share of effort within which a split counts as even: what
// seconds and the place of a mark cannot tell apart over a kilometre.
const Steady = 0.02

// Verdict says in one to three sentences whether effort was even and what that
// was worth.
func (rv *Review) Verdict() []string {
	hard, easy := -1, -1
	for i, e := range rv.Splits {
		if e.To-e.From < leastPiece/2 {
			continue
		}
		if hard < 0 || e.Harder > rv.Splits[hard].Harder {
			hard = i
		}
		if easy < 0 || e.Harder < rv.Splits[easy].Harder {
			easy = i
		}
	}
	if hard < 0 || rv.Unevenness < Steady/2 && math.Abs(rv.SecondHalf) < Steady {
		return []string{"Effort was even."}
	}
	h, e := rv.Splits[hard], rv.Splits[easy]
	lines := []string{
		"Effort was uneven: " + share(h.Harder) + " than the race as a whole in the split to " + h.Mark + ", " + share(e.Harder) + " in the one to " + e.Mark + ".",
	}
	switch {
	case rv.SecondHalf < -Steady:
		lines = append(lines, "It faded: the second half was "+share(rv.SecondHalf)+" than the first.")
	case rv.SecondHalf > Steady:
		lines = append(lines, "Something was left: the second half was "+share(rv.SecondHalf)+" than the first.")
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
