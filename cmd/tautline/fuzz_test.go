package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
	"unicode/utf8"

	"tautline/geo/earth"
	"tautline/geo/gpxfile"
	"tautline/geo/inputerr"
	"tautline/geo/simulate"
	"tautline/geo/track"
	"tautline/report/band"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/demo"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/review"
	"tautline/strategy/sheet"
)

// The targets here take good files and spoil them: the fuzzer's bytes are not a
// file but a list of what is done to one, so that what comes out is mostly
// still read and reaches the arithmetic.

// How much a spoilt file may hold: enough for every kind of trouble, little
// enough for some executions a second.
const (
	mostPoints = 120
	mostFixes  = 500
	mostEdits  = 12
	// patience is how long one input may take before it counts as hanging. The
	// work takes milliseconds; the machine may be busy.
	patience = 60 * time.Second
)

// scene is a course with a record of it and what its sheet says.
type scene struct {
	course, record []track.Fix
	sheet          map[string]string // by table and key, values as TOML
}

// scenes are the good files. They are made once.
var scenes = sync.OnceValue(func() []scene {
	out := []scene{demoScene()}
	for i, kind := range simulate.Kinds() {
		out = append(out, simulatedScene(kind, uint64(i)+1))
	}
	// A straight street without times or heights.
	p := earth.NewPlane(earth.LatLon{Lat: 12, Lon: -31})
	straight := scene{sheet: map[string]string{}}
	for x := 0.0; x <= 900; x += 10 {
		at := track.Fix{At: p.From([2]float64{x, 0}), Height: math.NaN()}
		if math.Mod(x, 300) == 0 {
			straight.course = append(straight.course, at)
		}
		straight.record = append(straight.record, track.Fix{At: p.From([2]float64{x, 1 + math.Mod(x, 7)}), Height: math.NaN()})
	}
	return append(out, straight)
})

// demoScene is the beginning of the demo's race.
func demoScene() scene {
	read := func(name string) *gpxfile.File {
		data, err := fs.ReadFile(demo.Files(), name)
		if err != nil {
			panic(err)
		}
		f, err := gpxfile.Read(name, bytes.NewReader(data))
		if err != nil {
			panic(err)
		}
		return f
	}
	s := scene{sheet: map[string]string{"road.width": "8", "stretch.from": "0", "stretch.to": "420", "stretch.width": "12"}}
	drawn, _ := read(demo.CourseFile).Longest()
	s.course = drawn.Fixes()[:35]
	line, _, err := read("careful.gpx").Record()
	if err != nil {
		panic(err)
	}
	for i, f := range line.Fixes() {
		if i%2 == 0 && len(s.record) < 200 {
			s.record = append(s.record, f)
		}
	}
	return s
}

// simulatedScene is a short race on a random course.
func simulatedScene(kind simulate.Kind, seed uint64) scene {
	rng := simulate.Rand(seed, 29)
	for {
		c := simulate.RandomCourse(kind, 800, rng)
		file := &gpxfile.File{Lines: []track.Line{{Segments: [][]track.Fix{c.Fixes()}}}}
		r, err := race.Prepare("course", file, &sheet.Sheet{})
		if err != nil {
			continue
		}
		runner := simulate.Runner{
			ApexMiss: 2, ApexSpread: 0.5, WeaveSD: 0.3, WeaveLength: 30, DriftSD: 1, DriftLength: 200, Speed: 3.3,
			LeadIn: simulate.Walk{Distance: 12, Wait: 8, Speed: 2}, RunOut: simulate.Walk{Distance: 15, Wait: 5, Speed: 2},
		}
		truth, err := runner.Run(simulate.Along(r.Road, r.Line), rng)
		if err != nil {
			continue
		}
		o := simulate.Options{Plane: r.Course.Plane, Decimals: 7, Every: 1 + int(seed)%3, Began: time.Date(2031, 5, 4, 9, 0, 0, 0, time.UTC)}
		return scene{c.Fixes(), simulate.TreeLined().Record(truth, o, rng).Fixes, map[string]string{
			"official": strconv.Itoa(int(r.Line.Length)), "road.width": fmt.Sprint(c.Width), "road.corner_radius": fmt.Sprint(c.CornerRadius),
		}}
	}
}

// tape is a list of edits; past its end it reads as zeros.
type tape struct{ b []byte }

