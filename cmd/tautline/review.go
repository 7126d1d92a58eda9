package main

import (
	"context"
	"errors"
	"slices"

	"github.com/spf13/pflag"

	"tautline/geo/heights"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/pacing"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/review"
)

func reviewCommand() *command {
	return &command{
		name: "review", operands: "COURSE RECORD", for_: forRunners,
		summary: "how far you ran beyond the shortest line, where, and why the watch read long",
		about: "COURSE is a GPX file with the drawn course, RECORD the GPX file of a watch.\n\n" +
			"The review says how far you ran beyond the shortest legal line and where, how much of what your watch showed was never run at all, " +
			"and which turns are most worth running better. Figures that one record cannot tell exactly carry a 90 % interval.\n\n" +
			"With times in the record it says how evenly effort was spent, hills taken out by the heights of the course or of --terrain, and what even effort would have given; " +
			"--goal, or the goal of --athlete, sets the plan beside it.",
		run: runReview,
	}
}

type reviewOptions struct {
	race    raceFlags
	show    showFlags
	watch   quantityFlag
	doubt   doubtFlags
	page    string
	goal    quantityFlag
	athlete string
	terrain string
	weather bool
}

func (o *reviewOptions) define(set *pflag.FlagSet) {
	o.watch.parse = far
	set.Var(&o.watch, "watch", "`DISTANCE` that the watch showed; the sum of the record's fixes unless it is given")
	set.StringVar(&o.page, "page", "", "`FILE` to write the review and its strip map to: one page, .html, that needs nothing from elsewhere")
	o.goal.parse = quantity.ParseClock
	set.Var(&o.goal, "goal", "`TIME` that was aimed for, \"3:30:00\": what was run is set beside even effort for it")
	set.StringVar(&o.athlete, "athlete", "", "`FILE` the athlete's TOML file: the goal that was aimed for, unless --goal is given, and how effort downhill is reckoned")
	set.BoolVar(&o.weather, "weather", false, "reckon with the heat, wind and altitude of the race sheet")
	set.StringVar(&o.terrain, "terrain", "", "`DIR` take heights from the HGT terrain tiles in this folder instead of the course's own")
	o.doubt.define(set)
	o.race.define(set)
	o.show.define(set)
}

func (o *reviewOptions) validate() error {
	if err := o.race.validate(); err != nil {
		return err
	}
	if w := o.watch.value; w != nil && (*w < 10 || *w > 1e6) {
		return &usageError{"--watch \"" + o.watch.text + "\" is out of range", "give what the watch showed, such as --watch \"10.21 km\""}
	}
	if err := pageName(o.page); err != nil {
		return err
	}
	if o.weather && o.race.sheet == "" {
		return &usageError{"--weather takes the weather from the race sheet", "add --race SHEET"}
	}
	if err := o.doubt.validate(); err != nil {
		return err
	}
	return o.show.validate()
}

// doubtFlags say how well the road is known.
type doubtFlags struct{ width, radius quantityFlag }

func (d *doubtFlags) define(set *pflag.FlagSet) {
	d.width.parse, d.radius.parse = near, near
	set.Var(&d.width, "width-doubt", "`METRES` by which the road's width may be wrong (90 %); 0.3 where you gave the width, 1 where not")
	set.Var(&d.radius, "radius-doubt", "`METRES` by which corner radii may be wrong (90 %); 0.5 where you gave the radius, 2 where not")
}

func (d *doubtFlags) validate() error {
	for _, f := range []quantityFlag{d.width, d.radius} {
		if f.value != nil && *f.value > 20 {
			return &usageError{"a doubt of \"" + f.text + "\" is out of range", "it should be 0 m to 20 m"}
		}
	}
	return nil
}

// of gives the standard deviations of what the road is taken to be.
func (d *doubtFlags) of(r *race.Race) review.Doubt {
	out := review.UsualDoubt(r.Sheet.Road.Width != nil, r.Sheet.Road.CornerRadius != nil)
	if v := d.width.value; v != nil {
		out.Width = review.FromHalfWidth(*v)
	}
	if v := d.radius.value; v != nil {
		out.Radius = review.FromHalfWidth(*v)
	}
	return out
}

func runReview(ctx context.Context, e *env, args []string) error {
	var o reviewOptions
	operands, err := reviewCommand().parse(e, args, &o, 2, 2)
	if err != nil {
		return err
	}
	e.show(&o.show)
	inputs := operands
	if o.athlete != "" {
		inputs = append(slices.Clone(operands), o.athlete)
	}
	if err := e.planned(inputs, o.page); err != nil {
		return err
	}
	r, err := o.race.prepare(e, operands[0])
	if err != nil {
		return err
	}
	f, err := e.readGPX(operands[1])
	if err != nil {
		return err
	}
	opts := review.Options{Doubt: o.doubt.of(r)}
	if w := o.watch.value; w != nil {
		opts.Watch = *w
	}
	if o.show.in() == quantity.Imperial {
		opts.Mark = quantity.Mile
	}
	v, rec, err := review.OfFile(r, operands[1], f, opts)
	var watch *review.WatchError
	if errors.As(err, &watch) {
		return &usageError{"--watch \"" + o.watch.text + "\": " + err.Error(), ""}
	}
	if err != nil {
		return err
	}
	spent, err := o.spent(r, v)
	if err != nil {
		return err
	}
	d := spent.on(document.NewReview(r, rec.Name, v))
	if o.page != "" {
		look, err := e.drawing(&o.show, r, operands...)
		if err != nil {
			return err
		}
		if spent.ground != nil {
			look.Ground = spent.ground
		}
		sheet, err := page.Review(r, d, page.RunOf(r, v, rec, spent.Ran), look)
		if err != nil {
			return err
		}
		if err := e.addPage(o.page, sheet); err != nil {
			return err
		}
	}
	if o.show.json {
		return e.json(d)
	}
	e.out.Write(text.Review(e.screen, d, spent.Judgement))
	return nil
}

// spent is the effort of a reviewed race and the ground that it was judged on.
type spent struct {
	*pacing.Ran
	ground   *heights.Profile
	document *document.Effort
}

// on puts the effort on the document of a review.
func (s *spent) on(d document.Review) document.Review {
	d.Effort = s.document
	d.Warnings = append(d.Warnings, s.Notes...)
	return d
}

// spent judges the effort of a reviewed race.
func (o *reviewOptions) spent(r *race.Race, v *review.Review) (*spent, error) {
	s := plan.Settings{Model: effort.Default()}
	if o.weather {
		w, err := sheetWeather(r.Sheet, o.race.sheet)
		if err != nil {
			return nil, err
		}
		w.on(&s)
	}
	if o.athlete != "" {
		a, err := athlete.Open(o.athlete)
		if err != nil {
			return nil, err
		}
		s = s.ForAthlete(a)
	}
	if g := o.goal.value; g != nil {
		s.Goal = *g
	}
	out := &spent{Ran: &pacing.Ran{Model: s.Model}}
	var err error
	if out.ground, err = groundOf(r, o.terrain); err != nil {
		if s.Goal != 0 || o.terrain != "" {
			return nil, err
		}
		// Heights that cannot be used do not make the line any worse.
		out.Notes = append(out.Notes, "effort is not judged: "+err.Error())
		return out, nil
	}
	if out.Ran, err = pacing.Of(r, out.ground, v, o.show.in(), s); err != nil {
		return nil, err
	}
	from := document.CourseHeights
	if o.terrain != "" {
		from = document.TerrainHeights
	}
	out.document = document.NewEffort(out.Ran, s.Model, from)
	return out, nil
}
