package review

import (
	"cmp"
	"errors"

	"tautline/geo/gpxfile"
	"tautline/geo/inputerr"
	"tautline/geo/record"
	"tautline/strategy/race"
)

// OfFile reviews the record in a file, and gives the record as it was reviewed.
// What the file left out or guessed stands before the other notes. name is what
// messages call the file; errors are *inputerr.Error.
func OfFile(r *race.Race, name string, f *gpxfile.File, o Options) (*Review, record.Record, error) {
	line, notes, err := f.Record()
	if err != nil {
		return nil, record.Record{}, err
	}
	rec := record.Reached(record.Clean(line))
	v, err := Of(r, rec, o)
	if err != nil {
		var watch *WatchError
		if errors.As(err, &watch) {
			return nil, record.Record{}, err // it is not the record's fault
		}
		var in *inputerr.Error
		if errors.As(err, &in) {
			at := *in
			at.File = cmp.Or(at.File, name)
			return nil, record.Record{}, &at
		}
		return nil, record.Record{}, &inputerr.Error{File: name, What: err.Error(), Advice: "give the record of this very race", Cause: err}
	}
	v.Notes = append(append(append([]string(nil), f.Warnings...), notes...), v.Notes...)
	return v, rec, nil
}
