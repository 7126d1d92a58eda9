package measure

import (
	"fmt"
	"math"
	"slices"

	"tautline/geo/interval"
)

// Result is the worked measurement. Lengths are in metres as the rules count
// them: with the short-course factor in the constant, a course that shows
// 10 000 m here is about 10 010 m on the ground.
type Result struct {
	Title     string     `json:"title,omitempty"`
	Source    string     `json:"source,omitempty"`
	Rules     RuleSet    `json:"rules"`     // with the overrides of the sheet
	Overrides []string   `json:"overrides"` // what the sheet changed
	Counter   string     `json:"counter_unit"`
	Official  float64    `json:"official_m"` // 0 when the sheet gives none
	Calib     *TapeWork  `json:"calibration_tape,omitempty"`
	CalibM    float64    `json:"calibration_m,omitempty"`
	Per       float64    `json:"constant_per_m"`     // constants are written per this length, m
	Rounding  float64    `json:"constant_rounding"`  // counts per that length, 0 for none
	Sessions  []DayWork  `json:"sessions,omitempty"` // bicycle only
	Tape      *TapeWork  `json:"tape,omitempty"`     // tape only
	Laps      *LapWork   `json:"laps,omitempty"`     // tape with a lap step
	Rides     []RideWork `json:"rides"`
	Tolerance float64    `json:"tolerance"`
	Spread    float64    `json:"spread"` // (largest - smallest) / smallest length; of tapings: / their mean
	Agree     bool       `json:"agree"`  // at least two rides within the tolerance
	Counting  Counting   `json:"length_that_counts"`
	Counted   float64    `json:"measured_m"`                       // the length that counts
	Other     float64    `json:"measured_by_the_other_constant_m"` // with the constant not chosen
	Unrounded float64    `json:"measured_with_unrounded_constant_m"`
	// Ground is the length on the ground, without the factor and by the
	// average constant: what a map should be compared with. 90 % interval from
	// the spread of calibrated bicycles (0.03 %, one standard deviation), the
	// error of the calibration course (0.02 %) and the change of the tyre.
	Ground   interval.Estimate `json:"ground_m"`
	Adjust   *Adjustment       `json:"adjust,omitempty"`
	Verdict  *Verification     `json:"verification,omitempty"`
	Splits   []Split           `json:"splits,omitempty"`
	Marks    []MarkWork        `json:"marks,omitempty"`
	Warnings []Warning         `json:"warnings"`
	Caution  string            `json:"caution"`
}

// DayWork is one session worked out. Constants are counts per metre.
type DayWork struct {
	Name     string    `json:"name,omitempty"`
	Before   SideWork  `json:"before"`
	After    *SideWork `json:"after,omitempty"`
	Larger   float64   `json:"larger_counts_per_m"`
	Average  float64   `json:"average_counts_per_m"`
	Day      float64   `json:"day_counts_per_m"` // the one used
	Other    float64   `json:"other_counts_per_m"`
	Exact    float64   `json:"day_unrounded_counts_per_m"`
	Change   float64   `json:"change"` // finish / working - 1, of the unrounded constants
	PerDeg   float64   `json:"change_counts_per_km_per_c,omitempty"`
	mean     float64   // mean counts per metre without factor and rounding
	meanSE   float64   // its standard error as a fraction
	halfDrop float64
}

// SideWork is the calibration on one side of the day.
type SideWork struct {
	Gains    []float64   `json:"counts"`
	Mean     float64     `json:"mean_counts"`
	Spread   float64     `json:"spread"` // (largest - smallest) / mean
	Temp     Temperature `json:"-"`
	Celsius  *float64    `json:"temperature_c,omitempty"`
	Constant float64     `json:"constant_counts_per_m"` // with factor, rounded as the sheet asks
	Exact    float64     `json:"unrounded_counts_per_m"`
}

