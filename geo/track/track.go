// Package track is what a recorded or drawn line says, free of the file
// format it came in: positions, heights and times in order.
package track

import (
	"math"
	"time"

	"tautline/geo/earth"
)

// Fix is one point of a record or of a drawn course.
type Fix struct {
	At     earth.LatLon
	Height float64   // m as given in the file, NaN when it gives none
	Time   time.Time // UTC, zero when the file gives none
}

// HasTime tells whether the fix carries a time.
func (f Fix) HasTime() bool { return !f.Time.IsZero() }

// HasHeight tells whether the fix carries a height.
func (f Fix) HasHeight() bool { return !math.IsNaN(f.Height) }

// Line is one track or route of a file. A pause of the watch or a lost signal
// starts a new segment in some files.
type Line struct {
	Name     string
	Route    bool // from a route (a plan), not a track (a record)
	Segments [][]Fix
}

// Fixes gives all fixes of all segments in order.
func (l Line) Fixes() []Fix {
	n := 0
	for _, s := range l.Segments {
		n += len(s)
	}
	all := make([]Fix, 0, n)
	for _, s := range l.Segments {
		all = append(all, s...)
	}
	return all
}
