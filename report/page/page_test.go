package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"flag"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/heights"
	"tautline/geo/interval"
	"tautline/geo/record"
	"tautline/geo/track"
	"tautline/report/document"
	"tautline/report/text"
	"tautline/strategy/demo"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/review"
	"tautline/strategy/sheet"
)

var update = flag.Bool("update", false, "write the golden pages anew")

func demoRace(t testing.TB) *race.Race {
	t.Helper()
	read := func(name string) []byte {
		b, err := fs.ReadFile(demo.Files(), name)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	s, err := sheet.Read(demo.SheetFile, read(demo.SheetFile))
	if err != nil {
		t.Fatal(err)
	}
	s.SetFolder(demo.Files())
	f, err := gpxfile.Read(demo.CourseFile, bytes.NewReader(read(demo.CourseFile)))
	if err != nil {
		t.Fatal(err)
	}
	r, err := race.Prepare(demo.CourseFile, f, s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// corner is a race of 200 m east and 200 m north on a road of 8 m with corners
// of 5 m.
func corner(t testing.TB, name string) *race.Race {
	t.Helper()
	p := earth.NewPlane(earth.LatLon{Lat: 50, Lon: 10})
	var fixes []track.Fix
	for _, q := range [][2]float64{{-200, 0}, {0, 0}, {0, 200}} {
		fixes = append(fixes, track.Fix{At: p.From(q), Height: 100})
	}
	r, err := race.Prepare("corner.gpx", &gpxfile.File{Name: name, Lines: []track.Line{{Name: name, Segments: [][]track.Fix{fixes}}}}, &sheet.Sheet{Official: 400})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// cornerRun is a made-up review of the corner.
func cornerRun(r *race.Race, name string) (document.Review, Run) {
	lost := interval.Estimate{Value: 0.6, Low: 0.2, High: 1.1}
	d := document.Review{
		Course: r.Name, Record: name, OfficialM: 400, OfficialIs: "announced", ShortestM: r.Line.Length, WatchM: 410, WatchIs: "watch",
		RanM: interval.Estimate{Value: 395, Low: 393, High: 398}, ExtraM: interval.Estimate{Value: 3, Low: 1, High: 6}, TimeS: new(100.0),
		Ledger: []document.Item{
			{Cause: "turns run wide", Whose: review.Feet, Metres: interval.Estimate{Value: 3, Low: 1, High: 6}},
			{Cause: "scatter", Whose: review.Watch, Metres: interval.Estimate{Value: 7, Low: 4, High: 9}},
		},
		Turns:    []document.ReviewTurn{{Number: 1, AtM: r.Line.Turns[0].At, AngleDeg: 90, Side: "left", ExtraM: interval.Estimate{Value: 3, Low: 1, High: 6}, LostS: &lost, How: "touch the kerb " + name}},
		Marks:    []document.ReviewMark{{Name: "half " + name, AtM: 200, WatchAheadM: 4, GrewM: 4}},
		Warnings: []string{"a warning about " + name},
	}
	var run Run
	for s := 0.0; s <= r.Line.Length; s += 10 {
		run.Path = append(run.Path, Place{Along: s, Left: -1, Low: -2.5, High: 0.2})
		run.Fixes = append(run.Fixes, Fix{At: r.Course.Plane.From(r.Line.PointAt(s)), Along: s, Time: s / 4})
	}
	return d, run
}

// staysAsItWas compares a page with the one that was looked at last.
func staysAsItWas(t *testing.T, name string, s *Sheet) {
	t.Helper()
	got, err := s.Body()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join("testdata", name+".html")
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != string(got) {
		t.Errorf("the %s page is different: look at it, then run with -update", name)
	}
}

func TestPagesStayAsTheyWere(t *testing.T) {
	r := corner(t, "The Corner")
	d, run := cornerRun(r, "somebody")
	reviewed, err := Review(r, d, run, Options{Date: "2027-04-19", Source: "corner.gpx"})
	if err != nil {
		t.Fatal(err)
	}
	lined, err := Line(r, r.Doubts(), Options{Units: quantity.Imperial, Date: "2027-04-19"})
	if err != nil {
		t.Fatal(err)
	}
	for name, s := range map[string]*Sheet{"review": reviewed, "line": lined} {
		staysAsItWas(t, name, s)
	}
}

func TestThePolicyNamesTheCodeThatThePageHolds(t *testing.T) {
	r := corner(t, "x")
	s, err := Line(r, nil, Options{})
	if err != nil {
		t.Fatal(err)
	}
	page, err := s.HTML()
	if err != nil {
		t.Fatal(err)
	}
	policy := regexp.MustCompile(`http-equiv="Content-Security-Policy" content="([^"]*)"`).FindSubmatch(page)
	if policy == nil || !bytes.Contains(policy[1], []byte("default-src 'none'")) || bytes.Contains(policy[1], []byte("unsafe")) {
		t.Fatalf("the policy is %q", policy)
	}
	for element, directive := range map[string]string{"style": "style-src", "script": "script-src"} {
		found := regexp.MustCompile(`(?s)<`+element+`>(.*?)</`+element+`>`).FindAllSubmatch(page, -1)
		if len(found) != 1 {
			t.Fatalf("%d %s elements", len(found), element)
		}
		sum := sha256.Sum256(found[0][1])
		if want := directive + " 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"; !bytes.Contains(policy[1], []byte(want)) {
			t.Errorf("the policy %s does not name %s", policy[1], want)
		}
	}
	for _, never := range []string{" src=", "@import", "url(http", "<link", "<img", "<iframe", " style=", " onclick"} {
		if bytes.Contains(page, []byte(never)) {
			t.Errorf("the page holds %q", never)
		}
	}
	for _, url := range regexp.MustCompile(`https?://[^"' )]+`).FindAll(page, -1) {
		if string(url) != "http://www.w3.org/2000/svg" {
			t.Errorf("the page names %s", url)
		}
	}
}

func TestHostileNamesAreText(t *testing.T) {
	const name = "</script><script>alert(1)</script><svg onload=alert(2)>\"'&\x1b[31m\u202e"
	r := corner(t, name)
	r.Sheet.Aid = []sheet.Aid{{At: 100, Name: name}}
	r.Sheet.Marks = []sheet.Mark{{At: 300, Name: name, Mat: true}}
	d, run := cornerRun(r, name)
	s, err := Review(r, d, run, Options{Source: name})
	if err != nil {
		t.Fatal(err)
	}
	page, err := s.HTML()
	if err != nil {
		t.Fatal(err)
	}
	for _, never := range []string{"<script>alert", "<svg onload", "\x1b", "\u202e"} {
		if bytes.Contains(page, []byte(never)) {
			t.Errorf("the page holds %q", never)
		}
	}
	if n := bytes.Count(page, []byte("</script>")); n != 2 {
		t.Errorf("%d scripts end in the page", n)
	}
	if !bytes.Contains(page, []byte("alert(1)")) {
		t.Error("the name is not shown at all")
	}
}

func TestTheLineTouchesTheInnerKerbOnTheStrip(t *testing.T) {
	r := corner(t, "x")
	f := newFrame(r)
	turn := r.Line.Turns[0]
	s := newScene(r, quantity.Metric, nil, nil, nil)
	// By the closed form of a corner the line lies the clearance from the inner
	// kerb there, 4 - 0.30 m left of the middle of the road.
	if got := s.Line[f.sample(turn.At)].Left; math.Abs(got-3.7) > 0.05 {
		t.Errorf("in the turn the line lies %.2f m to the left, want 3.70", got)
	}
	for _, q := range s.Line {
		if math.Abs(q.Left) > 3.7001 {
			t.Errorf("at %.1f m the line lies %.2f m off the middle of a road of 8 m", q.At, q.Left)
		}
	}
	if s.Line[0].At != 0 || math.Abs(s.Line[len(s.Line)-1].At-r.Line.Length) > 1e-9 {
		t.Error("the line is not drawn from end to end")
	}
}

func TestEveryPlaceOfTheDemoLiesOnItsRoad(t *testing.T) {
	r := demoRace(t)
	var path []Place
	for at := 0.0; at < r.Line.Length; at += 7 {
		path = append(path, Place{at, 0, -1, 1})
	}
	s := newScene(r, quantity.Metric, nil, path, nil)
	k := 0
	for i, q := range s.Line {
		for k+1 < len(s.Road) && s.Road[k+1].At <= q.At {
			k++
		}
		a := s.Road[k]
		if q.Left > a.Left+1e-6 || q.Left < a.Right-1e-6 {
			t.Errorf("at %.1f m the line lies at %.2f m, the road reaches from %.2f to %.2f", q.At, q.Left, a.Right, a.Left)
		}
		if i > 0 && q.At <= s.Line[i-1].At {
			t.Errorf("the line turns back at %.2f m", q.At)
		}
	}
	for _, q := range s.Path {
		if q.Low > q.Left+1e-9 || q.High < q.Left-1e-9 {
			t.Errorf("at %.1f m the band %.2f to %.2f does not hold the path %.2f", q.At, q.Low, q.High, q.Left)
		}
	}
	if len(s.Plan.Edges) == 0 || len(s.Plan.Kerbs) == 0 {
		t.Errorf("%d kerbs and %d edges", len(s.Plan.Kerbs), len(s.Plan.Edges))
	}
}

// reviewed is the demo's wide runner.
func reviewed(t testing.TB, r *race.Race) (document.Review, Run) {
	t.Helper()
	b, err := fs.ReadFile(demo.Files(), "wide.gpx")
	if err != nil {
		t.Fatal(err)
	}
	f, err := gpxfile.Read("wide.gpx", bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	line, _, err := f.Record()
	if err != nil {
		t.Fatal(err)
	}
	rec := record.Clean(line)
	v, err := review.Of(r, rec, review.Options{Doubt: review.UsualDoubt(true, true)})
	if err != nil {
		t.Fatal(err)
	}
	return document.NewReview(r, rec.Name, v), RunOf(r, v, rec, nil)
}

func TestThreeTurnsStandOutAndHaveTheirTables(t *testing.T) {
	r := demoRace(t)
	d, run := reviewed(t, r)
	s, err := Review(r, d, run, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Worst) != 3 || len(s.Plates) != 3 {
		t.Fatalf("%d turns stand out, %d are drawn", len(s.Worst), len(s.Plates))
	}
	cost := func(number int) float64 {
		x := d.Turns[number-1]
		if x.LostS != nil {
			return x.LostS.Value
		}
		return x.ExtraM.Value
	}
	for _, x := range d.Turns {
		for i, w := range s.Worst {
			if x.Number == w.Number {
				break
			}
			if i == 2 && cost(x.Number) > cost(w.Number)+1e-9 {
				t.Errorf("turn %d cost %.2f and does not stand out, turn %d cost %.2f", x.Number, cost(x.Number), w.Number, cost(w.Number))
			}
		}
	}
	body, err := s.Body()
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range d.Turns {
		if !strings.Contains(string(body), fmt.Sprintf(`<tr id="turn-%d"`, x.Number)) {
			t.Errorf("turn %d is not in the table", x.Number)
		}
	}
	if n := strings.Count(string(body), `class="flag"`); n != 3 {
		t.Errorf("%d flags on the strip map", n)
	}
	ids := map[string]bool{}
	for _, x := range s.Tables {
		ids[x.ID] = len(x.Rows) > 0
	}
	for _, id := range []string{"turns", "ledger-table", "marks", "ahead"} {
		if !ids[id] {
			t.Errorf("there is no table %s", id)
		}
	}
	charts := map[string]bool{}
	for _, c := range s.Charts {
		charts[c.ID] = c.Narrow != "" && c.Middle != "" && c.Wide != ""
	}
	if charts["ledger"] != true || charts["pace"] != true {
		t.Errorf("the charts are %v", charts)
	}
}

func TestThePlanShowsItsTargetsOnTheStrip(t *testing.T) {
	r := demoRace(t)
	ground, err := heights.FromCourse(r.Course)
	if err != nil {
		t.Fatal(err)
	}
	route, _ := plan.FromRace(r, ground)
	c, err := plan.NewCourse(route)
	if err != nil {
		t.Fatal(err)
	}
	marks, err := plan.Every(1000, 1000, "km", c.Official)
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(c, marks, plan.Settings{Name: "Somebody", Goal: 2700, Model: effort.Default()})
	if err != nil {
		t.Fatal(err)
	}
	s, err := Plan(r, c, p, Options{Ground: ground})
	if err != nil {
		t.Fatal(err)
	}
	strips := ""
	for _, h := range s.Strips.Strips {
		strips += string(h)
	}
	for _, q := range p.Splits {
		if at := quantity.Clock(float64(q.ShownElapsed)); !strings.Contains(strips, ">"+at+"<") {
			t.Errorf("the target %s at %s is not on the strip map", at, q.Mark)
		}
	}
	if s.Figures[0].Value != "45:00" {
		t.Errorf("the target is %s", s.Figures[0].Value)
	}
}

func TestTheClockRunsFromLineToLine(t *testing.T) {
	r := demoRace(t)
	d, run := reviewed(t, r)
	c := clockOf(run.Fixes)
	if got := c.At(0); math.Abs(got) > 1.5 {
		t.Errorf("the start line was crossed after %.1f s", got)
	}
	if got := c.At(r.Line.Length); d.TimeS == nil || math.Abs(got-*d.TimeS) > 3 {
		t.Errorf("the finish line was crossed after %.1f s, the review says %v", got, *d.TimeS)
	}
	// The invented runner is steady: no half kilometre on level ground is a
	// third slower than the next.
	if a, b := c.At(500), c.At(1000)-c.At(500); a > 1.3*b {
		t.Errorf("the first 500 m took %.0f s, the next %.0f s", a, b)
	}
}

// One item of the account has one interval: on the terminal, in the drawing and
// in the table.
func TestTheAccountHasTheSameFiguresEverywhere(t *testing.T) {
	r := corner(t, "x")
	d, run := cornerRun(r, "y")
	d.Ledger[0].Metres = interval.Estimate{Value: 3.2, Low: -12.4, High: 11.3}
	d.Ledger[1].Metres = interval.Estimate{Value: 6.8, Low: -11.6, High: 37.2}
	for u, want := range map[quantity.Units][]string{
		quantity.Metric:   {"-13 to 12 m", "-12 to 38 m"},
		quantity.Imperial: {"-41 to 38 ft", "-39 to 123 ft"},
	} {
		s, err := Review(r, d, run, Options{Units: u})
		if err != nil {
			t.Fatal(err)
		}
		table := s.Tables[slices.IndexFunc(s.Tables, func(t Table) bool { return t.ID == "ledger-table" })]
		terminal := string(text.Review(text.Screen{Width: 100, Units: u}, d, nil))
		for i, w := range want {
			if got := table.Rows[i].Cells[2]; got != w {
				t.Errorf("the table says %q, want %q", got, w)
			}
			if !strings.Contains(string(s.Charts[0].Wide), "90 %: "+w+"<") {
				t.Errorf("the drawing lacks %q", w)
			}
			bare := w[:strings.LastIndex(w, " ")]
			if line := table.Rows[i].Cells[1] + "  " + d.Ledger[i].Cause + " (" + bare + ")"; !strings.Contains(terminal, line) {
				t.Errorf("the terminal lacks %q:\n%s", line, terminal)
			}
		}
	}
}

func TestTheScriptsDataComesBack(t *testing.T) {
	r := corner(t, "x")
	_, run := cornerRun(r, "y")
	s := newScene(r, quantity.Metric, nil, run.Path, run.Fixes)
	b, err := newData(s, quantity.Metric)
	if err != nil {
		t.Fatal(err)
	}
	var d data
	if err := json.Unmarshal(b, &d); err != nil {
		t.Fatal(err)
	}
	sum := func(list []int64, scale float64) []float64 {
		var v int64
		var out []float64
		for _, x := range list {
			v += x
			out = append(out, float64(v)/scale)
		}
		return out
	}
	at, x, y := sum(d.Path[0], 100), sum(d.Path[1], 100), sum(d.Path[2], 100)
	if len(at) != len(s.Plan.Path) {
		t.Fatalf("%d places of %d", len(at), len(s.Plan.Path))
	}
	for i, q := range s.Plan.Path {
		if math.Abs(at[i]-q.At) > 0.006 || math.Hypot(x[i]-q.X, y[i]-q.Y) > 0.01 {
			t.Fatalf("place %d is %.2f (%.2f, %.2f), want %.2f (%.2f, %.2f)", i, at[i], x[i], y[i], q.At, q.X, q.Y)
		}
	}
	fx := sum(d.Fixes[1], 10)
	for i, q := range s.Plan.Fixes {
		if math.Abs(fx[i]-q.X) > 0.051 {
			t.Fatalf("fix %d lies at %.1f, want %.2f", i, fx[i], q.X)
		}
	}
	if bytes.ContainsAny(b, "<>") {
		t.Error("the data could end the script")
	}
}

func TestTimesComeFromTheFixes(t *testing.T) {
	var fixes []Fix
	for i := range 100 {
		f := Fix{Along: float64(10 * i), Time: float64(3 * i)}
		switch {
		case i == 20:
			f.Along = math.NaN()
		case i == 30:
			f.Along = 10 // thrown back
		}
		fixes = append(fixes, f)
	}
	c := clockOf(fixes)
	for _, x := range []struct{ at, want float64 }{{5, 1.5}, {200, 60}, {305, 91.5}, {985, 295.5}} {
		if got := c.At(x.at); math.Abs(got-x.want) > 1e-9 {
			t.Errorf("at %.0f m after %.2f s, want %.2f", x.at, got, x.want)
		}
	}
	for _, at := range []float64{-1, 991, 2000} {
		if got := c.At(at); !math.IsNaN(got) {
			t.Errorf("a time of %.1f s is given at %.0f m, where the record is not", got, at)
		}
	}
}

func BenchmarkReviewPage(b *testing.B) {
	r := demoRace(b)
	d, run := reviewed(b, r)
	for b.Loop() {
		s, err := Review(r, d, run, Options{Date: time.DateOnly})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := s.HTML(); err != nil {
			b.Fatal(err)
		}
	}
}