func (t *tape) next() int {
	if len(t.b) == 0 {
		return 0
	}
	v := t.b[0]
	t.b = t.b[1:]
	return int(v)
}

// share is a number from 0 to 1.
func (t *tape) share() float64 { return float64(t.next()) / 255 }

// amount is a number of either sign and of any size that matters.
func (t *tape) amount() float64 {
	sizes := [...]float64{0, 1e-9, 1e-4, 0.1, 1, 5, 20, 60, 200, 1000, 2e4, 5e5, 5e6}
	v := t.next()
	a := sizes[v%len(sizes)] * (0.25 + t.share())
	if v >= 128 {
		return -a
	}
	return a
}

// span gives a range of a list, from < to unless the list is empty.
func (t *tape) span(n int) (from, to int) {
	a, b := int(t.share()*float64(n-1)), int(t.share()*float64(n-1))
	return max(0, min(a, b)), min(n, max(a, b)+1)
}

// moved is a place moved east and north by metres, wherever that leads.
func moved(p earth.LatLon, east, north float64) earth.LatLon {
	lat := p.Lat + north/111e3
	lon := p.Lon + east/(111e3*math.Max(math.Cos(p.Lat*math.Pi/180), 1e-3))
	return earth.LatLon{Lat: lat, Lon: math.Remainder(lon, 360)}
}

// spoilt is a line after all edits, cut into segments where cuts says so.
type spoilt struct {
	fixes []track.Fix
	cuts  map[int]bool
	route bool
	bare  bool // nothing but waypoints
}

// spoil carries out edits on a line. other is a line to splice in.
func spoil(line, other []track.Fix, edits []byte, most int) spoilt {
	s := spoilt{fixes: append([]track.Fix(nil), line...), cuts: map[int]bool{}}
	t := &tape{edits}
	for n := 0; len(t.b) > 0 && n < mostEdits && len(s.fixes) > 0; n++ {
		s.edit(t, other)
		if len(s.fixes) > most {
			s.fixes = s.fixes[:most]
		}
	}
	return s
}

