package adjust

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/interval"
	"tautline/geo/published"
	"tautline/geo/road"
	"tautline/geo/track"
)

var plane = earth.NewPlane(earth.LatLon{Lat: 47.3, Lon: 8.5})

// drawn makes a course of points in a plane.
func drawn(t interface {
	Helper()
	Fatal(...any)
}, points ...orb.Point) *course.Course {
	t.Helper()
	var f []track.Fix
	for _, p := range points {
		f = append(f, track.Fix{At: plane.From(p), Height: math.NaN()})
	}
	c, err := course.New("test", f)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// block runs 1 km east, 800 m north, 600 m west: two left corners.
func block(t *testing.T) *course.Course {
	return drawn(t, orb.Point{0, 0}, orb.Point{1000, 0}, orb.Point{1000, 800}, orb.Point{400, 800})
}

// outAndBack runs 1 km east, 500 m north to a point, and back.
func outAndBack(t *testing.T) *course.Course {
	return drawn(t, orb.Point{0, 0}, orb.Point{1000, 0}, orb.Point{1000, 500}, orb.Point{1000, 0}, orb.Point{0, 0})
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.4f, want %.4f within %v", what, got, want, within)
	}
}

func TestAWiderRoadAndRounderKerbsShortenTheCornersAndNothingElse(t *testing.T) {
	d := Doubts{Width: 1, Radius: 2}
	s, err := HowSure(block(t), road.Default(), d, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Turns) != 2 || !(s.Wider < 0) || !(s.Narrower > 0) || !(s.Rounder < 0) || !(s.Sharper > 0) {
		t.Fatalf("%+v", s)
	}
	var wider, rounder, length float64
	for _, x := range s.Turns {
		wider, rounder, length = wider+x.Wider, rounder+x.Rounder, length+x.Length
		if !(x.Wider < 0) || !(x.Rounder < 0) || x.Drawing != 0 || !(x.Half > 0) {
			t.Errorf("turn %d: %+v", x.Turn, x)
		}
	}
	near(t, "the turns' shares of a wider road", wider, s.Wider, 1e-6)
	near(t, "the turns' shares of rounder kerbs", rounder, s.Rounder, 1e-6)
	near(t, "the turns' shares of the length", length, s.Line.Length, 1e-6)
	// Two quarter turns round a kerb of radius R + 0.30 replace 2 R x 2 of
	// street by pi/2 R each where the line hugs the kerb: 2 m more radius
	// costs (2 - pi/2) x 2 m a corner at most (closed form).
	if s.Rounder < -2*2*(2-math.Pi/2) {
		t.Errorf("rounder corners save %v m, more than the geometry allows", -s.Rounder)
	}
	if !s.Length.Holds(s.Line.Length) || s.Length.Width() < math.Abs(s.Wider) {
		t.Errorf("%+v", s.Length)
	}
}

