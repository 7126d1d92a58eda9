package forecast

import (
	"fmt"
	"math"

	"tautline/strategy/quantity"
)

// pair is the youngest pair of races run all out whose distances are far enough
// apart; ok is false without one.
func pair(list []used) (a, b used, ok bool) {
	best := math.Inf(1)
	for i, p := range list {
		for _, q := range list[i+1:] {
			if !p.allOut || !q.allOut || math.Abs(p.weeks-q.weeks) > pairWithin {
				continue
			}
			if _, _, tells := Personal(p.Performance, q.Performance); !tells {
				continue
			}
			if age := math.Max(p.weeks, q.weeks); age < best {
				best, a, b, ok = age, p, q, true
			}
		}
	}
	if ok && a.Distance > b.Distance {
		a, b = b, a
	}
	return a, b, ok
}

// personalInfo is the power law with the exponent of two races.
func personalInfo() Info {
	i := PowerLaw{}.Info()
	i.Name, i.Basis = "power law, personal exponent", fmt.Sprintf("exponent from two races, held between %.2f and %.2f", LeastExponent, GreatestExponent)
	return i
}

// views lists what each model says for the goal, and gives the two-race
// marathon time if it is to be used, else 0.
func (b *builder) views(list []used, c combined, uses func(Info) bool) (two float64) {
	d := b.f.Goal.Distance
	marathon := d > upToHalf
	whole := 1 + b.extra
	add := func(i Info, from string, t float64, note string) {
		v := View{Info: i, From: from, Time: t * whole, Note: note, Used: uses(i)}
		if !math.IsNaN(t) && !i.Holds(t) && i.Name != (VickersVertosick2016{}).Info().Name {
			v.Time, v.Note = math.NaN(), fmt.Sprintf("holds for efforts of %s to %s", quantity.Clock(i.Least), quantity.Clock(i.Most))
		}
		if math.IsNaN(v.Time) {
			v.Used = false
			if v.Note == "" {
				v.Note = "does not reach so far"
			}
		}
		b.f.Models = append(b.f.Models, v)
	}
	best := 0
	for i := range list {
		if math.Abs(c.weights[i]) > math.Abs(c.weights[best]) {
			best = i
		}
	}
	p := list[best]
	from := b.called(p)
	law, dg, vv := PowerLaw{GeneralExponent}, DanielsGilbert1979{}, VickersVertosick2016{}
	if marathon && p.Distance <= upToHalf {
		add(law.Info(), from, math.NaN(), "too fast at the marathon for most: not used beyond the half")
	} else if d <= upToHalf && p.Distance > upToHalf {
		add(law.Info(), from, math.NaN(), "not used from races beyond the half")
	} else {
		add(law.Info(), from, law.Time(p.Performance, d), "exponent 1.06")
	}
	index := dg.Index(p.Performance)
	note := fmt.Sprintf("fitness index %.1f", index)
	if marathon {
		note += "; hopeful at the marathon unless well trained"
	}
	add(dg.Info(), from, dg.Time(index, d), note)
	isMarathon := math.Abs(d/quantity.Marathon-1) < 0.01
	switch {
	case !isMarathon:
		add(vv.Info(), "", math.NaN(), "for the marathon only")
	case p.Distance > upToHalf:
		add(vv.Info(), "", math.NaN(), "needs a race up to the half")
	default:
		add(vv.Info(), from, vv.OneRace(p.Performance, b.weekly), "one race; published error 15 min (root mean square)")
	}
	one, other, ok := pair(list)
	if !ok {
		why := "needs two races, see below"
		add(personalInfo(), "", math.NaN(), why)
		add(EmigPeltonen2020{}.Info(), "", math.NaN(), why)
		add(CriticalSpeed{}.Info(), "", math.NaN(), why)
		b.note("a personal exponent, the logarithmic curve and critical speed need two races run all out within 16 weeks, one at least 1.4 times as long as the other")
		return 0
	}
	both := b.called(one) + " and " + b.called(other)
	if marathon && other.Distance <= upToHalf {
		t := vv.TwoRaces(one.Performance, other.Performance, b.weekly)
		if isMarathon {
			add(vv.Info(), both, t, "two races; published error 14 min (root mean square)")
		}
		two = t * carry(other.Performance, d, b.weekly) / carry(other.Performance, quantity.Marathon, b.weekly)
	}
	own, held, _ := Personal(one.Performance, other.Performance)
	note = fmt.Sprintf("exponent %.3f", own.Exponent)
	if held {
		note += ", held"
	}
	start := other.Performance
	if math.Abs(math.Log(one.Distance/d)) < math.Abs(math.Log(other.Distance/d)) {
		start = one.Performance
	}
	if marathon && other.Distance <= upToHalf {
		note += "; hopeful at the marathon, shown only"
	}
	add(personalInfo(), both, own.Time(start, d), note)
	if m, ok := FitEmig(one.Performance, other.Performance); ok {
		add(m.Info(), both, m.Time(d), fmt.Sprintf("endurance %.1f", m.Endurance()))
	} else {
		add(m.Info(), both, math.NaN(), "the two races do not fit it")
	}
	if m, ok := FitCritical(one.Performance, other.Performance); ok {
		t := m.Time(d)
		note := fmt.Sprintf("critical speed %.2f m/s", m.Speed)
		if math.IsNaN(t) {
			note += "; holds for efforts of 2:00 to 20:00"
		}
		add(m.Info(), both, t, note)
	} else {
		add(m.Info(), "", math.NaN(), "needs two races of 2 to 20 minutes")
	}
	return two
}