func (s *spoilt) edit(t *tape, other []track.Fix) {
	op := t.next() % 27
	from, to := t.span(len(s.fixes))
	part := append([]track.Fix(nil), s.fixes[from:to]...)
	insert := func(at int, more []track.Fix) {
		s.fixes = append(append(append([]track.Fix(nil), s.fixes[:at]...), more...), s.fixes[at:]...)
	}
	each := func(change func(i int, f *track.Fix)) {
		for i := range s.fixes[from:to] {
			change(i, &s.fixes[from+i])
		}
	}
	later := func(f *track.Fix, seconds float64) {
		if f.HasTime() {
			f.Time = f.Time.Add(time.Duration(math.Max(-9e18, math.Min(seconds*1e9, 9e18))))
		}
	}
	turned := func(part []track.Fix) []track.Fix {
		out := make([]track.Fix, len(part))
		for i := range part {
			out[i] = part[len(part)-1-i]
		}
		return out
	}
	switch op {
	case 0: // dropped
		s.fixes = append(s.fixes[:from:from], s.fixes[to:]...)
	case 1: // twice over
		insert(to, part)
	case 2: // first and last of a range change places
		s.fixes[from], s.fixes[to-1] = s.fixes[to-1], s.fixes[from]
	case 3: // the other way round
		copy(s.fixes[from:to], turned(part))
	case 4: // elsewhere
		east, north := t.amount(), t.amount()
		each(func(_ int, f *track.Fix) { f.At = moved(f.At, east, north) })
	case 5: // at another time
		by := t.amount()
		each(func(_ int, f *track.Fix) { later(f, by) })
	case 6: // standing
		each(func(_ int, f *track.Fix) { f.At = part[0].At })
	case 7: // all at the same moment
		each(func(_ int, f *track.Fix) { f.Time = part[0].Time })
	case 8:
		each(func(_ int, f *track.Fix) { f.Time = time.Time{} })
	case 9:
		each(func(_ int, f *track.Fix) { f.Height = math.NaN() })
	case 10: // a single fix thrown
		s.fixes[from].At = moved(s.fixes[from].At, t.amount(), t.amount())
	case 11: // another line in the midst
		insert(from, other[:min(len(other), 1+t.next())])
	case 12: // larger or smaller
		by := [...]float64{1e-6, 0.01, 0.5, 0.9, 1.01, 1.1, 2, 5, 20, -1}[t.next()%10]
		each(func(_ int, f *track.Fix) {
			f.At = earth.LatLon{Lat: part[0].At.Lat + by*(f.At.Lat-part[0].At.Lat), Lon: part[0].At.Lon + by*(f.At.Lon-part[0].At.Lon)}
		})
	case 13: // laps
		for range 1 + t.next()%3 {
			insert(to, part)
		}
	case 14: // at another rate
		began, step := time.Date(2031, 5, 4, 9, 0, 0, 0, time.UTC), t.amount()
		if part[0].HasTime() {
			began = part[0].Time
		}
		each(func(i int, f *track.Fix) { f.Time = began; later(f, step*float64(i)) })
	case 15: // other heights
		by, slope := t.amount(), t.amount()
		each(func(i int, f *track.Fix) {
			if !f.HasHeight() {
				f.Height = 50
			}
			f.Height += by + slope*float64(i)
		})
	case 16:
		s.cuts[from] = true
	case 17: // across the antimeridian
		by := 180 - s.fixes[(from+to)/2].At.Lon
		for i := range s.fixes {
			s.fixes[i].At.Lon = math.Remainder(s.fixes[i].At.Lon+by, 360)
		}
	case 18: // to a pole
		by := 89.9995 - s.fixes[(from+to)/2].At.Lat
		for i := range s.fixes {
			s.fixes[i].At.Lat = math.Min(s.fixes[i].At.Lat+by, 90)
		}
	case 19: // there and back
		insert(to, turned(part))
	case 20: // fewer
		every := 2 + t.next()%20
		var few []track.Fix
		for i, f := range s.fixes {
			if i < from || i >= to || i%every == 0 {
				few = append(few, f)
			}
		}
		s.fixes = few
	case 21: // closer together
		var many []track.Fix
		for i, f := range part {
			if many = append(many, f); i+1 < len(part) {
				g := part[i+1]
				f.At = earth.LatLon{Lat: (f.At.Lat + g.At.Lat) / 2, Lon: (f.At.Lon + g.At.Lon) / 2}
				if f.HasTime() && g.HasTime() {
					f.Time = f.Time.Add(g.Time.Sub(f.Time) / 2)
				}
				many = append(many, f)
			}
		}
		s.fixes = append(append(append([]track.Fix(nil), s.fixes[:from]...), many...), s.fixes[to:]...)
	case 22: // scattered
		by := t.amount()
		each(func(i int, f *track.Fix) {
			a := float64(i) * 2.39996 // the golden angle: no direction comes twice
			f.At = moved(f.At, by*math.Cos(a), by*math.Sin(a))
		})
	case 23: // no length at all
		for i := range s.fixes {
			s.fixes[i].At = s.fixes[0].At
		}
	case 24: // put on another line
		if len(other) > 1 {
			each(func(i int, f *track.Fix) {
				x := float64(i) / float64(len(part)) * float64(len(other)-1)
				a, b := other[int(x)], other[int(x)+1]
				x -= math.Floor(x)
				f.At = earth.LatLon{Lat: a.At.Lat + x*(b.At.Lat-a.At.Lat), Lon: a.At.Lon + x*(b.At.Lon-a.At.Lon)}
			})
		}
	case 25:
		s.route = true
	case 26:
		s.bare = t.next() == 7
	}
}

// evil is a name that must never reach a page or a terminal as it is.
const evil = "<b onx=1>\"' onx=\"</script><script>evil()//\x1b[31m\u202e"

// What would be seen of it in a page, and anywhere, that lets it through.
var (
	inPages  = []string{"<b onx", "\" onx=", "<script>evil"}
	anywhere = []string{"\x1b", "\u202e"}
)

