package likely

import "math"

// What sampling and a receiver's filter do to a turn depends on how sharply
// the runner turned and on what the filter does. Neither is known, so both are
// read off the record's own shape at all of its turns together: a runner who
// turns gently shows a gentle change of heading at full speed; a filter that
// averages shows a gentle change of heading with a dip in speed, and one that
// predicts swings out beyond the turn and comes back.
var (
	// easings are lengths in metres over which a runner may spread the line's
	// change of heading, beside what going wide spreads it.
	easings = [...]float64{1, 6}
	// wides are metres by which a runner may go wide, and how much of what it
	// adds is run in the turn itself: all of it on a path beside the line, little
	// by one who goes straight on and then turns sharply.
	wides = [...]struct{ metres, curved float64 }{{0, 1}, {2.5, 1}, {2.5, 0.3}, {5, 1}, {5, 0.3}}
	// shifts are misplacements of the record along the road in metres.
	shifts = [...]float64{-5, -2.5, 0, 2.5, 5}
)

const (
	grid          = 0.5        // m between the places where a turn's shape is worked out
	before, after = 30.0, 55.0 // m around a turn that are compared; a filter's swing comes after
	// sharp is the turning in radians from which a turn betrays the filter.
	sharp = 0.6
)

// heading is the running direction of the reference line, unwrapped.
type heading struct {
	r   *Reference
	dir []float64 // rad, of each piece
}

func newHeading(r *Reference) *heading {
	n := len(r.Points)
	h := &heading{r: r, dir: make([]float64, n-1)}
	k := 0
	for i := range n - 1 {
		d := math.Atan2(r.Points[i+1][1]-r.Points[i][1], r.Points[i+1][0]-r.Points[i][0])
		if i > 0 {
			turn := math.Remainder(d-h.dir[i-1], 2*math.Pi)
			// A reversal on the spot turns to the side its turn says.
			for k < len(r.Turns)-1 && r.Turns[k].To < r.Along[i]-1e-9 {
				k++
			}
			if math.Abs(turn) > 3 && k < len(r.Turns) && turn*r.Turns[k].Angle < 0 {
				turn += math.Copysign(2*math.Pi, r.Turns[k].Angle)
			}
			d = h.dir[i-1] + turn
		}
		h.dir[i] = d
	}
	return h
}

// extra is how many metres more a runner has to run who goes round a turn so
// many metres outside.
func (h *heading) extra(t Turn, wide float64) float64 {
	i, _ := h.r.leg(t.From - 2)
	var turned float64
	for i++; i < len(h.dir) && h.r.Along[i] < t.To+2; i++ {
		if h.r.Along[i] > t.From-2 {
			turned += math.Abs(h.dir[i] - h.dir[i-1])
		}
	}
	return wide * turned
}

// passage is the record's way through one turn.
type passage struct {
	sec           int
	s             []float64    // m, where a steady runner would be at each fix
	t             []float64    // s, when the record has that fix
	steps         []complex128 // the record's steps
	sharp, fitted bool
	misfit        [len(easings)][nFilters]float64
	loss          [len(easings)][nFilters][3]float64 // before, in and after the section
	tried         [len(easings)][nFilters]mixture
	low, high     float64 // m along the line, between which the loss is this turn's
}

func (p *placed) passage(i int, sec section, t Turn) *passage {
	lo, hi := t.From-before, t.To+after
	first, last := sec.first, sec.last
	speed := sec.length() / math.Max(last-first, 1e-9) // m per step
	ps := &passage{sec: i, sharp: math.Abs(t.Angle) > sharp}
	at := func(x float64) float64 { // where a steady runner is at fix x
		return sec.from + (x-first)*speed
	}
	if !math.IsNaN(sec.seconds) && sec.seconds > 0 {
		perSecond := sec.length() / sec.seconds
		t0 := p.timeAt(first)
		at = func(x float64) float64 { return sec.from + (p.fixes[int(x)].T-t0)*perSecond }
	}
	j := int(first)
	for j > 0 && at(float64(j)) > lo {
		j--
	}
	for ; j < len(p.fixes); j++ {
		s := at(float64(j))
		if n := len(ps.s); n > 0 && s <= ps.s[n-1] {
			continue
		}
		ps.s = append(ps.s, s)
		if when := p.fixes[j].T; math.IsNaN(when) {
			ps.t = append(ps.t, float64(j)*p.dt)
		} else {
			ps.t = append(ps.t, when)
		}
		if n := len(ps.s); n > 1 {
			q := p.fixes[j].P
			o := p.fixes[j-1].P
			ps.steps = append(ps.steps, complex(q[0]-o[0], q[1]-o[1]))
		}
		if s > hi || len(ps.steps) > mostSteps {
			break
		}
	}
	if len(ps.steps) < 2 || len(ps.steps) > mostSteps || !ps.runnable(hi-lo) {
		return nil
	}
	return ps
}

