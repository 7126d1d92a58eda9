package measure

import (
	"encoding"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"strconv"
	"strings"

	"tautline/geo/inputerr"
	"tautline/strategy/tomlfile"
)

// Sheet is what the measurer wrote down. The zero value of a field means that
// the sheet does not give it.
type Sheet struct {
	Title   string   `toml:"title"`
	Source  string   `toml:"source"` // where the figures come from
	Rules   RuleName `toml:"rules"`
	Purpose Purpose  `toml:"purpose"`
	Method  Method   `toml:"method"`

	Course      CourseSheet      `toml:"course"`
	Settings    Settings         `toml:"settings"`
	Counter     Counter          `toml:"counter"`
	Calibration CalibrationSheet `toml:"calibration"`
	Tape        TapeSheet        `toml:"tape"`
	Sessions    []Session        `toml:"session"`
	Splits      Splits           `toml:"splits"`

	where locator
}

// CourseSheet says what the course should measure.
type CourseSheet struct {
	Distance Length `toml:"distance"` // the official distance
	Expected Length `toml:"expected"` // roughly what was ridden, to count the turns of the counter; the distance when not given
	LapStep  Step   `toml:"lap_step"` // tape: the course is laps in multiples of this (1, 0.5) and a remainder
}

// Settings override the rule set.
type Settings struct {
	Constant  Choice   `toml:"constant"`
	Factor    Factor   `toml:"factor"`
	Tolerance Share    `toml:"tolerance"`
	Allowance Share    `toml:"allowance"`
	Counts    Counting `toml:"length_that_counts"`
	// ConstantRounding rounds the constants to multiples of this many counts
	// per ConstantPer, as a measurer who writes them down does. 0: unrounded.
	ConstantRounding Step   `toml:"constant_rounding"`
	ConstantPer      Length `toml:"constant_per"` // 1 km when not given
}

// Counter describes the counter of the bicycle.
type Counter struct {
	Digits Whole  `toml:"digits"` // 5 when not given: it goes round at 100000
	Unit   string `toml:"unit"`   // "counts" when not given, or "turns" of the wheel
	Step   Step   `toml:"step"`   // finest reading, half a count when not given
}

// CalibrationSheet is the calibration course: its length, or its tapings.
type CalibrationSheet struct {
	Length Length    `toml:"length"`
	Tape   TapeSheet `toml:"tape"`
}

// TapeSheet holds readings of a steel tape.
type TapeSheet struct {
	Readings    []Taped       `toml:"readings"`
	Temperature Temperature   `toml:"temperature"` // of the tape; not given: taken as corrected already
	Coefficient ExpansionName `toml:"coefficient"`
	Nominal     Length        `toml:"tape_says"` // length printed on the tape …
	True        Length        `toml:"tape_is"`   // … and its true length at 20 C
	PerPull     Small         `toml:"per_pull"`  // end and tension correction of one pull, signed
	Pulls       Whole         `toml:"pulls"`     // of each taping, when the readings do not show it
	Aim         Length        `toml:"aim"`       // the length that was meant
}

// Session is one bicycle with its rider on one day: calibration rides before,
// course rides, calibration rides after.
type Session struct {
	Name       string      `toml:"name"`
	Before     []Roll      `toml:"before"`
	After      []Roll      `toml:"after"`
	TempBefore Temperature `toml:"temperature_before"`
	TempAfter  Temperature `toml:"temperature_after"`
	Hours      Hours       `toml:"hours_between"` // between the two calibrations
	Rides      []Ride      `toml:"ride"`
}

// Ride is one ride of the course. Several pieces are ridden with the counter
// read off between them: where the bicycle was carried past a parked car,
// say. What the counter gains between two pieces does not count.
type Ride struct {
	Name     string `toml:"name"`
	Pieces   []Roll `toml:"pieces"`
	Laps     Whole  `toml:"laps"`     // the course is this many laps of what was ridden
	Expected Length `toml:"expected"` // roughly, of what was ridden
	Marks    []Mark `toml:"mark"`
}

