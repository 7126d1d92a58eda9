package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"

	"github.com/paulmach/orb"
)

// Runner says how somebody runs a course.
type Runner struct {
	// ApexMiss is how far outside the shortest line the runner aims at turns,
	// m, and ApexSpread how much that differs from turn to turn (standard
	// deviation, m). A draw below 0 counts as 0, one beyond the road as the
	// road's edge.
	ApexMiss, ApexSpread float64
	// BlendMin and BlendMax are the range of lengths, m, over which the runner
	// leaves the shortest line before a turn and returns to it behind. A
	// BlendMax of zero means 20 to 60.
	BlendMin, BlendMax float64

	// Weave and drift are movements across the road with these standard
	// deviations and lengths, m: second-order critically damped processes of
	// the distance, correlation (1+x/L) exp(-x/L). Weaving runs at 0.1–0.8 m
	// over 15–60 m, drifting at 0–2 m over 100–500 m.
	WeaveSD, WeaveLength float64
	DriftSD, DriftLength float64

	Speed                float64 // m/s on the level
	SpeedSD, SpeedLength float64 // relative variation and the distance over which it varies, m
	// GradeLoss is the share of speed lost per unit of gradient (3 means 15 %
	// slower at 5 % up and as much faster down), needs Reference.Height.
	GradeLoss float64
	// SideAcceleration is what the runner can hold in a turn, m/s²; the speed
	// stays below sqrt(it × radius). Zero means no slowing.
	SideAcceleration float64

	LeadIn Walk // before the start line
	RunOut Walk // after the finish line
}

// Walk is what is recorded outside the race: before the start a wait at some
// distance behind the line and then the way to it, after the finish the way
// on and then a wait.
type Walk struct {
	Distance float64 // m from the line
	Wait     float64 // s standing at the far end
	Speed    float64 // m/s; zero means 1.2, walking
}

// Truth is a run as it really was.
type Truth struct {
	Points  orb.LineString // about every 0.25 m; while standing the point repeats
	Times   []float64      // s after the start line was crossed, below 0 before
	Along   []float64      // m along the reference line, never decreasing
	Heights []float64      // m, NaN when the reference has none

	Shortest     float64     // m, length of the reference line
	Ran          float64     // m from the start line to the finish line
	Extra        float64     // m, Ran - Shortest, = the sum of the turns' extra + BetweenTurns
	BetweenTurns float64     // m
	Turns        []TurnTruth // as in the reference
	LeadIn       float64     // m run or walked before the start line
	RunOut       float64     // m after the finish line
	Duration     float64     // s from line to line
	// Overstep is the furthest the path leaves the permitted road, m: a
	// centimetre or two that the search for a smooth path leaves over.
	Overstep float64
}

// TurnTruth is a turn as it was run.
type TurnTruth struct {
	// Extra is the length of the path less the length of the shortest line
	// between the lines across the road at the two ends of the turn's window, m.
	Extra float64
	// Miss is how far outside the apex of the shortest line the path passed, m.
	Miss float64
	// Time is how long the runner was between the two lines, s.
	Time float64
}

// turnRadius is the radius, m, that a runner plans to turn with where the
// shortest line turns more sharply: a swing out before the turn and behind it,
// through the apex (assumption: about what is seen at cones). Where the road
// is too narrow for the swing the turn gets tighter.
const turnRadius = 3.0

// turnSmoothing is the standard deviation, in metres of path, of the kernel
// that rounds what is left of kinks.
const turnSmoothing = 1.5

// check refuses a runner that cannot run.
func (r Runner) check() error {
	if !(r.Speed > 0) || bad(r.Speed) {
		return fmt.Errorf("the runner has an impossible speed of %g m/s", r.Speed)
	}
	for _, v := range []float64{r.ApexMiss, r.ApexSpread, r.BlendMin, r.BlendMax, r.WeaveSD, r.WeaveLength, r.DriftSD,
		r.DriftLength, r.SpeedSD, r.SpeedLength, r.GradeLoss, r.SideAcceleration, r.LeadIn.Distance, r.LeadIn.Wait, r.LeadIn.Speed,
		r.RunOut.Distance, r.RunOut.Wait, r.RunOut.Speed} {
		if bad(v) || v < 0 {
			return fmt.Errorf("the runner has an impossible setting %g", v)
		}
	}
	return nil
}

