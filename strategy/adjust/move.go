package adjust

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/geo/track"
)

// Place that can move.
type Place string

// Places.
const (
	Start      Place = "start"
	Finish     Place = "finish"
	Turnaround Place = "turn-around"
)

// Option is one way to add (or, with a negative number, remove) metres.
type Option struct {
	Place Place
	At    float64 // chainage of the place now, m along the drawing
	// Move is how far the place moves along the road, m: outwards, which
	// lengthens the course, positive. At a turn-around half of what is added,
	// shared among the laps that run it.
	Move     float64
	From, To earth.LatLon
	Length   float64 // of the line afterwards, worked out again, m
	Beyond   bool    // the new place lies beyond the drawing, which was continued straight on
	Marks    string  // what happens to the marks
	Action   string  // plain words
}

// Errors of Options.
var (
	ErrAmount = errors.New("the metres to add or remove must be a number of at most a tenth of the course")
	ErrMove   = errors.New("the place cannot be moved so that the length comes out")
)

// Options gives the ways to add metres to the line, or remove them with a
// negative number: at the start, at the finish, and at every turn-around that
// the drawing shows as one point. Every option is checked by working out the
// line again. Options that cannot be worked out are left out.
func Options(c *course.Course, spec road.Spec, add float64, watch Watch) ([]Option, error) {
	base, err := lineOf(c, spec)
	if err != nil {
		return nil, err
	}
	if math.IsNaN(add) || math.Abs(add) > base.Length/10 {
		return nil, ErrAmount
	}
	goal := base.Length + add
	var all []Option
	if o, err := moveEnd(c, spec, base, Start, goal, add); err == nil {
		all = append(all, o)
	}
	if o, err := moveEnd(c, spec, base, Finish, goal, add); err == nil {
		all = append(all, o)
	}
	tips := tipsOf(c, spec)
	step := watch.count(1 + len(tips))
	step()
	for _, t := range tips {
		if o, err := moveTip(c, spec, base, t, goal, add); err == nil {
			all = append(all, o)
		}
		step()
	}
	if len(all) == 0 {
		return nil, ErrMove
	}
	return all, nil
}

// tipsOf gives the points at which the drawing turns back between start and
// finish, those of one place on the road together.
func tipsOf(c *course.Course, spec road.Spec) [][]int {
	finish := finishOf(c, spec)
	var tips [][]int
	for i := 1; i+1 < len(c.Points); i++ {
		if c.Chainage[i] <= spec.StartAt || c.Chainage[i] >= finish || !reverses(c, i) {
			continue
		}
		// A turn-around run on every lap is one place on the road.
		known := false
		for k := range tips {
			p, q := c.Points[tips[k][0]], c.Points[i]
			if math.Hypot(p[0]-q[0], p[1]-q[1]) < 2 {
				tips[k], known = append(tips[k], i), true
				break
			}
		}
		if !known {
			tips = append(tips, []int{i})
		}
	}
	return tips
}

// reverses tells whether the drawing turns back at a point, by 170 degrees or
// more.
func reverses(c *course.Course, i int) bool {
	a, b, d := c.Points[i-1], c.Points[i], c.Points[i+1]
	ux, uy, vx, vy := b[0]-a[0], b[1]-a[1], d[0]-b[0], d[1]-b[1]
	cos := (ux*vx + uy*vy) / math.Hypot(ux, uy) / math.Hypot(vx, vy)
	return cos < math.Cos(170*math.Pi/180)
}

// until finds the move that brings the line to a length, by secants. length
// gives the length for a move.
func until(goal, first, slope float64, length func(float64) (float64, error)) (move, got float64, err error) {
	move = first
	var lastMove, lastGot float64
	for n := range 12 {
		if got, err = length(move); err != nil {
			return 0, 0, err
		}
		if math.Abs(got-goal) < 1e-4 {
			return move, got, nil
		}
		if n > 0 && move != lastMove {
			if s := (got - lastGot) / (move - lastMove); s > slope/4 && s < slope*4 {
				slope = s
			}
		}
		lastMove, lastGot = move, got
		move += (goal - got) / slope
	}
	return 0, 0, ErrMove
}

