package drawing

import (
	"fmt"
	"html/template"
	"math"
	"sort"

	"tautline/report/lettering"
	"tautline/report/text"
)

// Measures of a strip, px.
const (
	stripWide   = 176.0
	stripLong   = 440.0 // of the road in it
	stripEnd    = 25.0  // above and below
	stripMiddle = 88.0
	stripHalf   = 33.0 // of the road at its widest
	stripLabel  = 19.0 // left margin
	stripTurn   = 132.0
	flagLeft    = 124.0
	flagWide    = 51.0
	flagHigh    = 31.0
)

// stripLength is the length of course that one strip holds, m: short enough
// that a turn can be seen, long enough that the course is seen at once.
func stripLength(course float64, unit Unit) float64 {
	for _, x := range []struct{ part, most float64 }{{0.25, 10}, {0.5, 12}, {1, 15}, {2, 26}, {5, 26}, {10, 26}, {25, 26}} {
		if course <= x.part*unit.Metres*x.most {
			return x.part * unit.Metres
		}
	}
	return math.Ceil(course/26/unit.Metres) * unit.Metres
}

// Strips is the strip map: the course cut into strips and unrolled, each read
// upwards so that left on the drawing is left on the road.
type Strips struct {
	Strips []template.HTML
	Length float64 // of course in a full strip, m
	Along  float64 // px per m
	Across float64 // px per m
}

// Exaggeration is how many times wider the road is drawn than its length.
func (s Strips) Exaggeration() float64 { return s.Across / s.Along }

// StripMap draws the strip map.
func StripMap(s *Scene) Strips {
	m := Strips{Length: stripLength(s.Length, s.Unit)}
	m.Along = stripLong / m.Length
	widest := 2.0
	for _, a := range s.Road {
		widest = math.Max(widest, math.Max(math.Abs(a.KerbLeft), math.Abs(a.KerbRight)))
	}
	m.Across = math.Min(12, stripHalf/widest)
	// A rest too short to be read goes with the strip before it.
	const rest = 0.06
	n := max(1, int(math.Ceil(s.Length/m.Length-rest)))
	for k := range n {
		from := float64(k) * m.Length
		to := from + m.Length
		if k == n-1 {
			to = s.Length
		}
		m.Strips = append(m.Strips, m.strip(s, k, from, to))
	}
	return m
}

// tick is the distance between two places that are labelled, m: a round
// hundredth of the unit.
func (m Strips) tick(u Unit) float64 {
	if m.Length < 0.3*u.Metres {
		return m.Length / 5
	}
	return m.Length / 10
}

// strip draws one strip.
func (m Strips) strip(s *Scene, number int, from, to float64) template.HTML {
	p := new(pen)
	long := math.Max(stripLong, (to-from)*m.Along)
	bottom := stripEnd + long
	y := func(at float64) float64 { return bottom - (at-from)*m.Along }
	x := func(left float64) float64 { return stripMiddle - left*m.Across }
	top := y(to)
	full := long + 2*stripEnd

	var here []Turn
	worst := ""
	for _, t := range s.Turns {
		if t.At >= from && (t.At < to || to == s.Length) {
			here = append(here, t)
			if t.Rank > 0 {
				worst += fmt.Sprintf(" Turn %d is number %d of those to run better, %s.", t.Number, t.Rank, t.Figure)
			}
		}
	}
	title := fmt.Sprintf("Strip %d, %s to %s %s", number+1, s.Unit.At(from), s.Unit.At(to), s.Unit.Name)
	desc := "The road from kerb to kerb, read upwards, with " + text.Plural(len(here), "turn") + "." + worst
	p.open("strip", stripWide, full, title, desc,
		"data-from", short(from, 1), "data-to", short(to, 1), "data-y", num(bottom), "data-k", short(m.Along, 5),
		"data-x", num(stripMiddle), "data-m", short(m.Across, 4))

	// Wash behind the worst turns, first so that all else lies over it.
	for _, t := range here {
		if t.Rank > 0 {
			a, b := math.Max(from, t.From-12), math.Min(to, t.To+12)
			mid := (y(a) + y(b)) / 2
			half := math.Max(9, (y(a)-y(b))/2)
			p.box("wash", 22, math.Max(top, mid-half), flagLeft-22, math.Min(bottom, mid+half)-math.Max(top, mid-half))
		}
	}
	m.road(p, s, from, to, x, y)
	m.scale(p, s, from, to, y)
	if len(s.Path) > 0 {
		m.path(p, s, from, to, x, y)
	}
	var line []xy
	for _, q := range cut(s.Line, func(q Place) float64 { return q.At }, from, to, mixPlace) {
		line = append(line, xy{x(q.Left), y(q.At)})
	}
	if len(s.Crowd) > 0 {
		p.path("halo", simplify(line, 0.15), false)
	}
	p.path("short", simplify(line, 0.15), false)
	m.spans(p, s, from, to, y)
	m.cones(p, s, from, to, x, y)
	taken := m.turns(p, s, here, top, bottom, x, y)
	m.marks(p, s, from, to, y, taken)
	p.raw(`<g class="cursor"><path class="cur" d="M0 0H`, num(stripWide), `"/></g>`)
	return p.close()
}

