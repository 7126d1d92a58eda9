package main

import (
	"context"
	"time"

	"github.com/spf13/pflag"

	"tautline/report/document"
	"tautline/report/text"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/forecast"
	"tautline/strategy/plan"
	"tautline/strategy/race"
	"tautline/strategy/start"
)

func startCommand() *command {
	return &command{
		name: "start", operands: "PENS [COURSE]", for_: forCoaches,
		summary: "where to line up, the time from gun to mat, and what the crowd costs",
		about: "PENS is a TOML file that describes the start: the width of the road and the pens from the line backwards. " +
			"COURSE, a GPX file, adds the first turns.\n\n" +
			"A small one:\n\n" +
			"  distance = \"10 km\"\n  width = \"8 m\"\n  awards = \"gun\"\n" +
			"  [[pen]]\n  name = \"A\"\n  slowest = \"4:10/km\"\n  people = 400\n" +
			"  [[pen]]\n  name = \"B\"\n  slowest = \"5:30/km\"\n  people = 900",
		run: runStart,
	}
}

type startOptions struct {
	race     raceFlags
	show     showFlags
	pace     quantityFlag
	goal     quantityFlag
	distance quantityFlag
	athlete  string
	on       dayFlag
}

func (o *startOptions) define(set *pflag.FlagSet) {
	o.pace.parse, o.goal.parse, o.distance.parse = perKm, notPace(clockFlag, "pace"), far
	set.Var(&o.pace, "pace", "`PACE` that the runner means to run: \"4:50/km\"")
	set.Var(&o.goal, "goal", "`TIME` to aim for, by the chip, instead of a pace: \"48:20\"")
	set.StringVar(&o.athlete, "athlete", "", "`FILE` the athlete's TOML file: its goal, else a forecast from its races")
	set.Var(&o.distance, "distance", "`DISTANCE` of the race, when PENS does not say")
	set.Var(&o.on, "on", "`DATE` of the race, 2027-05-09, for the forecast; else that of the race sheet, else today")
	o.race.define(set)
	o.show.define(set)
}

func (o *startOptions) validate() error {
	if err := o.race.validate(); err != nil {
		return err
	}
	given := 0
	for _, is := range []bool{o.pace.value != nil, o.goal.value != nil, o.athlete != ""} {
		if is {
			given++
		}
	}
	if given != 1 {
		return &usageError{"a start needs the runner's pace", "give one of --pace 4:50/km, --goal 48:20 and --athlete FILE"}
	}
	return o.show.validate()
}

func runStart(ctx context.Context, e *env, args []string) error {
	var o startOptions
	operands, err := startCommand().parse(e, args, &o, 1, 2)
	if err != nil {
		return err
	}
	e.show(&o.show)
	if err := e.planned(operands); err != nil {
		return err
	}
	s, err := start.Open(operands[0])
	if err != nil {
		return err
	}
	r := start.Runner{Distance: s.Distance}
	var turns []start.Turn
	day := o.on.Time
	if len(operands) == 2 {
		laid, err := o.race.prepare(e, operands[1])
		if err != nil {
			return err
		}
		turns = turnsOf(laid)
		if r.Distance == 0 {
			r.Distance = laid.Official
		}
		if r.Distance == 0 {
			r.Distance = laid.Line.Length
		}
		if day.IsZero() {
			day = laid.Sheet.Date
		}
	}
	if o.distance.value != nil {
		r.Distance = *o.distance.value
	}
	if r.Distance == 0 {
		return &usageError{"the distance of the race is not known", "add --distance \"10 km\", or distance to PENS"}
	}
	switch {
	case o.pace.value != nil:
		r.Pace = *o.pace.value
	case o.goal.value != nil:
		r.Pace = *o.goal.value / r.Distance
	default:
		e.files.Input(o.athlete)
		if r.Pace, err = paceOf(o.athlete, r.Distance, day); err != nil {
			return err
		}
	}
	a, err := start.Advise(s.Line, r, turns)
	if err != nil {
		return err
	}
	if o.show.json {
		return e.json(document.NewStart(s.Name, a))
	}
	e.out.Write(text.Start(e.screen, s.Name, a))
	return nil
}

// turnsOf are the turns of a race as a start takes them; never nil.
func turnsOf(r *race.Race) []start.Turn {
	turns := []start.Turn{}
	for _, t := range r.Line.Turns {
		left, right := r.Road.Lateral(t.CourseAt)
		turns = append(turns, start.Turn{At: t.At, Angle: t.Angle, Width: left - right})
	}
	return turns
}

// paceOf is the pace that an athlete's goal asks for, or else a forecast.
func paceOf(file string, distance float64, day time.Time) (float64, error) {
	a, err := athlete.Open(file)
	if err != nil {
		return 0, err
	}
	if a.Goal > 0 {
		return a.Goal.Seconds() / distance, nil
	}
	s := plan.Settings{Model: effort.Default()}.ForAthlete(a)
	f, err := forecast.ForGoal(a, forecast.Goal{Distance: distance, On: forecast.Day(day, a, time.Now())}, forecast.Options{Model: s.Model, Course: pastCourses(a)})
	if err != nil {
		return 0, err
	}
	if f.None != "" {
		return 0, a.Err("name", "there is no goal, and "+f.None, "add --pace instead")
	}
	return f.FlatPace.Value, nil
}
