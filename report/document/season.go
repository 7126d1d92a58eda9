package document

import (
	"math"

	"tautline/strategy/season"
)

// Season is what "tautline season --json" prints.
type Season struct {
	Goal      SeasonRace    `json:"goal"`
	Begin     string        `json:"build_begins"`
	TaperFrom string        `json:"taper_begins"`
	Taper     string        `json:"taper"`
	Score     float64       `json:"score"`
	Whole     []SeasonPoint `json:"points_of_the_whole"`
	Races     []SeasonEntry `json:"races"` // by date
	Missing   []string      `json:"missing"`
	Rules     []SeasonRule  `json:"rules"`
	Cautions  []string      `json:"cautions"`
}

// SeasonRace is a race on a day.
type SeasonRace struct {
	Name      string   `json:"name"`
	Date      string   `json:"date"`
	DistanceM float64  `json:"distance_m"`
	ClimbM    *float64 `json:"climb_m_per_km"` // null when not known
}

// SeasonEntry is a candidate and what to do with it.
type SeasonEntry struct {
	SeasonRace
	Entered   bool             `json:"entered"`
	Run       bool             `json:"run"`
	Effort    string           `json:"effort"` // "all out", "controlled" or "leave it"
	Weeks     float64          `json:"weeks_before_goal"`
	Purpose   string           `json:"purpose,omitempty"`
	Rehearse  []string         `json:"rehearse"`
	EasyDays  int              `json:"easy_days"`
	HardAgain string           `json:"hard_again,omitempty"` // first day for hard running
	Points    []SeasonPoint    `json:"points"`
	Conflicts []SeasonConflict `json:"conflicts"`
	Note      string           `json:"note,omitempty"`
}

// SeasonPoint is a part of the score.
type SeasonPoint struct {
	What   string  `json:"what"`
	Points float64 `json:"points"`
}

// SeasonConflict is a rule that a race goes against.
type SeasonConflict struct {
	Rule string `json:"rule"`
	What string `json:"what"`
}

// SeasonRule is a rule with the value that holds.
type SeasonRule struct {
	Key      string  `json:"key"`
	Name     string  `json:"name"`
	Value    float64 `json:"value"`
	Usual    float64 `json:"usual"`
	Unit     string  `json:"unit"`
	Practice bool    `json:"common_practice"` // false: published evidence
	Source   string  `json:"source"`
	Habits   string  `json:"other_habits,omitempty"`
}

// NewSeason tells a plan of tune-up races.
func NewSeason(p *season.Plan) Season {
	d := Season{Goal: seasonRace(p, p.Goal), Begin: day(p.Begin), TaperFrom: day(p.TaperFrom), Taper: p.TaperText, Score: p.Score, Whole: seasonPoints(p.SetPoints),
		Races: []SeasonEntry{}, Missing: append([]string{}, p.Missing...), Rules: []SeasonRule{}, Cautions: p.Cautions}
	for _, e := range p.Entries {
		x := SeasonEntry{SeasonRace: seasonRace(p, e.Race), Entered: e.Entered, Run: e.Effort != season.Leave, Effort: string(e.Effort), Weeks: tenths(e.Weeks), Purpose: e.Purpose,
			Rehearse: append([]string{}, e.Rehearse...), EasyDays: e.EasyDays, HardAgain: day(e.HardAgain), Points: seasonPoints(e.Points), Conflicts: []SeasonConflict{}, Note: e.Note}
		for _, c := range e.Conflicts {
			x.Conflicts = append(x.Conflicts, SeasonConflict{c.Rule, c.What})
		}
		d.Races = append(d.Races, x)
	}
	for _, r := range p.Rules {
		d.Rules = append(d.Rules, SeasonRule{r.Key, r.Name, r.Value, r.Usual, r.Unit, r.Practice, r.Source, r.Habits})
	}
	return d
}

func seasonRace(p *season.Plan, r season.Race) SeasonRace {
	climb := r.Climb
	if climb == 0 {
		climb = math.NaN()
	}
	return SeasonRace{p.Called(r), day(r.Date), tenths(r.Distance), knownTenths(climb)}
}

func seasonPoints(list []season.Point) []SeasonPoint {
	out := []SeasonPoint{}
	for _, p := range list {
		out = append(out, SeasonPoint{p.What, p.Points})
	}
	return out
}