// Run makes one run of the reference line. The same runner, reference and
// state of the generator give the same run. It fails for a runner without
// speed or with a setting that is negative or not finite, and for a reference
// of less than a metre or with turns out of order.
func (r Runner) Run(ref Reference, rng *rand.Rand) (Truth, error) {
	if err := r.check(); err != nil {
		return Truth{}, err
	}
	length, err := ref.check()
	if err != nil {
		return Truth{}, err
	}
	// Straight continuations carry the lead-in and the run-out, and keep the
	// ends of the smoothing away from the race.
	const margin = 40
	st := ref.stations(r.LeadIn.Distance+margin, r.RunOut.Distance+margin)
	bends := make([]bend, len(ref.Turns))
	for i, t := range ref.Turns {
		bends[i] = bendOf(st, t)
	}
	lim := limitsOf(ref, st, length)
	wanted := r.wanted(st, bends, lim, rng)
	path, overstep := runnable(st, wanted, lim, bends)

	l, err := lay(path, st, ref, bends, length)
	if err != nil {
		return Truth{}, err
	}
	return r.truth(l, r.clock(l, ref, length, rng), ref, length, overstep), nil
}

// limits are the offsets between which the road lies, by station.
type limits struct{ low, high []float64 }

// openField is the limit where there is none, m.
const openField = 1000

func limitsOf(ref Reference, st []station, length float64) limits {
	lim := limits{make([]float64, len(st)), make([]float64, len(st))}
	for i, s := range st {
		left, right := float64(openField), float64(openField)
		if ref.Limits != nil {
			left, right = ref.Limits(min(max(s.along, 0), length))
		}
		lim.low[i], lim.high[i] = -max(right, 0), max(left, 0)
	}
	return lim
}

// wanted is the offset from the reference line that the runner has in mind.
func (r Runner) wanted(st []station, bends []bend, lim limits, rng *rand.Rand) []float64 {
	// Weave and drift go on through the stations of a vertex as if they were
	// spaced evenly: a runner who goes round it outside does move on.
	u := smoothProfile(len(st), spacing, r.WeaveSD, r.WeaveLength, rng)
	for i, d := range smoothProfile(len(st), spacing, r.DriftSD, r.DriftLength, rng) {
		u[i] += d
	}
	// Where the kerb cuts the drift off, the way wide through the turn starts
	// from the kerb, not from beyond it.
	seen := lim.foreseen()
	for i := range u {
		u[i] = squeeze(u[i], seen.low[i], seen.high[i], 0.3)
	}
	// Two turns the same way close together are run wide once.
	left, right := make([]float64, len(st)), make([]float64, len(st))
	for _, b := range bends {
		if b.outside > 0 {
			r.swing(left, lim.high, 1, st, b, rng)
		} else {
			r.swing(right, lim.low, -1, st, b, rng)
		}
	}
	for i := range u {
		u[i] = squeeze(u[i]+left[i]-right[i], seen.low[i], seen.high[i], 0.1)
	}
	return u
}

// foreseen are the limits that a runner keeps who sees a narrowing coming and
// moves over by no more than 0.3 m per metre.
func (l limits) foreseen() limits {
	const slope = 0.3 * spacing
	out := limits{append([]float64(nil), l.low...), append([]float64(nil), l.high...)}
	tighten := func(i, from int) {
		out.low[i] = max(out.low[i], out.low[from]-slope)
		out.high[i] = min(out.high[i], out.high[from]+slope)
	}
	for i := 1; i < len(l.low); i++ {
		tighten(i, i-1)
	}
	for i := len(l.low) - 2; i >= 0; i-- {
		tighten(i, i+1)
	}
	return out
}

// swing raises out, offsets to the outside, to the way a runner takes one turn
// wide. The road's edge there, with the sign of its side, limits it.
func (r Runner) swing(out, edge []float64, side float64, st []station, b bend, rng *rand.Rand) {
	miss := max(r.ApexMiss+r.ApexSpread*rng.NormFloat64(), 0)
	blendMin, blendMax := r.BlendMin, r.BlendMax
	if blendMax == 0 {
		blendMin, blendMax = 20, 60
	}
	in, off := uniform(rng, blendMin, blendMax), uniform(rng, blendMin, blendMax)
	// Three habits besides the even one: clipping the turn early and being
	// carried out, late with a wide entry, and staying wide all the way.
	atEntry, atExit, hold := miss, miss, 0.0
	switch lean := uniform(rng, 0.2, 0.5); rng.IntN(4) {
	case 1:
		atEntry, atExit = miss*(1-lean), miss*(1+lean)
	case 2:
		atEntry, atExit = miss*(1+lean), miss*(1-lean)
	case 3:
		hold = uniform(rng, 5, 20)
	}
	entry, exit := b.entry-hold, b.exit+hold
	if exit-entry < 4 { // a corner in a point: the lean needs some length
		entry, exit = b.apex-2, b.apex+2
	}
	i := sort.Search(len(st), func(i int) bool { return st[i].along >= entry-max(in, 60) })
	for ; i < len(st) && st[i].along < exit+max(off, 60); i++ {
		var v float64
		switch s := st[i].along; {
		case s < entry:
			v = atEntry * easing((s-(entry-in))/in)
		case s > exit:
			v = atExit * easing((exit+off-s)/off)
		default:
			v = atEntry + (atExit-atEntry)*easing((s-entry)/(exit-entry))
		}
		v += b.roundness(st[i].along)
		out[i] = max(out[i], min(v, side*edge[i]))
	}
}

