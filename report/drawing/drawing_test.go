package drawing

import (
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"html/template"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden drawings anew")

// bend is a course of two straights with a corner at 300 m, run a little wide.
func bend() *Scene {
	s := &Scene{Name: "Bend", Length: 600, Unit: Unit{1000, "km"}}
	for at := 0.0; at <= 600; at += 5 {
		left := 0.0
		if d := math.Abs(at - 300); d < 60 {
			left = 3.4 * (1 - d/60)
		}
		q := Station{At: at, X: math.Min(at, 300), Y: math.Max(0, at-300), NX: 0, NY: 1}
		if at > 300 {
			q.NX, q.NY = -1, 0
		}
		s.Line = append(s.Line, Place{at, left})
		s.Plan.Line = append(s.Plan.Line, q)
		s.Path = append(s.Path, Swath{at, left - 1.5, left - 3, left})
		q.X, q.Y, q.Low, q.High = q.X-1.5*q.NX, q.Y-1.5*q.NY, -1.5, 1.5
		s.Plan.Path = append(s.Plan.Path, q)
		s.Plan.Fixes = append(s.Plan.Fixes, Fix{X: q.X + 1, Y: q.Y - 1, At: at, T: at / 4})
		s.Ground = append(s.Ground, Ground{at, 50 + 10*math.Sin(at/100), 0.1 * math.Cos(at/100)})
	}
	s.Road = []Across{
		{0, 4, -4, 4, -4, "kerb", "kerb"}, {400, 4, -4, 4, -4, "kerb", "kerb"},
		{400, 4, -4, 0, -4, "cone", "kerb"}, {500, 4, -4, 0, -4, "cone", "kerb"},
		{500, 4, -4, 4, -4, "kerb", "kerb"}, {600, 4, -4, 4, -4, "kerb", "kerb"},
	}
	s.Plan.Kerbs = [][]Point{{{0, 4}, {296, 4}, {296, 300}}, {{0, -4}, {304, -4}, {304, 300}}}
	s.Turns = []Turn{{Number: 1, At: 300, From: 292, To: 308, Angle: 90, Rank: 1, Figure: "+2.1 m", X: 298, Y: 2}}
	s.Marks = []Mark{{At: 250, Name: "aid, the well", Short: "aid", Kind: Aid}, {At: 500, Name: "half", Time: "2:05"}, {At: 599, Name: "mat", Kind: Mat}}
	return s
}

func ledgerSteps() []Step {
	return []Step{
		{"turns run wide", 40, 25, 55, "+40 m", "25 to 55 m", "feet"},
		{"corner loss", -12, -20, -4, "−12 m", "-20 to -4 m", "watch"},
		{"run-out", 20, 20, 20, "+20 m", "", "ends"},
	}
}

// all makes every drawing of a scene.
func all(s *Scene) map[string]template.HTML {
	out := map[string]template.HTML{
		"overview": Overview(s, 340, 250), "profile": Profile(s, 720, 180),
		"pace": PaceChart(s, "Pace", []Paces{{"pace", "ran", []Pace{{0, 300, 0.25}, {300, 600, 0.27}}}, {"flat", "even", []Pace{{0, 600, 0.26}}}},
			func(v float64) string {
				return fmt.Sprintf("%.0f:%02.0f/km", math.Floor(v*1000/60), math.Mod(v*1000, 60))
			}, 720, 180),
		"ledger": Ledger(ledgerSteps(), End{"announced", "5.000 km"}, End{"the watch showed", "5.048 km"}, "+48 m", 720),
		"phone":  Ledger(ledgerSteps(), End{"announced", "5.000 km"}, End{"the watch showed", "5.048 km"}, "+48 m", 358),
	}
	for i, h := range StripMap(s).Strips {
		out[fmt.Sprintf("strip-%d", i+1)] = h
	}
	for _, t := range s.Turns {
		out[fmt.Sprintf("plate-%d", t.Number)] = Plate(s, t)
	}
	return out
}

// wellFormed reads a drawing as XML.
func wellFormed(h template.HTML) error {
	d := xml.NewDecoder(strings.NewReader(string(h)))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

func TestDrawingsStayAsTheyWere(t *testing.T) {
	drawings := all(bend())
	drawings["crowd"] = StripMap(crowded()).Strips[1]
	for name, h := range drawings {
		path := filepath.Join("testdata", name+".svg")
		if *update {
			if err := os.WriteFile(path, []byte(h), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if string(want) != string(h) {
			t.Errorf("%s is drawn differently: look at it, then run with -update", name)
		}
	}
	golden, err := filepath.Glob("testdata/*.svg")
	if err != nil || len(golden) != len(drawings) {
		t.Errorf("%d golden drawings for %d drawings, %v", len(golden), len(drawings), err)
	}
}

func TestEveryDrawingSaysWhatItShows(t *testing.T) {
	for name, h := range all(bend()) {
		role := `role="img"`
		if strings.HasPrefix(string(h), `<svg class="strip"`) || strings.HasPrefix(string(h), `<svg class="overview"`) {
			role = `role="group"`
		}
		for _, must := range []string{role, "<title>", "<desc>", `aria-label="`} {
			if !strings.Contains(string(h), must) {
				t.Errorf("%s has no %s", name, must)
			}
		}
		for _, never := range []string{"style=", "<script", "http", "NaN", "Inf"} {
			if strings.Contains(string(h), never) {
				t.Errorf("%s holds %s", name, never)
			}
		}
		if err := wellFormed(h); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestAnyNameIsTextAndAnyNumberIsDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := bend()
		name := rapid.String().Draw(t, "name") + `<script>"&'` + "\x1b[31m\x00"
		odd := rapid.SampledFrom([]float64{0, -1, 1e9, -1e9, math.NaN(), math.Inf(1), math.Inf(-1), 1e-300, 299.9, 600, 601})
		s.Name, s.Turns[0].Figure, s.Marks[1].Name, s.Marks[1].Time = name, name, name, name
		s.Marks[0].At, s.Turns[0].At, s.Turns[0].Angle = odd.Draw(t, "mark"), odd.Draw(t, "turn"), odd.Draw(t, "angle")
		i := rapid.IntRange(0, len(s.Path)-1).Draw(t, "i")
		s.Path[i].Left, s.Path[i].High = odd.Draw(t, "left"), odd.Draw(t, "high")
		s.Plan.Fixes[i].X, s.Plan.Path[i].Y = odd.Draw(t, "x"), odd.Draw(t, "y")
		s.Ground[i].Gradient = odd.Draw(t, "gradient")
		drawn := all(s)
		drawn["ledger"] = Ledger([]Step{{name, odd.Draw(t, "value"), -1, 1, name, name, "feet"}}, End{name, name}, End{name, name}, name, 720)
		for what, h := range drawn {
			if err := wellFormed(h); err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			if strings.Contains(string(h), "<script") || strings.ContainsAny(string(h), "\x1b\x00") {
				t.Fatalf("%s holds code or an escape", what)
			}
		}
	})
}

func TestStripsCoverTheCourseOnceAndFewAreEnough(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]Unit{{1000, "km"}, {1609.344, "mi"}}).Draw(t, "unit")
		s := &Scene{Length: rapid.Float64Range(100, 300000).Draw(t, "length"), Unit: unit}
		m := StripMap(s)
		if n := len(m.Strips); n < 1 || n > 27 {
			t.Fatalf("%d strips", n)
		}
		at := 0.0
		ends := regexp.MustCompile(`data-from="([^"]*)" data-to="([^"]*)"`)
		for _, h := range m.Strips {
			e := ends.FindStringSubmatch(string(h))
			from, err1 := strconv.ParseFloat(e[1], 64)
			to, err2 := strconv.ParseFloat(e[2], 64)
			if err1 != nil || err2 != nil || math.Abs(from-at) > 0.11 || to <= from {
				t.Fatalf("a strip goes from %s to %s after %.1f", e[1], e[2], at)
			}
			at = to
		}
		if math.Abs(at-s.Length) > 0.11 {
			t.Fatalf("the strips end at %.1f of %.1f m", at, s.Length)
		}
	})
}

