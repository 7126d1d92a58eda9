package season

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tautline/geo/inputerr"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

// Race is a race on a day.
type Race struct {
	Name     string
	Date     time.Time // midnight UTC
	Distance float64   // m
	Course   string    // GPX file; "" when not given
	Climb    float64   // m of climb for each km of it; NaN when not known
}

// Candidate is a race that could be run.
type Candidate struct {
	Race
	Entered bool // it will be run in any case
}

// Calendar is what there is to choose from.
type Calendar struct {
	Goal       Race
	Races      []Candidate
	Past       []Race    // run already
	Begin      time.Time // of the build; zero: the rule's weeks before the goal
	LongestRun float64   // m, of the last 30 days; 0 when not known
	Weekly     float64   // m a week; 0 when not known
	Rules      Rules
	Units      quantity.Units // that texts are written in
}

// Climb is the climb of a course for each km of it, m, between two chainages; NaN
// without a length.
func Climb(ground plan.Ground, from, to float64) float64 {
	if !(to > from) {
		return math.NaN()
	}
	return ground.Climb(from, to).Value / (to - from) * quantity.Kilometre
}

// Called is the name of a race, or what stands for it.
func (p *Plan) Called(r Race) string { return named(r, p.units) }

// MaxRaces is the most candidates of a calendar.
const MaxRaces = 60

// Effort is how hard to run a race.
type Effort string

// The efforts. Controlled is goal effort or a little harder, with something
// left at the finish.
const (
	Leave      Effort = "leave it"
	Controlled Effort = "controlled"
	AllOut     Effort = "all out"
)

// Point is a part of the score.
type Point struct {
	What   string
	Points float64
}

// Conflict is a rule that a race goes against.
type Conflict struct {
	Rule string // key, or "date"
	What string
}

// Entry is a candidate and what to do with it.
type Entry struct {
	Candidate
	Effort    Effort
	Weeks     float64 // before the goal
	Purpose   string
	Rehearse  []string
	EasyDays  int       // after it
	HardAgain time.Time // the first day for hard running again
	Points    []Point
	Conflicts []Conflict // why it is left out; or what it goes against although it is run
	Note      string     // for a race left out without a conflict: why
}

// Plan is the calendar as chosen.
type Plan struct {
	Goal      Race
	Begin     time.Time
	TaperFrom time.Time
	TaperText string
	Score     float64
	SetPoints []Point // of the choice as a whole
	Entries   []Entry // by date
	Missing   []string
	Rules     []Rule
	Cautions  []string

	units quantity.Units
}

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

const day = 24 * time.Hour

func bad(advice, format string, args ...any) error {
	return &inputerr.Error{What: fmt.Sprintf(format, args...), Advice: advice}
}

func days(from, to time.Time) float64 { return math.Round(to.Sub(from).Hours() / 24) }

const short = 10050.0 // m, 10 km and shorter with a little for rounding

func isHalf(d float64) bool     { return d > 0.95*quantity.HalfMarathon && d < 1.25*quantity.HalfMarathon }
func isMarathon(d float64) bool { return d >= 0.95*quantity.Marathon }
func isTen(d float64) bool      { return math.Abs(d-10000) < 500 }
func isFive(d float64) bool     { return math.Abs(d-5000) < 300 }

// Check says what is wrong with the calendar, as an *inputerr.Error, or nil.
func (c Calendar) Check() error {
	if c.Goal.Date.IsZero() {
		return bad("add its date", "the goal race has no date")
	}
	if len(c.Races) > MaxRaces {
		return bad("leave out those that are out of the question", "there are %d candidate races, more than %d", len(c.Races), MaxRaces)
	}
	check := func(what string, r Race) error {
		if !(r.Distance >= 400 && r.Distance <= 200000) {
			return bad("give 400 m to 200 km", "%s is %.4g m", what, r.Distance)
		}
		if r.Date.IsZero() {
			return bad("add its date", "%s has no date", what)
		}
		return nil
	}
	if err := check("the goal race", c.Goal); err != nil {
		return err
	}
	for i, r := range c.Races {
		if err := check(fmt.Sprintf("race %d", i+1), r.Race); err != nil {
			return err
		}
	}
	for i, r := range c.Past {
		if err := check(fmt.Sprintf("past race %d", i+1), r); err != nil {
			return err
		}
	}
	if b := c.Begin; !b.IsZero() && !b.Before(c.Goal.Date) {
		return bad("give an earlier day", "the build begins on the day of the goal or after it")
	}
	for _, v := range []float64{c.LongestRun, c.Weekly} {
		if !(v >= 0 && v <= 1e6) {
			return bad("give metres", "a distance of the training is %.4g m", v)
		}
	}
	return c.Rules.check()
}

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

func (w *work) rule(key string) float64        { return w.c.Rules.Get(key) }
func (w *work) weeks(r Race) float64           { return days(r.Date, w.c.Goal.Date) / 7 }
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

// efforts that a race may be run with.
var efforts = []Effort{AllOut, Controlled}

// index is the place of an effort in efforts.
func index(e Effort) int {
	if e == AllOut {
		return 0
	}
	return 1
}