// What a passage may last and how fast it may go on average. Beyond that
// nobody runs through a turn: the record's clock is wrong there, or somebody
// was away. Comparing takes time and memory in proportion to both.
const (
	mostSeconds = 3600
	mostSpeed   = 30.0 // m/s
	mostMetres  = 5000 // m, run wide
)

// runnable tells whether somebody can have run a passage around a turn, of
// some length in metres.
func (ps *passage) runnable(length float64) bool {
	last := len(ps.s) - 1
	seconds, metres := ps.t[last]-ps.t[0], ps.s[last]-ps.s[0]
	const overshoot = 1000 // m, of the steps that lead in and out of it
	return seconds > 0 && seconds <= mostSeconds && metres <= mostSpeed*seconds && metres <= 2*length+overshoot
}

// wide gives the heading along the path of a runner who goes round a turn
// outside the line: at every change of direction the path turns on an arc of
// so many metres more radius, and before and behind the turn it goes straight
// on for some metres. There is one heading for each piece of the grid, from
// begin metres along the line on; out is set to them.
func (h *heading) wide(out []float64, begin float64, t Turn, radius, straight float64) {
	r := h.r
	k, end := 0, 0.0 // pieces of the grid done, and metres run up to here
	run := func(length, from, to float64) {
		start := end
		end += length
		for ; k < len(out) && (float64(k)+0.5)*grid <= end; k++ {
			out[k] = from + (to-from)*((float64(k)+0.5)*grid-start)/length
		}
	}
	i, _ := r.leg(begin)
	before, behind := straight, straight // still to be run
	run(r.Along[i+1]-begin, h.dir[i], h.dir[i])
	for i++; i < len(h.dir) && k < len(out); i++ {
		switch at := r.Along[i]; {
		case at > t.From-2 && at < t.To+2:
			run(before, h.dir[i-1], h.dir[i-1])
			before = 0
			if turn := math.Abs(h.dir[i] - h.dir[i-1]); turn > 0 {
				run(radius*turn, h.dir[i-1], h.dir[i])
			}
		case at >= t.To+2 && before == 0:
			run(behind, h.dir[i-1], h.dir[i-1])
			behind = 0
		}
		run(r.Along[i+1]-r.Along[i], h.dir[i], h.dir[i])
	}
	last := h.dir[len(h.dir)-1]
	run(float64(len(out))*grid+grid-end, last, last)
}

// blend is how many metres before a turn a runner leaves the line to go wide,
// and behind it comes back.
const blend = 40.0

// swing lets a path beside the line, of which there is a heading for each piece
// of the grid, come from the line and go back to it: so many metres outside from
// the beginning of a turn to its end, left where the turn goes right.
func swing(headings []float64, from, to, wide float64) {
	steep := wide * math.Pi / 2 / blend
	for k := max(0, int((from-blend)/grid)); k < len(headings); k++ {
		x := (float64(k) + 0.5) * grid
		switch {
		case x > to+blend:
			return
		case x > to:
			headings[k] += steep * math.Sin(math.Pi*(x-to)/blend)
		case x < from && x > from-blend:
			headings[k] -= steep * math.Sin(math.Pi*(from-x)/blend)
		}
	}
}

// fit works out, for every easing and filter, what a turn run this many metres
// wide would look like, how badly the best of them fits, and what they cut off.
func (ps *passage) fit(d *desk, h *heading, t Turn, sec section, ridge float64, open [nFilters]bool) {
	ps.fitted = true
	for b := range ps.misfit[0] {
		for a := range easings {
			ps.misfit[a][b] = math.Inf(1)
		}
	}
	// A section that is short beside what going wide adds says nothing of it.
	metres := ps.s[len(ps.s)-1] - ps.s[0]
	if widest := h.extra(t, wides[len(wides)-1].metres); metres*(1+widest/sec.length()) > mostMetres {
		return
	}
	for _, wide := range wides {
		if wide.curved < 1 && math.Abs(t.Angle) > back {
			continue // round a turn-around there is no going straight on
		}
		ps.compare(d, h, t, sec, wide.metres, wide.curved, ridge, open)
	}
	for a := range easings {
		for b := range filters {
			ps.loss[a][b] = ps.tried[a][b].mean()
		}
	}
}

