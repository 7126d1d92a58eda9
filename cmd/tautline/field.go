package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/spf13/pflag"
	"golang.org/x/term"

	"tautline/geo/inputerr"
	"tautline/geo/interval"
	"tautline/report/document"
	"tautline/report/outfile"
	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/adjust"
	"tautline/strategy/field"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

func fieldCommand() *command {
	return &command{
		name: "field", operands: "COURSE RECORDS...", for_: forDirectors,
		summary: "what the records of many runners say of a course: where the field ran shorter than it was measured",
		about: "COURSE is a GPX file with the drawn course, RECORDS are GPX files, folders with everything below them, and zip files.\n\n" +
			"The report says whether the crowd ran the course as it is drawn, where it did not, how many left the permitted road, and how far everybody ran. " +
			"Runners are numbered, not named. Files that cannot be used are listed at the end, and the exit status is then 3.\n\n" +
			"With --state, an interrupted run goes on where it was. The files of a big race can be spread over machines: run each part with its own --state, " +
			"then give the state files in place of the records, with --merge. The result is the same to the last digit.",
		run: runField,
	}
}

type fieldOptions struct {
	race  raceFlags
	show  showFlags
	state string
	merge bool
	names bool
	page  string
}

func (o *fieldOptions) define(set *pflag.FlagSet) {
	set.StringVar(&o.state, "state", "", "`FILE` that keeps what has been worked out; a later run with the same file leaves out what it holds")
	set.BoolVar(&o.merge, "merge", false, "the operands after COURSE are state files of parts of the field, to be put together")
	set.BoolVar(&o.names, "names", false, "list runners by the names of their files")
	set.StringVar(&o.page, "page", "", "`FILE` to write the field and its strip map to: one page, .html, that needs nothing from elsewhere")
	o.race.define(set)
	o.show.define(set)
}

func (o *fieldOptions) validate() error {
	if err := o.race.validate(); err != nil {
		return err
	}
	if err := pageName(o.page); err != nil {
		return err
	}
	return o.show.validate()
}

// interruptedError says what an interrupted run has left behind.
type interruptedError struct{ what string }

func (e *interruptedError) Error() string { return e.what }
func (e *interruptedError) Unwrap() error { return context.Canceled }

func runField(ctx context.Context, e *env, args []string) error {
	var o fieldOptions
	operands, err := fieldCommand().parse(e, args, &o, 2, -1)
	if err != nil {
		return err
	}
	e.show(&o.show)
	e.files.Input(operands[0])
	r, err := o.race.prepare(e, operands[0])
	if err != nil {
		return err
	}
	g := field.Lay(r)
	tally, done, err := e.tallied(ctx, g, &o, operands)
	if err != nil {
		return err
	}
	if tally.Records() == 0 {
		for _, f := range done.Refused {
			e.warn("%s", f.Err)
		}
		return &inputerr.Error{What: "no record could be used", Advice: "give GPX files of this race, a folder with them or a zip file"}
	}
	if o.state != "" {
		content, err := tally.Encode()
		if err != nil {
			return err
		}
		e.files.Add(o.state, content)
	}
	length, err := e.courseLength(operands[0], r)
	if err != nil {
		return err
	}
	d := document.NewField(g, tally, g.Judge(tally, length), done, o.names)
	if o.page != "" {
		// Records are often named after their runners.
		look, err := e.drawing(&o.show, r, operands[0])
		if err != nil {
			return err
		}
		sheet, err := page.Field(r, d, look)
		if err != nil {
			return err
		}
		if err := e.addPage(o.page, sheet); err != nil {
			return err
		}
	}
	if o.show.json {
		err = e.json(d)
	} else {
		_, err = e.out.Write(text.Field(e.screen, d))
	}
	if err != nil {
		return err
	}
	if ctx.Err() != nil {
		return &interruptedError{"interrupted; nothing was printed"}
	}
	if n := len(done.Refused); n > 0 {
		for _, f := range done.Refused {
			e.warn("%s", f.Err)
		}
		e.warn("%d of the files could not be used", n)
		return errSomeRefused
	}
	return nil
}

