package main

import (
	"context"
	"errors"
	"math"

	"github.com/spf13/pflag"

	"tautline/geo/inputerr"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/adjust"
	"tautline/strategy/appraise"
	"tautline/strategy/marks"
	"tautline/strategy/quantity"
)

func appraiseCommand() *command {
	return &command{
		name: "appraise", operands: "COURSE", for_: forDirectors,
		summary: "the official length against the line: doubtful turns, what each cone is worth, where metres can be added",
		about: "COURSE is a GPX file with the drawn course. The report sets its official or measured length beside the shortest legal line, says which turns carry the doubt, what every restriction of the race sheet is worth in metres, " +
			"where start, finish and turn-arounds must move to add or remove metres, and how drop and start-finish separation stand against stated rules.\n\n" +
			"--changed-race and --changed-course describe the race as it will be or was on the day, a moved cone or a diverted street, and give a before-and-after.",
		run: runAppraise,
	}
}

type appraiseOptions struct {
	race          raceFlags
	show          showFlags
	measurement   string
	add           quantityFlag
	changedRace   string
	changedCourse string
	heightError   quantityFlag
	drawingError  quantityFlag
	recordAt      []string
	page          string
}

func (o *appraiseOptions) define(set *pflag.FlagSet) {
	o.add.parse, o.heightError.parse, o.drawingError.parse = added, near, near
	set.StringVar(&o.measurement, "measurement", "", "`SHEET` of a measurement, as tautline measure reads it: compare with its length, and add or remove what it asks for")
	set.Var(&o.add, "add", "`METRES` on the ground to add, or with a minus to remove")
	set.StringVar(&o.changedRace, "changed-race", "", "`SHEET` the race sheet of the changed race, for a before-and-after")
	set.StringVar(&o.changedCourse, "changed-course", "", "`COURSE` of the changed race, if the drawing changed as well")
	set.Var(&o.heightError, "height-error", "`METRES` by which the heights of start and finish may be wrong (90 %); 5 unless given")
	set.Var(&o.drawingError, "drawing-error", "`METRES` that the drawing lies off its road, as a standard deviation; 1 unless given")
	set.StringArrayVar(&o.recordAt, "record-at", nil, "`DISTANCE` on the way at which records are to count: drop and separation from the start to there; may be repeated")
	set.StringVar(&o.page, "page", "", "`FILE` to write the appraisal and its strip map to: one page, .html, that needs nothing from elsewhere")
	o.race.define(set)
	o.show.define(set)
}

func (o *appraiseOptions) validate() error {
	if err := o.race.validate(); err != nil {
		return err
	}
	if err := pageName(o.page); err != nil {
		return err
	}
	for name, f := range map[string]quantityFlag{"height-error": o.heightError, "drawing-error": o.drawingError} {
		if f.value != nil && *f.value > 100 {
			return &usageError{"--" + name + " \"" + f.text + "\" is out of range", "it should be 0 m to 100 m"}
		}
	}
	return o.show.validate()
}

func runAppraise(ctx context.Context, e *env, args []string) error {
	var o appraiseOptions
	operands, err := appraiseCommand().parse(e, args, &o, 1, 1)
	if err != nil {
		return err
	}
	recordAt, err := distances("record-at", o.recordAt, far)
	if err != nil {
		return err
	}
	e.show(&o.show)
	inputs := operands
	for _, f := range []string{o.measurement, o.changedRace, o.changedCourse} {
		if f != "" {
			inputs = append(inputs[:len(inputs):len(inputs)], f)
		}
	}
	if err := e.planned(inputs, o.page); err != nil {
		return err
	}
	r, err := o.race.prepare(e, operands[0])
	if err != nil {
		return err
	}
	asked, err := o.asked(e, operands[0])
	if err != nil {
		return err
	}
	asked.RecordAt = recordAt
	a, err := appraise.Of(r, asked, e.watch)
	if err != nil {
		return o.blame(operands[0], err)
	}
	if o.page != "" {
		look, err := e.drawing(&o.show, r, inputs...)
		if err != nil {
			return err
		}
		sheet, err := page.Appraisal(a, look)
		if err != nil {
			return err
		}
		if err := e.addPage(o.page, sheet); err != nil {
			return err
		}
	}
	if o.show.json {
		return e.json(document.NewAppraisal(a))
	}
	e.out.Write(text.Appraisal(e.screen, a))
	return nil
}

// added reads metres to add, or with a minus to remove.
func added(s string) (float64, error) {
	v, err := quantity.WithSign(near)(s)
	if err == nil && math.Abs(v) > 10000 {
		err = errors.New("more than 10 km cannot be added or removed")
	}
	return v, err
}

// asked reads what the appraisal is to take into account beside the race.
func (o *appraiseOptions) asked(e *env, course string) (appraise.Options, error) {
	asked := appraise.UsualOptions()
	asked.Add = o.add.value
	if v := o.drawingError.value; v != nil {
		asked.Drawing = *v
	}
	if v := o.heightError.value; v != nil {
		asked.HeightError = *v
	}
	if o.measurement != "" {
		m, err := e.measurement(o.measurement)
		if err != nil {
			return asked, err
		}
		if m.Counted == 0 {
			return asked, &inputerr.Error{File: o.measurement, What: "the measuring sheet has no course ride to compare with", Advice: "leave --measurement out, or add a ride"}
		}
		asked.Measured = m
	}
	if o.changedRace != "" || o.changedCourse != "" {
		other := o.race
		if o.changedRace != "" {
			other.sheet = o.changedRace
		}
		if o.changedCourse != "" {
			course, asked.Redrawn = o.changedCourse, true
			e.files.Input(course)
		}
		after, err := other.prepare(e, course)
		if err != nil {
			return asked, err
		}
		asked.Changed = after
	}
	return asked, nil
}

// blame names what an appraisal failed by: the option or the file.
func (o *appraiseOptions) blame(course string, err error) error {
	switch {
	case errors.Is(err, adjust.ErrAmount) && o.add.value != nil:
		return &inputerr.Error{What: "--add \"" + o.add.text + "\": " + err.Error(), Cause: err}
	case errors.Is(err, adjust.ErrAmount):
		return &inputerr.Error{File: o.measurement, What: err.Error(), Advice: "see whether the measurement is one of this course", Cause: err}
	case errors.Is(err, marks.ErrMark):
		return &inputerr.Error{What: "--record-at: " + err.Error(), Advice: "give a distance between start and finish", Cause: err}
	}
	return inCourse(course, err)
}

// inCourse names the course file in an error that names none.
func inCourse(file string, err error) error {
	return &inputerr.Error{File: file, What: err.Error(), Cause: err}
}
