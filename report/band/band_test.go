package band

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/interval"
	"tautline/report/lettering"
	"tautline/report/text"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

var update = flag.Bool("update", false, "write the golden files anew")

// waves is a road over two lengths of hill.
type waves struct{}

func (waves) Height(at float64) float64 { return 40 + 25*math.Sin(at/1700) + 6*math.Sin(at/430) }

func (w waves) sum(from, to, sign float64) interval.Estimate {
	var v float64
	for a := from; a < to; a += 10 {
		v += math.Max(0, sign*(w.Height(math.Min(to, a+10))-w.Height(a)))
	}
	return interval.Exact(v)
}

func (w waves) Climb(from, to float64) interval.Estimate   { return w.sum(from, to, 1) }
func (w waves) Descent(from, to float64) interval.Estimate { return w.sum(from, to, -1) }

func sample(t testing.TB, name string, official, step, unit float64, unitName string, s plan.Settings) (*plan.Plan, *plan.Course) {
	t.Helper()
	c, err := plan.NewCourse(plan.Route{Name: name, Official: official, Shortest: official + 12, Ground: waves{}})
	if err != nil {
		t.Fatal(err)
	}
	marks, err := plan.Every(step, unit, unitName, official)
	if err != nil {
		t.Fatal(err)
	}
	s.Model = effort.Default()
	p, err := plan.Make(c, marks, s)
	if err != nil {
		t.Fatal(err)
	}
	return p, c
}

func full(t testing.TB) (*plan.Plan, Options) {
	p, c := sample(t, "Quarrymouth Harbour Marathon", 42195, 1000, 1000, "km", plan.Settings{
		Name: "Ottoline Varga", Goal: 12600, Extra: 0.004, WatchLong: 0.007, GunDelay: 90,
		Stops: []plan.Stop{{Name: "table", At: 20500, Seconds: 20}}, Crowd: plan.Crowd{Seconds: 30},
	})
	return p, Options{Course: c, Date: "9 May 2027", Model: "Minetti et al. 2002, downhill credit 33 %"}
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs from the golden file; look at it and run with -update if it is right\n%s", name, firstDifference(got, want))
	}
}

func firstDifference(got, want []byte) string {
	g, w := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
	for i := range g {
		if i >= len(w) || g[i] != w[i] {
			return fmt.Sprintf("line %d: %s", i+1, g[i])
		}
	}
	return "the golden file is longer"
}

func TestGoldenFiles(t *testing.T) {
	p, o := full(t)
	golden(t, "marathon.svg", SVG(p, o))
	page, err := Page([]*plan.Plan{p}, nil, o)
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "marathon.html", page)
	golden(t, "marathon.csv", CSV(p))
	gpx, err := GPX(p, place, quantity.Metric)
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "marathon.gpx", gpx)
	golden(t, "marathon.txt", []byte(strings.Join(Text(p, text.Screen{Width: 80}), "\n")+"\n"))
	q, c := sample(t, "Quarrymouth Harbour Marathon", 42195, quantity.Mile, quantity.Mile, "mi", plan.Settings{Name: "Bram", Goal: 12599, FirstHalfShare: -0.03})
	golden(t, "miles-letter.svg", SVG(q, Options{Course: c, Units: quantity.Imperial, Paper: Letter}))
	golden(t, "miles-narrow.txt", []byte(strings.Join(Text(q, text.Screen{Width: 40, Units: quantity.Imperial}), "\n")+"\n"))
}

func place(at float64) earth.LatLon { return earth.LatLon{Lat: 50 + at/111000, Lon: 181} }

// elements walks the text elements of a drawing.
func elements(t *testing.T, svg []byte) (texts []string, sizes []float64) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return texts, sizes
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		switch e.Name.Local {
		case "script", "a", "image", "foreignObject", "use", "style":
			t.Fatalf("a %s element", e.Name.Local)
		case "text":
			var in struct {
				Size float64 `xml:"font-size,attr"`
				Text string  `xml:",chardata"`
			}
			if err := d.DecodeElement(&in, &e); err != nil {
				t.Fatal(err)
			}
			texts, sizes = append(texts, in.Text), append(sizes, in.Size)
		}
	}
}

var clockLike = regexp.MustCompile(`^\d+(:\d\d)+$`)

