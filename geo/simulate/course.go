package simulate

import (
	"math"
	"math/rand/v2"

	"github.com/paulmach/orb"

	"tautline/geo/earth"
	"tautline/geo/track"
)

// Kind is a kind of invented course.
type Kind int

// The kinds of course.
const (
	Corners    Kind = iota // street corners of about 90°, drawn as single vertices
	Bends                  // bends of various radii, drawn as short chords
	Turnbacks              // legs that end in a turn by 180° on the spot
	OutAndBack             // corners and bends out, the same way back
	Laps                   // two to four laps of a loop
	Mixed                  // some of all
)

func (k Kind) String() string {
	return [...]string{"street corners", "bends", "turn-arounds", "out and back", "laps", "mixed"}[k]
}

// Kinds lists all kinds of course.
func Kinds() []Kind { return []Kind{Corners, Bends, Turnbacks, OutAndBack, Laps, Mixed} }

// Course is an invented course as somebody would draw it.
type Course struct {
	Kind         Kind
	Plane        earth.Plane
	Line         orb.LineString // the drawn centreline, m in Plane
	Width        float64        // m, kerb to kerb
	CornerRadius float64        // m, of the kerb at street corners
	// Turnbacks are the chainages, m along Line, of vertices where the course
	// turns back on itself.
	Turnbacks []float64
}

// midOcean is where invented courses lie: there is nothing there.
var midOcean = earth.LatLon{Lat: 47.25, Lon: -27.5}

// Fixes is the drawing as positions on the earth, without heights and times.
func (c Course) Fixes() []track.Fix {
	out := make([]track.Fix, len(c.Line))
	for i, p := range c.Line {
		out[i] = track.Fix{At: c.Plane.From(p), Height: math.NaN()}
	}
	return out
}

// Length of the drawn line, m.
func (c Course) Length() float64 { return lengthOf(c.Line) }

// RandomCourse invents a course of a kind and a length in metres (at least
// 400; kept within a metre). Its road is 6 to 12 m wide and its kerbs turn
// corners with a radius of 3 to 8 m.
func RandomCourse(kind Kind, length float64, rng *rand.Rand) Course {
	length = max(length, 400)
	c := Course{
		Kind: kind, Plane: earth.NewPlane(midOcean),
		Width: uniform(rng, 6, 12), CornerRadius: uniform(rng, 3, 8),
	}
	p := &pen{heading: uniform(rng, -math.Pi, math.Pi), rng: rng}
	p.line = orb.LineString{{}}
	switch kind {
	case Corners:
		p.draw(length, p.street)
	case Bends:
		p.draw(length, p.bend)
	case Turnbacks:
		p.draw(length, p.shuttle)
	case OutAndBack:
		p.draw(length/2, p.any)
		p.goBack()
	case Laps:
		p.laps(length, 2+rng.IntN(3))
	default:
		p.draw(length*0.8, p.any)
		// A spur, out and back, at the end.
		p.draw(length*0.1, p.street)
		p.turnback()
		p.draw(length*0.1, p.street)
	}
	c.Line = centred(p.line)
	chainage := 0.0
	for i := 1; i < len(c.Line); i++ {
		for _, t := range p.turnbacks {
			if t == i-1 {
				c.Turnbacks = append(c.Turnbacks, chainage)
			}
		}
		chainage += distance(c.Line[i-1], c.Line[i])
	}
	return c
}

// centred moves a line so that its bounding box surrounds the origin.
func centred(line orb.LineString) orb.LineString {
	middle := line.Bound().Center()
	out := make(orb.LineString, len(line))
	for i, p := range line {
		out[i] = minus(p, middle)
	}
	return out
}

// pen draws a line piece by piece.
type pen struct {
	line      orb.LineString
	heading   float64 // rad
	length    float64 // m drawn by the current draw
	turnbacks []int   // vertex numbers
	rng       *rand.Rand
}

// draw adds pieces until the length is reached and ends there, with a last leg
// of at least 20 m: one that would be shorter is given to the leg before.
func (p *pen) draw(length float64, piece func()) {
	const shortest = 20 // m
	p.length = 0
	first := len(p.line)
	for p.length < length {
		piece()
	}
	for {
		n := len(p.line)
		a, b := p.line[n-2], p.line[n-1]
		d := distance(a, b)
		if left := d - (p.length - length); left >= shortest || n == first+1 {
			f := left / d
			p.line[n-1] = orb.Point{a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])}
			p.heading = math.Atan2(b[1]-a[1], b[0]-a[0])
			p.length = length
			break
		}
		p.line = p.line[:n-1]
		p.length -= d
	}
	for k := len(p.turnbacks); k > 0 && p.turnbacks[k-1] >= len(p.line)-1; k-- {
		p.turnbacks = p.turnbacks[:k-1] // an end cannot be a turn
	}
}

func (p *pen) ahead(d float64) {
	sin, cos := math.Sincos(p.heading)
	last := p.line[len(p.line)-1]
	p.line = append(p.line, orb.Point{last[0] + d*cos, last[1] + d*sin})
	p.length += d
}

