package sheet

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/geojson"
	"tautline/geo/inputerr"
	"tautline/geo/road"
	"tautline/geo/track"
	"tautline/strategy/quantity"
	"tautline/strategy/tomlfile"
)

// atEnd is how far beyond an end of the drawn course, in metres, a place is
// still taken for that end: maps and people round to ten metres.
const atEnd = 10

// closes is the greatest gap in metres between the ends of a drawn lap that is
// still run round and round.
const closes = 100

// Course lays out the drawn line as it is run: once, or Laps times.
func (s *Sheet) Course(name string, drawn []track.Fix) (*course.Course, error) {
	laps := s.LapCount()
	one, err := course.New(name, drawn)
	if err != nil || laps == 1 {
		return one, err
	}
	first, last := one.Points[0], one.Points[len(one.Points)-1]
	if gap := one.Plane.Length(last, first); gap > closes {
		return nil, s.file.Err("laps", fmt.Sprintf("the drawn course does not close: its ends are %.0f m apart", gap),
			"draw one lap from the start line back to the start line, or draw the whole race and leave laps out")
	}
	if len(drawn)*laps > maxFixes {
		return nil, s.file.Err("laps", fmt.Sprintf("%d laps of %d points are more than the limit of %d", laps, len(drawn), maxFixes), "draw the lap with fewer points")
	}
	all := make([]track.Fix, 0, len(drawn)*laps)
	for range laps {
		all = append(all, drawn...)
	}
	return course.New(name, all)
}

// maxFixes is the number of points of a course with all its laps.
const maxFixes = 4_000_000

// lapLength is what a place moves by from one lap to the next, m.
func (s *Sheet) lapLength(c *course.Course) float64 {
	laps := s.LapCount()
	if laps == 1 {
		return c.Length()
	}
	gap := c.Plane.Length(c.Points[len(c.Points)-1], c.Points[0])
	return (c.Length() + gap) / float64(laps)
}

// Resolved is a sheet laid onto its course.
type Resolved struct {
	Spec road.Spec

	sheet *Sheet
	// The items of Spec come from these items of the sheet.
	stretches, gates, turnarounds []int
}

// Resolve lays the sheet onto the course that Course gave: it checks that
// every place lies on the course, repeats what holds on every lap, and reads
// the drawn kerbs. Errors are *inputerr.Error and name the sheet's line and
// column where the sheet says it, for example "town.toml:12:8: stretch 3 ends
// at 11.2 km but the course is 10.02 km long".
func (s *Sheet) Resolve(c *course.Course) (*Resolved, error) {
	l := &layout{
		sheet: s, course: c, check: &tomlfile.Check{File: s.file}, lap: s.lapLength(c), laps: s.LapCount(),
		out: &Resolved{sheet: s, Spec: road.Default()},
	}
	l.road()
	l.ends()
	if l.fits() {
		l.stretches()
		l.gates()
		l.turnarounds()
	}
	if err := l.check.Err(); err != nil {
		return nil, err
	}
	if s.Kerbs != "" {
		kerbs, err := s.drawnKerbs(c)
		if err != nil {
			return nil, err
		}
		l.out.Spec.Kerbs = kerbs
	}
	return l.out, nil
}

// layout lays the items of a sheet onto a course, one kind after the other.
type layout struct {
	sheet  *Sheet
	course *course.Course
	check  *tomlfile.Check
	lap    float64 // what a place moves by from one lap to the next, m
	laps   int
	out    *Resolved
}

// road lays what holds where no stretch says otherwise.
func (l *layout) road() {
	r, spec := l.sheet.Road, &l.out.Spec
	for _, k := range []struct{ from, to *float64 }{
		{r.Width, &spec.Width}, {r.CornerRadius, &spec.CornerRadius},
		{r.Clearance.Kerb, &spec.Clearance.Kerb}, {r.Clearance.Cone, &spec.Clearance.Cone}, {r.Clearance.Line, &spec.Clearance.Line},
	} {
		if k.from != nil {
			*k.to = *k.from
		}
	}
	spec.Part = part(r.Use)
	spec.CourseIsLine = l.sheet.CourseIs == DrawnLine
}