func TestTheStripKeepsItsScales(t *testing.T) {
	s := bend()
	m := StripMap(s)
	h := string(m.Strips[1]) // 0.25 to 0.5 km
	k, err := strconv.ParseFloat(regexp.MustCompile(`data-k="([^"]*)"`).FindStringSubmatch(h)[1], 64)
	if err != nil || math.Abs(k-stripLong/250) > 1e-5 {
		t.Errorf("%v px per m along, %v", k, err)
	}
	// The kerbs of a road of 8 m lie 8 m apart.
	kerbs := regexp.MustCompile(`class="kerb" d="M([0-9.]+) `).FindAllStringSubmatch(h, -1)
	if len(kerbs) != 2 {
		t.Fatalf("%d kerbs", len(kerbs))
	}
	a, _ := strconv.ParseFloat(kerbs[0][1], 64)
	b, _ := strconv.ParseFloat(kerbs[1][1], 64)
	if math.Abs((b-a)-8*m.Across) > 0.11 {
		t.Errorf("the kerbs are %.1f px apart at %.3f px per m", b-a, m.Across)
	}
	if !(a < b) {
		t.Error("left on the road is not left on the drawing")
	}
	if got := m.Exaggeration(); math.Abs(got-m.Across/m.Along) > 1e-12 {
		t.Errorf("the exaggeration is %v", got)
	}
}

