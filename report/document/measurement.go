package document

import (
	"bytes"
	"math"

	"tautline/geo/gpxfile"
	"tautline/geo/interval"
	"tautline/strategy/adjust"
	"tautline/strategy/appraise"
	"tautline/strategy/eligible"
	"tautline/strategy/marks"
	"tautline/strategy/measure"
	"tautline/strategy/race"
)

// Measurement is what "tautline measure --json" prints: the worked measurement
// and its account step by step.
type Measurement struct {
	*measure.Result
	Ledger []measure.Line `json:"ledger"`
}

// NewMeasurement tells a measurement.
func NewMeasurement(r *measure.Result) Measurement { return Measurement{r, r.Ledger()} }

// SetOut is what "tautline setout --json" prints.
type SetOut struct {
	Name       string       `json:"name"`
	OfficialM  float64      `json:"official_m"`
	ShortestM  float64      `json:"shortest_m"`
	Proportion float64      `json:"map_over_official"`
	Known      int          `json:"known_places"`
	Marks      []PlacedMark `json:"marks"`
	Warnings   []string     `json:"warnings"`
	Caution    string       `json:"caution"`
}

// PlacedMark is a mark of a mark sheet.
type PlacedMark struct {
	Name      string            `json:"mark"`
	OfficialM float64           `json:"official_m"`
	AlongM    interval.Estimate `json:"along_m"` // along the shortest line on the map
	CourseM   float64           `json:"course_at_m"`
	Lat       float64           `json:"lat"`
	Lon       float64           `json:"lon"`
	Turn      int               `json:"nearest_turn"` // 0 for none
	FromTurnM *float64          `json:"from_turn_m"`  // along the line, negative before the turn
	FromApexM *float64          `json:"from_apex_m"`
	Side      string            `json:"side"`
	ToLeftM   *float64          `json:"to_left_m"`
	ToRightM  *float64          `json:"to_right_m"`
	Where     string            `json:"where"`
}

// rounded rounds an interval to millimetres, its bounds outwards.
func rounded(e interval.Estimate) interval.Estimate {
	if math.IsNaN(e.Value) {
		return e
	}
	return interval.Estimate{Value: millimetres(e.Value), Low: math.Floor(e.Low*1000) / 1000, High: math.Ceil(e.High*1000) / 1000}
}

// NewSetOut tells the marks of a race.
func NewSetOut(r *race.Race, l *marks.List) SetOut {
	d := SetOut{Name: r.Name, OfficialM: millimetres(l.Official), ShortestM: millimetres(l.LineLength), Proportion: l.Proportion, Known: l.Known,
		Marks: []PlacedMark{}, Warnings: append([]string{}, r.Notes...), Caution: marks.Caution}
	for _, m := range l.Marks {
		x := PlacedMark{Name: m.Name, OfficialM: millimetres(m.Official), AlongM: rounded(m.Along), CourseM: millimetres(m.CourseAt),
			Lat: math.Round(m.At.Lat*1e7) / 1e7, Lon: math.Round(m.At.Lon*1e7) / 1e7,
			Turn: m.Turn, FromApexM: known(m.Apex), Side: string(m.Side), ToLeftM: known(m.ToLeft), ToRightM: known(m.ToRight), Where: m.Where()}
		if m.Turn > 0 {
			x.FromTurnM = new(millimetres(m.FromTurn))
		}
		d.Marks = append(d.Marks, x)
	}
	return d
}

// MarksGPX is the marks as waypoints of a GPX 1.1 file.
func MarksGPX(r *race.Race, l *marks.List) ([]byte, error) {
	var b bytes.Buffer
	err := gpxfile.Write(&b, &gpxfile.File{Name: r.Name + ": marks", Waypoints: l.Waypoints()})
	return b.Bytes(), err
}

// MarksCSV is the marks as rows of a CSV file.
func MarksCSV(l *marks.List) ([]byte, error) {
	var b bytes.Buffer
	err := l.WriteCSV(&b)
	return b.Bytes(), err
}