// mixture is a mean over shapes of a turn, weighed by how well they fit.
type mixture struct {
	most, sum float64 // logarithm of the greatest weight; sum of weights against it
	loss      [3]float64
}

func (m *mixture) matters(weight float64) bool { return m.sum == 0 || weight > m.most-5 }

func (m *mixture) add(weight float64, loss [3]float64) {
	if m.sum == 0 || weight > m.most {
		if m.sum > 0 {
			old := math.Exp(m.most - weight)
			m.sum *= old
			for i := range m.loss {
				m.loss[i] *= old
			}
		}
		m.most = weight
	}
	w := math.Exp(weight - m.most)
	m.sum += w
	for i, v := range loss {
		m.loss[i] += w * v
	}
}

func (m *mixture) mean() (loss [3]float64) {
	if m.sum == 0 {
		return loss
	}
	for i, v := range m.loss {
		loss[i] = v / m.sum
	}
	return loss
}

// ownPerSecond is the share of a step of a second that is independent of its
// neighbours: they share their error.
const ownPerSecond = 0.2

// logLikelihood is that of a shape whose steps miss the record's by so much, m²
// in all, when so large a share of the steps speaks for itself. The scale of the
// errors is not known, but that a runner's path is a little different from the
// shapes it is compared with.
func logLikelihood(misfit, steps, own float64) float64 {
	const different = 0.04 // m² per step
	return -own / 2 * steps * math.Log(math.Max(misfit, 0)+steps*different)
}

// desk is the working room of compare, used again from turn to turn.
type desk struct {
	run, headings, sums            []float64
	path, left, truth, seen, shown []complex128
	strayed                        [][bumps]complex128
}

// room gives a slice of so many elements, whatever is in them.
func room[T any](s *[]T, n int) []T {
	if cap(*s) < n {
		*s = make([]T, n, n+n/4)
	}
	return (*s)[:n]
}

// compare tries one way of going wide with every easing, shift and filter.
func (ps *passage) compare(w *desk, h *heading, t Turn, sec section, wide, curved, ridge float64, open [nFilters]bool) {
	extra := h.extra(t, wide)
	last := len(ps.s) - 1
	run := room(&w.run, len(ps.s)) // m run by a steady runner up to each fix
	for i, s := range ps.s {
		run[i] = sec.from + (s-sec.from)*(sec.length()+extra)/sec.length()
	}
	perSecond := (run[last] - run[0]) / (ps.t[last] - ps.t[0])
	if !(perSecond > 0.3) {
		perSecond = 0.3
	}
	lead := runUp * perSecond
	pad := shifts[len(shifts)-1] + 6*perSecond
	begin := run[0] - lead - pad
	n := int((run[last]+pad-begin)/grid) + 2
	path := room(&w.path, n+1) // the eased line
	left := room(&w.left, n+1) // the direction to its left
	seconds := int(math.Ceil(ps.t[last]-ps.t[0])) + runUp + 1
	truth, seen := room(&w.truth, seconds+1), room(&w.seen, seconds+1)
	shown := room(&w.shown, len(ps.s)) // where the record would show the runner at each fix
	strayed := room(&w.strayed, last)  // what straying at each bump adds to each step
	apex := (t.From + t.To + extra) / 2
	own := math.Min(1, ownPerSecond*(ps.t[last]-ps.t[0])/float64(last))
	var power float64
	for _, w := range ps.steps {
		power += real(w)*real(w) + imag(w)*imag(w)
	}
	look := func(v []complex128, x float64) complex128 {
		i := max(0, min(int(x), len(v)-2))
		f := complex(x-float64(i), 0)
		return v[i] + f*(v[i+1]-v[i])
	}
	headings, sums := room(&w.headings, n), room(&w.sums, n+1)
	path[0], sums[0] = 0, 0
	h.wide(headings, begin, t, wide*curved, extra*(1-curved)/2)
	swing(headings, t.From-begin, t.To+extra-begin, math.Copysign(wide, t.Angle))
	for i, v := range headings {
		sums[i+1] = sums[i] + v
	}
	into, out := (sec.from-begin)/grid, (sec.to+extra-begin)/grid // pieces of the grid
	for a, easing := range easings {
		half := int(easing/grid/2 + 0.5)
		var sin, cos float64
		before := math.NaN()
		for i := range n {
			lo, hi := max(0, i-half), min(n, i+half+1)
			if dir := (sums[hi] - sums[lo]) / float64(hi-lo); dir != before { // most of the way is straight
				sin, cos = math.Sincos(dir)
				before = dir
			}
			path[i+1] = path[i] + complex(cos*grid, sin*grid)
			left[i] = complex(-sin, cos)
		}
		alongA, alongB := look(left, into)*complex(0, -1), look(left, out)*complex(0, -1)
		runs := [3]float64{sideways(path, (math.Max(ps.low, ps.s[0])-begin)/grid, into, alongA), sec.length() + extra, sideways(path, out, (math.Min(ps.high, ps.s[last])+extra-begin)/grid, alongB)}
		for _, shift := range shifts {
			var bump0, bump1 [bumps]complex128
			bumpsAt(&bump0, run[0]+shift-apex, left, begin, apex)
			for i := range strayed {
				bumpsAt(&bump1, run[i+1]+shift-apex, left, begin, apex)
				for j := range bumps {
					strayed[i][j] = bump1[j] - bump0[j]
				}
				bump0 = bump1
			}
			stray := newStraying(ps.steps, strayed, ridge)
			for b, f := range filters {
				if !open[b] {
					continue
				}
				for j := range truth {
					truth[j] = look(path, (run[0]+shift+(float64(j)-runUp+f.lag)*perSecond-begin)/grid)
				}
				f.apply(truth, seen)
				for i := range shown {
					shown[i] = look(seen, runUp+ps.t[i]-ps.t[0])
				}
				misfit := power - stray.explained(ps.steps, strayed, shown)
				ps.misfit[a][b] = math.Min(ps.misfit[a][b], misfit)
				weight := logLikelihood(misfit, float64(last), own)
				if m := &ps.tried[a][b]; m.matters(weight) {
					m.add(weight, ps.lost(shown, look(path, into), look(path, out), alongA, alongB, runs))
				}
			}
		}
	}
}