// Figures on a band are read at arm's length while running: 9 pt at least.
func TestFiguresOnTheBandAreLegible(t *testing.T) {
	p, o := full(t)
	texts, sizes := elements(t, SVG(p, o))
	clocks := 0
	for i, x := range texts {
		if clockLike.MatchString(x) && x != "3:30:00, by the gun 3:31:30" {
			clocks++
			if sizes[i] < 9*pt-0.01 && x != "3:30:00" {
				t.Errorf("%q is set in %.1f pt", x, sizes[i]/pt)
			}
		}
	}
	if want := 5 * len(p.Splits); clocks < want {
		t.Errorf("%d times on the band, want at least %d", clocks, want)
	}
	for _, s := range p.Splits {
		found := false
		for _, x := range texts {
			found = found || x == quantity.Clock(float64(s.ShownElapsed))
		}
		if !found {
			t.Errorf("%s is not on the band", s.Mark)
		}
	}
}

// Everything drawn lies on the paper.
func TestNothingFallsOffThePaper(t *testing.T) {
	long, c := sample(t, strings.Repeat("A very long name of a race ", 10), 42195, 500, 1000, "km", plan.Settings{
		Name: strings.Repeat("Wilhelmina ", 30), Goal: 30000, GunDelay: 1000, WatchLong: 0.05, FirstHalfShare: -0.05,
		Stops: []plan.Stop{{Name: "a", At: 100, Seconds: 700}, {Name: "b", At: 9000, Seconds: 700}},
	})
	p, o := full(t)
	named := *p
	named.Splits = append([]plan.Split(nil), p.Splits...)
	for i := range named.Splits {
		named.Splits[i].Mark = fmt.Sprintf("%d the long bridge over the harbour", i)
	}
	for _, paper := range []Paper{A4, Letter} {
		for _, x := range []struct {
			p *plan.Plan
			o Options
		}{{p, o}, {long, Options{Course: c}}, {&named, o}} {
			x.o.Paper = paper
			for _, body := range lay(x.p, x.o).sheets() {
				onPaper(t, paper, body)
			}
		}
	}
}

var coordinates = regexp.MustCompile(`M(-?[\d.]+) (-?[\d.]+)|L(-?[\d.]+) (-?[\d.]+)`)

func onPaper(t *testing.T, paper Paper, body string) {
	t.Helper()
	for _, m := range coordinates.FindAllStringSubmatch(body, -1) {
		x, _ := strconv.ParseFloat(m[1]+m[3], 64)
		y, _ := strconv.ParseFloat(m[2]+m[4], 64)
		if x < border-0.01 || x > paper.Width-border+0.01 || y < border-0.01 || y > paper.Height-border+0.01 {
			t.Fatalf("%s: a line at %.2f, %.2f", paper.Name, x, y)
		}
	}
	for _, m := range regexp.MustCompile(`<text x="([\d.]+)" y="([\d.]+)" font-size="([\d.]+)"([^>]*)>([^<]*)<`).FindAllStringSubmatch(body, -1) {
		x, _ := strconv.ParseFloat(m[1], 64)
		y, _ := strconv.ParseFloat(m[2], 64)
		size, _ := strconv.ParseFloat(m[3], 64)
		w := lettering.Width(m[5], size, false) * 0.95 // the estimate is on the wide side
		end := x + w
		if strings.Contains(m[4], `"end"`) || strings.Contains(m[4], `"middle"`) {
			end = x
		}
		if y > paper.Height-border || y < border || x < border-1.5 || end > paper.Width-border {
			t.Fatalf("%s: %q at %.1f to %.1f, %.1f", paper.Name, m[5], x, end, y)
		}
	}
}

func TestLongPlansTakeSeveralSheetsAndKeepEverySplit(t *testing.T) {
	p, c := sample(t, "Long", 100000, 1000, 1000, "km", plan.Settings{Goal: 36000})
	o := Options{Course: c}
	sheets := lay(p, o).sheets()
	if len(sheets) != 3 {
		t.Errorf("%d sheets for 100 splits", len(sheets))
	}
	all := strings.Join(sheets, "")
	for _, s := range p.Splits {
		if !strings.Contains(all, ">"+quantity.Clock(float64(s.ShownElapsed))+"<") {
			t.Errorf("%s is missing", s.Mark)
		}
	}
	if !bytes.Contains(SVG(p, o), []byte(`height="891mm"`)) {
		t.Error("the drawing is not three sheets high")
	}
	if n := strings.Count(all, "Pacing and heat figures"); n != 3 {
		t.Errorf("the caution stands %d times on 3 sheets", n)
	}
}

