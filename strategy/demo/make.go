package demo

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"time"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/road"
	"tautline/geo/simulate"
	"tautline/geo/taut"
	"tautline/geo/track"
	"tautline/strategy/sheet"
)

// seed of everything random in the demo.
const seed = 20270418

const (
	official = 10000.0
	// laidOut is the length that the shortest legal line is given along the
	// surface of the road: a certified course is laid out a thousandth long.
	laidOut = official * 1.001
	// within is how near, m, the course must come to it. Room for small changes
	// in how the line is worked out keeps the drawn course as it is.
	within = 0.5
)

// race is the demo's course with everything worked out.
type race struct {
	lap   lap
	plane earth.Plane // of the whole course
	drawn []track.Fix
	sheet []byte
	road  *road.Road
	line  *taut.Line
}

// entrant is one of the three runners and the watch that went along.
type entrant struct {
	name, file, what string
	runner           simulate.Runner
	watch            simulate.Environment
	options          simulate.Options
	started          time.Time // when the watch was
}

// entrants are the careful runner, the wide one, and the one on a poor watch
// that loses the signal under the railway.
func entrants() []entrant {
	gun := time.Date(2027, 4, 18, 9, 30, 0, 0, time.UTC)
	poor := simulate.MidRise()
	poor.Name, poor.Outage = "poor watch", true
	return []entrant{
		{
			name: "Iva Thornquist", file: "careful.gpx",
			what: "runs the line: close to every apex, straight in between, on a good watch",
			runner: simulate.Runner{
				ApexMiss: 0.3, ApexSpread: 0.3, WeaveSD: 0.15, WeaveLength: 40, DriftSD: 0.3, DriftLength: 200,
				Speed: 4.05, SpeedSD: 0.015, SpeedLength: 600, GradeLoss: 2.2, SideAcceleration: 3,
				LeadIn: simulate.Walk{Distance: 6, Wait: 4, Speed: 1.5}, RunOut: simulate.Walk{Distance: 9, Wait: 3},
			},
			watch:   simulate.OpenRoad(),
			options: simulate.Options{Heights: simulate.BarometricHeights, HeightScale: 0.98},
			started: gun.Add(2 * time.Second),
		},
		{
			name: "Bram Oddley", file: "wide.gpx",
			what: "runs where there is room: outside at turns and across the road in between, on a good watch that smooths",
			runner: simulate.Runner{
				ApexMiss: 3.2, ApexSpread: 0.9, WeaveSD: 0.5, WeaveLength: 22, DriftSD: 1.4, DriftLength: 160,
				Speed: 3.6, SpeedSD: 0.03, SpeedLength: 500, GradeLoss: 2.6, SideAcceleration: 3,
				LeadIn: simulate.Walk{Distance: 18, Wait: 10, Speed: 1.3}, RunOut: simulate.Walk{Distance: 25, Wait: 6},
			},
			watch:   simulate.OpenRoad(),
			options: simulate.Options{Filter: simulate.Kalman(1, 1.5), Heights: simulate.BarometricHeights, HeightScale: 0.97},
			started: gun.Add(8 * time.Second),
		},
		{
			name: "Perpetua Quill", file: "poor-watch.gpx",
			what: "runs nearly as well as the careful one; the watch was started in the corral, adds up every fix and goes blind under the railway",
			runner: simulate.Runner{
				ApexMiss: 0.5, ApexSpread: 0.3, WeaveSD: 0.2, WeaveLength: 35, DriftSD: 0.5, DriftLength: 220,
				Speed: 3.1, SpeedSD: 0.025, SpeedLength: 500, GradeLoss: 2.4, SideAcceleration: 3,
				LeadIn: simulate.Walk{Distance: 45, Wait: 75, Speed: 1}, RunOut: simulate.Walk{Distance: 40, Wait: 15},
			},
			watch:   poor,
			options: simulate.Options{Heights: simulate.SatelliteHeights},
			started: gun.Add(-70 * time.Second),
		},
	}
}

