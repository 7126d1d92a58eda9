package forecast

import (
	"fmt"
	"math"

	"tautline/geo/inputerr"
	"tautline/strategy/athlete"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
)

// Sizes of what corrections leave in doubt, as standard deviations. None has a
// source; they are our own and stated.
const (
	gunDelay     = 20.0  // s, from the gun to the mat when it is not given
	gunDelaySD   = 20.0  // s
	hillDoubt    = 0.25  // share of what hills cost, by which people differ on them
	lengthDoubt  = 0.003 // of a length taken from a drawn course
	lengthIgnore = 0.005 // a drawn course this near the announced distance is taken for it
	hardShare    = 0.02  // a race called hard is this much slower than all out
	hardSD       = 0.02
	steadyShare  = 0.06 // the same of one called steady
	steadySD     = 0.04
	wetBulbBelow = 2.5 // °C by which WBGT is taken below the air's temperature
)

// Step is one correction of a race.
type Step struct {
	What    string
	Seconds float64 // added to the time; negative when the time is made shorter
}

// Corrected is a race as it would have been all out on a level course of the
// stated length, along the official line, on a mild day.
type Corrected struct {
	Performance
	Steps []Step
	SD    float64 // share by which the corrections leave the time in doubt, one standard deviation
}

// Correction says how races are corrected.
type Correction struct {
	Model effort.Model
	Extra float64 // share that the athlete runs beyond the shortest legal line
	Heat  bool    // take the heat of the day out where the temperature is known
}

// Correct takes out of a race what was not the runner. c is its course, laid
// out for the length that it really had; nil when it is not known, and the race
// then counts as level. Heat is reckoned from the air's temperature less 2.5 °C
// as WBGT, which is how the two best ranges of Mantzios et al. 2022 (air 10 to
// 17.5 °C, WBGT 7.5 to 15 °C) lie to each other; humidity and sun are not
// known. ok is false for a race called easy, which tells nothing. Errors are
// *inputerr.Error.
func Correct(r athlete.Race, c *plan.Course, o Correction) (out Corrected, ok bool, err error) {
	if r.Effort == athlete.Easy {
		return out, false, nil
	}
	t := r.Time.Seconds()
	if !(r.Distance > 0) || !(t > 0) {
		return out, false, &inputerr.Error{What: "a race has no distance or no time", Advice: "give both"}
	}
	out.Distance = r.Distance
	if r.Length > 0 {
		out.Distance = r.Length
	}
	var variance float64
	doubt := func(share float64) { variance += share * share }
	step := func(what string, to float64) {
		if math.Abs(to-t) >= 0.05 {
			out.Steps = append(out.Steps, Step{what, to - t})
		}
		t = to
	}
	if r.Gun {
		if r.GunDelay != nil {
			step("gun time", t-r.GunDelay.Seconds())
		} else {
			doubt(gunDelaySD / t)
			step("gun time, delay not known", t-math.Min(gunDelay, t/20))
		}
	}
	extra := 1 + o.Extra
	if c == nil {
		step("own line", t/extra)
	} else {
		then := plan.Settings{Goal: t, Model: o.Model, Extra: o.Extra}
		then.Model.Air = effort.Air{} // that day's wind is not known
		level, err := plan.Level(c, then)
		if err != nil {
			return out, false, err
		}
		off := c.Official / c.Shortest // of the length, by the drawing
		start := t
		if math.Abs(off-1) < lengthIgnore {
			level.Time /= off
		} else {
			doubt(lengthDoubt)
			step(fmt.Sprintf("course of %s", quantity.Distance(c.Shortest, quantity.Metric)), t*off)
		}
		step("own line", t/extra)
		hills := level.Time - t
		doubt(hillDoubt * hills / start)
		step("hills", level.Time)
	}
	if o.Heat && r.Temperature != nil {
		day := effort.Day{Heat: true, WBGT: math.Max(-20, *r.Temperature-wetBulbBelow)}
		slow := day.Slowing(out.Distance/t, out.Distance)
		doubt((slow.High - slow.Low) / 3.29)
		step("heat", t/(1+slow.Value))
	}
	switch r.Effort {
	case athlete.Hard:
		doubt(hardSD)
		step("effort held back a little", t*(1-hardShare))
	case athlete.Steady:
		doubt(steadySD)
		step("effort held back", t*(1-steadyShare))
	}
	out.Time, out.SD = t, math.Sqrt(variance)
	return out, true, nil
}