// ends lays the start line and the finish line.
func (l *layout) ends() {
	s, spec := l.sheet, &l.out.Spec
	if s.Start.At != nil {
		spec.StartAt = l.onLap("start.at", "the start line lies", *s.Start.At)
	}
	spec.FinishAt = l.course.Length()
	if s.Finish.At != nil {
		spec.FinishAt = place(l.check, "finish.at", "the finish line lies", *s.Finish.At, l.course.Length(), false)
	}
	if l.check.Err() == nil && spec.FinishAt <= spec.StartAt {
		l.check.Fail("finish.at", fmt.Sprintf("the finish line at %s does not come after the start line at %s", along(spec.FinishAt), along(spec.StartAt)), "places are distances along the drawn course")
	}
}

// fits refuses more items than a course can hold.
func (l *layout) fits() bool {
	const most = 10 * MaxItems
	for _, n := range []int{len(l.sheet.Stretches), len(l.sheet.Gates), len(l.sheet.Turnarounds)} {
		if n*l.laps > most {
			l.check.Fail("laps", "the stretches, gates or turn-arounds of all laps together are too many", fmt.Sprintf("at most %d of each", most))
			return false
		}
	}
	return true
}

// onLap checks a place that is given on one lap.
func (l *layout) onLap(path, what string, at float64) float64 {
	return place(l.check, path, what, at, l.lap, l.laps > 1)
}

// each calls put for every lap that an item holds on, all when only is 0, with
// where a place of the first lap lies on it.
func (l *layout) each(only int, put func(on func(at float64) float64)) {
	for k := range l.laps {
		if only == 0 || only == k+1 {
			put(func(at float64) float64 { return math.Min(at+float64(k)*l.lap, l.course.Length()) })
		}
	}
}

func (l *layout) stretches() {
	for i, p := range l.sheet.Stretches {
		at := keyOf("stretch", i)
		from := l.onLap(at("from"), fmt.Sprintf("stretch %s begins", label(i, p.Name)), p.From)
		to := l.onLap(at("to"), fmt.Sprintf("stretch %s ends", label(i, p.Name)), p.To)
		l.each(p.Lap, func(on func(float64) float64) {
			l.out.Spec.Stretches = append(l.out.Spec.Stretches, road.Stretch{
				From: on(from), To: on(to), Width: tomlfile.Value(p.Width),
				Left: p.LeftKerb, Right: p.RightKerb, Part: part(p.Use), LaneLeft: p.LaneLeft, LaneRight: p.LaneRight,
				CornerRadius: p.CornerRadius, LeftEdge: edgeKind(p.LeftEdge), RightEdge: edgeKind(p.RightEdge),
			})
			l.out.stretches = append(l.out.stretches, i)
		})
	}
}

func (l *layout) gates() {
	for i, g := range l.sheet.Gates {
		at := l.onLap(keyOf("gate", i)("at"), fmt.Sprintf("gate %s stands", label(i, g.Name)), g.At)
		l.each(g.Lap, func(on func(float64) float64) {
			l.out.Spec.Gates = append(l.out.Spec.Gates, road.Gate{At: on(at), From: g.Between[0], To: g.Between[1], Edge: edgeKind(g.Edge)})
			l.out.gates = append(l.out.gates, i)
		})
	}
}

func (l *layout) turnarounds() {
	for i, t := range l.sheet.Turnarounds {
		at := l.onLap(keyOf("turnaround", i)("at"), fmt.Sprintf("turn-around %s lies", label(i, t.Name)), t.At)
		l.each(t.Lap, func(on func(float64) float64) {
			l.out.Spec.Turnarounds = append(l.out.Spec.Turnarounds, road.Turnaround{
				At: on(at), Kind: turnKind(t.Kind), Radius: t.Radius, Clearance: t.Clearance, Clockwise: t.Clockwise,
			})
			l.out.turnarounds = append(l.out.turnarounds, i)
		})
	}
}

// OnTheWay checks that aid stations and marks lie between start and finish of
// a race of a length in metres; what says which length it is. Errors are
// *inputerr.Error and name the sheet's line.
func (s *Sheet) OnTheWay(length float64, what string) error {
	check := &tomlfile.Check{File: s.file}
	beyond := func(path, item string, at float64) {
		if at > length+atEnd {
			check.Fail(path, fmt.Sprintf("%s lies at %s, beyond the finish: %s is %s", item, along(at), what, along(length)), "places of aid stations and marks are official distances from the start line")
		}
	}
	for i, a := range s.Aid {
		beyond(fmt.Sprintf("aid[%d].at", i), "aid station "+label(i, a.Name), a.At)
	}
	for i, m := range s.Marks {
		beyond(fmt.Sprintf("mark[%d].at", i), "mark "+label(i, m.Name), m.At)
	}
	return check.Err()
}