// Make makes the files of the demo, by name. It gives the same bytes every
// time.
func Make() (map[string][]byte, error) {
	r, err := laidOutRace()
	if err != nil {
		return nil, err
	}
	files := map[string][]byte{SheetFile: r.sheet}
	if files[CourseFile], err = gpx("Velmarrow Lantern 10, one lap", r.drawn); err != nil {
		return nil, err
	}
	truth := Truth{
		Note:      "Invented town, race and people. The paths and the records come from a seeded generator; this is what it knows.",
		OfficialM: official, ShortestM: rounded(r.line.Length, 100), SurfaceM: rounded(r.line.SurfaceLength, 100),
	}
	for i, e := range entrants() {
		runner, fixes, err := r.run(e, uint64(i))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", e.name, err)
		}
		truth.Runners = append(truth.Runners, runner)
		if files[e.file], err = gpx(e.name, fixes); err != nil {
			return nil, err
		}
	}
	data, err := json.MarshalIndent(truth, "", "  ")
	if err != nil {
		return nil, err
	}
	files[TruthFile] = append(data, '\n')
	return files, nil
}

// laidOutRace finds the length of the mole that makes the race as long as it
// should be, as a measurer moves a turn-around.
func laidOutRace() (race, error) {
	mole := 609.64
	for range 6 {
		r, err := raceWith(mole)
		if err != nil {
			return r, err
		}
		// Two laps, each out and back.
		short := laidOut - r.line.SurfaceLength
		if math.Abs(short) < within {
			return r, nil
		}
		mole = rounded(mole+short/4, 100)
	}
	return race{}, fmt.Errorf("the mole cannot be laid out so that the race measures %.1f m", laidOut)
}

func raceWith(mole float64) (race, error) {
	r := race{lap: layout(mole)}
	r.drawn = r.lap.fixes(earth.NewPlane(velmarrow))
	var err error
	if r.sheet, err = sheetOf(r.lap); err != nil {
		return r, err
	}
	s, err := sheet.Read(SheetFile, r.sheet)
	if err != nil {
		return r, err
	}
	c, err := s.Course("demo", r.drawn)
	if err != nil {
		return r, err
	}
	r.plane = c.Plane
	spec, err := s.Resolve(c)
	if err != nil {
		return r, err
	}
	if r.road, err = road.Build(c, spec.Spec); err != nil {
		return r, err
	}
	r.line, err = taut.Solve(r.road)
	return r, err
}

// run lets an entrant run the race and the watch write it down.
func (r race) run(e entrant, number uint64) (Runner, []track.Fix, error) {
	truth, err := e.runner.Run(simulate.Along(r.road, r.line), simulate.Rand(seed, 2*number))
	if err != nil {
		return Runner{}, nil, err
	}
	opt := e.options
	opt.Plane, opt.Began = r.plane, e.started
	opt.Underpasses = r.underpasses()
	// What the watch adds up are its fixes as they come; the file has them
	// rounded.
	raw := e.watch.Record(truth, opt, simulate.Rand(seed, 2*number+1))
	opt.Decimals = 6
	written := e.watch.Record(truth, opt, simulate.Rand(seed, 2*number+1))

	out := Runner{
		Name: e.name, What: e.what, File: e.file, WatchM: rounded(raw.Length(), 0.1),
		RanM: rounded(truth.Ran, 100), ExtraM: rounded(truth.Extra, 100), BetweenTurnsM: rounded(truth.BetweenTurns, 100),
		LeadInM: rounded(truth.LeadIn, 100), RunOutM: rounded(truth.RunOut, 100), ChipS: rounded(truth.Duration, 10),
		FixesM: rounded(raw.Length(), 100),
	}
	for i, t := range truth.Turns {
		out.Turns = append(out.Turns, Turn{
			Number: r.line.Turns[i].Number, AtM: rounded(r.line.Turns[i].At, 10),
			ExtraM: rounded(t.Extra, 100), MissM: rounded(t.Miss, 100), TimeS: rounded(t.Time, 10),
		})
	}
	return out, written.Fixes, nil
}

// underpasses are the railway's places along the shortest line, on both laps.
func (r race) underpasses() []simulate.Span {
	from, to := underpass(r.lap)
	var out []simulate.Span
	for _, shift := range []float64{0, r.lap.length} {
		out = append(out, simulate.Span{
			From: interpolated(r.line.At, r.line.Along, from+shift), To: interpolated(r.line.At, r.line.Along, to+shift),
		})
	}
	return out
}

func gpx(name string, fixes []track.Fix) ([]byte, error) {
	var b bytes.Buffer
	err := gpxfile.Write(&b, &gpxfile.File{Name: name, Lines: []track.Line{{Name: name, Segments: [][]track.Fix{fixes}}}})
	return b.Bytes(), err
}