// RideWork is one ride of the course.
type RideWork struct {
	Session   string    `json:"session,omitempty"`
	Name      string    `json:"name,omitempty"`
	Pieces    []float64 `json:"piece_counts"`
	Counts    float64   `json:"counts"`         // of what was ridden, once
	Rounds    int       `json:"counter_rounds"` // how often the counter went round
	Laps      int       `json:"laps"`           // the course is this many times what was ridden
	Length    float64   `json:"length_m"`       // of the course, by the constant for the day
	Other     float64   `json:"other_constant_m"`
	Unrounded float64   `json:"unrounded_constant_m"`
	session   int       // in the sheet
	ride      int       // in the session
	marks     []float64 // counts from the start of the ride
}

// Adjustment is what must be added (positive) or removed (negative).
type Adjustment struct {
	Metres float64 `json:"add_m"`      // as the rules count
	Counts float64 `json:"add_counts"` // with the bicycle, by the constant for the day; 0 for a tape
	Ground float64 `json:"add_ground_m"`
	Other  float64 `json:"add_by_the_other_constant_m"`
}

// Verification compares a measured length with the official one.
type Verification struct {
	Official  float64 `json:"official_m"`
	Least     float64 `json:"least_m"` // official less the allowance
	Margin    float64 `json:"margin_m"`
	Outcome   Outcome `json:"outcome"`
	LaidOutTo float64 `json:"laid_out_to_m"` // what a faultless course with the factor would show
}

// Outcome of a verification.
type Outcome string

// Outcomes.
const (
	NotShort  Outcome = "not short"
	Forgiven  Outcome = "short, within the allowance"
	TooShort  Outcome = "short, beyond the allowance"
	NoVerdict Outcome = "cannot tell"
)

// Split is a place at a distance from the start, in counts.
type Split struct {
	At      float64  `json:"at_m"`
	Counts  float64  `json:"counts"`            // from the start, by the constant for the day
	Working float64  `json:"working_counts"`    // by the working constant
	Reading *float64 `json:"reading,omitempty"` // of the counter in the first ride
}

// MarkWork compares the readings taken at one mark in several rides.
type MarkWork struct {
	Name     string    `json:"name"`
	At       []float64 `json:"at_m"` // one for each ride that has it
	Counted  float64   `json:"measured_m"`
	Spread   float64   `json:"spread"`
	Agree    bool      `json:"agree"`
	Intended float64   `json:"intended_m,omitempty"`
	Move     float64   `json:"move_m,omitempty"` // forward, in the direction of the race, positive
}

// Warning is something a measurer should look at.
type Warning struct {
	Text   string `json:"text"`
	Source string `json:"source,omitempty"`
}

// Work works the sheet out. Errors are *inputerr.Error: readings that cannot
// be followed.
func (s *Sheet) Work() (*Result, error) {
	rules := s.Resolved()
	r := &Result{
		Title: s.Title, Source: s.Source, Rules: rules, Overrides: s.overrides(),
		Counter: s.unit(), Official: float64(s.Course.Distance),
		Per: 1000, Rounding: float64(s.Settings.ConstantRounding),
		Tolerance: DefaultTolerance, Counting: usualCounting(rules.Method), Caution: NeverCertifies,
		Rides: []RideWork{}, Warnings: []Warning{},
	}
	if s.Settings.ConstantPer != 0 {
		r.Per = float64(s.Settings.ConstantPer)
	}
	if s.Settings.Tolerance.Known {
		r.Tolerance = s.Settings.Tolerance.Fraction
	}
	if s.Settings.Counts != "" {
		r.Counting = s.Settings.Counts
	}
	if rules.Method == Tape {
		r.workTape(s)
		return r, nil
	}
	if len(s.Calibration.Tape.Readings) > 0 {
		r.Calib = workTape(s.Calibration.Tape)
		r.CalibM = r.Calib.Length
		r.warnTape("the calibration course", r.Calib)
	} else {
		r.CalibM = float64(s.Calibration.Length)
	}
	if r.CalibM < minCalibration {
		r.warn("UK lessons and USATF procedures: at least 300 m",
			"the calibration course is %.2f m: shorter than 300 m, so half a count weighs more than it should", r.CalibM)
	}
	for i := range s.Sessions {
		day := r.workDay(s, i)
		r.Sessions = append(r.Sessions, day)
		for j := range s.Sessions[i].Rides {
			ride, err := s.workRide(i, j, day)
			if err != nil {
				return nil, err
			}
			r.Rides = append(r.Rides, ride)
			r.warnLength(s, ride)
		}
	}
	if err := r.workMarks(s); err != nil {
		return nil, err
	}
	r.compare()
	r.finish()
	r.workSplits(s)
	return r, nil
}