// along prints a place along the course to the metre.
func along(m float64) string { return quantity.Distance(m, quantity.Metric) }

func label(i int, name string) string {
	if name == "" {
		return fmt.Sprint(i + 1)
	}
	return fmt.Sprintf("%d (%q)", i+1, name)
}

// place checks that a place lies on the course and takes one just beyond its
// end for the end.
func place(c *tomlfile.Check, path, what string, at, length float64, lap bool) float64 {
	whole := "the course"
	if lap {
		whole = "a lap"
	}
	if !(at >= 0) || at > length+atEnd {
		c.Fail(path, fmt.Sprintf("%s at %s but %s is %s long", what, along(at), whole, along(length)), "places are distances along the drawn course from its first point")
	}
	return math.Min(at, length)
}

func part(u Use) road.Part {
	return map[Use]road.Part{"": road.AutoPart, WholeRoad: road.Whole, RightHalf: road.RightHalf, LeftHalf: road.LeftHalf, Lane: road.Lane}[u]
}

func edgeKind(e Edge) road.EdgeKind {
	return map[Edge]road.EdgeKind{"": road.AutoEdge, Kerb: road.Kerb, Cone: road.Cone, Line: road.PaintedLine, Free: road.Free}[e]
}

func turnKind(k TurnKind) road.TurnKind {
	return map[TurnKind]road.TurnKind{"": road.AtPoint, AtPoint: road.AtPoint, RoundCone: road.RoundCone, MedianEnd: road.RoundMedian}[k]
}

// keys names the key of the sheet for a field of road.Spec and its parts.
var keys = map[string]string{
	"Width": "width", "CornerRadius": "corner_radius", "Clearance": "clearance", "Part": "use",
	"From": "from", "To": "to", "Left": "left_kerb", "Right": "right_kerb", "LaneLeft": "lane_left", "LaneRight": "lane_right",
	"LeftEdge": "left_edge", "RightEdge": "right_edge", "At": "at", "Edge": "edge", "Kind": "kind", "Radius": "radius", "Clockwise": "turn",
}

// Explain turns an error of package road into one that names the sheet's line
// and column, where the sheet says what is wrong. Other errors pass.
func (r *Resolved) Explain(err error) error {
	var e *road.Error
	if !errors.As(err, &e) {
		return err
	}
	path, what := "", e.What
	numbered := func(list string, from []int, index int) string {
		if index < 0 || index >= len(from) {
			return list
		}
		i := from[index]
		what = fmt.Sprintf("%s %d: %s", e.Item, i+1, e.What)
		key := keys[e.Field]
		if e.Item == road.ItemGate && (e.Field == "From" || e.Field == "To") {
			key = "between"
		}
		return fmt.Sprintf("%s[%d].%s", list, i, key)
	}
	switch e.Item {
	case road.ItemStretch:
		path = numbered("stretch", r.stretches, e.Index)
		if e.Other >= 0 && e.Other < len(r.stretches) {
			what += fmt.Sprintf(" (the other is stretch %d)", r.stretches[e.Other]+1)
		}
	case road.ItemGate:
		path = numbered("gate", r.gates, e.Index)
	case road.ItemTurnaround:
		path = numbered("turnaround", r.turnarounds, e.Index)
	case road.ItemKerb:
		return &inputerr.Error{File: r.sheet.kerbFile(), What: fmt.Sprintf("drawn kerb %d: %s", e.Index+1, e.What), Advice: e.Advice, Cause: err}
	default:
		path = "road." + keys[e.Field]
		if e.Field == "StartAt" || e.Field == "FinishAt" {
			path = map[string]string{"StartAt": "start.at", "FinishAt": "finish.at"}[e.Field]
		}
	}
	// A clearance that does not fit is most often a width that is too small.
	if table, ok := strings.CutSuffix(path, ".clearance"); ok && !r.sheet.file.Has(path) && r.sheet.file.Has(table+".width") {
		path = table + ".width"
	}
	if !r.sheet.file.Has(path) && e.Item == road.ItemSpec {
		// Not in the sheet: it came from a flag or is the default.
		return &inputerr.Error{What: what, Advice: e.Advice, Cause: err}
	}
	return r.sheet.file.Err(path, what, e.Advice)
}

// SetFolder sets the files that Resolve reads drawn kerbs from, for a sheet that
// was not read with Open.
func (s *Sheet) SetFolder(files fs.FS) { s.files = files }