// road draws kerbs, the edges of what may be used, and hatches what may not.
func (m Strips) road(p *pen, s *Scene, from, to float64, x, y func(float64) float64) {
	road := cut(s.Road, func(a Across) float64 { return a.At }, from, to, func(a, b Across, t float64) Across {
		if t < 0.999999 {
			c := a
			c.At += t * (b.At - a.At)
			return c
		}
		return b
	})
	if len(road) < 2 {
		return
	}
	line := func(f func(Across) float64) []xy {
		var out []xy
		for _, a := range road {
			out = append(out, xy{x(f(a)), y(a.At)})
		}
		return simplify(out, 0.05)
	}
	left, right := line(func(a Across) float64 { return a.KerbLeft }), line(func(a Across) float64 { return a.KerbRight })
	surface := append([]xy(nil), left...)
	for i := len(right) - 1; i >= 0; i-- {
		surface = append(surface, right[i])
	}
	p.path("surface", surface, true)
	m.crowd(p, s, from, to, x, y)
	for _, side := range []struct {
		kerb, edge func(Across) float64
		kind       func(Across) string
	}{
		{func(a Across) float64 { return a.KerbLeft }, func(a Across) float64 { return a.Left }, func(a Across) string { return a.LeftKind }},
		{func(a Across) float64 { return a.KerbRight }, func(a Across) float64 { return a.Right }, func(a Across) string { return a.RightKind }},
	} {
		for i := 0; i < len(road); {
			if math.Abs(side.kerb(road[i])-side.edge(road[i])) < 0.05 {
				i++
				continue
			}
			j := i
			for j+1 < len(road) && math.Abs(side.kerb(road[j+1])-side.edge(road[j+1])) >= 0.05 && side.kind(road[j+1]) == side.kind(road[i]) {
				j++
			}
			var inner, outer []xy
			for _, a := range road[i : j+1] {
				inner = append(inner, xy{x(side.edge(a)), y(a.At)})
				outer = append(outer, xy{x(side.kerb(a)), y(a.At)})
			}
			inner, outer = simplify(inner, 0.05), simplify(outer, 0.05)
			area := append([]xy(nil), inner...)
			for k := len(outer) - 1; k >= 0; k-- {
				area = append(area, outer[k])
			}
			p.path("shut", area, true)
			p.path("edge-"+edgeClass(side.kind(road[i])), inner, false)
			i = j + 1
		}
	}
	p.path("kerb", left, false)
	p.path("kerb", right, false)
}

func edgeClass(kind string) string {
	switch kind {
	case "cone", "line", "free":
		return kind
	}
	return "kerb"
}

