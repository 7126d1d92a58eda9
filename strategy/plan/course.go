// Package plan turns a course and a goal into target splits at even effort.
// Even effort is what strategy/effort says it is.
//
// Distances named official are those of the marks, from 0 at the start to the
// official distance at the finish. The athlete's own path, the shortest legal
// line and a little more, is longer or shorter; it lies between the marks in
// proportion. Paces are seconds per metre of the athlete's own path. All
// functions are safe for concurrent use; none changes its arguments.
package plan

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"tautline/geo/inputerr"
	"tautline/geo/interval"
)

// Ground is what a plan needs of the course's heights, by chainage along the
// drawn course in metres.
type Ground interface {
	Height(at float64) float64                  // m
	Climb(from, to float64) interval.Estimate   // m
	Descent(from, to float64) interval.Estimate // m
}

// Hill is a climb, by chainage along the drawn course in metres.
type Hill struct {
	Name        string // may be ""
	Foot, Crest float64
}

// Route describes the course as an athlete runs it.
type Route struct {
	Name     string
	Official float64 // official distance, m
	Shortest float64 // length of the shortest legal line, m

	// Along and At are points of the shortest legal line: metres along it,
	// and the chainage of the drawn course. Both never decrease and have at
	// least two points. Along may be measured on the map while Shortest is
	// along the road's surface. Both nil: the line keeps pace with the drawn
	// course, which is as long as Shortest.
	Along, At []float64

	Ground    Ground                   // nil: level
	Heading   func(at float64) float64 // radians anticlockwise from east, by chainage; nil: east, so leave the wind out
	Sheltered func(at float64) float64 // share of the wind kept off, by chainage; nil: 0
	Hills     []Hill
}

// Limits of what is planned.
const (
	shortestRace = 400.0    // m
	longestRace  = 200000.0 // m
	grain        = 25.0     // m, length of a stretch over which conditions are taken as constant
	maxHills     = 500
)

// Course is a Route made ready for many plans. It is not changed after
// NewCourse and is safe for concurrent use.
type Course struct {
	Name     string
	Official float64 // m
	Shortest float64 // m

	along, at []float64
	ground    Ground
	hills     []Hill    // in official metres
	edge      []float64 // official metres, stretch j from edge[j] to edge[j+1]
	gradient  []float64
	heading   []float64
	sheltered []float64
	first     int // number of stretches in the first half
	headed    bool
}

// NewCourse cuts a route into short stretches. Errors are *inputerr.Error.
func NewCourse(r Route) (*Course, error) {
	for _, v := range []struct {
		what string
		is   float64
	}{{"official distance", r.Official}, {"length of the shortest line", r.Shortest}} {
		if !(v.is >= shortestRace && v.is <= longestRace) {
			return nil, &inputerr.Error{
				What:   fmt.Sprintf("the %s is %.6g m", v.what, v.is),
				Advice: fmt.Sprintf("a plan needs a course of %.0f m to %.0f km", shortestRace, longestRace/1000),
			}
		}
	}
	if d := r.Shortest/r.Official - 1; math.Abs(d) > 0.1 {
		return nil, &inputerr.Error{
			What:   fmt.Sprintf("the shortest line is %.0f m but the official distance %.0f m", r.Shortest, r.Official),
			Advice: "give the official distance of this course, or the whole course",
		}
	}
	c := &Course{
		Name: r.Name, Official: r.Official, Shortest: r.Shortest, ground: r.Ground, headed: r.Heading != nil,
		along: slices.Clone(r.Along), at: slices.Clone(r.At),
	}
	if len(c.along) == 0 && len(c.at) == 0 {
		c.along, c.at = []float64{0, r.Shortest}, []float64{0, r.Shortest}
	}
	if err := c.checkLine(); err != nil {
		return nil, err
	}
	if err := c.takeHills(r.Hills); err != nil {
		return nil, err
	}
	c.cut()
	n := len(c.edge) - 1
	c.gradient = make([]float64, n)
	c.heading = make([]float64, n)
	c.sheltered = make([]float64, n)
	scale := c.Shortest / c.Official
	for j := range n {
		from, to := c.Chainage(c.edge[j]), c.Chainage(c.edge[j+1])
		if c.ground != nil {
			rise := c.ground.Height(to) - c.ground.Height(from)
			c.gradient[j] = rise / ((c.edge[j+1] - c.edge[j]) * scale)
			if math.IsNaN(c.gradient[j]) || math.Abs(c.gradient[j]) > 1 {
				return nil, &inputerr.Error{
					What:   fmt.Sprintf("the heights give a gradient of %.0f %% at %.0f m", 100*c.gradient[j], c.edge[j]),
					Advice: "check the course's elevation",
				}
			}
		}
		middle := (from + to) / 2
		if r.Heading != nil {
			c.heading[j] = r.Heading(middle)
		}
		if r.Sheltered != nil {
			c.sheltered[j] = math.Max(0, math.Min(1, r.Sheltered(middle)))
		}
	}
	return c, nil
}

