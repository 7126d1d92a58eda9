package race_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/track"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// drawing is a GPX file with a track through points in metres.
func drawing(points ...[2]float64) *gpxfile.File {
	p := earth.NewPlane(earth.LatLon{Lat: 47, Lon: -29})
	var fixes []track.Fix
	for _, q := range points {
		fixes = append(fixes, track.Fix{At: p.From(q), Height: math.NaN()})
	}
	return &gpxfile.File{Name: "file", Lines: []track.Line{{Name: "Two Corners", Segments: [][]track.Fix{fixes}}}}
}

func corners() *gpxfile.File {
	return drawing([2]float64{0, 0}, [2]float64{300, 0}, [2]float64{300, 400}, [2]float64{800, 400})
}

func prepare(t *testing.T, f *gpxfile.File, text string) *race.Race {
	t.Helper()
	s, err := sheet.Read("r.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	r, err := race.Prepare("c.gpx", f, s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A street corner of 90 degrees between straight roads of width w and kerb
// radius R, the line c off the kerb: the corner saves 2·(w/2+R) of the
// centreline and costs (R+c)·π/2 (closed form; the ends of the line are free,
// so that it runs along the inner side from and to far away).
func TestTheLineAndItsDoubtsFollowTheClosedForm(t *testing.T) {
	f := drawing([2]float64{0, 0}, [2]float64{3000, 0}, [2]float64{3000, 3000})
	r := prepare(t, f, "")
	corner := func(w, radius float64) float64 { return 6000 - 2*(w/2+radius) + (radius+0.3)*math.Pi/2 }
	if d := r.Line.Length - corner(8, 5); math.Abs(d) > 0.05 {
		t.Errorf("the line is %.3f m, closed form %.3f m", r.Line.Length, corner(8, 5))
	}
	for _, d := range r.Doubts() {
		want := corner(8+d.Width, 5+d.Radius)
		if math.Abs(d.Length-want) > 0.05 {
			t.Errorf("width %+g, radius %+g: %.3f m, closed form %.3f m", d.Width, d.Radius, d.Length, want)
		}
	}
}

func TestTheDoubtOfTheTurnsAddsUp(t *testing.T) {
	r := prepare(t, corners(), "")
	if len(r.Line.Turns) != 2 {
		t.Fatalf("%d turns", len(r.Line.Turns))
	}
	variants := r.Doubts()
	if len(variants) != 4 {
		t.Fatalf("%d doubts", len(variants))
	}
	for _, d := range variants {
		sum := 0.0
		for _, v := range d.ByTurn {
			sum += v
		}
		if len(d.ByTurn) != 2 || math.Abs(sum-(d.Length-r.Line.Length)) > 1e-9 {
			t.Errorf("width %+g, radius %+g: turns %v add up to %v, not %v", d.Width, d.Radius, d.ByTurn, sum, d.Length-r.Line.Length)
		}
		if longer := d.Width < 0 || d.Radius < 0; longer != (d.Length > r.Line.Length) {
			t.Errorf("width %+g, radius %+g: the line becomes %v from %v", d.Width, d.Radius, d.Length, r.Line.Length)
		}
	}
}

func TestALineThatWasGivenIsNotInDoubt(t *testing.T) {
	r := prepare(t, corners(), "course_is = \"line\"\n")
	if len(r.Doubts()) > 0 {
		t.Error("a given line is in doubt")
	}
	if d := r.Line.Length - r.Course.Length(); math.Abs(d) > 1e-6 {
		t.Errorf("a given line changed by %v m", d)
	}
}

func TestNamesAndDistances(t *testing.T) {
	for _, c := range []struct {
		name, sheet string
		wantName    string
		official    float64
		note        string
	}{
		{"nothing said", "", "Two Corners", 0, ""},
		{"the sheet names the race", "name = \"Race\"\n", "Race", 0, ""},
		{"a distance that fits", "official = \"1.2 km\"\n", "Two Corners", 1200, ""},
		{"26.2 mi is a marathon", "official = \"26.2 mi\"\n", "Two Corners", 42195, "marathon"},
		{"a drawing of another length", "official = \"5 km\"\n", "Two Corners", 5000, "check that the drawing is the whole course"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := prepare(t, corners(), c.sheet)
			notes := strings.Join(r.Notes, "; ")
			if r.Name != c.wantName || r.Official != c.official || !strings.Contains(notes, c.note) {
				t.Errorf("name %q, official %v, notes %q", r.Name, r.Official, notes)
			}
			if c.note == "" && strings.Contains(notes, "check that") {
				t.Errorf("a doubt without need: %q", notes)
			}
		})
	}
}

func TestWhatCannotBeRunNamesTheFile(t *testing.T) {
	for _, c := range []struct {
		name, sheet string
		file        *gpxfile.File
		want        string
	}{
		{"a single point", "", drawing([2]float64{0, 0}), "c.gpx: the course has fewer than two different points"},
		{"a road with no room for the clearance", "[road]\nwidth = 0.4\n", corners(), "r.toml:2:9: "},
		{"a stretch with no room", "[[stretch]]\nfrom = 10\nto = 100\nwidth = 0.4\n", corners(), "r.toml:4:9: stretch 1"},
		{"no line at all", "", &gpxfile.File{}, "no track and no route"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := sheet.Read("r.toml", []byte(c.sheet))
			if err != nil {
				t.Fatal(err)
			}
			_, err = race.Prepare("c.gpx", c.file, s)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error is %v\nwant one with %s", err, c.want)
			}
		})
	}
}

func ExampleRace_Doubts() {
	s, _ := sheet.Read("r.toml", []byte("name = \"Example\"\n"))
	r, err := race.Prepare("c.gpx", corners(), s)
	if err != nil {
		fmt.Println(err)
		return
	}
	doubts := r.Doubts()
	fmt.Println(len(r.Line.Turns), "turns,", len(doubts), "other roads tried")
	// Output: 2 turns, 4 other roads tried
}
