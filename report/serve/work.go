package serve

import (
	"bytes"
	"context"
	"errors"
	"html/template"
	"slices"
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
)

// result is what was worked out.
type result struct {
	sheet     *page.Sheet
	body      template.HTML
	downloads []download
	laid      *race.Race
	lap       float64 // m, length of the drawn course of one lap
	laps      int
}

// work carries an input out. say tells how far it is. Between its steps it
// looks whether it is still wanted.
func work(ctx context.Context, in *input, say func(string)) (*result, *Problem, error) {
	step := func(what string) error {
		say(what)
		return ctx.Err()
	}
	if p := in.missing(); p != nil {
		return nil, p, nil
	}
	out, look, p, err := layOut(in, step)
	if p != nil || err != nil {
		return nil, p, err
	}
	switch in.Task {
	case LastRace:
		p, err = out.last(in, look, step)
	case NextRace:
		p, err = out.next(in, look, step)
	case Measuring:
		err = out.measuring(look, step)
	}
	if p != nil || err != nil {
		return nil, p, err
	}
	if err := step("drawing"); err != nil {
		return nil, nil, err
	}
	if err := out.complete(); err != nil {
		return nil, nil, err
	}
	return out, nil, ctx.Err()
}

// missing says what else a task needs.
func (in *input) missing() *Problem {
	switch {
	case !in.Course.Given():
		return &Problem{"course", "a course is needed: a GPX file with the drawn course"}
	case in.Task == LastRace && !in.Record.Given():
		return &Problem{"record", "a record is needed: the GPX file that the watch wrote"}
	case in.Task == NextRace && strings.TrimSpace(in.Fields.Goal) == "":
		return &Problem{"goal", "a plan needs a goal: write it as 3:30:00 or 45:10"}
	}
	return nil
}

// layOut prepares the race of an input, and says how its sheet is drawn.
func layOut(in *input, step func(string) error) (*result, page.Options, *Problem, error) {
	none := page.Options{}
	if err := step("reading the course"); err != nil {
		return nil, none, nil, err
	}
	s, p := raceSheet(in)
	if p != nil {
		return nil, none, p, nil
	}
	drawn, err := gpxfile.Read(in.Course.Name, bytes.NewReader(in.Course.content))
	if err != nil {
		return nil, none, problem("course", err), nil
	}
	if err := step("laying out the road and pulling the shortest line"); err != nil {
		return nil, none, nil, err
	}
	r, err := race.Prepare(in.Course.Name, drawn, s)
	if err != nil {
		return nil, none, problem(blame(in, err), err), nil
	}
	ground, err := heights.FromCourse(r.Course)
	if err != nil {
		return nil, none, problem("course", err), nil
	}
	files := []string{text.Clean(in.Course.Name)}
	if in.Sheet.Given() {
		files = append(files, text.Clean(in.Sheet.Name))
	}
	if in.Task == LastRace {
		files = append(files, text.Clean(in.Record.Name))
	}
	return &result{laid: r, laps: s.LapCount(), lap: r.Course.Length() / float64(s.LapCount())},
		page.Options{Units: in.units(), Ground: ground, Date: time.Now().Format(time.DateOnly), Source: strings.Join(files, ", ")}, nil, nil
}

// measuring shows the shortest line and how sure it is.
func (out *result) measuring(look page.Options, step func(string) error) error {
	if err := step("trying other roads"); err != nil {
		return err
	}
	r := out.laid
	var err error
	if out.sheet, err = page.Line(r, r.Doubts(), look); err != nil {
		return err
	}
	out.add("turns.csv", "text/csv; charset=utf-8", "turns as a table", turnsCSV(r, nil))
	b, err := document.LineGeoJSON(r)
	out.add("line.geojson", "application/geo+json", "shortest line as GeoJSON", b)
	return err
}

// complete makes the page, and the files that every result has.
func (out *result) complete() error {
	whole, err := out.sheet.HTML()
	if err != nil {
		return err
	}
	if out.body, err = out.sheet.Body(); err != nil {
		return err
	}
	line, err := document.LineGPX(out.laid)
	if err != nil {
		return err
	}
	first := download{"page.html", "text/html; charset=utf-8", "this page as a file", whole}
	out.downloads = append([]download{first}, out.downloads...)
	out.add("line.gpx", "application/gpx+xml", "shortest line as GPX", line)
	out.add("race.toml", "application/toml; charset=utf-8", "race sheet", out.laid.Sheet.Bytes())
	return nil
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
		if o.Watch, err = parseDistance(t); err != nil {
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
	var watch *review.WatchError
	if errors.As(err, &watch) {
		return problem("watch", err), nil
	}
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
	if ran.Planned != nil {
		if err := out.addBand(r, ran.Planned, ran.Course, look); err != nil {
			return nil, err
		}
	}
	out.sheet, err = page.Review(r, doc, page.RunOf(r, v, rec, ran), look)
	out.add("turns.csv", "text/csv; charset=utf-8", "turns as a table", turnsCSV(r, doc.Turns))
	return nil, err
}

// next plans a race.
func (out *result) next(in *input, look page.Options, step func(string) error) (*Problem, error) {
	if err := step("setting even effort"); err != nil {
		return nil, err
	}
	route, notes := plan.FromRace(out.laid, look.Ground)
	c, err := plan.NewCourse(route)
	if err != nil {
		return problem("course", err), nil
	}
	made, p := planned(in, c, plan.SheetStops(out.laid.Sheet))
	if p != nil {
		return p, nil
	}
	r := *out.laid // what is noted about the plan stands on its page alone
	r.Notes = append(slices.Clone(r.Notes), notes...)
	if out.sheet, err = page.Plan(&r, c, made, look); err != nil {
		return nil, err
	}
	if err := out.addBand(&r, made, c, look); err != nil {
		return nil, err
	}
	out.add("splits.csv", "text/csv; charset=utf-8", "splits as a table", band.CSV(made))
	b, err := band.GPX(made, plan.Places(&r, c), look.Units)
	out.add("marks.gpx", "application/gpx+xml", "marks and targets as GPX", b)
	return nil, err
}

// planned is even effort for the goal on the form.
func planned(in *input, c *plan.Course, stops []plan.Stop) (*plan.Plan, *Problem) {
	goal, err := quantity.ParseClock(in.Fields.Goal)
	if err != nil {
		return nil, problem("goal", err)
	}
	u := in.units()
	step := u.Per()
	switch in.Fields.Every {
	case "", "1":
	case "5":
		step *= 5
	default:
		return nil, &Problem{"every", "splits are given every one or every five"}
	}
	marks, err := plan.Every(step, u.Per(), u.Name(), c.Official)
	if err != nil {
		return nil, problem("every", err)
	}
	made, err := plan.Make(c, marks, plan.Settings{Name: text.Clean(in.Fields.Athlete), Goal: goal, Model: effort.Default(), Stops: stops})
	if err != nil {
		return nil, problem("goal", err)
	}
	return made, nil
}
