// Package marks places distance marks along the shortest legal line: every
// kilometre, every mile, every five kilometres and wherever else one is
// wanted, with coordinates, the way from the nearest turn, and the side of
// the road, so that a mark can be found again with a tape.
//
// The line comes from a map and the official distance from a measurement; they
// never agree exactly. Marks are placed at the same share of the map line as
// of the official distance, or in the same way between places whose measured
// distance is known. The proportion is stated, and every place carries an
// interval. Marks found so are tentative: the measuring ride places them.
package marks

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"tautline/geo/earth"
	"tautline/geo/interval"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/strategy/quantity"
)

// Caution belongs beside every list of marks.
const Caution = "These places come from a map. Use them to find the stretch of road; the measuring ride says where the mark goes."

// MaxMarks is how many marks one list may have.
const MaxMarks = 5000

// Want is a mark to be placed.
type Want struct {
	Name     string
	Official float64 // m from the start, by the official distance
}

// Known is a place whose official distance is known, from a measuring ride
// say.
type Known struct {
	Official float64 // m from the start
	Along    float64 // m along the shortest line on the map
}

// Input is what marks are placed on.
type Input struct {
	Line     *taut.Line
	Plane    earth.Plane
	Road     *road.Road // for the side of the road; nil leaves it out
	Official float64    // m; 0 takes the length of the line itself
	Known    []Known    // besides start and finish, in any order
}

// Side of the road, seen in the direction of travel.
type Side string

// Sides. Unknown when there is no road to tell.
const (
	Left    Side = "left"
	Middle  Side = "middle"
	Right   Side = "right"
	Unknown Side = ""
)

// Mark is a placed mark.
type Mark struct {
	Name     string
	Official float64           // m from the start
	Along    interval.Estimate // m along the shortest line on the map
	CourseAt float64           // chainage along the drawn course, m
	p        orb.Point         // in the plane, m
	At       earth.LatLon
	Heading  float64 // direction of travel, radians anticlockwise from east
	Turn     int     // number of the nearest turn along the line, 0 when there is none
	FromTurn float64 // m along the line from its middle, negative before it
	InTurn   bool    // the mark lies in the turn itself
	Apex     float64 // m straight from the point where the line touches the turn's inner edge; NaN without turn
	Side     Side
	ToLeft   float64 // m to the left edge of what may be used, clearance taken off; NaN without road
	ToRight  float64
}

// List is a set of marks and how they were placed.
type List struct {
	Official   float64 // m
	LineLength float64 // m on the map
	Proportion float64 // LineLength / Official
	Known      int     // places known besides start and finish
	Marks      []Mark
}

// Errors of Place.
var (
	ErrLine     = errors.New("the line has fewer than two points or its lengths are not in order")
	ErrOfficial = errors.New("the official distance must be a positive number of metres")
	ErrKnown    = errors.New("the known places must lie on the line, in the same order on the line as in distance, and differ by less than a tenth from the map")
	ErrMark     = errors.New("a mark lies off the course")
	ErrTooMany  = fmt.Errorf("more than %d marks", MaxMarks)
)

// Every gives the marks at multiples of a step up to the official distance,
// start and finish excluded: "1 km", "mile 1", "5 km".
func Every(step, official float64) ([]Want, error) {
	if !(step > 0) || !(official > 0) || math.IsInf(official, 0) {
		return nil, ErrOfficial
	}
	if official/step > MaxMarks {
		return nil, ErrTooMany
	}
	var w []Want
	for n := 1; float64(n)*step < official-0.005; n++ {
		w = append(w, Want{Name(float64(n) * step), float64(n) * step})
	}
	return w, nil
}

// Name is what a mark at a distance is called: whole miles and kilometres by
// name, others in metres.
func Name(official float64) string {
	if n := math.Round(official / quantity.Mile); n >= 1 && math.Abs(official-n*quantity.Mile) < 0.005 {
		return "mile " + strconv.Itoa(int(n))
	}
	if km := official / 1000; math.Abs(km*10-math.Round(km*10)) < 1e-5 && official >= 1000 {
		return strconv.FormatFloat(math.Round(km*10)/10, 'f', -1, 64) + " km"
	}
	return strconv.FormatFloat(math.Round(official*100)/100, 'f', -1, 64) + " m"
}

// Usual gives start, every kilometre, every mile, half way and finish.
func Usual(official float64) ([]Want, error) {
	km, err := Every(quantity.Kilometre, official)
	if err != nil {
		return nil, err
	}
	miles, err := Every(quantity.Mile, official)
	if err != nil {
		return nil, err
	}
	w := append(append(km, miles...), Want{"start", 0}, Want{"half way", official / 2}, Want{"finish", official})
	return w, nil
}

