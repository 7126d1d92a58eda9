package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/pflag"

	"tautline/geo/heights"
	"tautline/geo/inputerr"
	"tautline/geo/interval"
	"tautline/report/document"
	"tautline/report/text"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/forecast"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

func forecastCommand() *command {
	return &command{
		name: "forecast", operands: "[COURSE]", for_: forCoaches,
		summary: "a finish time from recent races, or from workouts, with how sure it is",
		about: "The athlete file gives the races and workouts. Each race is put right first: gun time, a course of another length, hills when its GPX is given, effort held back, heat if asked. " +
			"Then the published models stand side by side, and one figure with a 90 % interval is drawn from the races that are recent, near the distance and run all out.\n\n" +
			"COURSE is the GPX file of the goal race; without it the forecast is for a level course of --distance. " +
			"Someone back after years away is given no figure but advice.",
		run: runForecast,
	}
}

type forecastOptions struct {
	race      raceFlags
	show      showFlags
	athlete   string
	distance  quantityFlag
	on        dayFlag
	heat      bool
	returning bool
	terrain   string
}

// dayFlag takes a date, 2027-05-09; zero until it is given.
type dayFlag struct{ time.Time }

func (d *dayFlag) Type() string { return "string" }
func (d *dayFlag) String() string {
	if d.IsZero() {
		return ""
	}
	return d.Format(time.DateOnly)
}

func (d *dayFlag) Set(s string) error {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || t.Year() < 1900 || t.Year() > 2200 {
		return &usageError{"\"" + s + "\" is no date", "write year, month and day as 2027-05-09"}
	}
	d.Time = t
	return nil
}

func (o *forecastOptions) define(set *pflag.FlagSet) {
	o.distance.parse = far
	set.StringVar(&o.athlete, "athlete", "", "`FILE` the athlete's TOML file with races or workouts; needed")
	set.Var(&o.distance, "distance", "`DISTANCE` of the goal race, when no COURSE is given: \"10 km\", \"marathon\"")
	set.Var(&o.on, "on", "`DATE` of the goal race, 2027-05-09; else that of the race sheet, else today")
	set.BoolVar(&o.heat, "heat", false, "take the heat of past races out where their temperature is given")
	set.BoolVar(&o.returning, "returning", false, "the athlete is back after years away: races older than six months say nothing")
	set.StringVar(&o.terrain, "terrain", "", "`DIR` take the goal course's heights from the HGT terrain tiles in this folder instead of its own")
	o.race.define(set)
	o.show.define(set)
}

func (o *forecastOptions) validate() error {
	if err := o.race.validate(); err != nil {
		return err
	}
	if o.athlete == "" {
		return &usageError{"a forecast needs the athlete's races", "add --athlete FILE"}
	}
	return o.show.validate()
}

func runForecast(ctx context.Context, e *env, args []string) error {
	var o forecastOptions
	operands, err := forecastCommand().parse(e, args, &o, 0, 1)
	if err != nil {
		return err
	}
	e.show(&o.show)
	if len(operands) == 1 && o.distance.value != nil {
		return &usageError{"--distance is for a forecast without a COURSE", "leave it out, or write --official"}
	}
	a, err := athlete.Open(o.athlete)
	if err != nil {
		return err
	}
	e.files.Input(o.athlete)
	goal := forecast.Goal{On: o.on.Time}
	var course *plan.Course
	s := plan.Settings{Model: effort.Default()}.ForAthlete(a)
	if len(operands) == 1 {
		e.files.Input(operands[0])
		var r *race.Race
		if r, course, err = o.race.course(e, operands[0], o.terrain, &weatherFlags{}); err != nil {
			return err
		}
		goal.Distance = course.Official
		if goal.On.IsZero() {
			goal.On = r.Sheet.Date
		}
	} else {
		given, err := o.race.load(e)
		if err != nil {
			return err
		}
		goal.Distance = given.Official
		if o.distance.value != nil {
			goal.Distance = *o.distance.value
		}
		if goal.Distance == 0 {
			return &usageError{"the distance of the goal race is not known", "give its COURSE, or add --distance \"10 km\""}
		}
		var note string
		if goal.Distance, note = quantity.Official(goal.Distance); note != "" {
			e.warn("%s", note)
		}
		if goal.On.IsZero() {
			goal.On = given.Date
		}
	}
	if goal.On.IsZero() {
		goal.On = forecast.Day(goal.On, a, time.Now())
		e.warn("the day of the goal is not known: evidence is aged to %s (--on DATE sets it)", goal.On.Format(time.DateOnly))
	}
	f, err := forecast.ForGoal(a, goal, forecast.Options{Model: s.Model, Heat: o.heat, Returning: o.returning, Course: pastCourses(a)})
	if err != nil {
		return err
	}
	var there *interval.Estimate
	name := ""
	if course != nil && f.None == "" {
		t, err := f.OnCourse(course, s)
		if err != nil {
			return err
		}
		there, name = &t, course.Name
	}
	if o.show.json {
		return e.json(document.NewForecast(f, name, there))
	}
	e.out.Write(text.Forecast(e.screen, f, name, there))
	return nil
}

