package forecast

import (
	"fmt"
	"math"

	"tautline/strategy/quantity"
)

// pair is the youngest pair of races run all out whose distances are far enough
// apart, the shorter first; ok is false without one.
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
func (b *builder) views(list []used, c combined) (two float64) {
	heaviest := 0
	for i := range list {
		if math.Abs(c.weights[i]) > math.Abs(c.weights[heaviest]) {
			heaviest = i
		}
	}
	b.viewsOfOne(list[heaviest])
	one, other, ok := pair(list)
	if !ok {
		b.viewsWithoutPair()
		return 0
	}
	return b.viewsOfTwo(one, other)
}

// beyondHalf tells whether the goal is longer than a half marathon.
func (b *builder) beyondHalf() bool { return b.f.Goal.Distance > upToHalf }

// goalIsMarathon tells whether the goal is a marathon, to a hundredth.
func (b *builder) goalIsMarathon() bool {
	return math.Abs(b.f.Goal.Distance/quantity.Marathon-1) < 0.01
}

// uses tells whether the combined figure is made with a model, see carry.
func (b *builder) uses(i Info) bool {
	switch i.Name {
	case PowerLaw{}.Info().Name, DanielsGilbert1979{}.Info().Name:
		return !b.beyondHalf()
	case VickersVertosick2016{}.Info().Name:
		return b.beyondHalf()
	}
	return false
}

// view notes what a model says, t seconds along the official line; NaN when it
// says nothing, and note is then why.
func (b *builder) view(i Info, from string, t float64, note string) {
	v := View{Info: i, From: from, Time: t * (1 + b.extra), Note: note, Used: b.uses(i)}
	// The range of the marathon regression is that of the races it starts from.
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

// viewsOfOne are those of the models that need one race.
func (b *builder) viewsOfOne(p used) {
	d, from := b.f.Goal.Distance, b.called(p)
	law, dg, vv := PowerLaw{GeneralExponent}, DanielsGilbert1979{}, VickersVertosick2016{}
	switch {
	case b.beyondHalf() && p.Distance <= upToHalf:
		b.view(law.Info(), from, math.NaN(), "too fast at the marathon for most: not used beyond the half")
	case !b.beyondHalf() && p.Distance > upToHalf:
		b.view(law.Info(), from, math.NaN(), "not used from races beyond the half")
	default:
		b.view(law.Info(), from, law.Time(p.Performance, d), "exponent 1.06")
	}
	index := dg.Index(p.Performance)
	note := fmt.Sprintf("fitness index %.1f", index)
	if b.beyondHalf() {
		note += "; hopeful at the marathon unless well trained"
	}
	b.view(dg.Info(), from, dg.Time(index, d), note)
	switch {
	case !b.goalIsMarathon():
		b.view(vv.Info(), "", math.NaN(), "for the marathon only")
	case p.Distance > upToHalf:
		b.view(vv.Info(), "", math.NaN(), "needs a race up to the half")
	default:
		b.view(vv.Info(), from, vv.OneRace(p.Performance, b.weekly), "one race; published error 15 min (root mean square)")
	}
}

// viewsWithoutPair stand for the models that need two races.
func (b *builder) viewsWithoutPair() {
	for _, i := range []Info{personalInfo(), EmigPeltonen2020{}.Info(), CriticalSpeed{}.Info()} {
		b.view(i, "", math.NaN(), "needs two races, see below")
	}
	b.note("a personal exponent, the logarithmic curve and critical speed need two races run all out within 16 weeks, one at least 1.4 times as long as the other")
}

// viewsOfTwo are those of the models that need two races, other being the
// longer. two is as views gives it.
func (b *builder) viewsOfTwo(one, other used) (two float64) {
	d := b.f.Goal.Distance
	both := b.called(one) + " and " + b.called(other)
	toMarathon := b.beyondHalf() && other.Distance <= upToHalf
	if toMarathon {
		var vv VickersVertosick2016
		t := vv.TwoRaces(one.Performance, other.Performance, b.weekly)
		if b.goalIsMarathon() {
			b.view(vv.Info(), both, t, "two races; published error 14 min (root mean square)")
		}
		two = t * carry(other.Performance, d, b.weekly) / carry(other.Performance, quantity.Marathon, b.weekly)
	}
	own, held, _ := Personal(one.Performance, other.Performance)
	note := fmt.Sprintf("exponent %.3f", own.Exponent)
	if held {
		note += ", held"
	}
	nearer := other.Performance
	if math.Abs(math.Log(one.Distance/d)) < math.Abs(math.Log(other.Distance/d)) {
		nearer = one.Performance
	}
	if toMarathon {
		note += "; hopeful at the marathon, shown only"
	}
	b.view(personalInfo(), both, own.Time(nearer, d), note)
	if m, ok := FitEmig(one.Performance, other.Performance); ok {
		b.view(m.Info(), both, m.Time(d), fmt.Sprintf("endurance %.1f", m.Endurance()))
	} else {
		b.view(m.Info(), both, math.NaN(), "the two races do not fit it")
	}
	if m, ok := FitCritical(one.Performance, other.Performance); ok {
		t := m.Time(d)
		note := fmt.Sprintf("critical speed %.2f m/s", m.Speed)
		if math.IsNaN(t) {
			note += "; holds for efforts of 2:00 to 20:00"
		}
		b.view(m.Info(), both, t, note)
	} else {
		b.view(m.Info(), "", math.NaN(), "needs two races of 2 to 20 minutes")
	}
	return two
}
