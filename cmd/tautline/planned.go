package main

import (
	"path/filepath"
	"strings"
	"time"

	"tautline/geo/gpxfile"
	"tautline/geo/heights"
	"tautline/report/band"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/forecast"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// planOutput makes plans and puts them where they were asked for.
type planOutput struct {
	o      *planOptions
	e      *env
	c      *plan.Course
	r      *race.Race
	ground *heights.Profile
	course string // file name
}

func (p *planOutput) one(marks []plan.Mark, s plan.Settings) error {
	o := p.o
	switch {
	case o.athlete != "":
		a, err := athlete.Open(o.athlete)
		if err != nil {
			return err
		}
		if s, err = p.athlete(a, s); err != nil {
			return err
		}
	case o.recent.value != nil:
		var err error
		if s.FlatPace, err = p.carried(*o.recent.value, o.recentDistance.value, o.recentCourse, s); err != nil {
			return err
		}
	}
	made, err := plan.Make(p.c, marks, s)
	if err != nil {
		return err
	}
	opts := p.options()
	if strings.EqualFold(filepath.Ext(o.band), ".svg") {
		p.e.files.Add(o.band, band.SVG(made, opts))
	} else if o.band != "" {
		bands, err := band.Page([]*plan.Plan{made}, nil, opts)
		if err != nil {
			return err
		}
		p.e.files.Add(o.band, bands)
	}
	if o.csv != "" {
		p.e.files.Add(o.csv, band.CSV(made))
	}
	if o.gpx != "" {
		b, err := band.GPX(made, plan.Places(p.r, p.c), o.show.in())
		if err != nil {
			return err
		}
		p.e.files.Add(o.gpx, b)
	}
	if o.page != "" {
		look, err := p.e.drawing(&o.show, p.r, p.course)
		if err != nil {
			return err
		}
		look.Ground = p.ground
		sheet, err := page.Plan(p.r, p.c, made, look)
		if err != nil {
			return err
		}
		if err := p.e.addPage(o.page, sheet); err != nil {
			return err
		}
	}
	if o.show.json {
		return p.e.json(document.NewPlan(made))
	}
	p.print(band.Text(made, p.e.screen), made.Model)
	return nil
}

func (p *planOutput) options() band.Options {
	opts := band.Options{Units: p.o.show.in(), Course: p.c}
	if strings.EqualFold(p.o.paper, "letter") {
		opts.Paper = band.Letter
	}
	if d := p.r.Sheet.Date; !d.IsZero() {
		opts.Date = d.Format("2 January 2006")
	}
	return opts
}

// print writes the lines and how they were reckoned.
func (p *planOutput) print(lines []string, model string) {
	for _, l := range lines {
		p.e.out.WriteString(strings.TrimRight(l, " ") + "\n")
	}
	method := "Effort: " + model + "."
	if p.ground.Known() {
		m := p.ground.Method()
		method += " " + strings.ToUpper(m[:1]) + m[1:] + "."
	}
	p.e.out.WriteString("\n")
	for _, l := range text.Wrap(method, p.e.screen.Width, 0) {
		p.e.out.WriteString(l + "\n")
	}
}

// athlete lays an athlete's file over the settings, and the flags over both.
func (p *planOutput) athlete(a *athlete.Athlete, s plan.Settings) (plan.Settings, error) {
	flags := s
	s = s.ForAthlete(a)
	p.o.own(&s)
	if flags.Name != "" {
		s.Name = flags.Name
	}
	if s.Goal != 0 || s.FlatPace != 0 {
		return s, nil
	}
	if p.o.recent.value != nil {
		flat, err := p.carried(*p.o.recent.value, p.o.recentDistance.value, p.o.recentCourse, s)
		s.FlatPace = flat
		return s, err
	}
	flat, err := p.forecast(a, s)
	s.FlatPace = flat
	return s, err
}

// forecast is the flat pace that an athlete's races or workouts say.
func (p *planOutput) forecast(a *athlete.Athlete, s plan.Settings) (float64, error) {
	then := s.Model
	then.Air = effort.Air{} // today's wind is no past race's
	f, err := forecast.ForGoal(a, forecast.Goal{Distance: p.c.Official, On: forecast.Day(p.r.Sheet.Date, a, time.Now())}, forecast.Options{Model: then, Course: pastCourses(a)})
	if err != nil {
		return 0, err
	}
	if f.None != "" {
		return 0, a.Err("name", "there is no goal, and "+f.None, "add "+a.Entry("goal", `"3:30:00"`)+" or a recent race; tautline forecast explains")
	}
	u := p.o.show.in()
	p.e.warn("%s has no goal: planned by a forecast from %s, %s on the level (%s to %s in nine of ten); tautline forecast explains", a.Name, f.From,
		quantity.Pace(f.FlatPace.Value, u), quantity.Pace(f.FlatPace.Low, u), quantity.Pace(f.FlatPace.High, u))
	return f.FlatPace.Value, nil
}

// carried is the flat pace that a recent race says for this one: its hills and
// its line taken out, when its course is given.
func (p *planOutput) carried(seconds float64, distance *float64, courseFile string, s plan.Settings) (float64, error) {
	e := plan.Equal{}
	if courseFile == "" {
		e = plan.Equal{Official: *distance, FlatPace: seconds / *distance, Time: seconds}
	} else {
		f, err := gpxfile.Open(courseFile)
		if err != nil {
			return 0, err
		}
		what := new(sheet.Sheet)
		if distance != nil {
			what.Official = *distance
		}
		r, err := race.Prepare(courseFile, f, what)
		if err != nil {
			return 0, err
		}
		ground, err := groundOf(r, "")
		if err != nil {
			return 0, err
		}
		c, _, err := layOut(r, ground, &weatherFlags{})
		if err != nil {
			return 0, err
		}
		// That day's wind, stops and deviations are not known.
		then := plan.Settings{Goal: seconds, Model: s.Model, Extra: s.Extra}
		then.Model.Air = effort.Air{}
		if e, err = plan.Level(c, then); err != nil {
			return 0, err
		}
	}
	return plan.Carry(e, p.c.Official)
}