func (s *Sheet) kerbFile() string { return filepath.Join(s.dir, filepath.FromSlash(s.Kerbs)) }

// drawnKerbs reads the file with drawn kerbs. It is opened below the sheet's
// folder in a way that neither ".." nor a link can leave.
func (s *Sheet) drawnKerbs(c *course.Course) ([]road.DrawnKerb, error) {
	fail := func(what, advice string) error { return s.file.Err("kerbs", what, advice) }
	files := s.files
	if files == nil {
		if s.dir == "" {
			return nil, fail("the drawn kerbs cannot be read: this sheet has no folder", "save the sheet beside the file with the kerbs")
		}
		root, err := os.OpenRoot(s.dir)
		if err != nil {
			return nil, fail("the folder of the sheet cannot be opened: "+err.Error(), "")
		}
		defer root.Close()
		files = root.FS()
	}
	f, err := files.Open(s.Kerbs)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fail(fmt.Sprintf("there is no file %q beside the sheet", s.Kerbs), "kerbs are looked for in the folder of the sheet only")
	case err != nil:
		return nil, fail(fmt.Sprintf("the drawn kerbs in %q cannot be read", s.Kerbs), "the file should lie in the folder of the sheet; links out of it are not followed")
	}
	defer f.Close()
	drawn, err := geojson.ReadKerbs(s.kerbFile(), f)
	if err != nil {
		return nil, err
	}
	if len(drawn.Kerbs) == 0 {
		return nil, &inputerr.Error{File: s.kerbFile(), What: "the file holds no line", Advice: "draw each kerb as a LineString"}
	}
	var kerbs []road.DrawnKerb
	for _, k := range drawn.Kerbs {
		d := road.DrawnKerb{Left: k.Side == geojson.Left, Edge: map[string]road.EdgeKind{geojson.KindCone: road.Cone, geojson.KindLine: road.PaintedLine}[k.Kind]}
		if turned := (earth.LatLon{Lat: k.Points[0].Lon, Lon: k.Points[0].Lat}); nearCourse(c, turned) && !nearCourse(c, k.Points[0]) {
			return nil, &inputerr.Error{File: s.kerbFile(), Line: k.Line, What: "the coordinates of this kerb are in the wrong order: changed round they lie on the course",
				Advice: "GeoJSON gives longitude, then latitude"}
		}
		for _, p := range k.Points {
			d.Line = append(d.Line, c.Plane.To(p))
		}
		if d.Edge == road.AutoEdge {
			d.Edge = road.Kerb
		}
		if k.Side == "" {
			left, ok := sideOf(c, d.Line)
			if !ok {
				return nil, &inputerr.Error{File: s.kerbFile(), Line: k.Line, What: "the side of this kerb cannot be told: it crosses the drawn course or lies on it",
					Advice: `give it the property "side": "left" or "right"`}
			}
			d.Left = left
		}
		kerbs = append(kerbs, d)
	}
	return kerbs, nil
}

// nearCourse tells whether a position lies in the region of a course, within
// as much again as the course is long.
func nearCourse(c *course.Course, p earth.LatLon) bool {
	return math.Abs(p.Lat) <= 90 && earth.Distance(p, c.Plane.From(c.Points[0])) < 2*c.Length()
}

// sideOf tells on which side of the course a drawn kerb lies, by the legs
// nearest to a few of its points; they must agree.
func sideOf(c *course.Course, line orb.LineString) (left, ok bool) {
	const probes = 9
	var lefts, rights int
	for k := range min(probes, len(line)) {
		p := line[k*(len(line)-1)/max(1, min(probes, len(line))-1)]
		best, cross := math.Inf(1), 0.0
		for i := 1; i < len(c.Points); i++ {
			a, b := c.Points[i-1], c.Points[i]
			dx, dy := b[0]-a[0], b[1]-a[1]
			t := ((p[0]-a[0])*dx + (p[1]-a[1])*dy) / (dx*dx + dy*dy)
			t = math.Max(0, math.Min(1, t))
			if d := math.Hypot(p[0]-a[0]-t*dx, p[1]-a[1]-t*dy); d < best {
				best, cross = d, dx*(p[1]-a[1])-dy*(p[0]-a[0])
			}
		}
		switch {
		case cross > 0:
			lefts++
		case cross < 0:
			rights++
		}
	}
	return lefts > 0, (lefts == 0) != (rights == 0)
}
