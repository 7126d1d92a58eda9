package simulate

import (
	"math"
	"math/rand/v2"
	"sort"
	"time"

	"github.com/paulmach/orb"

	"tautline/geo/earth"
	"tautline/geo/track"
)

// Span is a stretch along the reference line, m.
type Span struct{ From, To float64 }

// Silence says what a receiver writes while it has no signal.
type Silence int

// A receiver without a signal writes nothing, repeats its last fix, or goes
// straight on at its last velocity.
const (
	Missing Silence = iota
	Held
	Extrapolated
)

// HeightSource says where the heights of a record come from.
type HeightSource int

// Heights are left out, true, measured by satellites or by air pressure.
const (
	NoHeights HeightSource = iota
	TrueHeights
	SatelliteHeights
	BarometricHeights
)

// Options say how a receiver writes down what it measures. The zero Options
// write every fix of 1 Hz, unfiltered and unrounded, without heights.
type Options struct {
	Plane earth.Plane // the plane of the truth
	Began time.Time   // clock time of the first fix

	Filter Filter

	// Every keeps every n-th fix; 0 and 1 keep all. KeepOnTurn instead keeps a
	// fix when the direction since the last kept one has changed by 12° or
	// more, or after 10 s.
	Every      int
	KeepOnTurn bool
	// Jitter is the standard deviation, s, of the true time of a fix around
	// the time it is stamped with; more than 0.45 s is cut there.
	Jitter float64
	// Lost is the share of fixes lost at random.
	Lost float64

	Underpasses []Span // places without signal in environments with outages
	Silence     Silence

	// Road, if not nil, is a line that the receiver puts every fix on: the
	// nearest point of it, searched near where the runner is.
	Road orb.LineString
	// Decimals of a degree that are written; 0 writes all.
	Decimals int

	Heights HeightSource
	// HeightScale multiplies height differences of a barometric height (0.95
	// to 0.98 dry, 0.75 with water on the port: Menaspà et al. 2014, 2016); 0
	// means 1.
	HeightScale float64
}

// Record is what a receiver wrote.
type Record struct {
	Fixes  []track.Fix
	Points orb.LineString // the fixes in the plane of the truth, rounded like them
	Times  []float64      // s, as stamped, after the truth's start crossing
}

// Length is the sum of the fixes, m: what a receiver shows that trusts them.
func (r Record) Length() float64 { return lengthOf(r.Points) }

// measurement is what the receiver knows at one second.
type measurement struct {
	stamp  float64 // s
	at     orb.Point
	truth  orb.Point
	along  float64 // m along the reference line
	height float64
	silent bool
}

// Record writes down a run that Run has made. The same environment, truth,
// options and state of the generator give the same record.
func (e Environment) Record(truth Truth, opt Options, rng *rand.Rand) Record {
	fixes := e.measure(truth, opt, rng)
	fixes = opt.filter(fixes)
	fixes = opt.silence(fixes)
	fixes = opt.sample(fixes, rng)
	if opt.Road != nil {
		snap(fixes, opt.Road)
	}
	return opt.write(fixes)
}

// street gives, at each place of a truth path, the axis of the street as the
// mean of (cos 2φ, sin 2φ) of the heading φ over 15 m to either side. The
// doubled angle makes a street the same in both directions, and the mean makes
// the error alike in all directions in the middle of a corner instead of
// letting its axis flip there.
type street struct {
	run, cos, sin []float64 // distance, and the integrals up to it
}

// streetOf integrates the axis along a run.
func streetOf(truth Truth) street {
	n := len(truth.Points)
	s := street{make([]float64, n), make([]float64, n), make([]float64, n)}
	for k := 1; k < n; k++ {
		v := minus(truth.Points[k], truth.Points[k-1])
		d := math.Hypot(v[0], v[1])
		s.run[k], s.cos[k], s.sin[k] = s.run[k-1]+d, s.cos[k-1], s.sin[k-1]
		if d > 0 {
			s.cos[k] += (v[0]*v[0] - v[1]*v[1]) / d
			s.sin[k] += 2 * v[0] * v[1] / d
		}
	}
	return s
}