func TestTheDoubtOfADrawnCornerFollowsItsDisplacement(t *testing.T) {
	// One right-angle corner moved by (e, n), both ends moved as well with
	// independent errors: the length of an L changes with variance
	// 2 sd^2 (ends along their legs) + 2 sd^2 (the corner), 90 % half width
	// 1.645 x 2 sd.
	c := drawn(t, orb.Point{0, 0}, orb.Point{3000, 0}, orb.Point{3000, 3000})
	s, err := HowSure(c, road.Default(), Doubts{Drawing: 1, Reach: 100, Trials: 400, Seed: 3}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the doubt of the drawing", s.Drawing, 1.645*2, 0.35)
	if s.Trials != 400 || len(s.Notes) != 0 {
		t.Errorf("%d trials, notes %v", s.Trials, s.Notes)
	}
}

func TestARoadRunBothWaysIsDisplacedAlike(t *testing.T) {
	// The turning point and the start move; out and back agree, so the length
	// changes by twice the sum of the parts: sd 2 sqrt(2 + 2) for the L.
	c := outAndBack(t)
	s, err := HowSure(c, road.Default(), Doubts{Drawing: 1, Reach: 60, Trials: 300, Seed: 5}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the doubt of the drawing", s.Drawing, 1.645*4, 0.9)
}

func TestComparisonSaysWhatItCanTell(t *testing.T) {
	s, err := HowSure(block(t), road.Default(), Doubts{Width: 1, Radius: 2}, nil)
	if err != nil {
		t.Fatal(err)
	}
	l := s.Line.Length
	if x := Compare(interval.Normal(l+0.3, 0.3), s); x.Verdict != Agrees && x.Verdict != CannotTell {
		t.Errorf("%+v", x)
	}
	if x := Compare(interval.Normal(l+35, 0.3), s); x.Verdict != Differs || x.Difference.Value < 34.9 {
		t.Errorf("a course 35 m longer than its line: %+v", x)
	}
	vague := *s
	vague.Length = interval.Estimate{Value: l, Low: l - 50, High: l + 50}
	if x := Compare(interval.Normal(l+3, 0.3), &vague); x.Verdict != CannotTell || x.Sure {
		t.Errorf("a map good to 50 m: %+v", x)
	}
}

func TestARestrictionIsWorthWhatItAdds(t *testing.T) {
	// A left bend of 90 degrees on a road 10 m wide kept to its right half:
	// the line moves out from 0.30 m off the inner kerb to the middle line.
	c := block(t)
	spec := road.Default()
	spec.Width, spec.CornerRadius = 10, 0
	spec.Stretches = []road.Stretch{{From: 900, To: 1100, Part: road.RightHalf}}
	w, err := Worths(c, spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(w) != 1 || w[0].Item != road.ItemStretch || w[0].Metres <= 0.5 || len(w[0].Turns) != 1 || w[0].Turns[0] != 1 {
		t.Fatalf("%+v", w)
	}
	free := spec
	free.Stretches = nil
	with, err := lineOf(c, spec)
	if err != nil {
		t.Fatal(err)
	}
	without, err := lineOf(c, free)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the worth", w[0].Metres, with.Length-without.Length, 1e-9)
	if !(w[0].PerMetre > 0 && w[0].PerMetre < w[0].Metres) {
		t.Errorf("a metre more room is worth %v m of %v m", w[0].PerMetre, w[0].Metres)
	}
}

func TestTheDearestRestrictionComesFirst(t *testing.T) {
	spec := road.Default()
	spec.Gates = []road.Gate{{At: 500, From: 3, To: 4}, {At: 1000, From: -3, To: -4}}
	w, err := Worths(block(t), spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(w) != 2 || w[0].Item != road.ItemGate || w[0].Index != 1 || w[0].Metres < w[1].Metres {
		t.Errorf("the gate on the outside of the corner is dearer: %+v", w)
	}
}

func TestARingOfConesIsWorthItsHalfCircleLessTheSpanOfTheRoad(t *testing.T) {
	c := drawn(t, orb.Point{0, 0}, orb.Point{1000, 0}, orb.Point{0, 0})
	spec := road.Default()
	spec.Turnarounds = []road.Turnaround{{At: 1000, Kind: road.RoundCone}}
	w, err := Worths(c, spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	// Round a cone with 0.30 m: pi x 0.30 more than to the point and back.
	if len(w) != 1 {
		t.Fatalf("%+v", w)
	}
	near(t, "the worth of going round a cone", w[0].Metres, math.Pi*0.30, 0.01)
}

// Out and back on a straight street the line goes to the turn and comes back.
func TestATurnAroundAMetreTooEarlyLosesTwo(t *testing.T) {
	straight := drawn(t, orb.Point{0, 0}, orb.Point{1000, 0}, orb.Point{0, 0})
	var dense []orb.Point
	for x := 0.0; x <= 1000; x += 0.8 {
		dense = append(dense, orb.Point{x, 0})
	}
	for x := 999.2; x >= 0; x -= 0.8 {
		dense = append(dense, orb.Point{x, 0})
	}
	// The drawing goes round the place in a loop, 12 m wide.
	loop := []orb.Point{{0, -6}, {994, -6}, {999, -3}, {1000, 0}, {999, 3}, {994, 6}, {0, 6}}
	half := 994 + math.Hypot(5, 3) + math.Hypot(1, 3)
	cases := map[string]struct {
		course *course.Course
		said   []road.Turnaround
	}{
		"a cone":                         {straight, []road.Turnaround{{At: 1000, Kind: road.RoundCone}}},
		"a cone given 10 m off":          {straight, []road.Turnaround{{At: 990, Kind: road.RoundCone}}},
		"a median end":                   {straight, []road.Turnaround{{At: 1000, Kind: road.RoundMedian, Radius: 3}}},
		"a point":                        {straight, []road.Turnaround{{At: 1000}}},
		"a drawing that turns back":      {straight, nil},
		"a cone on a dense drawing":      {drawn(t, dense...), []road.Turnaround{{At: 1000, Kind: road.RoundCone}}},
		"a cone that is drawn as a loop": {drawn(t, loop...), []road.Turnaround{{At: half, Kind: road.RoundCone}}},
	}
	for name, x := range cases {
		spec := road.Default()
		spec.Turnarounds = x.said
		w, err := Worths(x.course, spec, nil)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(w) != 1 || w[0].Item != road.ItemTurnaround || w[0].Index != len(x.said)-1 {
			t.Errorf("%s: %+v", name, w)
			continue
		}
		near(t, name+" a metre earlier", w[0].PerMetre, 2, 0.005)
		if name == "a cone" {
			published.Check(t, published.Figure{Source: "out and back on a straight street", Trust: published.Exact,
				What: "the course's loss when the cone stands 1 m early", Unit: "m", Value: "2.00", Tolerance: 0.005}, w[0].PerMetre)
		}
		if (len(x.said) == 0 || x.said[0].Kind == road.AtPoint) && w[0].Metres != 0 {
			t.Errorf("%s adds %v m to a turn at the point", name, w[0].Metres)
		}
	}
}

// What a metre costs there is what the move that adds metres comes to.
func TestWhatATurnAroundLosesIsWhatMovingItAdds(t *testing.T) {
	c := outAndBack(t)
	spec := road.Default()
	spec.Turnarounds = []road.Turnaround{{At: 1500, Kind: road.RoundCone}}
	w, err := Worths(c, spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	all, err := Options(c, spec, -w[0].PerMetre, nil)
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, o := range all {
		if o.Place == Turnaround {
			found = true
			near(t, "the move", o.Move, -1, 1e-3)
		}
	}
	if !found {
		t.Errorf("no turn-around among %+v", all)
	}
}

func TestTheFirstOfTheListIsTheOneThatMustNotMove(t *testing.T) {
	// The street bends by 22 degrees.
	c := drawn(t, orb.Point{0, 0}, orb.Point{1000, 0}, orb.Point{1500, 200}, orb.Point{1000, 0}, orb.Point{0, 0})
	spec := road.Default()
	spec.Stretches = []road.Stretch{{From: 950, To: 1050, Part: road.RightHalf}}
	spec.Turnarounds = []road.Turnaround{{At: 1000 + math.Hypot(500, 200), Kind: road.RoundCone}}
	w, err := Worths(c, spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(w) != 2 || w[0].Item != road.ItemTurnaround || w[1].Metres <= w[0].Metres || w[1].PerMetre >= w[0].PerMetre {
		t.Errorf("the cone adds less than the lane but loses more by the metre: %+v", w)
	}
	for i := range w[1:] {
		if w[i+1].Loss() > w[i].Loss()+0.01 {
			t.Errorf("%v before %v", w[i], w[i+1])
		}
	}
	// What cannot be moved by metres is lost as a whole.
	spec = road.Default()
	spec.Part = road.RightHalf
	spec.Gates = []road.Gate{{At: 500, From: -3, To: 3}}
	if w, err = Worths(block(t), spec, nil); err != nil {
		t.Fatal(err)
	}
	if len(w) != 2 || w[0].Item != road.ItemSpec || !math.IsNaN(w[0].PerMetre) || w[0].Loss() != math.Abs(w[0].Metres) {
		t.Errorf("%+v", w)
	}
}

func TestADrawnLineHasNoRestrictions(t *testing.T) {
	spec := road.Default()
	spec.CourseIsLine = true
	if _, err := Worths(block(t), spec, nil); !errors.Is(err, ErrLineGiven) {
		t.Errorf("%v", err)
	}
	if _, err := HowSure(block(t), spec, Doubts{}, nil); !errors.Is(err, ErrLineGiven) {
		t.Errorf("%v", err)
	}
}

func TestEveryOptionAddsWhatIsAsked(t *testing.T) {
	c := outAndBack(t)
	base, err := lineOf(c, road.Default())
	if err != nil {
		t.Fatal(err)
	}
	for _, add := range []float64{21.6, -18, 82.2, 0.5} {
		all, err := Options(c, road.Default(), add, nil)
		if err != nil {
			t.Fatal(err)
		}
		if len(all) != 3 {
			t.Fatalf("adding %v m: %d options: %+v", add, len(all), all)
		}
		for _, o := range all {
			near(t, string(o.Place)+": the new length", o.Length, base.Length+add, 1e-3)
			want := add
			if o.Place == Turnaround {
				// Moving a turn-around by x changes the length by 2 x.
				want = add / 2
			}
			near(t, string(o.Place)+": the move", o.Move, want, 0.02)
			near(t, string(o.Place)+": between the positions", earth.Distance(o.From, o.To), math.Abs(o.Move), 0.02)
			if o.Place != Turnaround && o.Beyond != (add > 0) {
				t.Errorf("%s: beyond the drawing %v for %v m", o.Place, o.Beyond, add)
			}
		}
		// The turn-around moves on along its road.
		tip := plane.To(all[2].To)
		near(t, "the turn-around's road", tip[0], 1000, 0.01)
		near(t, "the turn-around", tip[1], 500+add/2, 0.03)
	}
}

func TestADenselyDrawnTurnAroundMovesInAsWell(t *testing.T) {
	var p []orb.Point
	for x := 0.0; x <= 600; x += 2 {
		p = append(p, orb.Point{x, 0})
	}
	for x := 598.0; x >= 0; x -= 2 {
		p = append(p, orb.Point{x, 0})
	}
	all, err := Options(drawn(t, p...), road.Default(), -25, nil)
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, o := range all {
		if o.Place == Turnaround {
			found = true
			near(t, "the move", o.Move, -12.5, 0.02)
			near(t, "the length", o.Length, 1200-25, 0.02)
		}
	}
	if !found {
		t.Errorf("no turn-around among %+v", all)
	}
}

func TestATurnAroundRunOnTwoLapsIsOnePlaceAndCountsFourTimes(t *testing.T) {
	a, b := orb.Point{0, 0}, orb.Point{700, 0}
	all, err := Options(drawn(t, a, b, a, orb.Point{0, 300}, a, b, a, orb.Point{-400, 0}), road.Default(), 20, nil)
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, o := range all {
		if p := plane.To(o.From); o.Place == Turnaround && math.Hypot(p[0]-700, p[1]) < 1 {
			found++
			near(t, "the move", o.Move, 5, 0.02)
		}
	}
	if found != 1 {
		t.Errorf("%d options move the turn-around at 700 m: %+v", found, all)
	}
}

func TestImpossibleAmountsAreRefused(t *testing.T) {
	for _, add := range []float64{math.NaN(), 500, -500, math.Inf(1)} {
		if _, err := Options(block(t), road.Default(), add, nil); !errors.Is(err, ErrAmount) {
			t.Errorf("%v: %v", add, err)
		}
	}
}

// ringed is the length of an out and back round a ring of cones whose centre
// lies a leg away, on a road so wide that the line is straight up to the ring.
func ringed(t interface {
	Helper()
	Fatal(...any)
}, leg, radius float64) float64 {
	t.Helper()
	spec := road.Default()
	spec.Width = 2*radius + 10
	spec.Turnarounds = []road.Turnaround{{At: leg, Kind: road.RoundCone, Radius: radius}}
	l, err := lineOf(drawn(t, orb.Point{0, 0}, orb.Point{leg, 0}, orb.Point{0, 0}), spec)
	if err != nil {
		t.Fatal(err)
	}
	return l.Length
}

// Out c, half circle, back c must come to 2 L: c = L - pi (r + 0.3) / 2.
// Published advice to move the centre in by the whole half circle makes the
// course short by as much (negative test, derived). Source of the half circle:
// measurers' bulletin board, second-hand.
func TestTheSemicircleMovesTheCentreByHalfOfIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		half := rapid.Float64Range(100, 5000).Draw(t, "half")
		r := rapid.Float64Range(0.5, 20).Draw(t, "radius")
		circle := math.Pi * (r + 0.30)
		if d := ringed(t, half-circle/2, r) - 2*half; math.Abs(d) > 0.01 {
			t.Fatalf("off by %v m", d)
		}
		if d := ringed(t, half-circle, r) - 2*half; math.Abs(d+circle) > 0.01 {
			t.Fatalf("the wrong way is off by %v m", d)
		}
	})
	circle := ringed(t, 200, 5) - 2*200
	published.Check(t, published.Figure{Source: "half circle, pi (r + 0.30)", Trust: published.Exact,
		What: "round cones of 5 m radius", Unit: "m", Value: "16.65", Tolerance: 0.005}, circle)
	published.Check(t, published.Figure{Source: "half circle, pi (r + 0.30)", Trust: published.Exact,
		What: "leg of an out and back of 10 km to its centre", Unit: "m", Value: "4991.675", Tolerance: 0.0005}, 5000-circle/2)
}

func TestAMovedConeIsFoundBetweenTwoSheets(t *testing.T) {
	c := block(t)
	a := road.Default()
	a.Gates = []road.Gate{{At: 1000, From: -2, To: -4}}
	b := road.Default()
	b.Gates = []road.Gate{{At: 1000, From: 1, To: -4}}
	before, err := lineOf(c, a)
	if err != nil {
		t.Fatal(err)
	}
	after, err := lineOf(c, b)
	if err != nil {
		t.Fatal(err)
	}
	x := BeforeAfter(before, c.Plane, after, c.Plane, 0)
	if len(x.Pieces) != 1 || len(x.Pieces[0].Turns) == 0 || x.Pieces[0].Turns[0] != 1 {
		t.Fatalf("%+v", x)
	}
	p := x.Pieces[0]
	near(t, "the piece", p.Metres, after.Length-before.Length, 0.02)
	near(t, "what is left", x.Elsewhere, 0, 0.02)
	if p.Metres >= 0 || p.From > 1000 || p.To < 1000 || p.Apart < 1 {
		t.Errorf("%+v", p)
	}
}

func TestADivertedStreetIsFoundBetweenTwoDrawings(t *testing.T) {
	before := drawn(t, orb.Point{0, 0}, orb.Point{2000, 0}, orb.Point{2000, 1000}, orb.Point{0, 1000})
	// From 600 to 1400 m the race now goes round by a street 150 m south.
	after := drawn(t, orb.Point{0, 0}, orb.Point{600, 0}, orb.Point{600, -150}, orb.Point{1400, -150}, orb.Point{1400, 0},
		orb.Point{2000, 0}, orb.Point{2000, 1000}, orb.Point{0, 1000})
	a, err := lineOf(before, road.Default())
	if err != nil {
		t.Fatal(err)
	}
	b, err := lineOf(after, road.Default())
	if err != nil {
		t.Fatal(err)
	}
	x := BeforeAfter(a, before.Plane, b, after.Plane, 1)
	if len(x.Pieces) != 1 {
		t.Fatalf("%d pieces: %+v", len(x.Pieces), x)
	}
	p := x.Pieces[0]
	near(t, "all of the difference", p.Metres, x.Metres, 0.1)
	if p.Metres < 260 || p.Metres > 300 || p.From > 620 || p.To < 1380 || p.To > 2000 || len(p.Turns) != 0 || len(p.NewTurns) != 4 {
		t.Errorf("%+v", p)
	}
}

func TestALineAgreesWithItself(t *testing.T) {
	for name, c := range map[string]*course.Course{"block": block(t), "out and back": outAndBack(t)} {
		l, err := lineOf(c, road.Default())
		if err != nil {
			t.Fatal(err)
		}
		if x := BeforeAfter(l, c.Plane, l, c.Plane, 0); len(x.Pieces) != 0 || x.Metres != 0 {
			t.Errorf("%s: %+v", name, x)
		}
	}
}

// Roads that differ from the stated one as Doubts says have their line inside
// the interval nine times in ten.
func TestTheDoubtHoldsTheTruthNineTimesInTen(t *testing.T) {
	c := drawn(t, orb.Point{0, 0}, orb.Point{600, 0}, orb.Point{600, 400}, orb.Point{1100, 400}, orb.Point{1100, -300}, orb.Point{200, -300})
	d := Doubts{Width: 1, Radius: 2, Drawing: 1, Reach: 100, Trials: 40, Seed: 11}
	s, err := HowSure(c, road.Default(), d, nil)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(23, 1))
	held, total := 0, 300
	for range total {
		f := newField(rng, d.Drawing, d.Reach)
		spec := road.Default().Vary(rng.NormFloat64()*d.Width/interval.Z90, rng.NormFloat64()*d.Radius/interval.Z90)
		truth, spec, err := redraw(c, spec, func(_ int, p orb.Point) orb.Point {
			e := f.at(p)
			return orb.Point{p[0] + e[0], p[1] + e[1]}
		})
		if err != nil {
			t.Fatal(err)
		}
		l, err := lineOf(truth, spec)
		if err != nil {
			t.Fatal(err)
		}
		if s.Length.Holds(l.Length) {
			held++
		}
	}
	if share := float64(held) / float64(total); share < 0.82 || share > 0.98 {
		t.Errorf("the interval holds the truth in %.1f %% of %d roads (seed 23)", 100*share, total)
	}
}
