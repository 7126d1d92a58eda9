package main

import (
	"context"
	"errors"

	"github.com/spf13/pflag"

	"tautline/geo/gpxfile"
	"tautline/geo/inputerr"
	"tautline/geo/record"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/report/text"
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
			"and which turns are most worth running better. Figures that one record cannot tell exactly carry a 90 % interval.",
		run: runReview,
	}
}

type reviewOptions struct {
	race  raceFlags
	show  showFlags
	watch lengthFlag
	doubt doubtFlags
	page  string
	goal  lengthFlag
}

func (o *reviewOptions) define(set *pflag.FlagSet) {
	o.race.define(set)
	o.watch.parse = far
	set.Var(&o.watch, "watch", "`DISTANCE` that the watch showed; the sum of the record's fixes unless it is given")
	o.doubt.define(set)
	set.StringVar(&o.page, "page", "", "`FILE` to write the review to as one HTML page with the strip map, that needs nothing from elsewhere")
	o.goal.parse = quantity.ParseClock
	set.Var(&o.goal, "goal", "`TIME` that was aimed for; the page then shows the pace against even effort for it")
	o.show.define(set)
}

func (o *reviewOptions) validate() error {
	if err := o.race.validate(); err != nil {
		return err
	}
	if w := o.watch.metres; w != nil && (*w < 10 || *w > 1e6) {
		return &usageError{"--watch \"" + o.watch.text + "\" is out of range", "give what the watch showed, such as --watch \"10.21 km\""}
	}
	if o.goal.metres != nil && o.page == "" {
		return &usageError{"--goal is for the page", "add --page FILE"}
	}
	if err := o.doubt.validate(); err != nil {
		return err
	}
	return o.show.validate()
}

// doubtFlags say how well the road is known.
type doubtFlags struct{ width, radius lengthFlag }

func (d *doubtFlags) define(set *pflag.FlagSet) {
	d.width.parse, d.radius.parse = near, near
	set.Var(&d.width, "width-doubt", "`METRES` by which the road's width may be wrong (90 %); 0.3 where you gave the width, 1 where not")
	set.Var(&d.radius, "radius-doubt", "`METRES` by which corner radii may be wrong (90 %); 0.5 where you gave the radius, 2 where not")
}

func (d *doubtFlags) validate() error {
	for _, f := range []lengthFlag{d.width, d.radius} {
		if f.metres != nil && *f.metres > 20 {
			return &usageError{"a doubt of \"" + f.text + "\" is out of range", "it should be 0 m to 20 m"}
		}
	}
	return nil
}

// of gives the standard deviations of what the road is taken to be.
func (d *doubtFlags) of(r *race.Race) review.Doubt {
	out := review.UsualDoubt(r.Sheet.Road.Width != nil, r.Sheet.Road.CornerRadius != nil)
	if v := d.width.metres; v != nil {
		out.Width = review.FromHalfWidth(*v)
	}
	if v := d.radius.metres; v != nil {
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
	if err := e.planned(operands, o.page); err != nil {
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
	if w := o.watch.metres; w != nil {
		opts.Watch = *w
	}
	if o.show.in() == quantity.Imperial {
		opts.Mark = quantity.Mile
	}
	d, run, err := reviewOf(r, operands[1], f, opts)
	if err != nil {
		return err
	}
	if o.page != "" {
		look, err := e.drawing(&o.show, r, operands...)
		if err != nil {
			return err
		}
		if g := o.goal.metres; g != nil {
			if run.Plan, err = target(r, *g, &o.show, look.Ground); err != nil {
				return err
			}
		}
		sheet, err := page.Review(r, d, run, look)
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
	e.out.Write(text.Review(e.screen, d))
	return nil
}

// reviewOf reviews a record file of a race that has been laid out, and gives
// what a page draws of it.
func reviewOf(r *race.Race, name string, f *gpxfile.File, o review.Options) (document.Review, page.Run, error) {
	line, notes, err := f.Record()
	if err != nil {
		return document.Review{}, page.Run{}, err
	}
	rec := record.Clean(line)
	v, err := review.Of(r, rec, o)
	if err != nil {
		var in *inputerr.Error
		if errors.As(err, &in) {
			return document.Review{}, page.Run{}, err
		}
		return document.Review{}, page.Run{}, &inputerr.Error{File: name, What: err.Error(), Advice: "give the record of this very race", Cause: err}
	}
	v.Notes = append(append(append([]string(nil), f.Warnings...), notes...), v.Notes...)
	return document.NewReview(r, rec.Name, v), page.RunOf(r, v, rec), nil
}
