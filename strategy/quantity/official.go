package quantity

import (
	"fmt"
	"math"
)

// Official distances of road races in metres. Source: World Athletics
// Technical Rules, road races (from memory, unchecked), where the half
// marathon is half of 42 195 m.
const (
	Marathon     = 42195.0
	HalfMarathon = 21097.5
)

// SnapShare is how near, as a fraction, a distance must lie to an official one
// to be meant for it: the 0.1 % by which a certified course may be long, and
// more than the 0.07 % that 26.2 mi and 13.1 mi are short.
const SnapShare = 0.001

var official = []struct {
	name   string
	metres float64
}{
	{"1 mi", Mile}, {"3 km", 3000}, {"5 km", 5000}, {"5 mi", 5 * Mile}, {"10 km", 10000}, {"15 km", 15000},
	{"10 mi", 10 * Mile}, {"20 km", 20000}, {"half marathon", HalfMarathon}, {"25 km", 25000}, {"30 km", 30000},
	{"marathon", Marathon}, {"50 km", 50000}, {"50 mi", 50 * Mile}, {"100 km", 100000}, {"100 mi", 100 * Mile},
}

// Official gives the official race distance that a distance in metres is meant
// for, if one lies within SnapShare, and a sentence that says so where the two
// differ. Otherwise it gives the distance back.
func Official(metres float64) (exact float64, note string) {
	for _, o := range official {
		if d := math.Abs(metres - o.metres); d <= SnapShare*o.metres {
			if d > 0.005 {
				note = fmt.Sprintf("%s m was taken as the official %s of %s m", plain(metres, 1), o.name, plain(o.metres, 3))
			}
			return o.metres, note
		}
	}
	return metres, ""
}
