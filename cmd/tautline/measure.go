package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"

	"github.com/spf13/pflag"

	"tautline/geo/inputerr"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/measure"
)

func measureCommand() *command {
	return &command{
		name: "measure", operands: "SHEET", for_: forDirectors,
		summary: "work out a calibrated-bicycle or steel-tape measurement, step by step",
		about: "SHEET is what the measurer wrote down, in TOML or (with the ending .csv) in CSV: the calibration course or its tapings, the calibration rides before and after, the course rides, marks. " +
			"The report gives the constants, the length that counts, what to add or remove in metres and in counts, and what looks like a slip, and names the rule behind each step.\n\n" +
			"The bodies differ in the constant for the day (the larger or the average of the two) and in what a verification forgives: the key rules of the sheet chooses, every figure can be set, and the other choice is shown beside it.\n\n" +
			"tautline measure --example prints a sheet with a comment on every part, to start from.\n\n" +
			measure.NeverCertifies,
		run: runMeasure,
	}
}

type measureOptions struct {
	show    showFlags
	example bool
	page    string
}

func (o *measureOptions) define(set *pflag.FlagSet) {
	set.BoolVar(&o.example, "example", false, "print a measuring sheet to start from, and do nothing else")
	set.StringVar(&o.page, "page", "", "`FILE` to write the measurement to: one page to print and sign, .html, that needs nothing from elsewhere")
	o.show.define(set)
}

func (o *measureOptions) validate() error {
	if err := pageName(o.page); err != nil {
		return err
	}
	return o.show.validate()
}

func runMeasure(ctx context.Context, e *env, args []string) error {
	var o measureOptions
	operands, err := measureCommand().parse(e, args, &o, 0, 1)
	switch {
	case err != nil:
		return err
	case o.example && o.page != "":
		return &usageError{"--page needs SHEET, and --example takes none", "tautline measure --example > sheet.toml"}
	case o.example && len(operands) == 0:
		e.out.Write(measure.Example)
		return nil
	case o.example:
		return &usageError{"--example takes no sheet", "tautline measure --example > sheet.toml"}
	case len(operands) == 0:
		return &usageError{"measure needs SHEET", "tautline measure --example prints one to start from"}
	}
	e.show(&o.show)
	if err := e.planned(operands, o.page); err != nil {
		return err
	}
	r, err := e.measurement(operands[0])
	if err != nil {
		return err
	}
	if o.page != "" {
		sheet, err := page.Measurement(r, undrawn(&o.show, operands[0]))
		if err != nil {
			return err
		}
		if err := e.addPage(o.page, sheet); err != nil {
			return err
		}
	}
	if o.show.json {
		return e.json(document.NewMeasurement(r))
	}
	e.out.Write(text.Measurement(e.screen, r))
	return nil
}

// measurement reads and works out a measuring sheet; "-" is standard input in
// TOML.
func (e *env) measurement(path string) (*measure.Result, error) {
	name, r := path, e.stdin
	if path == "-" {
		name = "standard input"
	} else {
		e.files.Input(path)
		f, err := os.Open(path)
		if err != nil {
			var pe *os.PathError
			if errors.As(err, &pe) {
				err = pe.Err
			}
			return nil, &inputerr.Error{File: path, What: "the measuring sheet cannot be opened: " + err.Error(), Cause: err}
		}
		defer f.Close()
		if s, err := f.Stat(); err == nil && s.IsDir() {
			return nil, &inputerr.Error{File: path, What: "this is a folder, not a measuring sheet"}
		}
		r = f
	}
	b, err := io.ReadAll(io.LimitReader(r, measure.MaxSheetBytes+1))
	if err != nil {
		return nil, &inputerr.Error{File: name, What: "the measuring sheet cannot be read: " + err.Error(), Cause: err}
	}
	s, err := measure.Read(name, bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	return s.Work()
}