// gpx writes a line as GPX, whatever its values.
func (s spoilt) gpx() []byte {
	var b bytes.Buffer
	b.WriteString(`<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><metadata><name>`)
	xml.EscapeText(&b, []byte(evil))
	b.WriteString("</name></metadata>")
	point := func(tag string, f track.Fix) {
		fmt.Fprintf(&b, `<%s lat="%s" lon="%s">`, tag, strconv.FormatFloat(f.At.Lat, 'f', -1, 64), strconv.FormatFloat(f.At.Lon, 'f', -1, 64))
		if f.HasHeight() {
			fmt.Fprintf(&b, "<ele>%g</ele>", f.Height)
		}
		if f.HasTime() {
			b.WriteString("<time>" + f.Time.UTC().Format(time.RFC3339Nano) + "</time>")
		}
		b.WriteString("</" + tag + ">\n")
	}
	name := func() {
		b.WriteString("<name>")
		xml.EscapeText(&b, []byte(evil))
		b.WriteString("</name>")
	}
	switch {
	case s.bare:
		for _, f := range s.fixes {
			point("wpt", f)
		}
	case s.route:
		b.WriteString("<rte>")
		name()
		for _, f := range s.fixes {
			point("rtept", f)
		}
		b.WriteString("</rte>")
	default:
		b.WriteString("<trk>")
		name()
		b.WriteString("<trkseg>")
		for i, f := range s.fixes {
			if i > 0 && s.cuts[i] {
				b.WriteString("</trkseg><trkseg>")
			}
			point("trkpt", f)
		}
		b.WriteString("</trkseg></trk>")
	}
	b.WriteString("</gpx>")
	return b.Bytes()
}

// spoilSheet gives a scene's race sheet after edits, as TOML. Places along the
// course are shares of its length.
func spoilSheet(s scene, edits []byte) []byte {
	values := map[string]string{}
	for k, v := range s.sheet {
		values[k] = v
	}
	var length float64
	for i := 1; i < len(s.course); i++ {
		length += earth.Distance(s.course[i-1].At, s.course[i].At)
	}
	t := &tape{edits}
	place := func() string { return fmt.Sprint(math.Round(1.1 * length * t.share())) }
	number := func(most float64) string { return fmt.Sprint(most * t.share()) }
	word := func(words ...string) string { return `"` + words[t.next()%len(words)] + `"` }
	for n := 0; len(t.b) > 0 && n < mostEdits; n++ {
		switch t.next() % 24 {
		case 0:
			values["official"] = fmt.Sprint(length * (0.3 + 1.4*t.share()))
		case 1:
			values["certified"] = "true"
		case 2:
			values["course_is"] = word("road", "line")
		case 3:
			values["laps"] = fmt.Sprint(1 + t.next()%4)
		case 4:
			values["start.at"] = place()
		case 5:
			values["finish.at"] = place()
		case 6:
			values["road.width"] = number(40)
		case 7:
			values["road.width"] = number(2)
		case 8:
			values["road.corner_radius"] = number(30)
		case 9:
			values["road.use"] = word("whole road", "right half", "left half")
		case 10:
			values["road.clearance"] = number(2)
		case 11:
			values["stretch.from"], values["stretch.to"] = place(), place()
		case 12:
			values["stretch.width"] = number(30)
		case 13:
			values["stretch.corner_radius"] = number(30)
		case 14:
			values["stretch.use"] = word("whole road", "right half", "left half", "lane")
		case 15:
			values["stretch.left_kerb"], values["stretch.right_kerb"] = fmt.Sprintf(`"%s m left"`, number(10)), fmt.Sprintf(`"%s m right"`, number(10))
		case 16:
			values["stretch.lane_left"] = word("middle", "2 m left", "1 m right", "4 m right")
		case 17:
			values["stretch.lane_right"] = word("middle", "2 m right", "1 m left", "4 m left")
		case 18:
			values["stretch.left_edge"], values["stretch.right_edge"] = word("kerb", "cone", "line", "free"), word("kerb", "cone", "line", "free")
		case 19:
			values["gate.at"], values["gate.between"] = place(), fmt.Sprintf(`["%s m left", "%s m right"]`, number(5), number(5))
		case 20:
			values["turnaround.at"], values["turnaround.kind"] = place(), word("point", "cone", "median end")
			values["turnaround.turn"] = word("left", "right")
		case 21:
			values["turnaround.at"], values["turnaround.radius"] = place(), number(10)
			values["turnaround.kind"] = word("cone", "median end")
		case 22:
			values["aid.at"], values["aid.stop"] = place(), number(90)
		case 23:
			values["mark.at"], values["mark.name"] = place(), word("half way", "bridge")
		}
	}
	var b strings.Builder
	write := func(table, head string, keys ...string) {
		for _, k := range keys {
			if v, ok := values[table+k]; ok {
				if head != "" {
					b.WriteString(head + "\n")
					head = ""
				}
				b.WriteString(k + " = " + v + "\n")
			}
		}
	}
	write("", "", "official", "certified", "course_is", "laps")
	write("start.", "[start]", "at")
	write("finish.", "[finish]", "at")
	write("road.", "[road]", "width", "corner_radius", "use", "clearance")
	write("stretch.", "[[stretch]]", "from", "to", "width", "corner_radius", "use", "left_kerb", "right_kerb", "lane_left", "lane_right", "left_edge", "right_edge")
	write("gate.", "[[gate]]", "at", "between")
	write("turnaround.", "[[turnaround]]", "at", "kind", "radius", "turn")
	write("aid.", "[[aid]]", "at", "stop")
	write("mark.", "[[mark]]", "at", "name")
	return []byte(b.String())
}