// axis gives the mean axis at a distance run.
func (s street) axis(run float64) (cos2, sin2 float64) {
	const reach = 15 // m
	a, b := max(run-reach, 0), min(run+reach, s.run[len(s.run)-1])
	if b <= a {
		return 0, 0
	}
	return (at(s.run, s.cos, b) - at(s.run, s.cos, a)) / (b - a), (at(s.run, s.sin, b) - at(s.run, s.sin, a)) / (b - a)
}

// error2 is an error in the plane that differs along and across the street. It
// is made alike in all directions first and then stretched along the axis, so
// that a change of direction bends the error instead of turning it round.
type error2 struct{ x, y float64 }

func (v error2) stretched(along, across, cos2, sin2 float64) orb.Point {
	mean, half := (along+across)/2, (along-across)/2
	return orb.Point{mean*v.x + half*(cos2*v.x+sin2*v.y), mean*v.y + half*(sin2*v.x-cos2*v.y)}
}

// jump is a reflected signal: an offset that ramps up, holds and ramps down.
type jump struct {
	from float64 // s
	by   orb.Point
}

// measure is what the receiver knows at every second of a run.
func (e Environment) measure(truth Truth, opt Options, rng *rand.Rand) []measurement {
	axis := streetOf(truth)
	xs, ys := split(truth.Points)
	slow := [2]*drifting{newDrifting(e.Slow.Tau, rng), newDrifting(e.Slow.Tau, rng)}
	fast := [2]*drifting{newDrifting(e.Fast.Tau, rng), newDrifting(e.Fast.Tau, rng)}
	wander := [2]*wandering{newWandering(e.WanderTime, rng), newWandering(e.WanderTime, rng)}
	heights := e.heights(opt, rng)
	outages := e.outages(truth, opt, rng)
	var jumps []jump
	jumpAt := math.Inf(1)
	if e.JumpRate > 0 {
		jumpAt = rng.ExpFloat64() / e.JumpRate
	}

	begin, end := truth.Times[0], truth.Times[len(truth.Times)-1]
	n := int(math.Floor(end-begin)) + 1
	out := make([]measurement, n)
	for k := range out {
		if k > 0 {
			for a := range 2 {
				slow[a].step(1, rng)
				fast[a].step(1, rng)
				wander[a].step(1, rng)
			}
		}
		m := &out[k]
		m.stamp = begin + float64(k)
		when := m.stamp
		if opt.Jitter > 0 {
			when += min(max(opt.Jitter*rng.NormFloat64(), -0.45), 0.45)
		}
		m.truth = orb.Point{at(truth.Times, xs, when), at(truth.Times, ys, when)}
		m.along = at(truth.Times, truth.Along, when)
		run := at(truth.Times, axis.run, when)
		cos2, sin2 := axis.axis(run)
		w := error2{wander[0].x, wander[1].x}.stretched(e.WanderAlong, e.WanderAcross, cos2, sin2)
		f := error2{fast[0].x, fast[1].x}.stretched(e.Fast.SD, e.fastAcross(), cos2, sin2)
		m.at = orb.Point{
			m.truth[0] + e.Slow.SD*slow[0].x + w[0] + f[0] + e.White*rng.NormFloat64(),
			m.truth[1] + e.Slow.SD*slow[1].x + w[1] + f[1] + e.White*rng.NormFloat64(),
		}
		for run >= jumpAt {
			size := e.JumpSD * rng.NormFloat64()
			heading := math.Atan2(sin2, cos2) / 2
			across := normal(heading)
			jumps = append(jumps, jump{m.stamp, orb.Point{size * across[0], size * across[1]}})
			jumpAt += rng.ExpFloat64() / e.JumpRate
		}
		for len(jumps) > 0 && m.stamp-jumps[0].from >= e.JumpHold+2*e.JumpRamp {
			jumps = jumps[1:]
		}
		for _, j := range jumps {
			s := e.jumpShape(m.stamp - j.from)
			m.at[0] += s * j.by[0]
			m.at[1] += s * j.by[1]
		}
		under := false
		for _, o := range outages {
			m.silent = m.silent || (o.from <= m.stamp && m.stamp < o.to)
			under = under || (o.from <= m.stamp && m.stamp < o.out)
			if m.stamp >= o.to {
				fade := math.Exp(-(m.stamp - o.to) / reacquired)
				m.at[0] += fade * o.offset[0]
				m.at[1] += fade * o.offset[1]
			}
		}
		height := math.NaN()
		if len(truth.Heights) > 0 {
			height = at(truth.Times, truth.Heights, when)
		}
		m.height = heights.read(height, k, under, rng)
	}
	return out
}

