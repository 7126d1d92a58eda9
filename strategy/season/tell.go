package season

import (
	"fmt"
	"math"
	"slices"
	"time"

	"tautline/strategy/quantity"
)

// entry says what to do with a race, given the choice.
func (w *work) entry(i int, list []choice) Entry {
	r := w.races[i]
	e := Entry{Candidate: r, Effort: Leave, Weeks: w.weeks(r.Race)}
	if at := slices.IndexFunc(list, func(c choice) bool { return c.race == i }); at >= 0 {
		e.Effort = list[at].effort
		e.Points, e.Conflicts = w.alone(r.Race, e.Effort)
		for _, other := range list[:at] {
			p, b := w.pair(other, list[at])
			e.Points, e.Conflicts = append(e.Points, p...), append(e.Conflicts, b...)
		}
		e.Purpose, e.Rehearse = w.purpose(r.Race, e.Effort)
		e.EasyDays, e.HardAgain = w.easy(r.Race, e.Effort), w.again(r.Race, e.Effort)
		return e
	}
	switch d := days(r.Date, w.c.Goal.Date); {
	case d == 0:
		e.Conflicts = []Conflict{{onDate, "it is on the day of the goal"}}
		return e
	case d < 0:
		e.Conflicts = []Conflict{{onDate, "it is after the goal"}}
		return e
	}
	// What would it mean to run it beside the others, at the effort that suits
	// best?
	now := w.score(list)
	bestLoss := math.Inf(1)
	for _, effort := range []Effort{Controlled, AllOut} {
		more := append(slices.Clone(list), choice{i, effort})
		slices.SortFunc(more, func(a, b choice) int { return a.race - b.race })
		loss := now - w.score(more)
		if loss >= bestLoss {
			continue
		}
		bestLoss = loss
		_, e.Conflicts = w.alone(r.Race, effort)
		_, set := w.whole(more)
		for k, c := range more {
			for _, later := range more[k+1:] {
				if c.race != i && later.race != i {
					continue
				}
				_, b := w.pair(c, later)
				if len(b) > 0 && c.race == i {
					b = []Conflict{{b[0].Rule, fmt.Sprintf("%s, %s, follows %.0f days after it", w.named(w.races[later.race].Race), later.effort, days(r.Date, w.races[later.race].Date))}}
				}
				e.Conflicts = append(e.Conflicts, b...)
			}
		}
		for k := range set {
			if set[k].Rule == RacesMost {
				set[k].What = fmt.Sprintf("with it there would be %d races, more than %.0f, and the others suit the goal better", len(more), w.rule(RacesMost))
			}
		}
		e.Conflicts = append(e.Conflicts, set...)
		e.Points = []Point{{fmt.Sprintf("run %s it would change the score by", effort), round(-loss)}}
	}
	if len(e.Conflicts) == 0 {
		e.Note = "the choice is better without it: it would be too near to others for what it adds"
	}
	return e
}

// purpose says what a race is for and what to rehearse at it.
func (w *work) purpose(r Race, effort Effort) (purpose string, rehearse []string) {
	goal, weeks := w.c.Goal, w.weeks(r)
	switch {
	case isMarathon(goal.Distance) && w.inWindow(r):
		purpose = "the main tune-up: everything as on the day"
	case w.inWindow(r):
		purpose = "the last sharp race, and what the goal's pace is set from"
	case effort == AllOut && weeks <= tellWeeksMost:
		purpose = "tells the finish time to expect"
	case effort == AllOut:
		purpose = "shows where the training stands"
	case weeks < w.rule(LastRaceBetter):
		purpose = "keeps the legs awake, no more"
	default:
		purpose = "hard running in company, and practice of the day"
	}
	rehearse = append(rehearse, "start: where to stand, the first kilometre not too fast")
	if r.Distance >= 14000 || r.Distance >= 0.6*goal.Distance {
		rehearse = append(rehearse, "breakfast: what, how much and how long before, in the shoes and kit of the day")
	}
	if r.Distance >= 14000 && goal.Distance >= 20000 {
		rehearse = append(rehearse, "drinking at the stations as on the day")
	}
	rehearse = append(rehearse, "line: the shortest legal way through the turns, where the road is closed")
	switch {
	case effort == AllOut:
		rehearse = append(rehearse, "pacing: even effort from start to finish, splits noted")
	default:
		rehearse = append(rehearse, "pacing: the goal's effort, by feel first and then by the watch")
	}
	return purpose, rehearse
}

