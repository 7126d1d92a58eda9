package document

import (
	"tautline/geo/interval"
	"tautline/strategy/plan"
)

// Plan is what "tautline plan --json" prints: target splits at even effort.
type Plan struct {
	Athlete        string             `json:"athlete,omitempty"`
	Course         string             `json:"course,omitempty"`
	OfficialM      float64            `json:"official_m"`
	ShortestM      float64            `json:"shortest_m"`
	OwnM           float64            `json:"own_m"` // what the athlete is expected to run
	TargetS        float64            `json:"target_s"`
	GoalGiven      bool               `json:"goal_given"` // false: the target follows from the flat pace
	FlatPaceSPerKm float64            `json:"flat_pace_s_per_km"`
	HalfS          float64            `json:"half_s"`
	GunDelayS      float64            `json:"gun_delay_s"`
	StopsS         float64            `json:"stops_s"`
	SlowingShare   *interval.Estimate `json:"slowing_share,omitempty"` // heat and altitude
	Splits         []PlanSplit        `json:"splits"`
	Warnings       []plan.Warning     `json:"warnings"`
}

// PlanSplit is one split of a Plan.
type PlanSplit struct {
	Mark           string             `json:"mark"`
	ToM            float64            `json:"to_m"` // official
	SplitS         float64            `json:"split_s"`
	ElapsedS       float64            `json:"elapsed_s"`
	GunS           float64            `json:"gun_s"`
	StopS          float64            `json:"stop_s"`
	CrowdS         float64            `json:"crowd_s"`
	ClimbM         float64            `json:"climb_m"`
	DescentM       float64            `json:"descent_m"`
	ClimbRange     *interval.Estimate `json:"climb_interval_m,omitempty"`
	DescentRange   *interval.Estimate `json:"descent_interval_m,omitempty"`
	Gradient       float64            `json:"gradient"`
	OwnM           float64            `json:"own_m"`
	PaceSPerKm     float64            `json:"pace_s_per_km"`
	FlatPaceSPerKm float64            `json:"flat_pace_s_per_km"`
	WatchPace      float64            `json:"watch_pace_s_per_km"`
	WatchLapM      float64            `json:"watch_lap_m"`
	WatchM         float64            `json:"watch_m"` // what the watch shows at the mark
}

// NewPlan rounds a plan for programs: times to a tenth of a second, paces to
// a hundredth of a second per km, lengths to a tenth of a metre.
func NewPlan(p *plan.Plan) Plan {
	d := Plan{
		Athlete: p.Athlete, Course: p.Course,
		OfficialM: tenths(p.Official), ShortestM: tenths(p.Shortest), OwnM: tenths(p.Own),
		TargetS: p.Target, GoalGiven: p.Given, FlatPaceSPerKm: round(1000*p.FlatPace, 0.01),
		HalfS: tenths(p.Half), GunDelayS: tenths(p.GunDelay), StopsS: tenths(p.Stops),
		Splits: []PlanSplit{}, Warnings: p.Warnings,
	}
	if d.Warnings == nil {
		d.Warnings = []plan.Warning{}
	}
	if p.Slowing != (interval.Estimate{}) {
		e := p.Slowing.Round(1e-4)
		d.SlowingShare = &interval.Estimate{Value: round(e.Value, 1e-4), Low: round(e.Low, 1e-4), High: round(e.High, 1e-4)}
	}
	for _, s := range p.Splits {
		d.Splits = append(d.Splits, PlanSplit{
			Mark: s.Mark, ToM: tenths(s.To), SplitS: s.Split, ElapsedS: s.Elapsed, GunS: s.Gun,
			StopS: tenths(s.Stop), CrowdS: tenths(s.Crowd),
			ClimbM: tenths(s.Climb.Value), DescentM: tenths(s.Descent.Value),
			ClimbRange: unsure(s.Climb), DescentRange: unsure(s.Descent),
			Gradient: round(s.Gradient, 1e-5), OwnM: tenths(s.Own),
			PaceSPerKm: round(1000*s.Pace, 0.01), FlatPaceSPerKm: round(1000*s.FlatPace, 0.01),
			WatchPace: round(1000*s.WatchPace, 0.01), WatchLapM: tenths(s.WatchLap), WatchM: tenths(s.Watch),
		})
	}
	return d
}

// unsure rounds an interval, and drops one without width.
func unsure(e interval.Estimate) *interval.Estimate {
	if !(e.Width() > 0) {
		return nil
	}
	return new(outwards(e, 0.1))
}

// Squad is what "tautline plan --squad CSV --json" prints.
type Squad struct {
	Course    string        `json:"course"`
	OfficialM float64       `json:"official_m"`
	Plans     []Plan        `json:"plans"`
	Refused   []RefusedPlan `json:"refused"`
}

// RefusedPlan is somebody who cannot be given a plan; a row of the table that
// cannot be read has no name.
type RefusedPlan struct {
	Athlete string `json:"athlete"`
	Why     string `json:"why"`
}

// NewSquad tells the plans of a squad on a course; unread are the rows of its
// table that could not be read.
func NewSquad(c *plan.Course, results []plan.Result, unread []error) Squad {
	d := Squad{Course: c.Name, OfficialM: tenths(c.Official), Plans: []Plan{}, Refused: []RefusedPlan{}}
	for _, r := range results {
		if r.Err != nil {
			d.Refused = append(d.Refused, RefusedPlan{r.Name, r.Err.Error()})
			continue
		}
		d.Plans = append(d.Plans, NewPlan(r.Plan))
	}
	for _, err := range unread {
		d.Refused = append(d.Refused, RefusedPlan{"", err.Error()})
	}
	return d
}
