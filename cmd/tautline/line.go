package main

import (
	"context"

	"github.com/spf13/pflag"

	"tautline/geo/gpxfile"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/race"
)

func lineCommand() *command {
	return &command{
		name: "line", operands: "COURSE", for_: forDirectors,
		summary: "the shortest legal line of a course, how sure it is, and what turns",
		about: "COURSE is a GPX file with the drawn course. The shortest legal line is the shortest way a runner may take without being disqualified: " +
			"a string pulled tight in the permitted road, a little clear of every kerb. It is what a measurer rides.\n\n" +
			"The road is 8 m wide with 5 m corner radii unless options or a race sheet say otherwise; the report says what another road would change.",
		run: runLine,
	}
}

type lineOptions struct {
	race    raceFlags
	show    showFlags
	gpx     string
	geojson string
	page    string
}

func (o *lineOptions) define(set *pflag.FlagSet) {
	set.StringVar(&o.gpx, "gpx", "", "`FILE` to write the line and its turns to, as GPX")
	set.StringVar(&o.geojson, "geojson", "", "`FILE` to write the line, the drawn course and the turns to, as GeoJSON")
	set.StringVar(&o.page, "page", "", "`FILE` to write the measured drawing to: one page, .html, that needs nothing from elsewhere")
	o.race.define(set)
	o.show.define(set)
}

func (o *lineOptions) validate() error {
	if err := o.race.validate(); err != nil {
		return err
	}
	if err := pageName(o.page); err != nil {
		return err
	}
	return o.show.validate()
}

func runLine(ctx context.Context, e *env, args []string) error {
	var o lineOptions
	operands, err := lineCommand().parse(e, args, &o, 1, 1)
	if err != nil {
		return err
	}
	e.show(&o.show)
	if err := e.planned(operands, o.gpx, o.geojson, o.page); err != nil {
		return err
	}
	r, err := o.race.prepare(e, operands[0])
	if err != nil {
		return err
	}
	doubts := r.Doubts()
	for _, out := range []struct {
		path string
		make func(*race.Race) ([]byte, error)
	}{{o.gpx, document.LineGPX}, {o.geojson, document.LineGeoJSON}} {
		if out.path == "" {
			continue
		}
		b, err := out.make(r)
		if err != nil {
			return err
		}
		e.files.Add(out.path, b)
	}
	if o.page != "" {
		look, err := e.drawing(&o.show, r, operands[0])
		if err != nil {
			return err
		}
		sheet, err := page.Line(r, doubts, look)
		if err != nil {
			return err
		}
		if err := e.addPage(o.page, sheet); err != nil {
			return err
		}
	}
	if o.show.json {
		return e.json(document.NewLine(r, doubts))
	}
	e.out.Write(text.ShortestLine(e.screen, r, doubts))
	return nil
}

// prepare reads the sheet and the course and lays out the race.
func (r *raceFlags) prepare(e *env, course string) (*race.Race, error) {
	s, err := r.load(e)
	if err != nil {
		return nil, err
	}
	f, err := e.readGPX(course)
	if err != nil {
		return nil, err
	}
	return race.Prepare(course, f, s)
}

// readGPX reads a GPX file; "-" is standard input.
func (e *env) readGPX(path string) (*gpxfile.File, error) {
	if path == "-" {
		return gpxfile.Read("standard input", e.stdin)
	}
	return gpxfile.Open(path)
}

// show sets the screen to the units asked for.
func (e *env) show(s *showFlags) { e.screen.Units = s.in() }

// planned notes the inputs of a run and checks its outputs before any work.
func (e *env) planned(inputs []string, outputs ...string) error {
	for _, in := range inputs {
		e.files.Input(in)
	}
	for _, out := range outputs {
		if out == "" {
			continue
		}
		if err := e.files.Check(out); err != nil {
			return err
		}
	}
	return nil
}
