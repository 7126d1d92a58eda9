package main

import (
	"path/filepath"
	"strings"
	"time"

	"tautline/geo/heights"
	"tautline/report/page"
	"tautline/strategy/race"
)

// drawing says how a page is drawn: in the units asked for, dated today, with
// the heights of the course and the names of the files that it was drawn from.
func (e *env) drawing(show *showFlags, r *race.Race, files ...string) (page.Options, error) {
	ground, err := heights.FromCourse(r.Course)
	if err != nil {
		return page.Options{}, err
	}
	look := undrawn(show, files...)
	look.Ground = ground
	return look, nil
}

// undrawn is how a page without a map is made.
func undrawn(show *showFlags, files ...string) page.Options {
	var names []string
	for _, f := range files {
		if f == "-" {
			f = "standard input"
		}
		names = append(names, filepath.Base(f)) // a folder's name may say more than the reader should know
	}
	return page.Options{Units: show.in(), Date: time.Now().Format(time.DateOnly), Source: strings.Join(names, ", ")}
}

// pageName checks the name of a page to write, "" for none.
func pageName(path string) error {
	if ext := strings.ToLower(filepath.Ext(path)); path != "" && ext != ".html" && ext != ".htm" {
		return &usageError{"--page \"" + path + "\" is no page", "end the name with .html"}
	}
	return nil
}

// addPage plans a page for writing.
func (e *env) addPage(path string, s *page.Sheet) error {
	b, err := s.HTML()
	if err != nil {
		return err
	}
	e.files.Add(path, b)
	return nil
}
