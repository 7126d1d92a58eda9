package adjust

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tautline/geo/course"
	"tautline/geo/road"
	"tautline/geo/taut"
)

// Worth is what a restriction adds to the length: by so much the course is
// short when it is not there on race day.
type Worth struct {
	Item     road.Item
	Index    int // in its list of the spec, -1 for the part of the road used throughout
	From, To float64
	At       float64 // chainage of its middle
	Metres   float64 // length with it less length without it
	// PerMetre is how much shorter the course gets when its cones or its line
	// leave one metre more room, or when a turn-around stands one metre too
	// early along the drawn course, on the one lap that it is listed for; NaN
	// when that cannot be worked out.
	PerMetre float64
	Turns    []int  // turns within it or next to it
	What     string // plain words
}

// Loss is what to order restrictions by: what is lost when this one stands a
// metre out of place or, where that is not known, when it is not there, m.
func (w Worth) Loss() float64 {
	if math.IsNaN(w.PerMetre) {
		return math.Abs(w.Metres)
	}
	return math.Abs(w.PerMetre)
}

// Worths gives the worth of every restriction, and first those that lose most
// when they stand wrong. Widths, corner kerbs and drawn kerbs are the road
// itself and no restriction. A turn to a point adds nothing, for the others are
// compared with it, but it loses as much as they when it comes too early; so
// does a point at which only the drawing turns back, which has Index -1.
func Worths(c *course.Course, spec road.Spec, watch Watch) ([]Worth, error) {
	if spec.CourseIsLine {
		return nil, ErrLineGiven
	}
	base, err := lineOf(c, spec)
	if err != nil {
		return nil, err
	}
	all := restrictions(c, spec)
	step := watch.count(1 + len(all))
	step()
	var worths []Worth
	for _, r := range all {
		w := r.Worth
		if r.without != nil {
			l, err := lineOf(c, *r.without)
			if err != nil {
				return nil, fmt.Errorf("the course without %s: %w", r.name(), err)
			}
			w.Metres = base.Length - l.Length
		}
		w.PerMetre = math.NaN()
		if r.looser != nil {
			if l, err := r.looser(); err == nil {
				w.PerMetre = base.Length - l.Length
			}
		}
		w.At = (w.From + w.To) / 2
		w.Turns = turnsNear(base, w.From, w.To)
		worths = append(worths, w)
		step()
	}
	// Laps that lose alike stay in the order in which they are run: what lines
	// differ by below a centimetre is arithmetic.
	cm := func(m float64) float64 { return math.Round(100 * m) }
	slices.SortStableFunc(worths, func(a, b Worth) int {
		return cmp.Or(cmp.Compare(cm(b.Loss()), cm(a.Loss())), cmp.Compare(cm(math.Abs(b.Metres)), cm(math.Abs(a.Metres))))
	})
	return worths, nil
}

// restriction is one of a race, and the race without it.
type restriction struct {
	Worth                              // what, where
	without *road.Spec                 // nil where it adds nothing
	looser  func() (*taut.Line, error) // with one metre more room; nil where nothing can be loosened
}

// name is what messages call it.
func (r restriction) name() string {
	if r.Index < 0 {
		return r.What
	}
	return fmt.Sprintf("%s %d", r.Item, r.Index+1)
}

