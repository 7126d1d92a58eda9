package main

import (
	"errors"
	"path/filepath"

	"github.com/spf13/pflag"

	"tautline/geo/inputerr"
	"tautline/strategy/quantity"
	"tautline/strategy/sheet"
)

// quantityFlag is a flag that takes a number with a unit, as its parser reads
// it: metres, seconds, s/m, m/s or a share. The value is nil until it is given.
type quantityFlag struct {
	value *float64
	parse func(string) (float64, error)
	text  string
}

func (f *quantityFlag) String() string { return f.text }
func (f *quantityFlag) Type() string   { return "string" }

func (f *quantityFlag) Set(s string) error {
	v, err := f.parse(s)
	if err != nil {
		return plain(err)
	}
	f.value, f.text = &v, s
	return nil
}

// plain drops the value from an error of package quantity, since the message
// about a flag names it already.
func plain(err error) error {
	var in *inputerr.Error
	if errors.As(err, &in) {
		return &inputerr.Error{What: in.What, Advice: in.Advice}
	}
	return err
}

// far reads a distance of the size of a course, near one of the size of a
// road; a bare number is metres in both.
func far(s string) (float64, error)  { return quantity.ParseDistance(s, quantity.Metre) }
func near(s string) (float64, error) { return quantity.ParseLength(s) }

// raceFlags say which race it is and what is not in its race sheet; they
// outrank the sheet. Every subcommand that takes a course shares them.
type raceFlags struct {
	sheet        string
	roadWidth    quantityFlag
	cornerRadius quantityFlag
	clearance    quantityFlag
	official     quantityFlag
	certified    bool
	courseIs     string
}

func (r *raceFlags) define(set *pflag.FlagSet) {
	r.roadWidth.parse, r.cornerRadius.parse, r.clearance.parse, r.official.parse = near, near, near, far
	set.StringVar(&r.sheet, "race", "", "`SHEET` the TOML file that describes the race")
	set.Var(&r.roadWidth, "road-width", "`METRES` from kerb to kerb, \"8\" or \"26 ft\"; 8 unless the sheet says")
	set.Var(&r.cornerRadius, "corner-radius", "`METRES` radius of the kerb at street corners; 5 unless the sheet says")
	set.Var(&r.clearance, "clearance", "`METRES` that the line keeps from every edge; 0.30 from kerbs and cones, 0.20 from painted lines unless the sheet says")
	set.Var(&r.official, "official", "`DISTANCE` that the race announces: \"10 km\", \"26.2 mi\", \"marathon\"")
	set.BoolVar(&r.certified, "certified", false, "a measurer has certified the official distance; it then outranks the drawn map")
	set.StringVar(&r.courseIs, "course-is", "", "`WHAT` \"road\" if the drawn course is the middle of the road, \"line\" if it is the measured line itself")
}

func (r *raceFlags) validate() error {
	limit := func(name string, f quantityFlag, least, most float64, advice string) error {
		if f.value != nil && (*f.value < least || *f.value > most) {
			return &usageError{"--" + name + " \"" + f.text + "\" is out of range", advice}
		}
		return nil
	}
	certified := error(nil)
	if r.certified && r.official.value == nil && r.sheet == "" {
		certified = &usageError{"--certified needs the official distance", "add --official \"10 km\""}
	}
	is := error(nil)
	if r.courseIs != "" && r.courseIs != string(sheet.DrawnRoad) && r.courseIs != string(sheet.DrawnLine) {
		is = &usageError{"--course-is \"" + r.courseIs + "\" is unknown", "write --course-is road or --course-is line"}
	}
	for _, err := range []error{
		limit("road-width", r.roadWidth, 0.5, 200, "it should be 0.5 m to 200 m"),
		limit("corner-radius", r.cornerRadius, 0, 100, "it should be 0 m to 100 m"),
		limit("clearance", r.clearance, 0, 5, "it should be 0 m to 5 m"),
		limit("official", r.official, 100, 1e6, "it should be 100 m to 1000 km"),
		certified, is,
	} {
		if err != nil {
			return err
		}
	}
	return nil
}

// load reads the race sheet, if there is one, and lays the flags over it.
func (r *raceFlags) load(e *env) (*sheet.Sheet, error) {
	s := new(sheet.Sheet)
	if r.sheet != "" {
		e.files.Input(r.sheet)
		var err error
		if s, err = sheet.Open(r.sheet); err != nil {
			return nil, err
		}
		if s.Kerbs != "" {
			e.files.Input(filepath.Join(filepath.Dir(r.sheet), filepath.FromSlash(s.Kerbs)))
		}
	}
	if v := r.roadWidth.value; v != nil {
		s.Road.Width = v
	}
	if v := r.cornerRadius.value; v != nil {
		s.Road.CornerRadius = v
	}
	if v := r.clearance.value; v != nil {
		s.Road.Clearance = sheet.Clearance{Kerb: v, Cone: v, Line: v}
	}
	if v := r.official.value; v != nil {
		s.Official = *v
	}
	if r.courseIs != "" {
		s.CourseIs = sheet.CourseIs(r.courseIs)
	}
	if r.certified {
		s.Certified = true
		if s.Official == 0 {
			return nil, &inputerr.Error{File: r.sheet, What: "--certified needs the official distance, and the race sheet does not give it", Advice: "add --official \"10 km\""}
		}
	}
	return s, nil
}

// showFlags say how results are shown.
type showFlags struct {
	units string
	miles bool
	json  bool
}

func (s *showFlags) define(set *pflag.FlagSet) {
	set.StringVar(&s.units, "units", "", "`UNITS` \"km\" (as usual) or \"mi\"")
	set.BoolVar(&s.miles, "miles", false, "the same as --units mi")
	set.BoolVar(&s.json, "json", false, "print one JSON object instead of text; lengths in metres, times in seconds, angles in degrees")
}

func (s *showFlags) validate() error {
	if s.units == "" {
		return nil
	}
	u, err := quantity.ParseUnits(s.units)
	if err != nil {
		return &usageError{"--units \"" + s.units + "\" is unknown", "write --units km or --units mi"}
	}
	if s.miles && u != quantity.Imperial {
		return &usageError{"--miles and --units " + s.units + " contradict each other", "give one of them"}
	}
	return nil
}

// in gives the units to print in.
func (s *showFlags) in() quantity.Units {
	u, _ := quantity.ParseUnits(s.units) // checked by validate; "" is metric
	if s.miles {
		u = quantity.Imperial
	}
	return u
}
