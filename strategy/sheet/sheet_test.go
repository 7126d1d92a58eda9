package sheet_test

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/inputerr"
	"tautline/geo/road"
	"tautline/geo/track"
	"tautline/strategy/sheet"
)

const everything = `
name = "Harbour Hill 10"
date = 2027-05-09
official = "10 km"
certified = true
course_is = "road"
laps = 2

[start]
at = "40 m"
gun = "09:30"

[finish]
at = "2.4 km"

[road]
width = "26 ft"
corner_radius = 6
use = "right half"
clearance = { kerb = 0.3, cone = "0.5 m" }

[[stretch]]
name = "Mill Lane"
from = "0.2 km"
to = 300
width = "5 m"
corner_radius = "2.5 m"
use = "whole road"
left_kerb = "3 m left"
right_kerb = "2 m right"
left_edge = "kerb"
right_edge = "line"

[[stretch]]
from = 400
to = 500
lap = 2
lane_right = "1 m left"
right_edge = "cone"

[[gate]]
name = "arch"
at = 600
between = ["2 m left", "middle"]

[[turnaround]]
at = "700 m"
kind = "median end"
radius = "1.5 m"
clearance = 0.3
turn = "right"

[[aid]]
at = "5 km"
name = "town hall"
stop = "0:20"

[[mark]]
at = "3 mi"
name = "three miles"
mat = true

[weather]
temperature = "18 °C"
wbgt = 16
wind = "18 km/h"
wind_from = "SW"
altitude = "120 m"
`