// jumpShape is the part of a jump that shows some seconds after its start.
func (e Environment) jumpShape(t float64) float64 {
	switch {
	case t < 0 || t >= e.JumpHold+2*e.JumpRamp:
		return 0
	case t < e.JumpRamp:
		return t / e.JumpRamp
	case t < e.JumpRamp+e.JumpHold:
		return 1
	}
	return (e.JumpHold + 2*e.JumpRamp - t) / e.JumpRamp
}

// outage is a time without signal: from the way in, out of the underpass, to
// the first fix, which starts off the truth.
type outage struct {
	from, out, to float64 // s
	offset        orb.Point
}

const (
	reacquireSD = 10.0 // m per axis, error of the first fix after an outage
	reacquired  = 10.0 // s in which it fades to 1/e
)

// outages are the times that a run spends in underpasses, and a little after.
func (e Environment) outages(truth Truth, opt Options, rng *rand.Rand) []outage {
	if !e.Outage {
		return nil
	}
	var out []outage
	for _, u := range opt.Underpasses {
		from, to := truth.timeAt(u.From), truth.timeAt(u.To)
		out = append(out, outage{
			from: from, out: to, to: to + uniform(rng, 1, 5),
			offset: orb.Point{reacquireSD * rng.NormFloat64(), reacquireSD * rng.NormFloat64()},
		})
	}
	return out
}

// timeAt is when the runner was beside a place of the reference line, s.
func (t Truth) timeAt(along float64) float64 {
	return at(t.Along, t.Times, along)
}

// altimeter is the error of a height.
type altimeter struct {
	source       HeightSource
	slow, gust   *drifting
	wander       *wandering
	env          Environment
	scale, drift float64
	step         float64
	first        float64
}

// heights is the altimeter of a record.
func (e Environment) heights(opt Options, rng *rand.Rand) *altimeter {
	a := &altimeter{
		source: opt.Heights, env: e, scale: opt.HeightScale, first: math.NaN(),
		slow: newDrifting(max(e.HeightSlow.Tau, 1), rng), gust: newDrifting(5, rng), wander: newWandering(e.WanderTime, rng),
		drift: uniform(rng, -3, 3) / 3600, // m/s: 1 hPa in three hours of weather
	}
	if a.scale == 0 {
		a.scale = 1
	}
	a.step = e.PressureStep
	if rng.IntN(2) == 0 {
		a.step = -a.step
	}
	return a
}

// read gives the height that is written for a true one, k seconds after the
// first; under says that the runner is in an underpass.
func (a *altimeter) read(height float64, k int, under bool, rng *rand.Rand) float64 {
	if k > 0 {
		a.slow.step(1, rng)
		a.gust.step(1, rng)
		a.wander.step(1, rng)
	}
	white := rng.NormFloat64()
	if math.IsNaN(a.first) {
		a.first = height
	}
	switch a.source {
	case TrueHeights:
		return height
	case SatelliteHeights:
		return height + a.env.HeightSlow.SD*a.slow.x + a.env.HeightWander*a.wander.x
	case BarometricHeights:
		h := a.first + a.scale*(height-a.first) + 0.15*white + a.env.HeightGust*a.gust.x + a.drift*float64(k)
		if under {
			h += a.step
		}
		return h
	}
	return math.NaN()
}

// filter runs the receiver's filter over both coordinates.
func (o Options) filter(fixes []measurement) []measurement {
	out := append([]measurement(nil), fixes...)
	times := make([]float64, len(fixes))
	for k, f := range fixes {
		times[k] = f.stamp
	}
	for axis := range 2 {
		values := make([]float64, len(fixes))
		for k, f := range fixes {
			values[k] = f.at[axis]
			if f.silent {
				values[k] = math.NaN()
			}
		}
		for k, v := range o.Filter.apply(times, values) {
			out[k].at[axis] = v
		}
	}
	return out
}