// sideways is how many metres longer a path is between two places than it comes
// ahead in a direction.
func sideways(path []complex128, from, to float64, ahead complex128) (sum float64) {
	for k := max(0, int(from)); k < min(int(to), len(path)-1); k++ {
		sum += grid - along(path[k+1]-path[k], ahead)
	}
	return sum
}

// lost is what a record that shows these places lacks before, in and after a
// section, whose ends are normals to the road at a and b. In the section so
// many metres were run; outside it only what goes sideways counts, and runs
// says how much of that there was: the section's ends are where the record shows
// them, early or late.
func (ps *passage) lost(shown []complex128, a, b, alongA, alongB complex128, runs [3]float64) (loss [3]float64) {
	ahead := func(p, origin, along complex128) float64 {
		d := p - origin
		return real(d)*real(along) + imag(d)*imag(along)
	}
	first, last := -1, -1
	for i := 1; i < len(shown); i++ {
		if first < 0 && ahead(shown[i-1], a, alongA) < 0 && ahead(shown[i], a, alongA) >= 0 {
			first = i
		}
		if ahead(shown[i-1], b, alongB) < 0 && ahead(shown[i], b, alongB) >= 0 {
			last = i
		}
	}
	if first < 0 || last < first {
		return loss
	}
	share := func(i int, origin, along complex128) float64 { // of step i that lies beyond the normal
		p, q := ahead(shown[i-1], origin, along), ahead(shown[i], origin, along)
		return q / (q - p)
	}
	for i := 1; i < len(shown); i++ {
		d := shown[i] - shown[i-1]
		length := math.Sqrt(real(d)*real(d) + imag(d)*imag(d))
		in := 1.0
		switch {
		case i < first || i > last:
			in = 0
		case i == first && i == last:
			in = share(i, a, alongA) + share(i, b, alongB) - 1
			in = math.Abs(in)
		case i == first:
			in = share(i, a, alongA)
		case i == last:
			in = 1 - share(i, b, alongB)
		}
		loss[1] -= in * length
		place := (ps.s[i] + ps.s[i-1]) / 2
		if i <= first && place > ps.low {
			loss[0] -= (1 - in) * (length - ahead(d, 0, alongA))
		}
		if i >= last && place < ps.high {
			loss[2] -= (1 - in) * (length - ahead(d, 0, alongB))
		}
	}
	for i, v := range runs {
		loss[i] += v
	}
	return loss
}