// Place finds the marks on the line, in order of distance. Marks at the same
// distance (within a centimetre) become one with both names.
func Place(in Input, want []Want) (*List, error) {
	l := in.Line
	if l == nil || len(l.Points) < 2 || len(l.Along) != len(l.Points) || len(l.At) != len(l.Points) || !sort.Float64sAreSorted(l.Along) || !(l.Length > 0) {
		return nil, ErrLine
	}
	if in.Official < 0 || math.IsNaN(in.Official) || math.IsInf(in.Official, 0) {
		return nil, ErrOfficial
	}
	official := in.Official
	if official == 0 {
		official = l.Length
	}
	if len(want) > MaxMarks {
		return nil, ErrTooMany
	}
	end := l.Along[len(l.Along)-1]
	known := append([]Known{{0, 0}, {official, end}}, in.Known...)
	slices.SortFunc(known, func(a, b Known) int { return cmp.Compare(a.Official, b.Official) })
	for i := 1; i < len(known); i++ {
		do, da := known[i].Official-known[i-1].Official, known[i].Along-known[i-1].Along
		// A piece of a few metres may differ by more than a tenth.
		if !(do > 0) || !(da > 0) || (len(in.Known) > 0 && math.Abs(da-do) > 0.1*do+5) {
			return nil, ErrKnown
		}
	}
	list := &List{Official: official, LineLength: end, Proportion: end / official, Known: len(in.Known)}
	want = slices.Clone(want)
	slices.SortStableFunc(want, func(a, b Want) int { return cmp.Compare(a.Official, b.Official) })
	for _, w := range want {
		if !(w.Official >= 0 && w.Official <= official+0.005) {
			return nil, fmt.Errorf("%w: %s at %.2f m of %.2f m", ErrMark, w.Name, w.Official, official)
		}
		if n := len(list.Marks); n > 0 && math.Abs(list.Marks[n-1].Official-w.Official) < 0.01 {
			if !slices.Contains(strings.Split(list.Marks[n-1].Name, ", "), w.Name) {
				list.Marks[n-1].Name += ", " + w.Name
			}
			continue
		}
		list.Marks = append(list.Marks, place(in, known, w))
	}
	return list, nil
}

// between finds the known places on either side of an official distance.
func between(known []Known, official float64) (a, b Known) {
	i := sort.Search(len(known), func(i int) bool { return known[i].Official >= official })
	i = max(1, min(i, len(known)-1))
	return known[i-1], known[i]
}

func place(in Input, known []Known, w Want) Mark {
	a, b := between(known, w.Official)
	t := math.Min(1, (w.Official-a.Official)/(b.Official-a.Official))
	along := a.Along + t*(b.Along-a.Along)
	// Where the map differs from the measurement is not known: the whole
	// difference may lie before the mark, or all of it after.
	x := a.Along + (w.Official - a.Official)
	diff := (b.Along - a.Along) - (b.Official - a.Official)
	lo, hi := math.Min(x, x+diff), math.Max(x, x+diff)
	if t == 0 || t == 1 {
		lo, hi = along, along
	}
	m := Mark{Name: w.Name, Official: w.Official, Apex: math.NaN(), ToLeft: math.NaN(), ToRight: math.NaN()}
	m.Along = interval.Estimate{
		Value: along,
		Low:   math.Min(along, math.Max(lo, a.Along)),
		High:  math.Max(along, math.Min(hi, b.Along)),
	}
	l := in.Line
	i := sort.SearchFloat64s(l.Along, along)
	i = max(1, min(i, len(l.Along)-1))
	// Points may repeat where two pieces of the line join.
	for i < len(l.Along)-1 && l.Along[i] == l.Along[i-1] {
		i++
	}
	f := 0.0
	if d := l.Along[i] - l.Along[i-1]; d > 0 {
		f = (along - l.Along[i-1]) / d
	}
	p, q := l.Points[i-1], l.Points[i]
	m.p = orb.Point{p[0] + f*(q[0]-p[0]), p[1] + f*(q[1]-p[1])}
	m.CourseAt = l.At[i-1] + f*(l.At[i]-l.At[i-1])
	m.At = in.Plane.From(m.p)
	m.Heading = math.Atan2(q[1]-p[1], q[0]-p[0])
	near(&m, l.Turns)
	if in.Road != nil {
		side(&m, in.Road)
	}
	return m
}

// near finds the turn whose middle is nearest along the line.
func near(m *Mark, turns []taut.Turn) {
	best := math.Inf(1)
	for _, t := range turns {
		d := m.Along.Value - t.At
		if math.Abs(d) >= best {
			continue
		}
		best = math.Abs(d)
		m.Turn, m.FromTurn = t.Number, d
		m.InTurn = m.Along.Value >= t.From && m.Along.Value <= t.To
		m.Apex = math.Hypot(m.p[0]-t.Apex[0], m.p[1]-t.Apex[1])
	}
}

// side tells where in the permitted road a mark lies.
func side(m *Mark, r *road.Road) {
	ps := r.Portals
	if len(ps) == 0 {
		return
	}
	i := sort.Search(len(ps), func(i int) bool { return ps[i].At >= m.CourseAt })
	a, b := ps[max(0, i-1)], ps[min(i, len(ps)-1)]
	m.ToLeft = toPiece(m.p, a.Left.P, b.Left.P)
	m.ToRight = toPiece(m.p, a.Right.P, b.Right.P)
	switch share := m.ToLeft / (m.ToLeft + m.ToRight); {
	case m.ToLeft+m.ToRight < 0.5, share >= 0.35 && share <= 0.65:
		m.Side = Middle // a gate or a lane too narrow to have sides, or near its middle
	case share < 0.35:
		m.Side = Left
	default:
		m.Side = Right
	}
}

// toPiece is the distance of p from the straight piece a–b.
func toPiece(p, a, b orb.Point) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	t := 0.0
	if d := dx*dx + dy*dy; d > 0 {
		t = math.Max(0, math.Min(1, ((p[0]-a[0])*dx+(p[1]-a[1])*dy)/d))
	}
	return math.Hypot(p[0]-a[0]-t*dx, p[1]-a[1]-t*dy)
}