// Mark is a reading taken at a place along a ride.
type Mark struct {
	Name    string  `toml:"name"`
	Reading Reading `toml:"reading"`
	At      Length  `toml:"at"` // where the mark should be; not given: read from the name if it is a distance
}

// Splits asks for the counts at which marks lie.
type Splits struct {
	Every []Length `toml:"every"`
	At    []Length `toml:"at"`
}

// Hours is a time in hours, more than 0 and at most 1000; 0 means not given.
type Hours float64

// UnmarshalText reads a number of hours.
func (h *Hours) UnmarshalText(text []byte) error {
	v, err := number(strings.TrimSpace(string(text)))
	if err != nil {
		return fmt.Errorf("%w; hours_between is a number of hours like 3.5", err)
	}
	if !(v > 0 && v <= 1000) {
		return fmt.Errorf("hours_between must be more than 0 and at most 1000, not %s", quote(string(text)))
	}
	*h = Hours(v)
	return nil
}

// Limits of a sheet.
const (
	MaxSheetBytes = 1 << 20
	maxSessions   = 50
	maxRolls      = 200 // calibration rides on one side, or pieces of a ride
	maxCourse     = 100 // course rides of a session
	maxMarks      = 2000
	maxSplits     = 5000
	maxText       = 2000 // bytes of a name, a title or a source
)

// Read reads a sheet in TOML or, when the name ends in .csv, in CSV. Every
// error that the sheet causes is an *inputerr.Error.
func Read(name string, r io.Reader) (*Sheet, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxSheetBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(data) > MaxSheetBytes {
		return nil, &inputerr.Error{File: name, What: "the measurement sheet is larger than 1 MiB", Advice: "give one measurement per sheet"}
	}
	if strings.HasSuffix(strings.ToLower(name), ".csv") {
		return readCSV(name, data)
	}
	return readTOML(name, data)
}

func readTOML(name string, data []byte) (*Sheet, error) {
	doc := reflect.New(looseType)
	f, err := tomlfile.Read(name, data, doc.Interface())
	if err != nil {
		return nil, err
	}
	s := &Sheet{where: f}
	if err := assign(reflect.ValueOf(s).Elem(), doc.Elem(), "", f); err != nil {
		return nil, err
	}
	return s, s.check()
}

// looseType is Sheet with every single value as whatever the file has there.
// The decoder puts a number or a text straight into a type of that kind and
// so passes by the range checks of UnmarshalText; read loosely first, every
// value goes through them, and errors keep their place.
var looseType = loose(reflect.TypeFor[Sheet]())

var textType = reflect.TypeFor[encoding.TextUnmarshaler]()

// single tells whether a type of the sheet is a single value.
func single(t reflect.Type) bool {
	return reflect.PointerTo(t).Implements(textType) || t.Kind() == reflect.String
}

func loose(t reflect.Type) reflect.Type {
	switch {
	case single(t):
		return reflect.TypeFor[any]()
	case t.Kind() == reflect.Slice:
		return reflect.SliceOf(loose(t.Elem()))
	}
	var fields []reflect.StructField
	for i := range t.NumField() {
		f := t.Field(i)
		if tag := f.Tag.Get("toml"); tag != "" {
			fields = append(fields, reflect.StructField{Name: f.Name, Type: loose(f.Type), Tag: f.Tag})
		}
	}
	return reflect.StructOf(fields)
}

