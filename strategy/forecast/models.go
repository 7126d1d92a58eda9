// Package forecast reads a finish time out of recent races and, second best,
// out of workouts, with a 90 % interval.
//
// The published models stand in this file by author and year, each with the
// range it holds in and how sure its coefficients are. Correct takes out of a
// race what was not the runner: a course of another length, hills, gun time,
// heat, effort held back. ForGoal weighs the corrected races by how old they
// are, how near in distance and how hard they were run.
//
// The widths come from published variation and errors and hold on simulated
// athletes drawn with that variation; real outcomes have not been used.
//
// Times are seconds, distances metres, speeds metres per second. All functions
// are safe for concurrent use; none changes its arguments.
package forecast

import (
	"math"

	"tautline/strategy/quantity"
)

// Performance is a distance run in a time, all out on the level.
type Performance struct {
	Distance float64 // m
	Time     float64 // s
}

// Speed is the mean speed, m/s.
func (p Performance) Speed() float64 { return p.Distance / p.Time }

// Info says where a model comes from and where it holds.
type Info struct {
	Name   string
	Source string
	Basis  string // how sure its coefficients are
	// Efforts for which it holds, s.
	Least, Most float64
}

// Holds tells whether an effort of so many seconds is in the model's range.
func (i Info) Holds(seconds float64) bool { return seconds >= i.Least && seconds <= i.Most }

// fromMemory marks coefficients that nobody has compared with the paper.
const fromMemory = "coefficients from memory, unchecked"

// Bounds and default of the power law's exponent.
const (
	GeneralExponent  = 1.06
	LeastExponent    = 1.02
	GreatestExponent = 1.20
	// LeastRatio is how much longer the second of two races must be for them
	// to tell how a runner slows with distance; our own choice.
	LeastRatio = 1.4
)

// PowerLaw is T2 = T1 (D2/D1)^k: Riegel 1977 (magazine article) and Riegel
// 1981 (American Scientist 69:285-290), k = 1.06 for general use. It is claimed
// for efforts of 3.5 to 230 minutes (seen only as quoted by others). Well
// calibrated up to the half marathon, it is at least ten minutes too fast at
// the marathon for half of recreational runners (Vickers and Vertosick 2016);
// nothing in this package uses it bare beyond the half marathon.
type PowerLaw struct {
	Exponent float64
}

// Info gives range and source.
func (PowerLaw) Info() Info {
	return Info{"power law", "Riegel 1977, 1981", "exponent as published; range quoted by others", 3.5 * 60, 230 * 60}
}

// Time is the time for a distance; NaN unless all figures are above zero.
func (p PowerLaw) Time(from Performance, distance float64) float64 {
	if !from.real() || !(distance > 0) {
		return math.NaN()
	}
	return from.Time * math.Pow(distance/from.Distance, p.Exponent)
}

func (p Performance) real() bool {
	return p.Distance > 0 && p.Time > 0 && !math.IsInf(p.Distance, 0) && !math.IsInf(p.Time, 0)
}

// Personal is the power law through two races, its exponent held between 1.02
// and 1.20 (elite individuals: 1.016 to 1.175, Vandewalle 2017, 2018). ok is
// false when the longer race is less than 1.4 times the shorter.
func Personal(a, b Performance) (p PowerLaw, held, ok bool) {
	if a.Distance > b.Distance {
		a, b = b, a
	}
	if !a.real() || !b.real() || b.Distance/a.Distance < LeastRatio {
		return PowerLaw{}, false, false
	}
	k := math.Log(b.Time/a.Time) / math.Log(b.Distance/a.Distance)
	in := math.Max(LeastExponent, math.Min(GreatestExponent, k))
	return PowerLaw{in}, in != k, true
}

// DanielsGilbert1979 is the pair of equations of Daniels and Gilbert 1979
// ("Oxygen Power"): the oxygen cost of a speed, and the share of the greatest
// uptake that can be held for a time. The coefficients are from memory and
// agree with tables quoted by others. Built on trained runners, sensible for
// about 3.5 minutes to 5 hours; at the marathon as hopeful as the power law.
type DanielsGilbert1979 struct{}