// refused tells whether there was an error, which must be one that helps.
func refused(t *testing.T, err error) bool {
	t.Helper()
	if err == nil {
		return false
	}
	var in *inputerr.Error
	if !errors.As(err, &in) || in.What == "" {
		t.Fatalf("an error that does not help: %#v, %v", err, err)
	}
	if strings.Contains(err.Error(), "NaN") {
		t.Fatalf("an error that speaks of no number: %v", err)
	}
	return true
}

// laidOut reads the course and the sheet of a scene and lays out its race.
func laidOut(t *testing.T, s scene, course, road []byte) *race.Race {
	t.Helper()
	toml := spoilSheet(s, road)
	sh, err := sheet.Read("race.toml", toml)
	if refused(t, err) {
		return nil
	}
	f, err := gpxfile.Read("course.gpx", bytes.NewReader(spoil(s.course, s.record, course, mostPoints).gpx()))
	if refused(t, err) {
		return nil
	}
	r, err := race.Prepare("course.gpx", f, sh)
	if refused(t, err) {
		return nil
	}
	if l := r.Line.Length; !(l > 0) || math.IsInf(l, 0) {
		t.Fatalf("the shortest line is %v m", l)
	}
	at := math.Inf(-1)
	for i, turn := range r.Line.Turns {
		if turn.Number != i+1 || !(turn.At >= at) || !(turn.From <= turn.At && turn.At <= turn.To) || turn.To > r.Line.Length+1e-6 {
			t.Fatalf("turn %d of a line of %v m is number %d from %v by %v to %v, after one at %v", i+1, r.Line.Length, turn.Number, turn.From, turn.At, turn.To, at)
		}
		at = turn.At
	}
	return r
}

// watched makes an input that hangs fail, with what it was doing.
func watched(t *testing.T) {
	stop := time.AfterFunc(patience, func() { panic("an input hangs") })
	t.Cleanup(func() { stop.Stop() })
}

// encoded gives v as JSON, which has no NaN and no infinity, after a look at
// every interval in it.
func encoded(t *testing.T, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatalf("cannot be encoded: %v", err)
	}
	var any any
	if err := json.Unmarshal(b, &any); err != nil {
		t.Fatal(err)
	}
	ordered(t, "", any)
	return b
}

// ordered looks through a decoded document for intervals that do not hold
// their value.
func ordered(t *testing.T, path string, v any) {
	t.Helper()
	switch v := v.(type) {
	case map[string]any:
		value, ok1 := v["value"].(float64)
		low, ok2 := v["low"].(float64)
		high, ok3 := v["high"].(float64)
		if ok1 && ok2 && ok3 && !(low <= value && value <= high) {
			t.Fatalf("%s: %v is not within %v to %v", path, value, low, high)
		}
		for k, x := range v {
			ordered(t, path+"."+k, x)
		}
	case []any:
		for i, x := range v {
			ordered(t, fmt.Sprintf("%s[%d]", path, i), x)
		}
	}
}

var code = regexp.MustCompile(`(?s)<script>.*?</script>`)

// harmless checks what is shown to people; evils is what must not be in it.
func harmless(t *testing.T, shown []byte, evils []string) {
	t.Helper()
	if !utf8.Valid(shown) {
		t.Fatal("not UTF-8")
	}
	for _, e := range append(evils, anywhere...) {
		if bytes.Contains(shown, []byte(e)) {
			t.Fatalf("%q is shown as it is", e)
		}
	}
	shown = code.ReplaceAll(shown, nil) // which may well speak of infinity
	for _, no := range []string{"NaN", "+Inf", "-Inf"} {
		if i := bytes.Index(shown, []byte(no)); i >= 0 {
			t.Fatalf("no number is shown: …%s…", shown[max(0, i-120):min(len(shown), i+40)])
		}
	}
}

