package document

import (
	"tautline/geo/interval"
	"tautline/strategy/start"
)

// Start is what "tautline start --json" prints.
type Start struct {
	Name       string      `json:"name,omitempty"`
	DistanceM  float64     `json:"distance_m"`
	PaceSPerKm float64     `json:"pace_s_per_km"`
	GunAwards  bool        `json:"awards_by_gun"`
	Best       StartSpot   `json:"best"`
	Others     []StartSpot `json:"others"`
	Sides      *StartSides `json:"sides"` // null when the turns are not known
	ForPlan    StartPlan   `json:"for_plan"`
	Notes      []string    `json:"notes"`
	Cautions   []string    `json:"cautions"`
}

// StartSpot is a place to line up.
type StartSpot struct {
	Where    string            `json:"where"`
	Pen      int               `json:"pen"` // from 1
	PenName  string            `json:"pen_name,omitempty"`
	PenShare float64           `json:"share_of_pen"` // 0 front to 1 back
	Ahead    float64           `json:"people_ahead"`
	BehindM  float64           `json:"behind_line_m"`
	DelayS   interval.Estimate `json:"gun_to_mat_s"`
	CrowdS   interval.Estimate `json:"crowd_s"`
	FirstKmS interval.Estimate `json:"crowd_first_km_s"`
	OverM    float64           `json:"crowd_over_m"`
	Passes   interval.Estimate `json:"passes"`
	Passed   interval.Estimate `json:"passed_by"`
	WeaveM   interval.Estimate `json:"weave_m"`
}

// StartSides is what keeping to a part of the road adds to the shortest way.
type StartSides struct {
	OverM   float64 `json:"over_m"`
	LeftM   float64 `json:"left_edge_m"`
	MiddleM float64 `json:"middle_m"`
	RightM  float64 `json:"right_edge_m"`
	Better  string  `json:"better"`
}

// StartPlan is what a plan takes.
type StartPlan struct {
	GunDelayS  float64 `json:"gun_delay_s"`
	CrowdS     float64 `json:"crowd_s"`
	CrowdOverM float64 `json:"crowd_over_m"`
}

// NewStart tells advice on a start.
func NewStart(name string, a *start.Advice) Start {
	d := Start{Name: name, DistanceM: tenths(a.Runner.Distance), PaceSPerKm: tenths(1000 * a.Runner.Pace), GunAwards: a.Line.GunAwards,
		Best: startSpot(a, a.Best), Others: []StartSpot{}, Notes: append([]string{}, a.Notes...), Cautions: start.Cautions()}
	for _, s := range a.Others {
		d.Others = append(d.Others, startSpot(a, s))
	}
	if s := a.Sides; s.Known {
		d.Sides = &StartSides{round(s.Over, 1), tenths(s.Left), tenths(s.Middle), tenths(s.Right), s.Better}
	}
	delay, crowd := a.Best.ForPlan()
	d.ForPlan = StartPlan{tenths(delay), tenths(crowd.Seconds), round(crowd.Over, 1)}
	return d
}

func startSpot(a *start.Advice, s start.Spot) StartSpot {
	return StartSpot{Where: s.Where, Pen: s.Pen + 1, PenName: a.Line.Pens[s.Pen].Name, PenShare: round(s.Share, 0.01), Ahead: s.Ahead, BehindM: tenths(s.Behind),
		DelayS: outwards(s.Delay, 0.1), CrowdS: outwards(s.Crowd, 0.1), FirstKmS: outwards(s.FirstKm, 0.1), OverM: round(s.Over, 1),
		Passes: s.Passes.Round(1), Passed: s.Passed.Round(1), WeaveM: outwards(s.Weave, 0.1)}
}
