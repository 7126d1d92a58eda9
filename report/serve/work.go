package serve

import (
	"bytes"
	"context"
	"errors"
	"html/template"
	"strings"
	"time"

	"tautline/geo/gpxfile"
	"tautline/geo/heights"
	"tautline/geo/inputerr"
	"tautline/report/band"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/effort"
	"tautline/strategy/pacing"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/review"
	"tautline/strategy/sheet"
)

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
		doubts := r.Doubts()
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

// last reviews a record.
func (out *result) last(in *input, look page.Options, step func(string) error) (*Problem, error) {
	if err := step("reading the record"); err != nil {
		return nil, err
	}
	f, err := gpxfile.Read(in.Record.Name, bytes.NewReader(in.Record.content))
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
	v, rec, err := review.OfFile(r, in.Record.Name, f, o)
	if err != nil {
		return problem("record", err), nil
	}
	doc := document.NewReview(r, rec.Name, v)
	settings := plan.Settings{Model: effort.Default()}
	if t := strings.TrimSpace(in.Fields.Goal); t != "" {
		if settings.Goal, err = quantity.ParseClock(t); err != nil {
			return problem("goal", err), nil
		}
	}
	ran, err := pacing.Of(r, look.Ground, v, look.Units, settings)
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
	step := look.Units.Per()
	switch in.Fields.Every {
	case "", "1":
	case "5":
		step *= 5
	default:
		return nil, nil, &Problem{"every", "splits are given every one or every five"}
	}
	marks, err := plan.Every(step, look.Units.Per(), text.Unit(look.Units), c.Official)
	if err != nil {
		return nil, nil, problem("every", err)
	}
	settings := plan.Settings{Name: text.Clean(in.Fields.Athlete), Goal: goal, Model: effort.Default(), Stops: plan.SheetStops(r.Sheet)}
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