func read(t *testing.T, text string) *sheet.Sheet {
	t.Helper()
	s, err := sheet.Read("town.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestEveryKeyIsRead(t *testing.T) {
	got := read(t, everything)
	f := func(v float64) *float64 { return &v }
	gun := 9*time.Hour + 30*time.Minute
	want := &sheet.Sheet{
		Name: "Harbour Hill 10", Date: time.Date(2027, 5, 9, 0, 0, 0, 0, time.UTC),
		Official: 10000, Certified: true, CourseIs: sheet.DrawnRoad, Laps: 2,
		Start:  sheet.Start{At: f(40), Gun: &gun},
		Finish: sheet.Finish{At: f(2400)},
		Road: sheet.Road{Width: f(26 * 0.3048), CornerRadius: f(6), Use: sheet.RightHalf,
			Clearance: sheet.Clearance{Kerb: f(0.3), Cone: f(0.5)}},
		Stretches: []sheet.Stretch{
			{Name: "Mill Lane", From: 200, To: 300, Width: f(5), CornerRadius: f(2.5), Use: sheet.WholeRoad,
				LeftKerb: f(3), RightKerb: f(-2), LeftEdge: sheet.Kerb, RightEdge: sheet.Line},
			{From: 400, To: 500, Lap: 2, Use: sheet.Lane, LaneRight: f(1), RightEdge: sheet.Cone},
		},
		Gates:       []sheet.Gate{{Name: "arch", At: 600, Between: [2]float64{2, 0}}},
		Turnarounds: []sheet.Turnaround{{At: 700, Kind: sheet.MedianEnd, Radius: 1.5, Clearance: f(0.3), Clockwise: true}},
		Aid:         []sheet.Aid{{At: 5000, Name: "town hall", Stop: 20 * time.Second}},
		Marks:       []sheet.Mark{{At: 3 * 1609.344, Name: "three miles", Mat: true}},
		Weather:     sheet.Weather{Temperature: f(18), WBGT: f(16), Wind: f(5), WindFrom: f(225 * math.Pi / 180), Altitude: f(120)},
	}
	if d := cmp.Diff(want, got, cmpopts.IgnoreUnexported(sheet.Sheet{})); d != "" {
		t.Error(d)
	}
}

func TestAnEmptySheetSaysNothing(t *testing.T) {
	if d := cmp.Diff(&sheet.Sheet{}, read(t, ""), cmpopts.IgnoreUnexported(sheet.Sheet{})); d != "" {
		t.Error(d)
	}
	if b := (&sheet.Sheet{}).Bytes(); len(b) != 0 {
		t.Errorf("the empty sheet is written as %q", b)
	}
}

func TestBadSheetsAreRefusedWithTheirPlace(t *testing.T) {
	stretch := "[[stretch]]\nfrom = 1\nto = 2\n"
	for _, c := range []struct{ name, text, want string }{
		{"an unknown key", "[road]\nwidht = 8\n", `town.toml:2:1: unknown key "widht" in [road] (did you mean "width"?)`},
		{"a width of zero", "[road]\nwidth = 0\n", "town.toml:2:9: the road is 0 m wide"},
		{"a width of a square", "[road]\nwidth = \"300 m\"\n", "town.toml:2:9: width is 300 m (it should be 0 m to 200 m)"},
		{"a width that is not a number", "[road]\nwidth = nan\n", "town.toml:2:9: width is not a number"},
		{"an infinite width", "[road]\nwidth = inf\n", "town.toml:2:9: width is not a number"},
		{"a negative width", "[road]\nwidth = -8\n", "width is -8 m (it should be 0 m to 200 m)"},
		{"a width without a unit we know", "[road]\nwidth = \"8 paces\"\n", "town.toml:2:9: width: "},
		{"a comma for a decimal point", "[road]\nwidth = \"8,5 m\"\n", "8.5"},
		{"a list as a width", "[road]\nwidth = [8]\n", "width should be a distance"},
		{"a clearance with an unknown kind", "[road]\nclearance = { wall = 1 }\n", `unknown key "wall" in the clearance`},
		{"a gate whose ends have no sides", "[[gate]]\nat = 1\nbetween = [\"2 m\", \"1 m\"]\n", `town.toml:3:12: "2 m" is no place across the road`},
		{"a gate without an opening", "[[gate]]\nat = 1\nbetween = [\"2 m left\", \"2 m left\"]\n", "town.toml:3:1: gate 1 has no opening"},
		{"a clearance out of range", "[road]\nclearance = { kerb = 9 }\n", "kerb is 9 m (it should be 0 m to 5 m)"},
		{"a use that is none", "[road]\nuse = \"rigt half\"\n", `town.toml:2:7: use is "rigt half" (did you mean "right half"?)`},
		{"the whole road as a lane", "[road]\nuse = \"lane\"\n", `use is "lane"`},
		{"a stretch without an end", "[[stretch]]\nfrom = 1\n", `town.toml:1:3: "to" is missing`},
		{"a stretch that ends before it begins", "[[stretch]]\nfrom = 5\nto = 2\n", "town.toml:3:6: stretch 1 ends before it begins"},
		{"a stretch of nothing", "[[stretch]]\nfrom = 5\nto = 5\n", "stretch 1 ends before it begins"},
		{"a lane without edges", stretch + "use = \"lane\"\n", "stretch 1 is a lane without edges"},
		{"a half with lane edges", stretch + "use = \"left half\"\nlane_left = \"1 m left\"\n", "gives the edges of a lane"},
		{"a lane the wrong way round", stretch + "lane_left = \"1 m right\"\nlane_right = \"middle\"\n", "town.toml:4:13: the left edge of the lane"},
		{"kerbs the wrong way round", stretch + "left_kerb = \"1 m right\"\nright_kerb = \"1 m left\"\n", "the left kerb lies to the right"},
		{"a kerb without a side", stretch + "left_kerb = 3\n", "a place across the road needs a side"},
		{"a kerb with a side that is none", stretch + "left_kerb = \"3 m north\"\n", "is no place across the road"},
		{"a lap that is not run", "laps = 2\n" + stretch + "lap = 3\n", "lap 3 of a race of 2"},
		{"no laps", "laps = 0\n", "town.toml:1:8: laps is 0"},
		{"too many laps", "laps = 100000\n", "it should be 1 to 200"},
		{"a gate without an opening", "[[gate]]\nat = 1\nbetween = [\"1 m left\", \"1 m left\"]\n", "gate 1 has no opening"},
		{"a gate with three ends", "[[gate]]\nat = 1\nbetween = [\"1 m left\", \"middle\", \"1 m right\"]\n", "needs the two ends"},
		{"a point with a radius", "[[turnaround]]\nat = 1\nradius = 2\n", "turn-around 1 is a point"},
		{"a stop of a day", "[[aid]]\nat = 1\nstop = 86400\n", "stop is 24:00:00 (it should be 0:00 to 1:00:00)"},
		{"a mark without a name", "[[mark]]\nat = 1\n", "mark 1 has no name"},
		{"certified without a distance", "certified = true\n", "needs its official distance"},
		{"an official distance of a kilometre race in millimetres", "official = \"10 mm\"\n", "official is"},
		{"a date that is none", "date = \"next Sunday\"\n", "write date = 2027-05-09"},
		{"a date long ago", "date = 0001-01-01\n", "date"},
		{"a gun time that is none", "[start]\ngun = \"25:00\"\n", `write gun = "09:30"`},
		{"a hot day in Fahrenheit without the unit", "[weather]\ntemperature = 75\n", "temperature is 75 °C (it should be -60 °C to 60 °C)"},
		{"a wind direction that is none", "[weather]\nwind_from = \"up\"\n", "should be a direction"},
		{"a wind direction beyond the circle", "[weather]\nwind_from = 400\n", "wind_from is 400 degrees"},
		{"kerbs outside the folder", "kerbs = \"../kerbs.geojson\"\n", "town.toml:1:9: the file with drawn kerbs lies outside"},
		{"kerbs at an absolute path", "kerbs = \"/etc/passwd\"\n", "lies outside the folder"},
		{"the first of two faults is told", "laps = 0\n[road]\nwidth = 0\n", "town.toml:1:8"},
		{"too many stretches", strings.Repeat(stretch, sheet.MaxItems+1), "more than the limit"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := sheet.Read("town.toml", []byte(c.text))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("error is %v\nwant one with %s", err, c.want)
			}
		})
	}
}