// moveEnd moves the start back or the finish on.
func moveEnd(c *course.Course, spec road.Spec, base *taut.Line, which Place, goal, add float64) (Option, error) {
	finish := finishOf(c, spec)
	// Room beyond the drawing, straight on.
	spare := math.Max(0, 2*add) + 20
	long, shift, err := extend(c, spare)
	if err != nil {
		return Option{}, err
	}
	at := func(x float64) float64 { return x + shift }
	s := moved(spec, at, c.Plane, long.Plane)
	s.FinishAt = at(finish)
	place := func(move float64) road.Spec {
		t := clone(s)
		if which == Start {
			t.StartAt = at(spec.StartAt) - move
		} else {
			t.FinishAt = at(finish) + move
		}
		return t
	}
	// The line of the continued drawing ends at the same lines but may reach
	// them from another side of the road; both are taken on the same footing.
	same, err := lineOf(long, place(0))
	if err != nil {
		return Option{}, err
	}
	goal += same.Length - base.Length
	move, got, err := until(goal, add, 1, func(m float64) (float64, error) {
		l, err := lineOf(long, place(m))
		if err != nil {
			return 0, err
		}
		return l.Length, nil
	})
	if err != nil {
		return Option{}, err
	}
	o := Option{Place: which, Move: move, Length: got - same.Length + base.Length}
	if which == Start {
		o.At = spec.StartAt
		o.From, o.To = long.Plane.From(long.At(at(o.At))), long.Plane.From(long.At(at(o.At)-move))
		o.Beyond = o.At-move < -0.005
		o.Action = fmt.Sprintf("move the start line %s by %.2f m", pick(move >= 0, "back, away from the finish,", "forward"), math.Abs(move))
		o.Marks = fmt.Sprintf("every mark moves %.2f m %s", math.Abs(add), pick(add >= 0, "back towards the start", "forward"))
	} else {
		o.At = finish
		o.From, o.To = long.Plane.From(long.At(at(finish))), long.Plane.From(long.At(at(finish)+move))
		o.Beyond = finish+move > c.Length()+0.005
		o.Action = fmt.Sprintf("move the finish line %s by %.2f m", pick(move >= 0, "on", "back"), math.Abs(move))
		o.Marks = "the marks stay"
	}
	return o, nil
}

func pick(yes bool, a, b string) string {
	if yes {
		return a
	}
	return b
}

// extend continues a drawing straight on at both ends and gives by how much
// chainages grow.
func extend(c *course.Course, by float64) (*course.Course, float64, error) {
	n := len(c.Points)
	fixes := make([]track.Fix, 0, n+2)
	fixes = append(fixes, track.Fix{At: c.Plane.From(c.At(-by)), Height: c.Heights[0]})
	for i, p := range c.Points {
		fixes = append(fixes, track.Fix{At: c.Plane.From(p), Height: c.Heights[i]})
	}
	fixes = append(fixes, track.Fix{At: c.Plane.From(c.At(c.Length() + by)), Height: c.Heights[n-1]})
	d, err := course.New(c.Name, fixes)
	if err != nil {
		return nil, 0, err
	}
	if len(d.Points) != n+2 {
		return nil, 0, ErrMove
	}
	return d, d.Chainage[1], nil
}

// beyond is the place d metres beyond a point of the drawing in the direction
// in which it is reached, or on the way there where d is below zero.
func beyond(c *course.Course, i int, d float64) orb.Point {
	if d <= 0 {
		return c.At(c.Chainage[i] + d)
	}
	a, b := c.Points[i-1], c.Points[i]
	h := math.Hypot(b[0]-a[0], b[1]-a[1])
	return orb.Point{b[0] + d*(b[0]-a[0])/h, b[1] + d*(b[1]-a[1])/h}
}

// shiftTip gives the course with the turning point i moved out by d along the
// way it is reached, or in by -d, and the spec moved along.
func shiftTip(c *course.Course, spec road.Spec, i int, d float64) (*course.Course, road.Spec, error) {
	tip := c.Chainage[i]
	in := math.Max(0, -d)
	var fixes []track.Fix
	turned := -1
	for k, p := range c.Points {
		switch x := c.Chainage[k]; {
		case k == i:
			turned = len(fixes)
			fixes = append(fixes, track.Fix{At: c.Plane.From(beyond(c, i, d)), Height: c.Heights[k]})
		case math.Abs(x-tip) > in+0.02:
			fixes = append(fixes, track.Fix{At: c.Plane.From(p), Height: c.Heights[k]})
		}
	}
	m, err := course.New(c.Name, fixes)
	if err != nil {
		return nil, spec, err
	}
	if len(m.Points) != len(fixes) || turned < 1 || turned+1 >= len(fixes) {
		return nil, spec, ErrMove
	}
	at := func(x float64) float64 {
		switch {
		case math.Abs(x-tip) <= in+1e-6:
			return m.Chainage[turned]
		case x > tip:
			return x + m.Length() - c.Length()
		}
		return x
	}
	return m, moved(spec, at, c.Plane, m.Plane), nil
}

// turnReach is how far a turn-around of a spec may be from its turning point, m:
// package road looks for it as far.
const turnReach = 15.0