// assign puts a loosely read value into the sheet.
func assign(into, from reflect.Value, path string, f *tomlfile.File) error {
	t := into.Type()
	switch {
	case single(t):
		if from.IsNil() {
			return nil
		}
		text, ok := plain(from.Interface())
		if !ok {
			return f.Err(path, path+" must be one value", "write it as a number or as a text in quotes")
		}
		if err := setText(into.Addr().Interface(), text); err != nil {
			what, advice := reason(err)
			return f.Err(path, path+": "+what, advice)
		}
		return nil
	case t.Kind() == reflect.Slice:
		n := from.Len()
		if n == 0 {
			return nil
		}
		if n > maxMarks {
			return f.Err(path, fmt.Sprintf("%s has %d entries, more than %d", path, n, maxMarks), "split the sheet")
		}
		into.Set(reflect.MakeSlice(t, n, n))
		for i := range n {
			if err := assign(into.Index(i), from.Index(i), fmt.Sprintf("%s[%d]", path, i), f); err != nil {
				return err
			}
		}
		return nil
	}
	for i := range from.NumField() {
		field := from.Type().Field(i)
		key := field.Tag.Get("toml")
		if path != "" {
			key = path + "." + key
		}
		if err := assign(into.FieldByName(field.Name), from.Field(i), key, f); err != nil {
			return err
		}
	}
	return nil
}

// plain writes a value of the decoder as a person would have.
func plain(v any) (string, bool) {
	switch x := v.(type) {
	case string:
		return x, true
	case int64:
		return strconv.FormatInt(x, 10), true
	case float64:
		return trim(x), true
	case bool:
		return strconv.FormatBool(x), true
	}
	return "", false
}

// setText sets a text or a value that reads itself.
func setText(into any, text string) error {
	switch t := into.(type) {
	case *string:
		if len(text) > maxText {
			return fmt.Errorf("the text is longer than %d bytes", maxText)
		}
		*t = text
		return nil
	case encoding.TextUnmarshaler:
		return t.UnmarshalText([]byte(text))
	}
	return fmt.Errorf("this key cannot be set")
}

// reason takes an error of a quantity apart.
func reason(err error) (what, advice string) {
	var e *inputerr.Error
	if errors.As(err, &e) {
		return e.What, e.Advice
	}
	return err.Error(), ""
}

// bad makes the error for a key, at the key or at the nearest table above it.
func (s *Sheet) bad(key, what, advice string) *inputerr.Error { return s.where.Err(key, what, advice) }

// locator knows where the keys of a sheet stand.
type locator interface {
	Err(path, what, advice string) *inputerr.Error
}

// modulus is the count at which the counter goes round.
func (s *Sheet) modulus() float64 {
	if s.Counter.Digits == 0 {
		return 1e5
	}
	return math.Pow10(int(s.Counter.Digits))
}

// unit names what the counter counts.
func (s *Sheet) unit() string {
	if s.Counter.Unit == "" {
		return "counts"
	}
	return s.Counter.Unit
}

// Resolved gives the rule set of the sheet with its overrides applied.
func (s *Sheet) Resolved() RuleSet {
	name := s.Rules
	if name == "" && s.Purpose == Verify {
		name = "usatf-verification"
	}
	if name == "" && s.Method == Tape {
		name = "steel-tape"
	}
	r := ruleSet(name)
	if s.Purpose != "" {
		r.Purpose = s.Purpose
	}
	if s.Method != "" {
		r.Method = s.Method
	}
	if s.Settings.Constant != "" {
		r.Constant = s.Settings.Constant
	}
	if s.Settings.Factor.Known {
		r.Factor = s.Settings.Factor.Value
	}
	if s.Settings.Allowance.Known {
		r.Allowance = s.Settings.Allowance.Fraction
	}
	return r
}

