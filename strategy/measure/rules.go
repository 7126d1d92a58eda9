package measure

// ShortCourseFactor is the short-course prevention factor of a bicycle
// measurement, 1.001: one metre in a kilometre. Source: USATF Course
// Measurement and Certification Procedures (older web edition); Run Canada
// Road Race Course Measurement Procedures; UK course measurers' lesson 4.
const ShortCourseFactor = 1.001

// DefaultTolerance is how far two measured lengths may lie apart: 0.08 %.
// Source: RRTC renewal page (rrtc.net, undated, read whole), where one ride
// must lie within 0.08 % of the certified length; as a rule for two rides
// second-hand, from the measurers' bulletin board (Newman).
const DefaultTolerance = 0.0008

// VerificationAllowance is what a verification by the U.S. practice forgives:
// 0.05 %, so that a 10 km course passes unless it measures below 9995 m.
// Second-hand: measurers' bulletin board (Riegel, Conway).
const VerificationAllowance = 0.0005

// Choice is how the constant for the day is made of the working constant
// (from the rides before) and the finish constant (from the rides after).
type Choice string

// The two choices. The larger constant gives the smaller length, hence more
// metres to add: the safer side.
const (
	Larger  Choice = "larger"
	Average Choice = "average"
)

// UnmarshalText reads a choice.
func (c *Choice) UnmarshalText(text []byte) error {
	return oneOf(c, text, "choice of the constant for the day", Larger, Average)
}

// Purpose is what the measurement is for.
type Purpose string

// Purposes: to lay out a course of a given distance, or to verify one that is
// already certified.
const (
	LayOut Purpose = "lay-out"
	Verify Purpose = "verify"
)

// UnmarshalText reads a purpose.
func (p *Purpose) UnmarshalText(text []byte) error {
	return oneOf(p, text, "purpose", LayOut, Verify)
}

// Method is what measured the course.
type Method string

// Methods: the calibrated bicycle or the steel tape.
const (
	Bicycle Method = "bicycle"
	Tape    Method = "tape"
)

// UnmarshalText reads a method.
func (m *Method) UnmarshalText(text []byte) error {
	return oneOf(m, text, "method", Bicycle, Tape)
}

// Counting is which of several measured lengths counts.
type Counting string

// The smaller of two measured lengths counts in the practice of the United
// States (second-hand: measurers' bulletin board, Newman); the mean is offered
// for comparison.
const (
	Smaller Counting = "smaller"
	Mean    Counting = "mean"
)

// usualCounting is what counts when the sheet does not say: the smaller of two
// rides, the mean of several tapings.
func usualCounting(m Method) Counting {
	if m == Tape {
		return Mean
	}
	return Smaller
}

// UnmarshalText reads a way of counting.
func (c *Counting) UnmarshalText(text []byte) error {
	return oneOf(c, text, "way to pick the length that counts", Smaller, Mean)
}

// RuleSet is one body's way to work out a measurement, as far as it was read.
type RuleSet struct {
	Name      string  `json:"name"` // the word in the sheet
	Body      string  `json:"body"`
	Document  string  `json:"document"`
	Edition   string  `json:"edition"` // edition and year; says so where the page is undated
	Purpose   Purpose `json:"purpose"`
	Method    Method  `json:"method"`
	Constant  Choice  `json:"constant"`
	Factor    float64 `json:"factor"`    // 1 for none
	Allowance float64 `json:"allowance"` // fraction forgiven by a verification
	Note      string  `json:"note,omitempty"`
}

// RuleSets are the sets a sheet can name. The first is the default. Every
// figure can be overridden in the sheet, and the ledger then says so.
func RuleSets() []RuleSet {
	return []RuleSet{
		{
			Name: "usatf-procedures", Body: "USA Track & Field",
			Document: "Course Measurement and Certification Procedures", Edition: "older web edition, undated; the data-sheet form of 2010 does the same",
			Purpose: LayOut, Method: Bicycle, Constant: Larger, Factor: ShortCourseFactor,
			Note: "the average is also accepted, the larger constant strongly preferred",
		}, {
			Name: "uk-lessons", Body: "Association of UK Course Measurers",
			Document: "training lessons 2, 3, 4, 6 and 10", Edition: "web pages, undated",
			Purpose: LayOut, Method: Bicycle, Constant: Larger, Factor: ShortCourseFactor,
		}, {
			Name: "canada", Body: "Run Canada Committee",
			Document: "Road Race Course Measurement Procedures", Edition: "undated, adapted from USA Track & Field",
			Purpose: LayOut, Method: Bicycle, Constant: Average, Factor: ShortCourseFactor,
			Note: "the larger constant is also accepted",
		}, {
			Name: "usatf-verification", Body: "USA Track & Field, Road Running Technical Council",
			Document: "Pre-race and Post-race Verification Guidelines", Edition: "snapshots of about 2013 and of November 2015",
			Purpose: Verify, Method: Bicycle, Constant: Average, Factor: 1, Allowance: VerificationAllowance,
			Note: "the 0.05 % allowance is second-hand (measurers' bulletin board, Riegel and Conway)",
		}, {
			Name: "no-allowance", Body: "IAAF",
			Document: "Rule 240.3, road races", Edition: "2004-05 and 2009",
			Purpose: Verify, Method: Bicycle, Constant: Average, Factor: 1,
			Note: "the rule says only that the course shall not be shorter than the official distance; no allowance for the check was found, and the constant is averaged as in the U.S. guidelines",
		}, {
			Name: "steel-tape", Body: "no rule text read",
			Document: "published practice of one track marathon (measurers' bulletin board, Sandford)", Edition: "second-hand, undated",
			Purpose: LayOut, Method: Tape, Constant: Larger, Factor: 1.0003,
			Note: "the factor of 1.001 is for bicycles; 0.03 % is what that measurer added to a taped length",
		},
	}
}