func (c *Course) checkLine() error {
	if len(c.along) != len(c.at) || len(c.along) < 2 {
		return &inputerr.Error{What: "the shortest line has no chainage", Advice: "this is a mistake in the program"}
	}
	for i := range c.along {
		if math.IsNaN(c.along[i]) || math.IsNaN(c.at[i]) || i > 0 && (c.along[i] < c.along[i-1] || c.at[i] < c.at[i-1]) {
			return &inputerr.Error{What: "the shortest line runs backwards", Advice: "this is a mistake in the program"}
		}
	}
	if last := len(c.along) - 1; !(c.along[last] > c.along[0]) || !(c.at[last] > c.at[0]) || math.IsInf(c.along[last], 0) || math.IsInf(c.at[last], 0) {
		return &inputerr.Error{What: "the shortest line has no length", Advice: "this is a mistake in the program"}
	}
	return nil
}

func (c *Course) takeHills(hills []Hill) error {
	if len(hills) > maxHills {
		return &inputerr.Error{What: fmt.Sprintf("the course has %d climbs", len(hills)), Advice: "smooth its heights more"}
	}
	for _, h := range hills {
		o := Hill{h.Name, c.OfficialAt(h.Foot), c.OfficialAt(h.Crest)}
		if !(o.Crest > o.Foot) {
			continue // off the course
		}
		c.hills = append(c.hills, o)
	}
	sort.Slice(c.hills, func(i, j int) bool { return c.hills[i].Foot < c.hills[j].Foot })
	return nil
}

// cut sets the edges of the stretches: every grain metres, at half way, and
// where a climb or its first third begins or ends.
func (c *Course) cut() {
	var e []float64
	for k := 0; float64(k)*grain < c.Official; k++ {
		e = append(e, float64(k)*grain)
	}
	half := c.Official / 2
	e = append(e, half, c.Official)
	for _, h := range c.hills {
		e = append(e, h.Foot, h.Foot+(h.Crest-h.Foot)/3, h.Crest)
	}
	slices.Sort(e)
	const least = 0.01
	kept := e[:1]
	for _, x := range e[1:] {
		switch {
		case x-kept[len(kept)-1] >= least:
			kept = append(kept, x)
		case x == half || x == c.Official:
			kept[len(kept)-1] = x
		}
	}
	c.edge = kept
	c.first = sort.SearchFloat64s(c.edge, half)
}

// Chainage is the chainage along the drawn course at an official distance.
func (c *Course) Chainage(official float64) float64 {
	return interpolate(c.along, c.at, c.alongAt(official))
}

// alongAt is how far along the shortest line an official distance is passed, m.
func (c *Course) alongAt(official float64) float64 {
	first, last := c.along[0], c.along[len(c.along)-1]
	return first + (last-first)*official/c.Official
}

// OfficialAt is the official distance at a chainage along the drawn course.
func (c *Course) OfficialAt(chainage float64) float64 {
	last := len(c.along) - 1
	s := interpolate(c.at, c.along, chainage)
	return (s - c.along[0]) / (c.along[last] - c.along[0]) * c.Official
}

// interpolate reads y at x from two lists that never decrease, held at the ends.
func interpolate(xs, ys []float64, x float64) float64 {
	i := sort.SearchFloat64s(xs, x)
	switch {
	case i == 0:
		return ys[0]
	case i == len(xs):
		return ys[len(ys)-1]
	}
	a, b := xs[i-1], xs[i]
	return ys[i-1] + (ys[i]-ys[i-1])*(x-a)/(b-a)
}

// HasHeights tells whether the course was made with heights; without, it is
// level.
func (c *Course) HasHeights() bool { return c.ground != nil }

// MeanGradient is the rise over the length between two official distances, as
// a fraction.
func (c *Course) MeanGradient(from, to float64) float64 {
	if c.ground == nil || !(to > from) {
		return 0
	}
	rise := c.ground.Height(c.Chainage(to)) - c.ground.Height(c.Chainage(from))
	return rise / ((to - from) * c.Shortest / c.Official)
}

// climb and descent between two official distances, m.
func (c *Course) climb(from, to float64) (up, down interval.Estimate) {
	if c.ground == nil {
		return up, down
	}
	a, b := c.Chainage(from), c.Chainage(to)
	return c.ground.Climb(a, b), c.ground.Descent(a, b)
}

// cumulative interpolates a running total over the stretches, one figure per
// edge, at an official distance.
func (c *Course) cumulative(total []float64, official float64) float64 {
	return interpolate(c.edge, total, official)
}
