package marks

import (
	"bytes"
	"encoding/csv"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/strategy/quantity"
)

var plane = earth.NewPlane(earth.LatLon{Lat: 46.2, Lon: 7.1})

// corner runs 3 km east and then 2 km north, with one turn.
func corner() *taut.Line {
	return &taut.Line{
		Points: orb.LineString{{0, 0}, {3000, 0}, {3000, 0}, {3000, 2000}},
		Along:  []float64{0, 3000, 3000, 5000}, At: []float64{0, 3002, 3004, 5006},
		Length: 5000, Centreline: 5006,
		Turns: []taut.Turn{{Number: 1, At: 3000, From: 2999, To: 3001, Side: taut.Left, Apex: orb.Point{3000, 0}}},
	}
}

func placed(t *testing.T, in Input, want ...Want) *List {
	t.Helper()
	l, err := Place(in, want)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestMarksLieWhereTheLineHasThatLength(t *testing.T) {
	l := placed(t, Input{Line: corner(), Plane: plane, Official: 5000}, Want{"4 km", 4000}, Want{"1 km", 1000}, Want{"turn", 3000})
	for i, want := range []struct {
		name string
		p    orb.Point
		head float64
	}{{"1 km", orb.Point{1000, 0}, 0}, {"turn", orb.Point{3000, 0}, 0}, {"4 km", orb.Point{3000, 1000}, math.Pi / 2}} {
		m := l.Marks[i]
		if m.Name != want.name || math.Hypot(m.p[0]-want.p[0], m.p[1]-want.p[1]) > 1e-9 || math.Abs(m.Heading-want.head) > 1e-9 {
			t.Errorf("mark %d: %+v, want %+v", i, m, want)
		}
		back := plane.To(m.At)
		if math.Hypot(back[0]-m.p[0], back[1]-m.p[1]) > 1e-6 {
			t.Errorf("%s: coordinates lead back to %v, not %v", m.Name, back, m.p)
		}
		if m.Along.Width() > 1e-9 {
			t.Errorf("%s: map and measurement agree, yet the place is said to be unsure by %v m", m.Name, m.Along.Width())
		}
	}
	if m := l.Marks[0]; m.Turn != 1 || m.FromTurn != -2000 || m.Where() != "2000.0 m before turn 1" {
		t.Errorf("%+v: %s", m, m.Where())
	}
	if m := l.Marks[1]; !m.InTurn || m.Apex != 0 {
		t.Errorf("%+v", m)
	}
	if m := l.Marks[2]; m.FromTurn != 1000 || m.Where() != "1000.0 m after turn 1" {
		t.Errorf("%+v: %s", m, m.Where())
	}
}

func TestTheOfficialDistanceIsScaledToTheLineAndTheIntervalHoldsAnyPlaceOfTheDifference(t *testing.T) {
	// The map is 20 m longer than the measured 4980 m.
	l := placed(t, Input{Line: corner(), Plane: plane, Official: 4980}, Want{"start", 0}, Want{"2.49 km", 2490}, Want{"finish", 4980})
	if math.Abs(l.Proportion-5000.0/4980) > 1e-12 {
		t.Errorf("proportion %v", l.Proportion)
	}
	m := l.Marks[1]
	if math.Abs(m.Along.Value-2500) > 1e-9 || m.Along.Low != 2490 || m.Along.High != 2510 {
		t.Errorf("%+v: all 20 m may lie before the mark, or after it", m.Along)
	}
	if a, b := l.Marks[0].Along, l.Marks[2].Along; a.Width() != 0 || b.Width() != 0 || b.Value != 5000 {
		t.Errorf("start %+v and finish %+v are not in doubt", a, b)
	}
}

func TestAKnownPlacePinsTheLine(t *testing.T) {
	// A measuring ride puts the corner at 2990 m: all of the difference lies
	// before it.
	l := placed(t, Input{Line: corner(), Plane: plane, Official: 4990, Known: []Known{{2990, 3000}}}, Want{"a", 1495}, Want{"corner", 2990}, Want{"b", 3990})
	if m := l.Marks[1]; m.Along.Value != 3000 || m.Along.Width() != 0 {
		t.Errorf("%+v", m.Along)
	}
	if m := l.Marks[2]; math.Abs(m.Along.Value-4000) > 1e-9 || m.Along.Width() > 1e-9 {
		t.Errorf("%+v: after the corner map and measurement agree", m.Along)
	}
	if m := l.Marks[0]; math.Abs(m.Along.Value-1500) > 1e-9 || m.Along.Low != 1495 || m.Along.High != 1505 {
		t.Errorf("%+v", m.Along)
	}
}

func TestMarksAreInOrderAndInsideTheirIntervals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		official := 5000 * rapid.Float64Range(0.97, 1.03).Draw(t, "official / map")
		var want []Want
		for range rapid.IntRange(1, 30).Draw(t, "marks") {
			want = append(want, Want{"x", official * rapid.Float64Range(0, 1).Draw(t, "place")})
		}
		// The worst map error: the measured road is longer or shorter in
		// one place only.
		where := rapid.Float64Range(0, official).Draw(t, "place of the difference")
		l, err := Place(Input{Line: corner(), Plane: plane, Official: official}, want)
		if err != nil {
			t.Fatal(err)
		}
		last := -1.0
		for _, m := range l.Marks {
			if m.Along.Value < last {
				t.Fatalf("marks out of order: %v after %v", m.Along.Value, last)
			}
			last = m.Along.Value
			if !m.Along.Holds(m.Along.Value) {
				t.Fatalf("%+v", m.Along)
			}
			truth := m.Official
			if m.Official >= where && m.Official > 0 {
				truth += 5000 - official
			}
			if truth = math.Max(0, math.Min(truth, 5000)); m.Along.Low > truth+1e-6 || m.Along.High < truth-1e-6 {
				t.Fatalf("mark at %v m lies at %v on the map, outside %+v", m.Official, truth, m.Along)
			}
		}
	})
}