// best searches all choices: depth first by date, leaving a branch when even
// the best of what is left could not reach the best so far. Among equals the
// first found stays.
func (w *work) best() []choice {
	n := len(w.races)
	possible := make([]bool, n)
	own := make([][2]float64, n)
	for i, r := range w.races {
		possible[i] = r.Date.Before(w.c.Goal.Date)
		for k, e := range efforts {
			p, _ := w.alone(r.Race, e)
			own[i][k] = sum(p)
		}
	}
	most := int(w.rule(RacesMost))
	entered := 0
	bonus := 0.0 // the most that the choice as a whole can add
	window, tells := false, false
	for i, r := range w.races {
		if !possible[i] {
			continue
		}
		if r.Entered {
			entered++
		}
		window, tells = window || w.inWindow(r.Race), tells || w.couldTell(r.Race)
	}
	if window {
		bonus += windowPoints
	}
	if tells {
		bonus += tellPoints
	}
	most = max(most, entered)
	// What each two cost together, worked out once.
	together := make([][2][][2]float64, n)
	for i := range n {
		for k, e := range efforts {
			together[i][k] = make([][2]float64, n)
			for j := i + 1; j < n; j++ {
				for l, f := range efforts {
					p, _ := w.pair(choice{i, e}, choice{j, f})
					together[i][k][j][l] = sum(p)
				}
			}
		}
	}
	// reach is the most that k more races, none before from, add to a choice
	// whose last race is the given one (n: none yet), when races cost each other
	// something only if they are neighbours in the choice: never too little.
	reach := make([][2][][]float64, n+1)
	fill := func(last, effort int) [][]float64 {
		least := last + 1
		if last == n {
			least = 0
		}
		rows := make([][]float64, n+1)
		rows[n] = make([]float64, most+1)
		for from := n - 1; from >= least; from-- {
			rows[from] = slices.Clone(rows[from+1])
			for k := 1; k <= most && possible[from]; k++ {
				for l := range efforts {
					add := own[from][l] + reach[from][l][from+1][k-1]
					if last < n {
						add += together[last][effort][from][l]
					}
					rows[from][k] = math.Max(rows[from][k], add)
				}
			}
		}
		return rows
	}
	for last := n - 1; last >= 0; last-- { // each needs those after it
		for k := range efforts {
			reach[last][k] = fill(last, k)
		}
	}
	reach[n][0] = fill(n, 0)
	var best []choice
	bestScore := math.Inf(-1)
	var list []choice
	var down func(i int, sofar float64)
	down = func(i int, sofar float64) {
		last, effort := n, 0
		if len(list) > 0 {
			last, effort = list[len(list)-1].race, index(list[len(list)-1].effort)
		}
		if sofar+reach[last][effort][i][most-len(list)]+bonus <= bestScore+1e-9 {
			return
		}
		if i == n {
			p, _ := w.whole(list)
			if s := sofar + sum(p); s > bestScore+1e-9 {
				bestScore, best = s, slices.Clone(list)
			}
			return
		}
		if possible[i] && len(list) < most {
			for k, e := range efforts {
				add := own[i][k]
				for _, before := range list {
					add += together[before.race][index(before.effort)][i][k]
				}
				list = append(list, choice{i, e})
				down(i+1, sofar+add)
				list = list[:len(list)-1]
			}
		}
		if !(w.races[i].Entered && possible[i]) {
			down(i+1, sofar)
		}
	}
	down(0, 0)
	return best
}

// Choose picks the races. Errors are *inputerr.Error.
func Choose(c Calendar) (*Plan, error) {
	if err := c.Check(); err != nil {
		return nil, err
	}
	w := &work{c: c, begin: c.Begin, races: slices.Clone(c.Races)}
	if w.begin.IsZero() {
		w.begin = c.Goal.Date.Add(-time.Duration(7*w.rule(Build)) * day)
	}
	slices.SortStableFunc(w.races, func(a, b Candidate) int {
		if d := a.Date.Compare(b.Date); d != 0 {
			return d
		}
		return strings.Compare(a.Name, b.Name)
	})
	list := w.best()
	p := &Plan{Goal: c.Goal, Begin: w.begin, Score: round(w.score(list)), Rules: c.Rules.All(), units: c.Units}
	p.SetPoints, _ = w.whole(list)
	for i := range w.races {
		p.Entries = append(p.Entries, w.entry(i, list))
	}
	w.taper(p)
	w.missing(p, list)
	p.Cautions = []string{
		"The rules marked as practice are what coaches do, not what trials have shown; the score is our own.",
		"Race less when something hurts or an illness is not over: a race left out costs less than one too many.",
		"After long inactivity, or with chest pain, faintness or unusual breathlessness, see a physician before racing.",
	}
	return p, nil
}

func round(v float64) float64 { return math.Round(v*100) / 100 }

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
		e.Conflicts = []Conflict{{"date", "it is on the day of the goal"}}
		return e
	case d < 0:
		e.Conflicts = []Conflict{{"date", "it is after the goal"}}
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
		if m := days(r.Date, goal.Date) / 30.44; isMarathon(goal.Distance) && isMarathon(r.Distance) && m >= 0 && m < w.rule(MarathonMonths) {
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
