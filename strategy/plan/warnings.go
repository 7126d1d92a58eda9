package plan

import (
	"fmt"
	"math"

	"tautline/strategy/quantity"
)

// Warning says where a plan goes against the evidence or the model's limits.
type Warning struct {
	Code string `json:"code"` // stable, for programs
	Text string `json:"text"` // one sentence for people
	Why  string `json:"why"`  // the evidence
}

// Codes of warnings.
const (
	FastStart     = "fast-start"
	FirstHalfFast = "first-half-fast"
	FirstHalfSlow = "first-half-slow"
	OverCritical  = "over-critical-speed"
	HardClimb     = "hard-climb"
	FastDescent   = "fast-descent"
	SteepGround   = "steep-ground"
	DayBeyond     = "day-beyond-data"
	HotDay        = "hot-day"
	LineDiffers   = "line-differs"
	SpeedBeyond   = "speed-beyond-data"
)

const (
	climbGuard    = 1.104 // Johnson et al. 2022
	descentGuard  = 1.14  // Townshend et al. 2010
	criticalGuard = 0.94  // Smyth and Muniz-Pumares 2020
	marathonClass = 40000.0
)

// warnings are all of a solved race, in the order that plans show them.
func (r *run) warnings() []Warning {
	w := &warned{r, nil}
	w.ofTheStart()
	w.ofTheHalves()
	w.ofHills()
	w.ofTheDay()
	w.ofTheData()
	return w.all
}

// warned gathers the warnings of a race.
type warned struct {
	*run
	all []Warning
}

func (w *warned) add(code, why, format string, args ...any) {
	w.all = append(w.all, Warning{code, fmt.Sprintf(format, args...), why})
}

// ofTheStart looks at the first 5 km, or the first mile of a race of 5 km.
func (w *warned) ofTheStart() {
	length := w.c.Official
	opening, share := 5000.0, 0.02
	if length < 7500 {
		opening, share = math.Min(quantity.Mile, length/3), 0.06
	} else if length < 15000 {
		share = 0.02 + 0.04*math.Log(15000/length)/math.Log(2)
	}
	if fast := w.between(0, opening)/w.between(0, length) - 1; fast > share {
		w.add(FastStart, "unusually fast first stretches go with worse times (Smyth 2018, 1.7 million records); the limit of 2 % for a half marathon and longer and 6 % at 5 km is ours",
			"The first %.1f km are run %.1f %% harder than the race as a whole.", opening/1000, 100*fast)
	}
}

func (w *warned) ofTheHalves() {
	if d := w.first/w.second - 1; d > 0.01 {
		w.add(FirstHalfFast, "most runners who spend effort early pay more of it back: second halves were 15.6 % (men) and 11.7 % (women) slower in 91,929 marathon results (Deaner et al. 2015)",
			"The first half is run %.1f %% harder than the second.", 100*d)
	} else if d < -0.02 {
		w.add(FirstHalfSlow, "the usual allowance is 0 to 1 % slower in the first half; no evidence asks for more",
			"The first half is held back by %.1f %% against the second.", -100*d)
	}
	one := w.between(0, w.c.Official/2)
	if cs := w.s.CriticalSpeed; cs > 0 && w.c.Official >= marathonClass && one > criticalGuard*cs {
		w.add(OverCritical, "marathon runners whose first half was above 94 % of critical speed were far more likely to lose over a quarter of their speed (Smyth and Muniz-Pumares 2020)",
			"The first half is run at %.0f %% of the critical speed of %.2f m/s.", 100*one/cs, cs)
	}
}

func (w *warned) ofHills() {
	mean := w.between(0, w.c.Official)
	var hardest, fastest, beyond float64
	for j, u := range w.speed {
		switch g := w.c.gradient[j]; {
		case g > 0.005:
			hardest = math.Max(hardest, u/mean)
		case g < 0:
			fastest = math.Max(fastest, w.even.ground[j].Speed(u)/w.flat)
		}
		if w.model.OutOfRange(w.c.gradient[j]) {
			beyond += w.c.edge[j+1] - w.c.edge[j]
		}
	}
	if hardest > climbGuard {
		w.add(HardClimb, "in 18 years of a race up and down a hill the best results kept the climb within 10.4 % above the runner's own average (Johnson et al. 2022)",
			"Climbs are run up to %.1f %% harder than the race as a whole.", 100*(hardest-1))
	}
	if fastest > descentGuard+0.005 {
		w.add(FastDescent, "experienced runners were 13.8 % faster downhill than on the level (Townshend et al. 2010)",
			"Descents are run up to %.0f %% faster than the level.", 100*(fastest-1))
	}
	if beyond > 0 {
		w.add(SteepGround, "a published cost of gradient is never carried beyond the gradients it was measured on",
			"%.0f m of the course are steeper than the chosen cost of gradient covers; they are planned as its steepest.", beyond)
	}
}

func (w *warned) ofTheDay() {
	d := w.s.Day
	if d.OutOfRange() {
		w.add(DayBeyond, "the data end at WBGT 25 °C and at 2800 m", "Heat or altitude are beyond the data; the plan takes their limit.")
	}
	if !d.Heat || d.WBGT < 18 {
		return
	}
	why := "race flags of the ACSM of 1984, quoted at second hand: yellow from 18 °C WBGT, red from 23, black above 28"
	switch {
	case d.WBGT > 28:
		w.add(HotDay, why, "At WBGT %.0f °C races are called off: do not race.", d.WBGT)
	case d.WBGT >= 23:
		w.add(HotDay, why, "WBGT %.0f °C is a red flag: give up the goal, drink to thirst, stop at the first sign of heat illness.", d.WBGT)
	default:
		w.add(HotDay, why, "WBGT %.0f °C is a yellow flag: start slower than the plan if not used to heat.", d.WBGT)
	}
}

// ofTheData doubts a drawing that is not the course, and a runner whom nobody
// has measured.
func (w *warned) ofTheData() {
	if d := w.c.Shortest/w.c.Official - 1; math.Abs(d) > 0.005 {
		w.add(LineDiffers, "a measured course is within 0.1 % or so of its official distance",
			"The shortest line is %.0f m and the official distance %.0f m: the drawing may not be the course.", w.c.Shortest, w.c.Official)
	}
	if w.flat < 2 || w.flat > 6 {
		w.add(SpeedBeyond, "the level cost of running was measured from about 2 to 6 m/s (Looney et al. 2023)",
			"The flat pace is %.2f m/s, beyond the speeds of the data.", w.flat)
	}
}

// mild is the running time between two official distances as a mild day would
// have it, crowd included.
func (r *run) mild(from, to float64) float64 {
	t := r.c.cumulative(r.running, to) - r.c.cumulative(r.running, from)
	crowd := r.c.cumulative(r.crowded, to) - r.c.cumulative(r.crowded, from)
	return (t-crowd)/(1+r.slowing.Value) + crowd
}

// between is the mean flat-equivalent speed between two official distances,
// m/s, crowd included.
func (r *run) between(from, to float64) float64 {
	level := r.c.cumulative(r.level, to) - r.c.cumulative(r.level, from)
	return level / r.mild(from, to)
}
