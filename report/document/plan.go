package document

import (
	"math"

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
		OfficialM: round(p.Official, 0.1), ShortestM: round(p.Shortest, 0.1), OwnM: round(p.Own, 0.1),
		TargetS: p.Target, GoalGiven: p.Given, FlatPaceSPerKm: round(1000*p.FlatPace, 0.01),
		HalfS: round(p.Half, 0.1), GunDelayS: round(p.GunDelay, 0.1), StopsS: round(p.Stops, 0.1),
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
			Mark: s.Mark, ToM: round(s.To, 0.1), SplitS: s.Split, ElapsedS: s.Elapsed, GunS: s.Gun,
			StopS: round(s.Stop, 0.1), CrowdS: round(s.Crowd, 0.1),
			ClimbM: round(s.Climb.Value, 0.1), DescentM: round(s.Descent.Value, 0.1),
			ClimbRange: unsure(s.Climb), DescentRange: unsure(s.Descent),
			Gradient: round(s.Gradient, 1e-5), OwnM: round(s.Own, 0.1),
			PaceSPerKm: round(1000*s.Pace, 0.01), FlatPaceSPerKm: round(1000*s.FlatPace, 0.01),
			WatchPace: round(1000*s.WatchPace, 0.01), WatchLapM: round(s.WatchLap, 0.1), WatchM: round(s.Watch, 0.1),
		})
	}
	return d
}

// unsure rounds an interval, and drops one without width.
func unsure(e interval.Estimate) *interval.Estimate {
	if !(e.Width() > 0) {
		return nil
	}
	return &interval.Estimate{Value: round(e.Value, 0.1), Low: round(math.Floor(e.Low*10)/10, 0.1), High: round(math.Ceil(e.High*10)/10, 0.1)}
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
	d := Squad{Course: c.Name, OfficialM: round(c.Official, 0.1), Plans: []Plan{}, Refused: []RefusedPlan{}}
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

// round gives the nearest multiple of unit that prints short: dividing by a
// whole number keeps 0.1 from becoming 0.30000000000000004.
func round(v, unit float64) float64 {
	per := math.Round(1 / unit)
	r := math.Round(v*per) / per
	if r == 0 {
		return 0 // never -0
	}
	return r
}