// roundness is how far outside the shortest line a circle of turnRadius runs
// that passes through the apex of a sharper turn, and the way back from it.
func (b bend) roundness(along float64) float64 {
	angle := math.Abs(b.angle)
	if angle == 0 {
		return 0
	}
	spare := turnRadius - (b.exit-b.entry)/(0.8*angle)
	if spare <= 0 {
		return 0
	}
	x := max(b.entry-along, along-b.exit, 0)
	abeam, inside := spare*math.Sin(angle/2), spare*math.Cos(angle/2) // the centre, seen from the apex along the leg
	if x <= abeam {
		return math.Sqrt(spare*spare-(x-abeam)*(x-abeam)) - inside
	}
	out := spare - inside
	return out * easing(1-(x-abeam)/(10+5*out))
}

// easing goes from 0 to 1 with no slope and no curvature at either end.
func easing(x float64) float64 {
	x = min(max(x, 0), 1)
	return x * x * x * (10 + x*(6*x-15))
}

// squeeze keeps v between low and high with a shoulder rounded over soft, so
// that a runner pressed against the kerb runs along it without a kink.
func squeeze(v, low, high, soft float64) float64 {
	soft = min(soft, (high-low)/4)
	if soft <= 0 {
		return (low + high) / 2
	}
	v = low + soften(v-low, soft)
	v = high - soften(high-v, soft)
	return min(max(v, low), high)
}

// soften is max(x, 0) with the corner rounded over ±soft.
func soften(x, soft float64) float64 {
	switch {
	case x >= soft:
		return x
	case x <= -soft:
		return 0
	}
	return (x + soft) * (x + soft) / (4 * soft)
}

// path is the run before it has times.
type path struct {
	points orb.LineString
	origin []float64 // station number each point came from, fractional
}

// runnable finds a smooth path near the wanted offsets that stays on the road.
// Smoothing pulls the path inwards at turns; what it takes is measured against
// the road and against the wanted miss at the apex, and given back, until
// nothing is missing.
func runnable(st []station, wanted []float64, lim limits, bends []bend) (path, float64) {
	const (
		rounds = 30
		enough = 0.01 // m
		// mostPush is how far the path may be pushed against its smoothing, m.
		mostPush = 5.0
	)
	u := append([]float64(nil), wanted...)
	apexes := make([]int, len(bends))
	for i, b := range bends {
		apexes[i] = middleStation(st, b.apex)
	}
	push := make([]float64, len(st))
	var p path
	for round := 0; ; round++ {
		p = smoothed(st, u)
		overstep, lack := shortfall(p, st, wanted, lim, bends, apexes, push)
		if (overstep < enough && lack < 5*enough) || round == rounds {
			return p, overstep
		}
		spread(push)
		for i := range u {
			// Where a demand cannot be met, pushing on would tear the path apart.
			u[i] = min(max(u[i]+push[i], wanted[i]-mostPush), wanted[i]+mostPush)
		}
	}
}

// middleStation is the middle one of the stations at a place.
func middleStation(st []station, along float64) int {
	i := sort.Search(len(st), func(i int) bool { return st[i].along >= along-1e-9 })
	j := sort.Search(len(st), func(i int) bool { return st[i].along > along+1e-9 })
	return min(max((i+j-1)/2, i), len(st)-1)
}

