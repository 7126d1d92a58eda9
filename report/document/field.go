package document

import (
	"tautline/geo/interval"
	"tautline/strategy/field"
)

// Field is what the records of many runners say of a course.
type Field struct {
	Course         string             `json:"course"`
	OfficialM      *float64           `json:"official_m"` // null when it is not known
	ShortestM      float64            `json:"shortest_m"`
	Records        int                `json:"records"`
	Verdict        string             `json:"verdict"` // "agrees", "cannot tell" or "look at"
	Why            string             `json:"why"`
	LookAtTurns    []int              `json:"look_at_turns"`
	CourseM        interval.Estimate  `json:"course_m"` // the length that the records support
	SharedErrorM   float64            `json:"shared_error_m"`
	StraightsM     float64            `json:"learnt_on_straights_m"`
	UsualBeyondM   float64            `json:"usual_beyond_m"`    // a field turns so far beyond a turn-around's furthest point as a rule; findings there count from this, beyond_m does not
	SeesTurnbackM  *float64           `json:"sees_turnaround_m"` // moved by less, a turn-around is not found; null without one
	SeesAcrossM    *float64           `json:"sees_across_m"`     // the same for the crowd outside the road over 100 m
	SeesCornerM    *float64           `json:"sees_corner_m"`     // the same for a crowd inside a street corner; null without one
	Findings       []FieldFinding     `json:"findings"`
	LeftRoad       []FieldLeaving     `json:"left_road"`
	Turns          []FieldTurn        `json:"turns"`
	Stations       []FieldStation     `json:"stations"`
	Runners        []FieldRunner      `json:"runners"`
	Refused        []FieldRefusal     `json:"refused"`
	CountedTwice   int                `json:"copies_left_out"`
	Warnings       []string           `json:"warnings"`
	ExtraQuartiles *interval.Estimate `json:"extra_quartiles_m"` // value is the median, low and high the quartiles
}

// FieldFinding is a place where the field did not run the measured course.
type FieldFinding struct {
	Kind    string            `json:"kind"`
	FromM   float64           `json:"from_m"`
	ToM     float64           `json:"to_m"`
	Turns   []int             `json:"turns"`
	Metres  interval.Estimate `json:"metres"`
	LengthM interval.Estimate `json:"course_longer_m"` // below 0 shorter
	Records int               `json:"records"`
	Groups  []FieldGroup      `json:"groups,omitempty"` // two where the field turned at two places, of which metres and course_longer_m tell of the first; else none
}

// FieldGroup is a part of the field that turned elsewhere than the rest.
type FieldGroup struct {
	Kind    string            `json:"kind"`   // "turned before", "turned behind" or "turned at it"
	Metres  interval.Estimate `json:"metres"` // below 0 before the turn-around
	Records int               `json:"records"`
}

// FieldLeaving is where single runners left the permitted road.
type FieldLeaving struct {
	How     string            `json:"how"`
	FromM   float64           `json:"from_m"`
	ToM     float64           `json:"to_m"`
	Turns   []int             `json:"turns"`
	Records int               `json:"records"`
	Share   interval.Estimate `json:"share"`
}

// FieldTurn is a turn as the crowd ran it.
type FieldTurn struct {
	Number   int                `json:"number"`
	AtM      float64            `json:"at_m"`
	AngleDeg float64            `json:"angle_deg"`
	Records  int                `json:"records"`
	OutsideM *interval.Estimate `json:"outside_m"` // of the shortest line; null when not known
	BeyondM  *interval.Estimate `json:"beyond_m"`  // a turn-around's furthest point; null elsewhere
	ExtraM   *interval.Estimate `json:"extra_quartiles_m"`
}

// FieldStation is where the crowd ran at a place: figures across the road are
// metres left of the shortest line.
type FieldStation struct {
	AtM     float64            `json:"at_m"`
	Records int                `json:"records"`
	LeftOut int                `json:"left_out"`
	OffM    *interval.Estimate `json:"off_m"`
	LowM    *float64           `json:"low_m"` // nine of ten run between low and high
	HighM   *float64           `json:"high_m"`
	LeftM   float64            `json:"edge_left_m"`
	RightM  float64            `json:"edge_right_m"`
	Density []float64          `json:"density"` // share of the records in each metre from the right edge to the left
}

// FieldRunner is one record.
type FieldRunner struct {
	Number      int               `json:"number"`
	Name        string            `json:"name,omitempty"` // the file, only when asked for
	MatchedPart float64           `json:"matched_part"`
	RecordM     float64           `json:"record_m"`
	RanM        interval.Estimate `json:"ran_m"`
	ExtraM      interval.Estimate `json:"extra_m"`
	SurplusM    float64           `json:"surplus_m"`
	LeftRoad    []FieldSpan       `json:"left_road"`
}