// groundOf reads the heights of a race, from terrain tiles when a folder of
// them is given.
func groundOf(r *race.Race, terrain string) (*heights.Profile, error) {
	if terrain != "" {
		return heights.FromTerrain(r.Course, terrain)
	}
	return heights.FromCourse(r.Course)
}

// layOut makes a race ready for plans, with the shelter that the weather finds.
func layOut(r *race.Race, ground *heights.Profile, w *weatherFlags) (*plan.Course, []string, error) {
	route, notes := plan.FromRace(r, ground)
	w.shelter(&route)
	c, err := plan.NewCourse(route)
	return c, notes, err
}

// course prepares a race and makes it ready for plans, and tells what was
// assumed.
func (r *raceFlags) course(e *env, path, terrain string, w *weatherFlags) (*race.Race, *plan.Course, error) {
	laid, err := r.prepare(e, path)
	if err != nil {
		return nil, nil, err
	}
	ground, err := groundOf(laid, terrain)
	if err != nil {
		return nil, nil, err
	}
	c, notes, err := layOut(laid, ground, w)
	if err != nil {
		return nil, nil, err
	}
	for _, n := range append(laid.Notes, notes...) {
		e.warn("%s", n)
	}
	return laid, c, nil
}

// below prepares a race whose course, run so many times, lies in a folder or
// below it.
func below(folder, course string, laps int, distance float64) (*race.Race, *heights.Profile, error) {
	f, err := openBelow(folder, course)
	if err != nil {
		return nil, nil, err
	}
	r, err := race.Prepare(course, f, &sheet.Sheet{Official: distance, Laps: laps})
	if err != nil {
		return nil, nil, err
	}
	ground, err := groundOf(r, "")
	return r, ground, err
}

// pastCourses reads the course of a past race, which lies in the folder of the
// athlete's file or below it, and lays it out for the length that it had. What
// is wrong with it is told at its place in the athlete's file.
func pastCourses(a *athlete.Athlete) func(int, athlete.Race) (*plan.Course, error) {
	return func(i int, r athlete.Race) (*plan.Course, error) {
		if r.Course == "" {
			return nil, nil
		}
		c, err := pastCourse(a.Folder(), r)
		var bad *inputerr.Error
		if errors.As(err, &bad) && bad.File == "" {
			return nil, a.Err(fmt.Sprintf("race[%d].course", i), fmt.Sprintf("%s as the course of race %d: %s", r.Course, i+1, bad.What),
				"if it was run more than once, add laps = 2; else give the course that was run, or leave it out")
		}
		return c, err
	}
}

func pastCourse(folder string, r athlete.Race) (*plan.Course, error) {
	distance := r.Distance
	if r.Length > 0 {
		distance = r.Length
	}
	laid, ground, err := below(folder, r.Course, r.Laps, distance)
	if err != nil {
		return nil, err
	}
	c, _, err := layOut(laid, ground, &weatherFlags{})
	return c, err
}