// drawn is a straight line to the east with a point every 100 m.
func drawn(length float64) []track.Fix {
	p := earth.NewPlane(earth.LatLon{Lat: 47, Lon: 8})
	var fixes []track.Fix
	for x := 0.0; x <= length; x += 100 {
		fixes = append(fixes, track.Fix{At: p.From([2]float64{x, 0}), Height: math.NaN()})
	}
	return fixes
}

// block is a closed lap round a square with sides of 250 m.
func block() []track.Fix {
	p := earth.NewPlane(earth.LatLon{Lat: 47, Lon: 8})
	var fixes []track.Fix
	for _, q := range [][2]float64{{0, 0}, {250, 0}, {250, 250}, {0, 250}, {0, 0}} {
		fixes = append(fixes, track.Fix{At: p.From(q), Height: math.NaN()})
	}
	return fixes
}

func resolve(t *testing.T, s *sheet.Sheet, fixes []track.Fix) (*course.Course, *sheet.Resolved, error) {
	t.Helper()
	c, err := s.Course("c", fixes)
	if err != nil {
		t.Fatal(err)
	}
	r, err := s.Resolve(c)
	return c, r, err
}

func TestPlacesOffTheCourseNameTheLineOfTheSheet(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"a stretch beyond the end", "[[stretch]]\nfrom = 1\nto = 2\n[[stretch]]\nfrom = \"3 km\"\nto = \"11.2 km\"\n", "town.toml:6:6: stretch 2 ends at 11.2 km but the course is 10 km long"},
		{"a named stretch", "[[stretch]]\nname = \"Quay\"\nfrom = \"11 km\"\nto = \"12 km\"\n", `town.toml:3:8: stretch 1 ("Quay") begins at 11 km`},
		{"a gate beyond the end", "[[gate]]\nat = \"12 km\"\nbetween = [\"1 m left\", \"middle\"]\n", "town.toml:2:6: gate 1 stands at 12 km"},
		{"a turn-around beyond the end", "[[turnaround]]\nat = \"12 km\"\n", "town.toml:2:6: turn-around 1 lies at 12 km"},
		{"the start beyond the end", "[start]\nat = \"12 km\"\n", "town.toml:2:6: the start line lies at 12 km"},
		{"the finish before the start", "[start]\nat = 500\n[finish]\nat = 400\n", "town.toml:4:6: the finish line at 400 m does not come after the start line at 500 m"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := resolve(t, read(t, c.text), drawn(10000))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error is %v\nwant one with %s", err, c.want)
			}
			if err != nil && strings.Contains(err.Error(), "\n") {
				t.Error("more than one line")
			}
		})
	}
}

func TestAPlaceAFewMetresBeyondTheEndIsTheEnd(t *testing.T) {
	c, r, err := resolve(t, read(t, "[finish]\nat = \"10.005 km\"\n"), drawn(10000))
	if err != nil || r.Spec.FinishAt != c.Length() {
		t.Errorf("finish at %v of %v, error %v", r.Spec.FinishAt, c.Length(), err)
	}
}