func (r *Result) warn(source, format string, args ...any) {
	r.Warnings = append(r.Warnings, Warning{fmt.Sprintf(format, args...), source})
}

// overrides says in words what the sheet changed in its rule set.
func (s *Sheet) overrides() []string {
	now := s.Resolved()
	base := ruleSet(RuleName(now.Name))
	out := []string{}
	if now.Constant != base.Constant {
		out = append(out, fmt.Sprintf("constant for the day: %s instead of %s", now.Constant, base.Constant))
	}
	if now.Factor != base.Factor {
		out = append(out, fmt.Sprintf("short-course factor: %s instead of %s", factorText(now.Factor), factorText(base.Factor)))
	}
	if now.Allowance != base.Allowance {
		out = append(out, fmt.Sprintf("allowance: %.4g %% instead of %.4g %%", 100*now.Allowance, 100*base.Allowance))
	}
	if now.Purpose != base.Purpose {
		out = append(out, fmt.Sprintf("purpose: %s instead of %s", now.Purpose, base.Purpose))
	}
	if now.Method != base.Method {
		out = append(out, fmt.Sprintf("method: %s instead of %s", now.Method, base.Method))
	}
	if t := s.Settings.Tolerance; t.Known && t.Fraction != DefaultTolerance {
		out = append(out, fmt.Sprintf("tolerance between rides: %.4g %% instead of %.4g %%", 100*t.Fraction, 100*DefaultTolerance))
	}
	if c, usual := s.Settings.Counts, usualCounting(now.Method); c != "" && c != usual {
		out = append(out, fmt.Sprintf("length that counts: %s instead of %s", c, usual))
	}
	return out
}

func factorText(f float64) string {
	if f == 1 {
		return "none"
	}
	return trim(f)
}

// roundTo rounds to a multiple of step, or not at all for a step of 0.
func roundTo(v, step float64) float64 {
	if step <= 0 {
		return v
	}
	return math.Round(v/step) * step
}

// constant turns a mean of counts over a calibration course into counts per
// metre with the factor, exact and rounded as the measurer rounds.
func (r *Result) constant(mean float64) (rounded, exact float64) {
	exact = mean / r.CalibM * r.Rules.Factor
	return roundTo(exact*r.Per, r.Rounding) / r.Per, exact
}

