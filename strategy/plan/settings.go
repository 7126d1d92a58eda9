package plan

import (
	"fmt"

	"tautline/geo/inputerr"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/quantity"
)

// Stop is time spent standing, at an official distance.
type Stop struct {
	Name    string
	At      float64 // official m
	Seconds float64
}

// Crowd is what the crowd after the start costs against the athlete's own
// pace.
type Crowd struct {
	Seconds float64 // all of it; 0: none
	Over    float64 // m in which it fades in a straight line to nothing; 0: DefaultCrowdOver
}

// DefaultCrowdOver makes 65 % of the crowd's cost fall into the first mile and
// 32 % into the second, as Stone 1999 (informal data of five chip-timed
// marathons) reports 65 and 35 %. It is at most half the course.
const DefaultCrowdOver = 3940.0

// Settings are one athlete's goal and habits. Exactly one of Goal and FlatPace
// is given.
type Settings struct {
	Name     string
	Goal     float64 // chip time with stops inside, s
	FlatPace float64 // even effort's pace on the level in calm air, s/m

	Model effort.Model
	Day   effort.Day

	Extra     float64 // share run beyond the shortest legal line, 0 to 0.10
	WatchLong float64 // share by which the watch reads longer than what was run, -0.10 to 0.10
	GunDelay  float64 // from the gun to the athlete's crossing of the start line, s

	// Ways to leave even effort; all zero: none.
	Crowd          Crowd
	FirstHalf      float64 // s by which the first half is slower than even effort; negative: faster, paid for later
	FirstHalfShare float64 // the same as a share of the first half's time; only one of the two
	ClimbHold      float64 // share by which pace is slower in the first third of each climb, 0 to 0.30

	Stops         []Stop
	CriticalSpeed float64 // m/s, 0: not known
}

// MaxExtra is the most that Settings.Extra may be.
const MaxExtra = 0.10

// Limits of settings.
const (
	maxWatch     = 0.10
	maxHold      = 0.30
	maxHalfShare = 0.10 // of either half's time that may be moved to the other
	slowest      = 0.5  // m/s on the level
	fastest      = 8.0  // m/s on the level
)

func bad(advice, format string, args ...any) error {
	return &inputerr.Error{What: fmt.Sprintf(format, args...), Advice: advice}
}

// Check says what is wrong with the settings on a course, as an
// *inputerr.Error, or nil.
func (s Settings) Check(c *Course) error {
	if (s.Goal != 0) == (s.FlatPace != 0) {
		return bad("give one of them", "a plan needs a goal time or a flat pace, and not both")
	}
	if err := quantity.CheckAll([]quantity.Limit{
		{What: "the goal", Is: s.Goal, Low: 0, High: 1e6, Show: quantity.Clock},
		{What: "the extra distance", Is: s.Extra, Low: 0, High: MaxExtra, Show: quantity.InPercent},
		{What: "what the watch reads long", Is: s.WatchLong, Low: -maxWatch, High: maxWatch, Show: quantity.InPercent},
		{What: "the delay from the gun", Is: s.GunDelay, Low: 0, High: 7200, Show: quantity.Clock},
		{What: "the crowd's cost", Is: s.Crowd.Seconds, Low: 0, High: 3600, Show: quantity.Clock},
		{What: "the distance in which the crowd thins", Is: s.Crowd.Over, Low: 0, High: c.Official, Show: quantity.InMetres},
		{What: "what the first half is held back by", Is: s.FirstHalfShare, Low: -maxHalfShare, High: maxHalfShare, Show: quantity.InPercent},
		{What: "what the first half is held back by", Is: s.FirstHalf, Low: -86400, High: 86400, Show: quantity.Clock},
		{What: "what is held back on climbs", Is: s.ClimbHold, Low: 0, High: maxHold, Show: quantity.InPercent},
		{What: "the critical speed", Is: s.CriticalSpeed, Low: 0, High: fastest, Show: quantity.In("m/s")},
	}); err != nil {
		return err
	}
	if s.FlatPace != 0 && !(s.FlatPace >= 1/fastest && s.FlatPace <= 1/slowest) {
		return bad(fmt.Sprintf("give one from %s to %s, and check its unit", quantity.Pace(1/fastest, quantity.Metric), quantity.Pace(1/slowest, quantity.Metric)),
			"a flat pace of %s is beyond what anyone runs", quantity.Pace(s.FlatPace, quantity.Metric))
	}
	if s.FirstHalf != 0 && s.FirstHalfShare != 0 {
		return bad("give one of them", "the first half is changed by seconds and by a share")
	}
	for _, p := range s.Stops {
		what := "a stop"
		if p.Name != "" {
			what = fmt.Sprintf("the stop %q", p.Name)
		}
		if !(p.Seconds >= 0 && p.Seconds <= 86400) {
			return bad("give the time spent there, at most a day", "%s takes %s", what, quantity.Clock(p.Seconds))
		}
		if !(p.At >= 0 && p.At < c.Official) {
			return bad("give its distance from the start", "%s is at %s, off a course of %s", what, quantity.Distance(p.At, quantity.Metric), quantity.Distance(c.Official, quantity.Metric))
		}
	}
	if s.Model.Air.K > 0 && (s.Model.Air.WindEast != 0 || s.Model.Air.WindNorth != 0) && !c.headed {
		return bad("leave the wind out", "the course has no headings to set the wind against")
	}
	if err := s.Model.Check(); err != nil {
		return err
	}
	return s.Day.Check()
}

// ForAthlete lays what an athlete file says over settings. What it does not say
// stays; a goal that the settings have already stays too.
func (s Settings) ForAthlete(a *athlete.Athlete) Settings {
	s.Name = a.Name
	if s.Goal == 0 && s.FlatPace == 0 {
		s.Goal = a.Goal.Seconds()
	}
	for _, v := range []struct {
		from *float64
		to   *float64
		plus float64
	}{
		{a.Settings.DownhillCredit, &s.Model.Credit, 0},
		{a.Settings.DownhillLimit, &s.Model.Cap, 1},
		{a.Settings.EffortFlex, &s.Model.Flex, 0},
		{a.Settings.WatchReadsLong, &s.WatchLong, 0},
		{a.Settings.UsualExtra, &s.Extra, 0},
	} {
		if v.from != nil {
			*v.to = *v.from + v.plus
		}
	}
	return s
}
