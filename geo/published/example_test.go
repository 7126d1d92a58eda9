package published_test

import (
	"math"
	"testing"

	"tautline/geo/published"
)

func ExampleCheck() {
	_ = func(t *testing.T) { // func TestDegreeOfTheEquator(t *testing.T)
		published.Check(t, published.Figure{
			Source: "WGS 84, a x pi/180", Trust: published.Exact,
			What: "a degree along the equator", Unit: "m", Value: "111319.4908",
		}, 6378137*math.Pi/180)
	}
}