var hostile = []string{
	`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `]]>`, `</text><a href="javascript:1">`, "a\x00b\x1b[31mc", "&amp;&lt;", "{{.Title}}",
	"\u202eevil", strings.Repeat("x", 5000), "<!-- -->", "' onload='x",
}

func TestNamesAreEscapedEverywhere(t *testing.T) {
	base, o := full(t)
	for _, name := range hostile {
		p := *base
		p.Athlete, p.Course = name, name
		p.Splits = append([]plan.Split(nil), base.Splits...)
		p.Splits[3].Mark = name
		o.Date, o.Model = name, text.Line(name)
		texts, _ := elements(t, SVG(&p, o))
		if len(texts) < 100 {
			t.Errorf("%q: only %d texts", name, len(texts))
		}
		over := plan.Overview{Course: name, Official: 42195, Marks: []plan.Mark{{Name: name, At: 42195}},
			Rows:    []plan.Row{{Name: name, Target: 12600, FlatPace: 0.3, Half: 6300, Elapsed: []float64{12600}}},
			Refused: []plan.Result{{Name: name, Err: errors.New(name)}}}
		page, err := Page([]*plan.Plan{&p}, &over, o)
		if err != nil {
			t.Fatal(err)
		}
		for _, bad := range []string{"<script", "<img", "<a ", "<!-- -->", "\x00", "\x1b", "\u202e", "' onload"} {
			if bytes.Contains(page, []byte(bad)) {
				t.Errorf("%q: the page holds %q", name, bad)
			}
		}
		gpx, err := GPX(&p, place, quantity.Metric)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := gpxfile.Read("plan.gpx", bytes.NewReader(gpx)); err != nil && !strings.Contains(err.Error(), "waypoint") {
			t.Errorf("%q: %v", name, err)
		}
		for _, l := range append(Text(&p, text.Screen{Width: 80}), OverviewText(&over, text.Screen{Width: 80})...) {
			if strings.ContainsAny(l, "\x00\x1b\n\r\u202e") {
				t.Errorf("%q: the text holds a control character: %q", name, l)
			}
		}
	}
}

func TestCellsAreNeverFormulas(t *testing.T) {
	base, _ := full(t)
	for _, name := range []string{"=1+1", "+1", "-1+2", "@SUM(A1)", "\t=1", "  =1", "\r=1", "＝1", "=cmd|' /C calc'!A0", "\u00a0=1", `=HYPERLINK("x")`} {
		p := *base
		p.Athlete = name
		p.Splits = append([]plan.Split(nil), base.Splits...)
		p.Splits[0].Mark = name
		o := plan.Overview{Marks: []plan.Mark{{Name: name}}, Rows: []plan.Row{{Name: name, Elapsed: []float64{1}}}}
		for _, table := range [][]byte{CSV(&p), OverviewCSV(&o)} {
			rows, err := csv.NewReader(bytes.NewReader(table)).ReadAll()
			if err != nil {
				t.Fatal(err)
			}
			for _, row := range rows {
				for _, cell := range row {
					if _, err := strconv.ParseFloat(cell, 64); err == nil {
						continue // our own figures may be negative
					}
					if c := strings.TrimLeft(cell, " \t\r\n\u00a0"); c != "" && strings.ContainsAny(c[:1], "=+-@") || strings.HasPrefix(c, "＝") {
						t.Errorf("%q gives the cell %q", name, cell)
					}
				}
			}
		}
	}
	if got := safe("Anna-Lena O'Neill"); got != "Anna-Lena O'Neill" {
		t.Errorf("a name became %q", got)
	}
}

func TestTheTableAddsUpToTheTarget(t *testing.T) {
	p, _ := full(t)
	rows, err := csv.NewReader(bytes.NewReader(CSV(p))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 44 {
		t.Fatalf("%d lines", len(rows))
	}
	sum := 0
	for _, r := range rows[1:] {
		v, err := strconv.Atoi(r[3])
		if err != nil {
			t.Fatal(err)
		}
		sum += v
	}
	if sum != 12600 || rows[43][5] != "3:30:00" {
		t.Errorf("splits add up to %d, the last clock is %s", sum, rows[43][5])
	}
}

func TestWaypointsStandAtTheMarks(t *testing.T) {
	p, _ := full(t)
	b, err := GPX(p, place, quantity.Metric)
	if err != nil {
		t.Fatal(err)
	}
	var f gpxFile
	if err := xml.Unmarshal(b, &f); err != nil {
		t.Fatal(err)
	}
	if len(f.Points) != len(p.Splits) || f.Version != "1.1" {
		t.Fatalf("%d waypoints, version %q", len(f.Points), f.Version)
	}
	if x := f.Points[9]; x.Lat != fmt.Sprintf("%.7f", 50+10000/111000.0) || x.Lon != "-179.0000000" || x.Name != "10 km "+quantity.Clock(float64(p.Splits[9].ShownElapsed)) {
		t.Errorf("%+v", x)
	}
	for _, where := range []earth.LatLon{{Lat: math.NaN()}, {Lat: 91}, {Lon: math.Inf(1)}} {
		if _, err := GPX(p, func(float64) earth.LatLon { return where }, quantity.Metric); err == nil {
			t.Errorf("a waypoint at %v was written", where)
		}
	}
}

func TestTheTextFitsTheTerminalAndHoldsTheCautionOnce(t *testing.T) {
	p, _ := full(t)
	for _, width := range []int{40, 60, 80, 100} {
		lines := Text(p, text.Screen{Width: width})
		for _, l := range lines {
			if n := len([]rune(l)); n > width {
				t.Errorf("width %d: %d characters: %s", width, n, l)
			}
		}
		if n := strings.Count(strings.Join(strings.Fields(strings.Join(lines, " ")), " "), "not medical advice"); n != 1 {
			t.Errorf("width %d: the caution stands %d times", width, n)
		}
	}
}

// The page, printed by a browser, is as many sheets of the paper asked for.
func TestThePagePrintsOnItsPaper(t *testing.T) {
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("chromium is missing")
		}
		t.Skip("no browser here")
	}
	p, o := full(t)
	long, c := sample(t, "Long", 100000, 1000, 1000, "km", plan.Settings{Goal: 36000})
	over := plan.Overview{Official: 42195, Marks: []plan.Mark{{Name: plan.Finish, At: 42195}}, Rows: []plan.Row{{Name: "Bram", Target: 12600, Elapsed: []float64{12600}}}}
	for _, x := range []struct {
		plans    []*plan.Plan
		overview *plan.Overview
		o        Options
		sheets   int
		box      string
	}{
		{[]*plan.Plan{p}, nil, o, 1, "595 842"},
		{[]*plan.Plan{p, long}, &over, Options{Course: c, Paper: Letter}, 5, "612 792"},
	} {
		page, err := Page(x.plans, x.overview, x.o)
		if err != nil {
			t.Fatal(err)
		}
		dir := t.TempDir()
		in, out := filepath.Join(dir, "page.html"), filepath.Join(dir, "page.pdf")
		if err := os.WriteFile(in, page, 0o644); err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
		defer cancel()
		cmd := exec.CommandContext(ctx, chromium, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
			"--user-data-dir="+filepath.Join(dir, "profile"), "--print-to-pdf="+out, "file://"+in)
		if msg, err := cmd.CombinedOutput(); err != nil {
			if os.Getenv("CI") == "true" {
				t.Fatalf("the browser does not start: %v %s", err, msg)
			}
			t.Skipf("the browser does not start: %v %s", err, msg)
		}
		pdf, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		boxes := regexp.MustCompile(`/MediaBox ?\[0 0 ([\d.]+) ([\d.]+)\]`).FindAllSubmatch(pdf, -1)
		if len(boxes) != x.sheets {
			t.Errorf("%d sheets, want %d", len(boxes), x.sheets)
		}
		for _, b := range boxes {
			w, _ := strconv.ParseFloat(string(b[1]), 64)
			h, _ := strconv.ParseFloat(string(b[2]), 64)
			if got := fmt.Sprintf("%.0f %.0f", w, h); got != x.box {
				t.Errorf("a sheet of %s points, want %s", got, x.box)
			}
		}
	}
}

func BenchmarkSVG(b *testing.B) {
	p, o := full(b)
	for b.Loop() {
		SVG(p, o)
	}
}
