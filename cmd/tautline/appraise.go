package main

import (
	"context"
	"fmt"
	"math"

	"github.com/spf13/pflag"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
	"tautline/geo/interval"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/adjust"
	"tautline/strategy/eligible"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
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
	add           signedLengthFlag
	changedRace   string
	changedCourse string
	heightError   lengthFlag
	drawingError  lengthFlag
	recordAt      []string
	page          string
}

func (o *appraiseOptions) define(set *pflag.FlagSet) {
	o.heightError.parse, o.drawingError.parse = near, near
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
	for name, f := range map[string]lengthFlag{"height-error": o.heightError, "drawing-error": o.drawingError} {
		if f.metres != nil && *f.metres > 100 {
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
	recordAt, err := distances("record-at", o.recordAt)
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
	a := document.Appraised{Race: r, Add: math.NaN()}
	spec := r.Road.Spec
	doubts := adjust.UsualDoubts()
	if v := o.drawingError.metres; v != nil {
		doubts.Drawing = *v
	}
	if !spec.CourseIsLine {
		watch, end := e.watch("lines for the doubt of the map")
		a.Certainty, err = adjust.HowSure(r.Course, spec, doubts, watch)
		end()
		if err != nil {
			return inCourse(operands[0], err)
		}
		a.Notes = append(a.Notes, a.Certainty.Notes...)
		watch, end = e.watch("restrictions taken away in turn")
		a.Worths, err = adjust.Worths(r.Course, spec, watch)
		end()
		if err != nil {
			return inCourse(operands[0], err)
		}
	} else {
		a.Certainty = &adjust.Certainty{Line: r.Line, Length: interval.Exact(r.Line.Length)}
		a.Notes = append(a.Notes, adjust.ErrLineGiven.Error())
	}
	var ground *interval.Estimate
	switch {
	case o.measurement != "":
		m, err := e.measurement(o.measurement)
		if err != nil {
			return err
		}
		if m.Counted == 0 {
			return &inputerr.Error{File: o.measurement, What: "the measuring sheet has no course ride to compare with", Advice: "leave --measurement out, or add a ride"}
		}
		ground, a.Basis = &m.Ground, "the measuring ride, without the short-course factor"
		if m.Adjust != nil {
			a.Add = m.Adjust.Ground
		}
	case r.Official > 0:
		g, basis := document.Announced(r)
		ground, a.Basis, a.Announced = &g, basis, true
	}
	if ground != nil {
		c := adjust.Compare(*ground, a.Certainty)
		a.Compared = &c
	}
	if spec.CourseIsLine {
		a.Certainty = nil // nothing to tell of a line that was given
	}
	if v := o.add.metres; v != nil {
		a.Add = *v
	}
	if !math.IsNaN(a.Add) && a.Add != 0 {
		watch, end := e.watch("places moved in turn")
		a.Options, err = adjust.Options(r.Course, spec, a.Add, watch)
		end()
		if err != nil {
			return inCourse(operands[0], err)
		}
	}
	if n := unmoved(r, a.Options); len(a.Options) > 0 && n > 0 {
		what := fmt.Sprintf("%d turn-arounds are", n)
		if n == 1 {
			what = "1 turn-around is"
		}
		a.Notes = append(a.Notes, what+" drawn with several points and left out of the places to move; moving one out by half of the metres adds them as well")
	}
	if o.changedRace != "" || o.changedCourse != "" {
		other := o.race
		course := operands[0]
		tolerance := adjust.Tolerance
		if o.changedRace != "" {
			other.sheet = o.changedRace
		}
		if o.changedCourse != "" {
			course, tolerance = o.changedCourse, 1
			e.files.Input(course)
		}
		after, err := other.prepare(e, course)
		if err != nil {
			return err
		}
		a.Change = adjust.BeforeAfter(r.Line, r.Course.Plane, after.Line, after.Course.Plane, tolerance)
	}
	heightError := 5.0
	if v := o.heightError.metres; v != nil {
		heightError = *v
	}
	figures, findings, err := eligible.Check(ends(r, heightError))
	if err != nil {
		return inCourse(operands[0], err)
	}
	a.Figures, a.Findings = &figures, findings
	for _, to := range recordAt {
		x, err := recordsAt(r, to, heightError)
		if err != nil {
			return inCourse(operands[0], err)
		}
		a.OnTheWay = append(a.OnTheWay, x)
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

// unmoved counts turns by more than 150 degrees that no option moves.
func unmoved(r *race.Race, options []adjust.Option) int {
	n := 0
	for _, t := range r.Line.Turns {
		if math.Abs(t.Angle) < 150*math.Pi/180 {
			continue
		}
		n++
		for _, o := range options {
			if o.Place == adjust.Turnaround && earth.Distance(o.From, r.Course.Plane.From(t.Apex)) < 20 {
				n--
				break
			}
		}
	}
	return n
}

// inCourse names the course file in an error that names none.
func inCourse(file string, err error) error {
	return &inputerr.Error{File: file, What: err.Error(), Cause: err}
}

// recordsAt holds the part of a race up to a distance against the rules: a
// record at a distance on the way must meet them from the start to there.
func recordsAt(r *race.Race, to, heightError float64) (document.OnTheWay, error) {
	out := document.OnTheWay{To: to}
	if !(to > 0) {
		return out, fmt.Errorf("records cannot count at %s from the start", quantity.Distance(to, quantity.Metric))
	}
	list, err := placeMarks(r, nil, []float64{to}, nil)
	if err != nil {
		return out, err
	}
	m := list.Marks[0]
	c := ends(r, heightError)
	h := eligible.HeightAt(r.Course, m.CourseAt)
	c.Finish, c.Official = m.At, to
	c.FinishHeight = interval.Estimate{Value: h, Low: h - heightError, High: h + heightError}
	out.Figures, out.Findings, err = eligible.Check(c)
	return out, err
}

// ends is what the rules on drop and separation ask of a race.
func ends(r *race.Race, heightError float64) eligible.Course {
	official := r.Official
	if official == 0 {
		official = r.Line.Length
	}
	height := func(at float64) interval.Estimate {
		h := eligible.HeightAt(r.Course, at)
		return interval.Estimate{Value: h, Low: h - heightError, High: h + heightError}
	}
	c := r.Course
	return eligible.Course{
		Start: c.Plane.From(c.At(r.Road.StartAt)), Finish: c.Plane.From(c.At(r.Road.FinishAt)),
		StartHeight: height(r.Road.StartAt), FinishHeight: height(r.Road.FinishAt),
		Official: official,
	}
}