// check holds what needs more than one value.
func (s *Sheet) check() error {
	rules := s.Resolved()
	if d := s.Counter.Digits; d != 0 && (d < 3 || d > 9) {
		return s.bad("counter.digits", "the counter must have 3 to 9 digits", "count the places of its display")
	}
	if u := s.Counter.Unit; u != "" && u != "counts" && u != "turns" {
		return s.bad("counter.unit", fmt.Sprintf("the counter unit %s is unknown", quote(u)), "use counts or turns")
	}
	if rules.Purpose == Verify && s.Course.Distance == 0 {
		return s.bad("course.distance", "a verification needs the official distance", "give course.distance")
	}
	if n := len(s.Splits.Every) + len(s.Splits.At); n > 100 {
		return s.bad("splits", fmt.Sprintf("%d requests for splits are too many", n), "give at most 100")
	}
	if rules.Method == Tape {
		if len(s.Sessions) > 0 {
			return s.bad("session[0]", "a tape sheet has no bicycle rides", "drop the session tables, or set method = \"bicycle\"")
		}
		return s.checkTape("tape", s.Tape, true)
	}
	if len(s.Tape.Readings) > 0 {
		return s.bad("tape", "a bicycle sheet has no taped course", "put the taping of the calibration course under calibration.tape, or set method = \"tape\"")
	}
	if s.Calibration.Length == 0 && len(s.Calibration.Tape.Readings) == 0 {
		return s.bad("calibration", "the sheet gives no calibration course", "give calibration.length, or its tapings in calibration.tape.readings")
	}
	if s.Calibration.Length != 0 && len(s.Calibration.Tape.Readings) > 0 {
		return s.bad("calibration.tape", "the calibration course has both a length and tapings", "give one of the two")
	}
	if s.Calibration.Length != 0 {
		if err := s.checkCalibrationLength(float64(s.Calibration.Length)); err != nil {
			return err
		}
	} else if err := s.checkTape("calibration.tape", s.Calibration.Tape, false); err != nil {
		return err
	}
	if len(s.Sessions) == 0 {
		return s.bad("session", "the sheet has no rides", "give at least one [[session]] with its rides before and after")
	}
	if len(s.Sessions) > maxSessions {
		return s.bad("session", fmt.Sprintf("%d sessions are more than %d", len(s.Sessions), maxSessions), "split the sheet")
	}
	for i := range s.Sessions {
		if err := s.checkSession(i); err != nil {
			return err
		}
	}
	return nil
}

func (s *Sheet) checkCalibrationLength(m float64) error {
	if m < 20 || m > 5000 {
		return s.bad("calibration.length", fmt.Sprintf("a calibration course of %.6g m is not between 20 m and 5 km", m), "check its unit")
	}
	return nil
}