func (r *Result) workDay(s *Sheet, i int) DayWork {
	ses := s.Sessions[i]
	d := DayWork{Name: ses.Name}
	label := "session " + ses.label(i)
	if len(s.Sessions) == 1 && ses.Name == "" {
		label = "the day"
	}
	d.Before = r.workSide(s, ses.Before, ses.TempBefore, label+", before")
	d.Larger, d.Average = d.Before.Constant, d.Before.Constant
	exactLarger, exactAverage := d.Before.Exact, d.Before.Exact
	if len(ses.After) > 0 {
		a := r.workSide(s, ses.After, ses.TempAfter, label+", after")
		d.After = &a
		d.Larger = math.Max(d.Before.Constant, a.Constant)
		d.Average = roundTo((d.Before.Constant+a.Constant)/2*r.Per, r.Rounding) / r.Per
		exactLarger = math.Max(d.Before.Exact, a.Exact)
		exactAverage = (d.Before.Exact + a.Exact) / 2
		d.Change = a.Exact/d.Before.Exact - 1
		d.halfDrop = math.Abs(d.Change)
	} else {
		r.warn("all the rule texts read: at least four rides before and four after",
			"%s: no calibration rides after, so the constant for the day is only the working constant and every figure is tentative", label)
	}
	d.Day, d.Other, d.Exact = d.Larger, d.Average, exactLarger
	if r.Rules.Constant == Average {
		d.Day, d.Other, d.Exact = d.Average, d.Larger, exactAverage
	}
	d.mean = exactAverage / r.Rules.Factor
	d.meanSE = standardError(append(slices.Clone(d.Before.Gains), sideGains(d.After)...))
	if perKM := d.Before.Exact * 1000; s.unit() == "counts" && (perKM < typicalLowPerKM || perKM > typicalHighPerKM) {
		r.warn("typical constants are 9300 to 11900 counts/km (UK lesson 3; bulletin board, second-hand)",
			"%s: a constant of %.0f counts/km is unusual; check the calibration length, the number of digits, or set counter.unit", label, perKM)
	}
	r.warnDrift(ses, &d, label)
	if d.After != nil && d.After.Constant > d.Before.Constant && len(ses.Rides) > 0 && r.Rules.Purpose == LayOut && d.Day > d.Before.Constant {
		r.warn("follows from length = counts / constant",
			"%s: the finish constant is larger than the working one; marks laid with the working constant lie short by %.2f m in each kilometre, so recompute every count", label, 1000*(1-d.Before.Constant/d.Day))
	}
	return d
}

func sideGains(s *SideWork) []float64 {
	if s == nil {
		return nil
	}
	return s.Gains
}

func (r *Result) workSide(s *Sheet, rolls []Roll, t Temperature, label string) SideWork {
	w := SideWork{Temp: t}
	if t.Known {
		w.Celsius = &t.Celsius
	}
	step := float64(s.Counter.Step)
	if step == 0 {
		step = 0.5
		if s.unit() == "turns" {
			step = 0 // parts of a turn are read off the spokes: no common fineness
		}
	}
	odd := 0
	for _, roll := range rolls {
		g := gain(roll, s.modulus())
		w.Gains = append(w.Gains, g)
		w.Mean += g / float64(len(rolls))
		if step > 0 && math.Abs(math.Remainder(g, step)) > 1e-6 {
			odd++
		}
	}
	lo, hi := slices.Min(w.Gains), slices.Max(w.Gains)
	w.Spread = (hi - lo) / w.Mean
	w.Constant, w.Exact = r.constant(w.Mean)
	if odd > 0 {
		r.warn("UK lessons: read to the nearest half count", "%s: %d of %d rides are finer than %s of a count", label, odd, len(rolls), trim(step))
	}
	if len(rolls) < minRides {
		r.warn("USATF procedures, Run Canada, UK lessons: at least four on each side", "%s: %d calibration %s instead of four or more", label, len(rolls), plural(len(rolls), "ride", "rides"))
	}
	if w.Spread > spread1985 {
		r.warn("the 1985 manual asked for 0.07 %; later editions drop it (bulletin board, second-hand)",
			"%s: the calibration rides spread over %.3f %% (%s to %s); look for a misread digit or a bad ride", label, 100*w.Spread, trim(lo), trim(hi))
	}
	if n := len(w.Gains); n >= 4 && (hi-lo)/w.Mean > spread1985/2 {
		falls := true
		for i := 1; i < n; i++ {
			falls = falls && w.Gains[i] < w.Gains[i-1]
		}
		if falls {
			r.warn("the rules ask for some minutes of riding before calibrating", "%s: the counts fall from ride to ride, as they do while a tyre is still warming up", label)
		}
	}
	return w
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// standardError of a mean, as a fraction of it.
func standardError(v []float64) float64 {
	if len(v) < 2 {
		return 0
	}
	var mean, ss float64
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		ss += (x - mean) * (x - mean)
	}
	return math.Sqrt(ss/float64(len(v)-1)/float64(len(v))) / mean
}