// tallied gives what the records or the states that were named say of a race.
func (e *env) tallied(ctx context.Context, g *field.Ground, o *fieldOptions, operands []string) (*field.Tally, field.Done, error) {
	if !o.merge {
		if err := e.planned(nil, o.state, o.page); err != nil {
			return nil, field.Done{}, err
		}
		return e.runRecords(ctx, g, o, operands)
	}
	if err := e.planned(operands, o.state, o.page); err != nil {
		return nil, field.Done{}, err
	}
	tally := g.NewTally()
	for _, name := range operands[1:] {
		part, err := readState(g, name)
		if err != nil {
			return nil, field.Done{}, err
		}
		if err := tally.Merge(part); err != nil {
			return nil, field.Done{}, &inputerr.Error{File: name, What: err.Error(), Advice: "give every part once, each made from its own files", Cause: err}
		}
	}
	return tally, field.Done{}, nil
}

// courseLength is the length of the shortest line with the doubt of the map.
func (e *env) courseLength(name string, r *race.Race) (interval.Estimate, error) {
	if r.Road.Spec.CourseIsLine {
		return interval.Exact(r.Line.Length), nil
	}
	watch, end := e.watch("lines")
	defer end()
	c, err := adjust.HowSure(r.Course, r.Road.Spec, adjust.UsualDoubts(), watch)
	if err != nil {
		return interval.Estimate{}, inCourse(name, err)
	}
	return c.Length, nil
}

func readState(g *field.Ground, name string) (*field.Tally, error) {
	content, err := os.ReadFile(name)
	if err != nil {
		return nil, &inputerr.Error{File: name, What: "the state file cannot be read", Advice: "check the name", Cause: err}
	}
	return g.Decode(name, content)
}

// runRecords goes through the records, on from the state file if there is one.
func (e *env) runRecords(ctx context.Context, g *field.Ground, o *fieldOptions, operands []string) (*field.Tally, field.Done, error) {
	tally := g.NewTally()
	var run field.Options
	if o.state != "" {
		if _, err := os.Stat(o.state); err == nil {
			if tally, err = readState(g, o.state); err != nil {
				return nil, field.Done{}, err
			}
		}
		run.Save = func(content []byte) error {
			var set outfile.Set
			set.Add(o.state, content)
			return set.Write()
		}
		// An interrupt is waited for, so that what is done is kept.
		e.patient.Store(true)
	}
	sources, err := field.Find(operands[1:], operands[0], o.state)
	if err != nil {
		return nil, field.Done{}, err
	}
	defer sources.Close()
	if w, ok := e.terminal(); ok {
		run.Progress = progressOf(w, "records")
		defer fmt.Fprint(w, wipe)
	}
	before := tally.Records()
	done, err := g.Run(ctx, sources, tally, run)
	if errors.Is(err, context.Canceled) && o.state != "" {
		return nil, done, &interruptedError{fmt.Sprintf("interrupted; %d records are in %s, and the same command goes on from there", tally.Records(), o.state)}
	}
	if err != nil {
		return nil, done, err
	}
	e.patient.Store(false) // what is left takes a moment
	if before > 0 {
		e.warn("%s holds %d of the records from before", o.state, before)
	}
	return tally, done, nil
}

// terminal is standard error where it is a terminal.
func (e *env) terminal() (*oneAtATime, bool) {
	w, ok := e.errs.(*oneAtATime)
	if !ok {
		return nil, false
	}
	f, ok := w.w.(interface{ Fd() uintptr })
	return w, ok && term.IsTerminal(int(f.Fd())) && e.getenv("TERM") != "dumb"
}

// progressOf shows how far the work on so many things has come, a few times a
// second.
func progressOf(w *oneAtATime, what string) func(done, of int) {
	began, shown := time.Now(), time.Time{}
	return func(done, of int) {
		now := time.Now()
		if now.Sub(shown) < 200*time.Millisecond && done < of {
			return
		}
		shown = now
		left := ""
		if spent := now.Sub(began); spent > 2*time.Second && done < of {
			left = ", " + quantity.Clock((spent.Seconds()/float64(done))*float64(of-done)) + " left"
		}
		fmt.Fprintf(w, wipe+"%d of %d %s%s", done, of, what, left)
	}
}

// watch shows the progress of a step on a terminal, once it has taken a
// moment; end wipes it off.
func (e *env) watch(what string) (watch adjust.Watch, end func()) {
	w, ok := e.terminal()
	if !ok {
		return nil, func() {}
	}
	began, shown := time.Now(), false
	show := progressOf(w, what)
	return func(done, of int) {
			if shown || time.Since(began) > 500*time.Millisecond {
				shown = true
				show(done, of)
			}
		}, func() {
			if shown {
				fmt.Fprint(w, wipe)
			}
		}
}
