package measure

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"sort"
	"strings"

	"tautline/geo/inputerr"
	"tautline/strategy/table"
)

// readCSV reads a sheet of four columns with the heading
//
//	kind,name,from,to
//
// one figure per row, in the order of the day:
//
//	set,course.distance,10 km,
//	set,calibration.length,652.34 m,
//	taping,,10 x 30 m + 4.8 m,        (of the calibration course; of the course in tape mode)
//	session,first bicycle,,
//	before,,70015,77120               (or only what the counter gained, in from)
//	ride,first ride,,
//	piece,,34871,52998
//	mark,5 km,44120,
//	after,,78180,85286.5
//	split,every,1 km,                 (or split,at,3.2 km)
//
// "set" takes the keys of the TOML sheet, and inside a session also
// temperature_before, temperature_after, hours_between, laps and expected,
// which belong to the session or ride above.
func readCSV(name string, data []byte) (*Sheet, error) {
	places := &csvPlaces{file: name, at: map[string]place{}}
	s := &Sheet{where: places}
	r, err := table.NewReader(name, data, '#')
	if err != nil {
		return nil, err
	}
	fail := func(col int, what, advice string) error {
		line, column := r.FieldPos(col)
		return &inputerr.Error{File: name, Line: line, Column: column, What: what, Advice: advice}
	}
	const kinds = "set, taping, session, before, after, ride, piece, mark or split"
	heading := false
	for {
		rec, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			e := &inputerr.Error{File: name, What: "the row cannot be read", Advice: "check its quotes", Cause: err}
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				e.Line, e.Column = pe.Line, pe.Column
				e.What = "the row cannot be read: " + pe.Err.Error()
			}
			return nil, e
		}
		for i := range rec {
			rec[i] = strings.TrimSpace(rec[i])
		}
		if !heading {
			if strings.ToLower(strings.Join(rec, ",")) != "kind,name,from,to" {
				return nil, fail(0, "the first row must be the heading kind,name,from,to", "add it")
			}
			heading = true
			continue
		}
		if len(rec) > fields {
			return nil, fail(fields, fmt.Sprintf("the row has %d fields, not %d", len(rec), fields), "write decimal points, not commas")
		}
		given := len(rec)
		for len(rec) < fields {
			rec = append(rec, "")
		}
		row := csvRow{s: s, places: places, kind: strings.ToLower(rec[fieldKind]), name: rec[fieldName], from: rec[fieldFrom], to: rec[fieldTo]}
		row.at.line, row.at.column = r.FieldPos(fieldKind)
		field, err := row.apply()
		if errors.Is(err, errKind) {
			return nil, fail(field, fmt.Sprintf("%s is no kind of row", quote(rec[fieldKind])), "use "+kinds)
		}
		if err != nil {
			field = min(field, given-1) // a short row has no such field to point at
			what, advice := reason(err)
			return nil, fail(field, what, advice)
		}
	}
	if !heading {
		return nil, &inputerr.Error{File: name, Line: 1, What: "the sheet is empty", Advice: "start with the heading kind,name,from,to"}
	}
	return s, s.check()
}

var errKind = errors.New("unknown kind")

type place struct{ line, column int }

// csvPlaces remembers the row that gave a key.
type csvPlaces struct {
	file string
	at   map[string]place
}

// Err is the error at a key or at the nearest table above it.
func (p *csvPlaces) Err(key, what, advice string) *inputerr.Error {
	e := &inputerr.Error{File: p.file, What: what, Advice: advice}
	for k := key; k != ""; {
		if at, ok := p.at[k]; ok {
			e.Line, e.Column = at.line, at.column
			return e
		}
		k = k[:max(0, strings.LastIndexAny(k, ".["))]
	}
	return e
}

// The fields of a row.
const (
	fieldKind = iota
	fieldName
	fieldFrom
	fieldTo
	fields
)

type csvRow struct {
	s                    *Sheet
	places               *csvPlaces
	kind, name, from, to string
	at                   place
}

