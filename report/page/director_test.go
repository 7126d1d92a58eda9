package page

import (
	"bytes"
	"math"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/interval"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/report/document"
	"tautline/strategy/adjust"
	"tautline/strategy/appraise"
	placing "tautline/strategy/marks"
	"tautline/strategy/measure"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// cornerField is a made-up field on the corner: the crowd keeps left, and did
// not go round the turn.
func cornerField(r *race.Race, name string) document.Field {
	outside := interval.Estimate{Value: 1.2, Low: -0.4, High: 2.9}
	d := document.Field{
		Course: r.Name, OfficialM: new(400.0), ShortestM: r.Line.Length, Records: 200, Verdict: "look at", Why: "the crowd cut it", LookAtTurns: []int{1},
		CourseM: interval.Estimate{Value: 370, Low: 361, High: 380}, SharedErrorM: 1.5, StraightsM: 250,
		Findings: []document.FieldFinding{{Kind: "left out", FromM: 170, ToM: 215, Turns: []int{1}, Metres: interval.Estimate{Value: 45, Low: 40, High: 50}, LengthM: interval.Estimate{Value: -26.3, Low: -29, High: -23}, Records: 180}},
		LeftRoad: []document.FieldLeaving{{How: "cut a corner", FromM: 185, ToM: 200, Turns: []int{1}, Records: 7, Share: interval.Estimate{Value: 0.035, Low: 0.02, High: 0.06}}},
		Turns:    []document.FieldTurn{{Number: 1, AtM: r.Line.Turns[0].At, AngleDeg: 90, Records: 198, OutsideM: &outside, ExtraM: &interval.Estimate{Value: 2.1, Low: 1.2, High: 3.3}}},
		Runners:  []document.FieldRunner{{Number: 1, RecordM: 402, RanM: interval.Exact(371), ExtraM: interval.Exact(1)}},
		Refused: []document.FieldRefusal{
			{Name: name + ".gpx", Why: name + ".gpx:3:12: the latitude is out of range"},
			{Name: "x/" + name + "2.gpx", Why: "x/" + name + "2.gpx:5:12: the latitude is out of range"},
		},
		Warnings: []string{"a warning about " + r.Name}, ExtraQuartiles: &interval.Estimate{Value: 2, Low: 1, High: 4},
	}
	for s := 10.0; s < r.Line.Length-5; s += 10 {
		off, low, high := interval.Estimate{Value: 1, Low: 0, High: 2}, -2.0, 3.0
		d.Stations = append(d.Stations, document.FieldStation{AtM: s, Records: 200, OffM: &off, LowM: &low, HighM: &high, LeftM: 3.7, RightM: -3.7, Density: []float64{0, 0.01, 0.04, 0.05, 0.1, 0.2, 0.4, 0.2}})
	}
	return d
}

// cornerAppraisal is the appraisal of the corner with a coned lane in it.
func cornerAppraisal(t testing.TB, name string) *appraise.Appraisal {
	t.Helper()
	r := corner(t, name)
	lane := 0.5
	spec := r.Road.Spec
	spec.Stretches = []road.Stretch{{From: 120, To: 280, Part: road.Lane, LaneLeft: &lane}}
	r.Sheet.Stretches = []sheet.Stretch{{Name: name + " lane", From: 120, To: 280}}
	built, err := road.Build(r.Course, spec)
	if err != nil {
		t.Fatal(err)
	}
	line, err := taut.OnMap(built)
	if err != nil {
		t.Fatal(err)
	}
	moved := *r
	moved.Road, moved.Line = built, line
	doubts := adjust.UsualDoubts()
	doubts.Trials = 4
	a := &appraise.Appraisal{Race: &moved, Add: 12, Basis: "the announced distance", Announced: true, Notes: []string{"a note on " + name}}
	if a.Certainty, err = adjust.HowSure(r.Course, spec, doubts, nil); err != nil {
		t.Fatal(err)
	}
	if a.Worths, err = adjust.Worths(r.Course, spec, nil); err != nil {
		t.Fatal(err)
	}
	if a.Options, err = adjust.Options(r.Course, spec, a.Add, nil); err != nil {
		t.Fatal(err)
	}
	c := adjust.Compare(interval.Exact(400), a.Certainty)
	a.Compared = &c
	a.Change = adjust.BeforeAfter(line, r.Course.Plane, r.Line, r.Course.Plane, 0)
	return a
}

func cornerMarks(t testing.TB, r *race.Race, name string) *placing.List {
	t.Helper()
	l, err := placing.Place(placing.Input{Line: r.Line, Plane: r.Course.Plane, Road: r.Road, Official: 400},
		[]placing.Want{{Name: "start"}, {Name: name, Official: 150}, {Name: "300 m", Official: 300}, {Name: "finish", Official: 400}})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// ridden is the example of a measuring sheet, named.
func ridden(t testing.TB, name string) *measure.Result {
	t.Helper()
	s, err := measure.Read("example.toml", bytes.NewReader(measure.Example))
	if err != nil {
		t.Fatal(err)
	}
	m, err := s.Work()
	if err != nil {
		t.Fatal(err)
	}
	m.Title = name
	return m
}

// directors makes the four pages of a director.
func directors(t testing.TB, name string, o Options) map[string]*Sheet {
	t.Helper()
	r := corner(t, name)
	out := map[string]*Sheet{}
	keep := func(page string, s *Sheet, err error) {
		if err != nil {
			t.Fatalf("%s: %v", page, err)
		}
		out[page] = s
	}
	s, err := Field(r, cornerField(r, name), o)
	keep("field", s, err)
	s, err = MarkSheet(r, cornerMarks(t, r, name), o)
	keep("setout", s, err)
	s, err = Measurement(ridden(t, name), o)
	keep("measure", s, err)
	s, err = Appraisal(cornerAppraisal(t, name), o)
	keep("appraise", s, err)
	return out
}

func TestDirectorsPagesStayAsTheyWere(t *testing.T) {
	for name, s := range directors(t, "The Corner", Options{Date: "2027-04-19", Source: "corner.gpx"}) {
		staysAsItWas(t, name, s)
	}
}

func TestHostileNamesAreTextOnDirectorsPages(t *testing.T) {
	const name = "</script><script>alert(1)</script><svg onload=alert(2)>\"'&\x1b[31m\u202e"
	for page, s := range directors(t, name, Options{Source: name}) {
		b, err := s.HTML()
		if err != nil {
			t.Fatal(err)
		}
		for _, never := range []string{"<script>alert", "<svg onload", "\x1b", "\u202e"} {
			if bytes.Contains(b, []byte(never)) {
				t.Errorf("%s holds %q", page, never)
			}
		}
		want := 2 // the data and the script
		if page == "measure" {
			want = 1
		}
		if n := bytes.Count(b, []byte("</script>")); n != want {
			t.Errorf("%d scripts end in %s, want %d", n, page, want)
		}
		if !bytes.Contains(b, []byte("alert(1)")) {
			t.Errorf("%s does not show the name at all", page)
		}
	}
}

func TestEveryLinkOfADirectorsPageHasItsTarget(t *testing.T) {
	for page, s := range directors(t, "x", Options{}) {
		body, err := s.Body()
		if err != nil {
			t.Fatal(err)
		}
		for _, link := range regexp.MustCompile(`href="#([^"]+)"`).FindAllStringSubmatch(string(body), -1) {
			if n := strings.Count(string(body), ` id="`+link[1]+`"`); n != 1 {
				t.Errorf("%s: %d targets of #%s", page, n, link[1])
			}
		}
		for _, table := range s.Tables {
			for _, row := range table.Rows {
				if len(row.Cells) != len(table.Head) {
					t.Errorf("%s, table %s: a row of %d cells under %d heads", page, table.ID, len(row.Cells), len(table.Head))
				}
			}
		}
	}
}

func TestAFieldsPageNamesNobodyUnlessAsked(t *testing.T) {
	r := corner(t, "x")
	d := cornerField(r, "perpetua")
	body := func() string {
		s, err := Field(r, d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		b, err := s.Body()
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if b := body(); strings.Contains(b, "perpetua") {
		t.Error("a file that is named after its runner is named")
	} else if !strings.Contains(b, "2 files: the latitude is out of range") {
		t.Error("why files were refused is not said once for both")
	}
	d.Runners[0].Name = "iva.gpx"
	if b := body(); !strings.Contains(b, "iva.gpx") || !strings.Contains(b, "perpetua.gpx") {
		t.Error("names were asked for and are missing")
	}
}

func TestARefusalWithItsFileInsideIsNotRepeated(t *testing.T) {
	for why, want := range map[string]string{
		"field.zip/bram.gpx: 3 fixes are too few":       "3 fixes are too few",
		"cannot unpack field.zip/bram.gpx: cut off":     "a file that cannot be used",
		"the archive ends early while reading bram.gpx": "a file that cannot be used",
	} {
		if got := withoutFile(document.FieldRefusal{Name: "field.zip/bram.gpx", Why: why}); got != want {
			t.Errorf("of %q is shown %q, want %q", why, got, want)
		}
	}
}

func TestTheFieldsVerdictStandsFirstAndItsTurnIsFlagged(t *testing.T) {
	r := corner(t, "x")
	s, err := Field(r, cornerField(r, "y"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if s.Figures[0].Value != "look at turn 1" {
		t.Errorf("the first figure is %q", s.Figures[0].Value)
	}
	if !strings.HasPrefix(s.Verdict[0], "Look at turn 1: ") {
		t.Errorf("the verdict begins %q", s.Verdict[0])
	}
	if len(s.Worst) != 1 || s.Worst[0].Number != 1 || s.Worst[0].Figure != quantity.Signed(-26.3, quantity.Metric) {
		t.Errorf("to look at: %+v", s.Worst)
	}
	strip := string(s.Strips.Strips[0])
	for _, must := range []string{`class="crowd-4"`, `class="halo"`, `class="span-worth"`, `class="span-left"`, ">7 left<", `class="flag"`} {
		if !strings.Contains(strip, must) {
			t.Errorf("the strip has no %s", must)
		}
	}
	for _, c := range document.FieldCautions() {
		if !strings.Contains(strings.Join(s.Cautions, "\n"), c) {
			t.Errorf("the page does not say %q", c)
		}
	}
}

func TestTheDearestRestrictionMustNotMove(t *testing.T) {
	a := cornerAppraisal(t, "x")
	s, err := Appraisal(a, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if a.Worths[0].Metres < slight {
		t.Fatalf("the lane is worth %.2f m: too little to test with", a.Worths[0].Metres)
	}
	if all := strings.Join(s.Verdict, " "); !strings.Contains(all, "Most depends on A, stretch 1, x lane") || !strings.Contains(all, "It must not move.") {
		t.Errorf("the verdict is %q", all)
	}
	strips := ""
	for _, h := range s.Strips.Strips {
		strips += string(h)
	}
	for _, must := range []string{`class="span-worth"`, ">A<", `class="edge-cone"`, `class="span-changed"`} {
		if !strings.Contains(strips, must) {
			t.Errorf("the strip map has no %s", must)
		}
	}
}

func TestTheMarkSheetHasEveryMarkOnceAndRoomToTick(t *testing.T) {
	r := corner(t, "x")
	l := cornerMarks(t, r, "bridge")
	s, err := MarkSheet(r, l, Options{})
	if err != nil {
		t.Fatal(err)
	}
	rows := s.Tables[0].Rows
	if !s.Tables[0].Form || len(rows) != len(l.Marks) {
		t.Fatalf("%d rows for %d marks", len(rows), len(l.Marks))
	}
	for i, m := range l.Marks {
		if c := rows[i].Cells; c[1] != m.Name || c[6] != m.Where() || c[7] != tick {
			t.Errorf("mark %d reads %q", i+1, c)
		}
	}
	strips := ""
	for _, h := range s.Strips.Strips {
		strips += string(h)
	}
	for _, no := range []string{">no. 1<", ">no. 2<", ">no. 3<", ">no. 4<"} {
		if strings.Count(strips, no) != 1 {
			t.Errorf("%s is on the strip map %d times", no, strings.Count(strips, no))
		}
	}
}

func TestTheMeasurementHoldsEveryStepAndItsRule(t *testing.T) {
	m := ridden(t, "x")
	s, err := Measurement(m, Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := s.Body()
	if err != nil {
		t.Fatal(err)
	}
	steps := 0
	for _, row := range s.Tables[0].Rows {
		if !row.Section {
			steps++
		}
	}
	if steps != len(m.Ledger()) {
		t.Errorf("%d steps of %d", steps, len(m.Ledger()))
	}
	for _, must := range []string{measure.NeverCertifies, m.Rules.Edition, "Signature", "Places in counts", `class="sign"`} {
		if !strings.Contains(string(b), must) {
			t.Errorf("the sheet does not hold %q", must)
		}
	}
	if strings.Contains(string(b), `id="plan"`) || strings.Contains(string(b), `id="data"`) {
		t.Error("a sheet without a map holds a plan")
	}
}

func TestSpreadingACrowdLosesNobody(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		wide, drawn := rapid.Float64Range(0.5, 40).Draw(t, "wide"), rapid.Float64Range(0.5, 40).Draw(t, "drawn")
		share := make([]float64, int(math.Max(1, math.Ceil(wide))))
		sum := 0.0
		for i := range share {
			share[i] = rapid.Float64Range(0, 1).Draw(t, "share")
			sum += share[i]
		}
		got := 0.0
		for _, v := range spread(share, wide, drawn, int(math.Max(1, math.Ceil(drawn)))) {
			got += v
		}
		if math.Abs(got-sum) > 1e-9*math.Max(1, sum) {
			t.Fatalf("%.6f of %.6f are left", got, sum)
		}
	})
}

func TestTheCrowdLiesOnItsRoad(t *testing.T) {
	r := demoRace(t)
	d := document.Field{ShortestM: r.Line.Length}
	for at := 10.0; at < r.Line.Length; at += 10 {
		d.Stations = append(d.Stations, document.FieldStation{AtM: at, LeftM: 9, RightM: -3, Density: []float64{1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0}})
	}
	crowd := crowdOf(r, d)
	if len(crowd) != len(d.Stations) {
		t.Fatalf("%d places of %d", len(crowd), len(d.Stations))
	}
	for _, c := range crowd {
		l, e := r.Road.Lateral(r.Line.CourseAt(c.At))
		if c.Left != l || c.Right != e || len(c.Share) != int(math.Max(1, math.Ceil(l-e-1e-6))) {
			t.Errorf("at %.0f m the crowd reaches from %.2f to %.2f in %d cells, the road from %.2f to %.2f", c.At, c.Right, c.Left, len(c.Share), e, l)
		}
	}
	if got := cones(r); len(got) == 0 {
		t.Error("the demo's turn-around and gate have no cones")
	} else {
		for _, c := range got {
			if c.At < 0 || c.At > r.Line.Length {
				t.Errorf("a cone stands at %.1f m", c.At)
			}
		}
	}
}

func TestPlacesOfADirectorsPageAreInTheUnitsOfItsMap(t *testing.T) {
	for page, s := range directors(t, "x", Options{Units: quantity.Imperial}) {
		for _, w := range s.Worst {
			if !strings.Contains(w.Where, " mi,") {
				t.Errorf("%s: turn %d lies at %q on a map in miles", page, w.Number, w.Where)
			}
		}
	}
	if s := directors(t, "x", Options{Units: quantity.Imperial})["appraise"]; len(s.Worst) == 0 {
		t.Error("an appraisal points out no turn")
	}
}
