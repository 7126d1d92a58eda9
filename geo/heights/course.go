package heights

import (
	"fmt"
	"math"
	"strings"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/terrain"
)

// sameEnd is the distance in the plane, in metres, below which start and
// finish are the same place.
const sameEnd = 50.0

// terrainStep is the spacing in metres at which tiles are looked up: a third
// of the finest tile's sample distance.
const terrainStep = 10.0

// FromCourse makes the profile of a course from the heights it was drawn
// with. A course whose start and finish are within 50 m is taken as a loop.
func FromCourse(c *course.Course) (*Profile, error) {
	samples := make([]Sample, len(c.Heights))
	for i, h := range c.Heights {
		samples[i] = Sample{c.Chainage[i], h}
	}
	return New(samples, c.Length(), Options{Loop: isLoop(c)})
}

func isLoop(c *course.Course) bool {
	a, b := c.Points[0], c.Points[len(c.Points)-1]
	return math.Hypot(b[0]-a[0], b[1]-a[1]) < sameEnd
}

// FromTerrain makes the profile of a course from the terrain tiles of a
// folder (see package terrain), looked up every 10 m. When some of the tiles are
// missing the profile has a note that names them; when all are, or one cannot
// be used, there is an error.
func FromTerrain(c *course.Course, dir string) (*Profile, error) {
	tiles, err := terrain.Open(dir)
	if err != nil {
		return nil, err
	}
	defer tiles.Close()
	length := c.Length()
	count := min(int(math.Ceil(length/terrainStep)), 1_000_000)
	line := make([]earth.LatLon, count+1)
	samples := make([]Sample, count+1)
	for i := range samples {
		at := length * float64(i) / float64(count)
		samples[i].At = at
		line[i] = c.Plane.From(c.At(at))
	}
	heights, missing, err := tiles.Along(line)
	if err != nil {
		return nil, err
	}
	for i, h := range heights {
		samples[i].Height = h
	}
	p, err := New(samples, length, Options{Loop: isLoop(c), Posting: tiles.Posting()})
	if err != nil {
		return nil, err
	}
	if len(missing) > 0 {
		p.notes = append(p.notes, fmt.Sprintf("terrain tiles missing in %s: %s; put them into the folder for the whole course", dir, strings.Join(missing, ", ")))
	}
	return p, nil
}
