package main

import (
	"context"
	"path/filepath"
	"time"

	"github.com/spf13/pflag"

	"tautline/report/buildup"
	"tautline/report/document"
	"tautline/report/text"
	"tautline/strategy/athlete"
	"tautline/strategy/season"
)

func seasonCommand() *command {
	return &command{
		name: "season", operands: "CALENDAR", for_: forCoaches,
		summary: "which tune-up races to run before a goal race, how hard, and what to rehearse",
		about: "CALENDAR is a TOML file with the goal race and the races that could be run. Every rule that the choice goes by has a name, can be set under [rules], " +
			"and says whether it is common practice or published evidence; --rules lists them.\n\n" +
			"A small one:\n\n" +
			"  longest_run = \"24 km\"\n  [goal]\n  name = \"Velmarrow\"\n  date = 2027-10-17\n  distance = \"marathon\"\n" +
			"  [[race]]\n  name = \"Ottery Half\"\n  date = 2027-09-12\n  distance = \"half marathon\"\n  entered = true     # run in any case",
		run: runSeason,
	}
}

type seasonOptions struct {
	show    showFlags
	athlete string
	rules   bool
	ics     string
	page    string
	stamp   stampFlag
}

// stampFlag takes a moment, 2027-01-01T12:00:00Z; zero until it is given.
type stampFlag struct{ time.Time }

func (d *stampFlag) Type() string { return "string" }
func (d *stampFlag) String() string {
	if d.IsZero() {
		return ""
	}
	return d.Format(time.RFC3339)
}

func (d *stampFlag) Set(s string) error {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil || t.UTC().Year() < 1900 || t.UTC().Year() > 2200 {
		return &usageError{"\"" + s + "\" is no moment", "write 2027-01-01T12:00:00Z"}
	}
	d.Time = t
	return nil
}

func (o *seasonOptions) define(set *pflag.FlagSet) {
	set.StringVar(&o.athlete, "athlete", "", "`FILE` the athlete's TOML file: longest run, weekly distance and past marathons, where CALENDAR does not say")
	set.BoolVar(&o.rules, "rules", false, "list every rule with its value and its source")
	set.StringVar(&o.ics, "ics", "", "`FILE` to write the calendar to as iCalendar (RFC 5545)")
	set.StringVar(&o.page, "page", "", "`FILE` to write the season to: one page to print, .html, that needs nothing from elsewhere")
	set.Var(&o.stamp, "stamp", "`MOMENT` written into the iCalendar as the time it was made, for output that repeats; else now")
	o.show.define(set)
}

func (o *seasonOptions) validate() error {
	if !o.stamp.IsZero() && o.ics == "" {
		return &usageError{"--stamp is for the iCalendar", "add --ics FILE"}
	}
	if err := pageName(o.page); err != nil {
		return err
	}
	return o.show.validate()
}

func runSeason(ctx context.Context, e *env, args []string) error {
	var o seasonOptions
	operands, err := seasonCommand().parse(e, args, &o, 1, 1)
	if err != nil {
		return err
	}
	e.show(&o.show)
	inputs := operands
	if o.athlete != "" {
		inputs = append(inputs, o.athlete)
	}
	if err := e.planned(inputs, o.ics, o.page); err != nil {
		return err
	}
	c, err := season.Open(operands[0])
	if err != nil {
		return err
	}
	c.Units = o.show.in()
	if o.athlete != "" {
		a, err := athlete.Open(o.athlete)
		if err != nil {
			return err
		}
		*c = c.ForAthlete(a)
	}
	folder := filepath.Dir(operands[0])
	if c.Goal.Climb, err = climbOf(folder, c.Goal); err != nil {
		return err
	}
	for i := range c.Races {
		if c.Races[i].Climb, err = climbOf(folder, c.Races[i].Race); err != nil {
			return err
		}
	}
	p, err := season.Choose(*c)
	if err != nil {
		return err
	}
	if o.ics != "" {
		stamp := o.stamp.Time
		if stamp.IsZero() {
			stamp = time.Now()
		}
		e.files.Add(o.ics, p.ICalendar(stamp))
	}
	if o.page != "" {
		b, err := buildup.Page(p, c.Units)
		if err != nil {
			return err
		}
		e.files.Add(o.page, b)
	}
	if o.show.json {
		return e.json(document.NewSeason(p))
	}
	e.out.Write(text.Season(e.screen, p, o.rules))
	return nil
}

// climbOf is the climb of a race's course for each km of it, NaN without a
// course or heights. The course lies in the folder of the calendar or below it.
func climbOf(folder string, r season.Race) (float64, error) {
	if r.Course == "" {
		return r.Climb, nil
	}
	laid, ground, err := below(folder, r.Course, 1, r.Distance)
	if err != nil {
		return 0, err
	}
	if !ground.Known() {
		return r.Climb, nil
	}
	at := laid.Line.At
	return season.Climb(ground, at[0], at[len(at)-1]), nil
}