// drawn checks a page.
func drawn(t *testing.T, s *page.Sheet, err error) {
	t.Helper()
	if refused(t, err) {
		return
	}
	b, err := s.HTML()
	if err != nil {
		t.Fatal(err)
	}
	harmless(t, b, inPages)
}

// FuzzReview spoils a course, its race sheet and a record of it and reviews
// what is left: an error that helps, or an account that holds together.
func FuzzReview(f *testing.F) {
	for i := range scenes() {
		f.Add(byte(i), []byte{}, []byte{}, []byte{})
	}
	for op := range byte(27) { // every edit once, of the record and of the course
		f.Add(op%8, []byte{}, []byte{}, []byte{op, 60, 190, 7, 128, 137, 90})
		f.Add(op%7, []byte{op, 60, 190, 7, 128, 137, 90}, []byte{}, []byte{})
	}
	for op := range byte(24) {
		f.Add(op%8, []byte{}, []byte{op, 100, 160, 1}, []byte{})
	}
	f.Add(byte(1), []byte{}, []byte{}, []byte{14, 0, 255, 1, 255})                  // fixes a nanosecond apart
	f.Add(byte(1), []byte{}, []byte{}, []byte{14, 0, 255, 11, 200})                 // fixes six days apart
	f.Add(byte(2), []byte{17, 0, 255}, []byte{}, []byte{17, 0, 255})                // both across the antimeridian
	f.Add(byte(2), []byte{18, 0, 255}, []byte{}, []byte{18, 0, 255})                // both at a pole
	f.Add(byte(3), []byte{19, 0, 255}, []byte{3, 2}, []byte{13, 0, 255, 2, 14, 0})  // laps, times deleted by chance
	f.Add(byte(4), []byte{12, 0, 255, 8}, []byte{}, []byte{12, 0, 255, 8, 14, 0})   // twenty times as large
	f.Add(byte(0x80), []byte{23}, []byte{1, 0, 100}, []byte{6, 0, 255, 7, 50, 200}) // nobody moves
	f.Fuzz(spoiltReview)
}

// spoiltReview reviews a spoilt race.
func spoiltReview(t *testing.T, which byte, course, road, run []byte) {
	watched(t)
	s := scenes()[int(which&0x7f)%len(scenes())]
	miles := which >= 0x80
	r := laidOut(t, s, course, road)
	if r == nil {
		return
	}
	file, err := gpxfile.Read("record.gpx", bytes.NewReader(spoil(s.record, s.course, run, mostFixes).gpx()))
	if refused(t, err) {
		return
	}
	o := review.Options{Doubt: review.UsualDoubt(r.Sheet.Road.Width != nil, r.Sheet.Road.CornerRadius != nil)}
	units := quantity.Metric
	if miles {
		units, o.Mark, o.Watch = quantity.Imperial, quantity.Mile, 1.02*r.Line.Length
	}
	v, rec, err := review.OfFile(r, "record.gpx", file, o)
	if refused(t, err) {
		return
	}
	soundReview(t, r, v)
	options := reviewOptions{}
	spent, err := options.spent(r, v)
	if refused(t, err) {
		return
	}
	d := spent.on(document.NewReview(r, rec.Name, v))
	encoded(t, d)
	var sum float64
	for _, item := range d.Ledger {
		sum += item.Metres.Value
	}
	if gap := d.WatchM - d.OfficialM - sum; math.Abs(gap) > 1e-3 {
		t.Fatalf("the document's ledger is open by %v m", gap)
	}
	screen := text.Screen{Width: 80, Units: units}
	var out bytes.Buffer
	out.Write(text.Review(screen, d, spent.Judgement))
	harmless(t, out.Bytes(), nil)
	sheet, err := page.Review(r, d, page.RunOf(r, v, rec, spent.Ran), page.Options{Units: units, Date: "2031-05-04", Source: evil, Ground: spent.ground})
	drawn(t, sheet, err)
}

// accounts counts the spoilt races that were not refused.
var accounts atomic.Int64