// FieldSpan is where one runner left the road.
type FieldSpan struct {
	How   string  `json:"how"`
	FromM float64 `json:"from_m"`
	ToM   float64 `json:"to_m"`
}

// FieldRefusal is a file that was not counted.
type FieldRefusal struct {
	Name string `json:"name"`
	Why  string `json:"why"`
}

// FieldCautions are what every reader of a field must know.
func FieldCautions() []string {
	return []string{
		"Many records say where a field ran shorter or longer than the course was measured; they do not give its length to a part in a thousand. That takes a calibrated measurement by a qualified measurer.",
		"A kerb cut by a metre is invisible here, and so is everything that receivers at one place get wrong together.",
		"Nothing here certifies a course or shows that a runner broke a rule: a receiver may have been wrong.",
	}
}

// NewField gives the document of a field. With names, every runner carries the
// name of the file.
func NewField(g *field.Ground, t *field.Tally, v *field.Verdict, done field.Done, names bool) Field {
	r := g.Race
	d := Field{
		Course: r.Name, ShortestM: millimetres(r.Line.Length), Records: v.Records,
		Verdict: string(v.Conclusion), Why: v.Why, LookAtTurns: append([]int{}, v.Turns...), CourseM: estimate(v.Course),
		SharedErrorM: millimetres(v.Bias), StraightsM: millimetres(v.Straights), UsualBeyondM: field.UsualBeyond,
		Findings: []FieldFinding{}, LeftRoad: []FieldLeaving{}, Turns: []FieldTurn{}, Stations: []FieldStation{}, Runners: []FieldRunner{}, Refused: []FieldRefusal{},
		CountedTwice: done.Twice, Warnings: append([]string{}, r.Notes...),
	}
	if r.Official > 0 {
		d.OfficialM = known(r.Official)
	}
	if v.SeesCorner > 0 {
		d.SeesCornerM = known(v.SeesCorner)
	}
	if v.Sees > 0 {
		d.SeesTurnbackM = known(v.Sees)
	}
	if v.SeesAcross > 0 {
		d.SeesAcrossM = known(v.SeesAcross)
	}
	for _, f := range v.Findings {
		var groups []FieldGroup
		for _, x := range f.Groups {
			groups = append(groups, FieldGroup{string(x.Kind), estimate(x.Metres), x.Records})
		}
		d.Findings = append(d.Findings, FieldFinding{string(f.Kind), millimetres(f.From), millimetres(f.To), append([]int{}, f.Turns...), estimate(f.Metres), estimate(f.Length), f.Records, groups})
	}
	for _, l := range v.Leavings {
		d.LeftRoad = append(d.LeftRoad, FieldLeaving{string(l.How), l.From, l.To, append([]int{}, l.Turns...), l.Records, estimate(l.Share)})
	}
	for _, c := range v.Crowd {
		d.Turns = append(d.Turns, FieldTurn{c.Number, millimetres(c.At), millimetres(c.Angle / degree), c.Records, knownEstimate(c.Outside), knownEstimate(c.Beyond), knownEstimate(c.Extra)})
	}
	for _, p := range v.Places {
		s := FieldStation{AtM: millimetres(p.At), Records: p.Records, LeftOut: p.LeftOut, OffM: knownEstimate(p.Off), LowM: known(p.Low), HighM: known(p.High),
			LeftM: millimetres(p.Left), RightM: millimetres(p.Right), Density: []float64{}}
		for _, x := range p.Density {
			s.Density = append(s.Density, millimetres(x))
		}
		d.Stations = append(d.Stations, s)
	}
	for i, r := range t.Sorted() {
		n := FieldRunner{Number: i + 1, MatchedPart: float64(r.Share) / 1e6, RecordM: float64(r.Recorded) / 1000, SurplusM: float64(r.Surplus) / 1000,
			RanM:     interval.Estimate{Value: float64(r.Ran) / 1000, Low: float64(r.RanLow) / 1000, High: float64(r.RanHigh) / 1000},
			ExtraM:   interval.Estimate{Value: float64(r.Extra) / 1000, Low: float64(r.ExtraLow) / 1000, High: float64(r.ExtraHigh) / 1000},
			LeftRoad: []FieldSpan{}}
		if names {
			n.Name = r.Name
		}
		for _, s := range r.Left {
			n.LeftRoad = append(n.LeftRoad, FieldSpan{string(s.How), float64(s.From), float64(s.To)})
		}
		d.Runners = append(d.Runners, n)
	}
	for _, r := range done.Refused {
		d.Refused = append(d.Refused, FieldRefusal{r.Name, r.Err.Error()})
	}
	if q, ok := t.ExtraQuartiles(); ok {
		e := estimate(q)
		d.ExtraQuartiles = &e
	}
	return d
}
