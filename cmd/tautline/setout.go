package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/pflag"

	"tautline/geo/inputerr"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/marks"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
)

func setoutCommand() *command {
	return &command{
		name: "setout", operands: "COURSE", for_: forDirectors,
		summary: "where the distance marks go: coordinates, metres from the nearest turn, side of the road",
		about: "COURSE is a GPX file with the drawn course. Marks are placed along the shortest legal line at the official distances, in proportion to the map; what the proportion is, and how far a mark may be off, is said.\n\n" +
			"Without --every and --at it gives start, every kilometre, every mile, half way and finish, and the marks of the race sheet. Where a measuring ride has found the distance of a place, --known pins the line there.",
		run: runSetout,
	}
}

type setoutOptions struct {
	race  raceFlags
	show  showFlags
	every []string
	at    []string
	known []string
	gpx   string
	csv   string
	page  string
}

func (o *setoutOptions) define(set *pflag.FlagSet) {
	set.StringArrayVar(&o.every, "every", nil, "`DISTANCE` from mark to mark: \"km\", \"mi\", \"5km\"; may be repeated")
	set.StringArrayVar(&o.at, "at", nil, "`DISTANCE` of a mark from the start; may be repeated")
	set.StringArrayVar(&o.known, "known", nil, "`OFFICIAL=ALONG` a place of known distance: \"5 km = 5003.2 m\" says that the place 5003.2 m along the line was measured as 5 km; may be repeated")
	set.StringVar(&o.gpx, "gpx", "", "`FILE` to write the marks to, as GPX waypoints")
	set.StringVar(&o.csv, "csv", "", "`FILE` to write the marks to, as CSV")
	set.StringVar(&o.page, "page", "", "`FILE` to write the marks to, on a strip map and as a mark sheet to print: one page, .html, that needs nothing from elsewhere")
	o.race.define(set)
	o.show.define(set)
}

func (o *setoutOptions) validate() error {
	if err := o.race.validate(); err != nil {
		return err
	}
	if err := pageName(o.page); err != nil {
		return err
	}
	return o.show.validate()
}

func runSetout(ctx context.Context, e *env, args []string) error {
	var o setoutOptions
	operands, err := setoutCommand().parse(e, args, &o, 1, 1)
	if err != nil {
		return err
	}
	every, err := distances("every", o.every, step)
	if err != nil {
		return err
	}
	at, err := distances("at", o.at, far)
	if err != nil {
		return err
	}
	known, err := o.places()
	if err != nil {
		return err
	}
	e.show(&o.show)
	if err := e.planned(operands, o.gpx, o.csv, o.page); err != nil {
		return err
	}
	r, err := o.race.prepare(e, operands[0])
	if err != nil {
		return err
	}
	list, err := placeMarks(r, every, at, known)
	if err != nil {
		return &inputerr.Error{File: operands[0], What: err.Error(), Advice: "check the official distance, --at and --known", Cause: err}
	}
	if o.gpx != "" {
		b, err := document.MarksGPX(r, list)
		if err != nil {
			return err
		}
		e.files.Add(o.gpx, b)
	}
	if o.csv != "" {
		b, err := document.MarksCSV(list)
		if err != nil {
			return err
		}
		e.files.Add(o.csv, b)
	}
	if o.page != "" {
		look, err := e.drawing(&o.show, r, operands[0])
		if err != nil {
			return err
		}
		sheet, err := page.MarkSheet(r, list, look)
		if err != nil {
			return err
		}
		if err := e.addPage(o.page, sheet); err != nil {
			return err
		}
	}
	if o.show.json {
		return e.json(document.NewSetOut(r, list))
	}
	e.out.Write(text.Marks(e.screen, r, list))
	return nil
}

// distances reads the values of a flag that may be given several times.
func distances(flag string, texts []string, read func(string) (float64, error)) ([]float64, error) {
	var out []float64
	for _, t := range texts {
		v, err := read(t)
		if err != nil {
			return nil, &usageError{fmt.Sprintf("--%s %q: %v", flag, t, plain(err)), ""}
		}
		if !(v > 0) && flag == "every" {
			return nil, &usageError{fmt.Sprintf("--every %q is no distance", t), "write --every \"1 km\""}
		}
		out = append(out, v)
	}
	return out, nil
}

func (o *setoutOptions) places() ([]marks.Known, error) {
	var out []marks.Known
	for _, t := range o.known {
		a, b, two := strings.Cut(t, "=")
		official, err := far(strings.TrimSpace(a))
		along, err2 := far(strings.TrimSpace(b))
		if !two || err != nil || err2 != nil {
			return nil, &usageError{fmt.Sprintf("--known %q cannot be read", t), "write --known \"5 km = 5003.2 m\": the measured distance, then metres along the line"}
		}
		out = append(out, marks.Known{Official: official, Along: along})
	}
	return out, nil
}

// placeMarks places the marks asked for, or the usual ones and those of the
// race sheet.
func placeMarks(r *race.Race, every, at []float64, known []marks.Known) (*marks.List, error) {
	official := r.Official
	if official == 0 {
		official = r.Line.Length
	}
	var want []marks.Want
	if len(every) == 0 && len(at) == 0 {
		usual, err := marks.Usual(official)
		if err != nil {
			return nil, err
		}
		want = usual
		for _, m := range r.Sheet.Marks {
			want = append(want, marks.Want{Name: m.Name, Official: m.At})
		}
	}
	for _, step := range every {
		w, err := marks.Every(step, official)
		if err != nil {
			return nil, fmt.Errorf("a mark every %s: %w", quantity.Distance(step, quantity.Metric), err)
		}
		want = append(want, w...)
	}
	for _, a := range at {
		want = append(want, marks.Want{Name: marks.Name(a), Official: a})
	}
	return marks.Place(marks.Input{Line: r.Line, Plane: r.Course.Plane, Road: r.Road, Official: r.Official, Known: known}, want)
}