func (s *Sheet) checkTape(key string, t TapeSheet, course bool) error {
	if len(t.Readings) == 0 {
		return s.bad(key, key+" has no readings", "give each taping in readings")
	}
	if len(t.Readings) > maxRolls {
		return s.bad(key+".readings", fmt.Sprintf("%d tapings are more than %d", len(t.Readings), maxRolls), "split the sheet")
	}
	if (t.Nominal == 0) != (t.True == 0) {
		return s.bad(key, key+" needs both tape_says and tape_is", "give the length printed on the tape and its true length, or neither")
	}
	if t.Nominal != 0 {
		if r := math.Abs(float64(t.True/t.Nominal) - 1); r > 0.01 {
			return s.bad(key+".tape_is", "the true length of the tape differs from its printed length by more than 1 %", "check both")
		}
	}
	for i, r := range t.Readings {
		if t.PerPull != 0 && r.Pulls == 0 && t.Pulls == 0 {
			return s.bad(key+".per_pull", fmt.Sprintf("reading %d does not say in how many pulls it was taped", i+1), "write it like \"10 x 30 m + 4.8 m\", or give pulls")
		}
		if d := r.Raw/t.Readings[0].Raw - 1; math.Abs(d) > 0.01 {
			return s.bad(key+".readings", fmt.Sprintf("readings 1 and %d differ by more than 1 %%", i+1), "all readings must be of the same stretch; check for a missed pull")
		}
		if !course {
			if err := s.checkCalibrationLength(r.Raw); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *Sheet) checkSession(i int) error {
	ses := s.Sessions[i]
	key := fmt.Sprintf("session[%d]", i)
	if len(ses.Before) == 0 {
		return s.bad(key, "session "+ses.label(i)+" has no calibration rides before", "give before = [\"04000-09610\", …]")
	}
	for _, side := range []struct {
		name  string
		rolls []Roll
	}{{"before", ses.Before}, {"after", ses.After}} {
		if len(side.rolls) > maxRolls {
			return s.bad(key+"."+side.name, fmt.Sprintf("%d calibration rides are more than %d", len(side.rolls), maxRolls), "split the sheet")
		}
		first := 0.0
		for n, r := range side.rolls {
			if err := s.checkRoll(fmt.Sprintf("%s.%s[%d]", key, side.name, n), r); err != nil {
				return err
			}
			g := gain(r, s.modulus())
			if n == 0 {
				first = g
			}
			// A tenth is far beyond any tyre; it is a slip of the pen or a
			// counter with more digits than said.
			if math.Abs(g/first-1) > 0.1 {
				return s.bad(fmt.Sprintf("%s.%s[%d]", key, side.name, n), fmt.Sprintf("calibration rides 1 and %d of session %s differ by more than a tenth (%.6g and %.6g)", n+1, ses.label(i), first, g),
					"check the readings and counter.digits")
			}
		}
	}
	if len(ses.Rides) > maxCourse {
		return s.bad(key, fmt.Sprintf("%d course rides are more than %d", len(ses.Rides), maxCourse), "split the sheet")
	}
	for j, ride := range ses.Rides {
		rk := fmt.Sprintf("%s.ride[%d]", key, j)
		if len(ride.Pieces) == 0 {
			return s.bad(rk, "ride "+ride.label(j)+" has no readings", "give pieces = [\"34871-52998\"]")
		}
		if len(ride.Pieces) > maxRolls || len(ride.Marks) > maxMarks {
			return s.bad(rk, "ride "+ride.label(j)+" has too many pieces or marks", "split the sheet")
		}
		for n, p := range ride.Pieces {
			if err := s.checkRoll(fmt.Sprintf("%s.pieces[%d]", rk, n), p); err != nil {
				return err
			}
			if p.GainGiven && len(ride.Marks) > 0 {
				return s.bad(rk+".pieces", "a ride with marks needs its readings, not only what the counter gained", "write start and end, as in \"34871-52998\"")
			}
		}
		for m, mark := range ride.Marks {
			mk := fmt.Sprintf("%s.mark[%d]", rk, m)
			if !mark.Reading.Known {
				return s.bad(mk, fmt.Sprintf("mark %d of ride %s has no reading", m+1, ride.label(j)), "give reading = 44120")
			}
			if mark.Reading.Count >= s.modulus() {
				return s.bad(mk+".reading", fmt.Sprintf("the reading %.6f does not fit a counter of %d digits", mark.Reading.Count, s.digits()), "set counter.digits")
			}
		}
	}
	return nil
}

func (s *Sheet) digits() int {
	if s.Counter.Digits == 0 {
		return 5
	}
	return int(s.Counter.Digits)
}

func (s *Sheet) checkRoll(key string, r Roll) error {
	if r.GainGiven {
		return nil
	}
	for _, v := range []float64{r.From, r.To} {
		if v >= s.modulus() {
			return s.bad(key, fmt.Sprintf("the reading %s does not fit a counter of %d digits", trim(v), s.digits()), "set counter.digits to the places of its display")
		}
	}
	if r.From == r.To {
		return s.bad(key, fmt.Sprintf("a ride from %s to %s has no counts", trim(r.From), trim(r.To)), "check the readings")
	}
	return nil
}

func (s Session) label(i int) string {
	if s.Name != "" {
		return quote(s.Name)
	}
	return strconv.Itoa(i + 1)
}

func (r Ride) label(j int) string {
	if r.Name != "" {
		return quote(r.Name)
	}
	return strconv.Itoa(j + 1)
}

// trim writes a reading without needless zeros.
func trim(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// gain is what the counter gained in a ride shorter than one turn of it.
func gain(r Roll, modulus float64) float64 {
	if r.GainGiven {
		return r.To
	}
	if r.To < r.From {
		return r.To - r.From + modulus
	}
	return r.To - r.From
}
