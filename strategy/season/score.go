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

func (w *work) weeks(r Race) float64 { return days(r.Date, w.c.Goal.Date) / 7 }

func (w *work) easy(r Race, effort Effort) int { return easyDays(r.Distance, effort, w.rule(EasyDays)) }

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

// alone are the points and conflicts of a race by itself.
func (w *work) alone(r Race, effort Effort) (points []Point, broken []Conflict) {
	goal := w.c.Goal
	weeks := w.weeks(r)
	add := func(p float64, what string) { points = append(points, Point{what, p}) }
	breaks := func(key string, cost float64, what string) {
		broken = append(broken, Conflict{key, what})
		add(-cost, what)
	}
	switch {
	case isMarathon(goal.Distance):
		switch {
		case r.Distance > w.rule(Longest)*1.005:
			breaks(Longest, brokenCost, fmt.Sprintf("it is longer than %s", w.km(w.rule(Longest))))
		case r.Distance > 1.05*quantity.HalfMarathon:
			add(fitPoints-1, "between a half marathon and "+w.km(w.rule(Longest)))
		case r.Distance >= w.rule(Shortest)*0.995:
			add(fitPoints, w.km(w.rule(Shortest))+" to half marathon")
		default:
			add(besidePoints, "shorter than most tune-ups before a marathon")
		}
	case r.Distance > goal.Distance*1.05:
		breaks(Longest, brokenCost, "it is longer than the goal")
	case r.Distance >= 0.8*goal.Distance:
		add(besidePoints+1, "about as long as the goal")
	case r.Distance >= 0.35*goal.Distance:
		add(fitPoints, "shorter than the goal, long enough to tell")
	default:
		add(besidePoints, "much shorter than the goal")
	}
	if effort == AllOut {
		add(allOutPoints, "run all out")
	} else {
		add(easedPoints, "run controlled")
	}
	if r.Climb > 0 && goal.Climb > 0 && math.Abs(math.Log(r.Climb/goal.Climb)) < math.Log(1.4) {
		add(hillPoints, "climbs like the goal")
	}

	last, better := w.rule(LastRace), w.rule(LastRaceBetter)
	window := isTen(goal.Distance) && w.inWindow(r)
	if weeks < last {
		breaks(LastRace, brokenCost, fmt.Sprintf("it is %s before the goal, less than %s", span(weeks), span(last)))
	} else if weeks < better && !window {
		add(-nearerCost, "nearer to the goal than "+span(better))
	}
	if w.again(r, effort).After(goal.Date) {
		breaks(EasyDays, brokenCost, fmt.Sprintf("its %d easy days reach into the goal", w.easy(r, effort)))
	}
	isShort := r.Distance <= short
	if isShort && effort == AllOut {
		if goal.Distance > short && weeks < w.rule(ShortClose) && weeks >= last {
			breaks(ShortClose, brokenCost, fmt.Sprintf("all out it would be %s before the goal, less than %s", span(weeks), span(w.rule(ShortClose))))
		}
		if into := days(w.begin, r.Date) / 7; into >= 0 && into < w.rule(ShortEarly) {
			breaks(ShortEarly, brokenCost, fmt.Sprintf("all out it would come in the first %s of the build", span(w.rule(ShortEarly))))
		}
	}
	if r.Date.Before(w.begin) {
		breaks(Build, beforeCost, "it lies before the build")
	}
	if l := w.c.LongestRun; l > 0 && r.Distance > l*(1+w.rule(LongestRunShare)) {
		breaks(LongestRunShare, longRunCost, fmt.Sprintf("it is %s longer than the longest run of %s: run %s or more in the 30 days before, or leave it",
			quantity.Percent(r.Distance/l-1, 0), w.km(l), w.km(math.Ceil(r.Distance/(1+w.rule(LongestRunShare))/100)*100)))
	}
	if isMarathon(r.Distance) {
		if isMarathon(goal.Distance) {
			w.marathons(r, goal, &points, breaks)
		}
		for _, p := range w.c.Past {
			if isMarathon(p.Distance) && p.Date.Before(r.Date) {
				w.marathons(p, r, &points, breaks)
			}
		}
	}
	return points, broken
}

// marathons says when two marathons are too near each other.
func (w *work) marathons(a, b Race, points *[]Point, breaks func(string, float64, string)) {
	months := days(a.Date, b.Date) / 30.44
	least, better := w.rule(MarathonMonths), w.rule(MarathonBetter)
	switch {
	case months < least:
		breaks(MarathonMonths, brokenCost, fmt.Sprintf("there are %.1f months between the marathons of %s and %s, less than %g", months, date(a.Date), date(b.Date), least))
	case months < better:
		*points = append(*points, Point{"marathons nearer than " + fmt.Sprintf("%g months", better), -nearerCost})
	}
}

// pair are the points and conflicts of two races that both are run, the first
// the earlier.
func (w *work) pair(a, b choice) (points []Point, broken []Conflict) {
	x, y := w.races[a.race].Race, w.races[b.race].Race
	gap := days(x.Date, y.Date)
	what := ""
	key := ""
	least, better := 7*w.rule(ShortSpacing), 7*w.rule(ShortBetter)
	key = ShortSpacing
	if x.Distance > short {
		least, better, key = 7*w.rule(HalfSpacing), 7*w.rule(HalfSpacing), HalfSpacing
	}
	easy := float64(w.easy(x, a.effort))
	switch {
	case gap == 0:
		key, what = "date", fmt.Sprintf("%s is on the same day", w.named(x))
	case gap < least:
		what = fmt.Sprintf("%s is %.0f days before it, less than %s", w.named(x), gap, span(least/7))
	case gap <= easy:
		key, what = EasyDays, fmt.Sprintf("it lies in the %.0f easy days after %s", easy, w.named(x))
	case gap < better:
		return []Point{{"nearer to " + w.named(x) + " than " + span(better/7), -nearerCost}}, nil
	default:
		return nil, nil
	}
	return []Point{{what, -brokenCost}}, []Conflict{{key, what}}
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
func (w *work) whole(list []choice) (points []Point, broken []Conflict) {
	goal := w.c.Goal
	window, tells := false, false
	for _, c := range list {
		r := w.races[c.race].Race
		window = window || w.inWindow(r)
		tells = tells || c.effort == AllOut && w.couldTell(r)
	}
	if window {
		what := "a half marathon in its weeks before the marathon"
		if isTen(goal.Distance) {
			what = "a 5 km in its weeks before the 10 km"
		}
		points = append(points, Point{what, windowPoints})
	}
	if tells {
		points = append(points, Point{"a race all out in the last two months, to forecast from", tellPoints})
	}
	if n := w.rule(RacesLeast) - float64(len(list)); n > 0 {
		points = append(points, Point{"fewer races than the least", -missingCost * n})
	}
	if n := float64(len(list)) - w.rule(RacesMost); n > 0 {
		what := fmt.Sprintf("%d races are more than %.0f", len(list), w.rule(RacesMost))
		points, broken = append(points, Point{what, -brokenCost * n}), append(broken, Conflict{RacesMost, what})
	}
	if what := w.often(list); what != "" {
		points, broken = append(points, Point{what, -brokenCost}), append(broken, Conflict{ShortOften, what})
	}
	return points, broken
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

func round(v float64) float64 { return math.Round(v*100) / 100 }
