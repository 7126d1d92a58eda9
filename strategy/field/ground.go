package field

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"math"
	"sort"

	"github.com/paulmach/orb"

	"tautline/geo/road"
	"tautline/strategy/race"
)

const (
	// spacing of the stations along the line, m.
	spacing = 10.0
	// stretchFree is how far, in metres, a station on a straight is from any
	// turn.
	stretchFree = 40.0
	// aroundBack is how far, in metres, from a turn-around the place across the
	// road says nothing, since fixes there belong to either leg.
	aroundBack = 25.0
	// aroundCorner is how far, in metres, from the arc of a street corner it is
	// looked at square to the bisector instead: a runner who cuts the corner
	// passes inside the point where the other normals meet.
	aroundCorner = 4.0
	// A corner turns by so many radians and is at most so many metres long;
	// gentler or longer turns are bends, which are looked at like straights.
	leastCorner, longestCorner = 0.6, 45.0
	// reachWindow is how far before and after a turn-around, in metres along
	// the line, its furthest point is looked for.
	reachWindow = 110.0
)

// station is a place on the shortest line where the crowd is looked at.
type station struct {
	at          float64 // m along the line
	point       orb.Point
	dir         orb.Point // unit, direction of travel
	left, right float64   // m from the line to the edges of the permitted road: left >= 0 >= right
	straight    bool      // far from turns and from edges that cones or a line keep
	corner      bool      // the apex of a street corner, square to its bisector
	flank       bool      // where the arc of a street corner begins or ends, square to its leg
	turn        int       // index into Line.Turns of a corner or flank
	judged      bool      // the place across the road can be compared with the edges
}

// bend is a street corner: indices of the stations at its apex and at both
// ends of its arc.
type bend struct{ apex, before, after int }

// around is a turn-around.
type around struct {
	turn     int // index into Line.Turns
	at       float64
	from, to float64 // m along the line, where its furthest point is looked for
	apex     orb.Point
	dir      orb.Point // unit, the way out
}

// guard is an edge of the permitted road that cones, barriers or a line keep.
type guard struct {
	left     bool
	from, to float64 // m along the line
}

// Ground is a race as a field of runners is compared with it. It is not
// changed after Lay and is safe for concurrent use.
type Ground struct {
	Race     *race.Race
	length   float64 // m, of the line in the plane
	along    []float64
	stations []station
	bends    []bend
	arounds  []around
	guards   []guard
	print    string
}

// Lay prepares a race for its field.
func Lay(r *race.Race) *Ground {
	g := &Ground{Race: r, along: make([]float64, len(r.Line.Points))}
	pts := r.Line.Points
	for i := 1; i < len(pts); i++ {
		g.along[i] = g.along[i-1] + math.Hypot(pts[i][0]-pts[i-1][0], pts[i][1]-pts[i-1][1])
	}
	g.length = g.along[len(pts)-1]
	scale := g.length / r.Line.Length
	n := int(g.length / spacing)
	for j := 1; j < n; j++ {
		g.stations = append(g.stations, g.station(float64(j)*spacing))
	}
	backs := g.backsOf(scale)
	g.setCorners(scale, backs)
	for i, at := range backs {
		for j := range g.stations {
			if s := &g.stations[j]; math.Abs(s.at-at) < aroundBack {
				s.judged = false
			}
		}
		if a, ok := g.aroundAt(i, backs, scale); ok {
			g.arounds = append(g.arounds, a)
		}
	}
	g.guards = g.guardsOf(scale)
	// Nothing is learnt where a fault is likeliest.
	for _, x := range g.guards {
		for j := range g.stations {
			if s := &g.stations[j]; s.at > x.from-2*spacing && s.at < x.to+2*spacing {
				s.straight = false
			}
		}
	}
	g.print = g.fingerprint()
	return g
}

// setCorners puts three stations at each street corner, on both ends of its arc
// and at its apex, in place of those that stood around it, and marks those near
// a turn as none of a straight.
func (g *Ground) setCorners(scale float64, backs []float64) {
	var corners []station
	for k, t := range g.Race.Line.Turns {
		from, to := t.From*scale, t.To*scale
		back := false
		for _, at := range backs {
			back = back || at > from-5 && at < to+5
		}
		corner := !back && math.Abs(t.Angle) > leastCorner && to-from < longestCorner
		kept := g.stations[:0]
		for _, s := range g.stations {
			s.straight = s.straight && (s.at <= from-stretchFree || s.at >= to+stretchFree)
			if !corner || s.at < from-aroundCorner || s.at > to+aroundCorner {
				kept = append(kept, s)
			}
		}
		g.stations = kept
		if corner && from > 5 && to < g.length-5 {
			s := g.station((from + to) / 2)
			a, b := g.station(from-1), g.station(to+1)
			d := orb.Point{a.dir[0] + b.dir[0], a.dir[1] + b.dir[1]}
			if l := math.Hypot(d[0], d[1]); l > 0.1 {
				s.dir = orb.Point{d[0] / l, d[1] / l}
			}
			s.corner = true
			a.flank, b.flank = true, true
			for _, x := range []station{a, s, b} {
				x.straight, x.turn = false, k
				corners = append(corners, x)
			}
		}
	}
	g.stations = append(g.stations, corners...)
	sort.SliceStable(g.stations, func(i, j int) bool { return g.stations[i].at < g.stations[j].at })
	of := map[int]*bend{}
	for j, s := range g.stations {
		switch {
		case !s.corner && !s.flank:
			continue
		case of[s.turn] == nil:
			of[s.turn] = &bend{before: j} // the first of the three
		case s.corner:
			of[s.turn].apex = j
		default:
			of[s.turn].after = j
			g.bends = append(g.bends, *of[s.turn])
		}
	}
}

