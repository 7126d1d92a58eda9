package adjust

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/paulmach/orb"

	"tautline/geo/course"
	"tautline/geo/interval"
	"tautline/geo/road"
	"tautline/geo/taut"
	"tautline/strategy/quantity"
)

// Doubts say how well the map is known. All are metres. The zero value is
// replaced by UsualDoubts.
type Doubts struct {
	Width   float64 // 90 % half width of the road's width, kerb to kerb
	Radius  float64 // 90 % half width of the radius of corner kerbs
	Drawing float64 // standard deviation of the drawn course, east and north
	Reach   float64 // distance over which the drawing errs alike
	Trials  int     // random drawings
	Seed    uint64
}

// UsualDoubts are those of a course drawn by hand over an aerial picture:
// 1 m of width, 2 m of radius, 1 m of drawing that errs alike over 100 m.
// Common practice, not a published figure; say better ones when known.
func UsualDoubts() Doubts {
	return Doubts{Width: 1, Radius: 2, Drawing: 1, Reach: 100, Trials: 24, Seed: 1}
}

// check says what is wrong with the doubts, as an *inputerr.Error, or nil.
func (d Doubts) check() error {
	return quantity.CheckAll([]quantity.Limit{
		{What: "the doubt of the width", Is: d.Width, Low: 0, High: 1000, Show: quantity.InMetres},
		{What: "the doubt of the corner radius", Is: d.Radius, Low: 0, High: 1000, Show: quantity.InMetres},
		{What: "the error of the drawing", Is: d.Drawing, Low: 0, High: 1000, Show: quantity.InMetres},
		{What: "the distance over which the drawing errs alike", Is: d.Reach, Low: 0, High: 1000, Show: quantity.InMetres},
		{What: "the number of random drawings", Is: float64(d.Trials), Low: 0, High: 10000, Show: quantity.In("")},
	})
}

// Share is what one turn has to do with the doubt of the length.
type Share struct {
	Turn     int     // 0 when the course has no turns
	From, To float64 // chainage, half way to the neighbouring turns
	Length   float64 // of the line there, m
	Wider    float64 // change of the length there, m, with the road wider by Doubts.Width
	Narrower float64
	Rounder  float64 // with corner kerbs rounder by Doubts.Radius
	Sharper  float64
	Drawing  float64 // 90 % half width by the drawing, m
	Half     float64 // 90 % half width of all, m
}

// Certainty is the length of the line with what the map leaves open.
type Certainty struct {
	Line     *taut.Line
	Length   interval.Estimate // map length, m
	Wider    float64           // change of the whole length, m
	Narrower float64
	Rounder  float64
	Sharper  float64
	Drawing  float64 // 90 % half width by the drawing, m
	Turns    []Share // in the order they are run
	Trials   int     // random drawings that could be used
	Notes    []string
}

// MostDoubtful gives the n turns that carry the most doubt, most first.
func (c *Certainty) MostDoubtful(n int) []Share {
	s := slices.Clone(c.Turns)
	slices.SortStableFunc(s, func(a, b Share) int { return cmp.Compare(b.Half, a.Half) })
	return s[:min(n, len(s))]
}

// HowSure works out the line again with other widths, other corner kerbs and
// other drawings, and gives each turn its share. The three are taken as
// independent of each other; width and radius as wrong by the same amount
// everywhere. It takes about 5 + Trials times as long as one line.
//
// It is not built on taut.Sensitivity, which asks what the line depends on: by a
// fixed metre, and by less where a gate would close. Here the doubt is what the
// caller says, and a smaller one in its place would claim to be surer than the
// map is; it is left out and noted.
func HowSure(c *course.Course, spec road.Spec, d Doubts, watch Watch) (*Certainty, error) {
	if spec.CourseIsLine {
		return nil, ErrLineGiven
	}
	if d == (Doubts{}) {
		d = UsualDoubts()
	}
	if err := d.check(); err != nil {
		return nil, err
	}
	r, err := road.Build(c, spec)
	if err != nil {
		return nil, err
	}
	base, err := taut.Solve(r)
	if err != nil {
		return nil, err
	}
	step := watch.count(5 + d.Trials)
	step()
	ws := windows(base)
	out := &Certainty{Line: base}
	for _, w := range ws {
		out.Turns = append(out.Turns, Share{Turn: w.turn, From: w.from, To: w.to, Length: w.in(base)})
	}
	vary := func(what string, changed road.Spec, total *float64, into func(*Share) *float64) {
		l, err := lineOf(c, changed)
		step()
		if err != nil {
			out.Notes = append(out.Notes, fmt.Sprintf("the road cannot be %s everywhere, so this is left out: %v", what, err))
			return
		}
		*total = l.Length - base.Length
		for i, w := range ws {
			*into(&out.Turns[i]) = w.in(l) - out.Turns[i].Length
		}
	}
	if d.Width > 0 {
		vary(fmt.Sprintf("wider by %.1f m", d.Width), spec.Vary(d.Width, 0), &out.Wider, func(s *Share) *float64 { return &s.Wider })
		vary(fmt.Sprintf("narrower by %.1f m", d.Width), spec.Vary(-d.Width, 0), &out.Narrower, func(s *Share) *float64 { return &s.Narrower })
	}
	if d.Radius > 0 {
		vary("with rounder corners", spec.Vary(0, d.Radius), &out.Rounder, func(s *Share) *float64 { return &s.Rounder })
		vary("with sharper corners", spec.Vary(0, -d.Radius), &out.Sharper, func(s *Share) *float64 { return &s.Sharper })
	}
	if d.Drawing > 0 && d.Reach > 0 && d.Trials > 0 {
		out.draw(c, spec, d, ws, step)
	}
	for i := range out.Turns {
		s := &out.Turns[i]
		s.Half = math.Sqrt(sq(math.Max(math.Abs(s.Wider), math.Abs(s.Narrower))) + sq(math.Max(math.Abs(s.Rounder), math.Abs(s.Sharper))) + sq(s.Drawing))
	}
	out.Length = out.bounds()
	return out, nil
}