// RuleName is the name of a rule set.
type RuleName string

// UnmarshalText reads the name of a rule set.
func (n *RuleName) UnmarshalText(text []byte) error {
	var names []RuleName
	for _, r := range RuleSets() {
		names = append(names, RuleName(r.Name))
	}
	return oneOf(n, text, "set of rules", names...)
}

// ruleSet gives the set of a name, the default for "".
func ruleSet(n RuleName) RuleSet {
	all := RuleSets()
	for _, r := range all {
		if r.Name == string(n) {
			return r
		}
	}
	return all[0]
}

// Expansion is the thermal coefficient of a steel tape and the temperature at
// which the tape is true.
type Expansion struct {
	Name     string  `json:"name"`
	PerC     float64 `json:"per_c"` // fraction per degree Celsius
	TrueAtC  float64 `json:"true_at_c"`
	Formula  string  `json:"formula"`
	Standard string  `json:"source"`
}

// The two published forms of the correction. U.S.: 1 + (T - 68) 0.00000645, T
// in Fahrenheit (second-hand: measurers' bulletin board, Riegel). Metric:
// 1 + (T - 20) 0.0000116, T in Celsius (second-hand: a survey exercise; in the
// measurement booklet of IAAF and AIMS from memory, unchecked). The first is
// 0.00001161 per degree Celsius: they differ by 1 part in 10^7 at 30 C.
var (
	ExpansionUS = Expansion{"us", 0.00000645 * 9 / 5, 20, "1 + (T - 68 F) x 0.00000645",
		"measurers' bulletin board, Riegel, second-hand"}
	ExpansionMetric = Expansion{"metric", 0.0000116, 20, "1 + (T - 20 C) x 0.0000116",
		"a survey exercise, second-hand"}
)

// At gives the factor by which a reading at a temperature of the tape must be
// multiplied: above one when the tape is hot, because a hot tape is longer than
// its marks say and so reads too little; 1 when the temperature is not known.
func (e Expansion) At(t Temperature) float64 {
	if !t.Known {
		return 1
	}
	return 1 + (t.Celsius-e.TrueAtC)*e.PerC
}

// ExpansionName names one of the two.
type ExpansionName string

// UnmarshalText reads the name of a coefficient.
func (n *ExpansionName) UnmarshalText(text []byte) error {
	return oneOf(n, text, "tape coefficient", "us", "metric")
}

// What a tyre does. Source: measurers' bulletin board (Sandford), second-hand,
// one pneumatic tyre: -1.56 to -1.98 counts/km per degree Celsius, +1.35 to
// +1.55 counts/km per day by deflation, residuals of about 2 counts/km.
// The tyre's own constant was not given; 11 000 counts/km is taken to turn the
// figures into fractions, the middle of the typical 9300 to 11 900 (lesson 3
// of the UK course measurers and the bulletin board).
const (
	tyreBase         = 11000.0
	tyrePerCLow      = -1.98 / tyreBase
	tyrePerCHigh     = -1.56 / tyreBase
	tyrePerDayLow    = 1.35 / tyreBase
	tyrePerDayHigh   = 1.55 / tyreBase
	tyreResidual     = 2 / tyreBase
	spread1985       = 0.0007 // rides of a calibration within this of each other
	minCalibration   = 300.0  // m
	minRides         = 4
	calibrationGoal  = 0.0002 // error of the calibration course, UK lessons
	roundingGoal     = 0.0001 // UK lesson 3: keep rounding error below 0.01 %
	bicycleGroupSD   = 0.0003 // one standard deviation of a group of bicycles (Sandford, 2008 half marathon)
	typicalLowPerKM  = 8000.0
	typicalHighPerKM = 15000.0
	// countsPerTurn of the older counters (bulletin board, second-hand).
	countsPerTurn = 20.0
)