// scale draws the chequered scale along the left border, the hachures of the
// gradient and the chainage.
func (m Strips) scale(p *pen, s *Scene, from, to float64, y func(float64) float64) {
	tick := m.tick(s.Unit)
	var dark [][4]float64
	for k := 0; float64(k)*tick < to-from-0.5; k += 2 {
		dark = append(dark, [4]float64{2, y(from + float64(k)*tick), 2, y(math.Min(to, from+float64(k+1)*tick))})
	}
	p.box("frame", 0, y(to), 4, y(from)-y(to))
	p.strokes("chequer", dark)
	p.line("rule", 0, y(from), stripWide, y(from))
	p.line("rule", 0, y(to), stripWide, y(to))
	var up, down [][4]float64
	for v := y(from) - 3; v > y(to)+2; v -= 5 {
		at := from + (y(from)-v)/m.Along
		g := s.GradientAt(at)
		if !(math.Abs(g) >= 0.005) {
			continue
		}
		l := 2 + 8*math.Min(1, math.Abs(g)/0.08)
		if g > 0 {
			up = append(up, [4]float64{6, v + l/3, 6 + l, v - l/3})
		} else {
			down = append(down, [4]float64{6, v - l/3, 6 + l, v + l/3})
		}
	}
	p.strokes("hachure", append(up, down...))
}

// GradientAt is the gradient at a place as a fraction, NaN without heights.
func (s *Scene) GradientAt(at float64) float64 {
	i := sort.Search(len(s.Ground), func(i int) bool { return s.Ground[i].At >= at })
	if len(s.Ground) == 0 {
		return math.NaN()
	}
	return s.Ground[min(i, len(s.Ground)-1)].Gradient
}

// path draws the likely path and its band, in as many pieces as the record
// shows it.
func (m Strips) path(p *pen, s *Scene, from, to float64, x, y func(float64) float64) {
	var run []Swath
	flush := func() {
		if len(run) > 1 {
			var mid, low, high []xy
			for _, q := range run {
				mid = append(mid, xy{x(q.Left), y(q.At)})
				low = append(low, xy{x(q.Low), y(q.At)})
				high = append(high, xy{x(q.High), y(q.At)})
			}
			low, high = simplify(low, 0.25), simplify(high, 0.25)
			area := append([]xy(nil), low...)
			for i := len(high) - 1; i >= 0; i-- {
				area = append(area, high[i])
			}
			p.path("band", area, true)
			p.path("ran", simplify(mid, 0.15), false)
		}
		run = nil
	}
	for _, q := range cut(s.Path, func(q Swath) float64 { return q.At }, from, to, mixSwath) {
		if math.IsNaN(q.Left) {
			flush()
			continue
		}
		run = append(run, q)
	}
	flush()
}

// turns numbers the turns in the right margin and flags the worst. It gives
// the places in the left margin that are taken.
func (m Strips) turns(p *pen, s *Scene, here []Turn, top, bottom float64, x, y func(float64) float64) (taken [][2]float64) {
	at, half := make([]float64, len(here)), make([]float64, len(here))
	// Drawn upwards, so the last turn is the first from the top.
	order := make([]Turn, len(here))
	for i, t := range here {
		j := len(here) - 1 - i
		order[j], at[j], half[j] = t, y(t.At), 8.5
		if t.Rank > 0 {
			half[j] = flagHigh/2 + 1
		}
	}
	placed := apart(at, half, top-stripEnd+1, bottom+stripEnd-1)
	for i, t := range order {
		v := placed[i]
		px, py := x(s.lineAt(t.At)), y(t.At)
		p.raw(fmt.Sprintf(`<a class="turn" href="#turn-%d" data-at="%s" aria-label="turn %d, %s%s">`, t.Number, short(t.At, 1), t.Number, side(t), lettering.Escape(described(t))))
		if t.Rank > 0 {
			p.path("lead", []xy{{px, py}, {flagLeft, v}}, false)
			p.box("flag", flagLeft, v-flagHigh/2, flagWide, flagHigh)
			p.text("flag-figure", flagLeft+flagWide/2, v-2, t.Figure)
			p.text("flag-turn", flagLeft+flagWide/2, v+10.5, fmt.Sprintf("turn %d", t.Number))
			u := math.Max(top+11, math.Min(bottom-11, py))
			p.disc("rank", 38, u, 11)
			p.text("rank-figure", 38, u+5, fmt.Sprint(t.Rank))
			taken = append(taken, [2]float64{u - 13, u + 13})
		} else {
			p.path("lead", []xy{{px, py}, {stripTurn - 7.5, v}}, false)
			p.disc("number", stripTurn, v, 7.5)
			class := "number-figure"
			if t.Number > 99 {
				class += " long"
			}
			p.text(class, stripTurn, v+3.3, fmt.Sprint(t.Number))
			p.text("angle", stripTurn+10, v+3.3, fmt.Sprintf("%.0f° %s", math.Abs(t.Angle), letter(t)))
		}
		p.raw("</a>\n")
	}
	return taken
}

