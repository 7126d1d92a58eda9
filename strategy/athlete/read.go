package athlete

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"time"

	"tautline/strategy/quantity"
	"tautline/strategy/tomlfile"
)

// Limits of an athlete file.
const (
	MaxRaces    = 500 // races and workouts, of each
	shortest    = 30 * time.Second
	longest     = 100 * time.Hour
	mostLaps    = 200
	maxDistance = 1e6 // m, of a race, a run or a week
)

type (
	form struct {
		Name       string        `toml:"name"`
		Goal       any           `toml:"goal"`
		LongestRun any           `toml:"longest_run"`
		Weekly     any           `toml:"weekly"`
		Returning  any           `toml:"returning"`
		Races      []formRace    `toml:"race"`
		Workouts   []formWorkout `toml:"workout"`
		Settings   formSettings  `toml:"settings"`
	}
	formRace struct {
		Date        any    `toml:"date"`
		Name        string `toml:"name"`
		Distance    any    `toml:"distance"`
		Time        any    `toml:"time"`
		Timing      string `toml:"timing"`
		GunDelay    any    `toml:"gun_delay"`
		Length      any    `toml:"length"`
		Course      string `toml:"course"`
		Laps        any    `toml:"laps"`
		Effort      string `toml:"effort"`
		Temperature any    `toml:"temperature"`
	}
	formWorkout struct {
		Date     any `toml:"date"`
		Repeats  any `toml:"repeats"`
		Distance any `toml:"distance"`
		Pace     any `toml:"pace"`
		Time     any `toml:"time"`
		Rest     any `toml:"rest"`
		Slowest  any `toml:"slowest"`
		Each     any `toml:"each"`
	}
	formSettings struct {
		Units          string `toml:"units"`
		DownhillCredit any    `toml:"downhill_credit"`
		DownhillLimit  any    `toml:"downhill_limit"`
		EffortFlex     any    `toml:"effort_flex"`
		WatchReadsLong any    `toml:"watch_reads_long"`
		UsualExtra     any    `toml:"usual_extra"`
	}
)

// Open reads an athlete file from disk.
func Open(path string) (*Athlete, error) {
	data, err := tomlfile.Open(path, "athlete file")
	if err != nil {
		return nil, err
	}
	a, err := Read(path, data)
	if err != nil {
		return nil, err
	}
	a.dir = filepath.Dir(path)
	return a, nil
}

// Read reads an athlete file. name is what messages call it. Errors are
// *inputerr.Error with line and column.
func Read(name string, data []byte) (*Athlete, error) {
	var in form
	file, err := tomlfile.Read(name, data, &in)
	if err != nil {
		return nil, err
	}
	return in.check(file)
}