// Appraisal is what "tautline appraise --json" prints. Parts that were not
// asked for or cannot be worked out are null.
type Appraisal struct {
	Name       string          `json:"name"`
	OfficialM  *float64        `json:"official_m"`
	ShortestM  float64         `json:"shortest_m"`
	Comparison *Comparison     `json:"comparison"`
	Doubt      *LineDoubt      `json:"line_doubt"`
	Worth      []Worth         `json:"restrictions"`
	AddM       *float64        `json:"add_m"`
	Options    []MoveOption    `json:"options"`
	Change     *Change         `json:"change"`
	Rules      *Eligibility    `json:"eligibility"`
	RulesAt    []EligibilityAt `json:"eligibility_at,omitempty"` // of records at distances on the way, when asked for
	Warnings   []string        `json:"warnings"`
	Caution    string          `json:"caution"`
}

// Comparison is a measured length beside the line.
type Comparison struct {
	MeasuredM   interval.Estimate `json:"measured_m"` // on the ground
	Basis       string            `json:"measured_from"`
	LineM       interval.Estimate `json:"line_m"`
	OnSurface   bool              `json:"line_on_surface"`
	DifferenceM interval.Estimate `json:"difference_m"` // measured less line
	Verdict     string            `json:"verdict"`
}

// LineDoubt is how sure the line is, with each turn's share.
type LineDoubt struct {
	LengthM   interval.Estimate `json:"length_m"`
	WiderM    float64           `json:"if_wider_m"`
	NarrowerM float64           `json:"if_narrower_m"`
	RounderM  float64           `json:"if_rounder_m"`
	SharperM  float64           `json:"if_sharper_m"`
	DrawingM  float64           `json:"drawing_half_width_m"`
	Turns     []TurnDoubt       `json:"turns"`
}

// TurnDoubt is one turn's share.
type TurnDoubt struct {
	Turn     int     `json:"turn"`
	FromM    float64 `json:"course_from_m"`
	ToM      float64 `json:"course_to_m"`
	WidthM   float64 `json:"width_m"`
	RadiusM  float64 `json:"radius_m"`
	DrawingM float64 `json:"drawing_m"`
	HalfM    float64 `json:"half_width_m"`
}

// Worth is what a restriction adds to the length.
type Worth struct {
	Kind      string   `json:"kind"`
	Number    int      `json:"number"` // in the race sheet, from 1; 0 for the whole road
	Name      string   `json:"name"`
	FromM     float64  `json:"course_from_m"`
	ToM       float64  `json:"course_to_m"`
	MetresM   float64  `json:"worth_m"`
	PerMetreM *float64 `json:"lost_per_metre_m"`
	Turns     []int    `json:"turns"`
}

// MoveOption is a way to add or remove metres.
type MoveOption struct {
	Place   string  `json:"place"`
	AtM     float64 `json:"course_at_m"`
	MoveM   float64 `json:"move_m"`
	Lat     float64 `json:"lat"`
	Lon     float64 `json:"lon"`
	LengthM float64 `json:"length_m"`
	Beyond  bool    `json:"beyond_the_drawing"`
	Action  string  `json:"action"`
	Marks   string  `json:"marks"`
}

// Change is a before-and-after.
type Change struct {
	BeforeM    float64       `json:"before_m"`
	AfterM     float64       `json:"after_m"`
	ChangeM    float64       `json:"change_m"`
	Pieces     []ChangePiece `json:"pieces"`
	ElsewhereM float64       `json:"elsewhere_m"`
}

// ChangePiece is where two lines part.
type ChangePiece struct {
	FromM    float64 `json:"from_m"` // along the line before
	ToM      float64 `json:"to_m"`
	ChangeM  float64 `json:"change_m"`
	ApartM   float64 `json:"apart_m"`
	Turns    []int   `json:"turns"`
	NewTurns []int   `json:"new_turns"`
}

// Eligibility is drop and separation against the rules.
type Eligibility struct {
	DropM       *interval.Estimate `json:"drop_m"` // null without heights
	DropPerKM   *interval.Estimate `json:"drop_m_per_km"`
	SeparationM interval.Estimate  `json:"separation_m"`
	Share       interval.Estimate  `json:"separation_share"`
	Findings    []Finding          `json:"rules"`
	Caution     string             `json:"caution"`
}

