package review_test

import (
	"math"
	"testing"
	"time"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/record"
	"tautline/geo/track"
	"tautline/strategy/race"
	"tautline/strategy/review"
	"tautline/strategy/sheet"
)

// On a straight road without error the watch is ahead of no mark, however
// unevenly it is run and wherever the runner stands.
func TestMarksOnALongStraightSurviveAStandAndASlowHill(t *testing.T) {
	const metresPerDegree = 68677.4 // of longitude at 52°
	at := func(m float64) earth.LatLon { return earth.LatLon{Lat: 52, Lon: 3 + m/metresPerDegree} }
	began := time.Date(2026, 5, 3, 9, 0, 0, 0, time.UTC)
	fix := func(m, s float64) track.Fix {
		return track.Fix{At: at(m), Height: math.NaN(), Time: began.Add(time.Duration(s * float64(time.Second)))}
	}
	drawn := []track.Fix{{At: at(0), Height: math.NaN()}, {At: at(1500), Height: math.NaN()}, {At: at(3000), Height: math.NaN()}}
	r, err := race.Prepare("course", &gpxfile.File{Lines: []track.Line{{Segments: [][]track.Fix{drawn}}}}, &sheet.Sheet{})
	if err != nil {
		t.Fatal(err)
	}
	var fixes []track.Fix
	x, s := 0.0, 0.0
	for x < 3010 {
		fixes = append(fixes, fix(x, s))
		s++
		switch {
		case s > 450 && s < 600: // stands
		case x < 1400:
			x += 4
		default:
			x += 2.5
		}
	}
	v, err := review.Of(r, record.Clean(track.Line{Segments: [][]track.Fix{fixes}}), review.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(v.Marks) != 2 {
		t.Fatalf("%d marks", len(v.Marks))
	}
	for _, m := range v.Marks {
		if math.Abs(m.Ahead) > 4 {
			t.Errorf("the record is %.1f m ahead at %s", m.Ahead, m.Name)
		}
	}
}