func TestWhatTheSheetDoesNotSayIsAsUsual(t *testing.T) {
	c, r, err := resolve(t, read(t, ""), drawn(1000))
	if err != nil {
		t.Fatal(err)
	}
	want := road.Default()
	want.FinishAt = c.Length()
	if d := cmp.Diff(want, r.Spec); d != "" {
		t.Error(d)
	}
}

func TestOneClearanceHoldsForAllEdges(t *testing.T) {
	_, r, err := resolve(t, read(t, "[road]\nclearance = 0.5\n"), drawn(1000))
	if want := (road.Clearance{Kerb: 0.5, Cone: 0.5, Line: 0.5}); err != nil || r.Spec.Clearance != want {
		t.Errorf("clearance %v, error %v", r.Spec.Clearance, err)
	}
}

func TestItemsHoldOnEveryLapUnlessTheyNameOne(t *testing.T) {
	s := read(t, "laps = 3\n[finish]\nat = \"2.9 km\"\n[[stretch]]\nfrom = 100\nto = 200\n[[stretch]]\nfrom = 300\nto = 400\nlap = 2\n[[gate]]\nat = 50\nbetween = [\"1 m left\", \"middle\"]\n")
	c, r, err := resolve(t, s, block())
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(c.Length()-3000) > 0.01 {
		t.Errorf("three laps of 1000 m are %v m", c.Length())
	}
	var got []string
	for _, p := range r.Spec.Stretches {
		got = append(got, fmt.Sprintf("%.1f-%.1f", p.From, p.To))
	}
	if want := "100.0-200.0 1100.0-1200.0 2100.0-2200.0 1300.0-1400.0"; strings.Join(got, " ") != want {
		t.Errorf("stretches %v, want %s", got, want)
	}
	if len(r.Spec.Gates) != 3 || math.Abs(r.Spec.Gates[2].At-2050) > 0.01 {
		t.Errorf("gates %v", r.Spec.Gates)
	}
	if r.Spec.FinishAt != 2900 {
		t.Errorf("finish at %v", r.Spec.FinishAt)
	}
}

func TestAnOpenLineCannotBeRunInLaps(t *testing.T) {
	_, err := read(t, "laps = 2\n").Course("c", drawn(5000))
	if err == nil || !strings.Contains(err.Error(), "town.toml:1:8: the drawn course does not close: its ends are 5000 m apart") {
		t.Errorf("error is %v", err)
	}
}