// EligibilityAt is the same for a record at a distance on the way.
type EligibilityAt struct {
	ToM float64 `json:"to_m"` // official distance from the start
	Eligibility
}

// Finding is one rule.
type Finding struct {
	Body     string `json:"body"`
	Document string `json:"document"`
	Edition  string `json:"edition"`
	Use      string `json:"use"`
	Read     string `json:"text_was"`
	Verdict  string `json:"verdict"`
	Reason   string `json:"reason"`
}

// NewAppraisal tells an appraisal.
func NewAppraisal(a *appraise.Appraisal) Appraisal {
	d := Appraisal{Name: a.Race.Name, ShortestM: millimetres(a.Race.Line.Length), Worth: []Worth{}, Options: []MoveOption{},
		Warnings: append(append([]string{}, a.Race.Notes...), a.Notes...), Caution: adjust.Caution}
	if a.Race.Official > 0 {
		d.OfficialM = new(a.Race.Official)
	}
	if c := a.Compared; c != nil {
		d.Comparison = &Comparison{rounded(c.Measured), a.Basis, rounded(c.Line), c.OnSurface, rounded(c.Difference), string(c.Verdict)}
	}
	if c := a.Certainty; c != nil {
		x := &LineDoubt{LengthM: rounded(c.Length), WiderM: millimetres(c.Wider), NarrowerM: millimetres(c.Narrower), RounderM: millimetres(c.Rounder), SharperM: millimetres(c.Sharper), DrawingM: millimetres(c.Drawing), Turns: []TurnDoubt{}}
		for _, t := range c.Turns {
			x.Turns = append(x.Turns, TurnDoubt{t.Turn, millimetres(t.From), millimetres(t.To),
				millimetres(math.Max(math.Abs(t.Wider), math.Abs(t.Narrower))), millimetres(math.Max(math.Abs(t.Rounder), math.Abs(t.Sharper))), millimetres(t.Drawing), millimetres(t.Half)})
		}
		d.Doubt = x
	}
	for _, w := range a.Worths {
		d.Worth = append(d.Worth, Worth{string(w.Item), w.Index + 1, a.Name(w), millimetres(w.From), millimetres(w.To), millimetres(w.Metres), known(w.PerMetre), append([]int{}, w.Turns...)})
	}
	d.AddM = known(a.Add)
	for _, o := range a.Options {
		d.Options = append(d.Options, MoveOption{string(o.Place), millimetres(o.At), millimetres(o.Move),
			math.Round(o.To.Lat*1e7) / 1e7, math.Round(o.To.Lon*1e7) / 1e7, millimetres(o.Length), o.Beyond, o.Action, o.Marks})
	}
	if c := a.Change; c != nil {
		x := &Change{millimetres(c.Before), millimetres(c.After), millimetres(c.Metres), []ChangePiece{}, millimetres(c.Elsewhere)}
		for _, p := range c.Pieces {
			x.Pieces = append(x.Pieces, ChangePiece{millimetres(p.From), millimetres(p.To), millimetres(p.Metres), millimetres(p.Apart), append([]int{}, p.Turns...), append([]int{}, p.NewTurns...)})
		}
		d.Change = x
	}
	if f := a.Figures; f != nil {
		d.Rules = new(eligibility(*f, a.Findings))
	}
	for _, x := range a.OnTheWay {
		d.RulesAt = append(d.RulesAt, EligibilityAt{x.To, eligibility(x.Figures, x.Findings)})
	}
	return d
}

func eligibility(f eligible.Figures, findings []eligible.Finding) Eligibility {
	e := Eligibility{SeparationM: rounded(f.Separation), Share: f.Share, Caution: eligible.Caution}
	if !math.IsNaN(f.Drop.Value) {
		e.DropM, e.DropPerKM = new(rounded(f.Drop)), new(rounded(f.DropPerKM))
	}
	for _, x := range findings {
		e.Findings = append(e.Findings, Finding{x.Rule.Body, x.Rule.Document, x.Rule.Edition, string(x.Rule.Use), x.Rule.Read, string(x.Verdict), x.Reason})
	}
	return e
}