// check turns the texts and numbers of a form into quantities.
func (in *form) check(file *tomlfile.File) (*Athlete, error) {
	c := &tomlfile.Check{File: file}
	a := &Athlete{Name: strings.TrimSpace(in.Name), file: file}
	if a.Name == "" {
		c.Fail("name", "the athlete has no name", `add name = "…"`)
	}
	a.Goal = c.Duration("goal", in.Goal, shortest, longest)
	a.LongestRun = tomlfile.Value(c.Distance("longest_run", in.LongestRun, 0, maxDistance))
	a.Weekly = tomlfile.Value(c.Distance("weekly", in.Weekly, 0, maxDistance))
	a.Returning = truth(c, "returning", in.Returning)
	if len(in.Races) > MaxRaces || len(in.Workouts) > MaxRaces {
		c.Fail("race", fmt.Sprintf("the file has more than %d races or workouts", MaxRaces), "the last two years are enough")
		return nil, c.Err()
	}
	for i, r := range in.Races {
		at := func(key string) string { return fmt.Sprintf("race[%d].%s", i, key) }
		x := Race{Date: c.Date(at("date"), r.Date), Name: r.Name, Course: r.Course}
		x.Distance = tomlfile.Value(c.Needed(at("distance"), r.Distance, 100, maxDistance))
		x.Time = needed(c, at("time"), r.Time)
		x.Gun = c.OneOf(at("timing"), r.Timing, "chip", "gun") == "gun"
		if r.GunDelay != nil {
			if d := c.Duration(at("gun_delay"), r.GunDelay, 0, 2*time.Hour); x.Gun && d < x.Time {
				x.GunDelay = &d
			} else {
				c.Fail(at("gun_delay"), fmt.Sprintf("gun_delay of race %d has no use", i+1), `it belongs to a time by the gun that is longer: add timing = "gun"`)
			}
		}
		x.Length = tomlfile.Value(c.Distance(at("length"), r.Length, 100, maxDistance))
		if n := c.Number(at("laps"), r.Laps, 1, mostLaps, ""); n != nil {
			switch {
			case *n != math.Trunc(*n):
				c.Fail(at("laps"), "laps is not a whole number", "")
			case r.Course == "":
				c.Fail(at("laps"), fmt.Sprintf("race %d has laps but no course", i+1), `add course = "lap.gpx", or leave laps out`)
			}
			x.Laps = int(*n)
		}
		x.Effort = Effort(c.OneOf(at("effort"), r.Effort, string(AllOut), string(Hard), string(Steady), string(Easy)))
		x.Temperature = c.Temperature(at("temperature"), r.Temperature, -60, 60)
		if r.Course != "" && !filepath.IsLocal(filepath.FromSlash(r.Course)) {
			c.Fail(at("course"), fmt.Sprintf("the course of race %d lies outside the folder of the athlete file", i+1), "put it beside the file and give its name only")
		}
		believable(c, at("time"), fmt.Sprintf("race %d", i+1), x.Distance, x.Time)
		a.Races = append(a.Races, x)
	}
	for i, w := range in.Workouts {
		at := func(key string) string { return fmt.Sprintf("workout[%d].%s", i, key) }
		x := Workout{Date: c.Date(at("date"), w.Date), Repeats: 1}
		if n := c.Number(at("repeats"), w.Repeats, 1, 100, ""); n != nil {
			if *n != math.Trunc(*n) {
				c.Fail(at("repeats"), "repeats is not a whole number", "")
			}
			x.Repeats = int(*n)
		}
		x.Distance = tomlfile.Value(c.Needed(at("distance"), w.Distance, 50, maxDistance))
		switch {
		case w.Each != nil && (w.Pace != nil || w.Time != nil || w.Repeats != nil || w.Slowest != nil):
			c.Fail(at("each"), fmt.Sprintf("workout %d gives every repeat and a mean", i+1), "leave out pace, time, repeats and slowest")
		case w.Each != nil:
			x.Each = times(c, at("each"), w.Each)
			x.Repeats = max(1, len(x.Each))
			for _, t := range x.Each {
				x.Time += t
				x.Slowest = max(x.Slowest, t)
			}
			x.Time /= time.Duration(x.Repeats)
		case w.Pace != nil && w.Time != nil:
			c.Fail(at("pace"), fmt.Sprintf("workout %d gives pace and time", i+1), "give one of them")
		case w.Pace != nil:
			x.Time = time.Duration(math.Round(c.Pace(at("pace"), w.Pace) * x.Distance * float64(time.Second)))
		default:
			x.Time = needed(c, at("time"), w.Time)
		}
		x.Rest = c.Duration(at("rest"), w.Rest, 0, time.Hour)
		if w.Slowest != nil {
			x.Slowest = c.Duration(at("slowest"), w.Slowest, 0, longest)
		}
		if x.Slowest > 0 && x.Time > 0 && x.Slowest < x.Time {
			c.Fail(at("slowest"), fmt.Sprintf("the slowest repeat of workout %d is faster than their mean", i+1), "")
		}
		believable(c, at("time"), fmt.Sprintf("workout %d", i+1), x.Distance, x.Time)
		a.Workouts = append(a.Workouts, x)
	}
	s := in.Settings
	if s.Units != "" {
		u, err := quantity.ParseUnits(s.Units)
		if err != nil {
			c.Fail("settings.units", fmt.Sprintf("units is %q", s.Units), `it may be "km" or "mi"`)
		}
		a.Settings.Units = &u
	}
	a.Settings.DownhillCredit = c.Share("settings.downhill_credit", s.DownhillCredit, 0, 1)
	a.Settings.DownhillLimit = c.Share("settings.downhill_limit", s.DownhillLimit, 0, 0.5)
	a.Settings.EffortFlex = c.Share("settings.effort_flex", s.EffortFlex, 0, 0.1)
	a.Settings.WatchReadsLong = c.Share("settings.watch_reads_long", s.WatchReadsLong, -0.1, 0.1)
	a.Settings.UsualExtra = c.Share("settings.usual_extra", s.UsualExtra, 0, 0.1)
	if err := c.Err(); err != nil {
		return nil, err
	}
	return a, nil
}

func needed(c *tomlfile.Check, path string, v any) time.Duration {
	if v == nil {
		c.Fail(path, `"time" is missing`, `add time = "45:10"`)
		return 0
	}
	return c.Duration(path, v, 0, longest)
}

// times reads a list of 2 to 100 times, or a text with spaces between them.
func times(c *tomlfile.Check, path string, v any) []time.Duration {
	list, ok := v.([]any)
	if s, text := v.(string); text {
		for f := range strings.FieldsSeq(s) {
			list = append(list, f)
		}
		ok = true
	}
	if !ok || len(list) < 2 || len(list) > 100 {
		c.Fail(path, "each should be a list of 2 to 100 times", `write each = ["5:01", "4:59", "5:00"]`)
		return nil
	}
	out := make([]time.Duration, len(list))
	for i, t := range list {
		out[i] = c.Duration(path, t, time.Second, longest)
	}
	return out
}

// truth reads true or false, in a table also as a text.
func truth(c *tomlfile.Check, path string, v any) bool {
	switch v {
	case nil, false, "false", "no":
		return false
	case true, "true", "yes":
		return true
	}
	c.Fail(path, "returning should be true or false", "")
	return false
}

// believable refuses a pace that nobody runs: it is a slip of the keys, such
// as hours for minutes.
func believable(c *tomlfile.Check, path, what string, distance float64, t time.Duration) {
	if distance <= 0 || t <= 0 {
		return
	}
	// 2:00/km is faster than any race is run, 30:00/km slower than a walk.
	if p := t.Seconds() / distance * quantity.Kilometre; p < 60 || p > 1800 || p < 120 && distance >= 800 {
		c.Fail(path, fmt.Sprintf("%s comes out at %s", what, quantity.Pace(p/quantity.Kilometre, quantity.Metric)), "check its distance and time")
	}
}