// aroundAt looks at the i-th place where the line turns back; it is none that
// can be judged without a turn of the line or a way out to it.
func (g *Ground) aroundAt(i int, backs []float64, scale float64) (around, bool) {
	at, pts := backs[i], g.Race.Line.Points
	a := around{turn: -1, at: at, from: at - reachWindow, to: at + reachWindow}
	for k, t := range g.Race.Line.Turns {
		if at > t.From*scale-5 && at < t.To*scale+5 {
			a.turn = k
		}
	}
	if a.turn < 0 {
		return a, false
	}
	if i > 0 {
		a.from = math.Max(a.from, (backs[i-1]+at)/2)
	}
	if i+1 < len(backs) {
		a.to = math.Min(a.to, (backs[i+1]+at)/2)
	}
	a.from, a.to = math.Max(a.from, 0), math.Min(a.to, g.length)
	p, q := g.pointAt(math.Max(at-25, a.from)), g.pointAt(math.Max(at-4, a.from+1))
	d := math.Hypot(q[0]-p[0], q[1]-p[1])
	if d < 0.5 {
		return a, false
	}
	a.dir = orb.Point{(q[0] - p[0]) / d, (q[1] - p[1]) / d}
	// The furthest point of the line itself is what the runners' is compared
	// with.
	far := math.Inf(-1)
	for i, along := range g.along {
		if math.Abs(along-at) < 30 {
			if v := pts[i][0]*a.dir[0] + pts[i][1]*a.dir[1]; v > far {
				far, a.apex = v, pts[i]
			}
		}
	}
	return a, !math.IsInf(far, -1)
}

// backsOf gives the turn-arounds, m along the line in the plane.
func (g *Ground) backsOf(scale float64) []float64 {
	var out []float64
	for _, b := range g.Race.Road.TurnBacks() {
		if at := g.Race.Line.AlongAt(b.At) * scale; at > 10 && at < g.length-10 {
			out = append(out, at)
		}
	}
	return out
}

// guardsOf gives the edges that the race sheet restricts over a part of the
// course. What holds for most of the course is the road.
func (g *Ground) guardsOf(scale float64) []guard {
	var out []guard
	add := func(left bool, from, to float64) {
		from, to = g.Race.Line.AlongAt(from)*scale, g.Race.Line.AlongAt(to)*scale
		if to-from < g.length/2 {
			out = append(out, guard{left, from, to})
		}
	}
	for _, s := range g.Race.Road.Spec.Stretches {
		from, to := math.Max(s.From, g.Race.Road.StartAt), math.Min(s.To, g.Race.Road.FinishAt)
		if to <= from {
			continue
		}
		if s.Part == road.RightHalf || s.Part == road.Lane && s.LaneLeft != nil {
			add(true, from, to)
		}
		if s.Part == road.LeftHalf || s.Part == road.Lane && s.LaneRight != nil {
			add(false, from, to)
		}
	}
	const around = 15.0 // m along the line that a gate has a say in
	for _, x := range g.Race.Road.Spec.Gates {
		if x.At > g.Race.Road.StartAt+around && x.At < g.Race.Road.FinishAt-around {
			add(true, x.At-around, x.At+around)
			add(false, x.At-around, x.At+around)
		}
	}
	return out
}

func (g *Ground) leg(at float64) (int, float64) {
	i := max(0, min(sort.SearchFloat64s(g.along, at)-1, len(g.along)-2))
	d := g.along[i+1] - g.along[i]
	if d <= 0 {
		return i, 0
	}
	return i, (at - g.along[i]) / d
}

func (g *Ground) pointAt(at float64) orb.Point {
	i, t := g.leg(at)
	a, b := g.Race.Line.Points[i], g.Race.Line.Points[i+1]
	return orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
}

func (g *Ground) station(at float64) station {
	r := g.Race
	p, q := g.pointAt(at-0.5), g.pointAt(at+0.5)
	d := math.Max(math.Hypot(q[0]-p[0], q[1]-p[1]), 1e-9)
	s := station{at: at, point: g.pointAt(at), dir: orb.Point{(q[0] - p[0]) / d, (q[1] - p[1]) / d}, straight: true, judged: true}
	i, t := g.leg(at)
	c := r.Line.At[i] + t*(r.Line.At[i+1]-r.Line.At[i])
	left, right := r.Road.Lateral(c)
	o, h := r.Course.At(c), r.Course.Heading(c)
	off := -math.Sin(h)*(s.point[0]-o[0]) + math.Cos(h)*(s.point[1]-o[1])
	s.left, s.right = math.Max(left-off, 0), math.Min(right-off, 0)
	return s
}

// fingerprint tells grounds apart, so that results of different courses or
// roads are not put together.
func (g *Ground) fingerprint() string {
	h := sha256.New()
	put := func(v float64) {
		var b [8]byte
		binary.LittleEndian.PutUint64(b[:], uint64(int64(math.Round(v*1000))))
		h.Write(b[:])
	}
	put(stateVersion)
	put(g.Race.Course.Plane.From(orb.Point{}).Lat * 1e4)
	put(g.Race.Course.Plane.From(orb.Point{}).Lon * 1e4)
	for _, s := range g.stations {
		for _, v := range []float64{s.point[0], s.point[1], s.left, s.right} {
			put(v)
		}
	}
	for _, a := range g.arounds {
		put(a.at)
	}
	return hex.EncodeToString(h.Sum(nil)[:12])
}