func side(t Turn) string {
	if t.Left() {
		return fmt.Sprintf("left by %.0f degrees", t.Angle)
	}
	return fmt.Sprintf("right by %.0f degrees", -t.Angle)
}

func described(t Turn) string {
	if t.Figure == "" {
		return ""
	}
	return ", " + t.Figure
}

func letter(t Turn) string {
	if t.Left() {
		return "L"
	}
	return "R"
}

// marks writes the chainage and the marks into the left margin; marks outrank
// chainage where both want the same place.
func (m Strips) marks(p *pen, s *Scene, from, to float64, y func(float64) float64, taken [][2]float64) {
	free := func(lo, hi float64) bool {
		for _, t := range taken {
			if lo < t[1] && hi > t[0] {
				return false
			}
		}
		return true
	}
	for _, k := range s.Marks {
		if k.At < from-1 || k.At > to+1 || (k.At > to-1 && to < s.Length) {
			continue
		}
		v := y(k.At)
		if class := (map[Kind]string{Distance: "mark", Aid: "aid", Mat: "mat"})[k.Kind]; class != "" {
			p.line("across-"+class, m.kerb(s, k.At, true), v, m.kerb(s, k.At, false), v)
		}
		high := 11.0
		if k.Time != "" {
			high = 21
		}
		u := v + 3.5
		if v-y(to) < 12 {
			u = y(to) - high + 6
		} else if y(from)-v < 12 {
			u = y(from) + 12
			if k.Time != "" {
				u = y(from) - 15
			}
		}
		name := k.Short
		if name == "" {
			name = k.Name
		}
		// The nearest free place, up or down, inside the strip.
		found := false
		for i := range 13 {
			try := u + float64((i+1)/2)*6*float64(1-2*(i%2))
			if try-9 >= y(to)-stripEnd && try+high-9 <= y(from)+stripEnd && free(try-9, try+high-9) {
				u, found = try, true
				break
			}
		}
		if !found {
			continue
		}
		p.raw("<g><title>", lettering.Escape(text.Clean(k.Name)+" at "+s.Unit.At(k.At)+" "+s.Unit.Name), "</title>")
		p.text("mark", stripLabel, u, fit(name, 9.5, 36))
		if k.Time != "" {
			p.text("time", stripLabel, u+10, k.Time)
		}
		p.raw("</g>\n")
		taken = append(taken, [2]float64{u - 9, u + high - 9})
	}
	tick := m.tick(s.Unit)
	last := int(math.Round(m.Length / tick))
	for k := 0; ; k++ {
		at := from + float64(k)*tick
		if at > to+0.5 {
			break
		}
		v := y(at) + 3
		if k == 0 {
			v = y(at) + 11
		} else if k == last && to-at < tick/4 {
			v = y(to) - 4
		}
		if !free(v-8, v+1) {
			continue
		}
		label, class := s.Unit.At(at), "chainage"
		if k == 0 || k == last {
			label, class = label+" "+s.Unit.Name, "chainage-end"
		}
		p.text(class, stripLabel, v, label)
	}
}

// kerb is where the left or right kerb lies at a place, px.
func (m Strips) kerb(s *Scene, at float64, left bool) float64 {
	a := s.roadAt(at)
	if left {
		return stripMiddle - a.KerbLeft*m.Across
	}
	return stripMiddle - a.KerbRight*m.Across
}
