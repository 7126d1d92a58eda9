package measure

import (
	"math"
	"slices"

	"tautline/geo/interval"
)

// TapeWork is a taped length worked out.
type TapeWork struct {
	Raw       []float64 `json:"raw_m"`
	MeanRaw   float64   `json:"mean_raw_m"`
	PerPull   float64   `json:"pull_correction_m"` // mean over the tapings
	TapeScale float64   `json:"tape_scale"`        // true length / printed length of the tape
	Celsius   *float64  `json:"temperature_c,omitempty"`
	Factor    float64   `json:"temperature_factor"`
	OtherFact float64   `json:"other_coefficient_factor"`
	Expansion Expansion `json:"expansion"`
	Each      []float64 `json:"corrected_m"` // corrected tapings
	Length    float64   `json:"length_m"`    // their mean
	Spread    float64   `json:"spread"`
	PerDegree float64   `json:"change_per_c_m"` // what one degree is worth
	Aim       float64   `json:"aim_m,omitempty"`
	Lengthen  float64   `json:"lengthen_m,omitempty"` // to reach the aim; negative: shorten
	temp      Temperature
}

// LapWork is a distance in laps of a taped length and a remainder.
type LapWork struct {
	Target    float64 `json:"target_m"` // the official distance with the factor
	Lap       float64 `json:"lap_m"`
	Laps      float64 `json:"laps"`
	Remainder float64 `json:"remainder_m"`
}

// workTape works out one taped length.
func workTape(t TapeSheet) *TapeWork {
	w := &TapeWork{TapeScale: 1, Expansion: ExpansionUS, temp: t.Temperature, Aim: float64(t.Aim)}
	other := ExpansionMetric
	if t.Coefficient == "metric" {
		w.Expansion, other = ExpansionMetric, ExpansionUS
	}
	if t.Temperature.Known {
		w.Celsius = &t.Temperature.Celsius
	}
	if t.Nominal != 0 {
		w.TapeScale = float64(t.True / t.Nominal)
	}
	w.Factor = w.Expansion.At(t.Temperature)
	w.OtherFact = other.At(t.Temperature)
	n := float64(len(t.Readings))
	for _, r := range t.Readings {
		pulls := r.Pulls
		if t.Pulls != 0 {
			pulls = int(t.Pulls)
		}
		c := float64(pulls) * float64(t.PerPull)
		w.Raw = append(w.Raw, r.Raw)
		w.MeanRaw += r.Raw / n
		w.PerPull += c / n
		w.Each = append(w.Each, (r.Raw+c)*w.Factor*w.TapeScale)
	}
	for _, e := range w.Each {
		w.Length += e / n
	}
	w.Spread = (slices.Max(w.Each) - slices.Min(w.Each)) / w.Length
	w.PerDegree = w.Length * w.Expansion.PerC
	if w.Aim > 0 {
		w.Lengthen = w.Aim - w.Length
	}
	return w
}

func (r *Result) warnTape(what string, w *TapeWork) {
	if len(w.Raw) < 2 {
		r.warn("at least two tapings (bulletin board, second-hand)", "%s was taped only once: a missed pull would go unseen", what)
	}
	if w.Spread > calibrationGoal {
		r.warn("UK lessons: the calibration course should be right within 0.02 %", "the tapings of %s spread over %.3f %% (%.3f m)", what, 100*w.Spread, w.Spread*w.Length)
	}
	if w.Celsius == nil && !w.temp.Applied {
		r.warn("", "%s: no tape temperature is given, so none is corrected for; ten degrees are worth %.3f m", what, math.Abs(10*w.PerDegree))
	}
}

// workTape works out a taped course.
func (r *Result) workTape(s *Sheet) {
	w := workTape(s.Tape)
	r.Tape = w
	r.warnTape("the course", w)
	for _, e := range w.Each {
		r.Rides = append(r.Rides, RideWork{Laps: 1, Length: e, Other: e, Unrounded: e, Pieces: []float64{}})
	}
	r.Spread = w.Spread
	r.Agree = len(w.Each) >= 2 && w.Spread <= r.Tolerance
	r.Counted = w.Length
	if r.Counting == Smaller {
		r.Counted = slices.Min(w.Each)
	}
	r.Other, r.Unrounded = r.Counted, r.Counted
	// The accuracy asked of a taped calibration course, 0.02 %, stands for what
	// tension, alignment and the reading of the temperature leave.
	r.Ground = interval.Normal(w.Length, w.Length*math.Hypot(calibrationGoal/interval.Z90, standardError(w.Each)))
	if r.Official == 0 {
		return
	}
	target := r.Official * r.Rules.Factor
	if step := float64(s.Course.LapStep); step > 0 {
		n := math.Floor(target/r.Counted/step+1e-12) * step
		r.Laps = &LapWork{Target: target, Lap: r.Counted, Laps: n, Remainder: target - n*r.Counted}
		return
	}
	if r.Rules.Purpose == Verify {
		r.finish()
		return
	}
	r.Adjust = &Adjustment{Metres: target - r.Counted, Ground: target - r.Counted, Other: target - r.Counted}
}