// taper says when it begins and what it cuts.
func (w *work) taper(p *Plan) {
	weeks := w.rule(Taper)
	if isMarathon(w.c.Goal.Distance) {
		weeks = w.rule(TaperMarathon)
	}
	p.TaperFrom = w.c.Goal.Date.Add(-time.Duration(7*weeks) * day)
	least, most := w.rule(TaperCutLeast), w.rule(TaperCutMost)
	p.TaperText = fmt.Sprintf("cut the distance step by step by %s to %s, keep how often and how fast", quantity.Percent(least, 0), quantity.Percent(most, 0))
	if w.c.Weekly > 0 {
		p.TaperText += fmt.Sprintf(": from %s a week down to %s to %s", w.km(w.c.Weekly), w.km(hundreds(w.c.Weekly*(1-most))), w.km(hundreds(w.c.Weekly*(1-least))))
	}
}

func hundreds(v float64) float64 { return math.Round(v/100) * 100 }

// missing says what a good calendar would have and this one has not.
func (w *work) missing(p *Plan, list []choice) {
	say := func(format string, args ...any) { p.Missing = append(p.Missing, fmt.Sprintf(format, args...)) }
	has := func(ok func(Race, Effort) bool) bool {
		return slices.ContainsFunc(list, func(c choice) bool { return ok(w.races[c.race].Race, c.effort) })
	}
	goal := w.c.Goal
	if len(w.c.Races) == 0 {
		say("there are no candidate races")
	}
	if n := int(w.rule(RacesLeast)); len(list) < n && len(w.c.Races) > 0 {
		say("%d of the candidates can be run, fewer than %d", len(list), n)
	}
	on := func(weeks float64) string { return date(goal.Date.Add(-time.Duration(7*weeks) * day)) }
	inWindow := has(func(r Race, _ Effort) bool { return w.inWindow(r) })
	if isMarathon(goal.Distance) && !inWindow {
		say("no half marathon from %s to %s, %g to %g weeks before the goal: look for one", on(w.rule(HalfTo)), on(w.rule(HalfFrom)), w.rule(HalfFrom), w.rule(HalfTo))
	}
	if isTen(goal.Distance) && !inWindow {
		say("no 5 km from %s to %s, %g to %g weeks before the goal: look for one", on(w.rule(FiveBeforeTo)), on(w.rule(FiveBeforeFrom)), w.rule(FiveBeforeFrom), w.rule(FiveBeforeTo))
	}
	if len(list) > 0 && !has(func(r Race, e Effort) bool { return e == AllOut && w.couldTell(r) }) {
		say("no race is run all out in the last two months: a forecast will be unsure")
	}
	if l := w.c.LongestRun; l > 0 && !isMarathon(goal.Distance) && goal.Distance > l*(1+w.rule(LongestRunShare)) {
		say("the goal is %s longer than the longest run: lengthen it before then (%s)", quantity.Percent(goal.Distance/l-1, 0), rule(LongestRunShare).Source)
	}
	for _, r := range w.c.Past {
		if m := months(r.Date, goal.Date); isMarathon(goal.Distance) && isMarathon(r.Distance) && m >= 0 && m < w.rule(MarathonMonths) {
			say("the marathon of %s is %.1f months before the goal, less than %g (common practice)", date(r.Date), m, w.rule(MarathonMonths))
		}
	}
}

func (w *work) km(m float64) string { return quantity.Distance(m, w.c.Units) }

func (w *work) named(r Race) string { return named(r, w.c.Units) }

// named is what a race is called.
func named(r Race, u quantity.Units) string {
	if r.Name != "" {
		return r.Name
	}
	return "the race over " + quantity.Distance(r.Distance, u)
}

func date(t time.Time) string { return t.Format("2 January 2006") }

func span(weeks float64) string {
	d := math.Round(weeks * 7)
	switch {
	case d == 7:
		return "1 week"
	case d == 1:
		return "1 day"
	case math.Mod(d, 7) == 0:
		return fmt.Sprintf("%.0f weeks", d/7)
	case d < 21:
		return fmt.Sprintf("%.0f days", d)
	}
	return fmt.Sprintf("%.1f weeks", d/7)
}
