// Package season picks the tune-up races before a goal race, and how hard to
// run each. Most of what it goes by is common practice of coaches, some is
// published evidence; every rule is named, can be set, and says which it is.
//
// Plan weighs every choice of races and efforts that the rules leave open and
// gives the best by a stated score. Dates are days without a time of day, at
// midnight UTC, so time zones do not matter. Distances are metres.
//
// All functions are safe for concurrent use; none changes its arguments.
package season

import (
	"fmt"
	"slices"
)

// Rule is one thing to go by.
type Rule struct {
	Key      string
	Name     string
	Value    float64
	Usual    float64
	Unit     string // "races", "weeks", "months", "days a mile", "m", "share"
	Least    float64
	Most     float64
	Practice bool   // common practice, not science
	Source   string // "common practice", or the evidence
	Habits   string // the stricter or looser habits beside it; may be ""
}

// Keys of the rules.
const (
	RacesLeast      = "races_least"
	RacesMost       = "races_most"
	Shortest        = "shortest"
	Longest         = "longest"
	HalfFrom        = "half_weeks_least"
	HalfTo          = "half_weeks_most"
	LastRace        = "last_race_weeks"
	LastRaceBetter  = "last_race_better_weeks"
	ShortClose      = "short_close_weeks"
	ShortEarly      = "short_early_weeks"
	ShortSpacing    = "short_spacing_weeks"
	ShortBetter     = "short_spacing_better_weeks"
	ShortOften      = "short_often"
	ShortOftenIn    = "short_often_weeks"
	HalfSpacing     = "half_spacing_weeks"
	MarathonMonths  = "marathon_months"
	MarathonBetter  = "marathon_better_months"
	FiveBeforeFrom  = "five_before_ten_weeks_least"
	FiveBeforeTo    = "five_before_ten_weeks_most"
	Build           = "build_weeks"
	EasyDays        = "easy_days"
	LongestRunShare = "longest_run_share"
	Taper           = "taper_weeks"
	TaperMarathon   = "taper_marathon_weeks"
	TaperCutLeast   = "taper_cut_least"
	TaperCutMost    = "taper_cut_most"
)

const practice = "common practice"

// usual lists the rules with their usual values.
var usual = []Rule{
	{Key: RacesLeast, Name: "at least so many tune-up races", Usual: 1, Unit: "races", Most: 6, Practice: true, Source: practice},
	{Key: RacesMost, Name: "at most so many tune-up races", Usual: 3, Unit: "races", Most: 6, Practice: true, Source: practice},
	{Key: Shortest, Name: "tune-ups before a marathon mostly from", Usual: 10000, Unit: "m", Least: 1000, Most: 42195, Practice: true, Source: practice},
	{Key: Longest, Name: "and up to (15.5 miles), mostly up to a half marathon", Usual: 25000, Unit: "m", Least: 1000, Most: 42195, Practice: true, Source: practice},
	{Key: HalfFrom, Name: "a half marathon before a marathon, at least so long before", Usual: 4, Unit: "weeks", Most: 20, Practice: true, Source: practice, Habits: "looser: 3 to 5 weeks"},
	{Key: HalfTo, Name: "and at most", Usual: 6, Unit: "weeks", Most: 20, Practice: true, Source: practice},
	{Key: LastRace, Name: "last race before the goal, at least", Usual: 2, Unit: "weeks", Most: 10, Practice: true, Source: practice, Habits: "looser: a 5 or 10 km 10 to 14 days before a marathon, a 5 km 7 to 10 days before a 10 km"},
	{Key: LastRaceBetter, Name: "and better", Usual: 3, Unit: "weeks", Most: 10, Practice: true, Source: practice},
	{Key: ShortClose, Name: "10 km and shorter not all out so close to a longer goal", Usual: 3, Unit: "weeks", Most: 10, Practice: true, Source: practice + "; the number is our own"},
	{Key: ShortEarly, Name: "10 km and shorter not all out in the first part of the build", Usual: 6, Unit: "weeks", Most: 20, Practice: true, Source: practice + "; the number is our own", Habits: "a 5 km every other week from the second week of 16 to 20 peaks too early"},
	{Key: ShortSpacing, Name: "after 10 km and shorter the next race, at least", Usual: 1, Unit: "weeks", Most: 10, Practice: true, Source: practice, Habits: "looser: a 5 km every week, a 10 km every other weekend (Stanton, as quoted)"},
	{Key: ShortBetter, Name: "and better", Usual: 3, Unit: "weeks", Most: 10, Practice: true, Source: practice},
	{Key: ShortOften, Name: "races of 10 km and shorter all out, at most", Usual: 2, Unit: "races", Least: 1, Most: 20, Practice: true, Source: practice + "; the number is our own"},
	{Key: ShortOftenIn, Name: "within", Usual: 6, Unit: "weeks", Least: 1, Most: 30, Practice: true, Source: practice + "; the number is our own"},
	{Key: HalfSpacing, Name: "after a longer race the next, at least", Usual: 2, Unit: "weeks", Most: 20, Practice: true, Source: practice, Habits: "a half every 2 to 3 weeks (Stanton, as quoted)"},
	{Key: MarathonMonths, Name: "between two marathons, at least", Usual: 5, Unit: "months", Most: 24, Practice: true, Source: practice, Habits: "looser: every 1 to 2 months (Stanton, as quoted); also: at most two all out a year"},
	{Key: MarathonBetter, Name: "and better", Usual: 6, Unit: "months", Most: 24, Practice: true, Source: practice},
	{Key: FiveBeforeFrom, Name: "a 5 km before a goal of 10 km, at least so long before", Usual: 2, Unit: "weeks", Most: 10, Practice: true, Source: practice},
	{Key: FiveBeforeTo, Name: "and at most", Usual: 3, Unit: "weeks", Most: 10, Practice: true, Source: practice},
	{Key: Build, Name: "the build before the goal takes", Usual: 18, Unit: "weeks", Least: 4, Most: 52, Practice: true, Source: practice + ", 16 to 20 weeks"},
	{Key: EasyDays, Name: "easy days after a race run all out, for each mile", Usual: 1, Unit: "days a mile", Most: 3, Practice: true, Source: practice + "; no trial fixes it. After a marathon soreness lasts about 3 days and aerobic measures are back by day 7 (11 recreational runners, PMC5613699, 2017)", Habits: "stricter: one for each kilometre (Stanton, as quoted)"},
	{Key: LongestRunShare, Name: "a race longer than the longest run of 30 days by more than", Usual: 0.10, Unit: "share", Most: 2, Source: "Frandsen et al. 2025, Br J Sports Med 59:1203-1210: hazard of injury 1.64 (1.31 to 2.05) for 10 to 30 % longer"},
	{Key: Taper, Name: "the taper takes", Usual: 2, Unit: "weeks", Most: 6, Source: "Bosquet et al. 2007, Med Sci Sports Exerc 39:1358-1365: 2 weeks"},
	{Key: TaperMarathon, Name: "before a marathon", Usual: 3, Unit: "weeks", Most: 6, Source: "Smyth and Lawlor 2021, Front Sports Act Living 3:735220 (observed, not tried): strict 3 weeks"},
	{Key: TaperCutLeast, Name: "it cuts the distance by, at least", Usual: 0.41, Unit: "share", Most: 0.9, Source: "Bosquet et al. 2007: 41 to 60 %, intensity and frequency unchanged"},
	{Key: TaperCutMost, Name: "and at most", Usual: 0.60, Unit: "share", Most: 0.9, Source: "Bosquet et al. 2007"},
}

