// Package course is the drawn course: a line in a local plane with its
// chainage, the distance along it from its first point.
package course

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"github.com/paulmach/orb"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
	"tautline/geo/track"
)

// Course is a drawn line without repeated points. Chainage is the map length
// on WGS84 from the first point, in metres, strictly increasing. A Course is
// not changed after New and is safe for concurrent use.
type Course struct {
	Name     string
	Plane    earth.Plane
	Points   orb.LineString // east, north in metres in Plane
	Chainage []float64      // m
	Heights  []float64      // m, NaN where the drawing gives none
}

// ErrTooShort says that a drawing has fewer than two different points.
var ErrTooShort = errors.New("the course has fewer than two different points")

// MaxLength is the longest course in metres: no race is longer, and far beyond
// it a plane is no picture of the ground.
const MaxLength = 1e6

// sameSpot is the distance in metres below which a point repeats the last one.
const sameSpot = 0.01

// New lays a drawn line into a plane around its middle and measures it. It
// fails with ErrTooShort, or with an *inputerr.Error for a line longer than
// MaxLength.
func New(name string, fixes []track.Fix) (*Course, error) {
	if len(fixes) == 0 {
		return nil, ErrTooShort
	}
	c := &Course{Name: name, Plane: earth.NewPlane(middle(fixes))}
	var last earth.LatLon
	var longest float64 // step
	var leads int       // the point it leads to
	for i, f := range fixes {
		var at float64
		if n := len(c.Points); n > 0 {
			d := earth.Distance(last, f.At)
			if d < sameSpot {
				continue
			}
			if d > longest {
				longest, leads = d, i
			}
			at = c.Chainage[n-1] + d
		}
		last = f.At
		c.Points = append(c.Points, c.Plane.To(f.At))
		c.Chainage = append(c.Chainage, at)
		c.Heights = append(c.Heights, f.Height)
	}
	if len(c.Points) < 2 {
		return nil, ErrTooShort
	}
	if c.Length() > MaxLength {
		e := &inputerr.Error{
			What:   fmt.Sprintf("the course is %.0f km long, and no more than %.0f km can be used", c.Length()/1000, MaxLength/1000),
			Advice: "draw the course of one race alone",
		}
		if longest > c.Length()/10 {
			e.Advice = fmt.Sprintf("its longest step, of %.3g km, is between points %d and %d: take out what is none of the course", longest/1000, leads, leads+1)
		}
		return nil, e
	}
	return c, nil
}

// middle is the centre of the bounding box, with longitudes taken relative to
// the first point so that a course across the antimeridian stays together.
func middle(fixes []track.Fix) earth.LatLon {
	first := fixes[0].At
	lo, hi := earth.LatLon{Lat: first.Lat}, earth.LatLon{Lat: first.Lat}
	for _, f := range fixes {
		d := math.Remainder(f.At.Lon-first.Lon, 360)
		lo.Lat, hi.Lat = math.Min(lo.Lat, f.At.Lat), math.Max(hi.Lat, f.At.Lat)
		lo.Lon, hi.Lon = math.Min(lo.Lon, d), math.Max(hi.Lon, d)
	}
	return earth.LatLon{
		Lat: (lo.Lat + hi.Lat) / 2,
		Lon: math.Remainder(first.Lon+(lo.Lon+hi.Lon)/2, 360),
	}
}

// Length is the map length of the whole drawn line in metres.
func (c *Course) Length() float64 { return c.Chainage[len(c.Chainage)-1] }

// Leg gives the index i of the piece Points[i]–Points[i+1] that holds a
// chainage, and how far along that piece it lies, as a fraction. Chainages
// beyond the ends belong to the first and the last piece.
func (c *Course) Leg(at float64) (i int, fraction float64) {
	i = sort.SearchFloat64s(c.Chainage, at) - 1
	i = max(0, min(i, len(c.Points)-2))
	return i, (at - c.Chainage[i]) / (c.Chainage[i+1] - c.Chainage[i])
}

// At gives the point at a chainage. Beyond the ends the first and the last
// piece are continued straight on.
func (c *Course) At(at float64) orb.Point {
	i, t := c.Leg(at)
	a, b := c.Points[i], c.Points[i+1]
	return orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
}

// Heading gives the direction of travel at a chainage, radians anticlockwise
// from east.
func (c *Course) Heading(at float64) float64 {
	i, _ := c.Leg(at)
	a, b := c.Points[i], c.Points[i+1]
	return math.Atan2(b[1]-a[1], b[0]-a[0])
}

// HeightAt gives the height of the drawing at a chainage, m, on the straight line
// between the heights on either side; NaN where it needs one that is missing.
// Beyond the ends it is that of the end.
func (c *Course) HeightAt(at float64) float64 {
	i, t := c.Leg(at)
	t = math.Max(0, math.Min(1, t))
	switch a, b := c.Heights[i], c.Heights[i+1]; t {
	case 0:
		return a
	case 1:
		return b
	default:
		return a + t*(b-a)
	}
}