// note remembers this row as the place of a key, unless one above it gave it.
func (c csvRow) note(format string, args ...any) {
	key := fmt.Sprintf(format, args...)
	if _, there := c.places.at[key]; !there {
		c.places.at[key] = c.at
	}
}

// apply puts the row into the sheet. On an error it gives the field at fault.
func (c csvRow) apply() (field int, err error) {
	switch c.kind {
	case "set":
		return c.set()
	case "taping":
		return c.taping()
	case "session":
		c.note("session[%d]", len(c.s.Sessions))
		c.s.Sessions = append(c.s.Sessions, Session{Name: c.name})
		return 0, nil
	case "before", "after":
		return c.calibration()
	case "ride":
		return c.ride()
	case "piece":
		return c.piece()
	case "mark":
		return c.mark()
	case "split":
		return c.split()
	case "":
		if c.name+c.from+c.to == "" {
			return 0, nil
		}
	}
	return fieldKind, errKind
}

func (c csvRow) set() (field int, err error) {
	target, key := c.target()
	if target == nil {
		return fieldName, fmt.Errorf("unknown key %s; known: %s", quote(c.name), csvKeys())
	}
	c.note("%s", key)
	return fieldFrom, setText(target, c.from)
}

// taping is one of the course for a tape sheet, else of the calibration course.
func (c csvRow) taping() (field int, err error) {
	var t Taped
	if err := t.UnmarshalText([]byte(c.from)); err != nil {
		return fieldFrom, err
	}
	into, key := &c.s.Calibration.Tape, "calibration.tape"
	if c.s.Resolved().Method == Tape {
		into, key = &c.s.Tape, "tape"
	}
	c.note("%s", key)
	into.Readings = append(into.Readings, t)
	return 0, nil
}

func (c csvRow) calibration() (field int, err error) {
	ses, key, err := c.lastSession()
	if err != nil {
		return fieldKind, err
	}
	r, field, err := c.roll()
	if err != nil {
		return field, err
	}
	side := &ses.Before
	if c.kind == "after" {
		side = &ses.After
	}
	c.note("%s.%s", key, c.kind)
	c.note("%s.%s[%d]", key, c.kind, len(*side))
	*side = append(*side, r)
	return 0, nil
}

func (c csvRow) ride() (field int, err error) {
	ses, key, err := c.lastSession()
	if err != nil {
		return fieldKind, err
	}
	c.note("%s.ride[%d]", key, len(ses.Rides))
	ses.Rides = append(ses.Rides, Ride{Name: c.name})
	return 0, nil
}

func (c csvRow) piece() (field int, err error) {
	ride, key, err := c.lastRide()
	if err != nil {
		return fieldKind, err
	}
	r, field, err := c.roll()
	if err != nil {
		return field, err
	}
	c.note("%s.pieces", key)
	c.note("%s.pieces[%d]", key, len(ride.Pieces))
	ride.Pieces = append(ride.Pieces, r)
	return 0, nil
}

func (c csvRow) mark() (field int, err error) {
	ride, key, err := c.lastRide()
	if err != nil {
		return fieldKind, err
	}
	m := Mark{Name: c.name}
	if err := m.Reading.UnmarshalText([]byte(c.from)); err != nil {
		return fieldFrom, err
	}
	if c.to != "" {
		if err := m.At.UnmarshalText([]byte(c.to)); err != nil {
			return fieldTo, err
		}
	}
	c.note("%s.mark[%d]", key, len(ride.Marks))
	ride.Marks = append(ride.Marks, m)
	return 0, nil
}

func (c csvRow) split() (field int, err error) {
	var l Length
	if err := l.UnmarshalText([]byte(c.from)); err != nil {
		return fieldFrom, err
	}
	c.note("splits")
	switch strings.ToLower(c.name) {
	case "every":
		c.s.Splits.Every = append(c.s.Splits.Every, l)
	case "at":
		c.s.Splits.At = append(c.s.Splits.At, l)
	default:
		return fieldName, fmt.Errorf("a split row is named every or at, not %s", quote(c.name))
	}
	return 0, nil
}

