package document

import (
	"tautline/geo/interval"
	"tautline/strategy/forecast"
)

// Forecast is what "tautline forecast --json" prints.
type Forecast struct {
	Athlete        string             `json:"athlete"`
	GoalM          float64            `json:"goal_m"`
	On             string             `json:"on"`             // the day evidence ages to
	None           string             `json:"none,omitempty"` // why there is no figure
	ForecastS      *interval.Estimate `json:"forecast_s"`     // on the course if one is given, else on the level; null without a figure
	LevelS         *interval.Estimate `json:"level_s"`
	FlatPaceSPerKm *interval.Estimate `json:"flat_pace_s_per_km"`
	Course         string             `json:"course,omitempty"`
	From           string             `json:"from,omitempty"` // "races" or "workouts"
	Width          []ForecastPart     `json:"width"`
	Evidence       []ForecastEvidence `json:"evidence"`
	Models         []ForecastModel    `json:"models"`
	Notes          []string           `json:"notes"`
	Advice         []string           `json:"advice"`
	Cautions       []string           `json:"cautions"`
}

// ForecastPart is a part of the width; the squares of the shares add up.
type ForecastPart struct {
	What   string  `json:"what"`
	Share  float64 `json:"share"` // of time, one standard deviation
	Source string  `json:"source"`
}

// ForecastEvidence is a race or a workout and what it says.
type ForecastEvidence struct {
	Kind        string         `json:"kind"`
	Name        string         `json:"name,omitempty"`
	Date        string         `json:"date,omitempty"`
	DistanceM   float64        `json:"distance_m"`
	Repeats     int            `json:"repeats"`
	TimeS       float64        `json:"time_s"`
	CorrectedS  *float64       `json:"corrected_s"` // null when not used
	Corrections []ForecastStep `json:"corrections"`
	ReadAs      string         `json:"read_as,omitempty"`
	SaysS       *float64       `json:"says_s"`  // for the goal, by itself
	Counts      float64        `json:"counts"`  // share of the weights' sizes
	Against     bool           `json:"against"` // its weight is negative
	NotUsed     string         `json:"not_used,omitempty"`
}

// ForecastStep is a correction.
type ForecastStep struct {
	What    string  `json:"what"`
	Seconds float64 `json:"change_s"`
}

// ForecastModel is what one model says.
type ForecastModel struct {
	Model  string   `json:"model"`
	Source string   `json:"source"`
	Basis  string   `json:"basis"`
	From   string   `json:"from,omitempty"`
	TimeS  *float64 `json:"time_s"` // null where it does not hold
	LeastS float64  `json:"holds_from_s"`
	MostS  float64  `json:"holds_to_s"`
	Used   bool     `json:"used"` // part of the combined figure
	Note   string   `json:"note"`
}

// NewForecast tells a forecast; on is its time on the course named, nil
// without one.
func NewForecast(f *forecast.Forecast, course string, on *interval.Estimate) Forecast {
	d := Forecast{Athlete: f.Athlete, GoalM: tenths(f.Goal.Distance), On: day(f.Goal.On), None: f.None, Course: course, From: f.From,
		Width: []ForecastPart{}, Evidence: []ForecastEvidence{}, Models: []ForecastModel{},
		Notes: append([]string{}, f.Notes...), Advice: append([]string{}, f.Advice...), Cautions: []string{forecast.NotTried, forecast.Physician}}
	if f.None == "" {
		level, pace := outwards(f.Level, 0.1), outwards(f.FlatPace.Scale(1000), 0.1)
		d.LevelS, d.FlatPaceSPerKm, d.ForecastS = &level, &pace, &level
		if on != nil {
			there := outwards(*on, 0.1)
			d.ForecastS = &there
		}
	}
	for _, p := range f.Parts {
		d.Width = append(d.Width, ForecastPart{p.What, round(p.Share, 1e-4), p.Source})
	}
	for _, e := range f.Evidence {
		x := ForecastEvidence{Kind: e.Kind, Name: e.Name, Date: day(e.Date), DistanceM: tenths(e.Distance), Repeats: e.Repeats, TimeS: tenths(e.Time), CorrectedS: knownTenths(e.Corrected),
			Corrections: []ForecastStep{}, ReadAs: e.ReadAs, SaysS: knownTenths(e.Says), Counts: round(e.Counts, 1e-3), Against: e.Against, NotUsed: e.Why}
		for _, s := range e.Steps {
			x.Corrections = append(x.Corrections, ForecastStep{s.What, tenths(s.Seconds)})
		}
		d.Evidence = append(d.Evidence, x)
	}
	for _, m := range f.Models {
		d.Models = append(d.Models, ForecastModel{m.Name, m.Source, m.Basis, m.From, knownTenths(m.Time), m.Least, m.Most, m.Used, m.Note})
	}
	return d
}
