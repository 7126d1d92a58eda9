package season

import (
	"fmt"
	"math"
	"slices"
	"time"

	"tautline/strategy/quantity"
)

// Points of the score, our own; what they reward is common practice. A rule
// that is broken outweighs all that one race can earn.
const (
	fitPoints      = 6.0  // a distance that suits the goal
	besidePoints   = 3.0  // one beside it
	windowPoints   = 5.0  // a half four to six weeks before a marathon, a 5 km two to three before a 10 km; once
	tellPoints     = 3.0  // a race all out two to eight weeks before, to forecast from; once
	allOutPoints   = 1.5  // more is learnt all out
	easedPoints    = 1.0  // controlled
	hillPoints     = 1.0  // climbs like the goal
	nearerCost     = 1.5  // between what must and what had better be kept
	longRunCost    = 4.0  // longer than the longest run bears, which can still be mended
	beforeCost     = 8.0  // before the build: no tune-up
	brokenCost     = 30.0 // a rule broken
	missingCost    = 6.0  // for each race fewer than the least
	easedRecovery  = 0.5  // share of the easy days after a controlled race
	tellWeeksMost  = 8.0
	tellWeeksLeast = 2.0
)

func days(from, to time.Time) float64 { return math.Round(to.Sub(from).Hours() / 24) }

func months(from, to time.Time) float64 { return days(from, to) / 30.44 }

const short = 10050.0 // m, 10 km and shorter with a little for rounding

func isHalf(d float64) bool { return d > 0.95*quantity.HalfMarathon && d < 1.25*quantity.HalfMarathon }

func isMarathon(d float64) bool { return d >= 0.95*quantity.Marathon }

func isTen(d float64) bool { return math.Abs(d-10000) < 500 }

func isFive(d float64) bool { return math.Abs(d-5000) < 300 }

// choice is a race that is run.
type choice struct {
	race   int // in work.races
	effort Effort
}

// work is a calendar on its way to a plan.
type work struct {
	c     Calendar
	begin time.Time
	races []Candidate // by date
}

func (w *work) rule(key string) float64 { return w.c.Rules.Get(key) }

// weeks is how long before the goal a race lies.
func (w *work) weeks(r Race) float64 { return days(r.Date, w.c.Goal.Date) / 7 }

// easy are the easy days after a race.
func (w *work) easy(r Race, effort Effort) int { return easyDays(r.Distance, effort, w.rule(EasyDays)) }

// again is the first day for hard running after a race.
func (w *work) again(r Race, e Effort) time.Time {
	return r.Date.Add(time.Duration(w.easy(r, e)+1) * day)
}

// easyDays are the days of easy running after a race.
func easyDays(distance float64, effort Effort, perMile float64) int {
	d := distance / quantity.Mile * perMile
	if effort == Controlled {
		d *= easedRecovery
	}
	return int(math.Round(d))
}

// account is what adds up for a race or a choice.
type account struct {
	points []Point
	broken []Conflict
}

func (a *account) add(points float64, what string) { a.points = append(a.points, Point{what, points}) }

// breaks notes a rule that is broken, and what that costs.
func (a *account) breaks(rule string, cost float64, what string) {
	a.broken = append(a.broken, Conflict{rule, what})
	a.add(-cost, what)
}

// alone are the points and conflicts of a race by itself.
func (w *work) alone(r Race, effort Effort) ([]Point, []Conflict) {
	var a account
	w.suits(&a, r)
	if effort == AllOut {
		a.add(allOutPoints, "run all out")
	} else {
		a.add(easedPoints, "run controlled")
	}
	if goal := w.c.Goal; r.Climb > 0 && goal.Climb > 0 && math.Abs(math.Log(r.Climb/goal.Climb)) < math.Log(1.4) {
		a.add(hillPoints, "climbs like the goal")
	}
	w.beforeGoal(&a, r, effort)
	if r.Distance <= short && effort == AllOut {
		w.shortAllOut(&a, r)
	}
	w.inTraining(&a, r)
	if isMarathon(r.Distance) {
		w.otherMarathons(&a, r)
	}
	return a.points, a.broken
}