// warnDrift compares the change of the constant with what a tyre does.
func (r *Result) warnDrift(ses Session, d *DayWork, label string) {
	if d.After == nil {
		return
	}
	const source = "one pneumatic tyre: -1.56 to -1.98 counts/km per C, +1.35 to +1.55 per day (bulletin board, Sandford, second-hand; taken as parts of 11000)"
	perKM := 1000 * d.Before.Exact
	scale := 1.0
	if r.Counter == "turns" {
		scale = countsPerTurn
	}
	// Residuals of about 2 counts/km on either side, as one standard deviation.
	margin := interval.Z90 * math.Sqrt2 * tyreResidual
	days := float64(ses.Hours) / 24
	low, high := -margin+days*tyrePerDayLow, margin+days*tyrePerDayHigh
	known := ses.TempBefore.Known && ses.TempAfter.Known
	if known {
		dt := ses.TempAfter.Celsius - ses.TempBefore.Celsius
		a, b := dt*tyrePerCLow, dt*tyrePerCHigh
		low, high = low+math.Min(a, b), high+math.Max(a, b)
		if math.Abs(dt) >= 1 {
			d.PerDeg = d.Change * perKM * scale / dt
		}
	}
	outside := d.Change < low || d.Change > high
	switch {
	case !known && outside:
		r.warn(source, "%s: the constant changed by %+.3f %% (%+.1f %s/km) and the sheet gives no temperatures on both sides to explain it", label, 100*d.Change, d.Change*perKM, r.Counter)
	case outside:
		r.warn(source, "%s: the constant changed by %+.3f %% (%+.1f %s/km) while the temperature went from %.1f to %.1f C; a tyre would give %+.3f to %+.3f %%. Look for a leak, a misread figure or a cold tyre at the first calibration",
			label, 100*d.Change, d.Change*perKM, r.Counter, ses.TempBefore.Celsius, ses.TempAfter.Celsius, 100*low, 100*high)
	}
	if math.Abs(d.Change) > r.Tolerance {
		r.warn("", "%s: the constant changed by more than the tolerance between rides (%.2f %%); the choice between average and larger matters here", label, 100*r.Tolerance)
	}
}

// expected is roughly how long what was ridden is, m, 0 when nothing says.
func (s *Sheet) expected(ride Ride) float64 {
	laps := max(1, int(ride.Laps))
	switch {
	case ride.Expected != 0:
		return float64(ride.Expected)
	case s.Course.Expected != 0:
		return float64(s.Course.Expected) / float64(laps)
	}
	return float64(s.Course.Distance) / float64(laps)
}

func (s *Sheet) workRide(i, j int, d DayWork) (RideWork, error) {
	ride := s.Sessions[i].Rides[j]
	u, err := s.unroll(i, j, d.Exact)
	if err != nil {
		return RideWork{}, err
	}
	laps := max(1, int(ride.Laps))
	w := RideWork{
		Session: s.Sessions[i].Name, Name: ride.Name, Pieces: u.pieces, Counts: u.total, Rounds: u.rounds, Laps: laps,
		Length: float64(laps) * u.total / d.Day, Other: float64(laps) * u.total / d.Other, Unrounded: float64(laps) * u.total / d.Exact,
		session: i, ride: j, marks: u.marks,
	}
	if !(w.Length > 0 && w.Length <= maxLength) {
		return w, s.bad(fmt.Sprintf("session[%d].ride[%d].pieces", i, j), fmt.Sprintf("ride %s comes to %.6g m", ride.label(j), w.Length), "check its readings and its laps")
	}
	return w, nil
}

// warnLength says when a ride is far from its expected length.
func (r *Result) warnLength(s *Sheet, w RideWork) {
	ride := s.Sessions[w.session].Rides[w.ride]
	if e := s.expected(ride) * float64(w.Laps); e > 0 {
		if off := w.Length/e - 1; math.Abs(off) > 0.05 {
			r.warn("", "ride %s comes to %.1f m, %+.1f %% off the expected %.1f m; check the readings, the rounds of the counter and whether pieces are missing", ride.label(w.ride), w.Length, 100*off, e)
		}
	}
}

