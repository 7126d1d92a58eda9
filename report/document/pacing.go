package document

import "tautline/strategy/pacing"

// Pacing is how a race was paced.
type Pacing struct {
	TimeS           float64       `json:"time_s"`
	FlatPaceSPerKm  float64       `json:"flat_pace_s_per_km"` // mean
	UnevenShare     float64       `json:"uneven_share"`       // standard deviation of effort
	SecondHalfShare float64       `json:"second_half_share"`  // effort of the second half over the first, less 1
	EvenGainS       PacingRange   `json:"even_gain_s"`        // a range of models, not a 90 % interval
	Splits          []PacingSplit `json:"splits"`
}

// PacingRange is a range of published models, not a 90 % interval.
type PacingRange struct {
	Value float64 `json:"value"`
	Least float64 `json:"least"`
	Most  float64 `json:"most"`
}

// PacingSplit is one split of a Pacing. What needs a plan is
// null without one.
type PacingSplit struct {
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

// NewPacing rounds a judgement for programs: times to a tenth of a second,
// shares to a hundredth of a percent.
func NewPacing(j *pacing.Judgement) Pacing {
	d := Pacing{
		TimeS: tenths(j.Time), FlatPaceSPerKm: round(1000*j.FlatPace, 0.01),
		UnevenShare: round(j.Unevenness, 1e-4), SecondHalfShare: round(j.SecondHalf, 1e-4),
		EvenGainS: PacingRange{tenths(j.EvenGain.Value), tenths(j.EvenGain.Low), tenths(j.EvenGain.High)},
		Splits:    []PacingSplit{},
	}
	for _, e := range j.Splits {
		d.Splits = append(d.Splits, PacingSplit{
			Mark: e.Mark, ToM: tenths(e.To), RunS: tenths(e.Run), ElapsedS: tenths(e.Elapsed),
			Gradient: round(e.Gradient, 1e-5), PaceSPerKm: round(1000*e.Pace, 0.01), FlatPaceSPerKm: round(1000*e.FlatPace, 0.01),
			HarderShare: round(e.Harder, 1e-4), EvenElapsedS: tenths(e.Even), AheadOfEvenS: tenths(e.Ahead),
			PlannedS: knownTenths(e.Planned), AheadOfPlanS: knownTenths(e.AheadOfPlan), OverPlanShare: unlessUnknown(round(e.OverPlan, 1e-4)),
		})
	}
	return d
}