// suits judges the distance of a race by that of the goal.
func (w *work) suits(a *account, r Race) {
	goal := w.c.Goal.Distance
	if isMarathon(goal) {
		switch longest, shortest := w.rule(Longest), w.rule(Shortest); {
		case r.Distance > longest*1.005:
			a.breaks(Longest, brokenCost, "it is longer than "+w.km(longest))
		case r.Distance > 1.05*quantity.HalfMarathon:
			a.add(fitPoints-1, "between a half marathon and "+w.km(longest))
		case r.Distance >= shortest*0.995:
			a.add(fitPoints, w.km(shortest)+" to half marathon")
		default:
			a.add(besidePoints, "shorter than most tune-ups before a marathon")
		}
		return
	}
	switch {
	case r.Distance > goal*1.05:
		a.breaks(Longest, brokenCost, "it is longer than the goal")
	case r.Distance >= 0.8*goal:
		a.add(besidePoints+1, "about as long as the goal")
	case r.Distance >= 0.35*goal:
		a.add(fitPoints, "shorter than the goal, long enough to tell")
	default:
		a.add(besidePoints, "much shorter than the goal")
	}
}

// beforeGoal judges how long before the goal a race lies.
func (w *work) beforeGoal(a *account, r Race, effort Effort) {
	weeks, last, better := w.weeks(r), w.rule(LastRace), w.rule(LastRaceBetter)
	if weeks < last {
		a.breaks(LastRace, brokenCost, fmt.Sprintf("it is %s before the goal, less than %s", span(weeks), span(last)))
	} else if weeks < better && !(isTen(w.c.Goal.Distance) && w.inWindow(r)) {
		a.add(-nearerCost, "nearer to the goal than "+span(better))
	}
	if w.again(r, effort).After(w.c.Goal.Date) {
		a.breaks(EasyDays, brokenCost, fmt.Sprintf("its %d easy days reach into the goal", w.easy(r, effort)))
	}
}

// shortAllOut judges when a short race is run all out.
func (w *work) shortAllOut(a *account, r Race) {
	if weeks, least := w.weeks(r), w.rule(ShortClose); w.c.Goal.Distance > short && weeks < least && weeks >= w.rule(LastRace) {
		a.breaks(ShortClose, brokenCost, fmt.Sprintf("all out it would be %s before the goal, less than %s", span(weeks), span(least)))
	}
	if into, early := days(w.begin, r.Date)/7, w.rule(ShortEarly); into >= 0 && into < early {
		a.breaks(ShortEarly, brokenCost, fmt.Sprintf("all out it would come in the first %s of the build", span(early)))
	}
}

// inTraining judges a race by the build and the longest run.
func (w *work) inTraining(a *account, r Race) {
	if r.Date.Before(w.begin) {
		a.breaks(Build, beforeCost, "it lies before the build")
	}
	if l := w.c.LongestRun; l > 0 && r.Distance > l*(1+w.rule(LongestRunShare)) {
		a.breaks(LongestRunShare, longRunCost, fmt.Sprintf("it is %s longer than the longest run of %s: run %s or more in the 30 days before, or leave it",
			quantity.Percent(r.Distance/l-1, 0), w.km(l), w.km(math.Ceil(r.Distance/(1+w.rule(LongestRunShare))/100)*100)))
	}
}

// otherMarathons judges a marathon by the goal and by those run already.
func (w *work) otherMarathons(a *account, r Race) {
	if isMarathon(w.c.Goal.Distance) {
		w.marathons(a, r, w.c.Goal)
	}
	for _, p := range w.c.Past {
		if isMarathon(p.Distance) && p.Date.Before(r.Date) {
			w.marathons(a, p, r)
		}
	}
}

// marathons says when two marathons are too near each other.
func (w *work) marathons(a *account, first, second Race) {
	apart := months(first.Date, second.Date)
	least, better := w.rule(MarathonMonths), w.rule(MarathonBetter)
	switch {
	case apart < least:
		a.breaks(MarathonMonths, brokenCost, fmt.Sprintf("there are %.1f months between the marathons of %s and %s, less than %g", apart, date(first.Date), date(second.Date), least))
	case apart < better:
		a.add(-nearerCost, fmt.Sprintf("marathons nearer than %g months", better))
	}
}

