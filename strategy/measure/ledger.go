package measure

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"tautline/strategy/quantity"
)

// Line is one step of the account.
type Line struct {
	Section string  `json:"section"`
	Label   string  `json:"label"`
	Value   float64 `json:"value"`
	Digits  int     `json:"digits"` // decimals to show
	Unit    string  `json:"unit"`
	How     string  `json:"how,omitempty"`    // the arithmetic, in the figures of the lines above
	Source  string  `json:"source,omitempty"` // the rule the step rests on
}

// Figure writes the value with its unit.
func (l Line) Figure() string {
	s := strconv.FormatFloat(l.Value, 'f', l.Digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	if l.Unit != "" {
		s += " " + l.Unit
	}
	return s
}

type ledger struct {
	lines   []Line
	section string
}

func (l *ledger) add(label string, v float64, digits int, unit, how, source string) {
	l.lines = append(l.lines, Line{l.section, label, v, digits, unit, how, source})
}

// perText names the length a constant is written for.
func (r *Result) perText() string {
	switch r.Per {
	case 1000:
		return r.Counter + "/km"
	case quantity.Mile:
		return r.Counter + "/mile"
	case 1:
		return r.Counter + "/m"
	}
	return fmt.Sprintf("%s per %s m", r.Counter, trim(r.Per))
}

// constDigits shows constants to about 1 part in 10^7, and no finer than the
// sheet rounds them.
func (r *Result) constDigits(k float64) int {
	d := 7 - int(math.Floor(math.Log10(math.Max(k, 1e-9)))) - 1
	if r.Rounding > 0 {
		d = int(math.Ceil(-math.Log10(r.Rounding) - 1e-9))
	}
	return max(0, min(d, 8))
}

// Ledger is the measurement step by step, so that a reader can follow every
// figure with a pocket calculator.
func (r *Result) Ledger() []Line {
	var l ledger
	rule := r.Rules.Body + ", " + r.Rules.Document + " (" + r.Rules.Edition + ")"
	if r.Tape != nil {
		l.section = "tape"
		r.tapeLines(&l, r.Tape)
		r.lapLines(&l, rule)
		r.endLines(&l, rule)
		return l.lines
	}
	l.section = "calibration course"
	if r.Calib != nil {
		r.tapeLines(&l, r.Calib)
	} else {
		l.add("calibration course", r.CalibM, 3, "m", "as given", "")
	}
	for i, d := range r.Sessions {
		l.section = "constant"
		if len(r.Sessions) > 1 || d.Name != "" {
			name := d.Name
			if name == "" {
				name = strconv.Itoa(i + 1)
			}
			l.section = "constant, " + name
		}
		r.constantLines(&l, d, rule)
	}
	for i, w := range r.Rides {
		l.section = fmt.Sprintf("ride %d", i+1)
		if w.Name != "" {
			l.section += ", " + w.Name
		}
		r.rideLines(&l, w)
	}
	r.endLines(&l, rule)
	return l.lines
}

func (r *Result) tapeLines(l *ledger, w *TapeWork) {
	for i, v := range w.Raw {
		l.add(fmt.Sprintf("taping %d as read", i+1), v, 4, "m", "", "")
	}
	if w.PerPull != 0 {
		l.add("correction for the pulls", w.PerPull, 4, "m", "pulls x correction of one pull", "end and tension correction: UK lessons (50 N; 5 to 10 mm of stretch)")
	}
	if w.TapeScale != 1 {
		l.add("the tape's own length", w.TapeScale, 6, "", "true length / printed length, at 20 C", "")
	}
	if w.Celsius != nil {
		l.add("tape temperature", *w.Celsius, 1, "C", fmt.Sprintf("%.1f F; of the tape itself: air and pavement can lie 15 C apart and change the sign", w.temp.Fahrenheit()), "measurers' bulletin board, second-hand")
		l.add("temperature factor", w.Factor, 7, "", w.Expansion.Formula+fmt.Sprintf("; the other coefficient gives %.7f", w.OtherFact), w.Expansion.Standard)
	}
	how := "mean of the corrected tapings"
	if w.Celsius != nil {
		how += "; a hot tape reads too little"
	}
	l.add("length", w.Length, 4, "m", how+fmt.Sprintf("; %.3f ft", w.Length/quantity.Foot), "")
	if len(w.Raw) > 1 {
		l.add("spread of the tapings", w.Spread*100, 4, "%", "", "")
	}
	l.add("worth of one degree", w.PerDegree*1000, 1, "mm per C", "", "")
	if w.Aim > 0 {
		word := "lengthen by"
		if w.Lengthen < 0 {
			word = "shorten by"
		}
		l.add(word, math.Abs(w.Lengthen), 4, "m", fmt.Sprintf("to reach %.4f m; %.3f ft", w.Aim, math.Abs(w.Lengthen)/quantity.Foot), "")
	}
}

func (r *Result) constantLines(l *ledger, d DayWork, rule string) {
	unit, digits := r.perText(), r.constDigits(d.Before.Constant*r.Per)
	side := func(name, word string, s SideWork) {
		what := fmt.Sprintf("mean of %d rides %s", len(s.Gains), name)
		if len(s.Gains) == 1 {
			what = "one ride " + name
		}
		l.add(what, s.Mean, 3, r.Counter, countsText(s.Gains), "")
		how := fmt.Sprintf("%.3f / %.3f m", s.Mean, r.CalibM)
		if r.Rules.Factor != 1 {
			how += " x " + trim(r.Rules.Factor)
		}
		if r.Rounding > 0 {
			how += fmt.Sprintf(", rounded from %.*f", digits+3, s.Exact*r.Per)
		}
		l.add(word, s.Constant*r.Per, digits, unit, how, "")
	}
	factor := "without the short-course factor"
	if r.Rules.Factor != 1 {
		factor = "multiplies the counts per kilometre, so it enters the course and every split"
	}
	l.add("short-course factor", r.Rules.Factor, 4, "", factor, rule)
	side("before", "working constant", d.Before)
	if d.After != nil {
		side("after", "finish constant", *d.After)
		l.add("change over the day", d.Change*100, 4, "%", changeText(d, r.Counter), "")
	}
	used := func(c Choice) string {
		if c == r.Rules.Constant {
			return "used"
		}
		return "for comparison"
	}
	l.add("larger of the two", d.Larger*r.Per, digits, unit, used(Larger)+"; gives the smaller length, the safer side",
		"larger: USATF procedures (older web edition), UK lessons; accepted by Run Canada")
	l.add("average of the two", d.Average*r.Per, digits, unit, used(Average),
		"average: Run Canada; USATF verification guidelines (c. 2013, Nov 2015) always; accepted by USATF procedures")
	l.add("constant for the day", d.Day*r.Per, digits, unit, string(r.Rules.Constant)+" of working and finish constant", rule)
}

func changeText(d DayWork, unit string) string {
	s := fmt.Sprintf("%+.2f %s/km", 1000*(d.After.Exact-d.Before.Exact), unit)
	if d.Before.Temp.Known && d.After.Temp.Known {
		s += fmt.Sprintf(" while the temperature went from %.1f to %.1f C", d.Before.Temp.Celsius, d.After.Temp.Celsius)
		if d.PerDeg != 0 {
			s += fmt.Sprintf(", %+.2f counts/km per C (a tyre: -1.56 to -1.98)", d.PerDeg)
		}
	}
	return s
}

// countsText lists counts, shortened after eight.
func countsText(v []float64) string {
	var words []string
	for i, x := range v {
		if i == 8 {
			words = append(words, fmt.Sprintf("and %d more", len(v)-8))
			break
		}
		words = append(words, trim(math.Round(x*1e6)/1e6))
	}
	return strings.Join(words, ", ")
}

func (r *Result) rideLines(l *ledger, w RideWork) {
	how := ""
	if len(w.Pieces) > 1 {
		how = "sum of the pieces " + countsText(w.Pieces)
	}
	if w.Rounds > 0 {
		if how != "" {
			how += "; "
		}
		how += fmt.Sprintf("the counter went round %d %s", w.Rounds, plural(w.Rounds, "time", "times"))
	}
	l.add("counts", w.Counts, 2, r.Counter, how, "")
	k := w.Counts / w.Length * float64(w.Laps) // the constant used
	if w.Laps > 1 {
		l.add("what was ridden", w.Length/float64(w.Laps), 2, "m", "counts / constant for the day", "")
		l.add("length", w.Length, 2, "m", fmt.Sprintf("%d laps", w.Laps), "")
	} else {
		l.add("length", w.Length, 2, "m", fmt.Sprintf("%s / %.*f x %s m", trim(w.Counts), r.constDigits(k*r.Per), k*r.Per, trim(r.Per)), "")
	}
	other := Average
	if r.Rules.Constant == Average {
		other = Larger
	}
	l.add("length by the other choice", w.Other, 2, "m", "with the "+string(other)+" constant", "")
	if r.Rounding > 0 {
		l.add("length with unrounded constant", w.Unrounded, 2, "m",
			fmt.Sprintf("rounding the constant to %s %s moves the length by %+.2f m", trim(r.Rounding), r.perText(), w.Length-w.Unrounded), "UK lesson 3: round only the final value")
	}
}

func (r *Result) lapLines(l *ledger, rule string) {
	if r.Laps == nil {
		return
	}
	how := "the official distance"
	if r.Rules.Factor != 1 {
		how += " x " + trim(r.Rules.Factor)
	}
	l.add("distance to lay out", r.Laps.Target, 2, "m", how, rule)
	l.add("laps", r.Laps.Laps, 1, "", fmt.Sprintf("of %.3f m", r.Laps.Lap), "")
	l.add("and", r.Laps.Remainder, 2, "m", "what the laps leave", "")
}

func (r *Result) endLines(l *ledger, rule string) {
	l.section = "outcome"
	if r.Counted == 0 {
		return
	}
	if len(r.Rides) > 1 && r.Tape == nil {
		l.add("difference between the rides", r.Spread*100, 4, "%", fmt.Sprintf("allowed %.4g %%", 100*r.Tolerance),
			"0.08 %: RRTC renewal page (undated); bulletin board (Newman), second-hand")
	}
	which := "the smaller length"
	if r.Counting == Mean {
		which = "the mean"
	}
	if len(r.Rides) > 2 && r.Counting == Smaller {
		which = "the smallest length"
	}
	source := "bulletin board (Newman), second-hand"
	if r.Tape != nil {
		which, source = which+" of the tapings", ""
	}
	if len(r.Rides) == 1 {
		which, source = "the only one", ""
	}
	if r.Laps == nil {
		l.add("length that counts", r.Counted, 2, "m", which, source)
	}
	if r.Tape == nil && r.Rules.Factor != 1 {
		l.add("on the ground, about", r.Ground.Value, 1, "m", fmt.Sprintf("without the factor, by the average constant; 90 %% between %.1f and %.1f m", r.Ground.Low, r.Ground.High),
			"spread of a group of calibrated bicycles 0.03 % (Sandford, 2008)")
	}
	if a := r.Adjust; a != nil {
		word := "add"
		if a.Metres < 0 {
			word = "remove"
		}
		target := "the official distance"
		if r.Tape != nil && r.Rules.Factor != 1 {
			target += " x " + trim(r.Rules.Factor)
		}
		how := target + " less the length that counts"
		if r.Tape == nil {
			how += fmt.Sprintf("; by the other choice of constant %+.2f m", a.Other)
		}
		if r.Rounding > 0 {
			how += fmt.Sprintf("; with constants that are not rounded %+.2f m", r.Official-r.Unrounded)
		}
		l.add(word, math.Abs(a.Metres), 2, "m", how, rule)
		if a.Counts != 0 {
			l.add(word+", in "+r.Counter, math.Abs(a.Counts), 2, r.Counter, "with the same bicycle, by the constant for the day", "")
		}
		if r.Tape == nil && r.Rules.Factor != 1 {
			l.add(word+", if laid with a tape", math.Abs(a.Ground), 2, "m", "the bicycle's constant holds the factor, a tape does not", "the factor is for bicycles only (second-hand)")
		}
	}
	if v := r.Verdict; v != nil {
		l.add("official distance", v.Official, 2, "m", "", "")
		l.add("least that passes", v.Least, 2, "m", fmt.Sprintf("allowance %.4g %%", 100*r.Rules.Allowance), rule)
		l.add("margin over the official distance", v.Margin, 2, "m", string(v.Outcome), rule)
		l.add("a course laid out with the factor", v.LaidOutTo, 2, "m", "what a faultless one would show", "USATF verification guidelines: 10 010 m for 10 km")
	}
}
