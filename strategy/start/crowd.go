package start

import (
	"math"

	"tautline/geo/interval"
	"tautline/strategy/plan"
)

// Sizes that have no source and are our own.
const (
	seedError = 0.06  // by how much, as a share of pace, people misjudge where they belong, one standard deviation
	lastPen   = 1.25  // an open last pen reaches this much slower than its fastest
	leastOver = 300.0 // m, the shortest stretch over which a crowd thins
	pickUp    = 1.0   // m/s², from the jog over the line to the own pace
	holdUp    = 0.09  // s, see cost
)

// bounds are the paces that a pen is for, its open ends closed: by its
// neighbours, unless these stand in the wrong order.
func (l Line) bounds(i int) (fastest, slowest float64) {
	p := l.Pens[i]
	fastest, slowest = p.Fastest, p.Slowest
	if open(fastest) && i > 0 {
		if front := l.Pens[i-1].Slowest; open(slowest) || front < slowest {
			fastest = front
		}
	}
	if open(slowest) && i+1 < len(l.Pens) {
		if behind := l.Pens[i+1].Fastest; behind > fastest {
			slowest = behind
		}
	}
	switch {
	case open(fastest) && open(slowest):
		fastest, slowest = 0.22, 0.44 // anyone: 3:40/km to 7:20/km
	case open(fastest):
		fastest = slowest / lastPen
	case open(slowest):
		slowest = fastest * lastPen
	}
	return fastest, slowest
}

// paces are mean and standard deviation of the people of a pen: evenly within
// its bounds, blurred by how people misjudge themselves.
func (l Line) paces(i int) (mean, sd float64) {
	fastest, slowest := l.bounds(i)
	mean = (fastest + slowest) / 2
	return mean, math.Hypot((slowest-fastest)/math.Sqrt(12), seedError*mean)
}

// Normal distribution: density, and the share above z.
func density(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }
func above(z float64) float64   { return math.Erfc(z/math.Sqrt2) / 2 }

// meanAbove is the mean of (z' - z) over all z' above z, for the standard
// normal: what is above z, and by how much.
func meanAbove(z float64) float64 { return density(z) - z*above(z) }

// passes is how many people a runner passes within a distance of the line and
// how many pass them, when all run their own paces from the line on and nobody
// is held up. at is the time at which the runner crosses, s from the gun.
func (l Line) passes(pace, at, distance, flow float64) (passes, passed float64) {
	for _, b := range l.blocks(flow) {
		rate := (b.to - b.from) / (b.shut - b.open)
		z := func(headway float64) float64 { return (pace + headway/distance - b.mean) / b.sd }
		// Who crossed a headway before the runner is caught when slower by more
		// than headway/distance: the share above z, summed over the headways.
		if first, last := at-math.Min(at, b.shut), at-b.open; last > 0 && last > first {
			passes += rate * distance * b.sd * (meanAbove(z(first)) - meanAbove(z(last)))
		}
		// Who crosses later catches the runner when faster by as much.
		if first, last := math.Max(at, b.open)-at, b.shut-at; last > 0 && last > first {
			passed += rate * distance * b.sd * (meanAbove(-z(-first)) - meanAbove(-z(-last)))
		}
	}
	// What cancels to less than nothing is rounding.
	return math.Max(0, passes), math.Max(0, passed)
}

// weave is the distance, m, that so many moves of aside metres, each over along
// metres, add.
func weave(moves, aside, along float64) float64 { return moves * (math.Hypot(aside, along) - along) }

// thinned is the distance at which the peak flow of n people who start together
// with normal speeds of this mean and deviation (m/s), and never meet, has
// fallen to what the road can pass: they arrive with a standard deviation of
// deviation·x/mean² seconds.
func thinned(n, mean, deviation, flow, width float64) float64 {
	return n * mean * mean / (math.Sqrt(2*math.Pi) * deviation * flow * width)
}

