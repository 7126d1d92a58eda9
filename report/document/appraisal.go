package document

import (
	"math"

	"tautline/geo/interval"
	"tautline/strategy/adjust"
	"tautline/strategy/appraise"
	"tautline/strategy/eligible"
)

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
	Number    int      `json:"number"` // in the race sheet, from 1; 0 for the whole road and where only the drawing turns back
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
		d.Comparison = &Comparison{outwards(c.Measured, 1e-3), a.Basis, outwards(c.Line, 1e-3), c.OnSurface, outwards(c.Difference, 1e-3), string(c.Verdict)}
	}
	if c := a.Certainty; c != nil {
		x := &LineDoubt{LengthM: outwards(c.Length, 1e-3), WiderM: millimetres(c.Wider), NarrowerM: millimetres(c.Narrower), RounderM: millimetres(c.Rounder), SharperM: millimetres(c.Sharper), DrawingM: millimetres(c.Drawing), Turns: []TurnDoubt{}}
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
			degrees(o.To.Lat), degrees(o.To.Lon), millimetres(o.Length), o.Beyond, o.Action, o.Marks})
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
	e := Eligibility{SeparationM: outwards(f.Separation, 1e-3), Share: f.Share, Caution: eligible.Caution}
	if !math.IsNaN(f.Drop.Value) {
		e.DropM, e.DropPerKM = new(outwards(f.Drop, 1e-3)), new(outwards(f.DropPerKM, 1e-3))
	}
	for _, x := range findings {
		e.Findings = append(e.Findings, Finding{x.Rule.Body, x.Rule.Document, x.Rule.Edition, string(x.Rule.Use), x.Rule.Read, string(x.Verdict), x.Reason})
	}
	return e
}
