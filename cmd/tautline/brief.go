package main

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tautline/geo/interval"
	"tautline/report/evening"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/forecast"
	"tautline/strategy/plan"
	"tautline/strategy/start"
)

func briefCommand() *command {
	return &command{
		name: "brief", operands: "COURSE", for_: forCoaches,
		summary: "one page for the evening before: forecast, start, splits, turns, cautions",
		about: "Puts together for one athlete what the other subcommands work out: the forecast from the athlete's races, where to stand and what the crowd costs (with --pens), " +
			"the splits at even effort with that cost in them, the turns where running wide costs most, and cautions. " +
			"The goal of the athlete file is what is planned; without one, the forecast.",
		run: runBrief,
	}
}

type briefOptions struct {
	race    raceFlags
	show    showFlags
	athlete string
	pens    string
	terrain string
	page    string
	paper   string
	on      dayFlag
	heat    bool
	weather weatherFlags
}

func (o *briefOptions) define(set *pflag.FlagSet) {
	set.StringVar(&o.athlete, "athlete", "", "`FILE` the athlete's TOML file; needed")
	set.StringVar(&o.pens, "pens", "", "`FILE` the TOML file that describes the start, as tautline start reads it")
	set.StringVar(&o.page, "page", "", "`FILE` to write the brief to: one page to print, .html, that needs nothing from elsewhere")
	set.StringVar(&o.paper, "paper", "A4", "`PAPER` of the page: \"A4\" (as usual) or \"letter\"")
	set.Var(&o.on, "on", "`DATE` of the race, 2027-05-09; else that of the race sheet, else today")
	set.BoolVar(&o.heat, "heat", false, "take the heat of past races out where their temperature is given")
	set.StringVar(&o.terrain, "terrain", "", "`DIR` take heights from the HGT terrain tiles in this folder instead of the course's own")
	o.weather.define(set)
	o.race.define(set)
	o.show.define(set)
}

func (o *briefOptions) validate() error {
	if err := o.race.validate(); err != nil {
		return err
	}
	if err := o.weather.validate(o.race.sheet); err != nil {
		return err
	}
	if o.athlete == "" {
		return &usageError{"a brief is for one athlete", "add --athlete FILE"}
	}
	if err := pageName(o.page); err != nil {
		return err
	}
	if p := strings.ToLower(o.paper); p != "a4" && p != "letter" {
		return &usageError{"--paper \"" + o.paper + "\" is unknown", "write A4 or letter"}
	}
	return o.show.validate()
}

func runBrief(ctx context.Context, e *env, args []string) error {
	var o briefOptions
	operands, err := briefCommand().parse(e, args, &o, 1, 1)
	if err != nil {
		return err
	}
	e.show(&o.show)
	inputs := slices.DeleteFunc([]string{operands[0], o.athlete, o.pens}, func(s string) bool { return s == "" })
	if err := e.planned(inputs, o.page); err != nil {
		return err
	}
	a, err := athlete.Open(o.athlete)
	if err != nil {
		return err
	}
	r, c, err := o.race.course(e, operands[0], o.terrain, &o.weather)
	if err != nil {
		return err
	}
	s := plan.Settings{Model: effort.Default()}.ForAthlete(a)
	s.Stops = plan.SheetStops(r.Sheet)
	w, err := o.weather.of(r.Sheet, o.race.sheet)
	if err != nil {
		return err
	}
	w.on(&s)
	if _, err := sheetWeather(r.Sheet, o.race.sheet); err == nil && w == (weather{}) {
		e.warn("the race sheet gives the weather, which is not reckoned with: --weather does")
	}
	sheet := &evening.Sheet{Race: r.Name, Date: r.Sheet.Date, Turns: evening.Turns(r, c), Units: o.show.in()}
	if !o.on.IsZero() {
		sheet.Date = o.on.Time
	}
	if err := o.forecast(sheet, a, c, &s); err != nil {
		return err
	}
	if o.pens != "" {
		if err := o.start(e, sheet, turnsOf(r), c, &s); err != nil {
			return err
		}
	}
	marks, err := evening.Marks(c.Official, o.show.in())
	if err != nil {
		return err
	}
	if sheet.Plan, err = plan.Make(c, marks, s); err != nil {
		return err
	}
	if o.page != "" {
		b, err := evening.Page(sheet, strings.ToLower(o.paper))
		if err != nil {
			return err
		}
		e.files.Add(o.page, b)
	}
	if o.show.json {
		return e.json(sheet.Document())
	}
	e.out.Write(evening.Text(sheet, e.screen))
	return nil
}

// forecast puts the forecast on the sheet and, without a goal, into the
// settings. Beyond what the models hold for, a goal does without one.
func (o *briefOptions) forecast(sheet *evening.Sheet, a *athlete.Athlete, c *plan.Course, s *plan.Settings) error {
	inRange := c.Official >= forecast.LeastDistance && c.Official <= forecast.MostDistance
	if s.Goal > 0 && (!inRange || len(a.Races)+len(a.Workouts) == 0) {
		return nil
	}
	goal := forecast.Goal{Distance: c.Official, On: forecast.Day(sheet.Date, a, time.Now())}
	then := s.Model
	then.Air = effort.Air{} // the day's wind is no past race's
	f, err := forecast.ForGoal(a, goal, forecast.Options{Model: then, Heat: o.heat, Course: pastCourses(a)})
	if err != nil {
		return err
	}
	sheet.Forecast = f
	if f.None != "" {
		if s.Goal > 0 {
			return nil
		}
		return a.Err("name", "there is no goal, and "+f.None, "add goal = \"3:30:00\"; tautline forecast explains")
	}
	var there interval.Estimate
	if there, err = f.OnCourse(c, *s); err != nil {
		return err
	}
	sheet.On = &there
	if s.Goal == 0 {
		s.FlatPace = f.FlatPace.Value
	}
	return nil
}

// start puts the start on the sheet and its delay and cost into the settings.
func (o *briefOptions) start(e *env, sheet *evening.Sheet, turns []start.Turn, c *plan.Course, s *plan.Settings) error {
	pens, err := start.Open(o.pens)
	if err != nil {
		return err
	}
	runner := start.Runner{Distance: c.Official, Pace: s.FlatPace}
	if s.Goal > 0 {
		runner.Pace = s.Goal / c.Official
	}
	if sheet.Start, err = start.Advise(pens.Line, runner, turns); err != nil {
		return err
	}
	for _, n := range sheet.Start.Notes {
		e.warn("%s: %s", o.pens, n)
	}
	s.GunDelay, s.Crowd = sheet.Start.Best.ForPlan()
	return nil
}