// count is a number of people with a stated band, our own, unsourced: from four
// tenths of it to one and a half, since how people seed themselves is not known
// better, and slower people in the way keep some from passing. It holds nine in
// ten of simulated fields.
func count(n float64) interval.Estimate {
	return interval.Estimate{Value: n, Low: math.Max(0, 0.4*n-1.645*math.Sqrt(n)), High: 1.5*n + 1.645*math.Sqrt(n)}
}

// slower is by how much, s/m, those in front are slower than a pace, the faster
// ones counting nothing: the mean over the nearer half of all who stand in
// front in the same wave. Which half is our own choice.
func (l Line) slower(pace, ahead float64) float64 {
	var from, wave, sum float64
	for i, p := range l.Pens {
		if ahead < from {
			break
		}
		if i > 0 && p.After > 0 {
			wave = from
		}
		from += p.People
	}
	near := (wave + ahead) / 2
	if !(ahead > near) {
		return 0
	}
	from = 0
	for i, p := range l.Pens {
		if people := math.Min(ahead, from+p.People) - math.Max(near, from); people > 0 {
			mean, sd := l.paces(i)
			sum += people * sd * meanAbove((pace-mean)/sd)
		}
		from += p.People
	}
	return sum / (ahead - near)
}

// thins is the distance in which the crowd fades: twice as far as the peak flow
// of the people let go together is more than the road passes, since a hold-up
// that is whole up to there costs as much as one that fades in a straight line
// over twice the distance.
func (l Line) thins(mean float64) float64 {
	n, most := 0.0, 0.0
	for i, p := range l.Pens {
		if i > 0 && p.After > 0 {
			n = 0 // a wave of its own
		}
		n += p.People
		most = math.Max(most, n)
	}
	// Speeds of the field differ by about 15 % (our own; 0.45 m/s at 3 m/s).
	v := 1 / mean
	over := 2 * thinned(most, v, 0.15*v, l.flow().Value, l.Width)
	return math.Max(leastOver, math.Min(plan.DefaultCrowdOver, over))
}

// cost is what the crowd takes, s, from a runner with so many in front who
// crosses at a time, s from the gun: coming up to speed from the jog over the
// line, and being held up by the people to be passed in the first kilometre.
//
// The hold-up is 0.09 n^1.5 s for n people to pass per metre of road width. The
// form and its two figures are our own, fitted to simulated fields in lanes of
// 75 cm with up to 160 people to pass per metre; no source backs them. Beyond,
// it is held to what following those in front all the way would cost.
func (l Line) cost(r Runner, ahead, at, over, flow float64) float64 {
	v := 1 / r.Pace
	up := math.Max(0, v-jogSpeed)
	up = up * up / (2 * v * pickUp)
	passes, _ := l.passes(r.Pace, at, math.Min(1000, r.Distance/2), flow)
	return up + math.Min(holdUp*math.Pow(passes/l.Width, 1.5), l.slower(r.Pace, ahead)*over)
}

// crowdBand is the stated band about a cost: half of it less a second to twice
// of it and a second, which holds nine in ten of simulated places. Its upper end
// is never less than the start delay itself, at most a minute: so much was lost
// after the line in five marathons (Stone 1999, informal data: 65 % of the delay
// in the first mile, 35 % in the second).
func crowdBand(cost, delay float64) interval.Estimate {
	return interval.Estimate{Value: cost, Low: math.Max(0, cost/2-1), High: math.Max(2*cost+1, math.Min(60, delay))}
}

// weaving is the distance that passing so many adds. In simulated fields in lanes
// one move brings a runner past four to eight people; one move for four is taken
// here, from one for eight to one each, a metre aside over ten, 0.7 to 1.5 m: our
// own, unsourced.
func weaving(passes float64) interval.Estimate {
	n := count(passes)
	return interval.Estimate{Value: weave(passes/4, 1, 10), Low: weave(n.Low/8, 0.7, 10), High: weave(n.High, 1.5, 10)}
}
