package forecast

import (
	"fmt"
	"math"
	"time"

	"tautline/strategy/athlete"
	"tautline/strategy/quantity"
)

// Rules for workouts. What a session is worth is common practice; no study ties
// it to race pace. Evenness, the cost of rest and the least band are our own
// (recreational runners' six times three minutes foretold a 10 km within 3.4 %
// on average: Nuuttila et al. 2023, Int J Sports Med 44:657-663).
const (
	// UnevenSpread is the most, as a share, between slowest and fastest repeat.
	UnevenSpread = 0.04
	// FadingThird is the most, as a share, by which the last third may be slower
	// than the first.
	FadingThird = 0.02
	// RestPenalty is the share added to the time for each minute of rest beyond
	// what the session allows.
	RestPenalty = 0.01
	// MostRest is the most rest beyond what a session allows, s.
	MostRest = 120.0
	// WorkoutBand is the least half width of a forecast from workouts, at 90 %.
	WorkoutBand = 0.06

	workoutSD = 0.035 // one standard deviation, WorkoutBand over 1.645 and rounded
)

// session is a kind of workout and the race whose pace it suggests.
type session struct {
	what        string
	least, most float64 // length of one repeat, m
	repeats     [2]int
	total       [2]float64       // m
	rest        float64          // s allowed between repeats
	race        string           // whose pace it is
	distance    float64          // m of that race; 0: what is covered in an hour
	takes       [2]time.Duration // of one repeat; zero: any
}

// sessions are tried in order; the first that fits counts.
var sessions = []session{
	{what: "long repeats", least: 800, most: 1700, repeats: [2]int{6, 14}, total: [2]float64{8000, 12500}, rest: 90, race: "10 km", distance: 10000},
	{what: "kilometre repeats", least: 800, most: 1300, repeats: [2]int{4, 7}, total: [2]float64{4000, 7000}, rest: 180, race: "5 km", distance: 5000},
	{what: "blocks", least: 3000, most: 5200, repeats: [2]int{3, 4}, total: [2]float64{9000, 16000}, rest: 120, race: "between 10 km and half", distance: 14525},
	{what: "steady run", repeats: [2]int{1, 1}, least: 4000, most: 14000, total: [2]float64{4000, 14000}, race: "one hour", takes: [2]time.Duration{20 * time.Minute, 40 * time.Minute}},
}

// Worth is what a workout suggests.
type Worth struct {
	Performance
	Session string // which kind it was taken for
	Race    string // whose pace it suggests
	Extra   float64
}

// ReadWorkout says what a workout, run on the level, hard but evenly, suggests.
// why is not empty when it suggests nothing.
func ReadWorkout(w athlete.Workout) (worth Worth, why string) {
	mean := w.Time.Seconds()
	if len(w.Each) > 0 {
		fastest, slowest := w.Each[0], w.Each[0]
		for _, t := range w.Each {
			fastest, slowest = min(fastest, t), max(slowest, t)
		}
		if spread := (slowest - fastest).Seconds() / mean; spread > UnevenSpread {
			return worth, fmt.Sprintf("its repeats differ by %s, more than %s", quantity.Percent(spread, 1), quantity.Percent(UnevenSpread, 0))
		}
		third := len(w.Each) / 3
		if third > 0 {
			if fade := meanOf(w.Each[len(w.Each)-third:])/meanOf(w.Each[:third]) - 1; fade > FadingThird {
				return worth, fmt.Sprintf("its last third is %s slower than its first", quantity.Percent(fade, 1))
			}
		}
	} else if w.Slowest > 0 && w.Slowest.Seconds()/mean-1 > UnevenSpread/2 {
		return worth, fmt.Sprintf("its slowest repeat is %s slower than the mean", quantity.Percent(w.Slowest.Seconds()/mean-1, 1))
	}
	total := float64(w.Repeats) * w.Distance
	for _, s := range sessions {
		over := math.Max(0, w.Rest.Seconds()-s.rest)
		switch {
		case w.Distance < s.least, w.Distance > s.most, w.Repeats < s.repeats[0], w.Repeats > s.repeats[1], total < s.total[0], total > s.total[1]:
			continue
		case s.takes[1] > 0 && (w.Time < s.takes[0] || w.Time > s.takes[1]):
			continue
		case s.repeats[1] > 1 && over > MostRest:
			continue
		}
		worth = Worth{Session: s.what, Race: s.race}
		if s.repeats[1] > 1 {
			worth.Extra = RestPenalty * over / 60
		}
		pace := mean / w.Distance * (1 + worth.Extra)
		worth.Distance = s.distance
		if worth.Distance == 0 {
			worth.Distance = 3600 / pace
		}
		worth.Time = pace * worth.Distance
		return worth, ""
	}
	return worth, "it is no session that is known to tell race pace: too short, too long or too much rest"
}

func meanOf(times []time.Duration) float64 {
	var sum float64
	for _, t := range times {
		sum += t.Seconds()
	}
	return sum / float64(len(times))
}
