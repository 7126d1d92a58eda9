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

// Why says where the rule behind a conflict comes from and what it is called:
// "common practice, last_race_weeks"; "" for what needs no rule, such as a date.
func (p *Plan) Why(c Conflict) string {
	i := slices.IndexFunc(p.Rules, func(r Rule) bool { return r.Key == c.Rule })
	if i < 0 {
		return ""
	}
	if p.Rules[i].Practice {
		return practice + ", " + c.Rule
	}
	source, _, _ := strings.Cut(p.Rules[i].Source, ",")
	return source + ", " + c.Rule
}

// MaxRaces is the most candidates of a calendar.
const MaxRaces = 60

// Distances of races that a calendar may hold, m.
const leastRace, mostRace = 400, 200_000

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

// onDate stands for a rule where the date alone forbids a race.
const onDate = "date"

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

const day = 24 * time.Hour

func bad(advice, format string, args ...any) error {
	return &inputerr.Error{What: fmt.Sprintf(format, args...), Advice: advice}
}

// Check says what is wrong with the calendar, as an *inputerr.Error, or nil.
func (c Calendar) Check() error {
	if c.Goal.Date.IsZero() {
		return bad("add its date", "the goal race has no date")
	}
	if len(c.Races) > MaxRaces {
		return bad("leave out those that are out of the question", "there are %d candidate races, more than %d", len(c.Races), MaxRaces)
	}
	check := func(what string, r Race) error {
		if !(r.Distance >= leastRace && r.Distance <= mostRace) {
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
	if err := c.checkBegin(); err != nil {
		return err
	}
	for _, v := range []float64{c.LongestRun, c.Weekly} {
		if !(v >= 0 && v <= 1e6) {
			return bad("give metres", "a distance of the training is %.4g m", v)
		}
	}
	return c.Rules.check()
}

func (c Calendar) checkBegin() error {
	if !c.Begin.IsZero() && !c.Begin.Before(c.Goal.Date) {
		return bad("give an earlier day", "the build begins on the day of the goal or after it")
	}
	return nil
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
