package likely

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"tautline/geo/interval"
)

// What is taken for granted of runners before a record is seen. Metres.
const (
	meanMiss = 2.4  // how far outside the line turns are taken, over all runners: what they miss it by, and what they drift
	sdMiss   = 1.4  // from runner to runner
	sdSide   = 0.6  // between a runner's left and right turns
	sdTurn   = 0.8  // from turn to turn
	meanEach = 0.25 // what every turn costs however little it turns: leaving the line and coming back
	sdEach   = 0.25 // from runner to runner
	sdWeave  = 2e-4 // m per m, doubt of the weaving
	sdLoss   = 0.16 // share, doubt of the corner loss

	sdSlow   = 1.8  // receiver error that lasts a quarter of an hour and more
	slowTime = 1100 // s
)

// honest is what every interval is widened by, since the model's own errors
// are not in it: they grow with those of the receiver. Set on simulated records
// so that about nine in ten intervals hold the truth.
func honest(n Noise) float64 { return 1 + 0.1*min(n.Wander/2, 3) }

// part is the receiver's error at a time, along a direction in the plane.
type part struct {
	time float64
	dir  orb.Point
}

// sight is what the record says of a section: the runner's habits times their
// weights plus errors.
type sight struct {
	value, mean float64 // m
	miss, side  float64 // weights of the runner's miss and of its difference left and right, rad
	each        float64 // 1 for a turn, 0 between turns
	length      float64 // m, whose scatter is doubtful
	loss        float64 // m
	noise       float64 // m², of its own
	section     int
	parts       []part
}