// compare picks the length that counts.
func (r *Result) compare() {
	if len(r.Rides) == 0 {
		return
	}
	lengths := make([]float64, len(r.Rides))
	for i, w := range r.Rides {
		lengths[i] = w.Length
	}
	lo, hi := slices.Min(lengths), slices.Max(lengths)
	r.Spread = hi/lo - 1
	r.Agree = len(lengths) >= 2 && r.Spread <= r.Tolerance
	var sum, other, exact float64
	for i, w := range r.Rides {
		sum, other, exact = sum+w.Length, other+w.Other, exact+w.Unrounded
		if i == 0 || w.Length < r.Counted {
			r.Counted = w.Length
		}
		if i == 0 || w.Other < r.Other {
			r.Other = w.Other
		}
		if i == 0 || w.Unrounded < r.Unrounded {
			r.Unrounded = w.Unrounded
		}
	}
	if r.Counting == Mean {
		n := float64(len(r.Rides))
		r.Counted, r.Other, r.Unrounded = sum/n, other/n, exact/n
	}
	switch {
	case len(lengths) < 2:
		r.warn("USATF procedures and Run Canada: at least two rides of the course", "only one ride of the course: nothing tells whether it was ridden and read right")
	case !r.Agree && len(lengths) == 2:
		r.warn("bulletin board (Newman), second-hand; RRTC renewal page", "the two rides differ by %.3f %%, more than %.2f %%: ride the course again before anything is marked", 100*r.Spread, 100*r.Tolerance)
	case !r.Agree:
		r.warn("bulletin board (Newman), second-hand; RRTC renewal page", "%s", r.disagreement(lengths))
	}
	if r.Rounding > 0 && math.Abs(r.Counted/r.Unrounded-1) > roundingGoal {
		r.warn("UK lesson 3: keep rounding errors below 0.01 %", "rounding the constants moves the length by %.2f m: carry more digits", r.Counted-r.Unrounded)
	}
	// On the ground: every ride without factor, by its average constant.
	var ground, v float64
	sessions := map[int]bool{}
	for _, w := range r.Rides {
		d := r.Sessions[w.session]
		ground += float64(w.Laps) * w.Counts / d.mean / float64(len(r.Rides))
		v = math.Max(v, d.halfDrop*d.halfDrop/12+d.meanSE*d.meanSE)
		sessions[w.session] = true
	}
	calib := calibrationGoal / interval.Z90
	r.Ground = interval.Normal(ground, ground*math.Sqrt(bicycleGroupSD*bicycleGroupSD/float64(len(sessions))+calib*calib+v))
}

// disagreement says which of three or more lengths agree.
func (r *Result) disagreement(lengths []float64) string {
	best := math.Inf(1)
	a, b := 0, 1
	for i := range lengths {
		for j := i + 1; j < len(lengths); j++ {
			if d := math.Abs(lengths[i]/lengths[j] - 1); d < best {
				best, a, b = d, i, j
			}
		}
	}
	if best > r.Tolerance {
		return fmt.Sprintf("the rides spread over %.3f %% and no two lie within %.2f %%: find the mistake and ride again", 100*r.Spread, 100*r.Tolerance)
	}
	return fmt.Sprintf("the rides spread over %.3f %%; rides %d and %d agree within %.2f %%, so find out what went wrong in the others and leave them out of the sheet",
		100*r.Spread, a+1, b+1, 100*r.Tolerance)
}

// finish compares with the official distance.
func (r *Result) finish() {
	if r.Official == 0 || r.Counted == 0 {
		return
	}
	if r.Rules.Purpose == Verify {
		v := &Verification{Official: r.Official, Least: r.Official * (1 - r.Rules.Allowance), Margin: r.Counted - r.Official, LaidOutTo: r.Official * ShortCourseFactor}
		switch {
		case len(r.Rides) >= 2 && !r.Agree:
			v.Outcome = NoVerdict
		case r.Counted >= r.Official:
			v.Outcome = NotShort
		case r.Counted >= v.Least:
			v.Outcome = Forgiven
		default:
			v.Outcome = TooShort
		}
		r.Verdict = v
		return
	}
	a := &Adjustment{Metres: r.Official - r.Counted, Other: r.Official - r.Other}
	a.Ground = a.Metres * r.Rules.Factor
	if len(r.Sessions) > 0 {
		a.Counts = a.Metres * r.countingDay().Day
	}
	r.Adjust = a
}