// bounds is the length with all doubts. A change of width or radius that goes
// only one way widens it only on that side.
func (out *Certainty) bounds() interval.Estimate {
	below, above := sq(out.Drawing), sq(out.Drawing)
	for _, pair := range [][2]float64{{out.Wider, out.Narrower}, {out.Rounder, out.Sharper}} {
		lo, hi := math.Min(0, math.Min(pair[0], pair[1])), math.Max(0, math.Max(pair[0], pair[1]))
		below, above = below+lo*lo, above+hi*hi
	}
	best := out.Line.Length
	return interval.Estimate{Value: best, Low: best - math.Sqrt(below), High: best + math.Sqrt(above)}
}

func sq(x float64) float64 { return x * x }

// draw moves the drawing at random, alike in both directions of a road run
// twice, and notes how much the length changes.
func (out *Certainty) draw(c *course.Course, spec road.Spec, d Doubts, ws []window, step func()) {
	rng := rand.New(rand.NewPCG(d.Seed, 0x7a75746c696e65))
	var total []float64
	each := make([][]float64, len(ws))
	failed := 0
	for range d.Trials {
		f := newField(rng, d.Drawing, d.Reach)
		moved, s, err := redraw(c, spec, func(_ int, p orb.Point) orb.Point {
			e := f.at(p)
			return orb.Point{p[0] + e[0], p[1] + e[1]}
		})
		var l *taut.Line
		if err == nil {
			l, err = lineOf(moved, s)
		}
		step()
		if err != nil {
			failed++
			continue
		}
		total = append(total, l.Length-out.Line.Length)
		for i, w := range ws {
			// The window's ends move with the drawing.
			there := window{w.turn, placeOn(c, moved, w.from), placeOn(c, moved, w.to)}
			each[i] = append(each[i], there.in(l)-out.Turns[i].Length)
		}
	}
	out.Trials = len(total)
	if failed > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("%d of %d random drawings could not be used", failed, d.Trials))
	}
	if len(total) < 4 {
		out.Notes = append(out.Notes, "the doubt of the drawing is left out: too few random drawings could be used")
		return
	}
	out.Drawing = interval.Z90 * rms(total)
	for i := range each {
		out.Turns[i].Drawing = interval.Z90 * rms(each[i])
	}
}

func rms(v []float64) float64 {
	var s float64
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s / float64(len(v)))
}

// field is a smooth random displacement of the plane: a sum of waves whose
// wavelengths go with the reach, so that its correlation falls off as a bell.
type field struct {
	k     [][2]float64
	phase [][2]float64
	amp   float64
}

func newField(rng *rand.Rand, sd, reach float64) field {
	const waves = 40
	f := field{amp: sd * math.Sqrt(2.0/waves)}
	for range waves {
		f.k = append(f.k, [2]float64{rng.NormFloat64() / reach, rng.NormFloat64() / reach})
		f.phase = append(f.phase, [2]float64{2 * math.Pi * rng.Float64(), 2 * math.Pi * rng.Float64()})
	}
	return f
}

func (f field) at(p orb.Point) orb.Point {
	var e orb.Point
	for i, k := range f.k {
		x := k[0]*p[0] + k[1]*p[1]
		e[0] += f.amp * math.Cos(x+f.phase[i][0])
		e[1] += f.amp * math.Cos(x+f.phase[i][1])
	}
	return e
}