// soundReview checks what must hold of every account.
func soundReview(t *testing.T, r *race.Race, v *review.Review) {
	t.Helper()
	accounts.Add(1)
	var sum float64
	for _, item := range v.Ledger {
		sum += item.Metres.Value
	}
	if gap := v.Watch - v.Start - sum; !(math.Abs(gap) < 1e-3) {
		t.Fatalf("from %v m to %v m the ledger is open by %v m", v.Start, v.Watch, gap)
	}
	if !(v.Share >= 0 && v.Share <= 1) {
		t.Fatalf("a share of %v", v.Share)
	}
	if !(v.Ran.Value >= 0) {
		t.Fatalf("ran %v m", v.Ran)
	}
	if gap := v.Ran.Value - v.Extra.Value - v.Shortest; math.Abs(gap) > 1e-6*v.Shortest {
		t.Fatalf("ran %v, extra %v, shortest %v", v.Ran, v.Extra, v.Shortest)
	}
	if v.Seconds < 0 {
		t.Fatalf("run in %v s", v.Seconds)
	}
	if len(v.Turns) != len(r.Line.Turns) {
		t.Fatalf("%d turns of %d", len(v.Turns), len(r.Line.Turns))
	}
	// The path is laid on the line anew, which may put a place this far from
	const anew = 40 // m
	// where the fixes were matched.
	low, high := math.Inf(1), math.Inf(-1)
	for _, at := range review.Along(r, v.Match) {
		if !math.IsNaN(at) {
			low, high = min(low, at), max(high, at)
		}
	}
	first, last := v.Clock.Ends()
	from, to := v.Clock.At(first), v.Clock.At(last)
	for _, p := range v.Path {
		if !(p.Along >= low-anew && p.Along <= high+anew) {
			t.Fatalf("the path is at %v m of a line of %v m, the fixes from %v to %v", p.Along, v.Shortest, low, high)
		}
		if !(p.Off.Low <= p.Off.Value && p.Off.Value <= p.Off.High) {
			t.Fatalf("at %v m off the line by %v", p.Along, p.Off)
		}
		if at := v.Clock.At(p.Along); at < from || at > to {
			t.Fatalf("at %v m after %v s of a clock from %v to %v", p.Along, at, from, to)
		}
	}
	before := 0.0
	for _, m := range v.Marks {
		if !(m.At > before) || math.IsNaN(m.Ahead) || math.IsInf(m.Ahead, 0) {
			t.Fatalf("a mark at %v m after one at %v, ahead %v", m.At, before, m.Ahead)
		}
		before = m.At
	}
}

// FuzzLineAndPlan spoils a course and its race sheet and plans a race on what
// is left: an error that helps, or a line that can be drawn and splits that add
// up to the goal.
func FuzzLineAndPlan(f *testing.F) {
	for i := range scenes() {
		f.Add(byte(i), []byte{}, []byte{}, uint32(300))
	}
	for op := range byte(27) {
		f.Add(op%8, []byte{op, 60, 190, 7, 128, 137, 90}, []byte{}, uint32(240+op))
	}
	for op := range byte(24) {
		f.Add(op%8, []byte{}, []byte{op, 100, 160, 1}, uint32(200))
	}
	f.Add(byte(1), []byte{17, 0, 255}, []byte{0, 9, 1}, uint32(500))
	f.Add(byte(1), []byte{18, 0, 255}, []byte{}, uint32(500))
	f.Add(byte(5), []byte{15, 0, 255, 7, 1, 5, 9}, []byte{22, 90, 9}, uint32(500)) // heights that climb
	f.Fuzz(spoiltPlan)
}