// silence fills the seconds without signal the way the receiver does.
func (o Options) silence(fixes []measurement) []measurement {
	out := make([]measurement, 0, len(fixes))
	var velocity orb.Point
	for k, f := range fixes {
		if !f.silent {
			out = append(out, f)
			continue
		}
		if o.Silence == Missing || len(out) == 0 {
			continue
		}
		last := out[len(out)-1]
		if o.Silence == Extrapolated {
			if !fixes[k-1].silent {
				velocity = orb.Point{}
				if j := len(out) - 4; j >= 0 { // over the last 3 s
					v := minus(last.at, out[j].at)
					d := last.stamp - out[j].stamp
					velocity = orb.Point{v[0] / d, v[1] / d}
				}
			}
			h := f.stamp - last.stamp
			last.at[0] += velocity[0] * h
			last.at[1] += velocity[1] * h
		}
		f.at = last.at
		out = append(out, f)
	}
	return out
}

// sample keeps the fixes that the receiver writes down.
func (o Options) sample(fixes []measurement, rng *rand.Rand) []measurement {
	const (
		turn = 12 * math.Pi / 180
		wait = 10 // s
	)
	out := make([]measurement, 0, len(fixes))
	heading := math.NaN() // of the last kept fix
	for k, f := range fixes {
		keep := o.Every <= 1 || k%o.Every == 0
		if o.KeepOnTurn {
			keep = true
			if len(out) > 0 {
				last := out[len(out)-1]
				v := minus(f.at, last.at)
				h := math.Atan2(v[1], v[0])
				keep = math.IsNaN(heading) || f.stamp-last.stamp > wait-0.5 || math.Abs(math.Remainder(h-heading, 2*math.Pi)) >= turn
				if keep {
					heading = h
				}
			}
		}
		if keep && (o.Lost == 0 || rng.Float64() >= o.Lost) {
			out = append(out, f)
		}
	}
	return out
}

// snap puts every fix on the nearest point of the road within 80 m of the
// runner's own place along it, so that it does not change to another leg.
func snap(fixes []measurement, road orb.LineString) {
	const near = 80
	chainage := make([]float64, len(road))
	for i := 1; i < len(road); i++ {
		chainage[i] = chainage[i-1] + distance(road[i-1], road[i])
	}
	project := func(q orb.Point, from, to float64) (orb.Point, float64) {
		i := max(sort.SearchFloat64s(chainage, from)-1, 0)
		best, bestAt, bestD := road[i], chainage[i], math.Inf(1)
		for ; i+1 < len(road) && chainage[i] < to; i++ {
			a, v := road[i], minus(road[i+1], road[i])
			vv := dot(v, v)
			if vv == 0 {
				continue
			}
			f := min(max(dot(minus(q, a), v)/vv, 0), 1)
			p := orb.Point{a[0] + f*v[0], a[1] + f*v[1]}
			if d := distance(p, q); d < bestD {
				best, bestAt, bestD = p, chainage[i]+f*(chainage[i+1]-chainage[i]), d
			}
		}
		return best, bestAt
	}
	here, along := 0.0, math.NaN()
	for k := range fixes {
		step := 0.0
		if !math.IsNaN(along) {
			step = max(fixes[k].along-along, 0)
		}
		along = fixes[k].along
		_, here = project(fixes[k].truth, here-10, here+2*step+20)
		fixes[k].at, _ = project(fixes[k].at, here-near, here+near)
	}
}

// write rounds the fixes and puts them on the earth.
func (o Options) write(fixes []measurement) Record {
	out := Record{
		Fixes: make([]track.Fix, len(fixes)), Points: make(orb.LineString, len(fixes)), Times: make([]float64, len(fixes)),
	}
	if len(fixes) == 0 {
		return out
	}
	unit := math.Pow(10, float64(o.Decimals))
	began := fixes[0].stamp
	for k, f := range fixes {
		at := o.Plane.From(f.at)
		if o.Decimals > 0 {
			at.Lat, at.Lon = math.Round(at.Lat*unit)/unit, math.Round(at.Lon*unit)/unit
			f.at = o.Plane.To(at)
		}
		fix := track.Fix{At: at, Height: math.Round(f.height*10) / 10}
		if !o.Began.IsZero() {
			fix.Time = o.Began.Add(time.Duration(math.Round((f.stamp-began)*1000)) * time.Millisecond)
		}
		out.Fixes[k], out.Points[k], out.Times[k] = fix, f.at, f.stamp
	}
	return out
}