func TestErrorsOfTheRoadNameTheSheet(t *testing.T) {
	s := read(t, "laps = 2\n[road]\nwidth = 8\n[[stretch]]\nfrom = 1\nto = 20\nwidth = 3\n[[stretch]]\nfrom = 5\nto = 25\nwidth = 4\n[[gate]]\nat = 3\nbetween = [\"1 m left\", \"middle\"]\n")
	_, r, err := resolve(t, s, block())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		err  *road.Error
		want string
	}{
		{"a stretch of the second lap", &road.Error{Item: road.ItemStretch, Index: 3, Other: 0, Field: "Width", What: "widths differ"}, "town.toml:11:9: stretch 2: widths differ (the other is stretch 1)"},
		{"a gate's opening", &road.Error{Item: road.ItemGate, Index: 1, Other: -1, Field: "From", What: "closed"}, "town.toml:14:1: gate 1: closed"},
		{"the road itself", &road.Error{Item: road.ItemSpec, Index: -1, Other: -1, Field: "Width", What: "too narrow"}, "town.toml:3:9: too narrow"},
		{"what came from elsewhere", &road.Error{Item: road.ItemSpec, Index: -1, Other: -1, Field: "CornerRadius", What: "too large"}, "too large"},
		{"a key that is missing points at its table", &road.Error{Item: road.ItemStretch, Index: 0, Other: -1, Field: "CornerRadius", What: "too large"}, "town.toml:4:3: stretch 1: too large"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := r.Explain(c.err).Error(); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
	if other := errors.New("other"); r.Explain(other) != other {
		t.Error("another error does not pass")
	}
}

const kerbs = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{%s},"geometry":{"type":"LineString","coordinates":[[8.0002,%s],[8.0060,%s]]}}]}`

func TestDrawnKerbsAreReadBesideTheSheet(t *testing.T) {
	for _, c := range []struct {
		name, properties, lat string
		left                  bool
	}{
		{"the side is told by the place", ``, "47.00004", true},
		{"the other side is told by the place", ``, "46.99996", false},
		{"the side is said", `"side":"right","kind":"cone"`, "46.99996", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := read(t, "kerbs = \"k.geojson\"\n")
			s.SetFolder(fstest.MapFS{"k.geojson": {Data: fmt.Appendf(nil, kerbs, c.properties, c.lat, c.lat)}})
			_, r, err := resolve(t, s, drawn(1000))
			if err != nil {
				t.Fatal(err)
			}
			if len(r.Spec.Kerbs) != 1 || r.Spec.Kerbs[0].Left != c.left || len(r.Spec.Kerbs[0].Line) != 2 {
				t.Errorf("kerbs are %+v", r.Spec.Kerbs)
			}
		})
	}
}

func TestDrawnKerbsThatCannotBeUsed(t *testing.T) {
	for _, c := range []struct{ name, lat1, lat2, want string }{
		{"a kerb across the course", "47.00004", "46.99996", "the side of this kerb cannot be told"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := read(t, "kerbs = \"k.geojson\"\n")
			s.SetFolder(fstest.MapFS{"k.geojson": {Data: fmt.Appendf(nil, kerbs, "", c.lat1, c.lat2)}})
			if _, _, err := resolve(t, s, drawn(1000)); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error is %v", err)
			}
		})
	}
	t.Run("a link out of the folder is not followed", func(t *testing.T) {
		dir := t.TempDir()
		inside := filepath.Join(dir, "race")
		if err := os.Mkdir(inside, 0o755); err != nil {
			t.Fatal(err)
		}
		put := func(path, text string) {
			if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		put(filepath.Join(dir, "secret.geojson"), fmt.Sprintf(kerbs, "", "47.00004", "47.00004"))
		put(filepath.Join(inside, "race.toml"), "kerbs = \"k.geojson\"\n")
		s, err := sheet.Open(filepath.Join(inside, "race.toml"))
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := resolve(t, s, drawn(1000)); err == nil || !strings.Contains(err.Error(), "there is no file") {
			t.Errorf("error is %v", err)
		}
		if err := os.Symlink("../secret.geojson", filepath.Join(inside, "k.geojson")); err != nil {
			t.Skip("no symbolic links here")
		}
		if _, _, err := resolve(t, s, drawn(1000)); err == nil || !strings.Contains(err.Error(), "cannot be read") {
			t.Errorf("error is %v", err)
		}
	})
}

func TestAKerbWithItsCoordinatesTurnedRoundIsTold(t *testing.T) {
	s := read(t, "kerbs = \"k.geojson\"\n")
	s.SetFolder(fstest.MapFS{"k.geojson": {Data: []byte(`{"type":"LineString","coordinates":[[47.00004,8.0002],[47.00004,8.006]]}`)}})
	_, _, err := resolve(t, s, drawn(1000))
	if err == nil || !strings.Contains(err.Error(), "k.geojson:1: the coordinates of this kerb are in the wrong order") {
		t.Errorf("error is %v", err)
	}
}

func TestAidAndMarksBeyondTheFinishAreTold(t *testing.T) {
	s := read(t, "[[aid]]\nat = \"900 m\"\n[[mark]]\nname = \"Bridge\"\nat = \"1.2 km\"\n")
	if err := s.OnTheWay(1200, "the official distance"); err != nil {
		t.Error(err)
	}
	err := s.OnTheWay(1000, "the official distance")
	if want := `town.toml:5:6: mark 1 ("Bridge") lies at 1.2 km, beyond the finish: the official distance is 1 km`; err == nil || !strings.HasPrefix(err.Error(), want) {
		t.Errorf("error is %v", err)
	}
}

func TestOpenSaysWhatIsWrongWithThePath(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct{ name, path, want string }{
		{"a missing file", filepath.Join(dir, "none.toml"), "there is no such race sheet"},
		{"a folder", dir, "this is a folder"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := sheet.Open(c.path); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error is %v", err)
			}
		})
	}
}

func TestWrittenSheetsReadBackTheSame(t *testing.T) {
	first := read(t, everything)
	text := first.Bytes()
	if d := cmp.Diff(first, read(t, string(text)), cmpopts.IgnoreUnexported(sheet.Sheet{})); d != "" {
		t.Errorf("%s\n%s", d, text)
	}
	for _, want := range []string{`official = "10 km"`, `width = "26 ft"`, `from = "200 m"`, `at = "3 mi"`, `lane_right = "1 m left"`, `wind_from = 225`} {
		if !strings.Contains(string(text), want+"\n") {
			t.Errorf("the file lacks %s:\n%s", want, text)
		}
	}
}

func TestAnyWrittenSheetReadsBackTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		maybe := func(name string, low, high float64) *float64 {
			if rapid.Bool().Draw(t, name+" given") {
				v := rapid.Float64Range(low, high).Draw(t, name)
				if math.Abs(v) < 1e-6 {
					v = 0
				}
				return &v
			}
			return nil
		}
		name := rapid.StringN(1, 20, 60)
		s := &sheet.Sheet{
			Name: name.Draw(t, "name"), Official: rapid.Float64Range(100, 1e6).Draw(t, "official"),
			Certified: rapid.Bool().Draw(t, "certified"), Laps: rapid.IntRange(0, sheet.MaxLaps).Draw(t, "laps"),
			Start: sheet.Start{At: maybe("start", 0, 1e5)}, Finish: sheet.Finish{At: maybe("finish", 0, 1e5)},
			Road: sheet.Road{Width: maybe("width", 0.1, 200), CornerRadius: maybe("radius", 0, 100),
				Clearance: sheet.Clearance{Kerb: maybe("kerb", 0, 5), Line: maybe("line", 0, 5)}},
			Weather: sheet.Weather{Temperature: maybe("temperature", -60, 60), Wind: maybe("wind", 0, 36), Altitude: maybe("altitude", -500, 6000)},
		}
		if d := rapid.IntRange(0, 3600).Draw(t, "wind from"); d > 0 {
			v := math.Mod(float64(d)/10, 360) * math.Pi / 180
			s.Weather.WindFrom = &v
		}
		for range rapid.IntRange(0, 3).Draw(t, "stretches") {
			from := rapid.Float64Range(1e-6, 1e5).Draw(t, "from")
			p := sheet.Stretch{Name: name.Draw(t, "name"), From: from, To: from + rapid.Float64Range(1, 1e4).Draw(t, "long"),
				Width: maybe("stretch width", 1, 20), LeftKerb: maybe("left kerb", 0.5, 9), RightKerb: maybe("right kerb", -9, -0.5)}
			if p.LaneLeft = maybe("lane left", 0.5, 4); p.LaneLeft != nil {
				p.Use = sheet.Lane
			}
			s.Stretches = append(s.Stretches, p)
		}
		for range rapid.IntRange(0, 2).Draw(t, "aids") {
			s.Aid = append(s.Aid, sheet.Aid{At: rapid.Float64Range(1e-6, 1e5).Draw(t, "at"), Name: name.Draw(t, "name"),
				Stop: time.Duration(rapid.IntRange(0, 36000).Draw(t, "stop")) * 100 * time.Millisecond})
		}
		text := s.Bytes()
		back, err := sheet.Read("back.toml", text)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if d := cmp.Diff(s, back, cmpopts.IgnoreUnexported(sheet.Sheet{})); d != "" {
			t.Fatalf("%s\n%s", d, text)
		}
	})
}

// FuzzRead holds that reading never panics, that errors say what and where,
// and that a sheet that is read can be written and read again.
func FuzzRead(f *testing.F) {
	f.Add([]byte(everything))
	for _, seed := range []string{"", "[road]\nwidth = nan\n", "laps = -1", "[[stretch]]\nfrom = -0.0\nto = 1e-300\n", "[weather]\nwind_from = 360\n",
		"[road]\nclearance = { kerb = inf }\n", "[[gate]]\nat = 1\nbetween = [1, 2]\n", "official = \"26 mi 385 yd\"\n", "[start]\ngun = 09:30:00.5\n", "name = \"\\u0000\\\"\"\n"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := sheet.Read("f.toml", data)
		if err != nil {
			var in *inputerr.Error
			if !errors.As(err, &in) {
				t.Fatalf("error of another kind: %T %v", err, err)
			}
			return
		}
		text := s.Bytes()
		back, err := sheet.Read("g.toml", text)
		if err != nil {
			t.Fatalf("written as\n%s\nbut: %v", text, err)
		}
		if d := cmp.Diff(s, back, cmpopts.IgnoreUnexported(sheet.Sheet{})); d != "" {
			t.Fatalf("%s\n%s", d, text)
		}
		if c, err := s.Course("c", block()); err == nil {
			if _, err := s.Resolve(c); err != nil {
				var in *inputerr.Error
				if !errors.As(err, &in) {
					t.Fatalf("error of another kind: %T %v", err, err)
				}
			}
		}
	})
}