// spoiltPlan draws and plans a spoilt race.
func spoiltPlan(t *testing.T, which byte, course, road []byte, goal uint32) {
	watched(t)
	s := scenes()[int(which&0x7f)%len(scenes())]
	r := laidOut(t, s, course, road)
	if r == nil {
		return
	}
	units := quantity.Metric
	step, unit, name := quantity.Kilometre/4, quantity.Kilometre, "km"
	if which >= 0x80 {
		units, step, unit, name = quantity.Imperial, quantity.Mile/4, quantity.Mile, "mi"
	}
	screen := text.Screen{Width: 60, Units: units}
	doubts := r.Doubts()
	encoded(t, document.NewLine(r, doubts))
	harmless(t, text.ShortestLine(screen, r, doubts), nil)
	asGPX, err := document.LineGPX(r)
	if !refused(t, err) {
		if _, err := gpxfile.Read("line.gpx", bytes.NewReader(asGPX)); err != nil {
			t.Fatalf("the line cannot be read again: %v", err)
		}
	}
	if asGeoJSON, err := document.LineGeoJSON(r); !refused(t, err) && !json.Valid(asGeoJSON) {
		t.Fatal("the line as GeoJSON is no JSON")
	}
	ground, err := groundOf(r, "")
	if refused(t, err) {
		return
	}
	look := page.Options{Units: units, Date: "2031-05-04", Source: evil, Ground: ground}
	line, err := page.Line(r, doubts, look)
	drawn(t, line, err)

	route, _ := plan.FromRace(r, ground)
	c, err := plan.NewCourse(route)
	if refused(t, err) {
		return
	}
	marks, err := plan.Every(step, unit, name, c.Official)
	if refused(t, err) {
		return
	}
	made, err := plan.Make(c, marks, plan.Settings{Name: evil, Model: effort.Default(), Goal: float64(goal), Stops: plan.SheetStops(r.Sheet)})
	if refused(t, err) {
		return
	}
	var sum float64
	for i, split := range made.Splits {
		sum += split.Split
		if !(split.Split >= 0) || !(split.To > split.From) || math.Abs(split.Elapsed-sum) > 0.051 {
			t.Fatalf("split %d from %v to %v m takes %v s; %v s have passed, %v are shown", i, split.From, split.To, split.Split, sum, split.Elapsed)
		}
	}
	if n := len(made.Splits); n == 0 || made.Splits[n-1].Elapsed != made.Target || math.Abs(sum-made.Target) > 1e-6*made.Target {
		t.Fatalf("%d splits of %v s make a target of %v s", n, sum, made.Target)
	}
	if math.Abs(made.Target-float64(goal)) > 0.051 {
		t.Fatalf("a goal of %d s became one of %v s", goal, made.Target)
	}
	encoded(t, document.NewPlan(made))
	harmless(t, []byte(strings.Join(band.Text(made, screen), "\n")), nil)
	harmless(t, band.SVG(made, band.Options{Units: units, Course: c}), inPages)
	planned, err := page.Plan(r, c, made, look)
	drawn(t, planned, err)
}

var (
	spoilCases = flag.Int("spoil", 25, "spoilt races to try in each test of them")
	spoilSeed  = flag.Uint64("spoil-seed", 1, "seed of the first of them")
)

// The same with edits by chance: without the fuzzer's bookkeeping many more can
// be tried in the same time.
func TestSpoiltRacesHoldTogether(t *testing.T) {
	before := accounts.Load()
	for k := range *spoilCases {
		seed := *spoilSeed + uint64(k)
		rng := simulate.Rand(seed, 31)
		bytes := func(most int) []byte {
			b := make([]byte, rng.IntN(most+1))
			for i := range b {
				b[i] = byte(rng.Uint32())
			}
			return b
		}
		which, course, road, run, goal := byte(rng.Uint32()), []byte{}, []byte{}, []byte{}, 60+rng.Uint32N(4000)
		// Most races are spoilt in one place.
		switch rng.IntN(4) {
		case 0:
			run = bytes(14)
		case 1:
			course, run = bytes(7), bytes(7)
		case 2:
			road, run = bytes(7), bytes(14)
		case 3:
			course, road, run = bytes(14), bytes(7), bytes(30)
		}
		name := fmt.Sprintf("seed %d", seed)
		began := time.Now()
		if !t.Run(name+" reviewed", func(t *testing.T) { spoiltReview(t, which, course, road, run) }) ||
			!t.Run(name+" planned", func(t *testing.T) { spoiltPlan(t, which, course, road, goal) }) {
			t.Fatalf("with -spoil-seed %d: %#v, %#v, %#v, %#v, %d", seed, which, course, road, run, goal)
		}
		if took := time.Since(began); took > 2*time.Second {
			t.Logf("%s took %v: %#v, %#v, %#v, %#v, %d", name, took, which, course, road, run, goal)
		}
	}
	n := accounts.Load() - before
	t.Logf("%d of %d spoilt races gave an account, from seed %d on", n, *spoilCases, *spoilSeed)
	if *spoilCases >= 20 && n < int64(*spoilCases)/3 {
		t.Errorf("only %d of %d spoilt races were reviewed at all: the edits spoil too much", n, *spoilCases)
	}
}
