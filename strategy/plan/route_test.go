package plan

import (
	"bytes"
	"fmt"
	"math"
	"testing"
	"time"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/heights"
	"tautline/geo/interval"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// hillRace is a drawn course of 4 km east, 1 km north and 4 km west, with a
// smooth hill of 45 m between 1.5 and 3 km.
func hillRace(t *testing.T, s *sheet.Sheet, ele bool) *race.Race {
	t.Helper()
	plane := earth.NewPlane(earth.LatLon{Lat: 52, Lon: 3})
	var b bytes.Buffer
	b.WriteString(`<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>`)
	for at := 0.0; at <= 9000; at += 50 {
		p := [2]float64{at, 0}
		switch {
		case at > 5000:
			p = [2]float64{4000 - (at - 5000), 1000}
		case at > 4000:
			p = [2]float64{4000, at - 4000}
		}
		where := plane.From(p)
		h := 10.0
		if at > 1500 && at < 3000 {
			h += 22.5 * (1 - math.Cos(math.Pi*(at-1500)/1500))
		} else if at >= 3000 {
			h += 45
		}
		height := ""
		if ele {
			height = fmt.Sprintf("<ele>%.2f</ele>", h)
		}
		fmt.Fprintf(&b, `<trkpt lat="%.7f" lon="%.7f">%s</trkpt>`, where.Lat, where.Lon, height)
	}
	b.WriteString(`</trkseg></trk></gpx>`)
	f, err := gpxfile.Read("hill.gpx", &b)
	if err != nil {
		t.Fatal(err)
	}
	r, err := race.Prepare("hill.gpx", f, s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestARaceBecomesARouteAlongItsShortestLine(t *testing.T) {
	r := hillRace(t, &sheet.Sheet{Official: 9000}, true)
	ground := must(heights.FromCourse(r.Course))(t)
	route, notes := FromRace(r, ground)
	c := must(NewCourse(route))(t)
	// A 45 m rise over 1.5 km adds 0.09 % there, so 0.01 % to the whole.
	if c.Shortest < r.Line.Length || c.Shortest > 1.0006*r.Line.Length {
		t.Errorf("surface %.2f m, map %.2f m", c.Shortest, r.Line.Length)
	}
	near(t, "climb", c.MeanGradient(0, 9000)*c.Shortest, 45, 1)
	near(t, "gradient in the middle of the hill", c.MeanGradient(2200, 2300), 0.0471, 0.004)
	if len(c.hills) != 1 {
		t.Fatalf("%d hills", len(c.hills))
	}
	// The rise is a cosine from 1.5 to 3 km with a level road after it.
	if h := c.hills[0]; h.Foot < 1500 || h.Foot > 1800 || h.Crest < 2700 || h.Crest > 3000 {
		t.Errorf("the climb goes from %.0f to %.0f m", h.Foot, h.Crest)
	}
	if len(notes) != len(ground.Notes()) {
		t.Errorf("notes %q", notes)
	}

	// Marks lie on the earth where the line passes, in proportion.
	at := Places(r, c)
	plane := earth.NewPlane(earth.LatLon{Lat: 52, Lon: 3})
	for official, want := range map[float64][2]float64{0: {0, 0}, 9000: {0, 1000}, 4500: {4000, 500}} {
		p := plane.To(at(official))
		if d := math.Hypot(p[0]-want[0], p[1]-want[1]); d > 8 { // the road is 8 m wide
			t.Errorf("%.0f m lies at %.1f, %.1f, %.1f m from the drawn place", official, p[0], p[1], d)
		}
	}
	// The wind of a leg: the course runs east first, west last.
	m := effort.Default()
	m.Air = effort.Wind(1.5*math.Pi, 6) // from the west
	p := must(Make(c, must(Every(quantity.Kilometre, quantity.Kilometre, "km", 9000))(t), Settings{Goal: 2700, Model: m}))(t)
	if first, last := p.Splits[0], p.Splits[8]; first.Pace >= last.Pace {
		t.Errorf("with the wind %.4f, against it %.4f s/m", first.Pace, last.Pace)
	}
}

func TestWhatARouteAssumesIsSaid(t *testing.T) {
	level := hillRace(t, new(sheet.Sheet), false)
	ground := must(heights.FromCourse(level.Course))(t)
	route, notes := FromRace(level, ground)
	if route.Ground != nil || route.Official != level.Line.Length || len(notes) != 2 {
		t.Errorf("official %.2f of %.2f m, notes %q", route.Official, level.Line.Length, notes)
	}
	sure := hillRace(t, &sheet.Sheet{Official: 9000, Certified: true}, false)
	route, notes = FromRace(sure, nil)
	if math.Abs(route.Shortest-9009) > 1e-9 || len(notes) != 2 {
		t.Errorf("certified: %.3f m, notes %q", route.Shortest, notes)
	}
}

func TestAnAthletesFileSaysHowToPlan(t *testing.T) {
	share := func(v float64) *float64 { return &v }
	a := &athlete.Athlete{Name: "Tove", Goal: 45 * time.Minute, Settings: athlete.Settings{
		DownhillCredit: share(0.5), DownhillLimit: share(0.10), EffortFlex: share(0.05), WatchReadsLong: share(-0.01), UsualExtra: share(0.004)}}
	s := Settings{Model: effort.Default(), GunDelay: 30}.ForAthlete(a)
	if s.Name != "Tove" || s.Goal != 2700 || s.Model.Credit != 0.5 || s.Model.Cap != 1.10 || s.Model.Flex != 0.05 || s.WatchLong != -0.01 || s.Extra != 0.004 || s.GunDelay != 30 {
		t.Errorf("%+v", s)
	}
	s = Settings{Model: effort.Default(), FlatPace: 0.3}.ForAthlete(a)
	if s.Goal != 0 || s.FlatPace != 0.3 {
		t.Errorf("a flat pace that was asked for gave way: %+v", s)
	}
	s = Settings{Model: effort.Default(), Goal: 1}.ForAthlete(&athlete.Athlete{Name: "Ines"})
	if s.Goal != 1 || s.Model != effort.Default() {
		t.Errorf("%+v", s)
	}
}

// Arithmetic of the power law with exponent 1.06, done apart from this code:
// 20:00 over 5 km is 41:42 over 10 km; 40:00 over 10 km is 1:28:15 over a half
// marathon.
func TestARaceIsCarriedToAnotherDistanceOnlyAsFarAsItTells(t *testing.T) {
	for _, c := range []struct{ from, time, to, want float64 }{
		{5000, 1200, 10000, 2501.9}, {10000, 2400, 21097.5, 5295.4},
	} {
		flat := must(Carry(Equal{FlatPace: c.time / c.from, Official: c.from, Time: c.time}, c.to))(t)
		near(t, "time", flat*c.to, c.want, 0.05)
	}
	same := must(Carry(Equal{FlatPace: 0.3, Official: 42195}, 42195))(t)
	near(t, "the same distance", same, 0.3, 0)
	for _, c := range []struct{ from, to float64 }{{21097.5, 42195}, {42195, 10000}, {3000, 21097.5}, {10000, 42195}} {
		if _, err := Carry(Equal{FlatPace: 0.3, Official: c.from}, c.to); err == nil {
			t.Errorf("a race of %.0f m was carried to %.0f m", c.from, c.to)
		}
	}
}

// steps is ground that rises in straight pieces between chainages.
type steps [][2]float64

func (g steps) Height(at float64) float64 {
	var x, y []float64
	for _, p := range g {
		x, y = append(x, p[0]), append(y, p[1])
	}
	return interpolate(x, y, at)
}
func (g steps) Climb(from, to float64) interval.Estimate {
	return interval.Exact(g.Height(to) - g.Height(from))
}
func (g steps) Descent(from, to float64) interval.Estimate { return interval.Exact(0) }

func TestAClimbIsWhereItGoesUp(t *testing.T) {
	for name, c := range map[string]struct {
		ground steps
		want   [][2]float64
	}{
		"all of an even climb":                  {steps{{0, 0}, {1000, 40}}, [][2]float64{{0, 1000}}},
		"not the plateau behind it":             {steps{{0, 0}, {1000, 40}, {4000, 43}}, [][2]float64{{0, 1000}}},
		"not the road that drags before it":     {steps{{0, 0}, {2000, 8}, {3000, 48}}, [][2]float64{{2000, 3000}}},
		"nor a rise that nobody calls a climb":  {steps{{0, 0}, {2000, 10}}, nil},
		"nor a ramp of a few metres":            {steps{{0, 0}, {1000, 0}, {1100, 3}, {2000, 4}}, nil},
		"one climb with a short easing in it":   {steps{{0, 0}, {500, 20}, {600, 20}, {1100, 40}}, [][2]float64{{0, 1100}}},
		"two with a long level stretch between": {steps{{0, 0}, {500, 20}, {1200, 21}, {1700, 41}}, [][2]float64{{0, 500}, {1200, 1700}}},
		"a climb of ten per cent over sixty m":  {steps{{0, 0}, {1000, 0}, {1060, 6}, {2000, 6}}, [][2]float64{{1000, 1060}}},
		"the second of a drag and a true climb": {steps{{0, 0}, {300, 2}, {900, 32}}, [][2]float64{{300, 900}}},
	} {
		got := climbs(c.ground, 0, c.ground[len(c.ground)-1][0])
		ok := len(got) == len(c.want)
		for i := range got {
			ok = ok && math.Abs(got[i].Foot-c.want[i][0]) <= climbWindow/2 && math.Abs(got[i].Crest-c.want[i][1]) <= climbWindow/2
		}
		if !ok {
			t.Errorf("%s: %+v, want %v", name, got, c.want)
		}
	}
}

func TestStopsOfARaceSheet(t *testing.T) {
	got := SheetStops(&sheet.Sheet{Aid: []sheet.Aid{{Name: "mill", At: 5000, Stop: 20 * time.Second}, {Name: "arch", At: 7000}}})
	if len(got) != 1 || got[0] != (Stop{"mill", 5000, 20}) {
		t.Errorf("%+v", got)
	}
}