// Info gives range and source.
func (DanielsGilbert1979) Info() Info {
	return Info{"oxygen cost and duration", "Daniels and Gilbert 1979", "coefficients from memory, agreeing with quoted tables", 3.5 * 60, 5 * 3600}
}

// Cost is the oxygen uptake in ml/kg/min at a speed in m/s.
func (DanielsGilbert1979) Cost(speed float64) float64 {
	v := 60 * speed
	return -4.60 + 0.182258*v + 0.000104*v*v
}

// Share is the fraction of the greatest uptake that can be held for so many
// seconds.
func (DanielsGilbert1979) Share(seconds float64) float64 {
	t := seconds / 60
	return 0.8 + 0.1894393*math.Exp(-0.012778*t) + 0.2989558*math.Exp(-0.1932605*t)
}

// Index is the fitness that a performance shows, ml/kg/min.
func (m DanielsGilbert1979) Index(p Performance) float64 {
	return m.Cost(p.Speed()) / m.Share(p.Time)
}

// Time is the time for a distance at a fitness index; NaN when no speed from
// 0.3 to 12 m/s fits.
func (m DanielsGilbert1979) Time(index, distance float64) float64 {
	return root(distance/12, distance/0.3, func(t float64) float64 {
		return index - m.Index(Performance{distance, t})
	})
}

// VickersVertosick2016 holds the two marathon models of Vickers and Vertosick
// 2016 (BMC Sports Sci Med Rehabil 8:26), fitted to 2303 recreational runners.
// The coefficients are from memory, unchecked. Mean squared errors of 228 (one
// race) and 208 min² (two races) are published; the power law has 381.
type VickersVertosick2016 struct{}

// Info gives range and source. The range is that of the races it starts from.
func (VickersVertosick2016) Info() Info {
	return Info{"marathon regression", "Vickers and Vertosick 2016", fromMemory, 12 * 60, 230 * 60}
}

// Weekly distances, m, within which the models are used; beyond they are held.
// Our own choice: the published fit is of recreational runners.
const (
	LeastWeekly    = 16e3
	GreatestWeekly = 130e3
	// UsualWeekly stands for a weekly distance that is not known, about 30
	// miles; our own choice.
	UsualWeekly = 48e3
)

func tensOfMiles(weekly float64) float64 {
	return math.Max(LeastWeekly, math.Min(GreatestWeekly, weekly)) / quantity.Mile / 10
}

// OneRace is the marathon time from one race and the usual weekly distance, m.
func (VickersVertosick2016) OneRace(p Performance, weekly float64) float64 {
	if !p.real() {
		return math.NaN()
	}
	v := quantity.Marathon / (p.Time * math.Pow(quantity.Marathon/p.Distance, 1.07))
	return quantity.Marathon / (0.16018617 + 0.83076202*v + 0.06423826*tensOfMiles(weekly))
}

// TwoRaces is the marathon time from two races and the usual weekly distance,
// m; NaN when Personal has no exponent for them.
func (VickersVertosick2016) TwoRaces(a, b Performance, weekly float64) float64 {
	if a.Distance > b.Distance {
		a, b = b, a
	}
	if _, _, ok := Personal(a, b); !ok {
		return math.NaN()
	}
	// The published form does not hold the exponent.
	k := math.Log(b.Time/a.Time) / math.Log(b.Distance/a.Distance)
	km := 1.4510756 - 0.23797948*k - 0.01410023*tensOfMiles(weekly)
	return b.Time * math.Pow(quantity.Marathon/b.Distance, km)
}

// EmigPeltonen2020 is the logarithmic fall of speed with duration of Emig and
// Peltonen 2020 (Nature Communications 11, doi 10.1038/s41467-020-18737-6) and
// Mulligan, Adam and Emig 2018: v(T) = Top (1 - Gamma ln(T / 6 min)) from 6
// minutes on. The form is from memory, unchecked; a mean error below 1 % on
// record data is published.
type EmigPeltonen2020 struct {
	Top   float64 // speed that can be held for 6 minutes, m/s
	Gamma float64 // fall of speed per e-fold of duration
}