// smoothed lays the offsets out, resamples the line evenly and rounds it.
func smoothed(st []station, u []float64) path {
	raw := path{points: make(orb.LineString, 0, len(st)), origin: make([]float64, 0, len(st))}
	carry := 0.0 // distance already gone since the last sample
	last := st[0].offset(u[0])
	raw.points, raw.origin = append(raw.points, last), append(raw.origin, 0)
	for i := 1; i < len(st); i++ {
		next := st[i].offset(u[i])
		d := distance(last, next)
		at := spacing - carry
		for ; at <= d; at += spacing {
			f := at / d
			raw.points = append(raw.points, orb.Point{last[0] + f*(next[0]-last[0]), last[1] + f*(next[1]-last[1])})
			raw.origin = append(raw.origin, float64(i-1)+f)
		}
		carry = d - (at - spacing)
		last = next
	}
	out := path{points: make(orb.LineString, len(raw.points)), origin: raw.origin}
	for k := range raw.points {
		out.points[k] = blur(raw.points, k)
	}
	return out
}

// kernel is a Gaussian of turnSmoothing, cut at three standard deviations.
var kernel = func() []float64 {
	n := int(3 * turnSmoothing / spacing)
	w := make([]float64, n+1)
	sum := 0.0
	for i := range w {
		x := float64(i) * spacing / turnSmoothing
		w[i] = math.Exp(-x * x / 2)
		sum += w[i] * float64(min(i, 1)+1)
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}()

func blur(line orb.LineString, k int) orb.Point {
	reach := min(len(kernel)-1, k, len(line)-1-k)
	x, y, sum := kernel[0]*line[k][0], kernel[0]*line[k][1], kernel[0]
	for i := 1; i <= reach; i++ {
		a, b := line[k-i], line[k+i]
		x += kernel[i] * (a[0] + b[0])
		y += kernel[i] * (a[1] + b[1])
		sum += 2 * kernel[i]
	}
	return orb.Point{x / sum, y / sum}
}

// shortfall measures how far the path lies beyond the road and inside the
// wanted miss at the apexes, and writes the offsets to give back into push.
func shortfall(p path, st []station, wanted []float64, lim limits, bends []bend, apexes []int, push []float64) (overstep, lack float64) {
	clear(push)
	for k, q := range p.points {
		home := int(p.origin[k] + 0.5)
		// Well inside a wide road nothing needs measuring.
		if wanted[home]-lim.low[home] > 3 && lim.high[home]-wanted[home] > 3 {
			continue
		}
		i, off := nearest(st, q, home)
		if v := lim.low[i] - off; v > 0 {
			overstep = max(overstep, v)
			push[home] = max(push[home], v)
		}
		if v := off - lim.high[i]; v > 0 {
			overstep = max(overstep, v)
			push[home] = min(push[home], -v)
		}
	}
	for i, a := range apexes {
		k := sort.SearchFloat64s(p.origin, float64(a))
		k = min(k, len(p.points)-1)
		off := dot(minus(p.points[k], st[a].at), st[a].left)
		if v := (wanted[a] - off) * bends[i].outside; v > 0 {
			lack = max(lack, v)
			if push[a]*bends[i].outside < v {
				push[a] = v * bends[i].outside
			}
		}
	}
	return overstep, lack
}

// nearest is the station nearest to a point, among those within 8 m of home,
// and the offset of the point there. Stations of another heading do not count:
// where the course turns back the two ways lie side by side.
func nearest(st []station, q orb.Point, home int) (int, float64) {
	const (
		reach = 8 / spacing
		alike = 0.2 // cosine of the difference in heading, 78°
	)
	best, bestD, bestOff := home, math.Inf(1), 0.0
	for i := max(home-reach, 0); i <= min(home+reach, len(st)-1); i++ {
		if dot(st[i].left, st[home].left) < alike {
			continue
		}
		away := minus(q, st[i].at)
		d, off := dot(away, away), dot(away, st[i].left)
		if d < bestD-1e-9 || (d < bestD+1e-9 && math.Abs(off) > math.Abs(bestOff)) {
			best, bestD, bestOff = i, d, off
		}
	}
	return best, bestOff
}

// spread widens what has to be given back to the length a runner needs for it.
func spread(push []float64) {
	const (
		widen = 12 // stations to either side that get the largest push
		soft  = 12 // and over which it fades
	)
	wide := make([]float64, len(push))
	for i, v := range push {
		if v == 0 {
			continue
		}
		for j := max(i-widen, 0); j <= min(i+widen, len(push)-1); j++ {
			if math.Abs(v) > math.Abs(wide[j]) {
				wide[j] = v
			}
		}
	}
	// Two running means make the fade smooth.
	for range 2 {
		sum := make([]float64, len(wide)+1)
		for i, v := range wide {
			sum[i+1] = sum[i] + v
		}
		for i := range wide {
			a, b := max(i-soft/2, 0), min(i+soft/2+1, len(wide))
			wide[i] = (sum[b] - sum[a]) / float64(b-a)
		}
	}
	copy(push, wide)
}