// Rules are the rules with the values that hold. The zero Rules holds the usual
// ones.
type Rules struct {
	set map[string]float64
}

// All lists the rules.
func (r Rules) All() []Rule {
	out := slices.Clone(usual)
	for i := range out {
		out[i].Value = r.Get(out[i].Key)
	}
	return out
}

// Get is the value of a rule; it panics on a key that is none.
func (r Rules) Get(key string) float64 {
	if v, ok := r.set[key]; ok {
		return v
	}
	return rule(key).Usual
}

func rule(key string) Rule {
	i := slices.IndexFunc(usual, func(x Rule) bool { return x.Key == key })
	if i < 0 {
		panic("season: no rule " + key)
	}
	return usual[i]
}

// With gives the rules with one set anew. Errors are *inputerr.Error.
func (r Rules) With(key string, v float64) (Rules, error) {
	i := slices.IndexFunc(usual, func(x Rule) bool { return x.Key == key })
	if i < 0 {
		return r, bad("see the list of rules", "there is no rule %q", key)
	}
	if u := usual[i]; !(v >= u.Least && v <= u.Most) || u.Unit == "races" && v != float64(int(v)) {
		return r, bad(fmt.Sprintf("it should be %g to %g %s", u.Least, u.Most, u.Unit), "the rule %s is %g", key, v)
	}
	out := Rules{set: map[string]float64{key: v}}
	for k, old := range r.set {
		if k != key {
			out.set[k] = old
		}
	}
	return out, nil
}

// check holds pairs of rules together.
func (r Rules) check() error {
	for _, p := range [][2]string{{RacesLeast, RacesMost}, {Shortest, Longest}, {HalfFrom, HalfTo}, {LastRace, LastRaceBetter}, {ShortSpacing, ShortBetter},
		{MarathonMonths, MarathonBetter}, {FiveBeforeFrom, FiveBeforeTo}, {TaperCutLeast, TaperCutMost}} {
		if r.Get(p[0]) > r.Get(p[1]) {
			return bad("raise the one or lower the other", "the rule %s is %g but %s is %g", p[0], r.Get(p[0]), p[1], r.Get(p[1]))
		}
	}
	return nil
}