// lastSession is the session that a row belongs to, with its key.
func (c csvRow) lastSession() (*Session, string, error) {
	i := len(c.s.Sessions) - 1
	if i < 0 {
		return nil, "", fmt.Errorf("a %s row needs a session row above it", c.kind)
	}
	return &c.s.Sessions[i], fmt.Sprintf("session[%d]", i), nil
}

// lastRide is the ride that a row belongs to, with its key.
func (c csvRow) lastRide() (*Ride, string, error) {
	ses, key, err := c.lastSession()
	if err != nil || len(ses.Rides) == 0 {
		return nil, "", fmt.Errorf("a %s row needs a ride row above it", c.kind)
	}
	j := len(ses.Rides) - 1
	return &ses.Rides[j], fmt.Sprintf("%s.ride[%d]", key, j), nil
}

// roll reads the two readings of the row, or what the counter gained in the
// first of the two fields. On an error it gives the field at fault.
func (c csvRow) roll() (r Roll, field int, err error) {
	if c.to == "" {
		err = r.UnmarshalText([]byte(c.from))
		return r, fieldFrom, err
	}
	if r.From, err = reading(c.from); err != nil {
		return r, fieldFrom, err
	}
	r.To, err = reading(c.to)
	return r, fieldTo, err
}

// settable gives the single values of a sheet by key.
func (s *Sheet) settable() map[string]any {
	m := map[string]any{
		"title": &s.Title, "source": &s.Source, "rules": &s.Rules, "purpose": &s.Purpose, "method": &s.Method,
		"course.distance": &s.Course.Distance, "course.expected": &s.Course.Expected, "course.lap_step": &s.Course.LapStep,
		"settings.constant": &s.Settings.Constant, "settings.factor": &s.Settings.Factor,
		"settings.tolerance": &s.Settings.Tolerance, "settings.allowance": &s.Settings.Allowance,
		"settings.length_that_counts": &s.Settings.Counts,
		"settings.constant_rounding":  &s.Settings.ConstantRounding, "settings.constant_per": &s.Settings.ConstantPer,
		"counter.digits": &s.Counter.Digits, "counter.unit": &s.Counter.Unit, "counter.step": &s.Counter.Step,
		"calibration.length": &s.Calibration.Length,
	}
	for prefix, t := range map[string]*TapeSheet{"calibration.tape.": &s.Calibration.Tape, "tape.": &s.Tape} {
		m[prefix+"temperature"] = &t.Temperature
		m[prefix+"coefficient"] = &t.Coefficient
		m[prefix+"tape_says"] = &t.Nominal
		m[prefix+"tape_is"] = &t.True
		m[prefix+"per_pull"] = &t.PerPull
		m[prefix+"pulls"] = &t.Pulls
		m[prefix+"aim"] = &t.Aim
	}
	return m
}

// target finds what a "set" row sets, with its key; nil when there is no such
// key.
func (c csvRow) target() (into any, key string) {
	if into := c.s.settable()[c.name]; into != nil {
		return into, c.name
	}
	if ses, key, err := c.lastSession(); err == nil {
		key += "." + c.name
		switch c.name {
		case "temperature_before":
			return &ses.TempBefore, key
		case "temperature_after":
			return &ses.TempAfter, key
		case "hours_between":
			return &ses.Hours, key
		}
	}
	if ride, key, err := c.lastRide(); err == nil {
		key += "." + c.name
		switch c.name {
		case "laps":
			return &ride.Laps, key
		case "expected":
			return &ride.Expected, key
		}
	}
	return nil, ""
}

func csvKeys() string {
	var names []string
	for k := range new(Sheet).settable() {
		names = append(names, k)
	}
	sort.Strings(names)
	return strings.Join(append(names, "temperature_before", "temperature_after", "hours_between", "laps", "expected"), ", ")
}
