package forecast_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/forecast"
	"tautline/strategy/plan"
)

// A race run on the goal's own course comes back as it was: its hills are taken
// out and put in again.
func TestARaceOnTheGoalCourseComesBack(t *testing.T) {
	h := hilly(t, map[float64]hillyCourse{}, 10000)
	extra := 0.004
	a := &athlete.Athlete{Name: "A", Races: []athlete.Race{ran(t, 4, 10000, "45:00")}, Settings: athlete.Settings{UsualExtra: &extra}}
	f := forGoal(t, a, 10000, forecast.Options{Course: func(int, athlete.Race) (*plan.Course, error) { return h.course, nil }})
	there, err := f.OnCourse(h.course, plan.Settings{Model: effort.Default()}.ForAthlete(a))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "time on the course", there.Value, 2700, 1)
	if !(there.Low < there.Value && there.Value < there.High) {
		t.Errorf("%+v", there)
	}
	near(t, "time on the level, what is run beyond the line inside", f.Level.Value, 2700/h.cost, 1)
}

func TestTheDayThatEvidenceAgesTo(t *testing.T) {
	today := time.Date(2027, 5, 1, 15, 30, 0, 0, time.FixedZone("", -7*3600))
	date := func(m, d int) time.Time { return time.Date(2027, time.Month(m), d, 0, 0, 0, 0, time.UTC) }
	late := &athlete.Athlete{Races: []athlete.Race{{Date: date(3, 1)}}, Workouts: []athlete.Workout{{Date: date(6, 3)}}}
	for _, c := range []struct {
		name       string
		goal, want time.Time
		a          *athlete.Athlete
	}{
		{"the goal's", date(9, 1), date(9, 1), late},
		{"today", time.Time{}, date(5, 1), &athlete.Athlete{}},
		{"after the last that is dated", time.Time{}, date(6, 4), late},
	} {
		if got := forecast.Day(c.goal, c.a, today); !got.Equal(c.want) {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// Runners who show their 10 km pace in a workout only with an error: the
// workout's own, one standard deviation of 3.5 %, which with the race's own
// variation comes near the mean absolute error of 3.4 % that Nuuttila et al.
// 2023 report for their session.
func TestTheIntervalFromWorkoutsHoldsOnSimulatedRunners(t *testing.T) {
	var all tally
	var missed float64
	for _, seed := range seeds() {
		rng := rand.New(rand.NewPCG(seed, 7))
		for range 300 {
			r := drawRunner(rng)
			n := 1 + rng.IntN(3)
			a := &athlete.Athlete{Name: "sim"}
			shared := 0.03 * rng.NormFloat64() // how this runner trains
			for range n {
				pace := r.curve(10000) / 10 * math.Exp(shared+0.018*rng.NormFloat64())
				a.Workouts = append(a.Workouts, athlete.Workout{Date: simDay.AddDate(0, 0, -7*(1+rng.IntN(10))), Repeats: 10, Distance: 1000, Rest: time.Minute,
					Time: time.Duration(pace * float64(time.Second))})
			}
			f, err := forecast.ForGoal(a, forecast.Goal{Distance: 10000, On: simDay}, forecast.Options{})
			if err != nil || f.None != "" {
				t.Fatal(err, f)
			}
			truth := r.curve(10000) * r.day(10000)
			all.add(f.Level, truth)
			missed += math.Abs(f.Level.Value/truth - 1)
		}
	}
	t.Logf("seeds %v: %v, mean absolute error %.1f %%", seeds(), all, 100*missed/float64(all.n))
	if s := all.share(); s < 0.85 || s > 0.97 {
		t.Errorf("the intervals hold %v", fmt.Sprint(all))
	}
}
