package serve

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"tautline/geo/inputerr"
	"tautline/report/text"
	"tautline/strategy/demo"
	"tautline/strategy/quantity"
	"tautline/strategy/sheet"
)

// Task is what somebody came to do.
type Task string

// The three entrances.
const (
	LastRace  Task = "last"
	NextRace  Task = "next"
	Measuring Task = "measuring"
)

func (t Task) known() bool { return t == LastRace || t == NextRace || t == Measuring }

// file is a file that was given, kept in memory only.
type file struct {
	Name    string
	content []byte
}

func (f *file) Given() bool { return f != nil && len(f.content) > 0 }

// Fields are the settings as they were typed.
type Fields struct {
	Width, Radius, Official, Watch, Goal, Every, Athlete, Units string
	Certified                                                   bool
	Said                                                        bool // Certified outranks the sheet
}

// input is all that a result is worked out from. It is not changed once a
// result stands on it: a change makes another.
type input struct {
	Task     Task
	Course   *file
	Record   *file
	Sheet    *file
	Fields   Fields
	Closures []Closure
	demo     bool
}

// size is the memory that its files take, bytes.
func (in *input) size() int {
	n := 0
	for _, f := range []*file{in.Course, in.Record, in.Sheet} {
		if f != nil {
			n += len(f.content)
		}
	}
	return n
}

// units are people's units.
func (in *input) units() quantity.Units {
	if in.Fields.Units == "mi" {
		return quantity.Imperial
	}
	return quantity.Metric
}

// Problem says what cannot be used and where on the form that is.
type Problem struct {
	Field string // name of the field, "" when it is none
	What  string
}

func problem(field string, err error) *Problem {
	var in *inputerr.Error
	if errors.As(err, &in) {
		return &Problem{field, text.Line(in.Error())}
	}
	return &Problem{field, text.Line(err.Error())}
}

// of names what the problem is with, as the form does.
func (p *Problem) of(name string) *Problem { return &Problem{p.Field, name + ": " + p.What} }

// nothing is a folder without files: a sheet from the outside reads no disk.
type nothing struct{}

func (nothing) Open(name string) (fs.File, error) {
	return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
}

// raceSheet is the sheet that was given, with the form laid over it.
func raceSheet(in *input) (*sheet.Sheet, *Problem) {
	s := new(sheet.Sheet)
	if in.Sheet.Given() {
		var err error
		if s, err = sheet.Read(in.Sheet.Name, in.Sheet.content); err != nil {
			return nil, problem("sheet", err)
		}
	}
	if in.demo {
		s.SetFolder(demo.Files())
	} else {
		s.SetFolder(nothing{})
	}
	for _, f := range []struct {
		field, name, text string
		least, most       float64
		parse             func(string) (float64, error)
		set               func(float64)
	}{
		{"width", "road, kerb to kerb", in.Fields.Width, 0.5, 200, quantity.ParseLength, func(v float64) { s.Road.Width = &v }},
		{"radius", "corner radius", in.Fields.Radius, 0, 100, quantity.ParseLength, func(v float64) { s.Road.CornerRadius = &v }},
		{"official", "official distance", in.Fields.Official, 100, 1e6, parseDistance, func(v float64) { s.Official = v }},
	} {
		if strings.TrimSpace(f.text) == "" {
			continue
		}
		v, err := f.parse(f.text)
		if err != nil {
			return nil, problem(f.field, err).of(f.name)
		}
		if v < f.least || v > f.most {
			return nil, &Problem{f.field, fmt.Sprintf("%s: %q is out of range: %g m to %g m", f.name, text.Clean(f.text), f.least, f.most)}
		}
		f.set(v)
	}
	if in.Fields.Said {
		s.Certified = in.Fields.Certified
		if s.Certified && s.Official == 0 {
			return nil, &Problem{"official", "a certified course has an official distance: write it, \"10 km\" say"}
		}
	}
	for i, c := range in.Closures {
		x := sheet.Stretch{Name: fmt.Sprintf("drawn %d", i+1), From: c.From, To: c.To, Lap: c.Lap}
		switch c.Use {
		case "right half":
			x.Use = sheet.RightHalf
		case "left half":
			x.Use = sheet.LeftHalf
		case "whole road":
			x.Use = sheet.WholeRoad
		case "":
		default:
			return nil, &Problem{"closure", "which side of the road may be used is not one of the choices"}
		}
		if strings.TrimSpace(c.Width) != "" {
			v, err := quantity.ParseLength(c.Width)
			if err != nil {
				return nil, problem("closure", err).of("width there")
			}
			if v < 0.5 || v > 200 {
				return nil, &Problem{"closure", "the width should be 0.5 m to 200 m"}
			}
			x.Width = &v
		}
		if x.Use == "" && x.Width == nil {
			return nil, &Problem{"closure", "say which part of the road may be used there, or how wide it is"}
		}
		s.Stretches = append(s.Stretches, x)
	}
	return s, nil
}

func parseDistance(s string) (float64, error) { return quantity.ParseDistance(s, quantity.Metre) }

// demoInput is the demo race for an entrance.
func demoInput(task Task) (*input, error) {
	read := func(name string) (*file, error) {
		b, err := fs.ReadFile(demo.Files(), name)
		return &file{name, b}, err
	}
	in := &input{Task: task, demo: true}
	var err error
	if in.Course, err = read(demo.CourseFile); err != nil {
		return nil, err
	}
	if in.Sheet, err = read(demo.SheetFile); err != nil {
		return nil, err
	}
	switch task {
	case LastRace:
		truth, err := demo.Known()
		if err != nil {
			return nil, err
		}
		runner := truth.Runners[0]
		for _, x := range truth.Runners { // the one with most to learn
			if x.ExtraM > runner.ExtraM {
				runner = x
			}
		}
		in.Fields.Watch = quantity.Distance(runner.WatchM, quantity.Metric)
		if in.Record, err = read(runner.File); err != nil {
			return nil, err
		}
		in.Fields.Goal = "45:00"
	case NextRace:
		in.Fields.Goal = "45:00"
	}
	return in, nil
}
