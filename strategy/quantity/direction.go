package quantity

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// points are the names of the compass in steps of 22.5 degrees.
var points = []string{"N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"}

// ParseDirection reads "SW" or degrees clockwise from north, 0 to 360, as
// radians clockwise from north in [0, 2π).
func ParseDirection(s string) (float64, error) {
	s = strings.TrimSpace(s)
	if i := slices.Index(points, strings.ToUpper(s)); i >= 0 {
		return float64(i) * math.Pi / 8, nil
	}
	d, err := strconv.ParseFloat(strings.TrimSuffix(s, "°"), 64)
	if err != nil || !(d >= 0 && d <= 360) {
		return 0, bad(s, "is no direction", "write degrees clockwise from north, 0 to 360, or a point of the compass such as SW")
	}
	return math.Mod(d, 360) * math.Pi / 180, nil
}
