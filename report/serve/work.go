package serve

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"math"
	"strconv"
	"strings"
	"time"

	"tautline/geo/gpxfile"
	"tautline/geo/heights"
	"tautline/geo/inputerr"
	"tautline/geo/record"
	"tautline/report/band"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/demo"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/review"
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

// Closure is a restriction of the road that was drawn on the strip map, in
// metres along the drawn course of one lap.
type Closure struct {
	From, To float64
	Lap      int // 0: every lap
	Use      string
	Width    string
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

// download is a file to be taken away.
type download struct {
	Name, Type, Label string
	content           []byte
}

// result is what was worked out.
type result struct {
	sheet     *page.Sheet
	body      template.HTML
	downloads []download
	laid      *race.Race
	lap       float64 // m, length of the drawn course of one lap
	laps      int
	raceSheet *sheet.Sheet
	notes     []string // about the plan
}

// nothing is a folder without files: a sheet from the outside reads no disk.
type nothing struct{}

func (nothing) Open(name string) (fs.File, error) {
	return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
}

// work carries an input out. say tells how far it is. Between its steps it
// looks whether it is still wanted.
func work(ctx context.Context, in *input, say func(string)) (*result, *Problem, error) {
	step := func(what string) error {
		say(what)
		return ctx.Err()
	}
	u := quantity.Metric
	if in.Fields.Units == "mi" {
		u = quantity.Imperial
	}
	if !in.Course.Given() {
		return nil, &Problem{"course", "a course is needed: a GPX file with the drawn course"}, nil
	}
	if in.Task == LastRace && !in.Record.Given() {
		return nil, &Problem{"record", "a record is needed: the GPX file that the watch wrote"}, nil
	}
	if in.Task == NextRace && strings.TrimSpace(in.Fields.Goal) == "" {
		return nil, &Problem{"goal", "a plan needs a goal: write it as 3:30:00 or 45:10"}, nil
	}
	if err := step("reading the course"); err != nil {
		return nil, nil, err
	}
	s, p := raceSheet(in)
	if p != nil {
		return nil, p, nil
	}
	drawn, err := gpxfile.Read(in.Course.Name, bytes.NewReader(in.Course.content))
	if err != nil {
		return nil, problem("course", err), nil
	}
	if err := step("laying out the road and pulling the shortest line"); err != nil {
		return nil, nil, err
	}
	r, err := race.Prepare(in.Course.Name, drawn, s)
	if err != nil {
		return nil, problem(blame(in, err), err), nil
	}
	ground, err := heights.FromCourse(r.Course, heights.Options{})
	if err != nil {
		return nil, problem("course", err), nil
	}
	out := &result{laid: r, raceSheet: s, laps: s.LapCount(), lap: r.Course.Length() / float64(s.LapCount())}
	names := []string{text.Clean(in.Course.Name)}
	if in.Sheet.Given() {
		names = append(names, text.Clean(in.Sheet.Name))
	}
	look := page.Options{Units: u, Ground: ground, Date: time.Now().Format(time.DateOnly)}
	switch in.Task {
	case LastRace:
		names = append(names, text.Clean(in.Record.Name))
		look.Source = strings.Join(names, ", ")
		p, err := out.last(in, look, step)
		if p != nil || err != nil {
			return nil, p, err
		}
	case NextRace:
		look.Source = strings.Join(names, ", ")
		p, err := out.next(in, look, step)
		if p != nil || err != nil {
			return nil, p, err
		}
	default:
		look.Source = strings.Join(names, ", ")
		if err := step("trying other roads"); err != nil {
			return nil, nil, err
		}
		doubts, err := r.Doubts()
		if err != nil {
			return nil, problem("", err), nil
		}
		if out.sheet, err = page.Line(r, doubts, look); err != nil {
			return nil, nil, err
		}
		out.add("turns.csv", "text/csv; charset=utf-8", "turns as a table", turnsCSV(r, nil))
		b, err := document.LineGeoJSON(r)
		if err != nil {
			return nil, nil, err
		}
		out.add("line.geojson", "application/geo+json", "shortest line as GeoJSON", b)
	}
	if err := step("drawing"); err != nil {
		return nil, nil, err
	}
	whole, err := out.sheet.HTML()
	if err != nil {
		return nil, nil, err
	}
	if out.body, err = out.sheet.Body(); err != nil {
		return nil, nil, err
	}
	line, err := document.LineGPX(r)
	if err != nil {
		return nil, nil, err
	}
	first := download{"page.html", "text/html; charset=utf-8", "this page as a file", whole}
	out.downloads = append([]download{first}, out.downloads...)
	out.add("line.gpx", "application/gpx+xml", "shortest line as GPX", line)
	out.add("race.toml", "application/toml; charset=utf-8", "race sheet", s.Bytes())
	return out, nil, ctx.Err()
}

func (out *result) add(name, kind, label string, b []byte) {
	out.downloads = append(out.downloads, download{name, kind, label, b})
}

// blame guesses which field an error of the layout is about.
func blame(in *input, err error) string {
	var e *inputerr.Error
	if errors.As(err, &e) {
		switch {
		case in.Sheet.Given() && e.File == in.Sheet.Name:
			return "sheet"
		case e.File == in.Course.Name:
			return "course"
		}
	}
	if len(in.Closures) > 0 {
		return "closure"
	}
	return "road"
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
		s.Folder(demo.Files())
	} else {
		s.Folder(nothing{})
	}
	for _, f := range []struct {
		field, text string
		least, most float64
		parse       func(string) (float64, error)
		set         func(float64)
	}{
		{"width", in.Fields.Width, 0.5, 200, quantity.ParseLength, func(v float64) { s.Road.Width = &v }},
		{"radius", in.Fields.Radius, 0, 100, quantity.ParseLength, func(v float64) { s.Road.CornerRadius = &v }},
		{"official", in.Fields.Official, 100, 1e6, far, func(v float64) { s.Official = v }},
	} {
		if strings.TrimSpace(f.text) == "" {
			continue
		}
		v, err := f.parse(f.text)
		if err != nil {
			return nil, problem(f.field, err)
		}
		if v < f.least || v > f.most {
			return nil, &Problem{f.field, fmt.Sprintf("%q is out of range: %g m to %g m", text.Clean(f.text), f.least, f.most)}
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
				return nil, problem("closure", err)
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

func far(s string) (float64, error) { return quantity.ParseDistance(s, quantity.Metre) }

// last reviews a record.
func (out *result) last(in *input, look page.Options, step func(string) error) (*Problem, error) {
	if err := step("reading the record"); err != nil {
		return nil, err
	}
	f, err := gpxfile.Read(in.Record.Name, bytes.NewReader(in.Record.content))
	if err != nil {
		return problem("record", err), nil
	}
	line, notes, err := f.Record()
	if err != nil {
		return problem("record", err), nil
	}
	r := out.laid
	o := review.Options{Doubt: review.UsualDoubt(r.Sheet.Road.Width != nil, r.Sheet.Road.CornerRadius != nil)}
	if t := strings.TrimSpace(in.Fields.Watch); t != "" {
		if o.Watch, err = far(t); err != nil {
			return problem("watch", err), nil
		}
		if o.Watch < 10 || o.Watch > 1e6 {
			return &Problem{"watch", "what the watch showed should be 10 m to 1000 km"}, nil
		}
	}
	if look.Units == quantity.Imperial {
		o.Mark = quantity.Mile
	}
	if err := step("following the record along the course, and inferring where you ran"); err != nil {
		return nil, err
	}
	rec := record.Clean(line)
	v, err := review.Of(r, rec, o)
	if err != nil {
		p := problem("record", err)
		p.What = text.Clean(in.Record.Name) + ": " + p.What
		return p, nil
	}
	v.Notes = append(append(append([]string(nil), f.Warnings...), notes...), v.Notes...)
	doc := document.NewReview(r, rec.Name, v)
	settings := plan.Settings{Model: effort.Default()}
	if t := strings.TrimSpace(in.Fields.Goal); t != "" {
		if settings.Goal, err = quantity.ParseClock(t); err != nil {
			return problem("goal", err), nil
		}
	}
	ran, err := plan.After(r, look.Ground, v, look.Units, settings)
	if err != nil {
		return problem("goal", err), nil
	}
	doc.Effort = document.NewEffort(ran, settings.Model, document.CourseHeights)
	doc.Warnings = append(doc.Warnings, ran.Notes...)
	if err := step("drawing"); err != nil {
		return nil, err
	}
	run := page.RunOf(r, v, rec)
	if strings.TrimSpace(in.Fields.Goal) != "" {
		made, c, p := out.plan(r, in, look)
		if p != nil {
			return p, nil
		}
		run.Plan = page.Splits(r, c, made)
		if err := out.addBand(r, made, c, look); err != nil {
			return nil, err
		}
	}
	out.sheet, err = page.Review(r, doc, run, look)
	out.add("turns.csv", "text/csv; charset=utf-8", "turns as a table", turnsCSV(r, doc.Turns))
	return nil, err
}

// plan is even effort for the goal on the form.
func (out *result) plan(r *race.Race, in *input, look page.Options) (*plan.Plan, *plan.Course, *Problem) {
	goal, err := quantity.ParseClock(in.Fields.Goal)
	if err != nil {
		return nil, nil, problem("goal", err)
	}
	route, notes := plan.FromRace(r, look.Ground)
	out.notes = notes
	c, err := plan.NewCourse(route)
	if err != nil {
		return nil, nil, problem("course", err)
	}
	distance, unit, name := quantity.Kilometre, quantity.Kilometre, "km"
	if look.Units == quantity.Imperial {
		distance, unit, name = quantity.Mile, quantity.Mile, "mi"
	}
	switch in.Fields.Every {
	case "", "1":
	case "5":
		distance *= 5
	default:
		return nil, nil, &Problem{"every", "splits are given every one or every five"}
	}
	marks, err := plan.Every(distance, unit, name, c.Official)
	if err != nil {
		return nil, nil, problem("every", err)
	}
	settings := plan.Settings{Name: text.Clean(in.Fields.Athlete), Goal: goal, Model: effort.Default()}
	for _, a := range r.Sheet.Aid {
		if a.Stop > 0 {
			settings.Stops = append(settings.Stops, plan.Stop{Name: a.Name, At: a.At, Seconds: a.Stop.Seconds()})
		}
	}
	made, err := plan.Make(c, marks, settings)
	if err != nil {
		return nil, nil, problem("goal", err)
	}
	return made, c, nil
}

// next plans a race.
func (out *result) next(in *input, look page.Options, step func(string) error) (*Problem, error) {
	if err := step("setting even effort"); err != nil {
		return nil, err
	}
	laid := *out.laid
	r := &laid
	made, c, p := out.plan(r, in, look)
	if p != nil {
		return p, nil
	}
	r.Notes = append(append([]string(nil), r.Notes...), out.notes...)
	var err error
	if out.sheet, err = page.Plan(r, c, made, look); err != nil {
		return nil, err
	}
	if err := out.addBand(r, made, c, look); err != nil {
		return nil, err
	}
	out.add("splits.csv", "text/csv; charset=utf-8", "splits as a table", band.CSV(made))
	b, err := band.GPX(made, plan.Places(r, c), look.Units)
	if err != nil {
		return nil, err
	}
	out.add("marks.gpx", "application/gpx+xml", "marks and targets as GPX", b)
	return nil, nil
}

// addBand offers the pace band of a plan.
func (out *result) addBand(r *race.Race, made *plan.Plan, c *plan.Course, look page.Options) error {
	opts := band.Options{Units: look.Units, Course: c, Model: plan.Describe(effort.Default())}
	if !r.Sheet.Date.IsZero() {
		opts.Date = r.Sheet.Date.Format("2 January 2006")
	}
	b, err := band.Page([]*plan.Plan{made}, nil, opts)
	if err != nil {
		return err
	}
	out.add("pace-band.html", "text/html; charset=utf-8", "pace band to print", b)
	return nil
}

// turnsCSV is the turns as a table, with what was lost at each when they were
// run. It holds no text from a file.
func turnsCSV(r *race.Race, run []document.ReviewTurn) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	head := []string{"turn", "at_m", "angle_deg", "side", "lat", "lon"}
	if run != nil {
		head = append(head, "extra_m", "extra_low_m", "extra_high_m", "lost_s", "lost_low_s", "lost_high_s")
	}
	_ = w.Write(head) // writing into memory cannot fail
	num := func(v float64, d int) string {
		if math.IsNaN(v) {
			return ""
		}
		return strconv.FormatFloat(v, 'f', d, 64)
	}
	by := map[int]document.ReviewTurn{}
	for _, t := range run {
		by[t.Number] = t
	}
	for _, t := range document.NewLine(r, nil).Turns {
		row := []string{strconv.Itoa(t.Number), num(t.AtM, 1), num(t.AngleDeg, 1), t.Side, num(t.Lat, 7), num(t.Lon, 7)}
		if run != nil {
			x, ok := by[t.Number]
			switch {
			case !ok:
				row = append(row, "", "", "", "", "", "")
			case x.LostS == nil:
				row = append(row, num(x.ExtraM.Value, 2), num(x.ExtraM.Low, 2), num(x.ExtraM.High, 2), "", "", "")
			default:
				row = append(row, num(x.ExtraM.Value, 2), num(x.ExtraM.Low, 2), num(x.ExtraM.High, 2), num(x.LostS.Value, 2), num(x.LostS.Low, 2), num(x.LostS.High, 2))
			}
		}
		_ = w.Write(row)
	}
	w.Flush()
	return b.Bytes()
}

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
