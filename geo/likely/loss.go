package likely

import (
	"math"
	"math/rand/v2"
)

// losses works out what sampling and filtering cut off at each section. stepVar
// is that of Noise.
func (p *placed) losses(r *Reference, secs []section, stepVar float64) losses {
	out := make([]float64, len(secs))
	h := newHeading(r)
	var passages []*passage
	for i, sec := range secs {
		if sec.turn < 0 || sec.missing {
			continue
		}
		if ps := p.passage(i, sec, r.Turns[sec.turn]); ps != nil {
			// What lies between two turns is parted in its middle.
			ps.low, ps.high = sec.from, sec.to
			if i > 0 && secs[i-1].turn < 0 {
				ps.low = (secs[i-1].from + sec.from) / 2
			}
			if i+1 < len(secs) && secs[i+1].turn < 0 {
				ps.high = (sec.to + secs[i+1].to) / 2
			}
			passages = append(passages, ps)
		}
	}
	// Which filter it was is told from the sharpest turns, for which every
	// filter is tried that the straights leave open; the others are then
	// compared with those that come into question.
	heard := p.sound(secs)
	open := believe(nil, heard).open()
	ridge := math.Max(stepVar, 1e-3) / strays / strays
	witnesses := sharpest(passages)
	var d desk
	for _, ps := range witnesses {
		sec := secs[ps.sec]
		ps.fit(&d, h, r.Turns[sec.turn], sec, ridge, open)
	}
	weight := believe(witnesses, heard)
	open = weight.open()
	for _, ps := range passages {
		if sec := secs[ps.sec]; !ps.fitted {
			ps.fit(&d, h, r.Turns[sec.turn], sec, ridge, open)
		}
	}
	filtered := 1.0
	for a := range easings {
		filtered -= weight[a][0]
	}
	// What each filter would have cut off, for the doubt between filters.
	var ways []way
	for b := range filters {
		w := way{loss: make([]float64, len(secs))}
		for a := range easings {
			w.weight += weight[a][b]
		}
		if w.weight < 1e-3 {
			continue
		}
		for _, ps := range passages {
			for a := range easings {
				for k, v := range ps.loss[a][b] {
					if i := ps.sec + k - 1; i >= 0 && i < len(out) {
						out[i] += weight[a][b] * v
						w.loss[i] += weight[a][b] / w.weight * v
					}
				}
			}
		}
		ways = append(ways, w)
	}
	return losses{out, ways, filtered}
}

// losses is what sampling and filtering cut off at each section, in metres.
type losses struct {
	mean     []float64
	ways     []way   // with each filter that comes into question
	filtered float64 // probability that there was a filter
}

type way struct {
	weight float64
	loss   []float64
}

// doubt is the variance of a section's loss between the filters, m².
func (l losses) doubt(section int) (v float64) {
	for _, w := range l.ways {
		d := w.loss[section] - l.mean[section]
		v += w.weight * d * d
	}
	return v
}

// totalDoubt is the same for the sum of all sections: a wrong filter is wrong
// at every turn.
func (l losses) totalDoubt() (v float64) {
	for _, w := range l.ways {
		var d float64
		for i := range w.loss {
			d += w.loss[i] - l.mean[i]
		}
		v += w.weight * d * d
	}
	return v
}

// mostSteps of a record are compared at a turn; whoever needs more stands about
// there, or the record is one of many fixes a second, which loses nothing.
const mostSteps = 400

// mostWitnesses is how many turns are asked for the filter.
const mostWitnesses = 24

// sharpest gives the turns that betray the filter best, evenly spread.
func sharpest(passages []*passage) []*passage {
	var out []*passage
	for _, ps := range passages {
		if ps.sharp {
			out = append(out, ps)
		}
	}
	if n := len(out); n > mostWitnesses {
		for i := range mostWitnesses {
			out[i] = out[i*n/mostWitnesses]
		}
		out = out[:mostWitnesses]
	}
	return out
}

// weights are the probabilities of the easings with the filters.
type weights [len(easings)][nFilters]float64

// open tells the filters that come into question.
func (w weights) open() (out [nFilters]bool) {
	for b := range out {
		sum := 0.0
		for a := range w {
			sum += w[a][b]
		}
		out[b] = sum > 1e-3
	}
	return out
}

// believe weighs easings and filters by what the turns look like and by what
// was heard between them. How sure the turns are is read off how much they
// agree: the weights are the mean over many draws in which each turn has a
// random say (the Bayesian bootstrap of Rubin 1981, for weights as by Yao,
// Vehtari, Simpson and Gelman 2018).
func believe(witnesses []*passage, heard [nFilters]float64) (weight weights) {
	// Each turn's likelihood has its own scale, so that one at which the record
	// lies quite elsewhere does not outvote the others.
	var shapes []weights
	for _, ps := range witnesses {
		steps := float64(len(ps.steps))
		var shape weights
		seen := false
		for a := range easings {
			for b := range filters {
				shape[a][b] = logLikelihood(ps.misfit[a][b], steps, ownPerSecond)
				seen = seen || !math.IsInf(ps.misfit[a][b], 1)
			}
		}
		if seen {
			shapes = append(shapes, shape)
		}
	}
	rng := rand.New(rand.NewPCG(1, 2)) // the same record is told the same
	const draws = 200
	say := make([]float64, len(shapes))
	for range draws {
		var total float64
		for i := range say {
			say[i] = rng.ExpFloat64()
			total += say[i]
		}
		var shape weights
		for i := range say {
			k := say[i] * float64(len(say)) / total
			for a := range easings {
				for b := range filters {
					shape[a][b] += k * shapes[i][a][b]
				}
			}
		}
		best := math.Inf(-1)
		for a := range easings {
			for b := range filters {
				best = math.Max(best, shape[a][b]+heard[b])
			}
		}
		var sum float64
		var drawn weights
		for a := range easings {
			for b := range filters {
				w := math.Exp(heard[b] + shape[a][b] - best)
				if b == 0 {
					w *= nFilters - 1 // no filter is as likely as some filter
				}
				drawn[a][b] = w
				sum += w
			}
		}
		for a := range easings {
			for b := range filters {
				weight[a][b] += drawn[a][b] / sum / draws
			}
		}
	}
	return weight
}