// Infer infers how far a runner ran beyond the reference line, in all and
// section by section.
func Infer(r *Reference, fixes []Fix, o Options) *Result {
	if o.To == 0 {
		o.To = r.Length()
	}
	p := place(r, fixes)
	res := &Result{}
	if len(p.fixes) < 3 {
		return res
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range p.s {
		low, high = math.Min(low, s), math.Max(high, s)
	}
	secs := cutSeen(r, o.From, o.To, low, high)
	p.measure(secs)
	receiver := p.listen(secs)
	lost := p.losses(r, secs, receiver.noise.StepVar)
	loss := lost.mean
	noise, samples := receiver.scatter(secs, loss)
	noise.Filter = lost.filtered
	var sights []sight // of the turns
	res.Sections = make([]Section, len(secs))
	var between, vBetween, lBetween, lTurns float64
	for i, sec := range secs {
		g := p.sight(r, secs, i, noise, loss[i], rateAt(samples, noise, (sec.from+sec.to)/2))
		res.Sections[i] = Section{
			Turn: sec.turn, From: sec.from, To: sec.to, Lost: loss[i], Shown: g.value,
			First: p.given(sec.first), Last: p.given(sec.last), Unseen: sec.unseen, Missing: sec.missing,
		}
		if o.Blind {
			g.value, g.noise = g.mean, unseen
		}
		if sec.turn >= 0 {
			g.section = i
			sights = append(sights, g)
			lTurns += sec.length()
			continue
		}
		// Between turns there is little to run wide in, and what the record
		// shows there has already told the scatter.
		prior := sdWeave*sdWeave*g.length*g.length + sdTurn*sdTurn*g.miss*g.miss + 0.01
		k := prior / (prior + g.noise + g.own(noise))
		e := interval.Normal(g.mean+k*(g.value-g.mean), math.Sqrt((1-k)*prior))
		if least := -sec.length(); e.Value < least { // nobody runs less than nothing
			e = e.Shift(least - e.Value)
		}
		res.Sections[i].Extra = e
		between += e.Value
		vBetween += (1 - k) * prior
		lBetween += sec.length()
	}
	typical(sights)
	total, sdTurns, vEarly := between, 0.0, 0.0
	sights = slices.DeleteFunc(sights, func(g sight) bool {
		if !g.early(noise) {
			return false
		}
		v := g.own(noise) + g.noise + sdLoss*sdLoss*g.loss*g.loss
		value := math.Max(g.value, -secs[g.section].length()) // nobody runs less than nothing
		res.Sections[g.section].Extra = interval.Normal(value, honest(noise)*math.Sqrt(v+lost.doubt(g.section)))
		total += value
		vEarly += v
		return true
	})
	mistrust(sights, noise)
	for len(sights) > 0 {
		some := sights[:min(len(sights), judgedAtOnce)]
		sights = sights[len(some):]
		post, cov := judge(some, noise)
		var v float64
		for i, g := range some {
			sec := secs[g.section]
			post[i] = math.Max(post[i], -sec.length()) // nobody runs less than nothing
			total += post[i]
			for j := range some {
				v += cov[i][j]
			}
			res.Sections[g.section].Extra = interval.Normal(post[i], honest(noise)*math.Sqrt(cov[i][i]+lost.doubt(g.section)))
		}
		sdTurns += math.Sqrt(v) // habits go through all of them
	}
	vTotal := sdTurns*sdTurns + vEarly + lost.totalDoubt()
	// A wrong scatter is wrong everywhere.
	wrong := noise.ScatterSD * noise.ScatterSD
	res.Between = interval.Normal(between, honest(noise)*math.Sqrt(vBetween+wrong*lBetween*lBetween))
	res.Extra = interval.Normal(total, honest(noise)*math.Sqrt(vTotal+vBetween+wrong*lBetween*(lBetween+2*lTurns)))
	res.Noise = noise
	res.Path = p.path(r, noise, res.Sections)
	return res
}

// typical puts the usual corner loss of the record in the place of each turn's
// own in what is doubted of it: a turn whose loss came out too large by chance
// would otherwise count for less than one whose loss came out too small, and
// the sum would lean to one side.
func typical(sights []sight) {
	var loss, miss float64
	for _, g := range sights {
		if g.noise < unseen {
			loss, miss = loss+math.Abs(g.loss), miss+g.miss
		}
	}
	if miss == 0 {
		return
	}
	for i := range sights {
		sights[i].loss = loss / miss * sights[i].miss
	}
}

// early tells whether the runner turned before a turn-around, so far before it
// that no error makes it so: what habits say of turns says nothing of that.
func (g sight) early(noise Noise) bool {
	const far = 4.0 // standard deviations
	if g.miss < back || g.noise >= unseen {
		return false
	}
	short := g.mean - g.value
	v := g.own(noise) + g.noise + sdLoss*sdLoss*g.loss*g.loss + (sdMiss*sdMiss+sdTurn*sdTurn)*g.miss*g.miss
	return short > 0 && short*short > far*far*v
}

// mistrust lets a turn count less that is far from how the runner takes the
// others: more often the record was cut in the wrong place there, or the signal
// reflected, than somebody ran thirty metres wide once.
func mistrust(sights []sight, noise Noise) {
	const far = 4.0 // standard deviations
	var rates []float64
	for _, g := range sights {
		if g.miss > 0.3 && g.noise < unseen {
			rates = append(rates, (g.value-g.mean)/g.miss)
		}
	}
	if len(rates) < 5 {
		return
	}
	usual := median(rates)
	for i := range sights {
		g := &sights[i]
		apart := g.value - g.mean - usual*g.miss
		v := g.own(noise) + g.noise + sdTurn*sdTurn*g.miss*g.miss + 0.25
		if apart*apart > far*far*v {
			g.noise += apart * apart / 4
		}
	}
}

// judgedAtOnce is how many turns are weighed together: the work grows with the
// cube of their number.
const judgedAtOnce = 400

// unseen is the variance, m², of what a record does not show.
const unseen = 1e6

// sight works out what the record says of a section.
func (p *placed) sight(r *Reference, secs []section, i int, noise Noise, loss, rate float64) sight {
	sec := secs[i]
	g := sight{length: sec.length(), loss: loss}
	for _, k := range r.kinks(sec.from, sec.to, 30) {
		a := 2 * math.Asin(math.Min(1, math.Hypot(k.dT[0], k.dT[1])/2))
		g.miss += a
		g.side += math.Copysign(a, k.side)
		g.parts = append(g.parts, part{p.timeOf(secs, i, k.at), orb.Point{-k.dT[0], -k.dT[1]}})
	}
	g.mean = noise.Weave * sec.length()
	if sec.turn >= 0 {
		g.each = 1
		g.mean += meanMiss*g.miss + meanEach
	}
	g.value = sec.surplus() - rate*sec.length() + loss
	g.noise = noise.RateVar*sec.length() + 0.01
	if sec.missing {
		g.value, g.noise = g.mean, unseen
	}
	return g
}

// shared is the covariance of the receiver's displacement in two sections.
func shared(a, b []part, noise Noise) (v float64) {
	wander := noise.Wander * noise.Wander
	for _, x := range a {
		for _, y := range b {
			dt := math.Abs(x.time - y.time)
			if math.IsNaN(dt) {
				dt = 1e9
			}
			if dt < 6*slowTime {
				c := sdSlow * sdSlow * math.Exp(-dt/slowTime)
				if dt < 200 {
					c += wander * (1 + dt/15) * math.Exp(-dt/15)
				}
				v += (x.dir[0]*y.dir[0] + x.dir[1]*y.dir[1]) * c
			}
		}
	}
	return v
}

// own is the variance of the receiver's displacement in a section.
func (g sight) own(noise Noise) float64 { return shared(g.parts, g.parts, noise) }

// judge gives mean and covariance of what was run beyond the line in each
// section.
func judge(sights []sight, noise Noise) (post []float64, cov matrix) {
	m := len(sights)
	all := newMatrix(m) // of the sights
	prior := newMatrix(m)
	for i, a := range sights {
		for j := range i + 1 {
			b := sights[j]
			v := sdMiss*sdMiss*a.miss*b.miss + sdSide*sdSide*a.side*b.side
			v += sdEach*sdEach*a.each*b.each + sdWeave*sdWeave*a.length*b.length
			if i == j {
				v += sdTurn*sdTurn*a.miss*a.miss + 0.01
			}
			prior[i][j], prior[j][i] = v, v
			v += noise.ScatterSD*noise.ScatterSD*a.length*b.length + sdLoss*sdLoss*a.loss*b.loss
			v += shared(a.parts, b.parts, noise)
			if i == j {
				v += a.noise
			}
			all[i][j], all[j][i] = v, v
		}
	}
	l := cholesky(all)
	innov := make([]float64, m)
	for i, g := range sights {
		innov[i] = g.value - g.mean
	}
	w := solve(l, innov)
	post = make([]float64, m)
	cov = newMatrix(m)
	half := make(matrix, m)
	for i := range m {
		post[i] = sights[i].mean
		for j := range m {
			post[i] += prior[i][j] * w[j]
		}
		half[i] = forward(l, prior[i])
		for j := range i + 1 {
			v := prior[i][j]
			for k := range m {
				v -= half[i][k] * half[j][k]
			}
			cov[i][j], cov[j][i] = v, v
		}
	}
	return post, cov
}

// bendPart is a part of a section in which the line turns.
type bendPart struct {
	at   float64
	dT   orb.Point
	side float64
}

// kinks gathers the changes of direction of the line between two places into
// parts no longer than span metres.
func (r *Reference) kinks(from, to, span float64) []bendPart {
	var out []bendPart
	i, _ := r.leg(from)
	_, start := r.at(from)
	dir, begin := start, from
	flush := func(at float64) {
		d := orb.Point{dir[0] - start[0], dir[1] - start[1]}
		if math.Hypot(d[0], d[1]) > 0.01 {
			out = append(out, bendPart{(begin + at) / 2, d, start[0]*dir[1] - start[1]*dir[0]})
		}
		start, begin = dir, at
	}
	for i++; i < len(r.Points)-1 && r.Along[i] < to; i++ {
		if r.Along[i]-begin > span {
			flush(r.Along[i])
		}
		_, d := r.at((r.Along[i] + r.Along[i+1]) / 2)
		if d[0]*dir[0]+d[1]*dir[1] < 0 || start[0]*d[0]+start[1]*d[1] < 0 { // keep parts below a right angle
			flush(r.Along[i])
		}
		dir = d
	}
	flush(to)
	return out
}

func (p *placed) timeOf(secs []section, i int, at float64) float64 {
	s := secs[i]
	if math.IsNaN(s.first) || math.IsNaN(s.last) {
		return math.NaN()
	}
	f := (at - s.from) / math.Max(s.length(), 1e-9)
	return p.timeAt(s.first) + f*(p.timeAt(s.last)-p.timeAt(s.first))
}