// countingDay is the session whose bicycle gave the length that counts.
func (r *Result) countingDay() DayWork {
	best := 0
	for i, w := range r.Rides {
		if w.Length < r.Rides[best].Length {
			best = i
		}
	}
	return r.Sessions[r.Rides[best].session]
}

func (r *Result) workMarks(s *Sheet) error {
	index := map[string]int{}
	for _, w := range r.Rides {
		for m, mark := range s.Sessions[w.session].Rides[w.ride].Marks {
			name := mark.Name
			if name == "" {
				name = fmt.Sprintf("mark %d", m+1)
			}
			at, seen := index[name]
			if !seen {
				at = len(r.Marks)
				index[name] = at
				r.Marks = append(r.Marks, MarkWork{Name: name})
			}
			mw := &r.Marks[at]
			mw.At = append(mw.At, w.marks[m]/r.Sessions[w.session].Day)
			if place, ok := mark.intended(); ok {
				if mw.Intended != 0 && mw.Intended != place {
					return s.bad(fmt.Sprintf("session[%d].ride[%d].mark[%d]", w.session, w.ride, m), fmt.Sprintf("mark %s is meant to be at %.2f m here and at %.2f m in another ride", quote(name), place, mw.Intended), "give it one place")
				}
				mw.Intended = place
			}
		}
	}
	for i := range r.Marks {
		m := &r.Marks[i]
		lo, hi := slices.Min(m.At), slices.Max(m.At)
		m.Counted = lo
		if lo > 0 {
			m.Spread = hi/lo - 1
		}
		m.Agree = len(m.At) >= 2 && m.Spread <= r.Tolerance
		if m.Intended != 0 {
			m.Move = m.Intended - m.Counted
		}
		if len(m.At) >= 2 && !m.Agree {
			r.warn("bulletin board (Newman), second-hand", "mark %s: the rides differ by %.3f %%, more than %.2f %%; near the start a few counts do that", quote(m.Name), 100*m.Spread, 100*r.Tolerance)
		}
	}
	return nil
}

func (r *Result) workSplits(s *Sheet) {
	if len(r.Sessions) == 0 {
		return
	}
	end := r.Official
	if end == 0 {
		end = r.Counted
	}
	var at []float64
	for _, e := range s.Splits.Every {
		for n := 1; n <= maxSplits && float64(n)*float64(e) <= end+1e-6; n++ {
			at = append(at, float64(n)*float64(e))
		}
	}
	for _, a := range s.Splits.At {
		at = append(at, float64(a))
	}
	slices.Sort(at)
	at = slices.CompactFunc(at, func(a, b float64) bool { return math.Abs(a-b) < 1e-6 })
	if len(at) > maxSplits {
		r.warn("", "more than %d splits were asked for; the rest is left out", maxSplits)
		at = at[:maxSplits]
	}
	d := r.Sessions[0]
	var start *float64
	if rides := s.Sessions[0].Rides; len(rides) > 0 && len(rides[0].Pieces) == 1 && !rides[0].Pieces[0].GainGiven {
		start = &rides[0].Pieces[0].From
	}
	for _, a := range at {
		sp := Split{At: a, Counts: a * d.Day, Working: a * d.Before.Constant}
		// A reading beyond the ridden lap would point at no place on the road.
		if start != nil && (len(r.Rides) == 0 || r.Rides[0].Laps == 1) {
			v := math.Mod(*start+sp.Counts, s.modulus())
			sp.Reading = &v
		}
		r.Splits = append(r.Splits, sp)
	}
}
