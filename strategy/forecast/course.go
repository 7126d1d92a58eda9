package forecast

import (
	"time"

	"tautline/geo/interval"
	"tautline/strategy/athlete"
	"tautline/strategy/plan"
)

// OnCourse is the finish time, s, at even effort on a course: the forecast on
// the level with the hills, the legal line and the day of the settings. Goal
// and flat pace of the settings are not used. Errors are *inputerr.Error.
func (f *Forecast) OnCourse(c *plan.Course, s plan.Settings) (interval.Estimate, error) {
	var out interval.Estimate
	marks, err := plan.Every(c.Official, c.Official, "course", c.Official)
	if err != nil {
		return out, err
	}
	for _, v := range []struct {
		flat float64
		to   *float64
	}{{f.FlatPace.Value, &out.Value}, {f.FlatPace.Low, &out.Low}, {f.FlatPace.High, &out.High}} {
		s.Goal, s.FlatPace = 0, v.flat
		p, err := plan.Make(c, marks, s)
		if err != nil {
			return out, err
		}
		*v.to = p.Target
	}
	return out, nil
}

// Day is the day that evidence ages to when the goal's is not known: today, or
// the day after the athlete's last race or workout if that lies ahead.
func Day(goal time.Time, a *athlete.Athlete, today time.Time) time.Time {
	if !goal.IsZero() {
		return goal
	}
	y, m, d := today.Date()
	day := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	later := func(t time.Time) {
		if !t.Before(day) {
			day = t.AddDate(0, 0, 1)
		}
	}
	for _, r := range a.Races {
		later(r.Date)
	}
	for _, w := range a.Workouts {
		later(w.Date)
	}
	return day
}
