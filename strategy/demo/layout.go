package demo

import (
	"math"
	"sort"

	"github.com/paulmach/orb"

	"tautline/geo/earth"
	"tautline/geo/track"
)

// velmarrow is where the invented town lies: in mid-ocean, so that it cannot
// be mistaken for a place.
var velmarrow = earth.LatLon{Lat: 46.8125, Lon: -29.4375}

// vertex is a corner of the lap: the street that leads to it, and the radius
// with which it is drawn, 0 for a single vertex.
type vertex struct {
	street string
	at     orb.Point // m east and north of the start line
	round  float64   // m
}

// lap is one lap as it is drawn, and where things are along it.
type lap struct {
	line    orb.LineString
	corners map[string]float64 // chainage, m, of the end of each street
	length  float64
}

// The streets of the lap, in the order they are run.
const (
	lanternRow  = "Lantern Row"
	cooperSt    = "Cooper Street"
	ropewalk    = "Ropewalk"
	hillRoad    = "Kiln Hill"
	hillBend    = "Kiln Hill Bend"
	hillTop     = "Upper Kiln Hill"
	beaconLane  = "Beacon Lane"
	tannersBrow = "Tanner's Brow"
	ferrySt     = "Ferry Street"
	moleOut     = "Long Mole"
	moleBack    = "Long Mole, back"
	quayside    = "Quayside"
	lowerQuay   = "Lower Quayside"
	stationRd   = "Station Road"
)

// layout draws the lap with a mole of some length, which is what makes the
// race as long as it should be.
func layout(mole float64) lap {
	junction := orb.Point{-340, 690}
	head := orb.Point{junction[0] - mole*math.Cos(0.1), junction[1] + mole*math.Sin(0.1)}
	vertices := []vertex{
		{lanternRow, orb.Point{430, 0}, 0},
		{cooperSt, orb.Point{424, 318}, 4}, // a corner drawn as several close points
		{ropewalk, orb.Point{655, 330}, 45},
		{hillRoad, orb.Point{700, 640}, 60},
		{hillBend, orb.Point{560, 820}, 50},
		{hillTop, orb.Point{590, 1010}, 0},
		{beaconLane, orb.Point{230, 1030}, 30},
		{tannersBrow, orb.Point{80, 760}, 0},
		{ferrySt, junction, 0},
		{moleOut, head, 0},
		{moleBack, junction, 0},
		{quayside, orb.Point{-420, 420}, 70},
		{lowerQuay, orb.Point{-360, 0}, 0},
		{stationRd, orb.Point{0, 0}, 0},
	}
	l := lap{line: orb.LineString{{0, 0}}, corners: map[string]float64{}}
	for i, v := range vertices {
		last := l.line[len(l.line)-1]
		if v.round == 0 {
			l.straight(v.at)
		} else {
			l.bend(last, v.at, vertices[i+1].at, v.round)
		}
		l.corners[v.street] = l.length
	}
	return l
}

func (l *lap) add(p orb.Point) {
	a := l.line[len(l.line)-1]
	l.length += math.Hypot(p[0]-a[0], p[1]-a[1])
	l.line = append(l.line, p)
}

// straight draws to a point with points in between, which carry heights.
func (l *lap) straight(to orb.Point) {
	const apart = 40 // m, at most
	a := l.line[len(l.line)-1]
	d := math.Hypot(to[0]-a[0], to[1]-a[1])
	n := int(math.Ceil(d / apart))
	for i := 1; i <= n; i++ {
		f := float64(i) / float64(n)
		l.add(orb.Point{a[0] + f*(to[0]-a[0]), a[1] + f*(to[1]-a[1])})
	}
}

// bend draws to a corner that is rounded with a radius, and round it.
func (l *lap) bend(from, corner, next orb.Point, radius float64) {
	in := math.Atan2(corner[1]-from[1], corner[0]-from[0])
	turn := math.Remainder(math.Atan2(next[1]-corner[1], next[0]-corner[0])-in, 2*math.Pi)
	cut := radius * math.Tan(math.Abs(turn)/2)
	sin, cos := math.Sincos(in)
	l.straight(orb.Point{corner[0] - cut*cos, corner[1] - cut*sin})
	// Chords that leave the arc by at most 15 cm.
	n := int(math.Ceil(math.Abs(turn) / (2 * math.Acos(1-0.15/radius))))
	step := turn / float64(n)
	chord := 2 * radius * math.Sin(math.Abs(step)/2)
	heading := in + step/2
	for range n {
		sin, cos := math.Sincos(heading)
		p := l.line[len(l.line)-1]
		l.add(orb.Point{p[0] + chord*cos, p[1] + chord*sin})
		heading += step
	}
}

// height is that of the road above the sea at a place along the lap, m.
func (l lap) height(at float64) float64 {
	out, back := l.corners[ferrySt], l.corners[moleBack]
	mole := (back - out) / 2
	if at > out && at < back { // the mole has the same height both ways
		at = out + min(at-out, back-at)
	}
	// swell rises from one place to another and stays.
	swell := func(from, to, by float64) float64 {
		x := min(max((at-from)/(to-from), 0), 1)
		return by * x * x * (3 - 2*x)
	}
	afterMole := 0.0
	if at >= back {
		afterMole = 1
	}
	hill := swell(l.corners[ropewalk]-120, l.corners[hillTop]+40, 36) +
		swell(l.corners[beaconLane]-200, l.corners[ferrySt]-150, -43)
	dip := swell(l.corners[lowerQuay]+70, l.corners[lowerQuay]+130, -4.5) + swell(l.corners[lowerQuay]+140, l.corners[lowerQuay]+210, 4.5)
	rise := afterMole * (swell(l.corners[quayside], l.corners[lowerQuay]-60, 3) + swell(l.corners[stationRd]-150, l.corners[stationRd], 4))
	// Nothing is quite level; the ripple is the same on every lap, and on both
	// sides of the mole.
	ripple := 0.5*math.Sin(2*math.Pi*at/170) + 0.3*math.Sin(2*math.Pi*at/97+1)
	if at > out-1 && at < back+1 {
		ripple *= math.Abs(at-out) / (mole + 1)
	}
	return 54 + hill + dip + rise + ripple*math.Min(1, math.Min(at, l.length-at)/60)
}

// fixes is the drawing as a route planner would give it: positions to seven
// decimals, heights to a decimetre.
func (l lap) fixes(plane earth.Plane) []track.Fix {
	out := make([]track.Fix, len(l.line))
	at := 0.0
	for i, p := range l.line {
		if i > 0 {
			at += math.Hypot(p[0]-l.line[i-1][0], p[1]-l.line[i-1][1])
		}
		q := plane.From(p)
		out[i] = track.Fix{
			At:     earth.LatLon{Lat: rounded(q.Lat, 1e7), Lon: rounded(q.Lon, 1e7)},
			Height: rounded(l.height(at), 10),
		}
	}
	return out
}

func rounded(v, per float64) float64 { return math.Round(v*per) / per }

// interpolated gives y at a place among rising x; beyond the ends the last
// value holds.
func interpolated(x, y []float64, at float64) float64 {
	i := sort.SearchFloat64s(x, at)
	switch {
	case i == 0:
		return y[0]
	case i == len(x):
		return y[len(y)-1]
	}
	return y[i-1] + (at-x[i-1])/(x[i]-x[i-1])*(y[i]-y[i-1])
}
