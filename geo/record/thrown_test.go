package record

import (
	"math"
	"strings"
	"testing"
	"time"

	"tautline/geo/earth"
	"tautline/geo/track"
)

func TestFixesThrownFarAsideAreDropped(t *testing.T) {
	plane := earth.NewPlane(earth.LatLon{Lat: 47, Lon: -29})
	began := time.Date(2031, 5, 4, 9, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name    string
		aside   map[int]float64 // m to the left at a second
		dropped int
	}{
		{"nothing of a plain record", nil, 0},
		{"one for a second", map[int]float64{20: 800}, 1},
		{"three in a row", map[int]float64{20: 300, 21: 310, 22: 305}, 3},
		{"two alone", map[int]float64{20: 90, 40: -200}, 2},
		{"none that are 30 m aside, as between tall houses", map[int]float64{20: 30}, 0},
		{"none of a way that was run aside and back", map[int]float64{20: 8, 21: 16, 22: 24, 23: 16, 24: 8}, 0},
		{"none of a record that jumps and stays there", map[int]float64{55: 500, 56: 500, 57: 500, 58: 500, 59: 500}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			rec := Record{Timed: true, Notes: []string{"a note"}, Gaps: []Gap{{Before: 50, Seconds: 1}}}
			for i := range 60 {
				rec.Fixes = append(rec.Fixes, track.Fix{At: plane.From([2]float64{4 * float64(i), c.aside[i]}), Height: math.NaN(), Time: began.Add(time.Duration(i) * time.Second)})
			}
			got := Reached(rec)
			if n := len(rec.Fixes) - len(got.Fixes); n != c.dropped || len(rec.Fixes) != 60 {
				t.Errorf("%d dropped, want %d", n, c.dropped)
			}
			for _, f := range got.Fixes {
				if i := int(f.Time.Sub(began).Seconds()); c.dropped > 0 && c.aside[i] != 0 {
					t.Errorf("the fix at %d s is still there", i)
				}
			}
			if said := len(got.Notes) == 2 && strings.Contains(got.Notes[1], "nobody can have gone"); said != (c.dropped > 0) {
				t.Errorf("notes %q", got.Notes)
			}
			if len(got.Gaps) != 1 || got.Fixes[got.Gaps[0].Before].Time != rec.Fixes[50].Time {
				t.Errorf("gaps %v", got.Gaps)
			}
			rec.Timed = false
			if n := len(Reached(rec).Fixes); n != 60 {
				t.Errorf("without times %d fixes are left", n)
			}
		})
	}
}