// bendAt gives the first and the last point of the bend in which the drawing
// turns back near a chainage: one point, or several where the turn is drawn as
// a loop. The legs before and after it run against each other, within 30
// degrees.
func bendAt(c *course.Course, at float64) (first, last int, found bool) {
	const longest = 40.0 // m on either side, as far as a loop is no street of its own
	last0 := len(c.Points) - 1
	for i := 1; i < last0; i++ { // the turning point nearest to the place
		if off := math.Abs(c.Chainage[i] - at); reverses(c, i) && off < turnReach && (!found || off < math.Abs(c.Chainage[first]-at)) {
			first, last, found = i, i, true
		}
	}
	if found {
		return first, last, true
	}
	shortest := math.Inf(1)
	for i := 1; i < last0; i++ {
		if c.Chainage[i] < at-longest || c.Chainage[i] > at+turnReach {
			continue
		}
		for j := i; j < last0 && c.Chainage[j] <= at+longest; j++ {
			if c.Chainage[j] < at-turnReach || !against(c, i, j) {
				continue
			}
			if l := c.Chainage[j] - c.Chainage[i]; l < shortest {
				first, last, found, shortest = i, j, true, l
			}
		}
	}
	return first, last, found
}

// against tells whether the leg that ends at point i and the leg that begins at
// point j run against each other.
func against(c *course.Course, i, j int) bool {
	a, b, d, e := c.Points[i-1], c.Points[i], c.Points[j], c.Points[j+1]
	ux, uy, vx, vy := b[0]-a[0], b[1]-a[1], e[0]-d[0], e[1]-d[1]
	return (ux*vx+uy*vy)/math.Hypot(ux, uy)/math.Hypot(vx, vy) < math.Cos(150*math.Pi/180)
}

// turnEarlier gives the course that turns back by metres earlier than at a
// chainage, and the spec moved along.
func turnEarlier(c *course.Course, spec road.Spec, at, by float64) (*course.Course, road.Spec, error) {
	first, last, found := bendAt(c, at)
	switch {
	case !found:
		return nil, spec, ErrMove
	case first == last:
		return shiftTip(c, spec, first, -by)
	}
	from, to := c.Chainage[first], c.Chainage[last]
	back := c.At(from - by) // along the way there, which is the way the bend moves
	dx, dy := back[0]-c.Points[first][0], back[1]-c.Points[first][1]
	var fixes []track.Fix
	var begin int
	for k, p := range c.Points {
		switch x := c.Chainage[k]; {
		case k == first:
			begin = len(fixes)
			fallthrough
		case k > first && k <= last:
			p = orb.Point{p[0] + dx, p[1] + dy}
		case k < first && x > from-by-0.02, k > last && x < to+by+0.02: // on the way that is no longer run
			continue
		}
		fixes = append(fixes, track.Fix{At: c.Plane.From(p), Height: c.Heights[k]})
	}
	m, err := course.New(c.Name, fixes)
	if err != nil {
		return nil, spec, err
	}
	if len(m.Points) != len(fixes) {
		return nil, spec, ErrMove
	}
	newFrom, newTo := m.Chainage[begin], m.Chainage[begin+last-first]
	place := func(x float64) float64 {
		switch {
		case x < from:
			return math.Min(x, newFrom)
		case x <= to:
			return math.Min(newFrom+x-from, newTo)
		}
		return math.Max(newTo, x+m.Length()-c.Length())
	}
	return m, moved(spec, place, c.Plane, m.Plane), nil
}

// moveTip moves a turn-around out or in, on every lap that has it.
func moveTip(c *course.Course, spec road.Spec, base *taut.Line, tips []int, goal, add float64) (Option, error) {
	times := 2 * float64(len(tips))
	move, got, err := until(goal, add/times, times, func(d float64) (float64, error) {
		m, s := c, spec
		for k := len(tips) - 1; k >= 0; k-- { // from the last: the points before a tip keep their numbers
			var err error
			if m, s, err = shiftTip(m, s, tips[k], d); err != nil {
				return 0, err
			}
		}
		l, err := lineOf(m, s)
		if err != nil {
			return 0, err
		}
		return l.Length, nil
	})
	if err != nil {
		return Option{}, err
	}
	i := tips[0]
	o := Option{
		Place: Turnaround, At: c.Chainage[i], Move: move, Length: got, Beyond: move > 0,
		From: c.Plane.From(c.Points[i]), To: c.Plane.From(beyond(c, i, move)),
		Action: fmt.Sprintf("move the turn-around %s by %.2f m, which counts twice", pick(move >= 0, "out", "in"), math.Abs(move)),
		Marks:  fmt.Sprintf("the marks after it move %.2f m %s; those before it stay", math.Abs(add), pick(add >= 0, "back towards the turn-around", "forward")),
	}
	if n := len(tips); n > 1 {
		o.Action += fmt.Sprintf(" on each of %d laps", n)
		o.Marks = fmt.Sprintf("the marks after it move %.2f m %s for each time it has been run; those before it stay", math.Abs(add)/float64(n), pick(add >= 0, "back towards the turn-around", "forward"))
	}
	return o, nil
}
