package gpxfile

import (
	"fmt"
	"sort"
	"time"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
	"tautline/geo/track"
)

// MaxPause is the longest time between two tracks of a file that still belong
// to one record: a watch that was stopped and started again in the same race.
const MaxPause = time.Hour

// Longest gives the line of the file that a course is taken from: the one
// with the greatest map length, of equal ones the first. Tracks come before
// routes in Lines, so a track wins over its own route.
func (f *File) Longest() (track.Line, error) {
	if len(f.Lines) == 0 {
		return track.Line{}, f.empty()
	}
	best, most := 0, -1.0
	for i, l := range f.Lines {
		if n := length(l); n > most {
			best, most = i, n
		}
	}
	return f.Lines[best], nil
}

// Course is Longest with a note for people where the file held other lines.
func (f *File) Course() (line track.Line, notes []string, err error) {
	line, err = f.Longest()
	if err == nil && len(f.Lines) > 1 {
		notes = append(notes, fmt.Sprintf("the file holds %d tracks and routes; the longest%s was taken as the course", len(f.Lines), quoted(line.Name)))
	}
	return line, notes, err
}

// Record gives the line of the file that is a runner's record. Tracks whose
// times follow each other without overlap and within MaxPause are one record,
// as a watch writes it that was stopped on the way, and are joined in the
// order of time; of several records the longest is taken. Tracks without times
// stand each for itself. A route is taken only where there is no track.
func (f *File) Record() (line track.Line, notes []string, err error) {
	if len(f.Lines) == 0 {
		return track.Line{}, nil, f.empty()
	}
	type run struct {
		line        track.Line
		first, last time.Time
		tracks      int
	}
	var runs []run
	for _, l := range f.Lines {
		if l.Route {
			continue
		}
		first, last := span(l)
		runs = append(runs, run{l, first, last, 1})
	}
	if len(runs) == 0 {
		line, notes, err = f.Course()
		return line, append(notes, "the file holds a route and no track; the route was read as the record"), err
	}
	if len(runs) > 1 {
		sort.SliceStable(runs, func(i, j int) bool {
			a, b := runs[i].first, runs[j].first
			return !a.IsZero() && (b.IsZero() || a.Before(b)) // without times last
		})
		joined := runs[:1:1]
		for _, r := range runs[1:] {
			last := &joined[len(joined)-1]
			gap := r.first.Sub(last.last)
			if r.first.IsZero() || last.last.IsZero() || gap < 0 || gap > MaxPause {
				joined = append(joined, r)
				continue
			}
			segments := make([][]track.Fix, 0, len(last.line.Segments)+len(r.line.Segments))
			last.line.Segments = append(append(segments, last.line.Segments...), r.line.Segments...)
			last.last = r.last
			last.tracks += r.tracks
		}
		runs = joined
	}
	best, most := 0, -1.0
	for i, r := range runs {
		if n := length(r.line); n > most {
			best, most = i, n
		}
	}
	if n := runs[best].tracks; n > 1 {
		notes = append(notes, fmt.Sprintf("%d tracks that follow each other in time were joined to one record", n))
	}
	if len(runs) > 1 {
		notes = append(notes, fmt.Sprintf("the file holds %d records; the longest%s was taken", len(runs), quoted(runs[best].line.Name)))
	}
	return runs[best].line, notes, nil
}

func quoted(name string) string {
	if name == "" {
		return ""
	}
	return ", “" + name + "”,"
}

func (f *File) empty() error {
	e := &inputerr.Error{File: f.source, What: "the file holds no track and no route", Advice: "export it again with its track"}
	if len(f.Waypoints) > 0 {
		e.What = fmt.Sprintf("the file holds %d waypoints but no track and no route", len(f.Waypoints))
	}
	return e
}

// span gives the earliest and the latest time of a line, zero without times.
func span(l track.Line) (first, last time.Time) {
	for _, s := range l.Segments {
		for _, x := range s {
			if !x.HasTime() {
				continue
			}
			if first.IsZero() || x.Time.Before(first) {
				first = x.Time
			}
			if x.Time.After(last) {
				last = x.Time
			}
		}
	}
	return first, last
}

// length is the map length of a line in metres, gaps between segments included.
func length(l track.Line) float64 {
	var sum float64
	var last *earth.LatLon
	for _, s := range l.Segments {
		for i := range s {
			if last != nil {
				sum += earth.Distance(*last, s[i].At)
			}
			last = &s[i].At
		}
	}
	return sum
}