func TestUsualMarksOfAMarathonAreKilometresMilesHalfAndEnds(t *testing.T) {
	w, err := Usual(quantity.Marathon)
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]float64{}
	for _, x := range w {
		names[x.Name] = x.Official
	}
	if len(w) != 42+26+3 || len(names) != len(w) {
		t.Errorf("%d marks, %d names", len(w), len(names))
	}
	for name, at := range map[string]float64{"start": 0, "5 km": 5000, "42 km": 42000, "mile 26": 26 * 1609.344, "half way": 21097.5, "finish": 42195} {
		if math.Abs(names[name]-at) > 1e-6 {
			t.Errorf("%s at %v m, want %v", name, names[name], at)
		}
	}
}

func TestNamesOfMarks(t *testing.T) {
	for at, want := range map[float64]string{1000: "1 km", 2500: "2.5 km", 1609.344: "mile 1", 16093.44: "mile 10", 5000: "5 km", 400: "400 m", 21097.5: "21097.5 m"} {
		if got := Name(at); got != want {
			t.Errorf("%v m is called %q, want %q", at, got, want)
		}
	}
}

func TestMarksAtOnePlaceBecomeOne(t *testing.T) {
	l := placed(t, Input{Line: corner(), Plane: plane, Official: 5000}, Want{"2.5 km", 2500}, Want{"half way", 2500}, Want{"2.5 km", 2500})
	if len(l.Marks) != 1 || l.Marks[0].Name != "2.5 km, half way" {
		t.Errorf("%+v", l.Marks)
	}
}

func TestTheSideOfTheRoadComesFromThePermittedRoad(t *testing.T) {
	portal := func(at, y1, y2 float64) road.Portal {
		return road.Portal{At: at, Left: road.End{P: orb.Point{at, y1}}, Right: road.End{P: orb.Point{at, y2}}}
	}
	for _, c := range []struct {
		name        string
		left, right float64
		want        Side
	}{
		{"by the left kerb", 0.5, -7, Left}, {"by the right kerb", 6, -1, Right}, {"in the middle", 3, -3.2, Middle}, {"in a gate", 0.1, -0.3, Middle},
	} {
		r := &road.Road{Portals: []road.Portal{portal(0, c.left, c.right), portal(2900, c.left, c.right)}}
		m := placed(t, Input{Line: corner(), Plane: plane, Official: 5000, Road: r}, Want{"1 km", 1000}).Marks[0]
		if m.Side != c.want || math.Abs(m.ToLeft-c.left) > 0.01 || math.Abs(m.ToRight+c.right) > 0.01 {
			t.Errorf("%s: %q, %v and %v", c.name, m.Side, m.ToLeft, m.ToRight)
		}
	}
}

func TestExportsHoldEveryMark(t *testing.T) {
	want, err := Usual(5000)
	if err != nil {
		t.Fatal(err)
	}
	l := placed(t, Input{Line: corner(), Plane: plane, Official: 5000}, want...)
	var b bytes.Buffer
	if err := l.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != len(l.Marks)+1 {
		t.Fatalf("%d rows for %d marks: %v", len(rows), len(l.Marks), err)
	}
	if got := strings.Join(rows[2], ","); got != "1 km,1000.00,1000.00,1000.00,1000.00,"+rows[2][5]+","+rows[2][6]+",1,-2000.00,2000.00,,," {
		t.Errorf("row %s", got)
	}
	var g bytes.Buffer
	if err := gpxfile.Write(&g, &gpxfile.File{Name: "marks", Waypoints: l.Waypoints()}); err != nil {
		t.Fatal(err)
	}
	back, err := gpxfile.Read("marks.gpx", &g)
	if err != nil {
		t.Fatal(err)
	}
	if len(back.Waypoints) != len(l.Marks) {
		t.Fatalf("%d waypoints come back of %d", len(back.Waypoints), len(l.Marks))
	}
	for i, w := range back.Waypoints {
		if w.Name != l.Marks[i].Name || earth.Distance(w.At, l.Marks[i].At) > 0.02 {
			t.Errorf("%q at %v comes back as %q at %v", l.Marks[i].Name, l.Marks[i].At, w.Name, w.At)
		}
	}
}

func TestImpossibleMarksAreRefused(t *testing.T) {
	good := Input{Line: corner(), Plane: plane, Official: 5000}
	for _, c := range []struct {
		name string
		in   Input
		want []Want
		err  error
	}{
		{"beyond the finish", good, []Want{{"6 km", 6000}}, ErrMark},
		{"before the start", good, []Want{{"?", -1}}, ErrMark},
		{"NaN", good, []Want{{"?", math.NaN()}}, ErrMark},
		{"no line", Input{Official: 5000}, nil, ErrLine},
		{"negative distance", Input{Line: corner(), Official: -1}, nil, ErrOfficial},
		{"known places in disorder", Input{Line: corner(), Official: 5000, Known: []Known{{1000, 3000}, {2000, 2000}}}, nil, ErrKnown},
		{"a known place far from the map", Input{Line: corner(), Official: 5000, Known: []Known{{1000, 3000}}}, nil, ErrKnown},
	} {
		if _, err := Place(c.in, c.want); !errors.Is(err, c.err) {
			t.Errorf("%s: %v, want %v", c.name, err, c.err)
		}
	}
	if _, err := Every(0.001, 42195); !errors.Is(err, ErrTooMany) {
		t.Errorf("a mark every millimetre: %v", err)
	}
}
