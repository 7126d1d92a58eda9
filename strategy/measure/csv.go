package measure

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"sort"
	"strings"

	"tautline/geo/inputerr"
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
	at := &csvPlaces{file: name, at: map[string]place{}}
	s := &Sheet{where: at}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = true
	r.Comment = '#'
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
		if len(rec) > 4 {
			return nil, fail(4, fmt.Sprintf("the row has %d fields, not 4", len(rec)), "write decimal points, not commas")
		}
		given := len(rec)
		for len(rec) < 4 {
			rec = append(rec, "")
		}
		row := csvRow{s: s, at: at.at, kind: strings.ToLower(rec[0]), name: rec[1], from: rec[2], to: rec[3]}
		row.line, row.column = r.FieldPos(0)
		field, err := row.apply()
		if errors.Is(err, errKind) {
			return nil, fail(0, fmt.Sprintf("%s is no kind of row", quote(rec[0])), "use "+kinds)
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

type csvRow struct {
	s                    *Sheet
	at                   map[string]place
	kind, name, from, to string
	line, column         int
}

// apply puts the row into the sheet. On an error it gives the field at fault.
func (c csvRow) apply() (field int, err error) {
	s := c.s
	note := func(key string) {
		if _, there := c.at[key]; !there {
			c.at[key] = place{c.line, c.column}
		}
	}
	session := func() (*Session, string, error) {
		if len(s.Sessions) == 0 {
			return nil, "", fmt.Errorf("a %s row needs a session row above it", c.kind)
		}
		i := len(s.Sessions) - 1
		return &s.Sessions[i], fmt.Sprintf("session[%d]", i), nil
	}
	ride := func() (*Ride, string, error) {
		ses, key, err := session()
		if err != nil || len(ses.Rides) == 0 {
			return nil, "", fmt.Errorf("a %s row needs a ride row above it", c.kind)
		}
		j := len(ses.Rides) - 1
		return &ses.Rides[j], fmt.Sprintf("%s.ride[%d]", key, j), nil
	}
	roll := func() (Roll, int, error) {
		var r Roll
		if c.to == "" {
			return r, 2, r.UnmarshalText([]byte(c.from))
		}
		a, err := reading(c.from)
		if err != nil {
			return r, 2, err
		}
		b, err := reading(c.to)
		return Roll{From: a, To: b}, 3, err
	}
	switch c.kind {
	case "set":
		target, key := c.target()
		if target == nil {
			return 1, fmt.Errorf("unknown key %s; known: %s", quote(c.name), csvKeys())
		}
		note(key)
		return 2, setText(target, c.from)
	case "taping":
		var t Taped
		if err := t.UnmarshalText([]byte(c.from)); err != nil {
			return 2, err
		}
		into, key := &s.Calibration.Tape, "calibration.tape"
		if s.Resolved().Method == Tape {
			into, key = &s.Tape, "tape"
		}
		note(key)
		into.Readings = append(into.Readings, t)
	case "session":
		note(fmt.Sprintf("session[%d]", len(s.Sessions)))
		s.Sessions = append(s.Sessions, Session{Name: c.name})
	case "before", "after":
		ses, key, err := session()
		if err != nil {
			return 0, err
		}
		r, f, err := roll()
		if err != nil {
			return f, err
		}
		n := len(ses.Before)
		if c.kind == "after" {
			n = len(ses.After)
		}
		note(key + "." + c.kind)
		note(fmt.Sprintf("%s.%s[%d]", key, c.kind, n))
		if c.kind == "before" {
			ses.Before = append(ses.Before, r)
		} else {
			ses.After = append(ses.After, r)
		}
	case "ride":
		ses, key, err := session()
		if err != nil {
			return 0, err
		}
		note(fmt.Sprintf("%s.ride[%d]", key, len(ses.Rides)))
		ses.Rides = append(ses.Rides, Ride{Name: c.name})
	case "piece":
		rd, key, err := ride()
		if err != nil {
			return 0, err
		}
		r, f, err := roll()
		if err != nil {
			return f, err
		}
		note(key + ".pieces")
		note(fmt.Sprintf("%s.pieces[%d]", key, len(rd.Pieces)))
		rd.Pieces = append(rd.Pieces, r)
	case "mark":
		rd, key, err := ride()
		if err != nil {
			return 0, err
		}
		m := Mark{Name: c.name}
		if err := m.Reading.UnmarshalText([]byte(c.from)); err != nil {
			return 2, err
		}
		if c.to != "" {
			if err := m.At.UnmarshalText([]byte(c.to)); err != nil {
				return 3, err
			}
		}
		note(fmt.Sprintf("%s.mark[%d]", key, len(rd.Marks)))
		rd.Marks = append(rd.Marks, m)
	case "split":
		var l Length
		if err := l.UnmarshalText([]byte(c.from)); err != nil {
			return 2, err
		}
		note("splits")
		switch strings.ToLower(c.name) {
		case "every":
			s.Splits.Every = append(s.Splits.Every, l)
		case "at":
			s.Splits.At = append(s.Splits.At, l)
		default:
			return 1, fmt.Errorf("a split row is named every or at, not %s", quote(c.name))
		}
	case "":
		if c.name+c.from+c.to != "" {
			return 0, errKind
		}
	default:
		return 0, errKind
	}
	return 0, nil
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

// target finds what a "set" row sets, nil when there is no such key.
func (c csvRow) target() (any, string) {
	s := c.s
	if t := s.settable()[c.name]; t != nil {
		return t, c.name
	}
	if len(s.Sessions) == 0 {
		return nil, ""
	}
	i := len(s.Sessions) - 1
	ses := &s.Sessions[i]
	key := fmt.Sprintf("session[%d].%s", i, c.name)
	switch c.name {
	case "temperature_before":
		return &ses.TempBefore, key
	case "temperature_after":
		return &ses.TempAfter, key
	case "hours_between":
		return &ses.Hours, key
	}
	if len(ses.Rides) > 0 {
		j := len(ses.Rides) - 1
		key = fmt.Sprintf("session[%d].ride[%d].%s", i, j, c.name)
		switch c.name {
		case "laps":
			return &ses.Rides[j].Laps, key
		case "expected":
			return &ses.Rides[j].Expected, key
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
