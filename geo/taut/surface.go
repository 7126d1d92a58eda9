package taut

import (
	"math"

	"tautline/geo/course"
	"tautline/geo/heights"
)

// alongSurface is the length of a line along the road's surface, m; NaN when
// the drawing has no heights. Every part of the line climbs as the course does
// at the same chainage. The heights are read as a road's first: noise of a
// decimetre from point to point would add several metres per kilometre.
func alongSurface(c *course.Course, l *Line) (float64, error) {
	profile, err := heights.FromCourse(c)
	if err != nil {
		return 0, err
	}
	if !profile.Known() {
		return math.NaN(), nil
	}
	const piece = 20 // m, short of any change of gradient
	var sum float64
	last := 0
	for i := range l.At {
		if l.At[i]-l.At[last] >= piece || i == len(l.At)-1 {
			sum += profile.Surface(l.At[last], l.At[i], l.Along[i]-l.Along[last])
			last = i
		}
	}
	return sum, nil
}