// pair are the points and conflicts of two races that both are run, the first
// the earlier.
func (w *work) pair(first, second choice) ([]Point, []Conflict) {
	var a account
	x, y := w.races[first.race].Race, w.races[second.race].Race
	spacing, least, better := ShortSpacing, w.rule(ShortSpacing), w.rule(ShortBetter)
	if x.Distance > short {
		spacing, least, better = HalfSpacing, w.rule(HalfSpacing), w.rule(HalfSpacing)
	}
	switch gap, easy := days(x.Date, y.Date), float64(w.easy(x, first.effort)); {
	case gap == 0:
		a.breaks(onDate, brokenCost, w.named(x)+" is on the same day")
	case gap < 7*least:
		a.breaks(spacing, brokenCost, fmt.Sprintf("%s is %.0f days before it, less than %s", w.named(x), gap, span(least)))
	case gap <= easy:
		a.breaks(EasyDays, brokenCost, fmt.Sprintf("it lies in the %.0f easy days after %s", easy, w.named(x)))
	case isMarathon(x.Distance) && isMarathon(y.Distance):
		w.marathons(&a, x, y)
	case gap < 7*better:
		a.add(-nearerCost, "nearer to "+w.named(x)+" than "+span(better))
	}
	return a.points, a.broken
}

// inWindow tells whether a race is the one that the goal asks for in its weeks:
// a half before a marathon, a 5 km before a 10 km.
func (w *work) inWindow(r Race) bool {
	goal, k := w.c.Goal.Distance, w.weeks(r)
	return isMarathon(goal) && isHalf(r.Distance) && k >= w.rule(HalfFrom) && k <= w.rule(HalfTo) ||
		isTen(goal) && isFive(r.Distance) && k >= w.rule(FiveBeforeFrom) && k <= w.rule(FiveBeforeTo)
}

// couldTell tells whether a race, run all out, is recent enough at the goal to
// forecast from.
func (w *work) couldTell(r Race) bool {
	k := w.weeks(r)
	return k >= tellWeeksLeast && k <= tellWeeksMost
}

// whole are the points and conflicts of a choice as a whole.
func (w *work) whole(list []choice) ([]Point, []Conflict) {
	var a account
	window, tells := false, false
	for _, c := range list {
		r := w.races[c.race].Race
		window = window || w.inWindow(r)
		tells = tells || c.effort == AllOut && w.couldTell(r)
	}
	if window {
		what := "a half marathon in its weeks before the marathon"
		if isTen(w.c.Goal.Distance) {
			what = "a 5 km in its weeks before the 10 km"
		}
		a.add(windowPoints, what)
	}
	if tells {
		a.add(tellPoints, "a race all out in the last two months, to forecast from")
	}
	if n := w.rule(RacesLeast) - float64(len(list)); n > 0 {
		a.add(-missingCost*n, "fewer races than the least")
	}
	if n := float64(len(list)) - w.rule(RacesMost); n > 0 {
		a.breaks(RacesMost, brokenCost*n, fmt.Sprintf("%d races are more than %.0f", len(list), w.rule(RacesMost)))
	}
	if what := w.often(list); what != "" {
		a.breaks(ShortOften, brokenCost, what)
	}
	return a.points, a.broken
}

// often tells of too many short races all out within the rule's weeks.
func (w *work) often(list []choice) string {
	most, within := int(w.rule(ShortOften)), w.rule(ShortOftenIn)
	var at []time.Time
	for _, c := range list {
		if r := w.races[c.race]; c.effort == AllOut && r.Distance <= short {
			at = append(at, r.Date)
		}
	}
	slices.SortFunc(at, time.Time.Compare)
	for i := most; i < len(at); i++ {
		if days(at[i-most], at[i])/7 < within {
			return fmt.Sprintf("%d races of 10 km and shorter all out within %s peak too early", most+1, span(within))
		}
	}
	return ""
}

func sum(points []Point) (s float64) {
	for _, p := range points {
		s += p.Points
	}
	return s
}

// score adds everything up. list is in the order of races.
func (w *work) score(list []choice) float64 {
	p, _ := w.whole(list)
	s := sum(p)
	for i, c := range list {
		p, _ := w.alone(w.races[c.race].Race, c.effort)
		s += sum(p)
		for _, later := range list[i+1:] {
			p, _ := w.pair(c, later)
			s += sum(p)
		}
	}
	return s
}

// round gives points as they are shown, to a hundredth.
func round(v float64) float64 { return math.Round(v*100) / 100 }