func (p *pen) side() float64 {
	if p.rng.IntN(2) == 0 {
		return -1
	}
	return 1
}

// street is a straight and a corner in one vertex, mostly near 90°.
func (p *pen) street() {
	p.ahead(uniform(p.rng, 60, 400))
	angle := 90 + 6*p.rng.NormFloat64()
	if p.rng.IntN(4) == 0 {
		angle = uniform(p.rng, 30, 125)
	}
	p.heading += p.side() * angle * math.Pi / 180
}

// bend is a straight and an arc drawn in chords.
func (p *pen) bend() {
	p.ahead(uniform(p.rng, 30, 300))
	radius := 12 * math.Pow(15, p.rng.Float64()) // 12 to 180 m
	p.arc(radius, p.side()*uniform(p.rng, 20, 160)*math.Pi/180)
}

func (p *pen) arc(radius, angle float64) {
	// Chords that leave the arc by at most 10 cm, as a careful hand draws.
	step := 2 * math.Acos(1-min(0.1/radius, 1))
	n := int(math.Ceil(math.Abs(angle) / step))
	step = angle / float64(n)
	chord := 2 * radius * math.Sin(math.Abs(step)/2)
	for range n {
		p.heading += step / 2
		p.ahead(chord)
		p.heading += step / 2
	}
}

// shuttle is a straight, sometimes with a bend, and a turn on the spot.
func (p *pen) shuttle() {
	p.ahead(uniform(p.rng, 150, 600))
	if p.rng.IntN(2) == 0 {
		p.street()
		p.ahead(uniform(p.rng, 60, 300))
	}
	p.turnback()
}

func (p *pen) turnback() {
	n := len(p.line)
	p.turnbacks = append(p.turnbacks, n-1)
	back := minus(p.line[n-2], p.line[n-1])
	p.heading = math.Atan2(back[1], back[0])
}

// any is a street, a bend or two bends that make an S.
func (p *pen) any() {
	switch p.rng.IntN(5) {
	case 0, 1:
		p.street()
	case 2, 3:
		p.bend()
	default:
		p.ahead(uniform(p.rng, 40, 200))
		side := p.side()
		p.arc(uniform(p.rng, 15, 60), side*uniform(p.rng, 0.4, 1.6))
		p.ahead(uniform(p.rng, 5, 40))
		p.arc(uniform(p.rng, 15, 60), -side*uniform(p.rng, 0.4, 1.6))
	}
}

// goBack turns on the spot and draws everything backwards.
func (p *pen) goBack() {
	p.turnbacks = append(p.turnbacks, len(p.line)-1)
	for i := len(p.line) - 2; i >= 0; i-- {
		p.line = append(p.line, p.line[i])
	}
}

// laps draws a loop of corners and bends and runs it several times. The start
// lies in the middle of a straight.
func (p *pen) laps(length float64, laps int) {
	// A rough circle of vertices; some are street corners, some are rounded.
	n := 5 + p.rng.IntN(4)
	ring := make(orb.LineString, n)
	for i := range ring {
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + uniform(p.rng, -0.2, 0.2)) / float64(n))
		r := uniform(p.rng, 0.75, 1.25)
		ring[i] = orb.Point{r * cos, r * sin}
	}
	round := make([]float64, n) // share of the radius that rounds the vertex
	for i := range round {
		if p.rng.IntN(2) == 0 {
			round[i] = uniform(p.rng, 0.05, 0.15)
		}
	}
	scale := length / float64(laps) / 6
	var loop orb.LineString
	for range 4 { // the rounding does not scale with the chords' number, so repeat
		loop = p.ring(ring, round, scale)
		scale *= length / float64(laps) / lengthOf(loop)
	}
	p.line = p.line[:0]
	for i := range laps {
		if i > 0 {
			p.line = append(p.line, loop[1:]...)
		} else {
			p.line = append(p.line, loop...)
		}
	}
}

// ring draws a closed loop from the middle of its first side back to there.
func (p *pen) ring(ring orb.LineString, round []float64, scale float64) orb.LineString {
	n := len(ring)
	vertex := func(i int) orb.Point { return orb.Point{ring[i%n][0] * scale, ring[i%n][1] * scale} }
	a, b := vertex(0), vertex(1)
	first := orb.Point{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2}
	q := pen{line: orb.LineString{first}, rng: p.rng}
	for i := 1; i <= n; i++ {
		a, b, c := q.line[len(q.line)-1], vertex(i), vertex(i+1)
		in, out := math.Atan2(b[1]-a[1], b[0]-a[0]), math.Atan2(c[1]-b[1], c[0]-b[0])
		turn := math.Remainder(out-in, 2*math.Pi)
		q.heading = in
		radius := round[i%n] * scale
		cut := radius * math.Tan(math.Abs(turn)/2)
		q.ahead(distance(a, b) - cut)
		if radius > 0 {
			q.arc(radius, turn)
		}
	}
	return append(q.line, first)
}