// bars are the left ends and the lengths of the steps of a ledger, px.
func bars(t *testing.T, h template.HTML) (x, w []float64) {
	t.Helper()
	for _, m := range regexp.MustCompile(`class="step [a-z]+" d="M([0-9.]+) [0-9.]+h([0-9.]+)v`).FindAllStringSubmatch(string(h), -1) {
		a, err1 := strconv.ParseFloat(m[1], 64)
		b, err2 := strconv.ParseFloat(m[2], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(m)
		}
		x, w = append(x, a), append(w, b)
	}
	return x, w
}

func TestTheLedgerAddsUpToTheEye(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 9).Draw(rt, "n")
		var steps []Step
		for range n {
			v := math.Round(rapid.Float64Range(-80, 120).Draw(rt, "v"))
			if v == 0 {
				v = 1
			}
			steps = append(steps, Step{"item", v, v - 3, v + 3, "x", "", "feet"})
		}
		x, w := bars(t, Ledger(steps, End{"a", "b"}, End{"c", "d"}, "e", rapid.SampledFrom([]float64{358, 720}).Draw(rt, "width")))
		if len(x) != n {
			rt.Fatalf("%d bars for %d steps", len(x), n)
		}
		// Each bar begins where the one before ended.
		end := func(i int) float64 {
			if steps[i].Value > 0 {
				return x[i] + w[i]
			}
			return x[i]
		}
		for i := 1; i < n; i++ {
			start := x[i]
			if steps[i].Value < 0 {
				start = x[i] + w[i]
			}
			if math.Abs(start-end(i-1)) > 1.5 {
				rt.Fatalf("step %d begins at %.1f px, the one before ends at %.1f", i+1, start, end(i-1))
			}
		}
	})
}

func TestLabelsAreMovedApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 12).Draw(t, "n")
		at, half := make([]float64, n), make([]float64, n)
		last := 0.0
		for i := range at {
			last += rapid.Float64Range(0, 30).Draw(t, "step")
			at[i], half[i] = last, rapid.Float64Range(5, 16).Draw(t, "half")
		}
		before := append([]float64(nil), at...)
		out := apart(at, half, 0, 450)
		for i := range out {
			if at[i] != before[i] {
				t.Fatal("the argument was changed")
			}
			if i > 0 && out[i]-out[i-1] < half[i]+half[i-1]-1e-6 {
				t.Fatalf("labels %d and %d are %.2f px apart and need %.2f", i-1, i, out[i]-out[i-1], half[i]+half[i-1])
			}
		}
	})
}

func TestSimplifyingStaysNear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 900).Draw(t, "n")
		pts := make([]xy, n)
		for i := range pts {
			pts[i] = xy{float64(i), rapid.Float64Range(-3, 3).Draw(t, "y")}
		}
		const tolerance = 0.5
		out := simplify(pts, tolerance)
		if out[0] != pts[0] || out[len(out)-1] != pts[n-1] {
			t.Fatal("an end was lost")
		}
		k := 0
		for _, q := range pts {
			for k+1 < len(out)-1 && out[k+1].x < q.x {
				k++
			}
			if d := offLine(q, out[k], out[k+1]); d > tolerance+1e-9 {
				t.Fatalf("the point at %.0f lies %.2f px off", q.x, d)
			}
		}
	})
}

func TestRoundLengthsOfScaleBars(t *testing.T) {
	for _, c := range []struct{ most, want float64 }{{9.99, 5}, {10, 10}, {19, 10}, {0.3, 0.2}, {4999, 2000}, {-1, 1}, {math.NaN(), 1}, {math.Inf(1), 1}} {
		if got := roundBelow(c.most); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("below %v: %v, want %v", c.most, got, c.want)
		}
	}
}

// A screen reader says all of what a drawing is, figures included.
func TestDescriptionsAreNotCut(t *testing.T) {
	for name, h := range all(bend()) {
		for _, said := range regexp.MustCompile(`<desc>([^<]*)</desc>|aria-label="([^"]*)"`).FindAllString(string(h), -1) {
			if strings.Contains(said, "…") {
				t.Errorf("%s is cut: %s", name, said)
			}
		}
	}
}
