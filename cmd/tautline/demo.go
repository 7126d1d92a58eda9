package main

import (
	"bytes"
	"context"
	"io/fs"
	"path/filepath"

	"github.com/spf13/pflag"

	"tautline/geo/gpxfile"
	"tautline/report/document"
	"tautline/report/text"
	"tautline/strategy/demo"
	"tautline/strategy/pacing"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/review"
	"tautline/strategy/sheet"
)

func demoCommand() *command {
	return &command{
		name: "demo", for_: forAll,
		summary: "an invented race reviewed, three runners beside the truth, or its files to try things on",
		about: "The demo race, its town and its runners are invented. With --out its files are written to a folder: the course, the race sheet, " +
			"the records of three runners, and the truth that only an invented race has.",
		run: runDemo,
	}
}

type demoOptions struct {
	show showFlags
	out  string
}

func (o *demoOptions) define(set *pflag.FlagSet) {
	set.StringVar(&o.out, "out", "", "`DIR` to write the files of the demo to, made if it is missing")
	o.show.define(set)
}

func (o *demoOptions) validate() error { return o.show.validate() }

func runDemo(_ context.Context, e *env, args []string) error {
	var o demoOptions
	if _, err := demoCommand().parse(e, args, &o, 0, 0); err != nil {
		return err
	}
	e.show(&o.show)
	if o.out != "" {
		if err := e.planDemoFiles(o.out); err != nil {
			return err
		}
	}
	r, err := demoRace()
	if err != nil {
		return err
	}
	truth, err := demo.Known()
	if err != nil {
		return err
	}
	d := document.Demo{Line: document.NewLine(r, nil)}
	var effort []*pacing.Judgement
	for _, runner := range truth.Runners {
		f, err := demoGPX(runner.File)
		if err != nil {
			return err
		}
		opts := review.Options{Watch: runner.WatchM, Doubt: review.UsualDoubt(true, true)}
		if o.show.in() == quantity.Imperial {
			opts.Mark = quantity.Mile
		}
		v, rec, err := review.OfFile(r, runner.File, f, opts)
		if err != nil {
			return err
		}
		spent, err := (&reviewOptions{show: o.show}).spent(r, v)
		if err != nil {
			return err
		}
		effort = append(effort, spent.Judgement)
		d.Runners = append(d.Runners, document.DemoRunner{Name: runner.Name, Who: runner.What, Record: runner.File, Review: spent.on(document.NewReview(r, rec.Name, v)),
			TruthRanM: runner.RanM, TruthExtraM: runner.ExtraM})
	}
	if o.show.json {
		return e.json(d)
	}
	e.out.Write(text.Demo(e.screen, d, effort))
	return nil
}

// planDemoFiles plans all files of the demo for a folder.
func (e *env) planDemoFiles(dir string) error {
	if err := e.files.Folder(dir); err != nil {
		return err
	}
	entries, err := fs.ReadDir(demo.Files(), ".")
	if err != nil {
		return err
	}
	for _, entry := range entries {
		b, err := fs.ReadFile(demo.Files(), entry.Name())
		if err != nil {
			return err
		}
		e.files.Add(filepath.Join(dir, entry.Name()), b)
	}
	return nil
}

// demoRace lays out the demo race from the files in the program.
func demoRace() (*race.Race, error) {
	b, err := fs.ReadFile(demo.Files(), demo.SheetFile)
	if err != nil {
		return nil, err
	}
	s, err := sheet.Read(demo.SheetFile, b)
	if err != nil {
		return nil, err
	}
	s.SetFolder(demo.Files())
	f, err := demoGPX(demo.CourseFile)
	if err != nil {
		return nil, err
	}
	return race.Prepare(demo.CourseFile, f, s)
}

func demoGPX(name string) (*gpxfile.File, error) {
	b, err := fs.ReadFile(demo.Files(), name)
	if err != nil {
		return nil, err
	}
	return gpxfile.Read(name, bytes.NewReader(b))
}