const emigFrom = 360.0 // s

// Info gives range and source.
func (EmigPeltonen2020) Info() Info {
	return Info{"logarithmic fall of speed", "Emig and Peltonen 2020", "form from memory, unchecked", emigFrom, 5 * 3600}
}

// Endurance is how many times 6 minutes 90 % of the top speed can be held.
func (m EmigPeltonen2020) Endurance() float64 { return math.Exp(0.1 / m.Gamma) }

// Speed is the speed that can be held for so many seconds, at least 360.
func (m EmigPeltonen2020) Speed(seconds float64) float64 {
	if !(seconds >= emigFrom) {
		return math.NaN()
	}
	return m.Top * (1 - m.Gamma*math.Log(seconds/emigFrom))
}

// Time is the time for a distance; NaN when it is run in less than 6 minutes or
// lies beyond what the curve reaches.
func (m EmigPeltonen2020) Time(distance float64) float64 {
	// Beyond this duration the curve would have a runner go less far in more
	// time.
	turn := emigFrom * math.Exp(math.Min(12, 1/m.Gamma-1))
	return root(emigFrom, turn, func(t float64) float64 { return m.Speed(t)*t - distance })
}

// FitEmig draws the curve through two races of at least 6 minutes. ok is false
// when they are too near in distance or the longer is not the slower.
func FitEmig(a, b Performance) (m EmigPeltonen2020, ok bool) {
	if a.Distance > b.Distance {
		a, b = b, a
	}
	if !a.real() || !b.real() || b.Distance/a.Distance < LeastRatio || a.Time < emigFrom || !(b.Time > a.Time) {
		return m, false
	}
	slope := (a.Speed() - b.Speed()) / math.Log(b.Time/a.Time)
	m.Top = a.Speed() + slope*math.Log(a.Time/emigFrom)
	m.Gamma = slope / m.Top
	return m, m.Gamma > 0.005 && m.Gamma < 0.5
}

// CriticalSpeed is the hyperbola d = Speed t + Reserve, for efforts of 2 to 20
// minutes only; beyond them it promises speeds that nobody holds. Two trials do
// as well as three (Kordi et al. 2019); the error of estimate of a field test is
// 0.14 m/s (Galbraith et al. 2014).
type CriticalSpeed struct {
	Speed   float64 // m/s
	Reserve float64 // m that can be run above it
}

// Info gives range and source.
func (CriticalSpeed) Info() Info {
	return Info{"critical speed", "Kordi et al. 2019; Galbraith et al. 2014", "two-parameter form, textbook", 120, 1200}
}

// Time is the time for a distance; NaN outside 2 to 20 minutes.
func (m CriticalSpeed) Time(distance float64) float64 {
	t := (distance - m.Reserve) / m.Speed
	if !(m.Speed > 0) || !m.Info().Holds(t) {
		return math.NaN()
	}
	return t
}

// FitCritical draws the line through two races, both of 2 to 20 minutes. ok is
// false when they are not, are too near in distance, or give no reserve.
func FitCritical(a, b Performance) (m CriticalSpeed, ok bool) {
	if a.Distance > b.Distance {
		a, b = b, a
	}
	if !a.real() || !b.real() || b.Distance/a.Distance < LeastRatio || !m.Info().Holds(a.Time) || !m.Info().Holds(b.Time) || !(b.Time > a.Time) {
		return m, false
	}
	m.Speed = (b.Distance - a.Distance) / (b.Time - a.Time)
	m.Reserve = a.Distance - m.Speed*a.Time
	return m, m.Reserve > 0
}

// root finds where f, which grows, is zero between lo and hi, to the last digit
// that matters; NaN when it does not change sign there.
func root(lo, hi float64, f func(float64) float64) float64 {
	if !(f(lo) <= 0 && f(hi) >= 0) {
		return math.NaN()
	}
	for range 200 {
		mid := (lo + hi) / 2
		if hi-lo <= 1e-12*mid {
			break
		}
		if f(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