// restrictions lists those of a race, in the order of its Spec.
func restrictions(c *course.Course, spec road.Spec) []restriction {
	var all []restriction
	add := func(w Worth, without road.Spec, looser *road.Spec) {
		r := restriction{Worth: w, without: &without}
		if looser != nil {
			r.looser = func() (*taut.Line, error) { return lineOf(c, *looser) }
		}
		all = append(all, r)
	}
	if spec.Part == road.RightHalf || spec.Part == road.LeftHalf {
		without := clone(spec)
		without.Part = road.Whole
		add(Worth{Item: road.ItemSpec, Index: -1, From: spec.StartAt, To: finishOf(c, spec), What: fmt.Sprintf("running on the %v all the way", spec.Part)}, without, nil)
	}
	for i, s := range spec.Stretches {
		part := s.Part // lane edges hold only with Part Lane
		if part == road.AutoPart || part == road.Whole {
			continue
		}
		without := clone(spec)
		t := &without.Stretches[i]
		t.Part, t.LaneLeft, t.LaneRight = road.AutoPart, nil, nil
		t.LeftEdge, t.RightEdge = road.AutoEdge, road.AutoEdge
		looser := clone(spec)
		loosen(&looser.Stretches[i], part)
		add(Worth{Item: road.ItemStretch, Index: i, From: s.From, To: s.To, What: fmt.Sprintf("the %v on this stretch", part)}, without, &looser)
	}
	for i, g := range spec.Gates {
		without := clone(spec)
		without.Gates = slices.Delete(without.Gates, i, i+1)
		looser := clone(spec)
		looser.Gates[i].From, looser.Gates[i].To = math.Max(g.From, g.To)+1, math.Min(g.From, g.To)-1
		add(Worth{Item: road.ItemGate, Index: i, From: g.At, To: g.At, What: "the gate"}, without, &looser)
	}
	return append(all, turnarounds(c, spec)...)
}

// turnarounds are those of the spec, then those of the drawing alone.
func turnarounds(c *course.Course, spec road.Spec) []restriction {
	var all []restriction
	add := func(w Worth, without *road.Spec) {
		w.Item, w.To = road.ItemTurnaround, w.From
		all = append(all, restriction{w, without, func() (*taut.Line, error) {
			m, s, err := turnEarlier(c, spec, w.From, 1)
			if err != nil {
				return nil, err
			}
			return lineOf(m, s)
		}})
	}
	for i, t := range spec.Turnarounds {
		w := Worth{Index: i, From: t.At, What: "turning at the point"}
		if t.Kind == road.AtPoint {
			add(w, nil)
			continue
		}
		without := clone(spec)
		without.Turnarounds = slices.Delete(without.Turnarounds, i, i+1)
		w.What = "going round the cone or median end instead of turning at the point"
		add(w, &without)
	}
	for _, i := range slices.Sorted(slices.Values(slices.Concat(tipsOf(c, spec)...))) {
		at := c.Chainage[i]
		if !slices.ContainsFunc(spec.Turnarounds, func(t road.Turnaround) bool { return math.Abs(t.At-at) < turnReach }) {
			add(Worth{Index: -1, From: at, What: "turning at the point, where the drawing turns back"}, nil)
		}
	}
	return all
}

// loosen gives a restricted stretch one metre more room at the edges that
// restrict it.
func loosen(s *road.Stretch, part road.Part) {
	switch part {
	case road.RightHalf:
		s.Part, s.LaneLeft, s.LaneRight = road.Lane, new(middleOf(s)+1), nil
		if s.LeftEdge == road.AutoEdge {
			s.LeftEdge = road.PaintedLine
		}
	case road.LeftHalf:
		s.Part, s.LaneLeft, s.LaneRight = road.Lane, nil, new(middleOf(s)-1)
		if s.RightEdge == road.AutoEdge {
			s.RightEdge = road.PaintedLine
		}
	default:
		if s.LaneLeft != nil {
			s.LaneLeft = new(*s.LaneLeft + 1)
		}
		if s.LaneRight != nil {
			s.LaneRight = new(*s.LaneRight - 1)
		}
	}
}

// middleOf is where the halves of a stretch meet.
func middleOf(s *road.Stretch) float64 {
	if s.Left != nil && s.Right != nil {
		return (*s.Left + *s.Right) / 2
	}
	return 0
}

// turnsNear gives the turns whose middle lies within a piece of the course or
// 15 m either side of it.
func turnsNear(l *taut.Line, from, to float64) []int {
	var n []int
	for _, t := range l.Turns {
		if t.CourseAt >= from-15 && t.CourseAt <= to+15 {
			n = append(n, t.Number)
		}
	}
	return n
}
