package forecast

import (
	"errors"
	"fmt"
	"math"
	"time"

	"tautline/geo/inputerr"
	"tautline/strategy/athlete"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

// weeks is the age of something at the goal race; known is false without its
// date.
func (b *builder) weeks(day time.Time) (age float64, known bool) {
	if day.IsZero() || b.f.Goal.On.IsZero() {
		return undated, false
	}
	return b.f.Goal.On.Sub(day).Hours() / (24 * 7), true
}

// races corrects the races and says which can be used.
func (b *builder) races() ([]used, error) {
	newest, anyDated := math.Inf(1), false
	for _, r := range b.a.Races {
		if w, known := b.weeks(r.Date); known && w > 0 {
			newest, anyDated = math.Min(newest, w), true
		} else if !known {
			newest = math.Min(newest, undated)
		}
	}
	if anyDated && newest > YearsAway {
		b.returning = true
	}
	oldest := OldestRace
	if b.returning {
		oldest = ReturnRace
	}
	var out []used
	for i, r := range b.a.Races {
		e := Evidence{Kind: "race", Name: r.Name, Date: r.Date, Distance: r.Distance, Repeats: 1, Time: r.Time.Seconds(), Corrected: math.NaN(), Says: math.NaN()}
		age, known := b.weeks(r.Date)
		switch {
		case known && age <= 0:
			e.Why = "it is not before the goal"
		case known && age > oldest:
			e.Why = "it is " + old(age)
		case !known && b.returning:
			e.Why = "it has no date"
		case !(r.Distance >= LeastDistance && r.Distance <= MostDistance):
			e.Why = "its distance is outside what the models hold for"
		case r.Effort == athlete.Easy:
			e.Why = "it was run easily"
		case !runs(r.Distance, r.Time.Seconds()):
			e.Why = "its pace is outside what the models hold for"
		}
		if e.Why != "" {
			b.f.Evidence = append(b.f.Evidence, e)
			continue
		}
		var course *plan.Course
		var err error
		if b.o.Course != nil {
			if course, err = b.o.Course(i, r); err != nil {
				return nil, err
			}
		}
		done, _, err := Correct(r, course, Correction{Model: b.o.Model, Extra: b.extra, Heat: b.o.Heat})
		if err != nil {
			return nil, b.a.Err(fmt.Sprintf("race[%d].time", i), fmt.Sprintf("race %d cannot be corrected: %s", i+1, plainly(err)), "")
		}
		if r.Length > 0 && r.Length != r.Distance {
			b.note("%s is read over %s, what its course really was", raceName(r.Name, r.Distance), quantity.Distance(r.Length, quantity.Metric))
		}
		if course == nil && r.Course != "" {
			b.note("the hills of %s were left in: its course was not read", raceName(r.Name, r.Distance))
		}
		e.Corrected, e.Steps = done.Time, done.Steps
		b.f.Evidence = append(b.f.Evidence, e)
		out = append(out, used{at: len(b.f.Evidence) - 1, allOut: r.Effort == "" || r.Effort == athlete.AllOut, dated: known,
			sample: sample{Performance: done.Performance, weeks: age, own: done.SD}})
	}
	return out, nil
}

// old says an age in weeks as people do.
func old(weeks float64) string {
	if weeks >= YearsAway {
		return fmt.Sprintf("%.0f years old", weeks*7/365.25)
	}
	return fmt.Sprintf("%.0f weeks old", weeks)
}

// runs tells whether a mean speed is one that the models were made for.
func runs(distance, seconds float64) bool {
	v := distance / seconds
	return v >= LeastSpeed && v <= GreatestSpeed
}

// plainly is what an error says, without its place and advice.
func plainly(err error) string {
	var in *inputerr.Error
	if errors.As(err, &in) {
		return in.What
	}
	return err.Error()
}

// raceName is the name of a race, or what stands for it.
func raceName(name string, distance float64) string {
	if name != "" {
		return name
	}
	return "the race over " + quantity.Distance(distance, quantity.Metric)
}

// workouts reads the workouts and says which could be used. Races outrank
// them.
func (b *builder) workouts(outranked bool) []used {
	var out []used
	for _, w := range b.a.Workouts {
		e := Evidence{Kind: "workout", Date: w.Date, Distance: w.Distance, Repeats: w.Repeats, Time: w.Time.Seconds(), Corrected: math.NaN(), Says: math.NaN()}
		age, known := b.weeks(w.Date)
		worth, why := ReadWorkout(w)
		switch {
		case known && age <= 0:
			e.Why = "it is not before the goal"
		case known && age > OldestWorkout:
			e.Why = "it is " + old(age)
		case why != "":
			e.Why = why
		case !runs(worth.Distance, worth.Time):
			e.Why = "its pace is outside what the models hold for"
		}
		if e.Why == "" {
			e.ReadAs, e.Corrected = worth.Race, worth.Time
			if worth.Extra > 0 {
				e.Steps = []Step{{"long rest", worth.Time * worth.Extra / (1 + worth.Extra)}}
			}
			if !b.returning { // after years away that would be a false number
				e.Says = carry(worth.Performance, b.f.Goal.Distance, b.weekly) * (1 + b.extra)
			}
			if outranked || b.returning {
				e.Why = "races outrank it"
				if b.returning {
					e.Why = "workouts tell too little after years away"
				}
			} else {
				if w.Repeats > 1 && len(w.Each) == 0 && w.Slowest == 0 {
					b.note("the %d repeats are taken as even: their times (each, or slowest) would show it", w.Repeats)
				}
				out = append(out, used{at: len(b.f.Evidence), allOut: true, dated: known,
					sample: sample{Performance: worth.Performance, weeks: age, own: workoutSD / 2}})
			}
		}
		b.f.Evidence = append(b.f.Evidence, e)
	}
	return out
}
