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
		c.Fail("name", "the athlete has no name", "add "+c.File.Entry("name", `"…"`))
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
		a.Races = append(a.Races, r.check(c, i))
	}
	for i, w := range in.Workouts {
		a.Workouts = append(a.Workouts, w.check(c, i))
	}
	a.Settings = in.Settings.check(c)
	if err := c.Err(); err != nil {
		return nil, err
	}
	return a, nil
}

func (in formRace) check(c *tomlfile.Check, i int) Race {
	at := func(key string) string { return fmt.Sprintf("race[%d].%s", i, key) }
	x := Race{Date: c.Date(at("date"), in.Date), Name: in.Name, Course: in.Course}
	x.Distance = tomlfile.Value(c.Needed(at("distance"), in.Distance, 100, maxDistance))
	x.Time = needed(c, at("time"), in.Time)
	x.Gun = c.OneOf(at("timing"), in.Timing, "chip", "gun") == "gun"
	if in.GunDelay != nil {
		if d := c.Duration(at("gun_delay"), in.GunDelay, 0, 2*time.Hour); x.Gun && d < x.Time {
			x.GunDelay = &d
		} else {
			c.Fail(at("gun_delay"), fmt.Sprintf("gun_delay of race %d has no use", i+1), "it belongs to a time by the gun that is longer: add "+c.File.Entry(at("timing"), `"gun"`))
		}
	}
	x.Length = tomlfile.Value(c.Distance(at("length"), in.Length, 100, maxDistance))
	x.Laps = c.Whole(at("laps"), in.Laps, 1, mostLaps)
	if x.Laps > 0 && in.Course == "" {
		c.Fail(at("laps"), fmt.Sprintf("race %d has laps but no course", i+1), "add "+c.File.Entry(at("course"), `"lap.gpx"`)+", or leave laps out")
	}
	x.Effort = Effort(c.OneOf(at("effort"), in.Effort, string(AllOut), string(Hard), string(Steady), string(Easy)))
	x.Temperature = c.Temperature(at("temperature"), in.Temperature, -60, 60)
	if in.Course != "" && !filepath.IsLocal(filepath.FromSlash(in.Course)) {
		c.Fail(at("course"), fmt.Sprintf("the course of race %d lies outside the folder of the athlete file", i+1), "put it beside the file and give its name only")
	}
	believable(c, at("time"), fmt.Sprintf("race %d", i+1), x.Distance, x.Time)
	return x
}

func (in formWorkout) check(c *tomlfile.Check, i int) Workout {
	at := func(key string) string { return fmt.Sprintf("workout[%d].%s", i, key) }
	x := Workout{Date: c.Date(at("date"), in.Date), Repeats: max(1, c.Whole(at("repeats"), in.Repeats, 1, 100))}
	x.Distance = tomlfile.Value(c.Needed(at("distance"), in.Distance, 50, maxDistance))
	from := "time" // the key that the time of a repeat comes from
	switch {
	case in.Each != nil && (in.Pace != nil || in.Time != nil || in.Repeats != nil || in.Slowest != nil):
		c.Fail(at("each"), fmt.Sprintf("workout %d gives every repeat and a mean", i+1), "leave out pace, time, repeats and slowest")
	case in.Each != nil:
		from = "each"
		x.Each = times(c, at("each"), in.Each)
		x.Repeats = max(1, len(x.Each))
		for _, t := range x.Each {
			x.Time += t
			x.Slowest = max(x.Slowest, t)
		}
		x.Time /= time.Duration(x.Repeats)
	case in.Pace != nil && in.Time != nil:
		c.Fail(at("pace"), fmt.Sprintf("workout %d gives pace and time", i+1), "give one of them")
	case in.Pace != nil:
		from = "pace"
		x.Time = time.Duration(math.Round(c.Pace(at("pace"), in.Pace) * x.Distance * float64(time.Second)))
	default:
		x.Time = needed(c, at("time"), in.Time)
	}
	x.Rest = c.Duration(at("rest"), in.Rest, 0, time.Hour)
	if in.Slowest != nil {
		x.Slowest = c.Duration(at("slowest"), in.Slowest, 0, longest)
	}
	if x.Slowest > 0 && x.Time > 0 && x.Slowest < x.Time {
		c.Fail(at("slowest"), fmt.Sprintf("the slowest repeat of workout %d is faster than their mean", i+1), "check which of the two is meant")
	}
	believable(c, at(from), fmt.Sprintf("workout %d", i+1), x.Distance, x.Time)
	return x
}

func (in formSettings) check(c *tomlfile.Check) Settings {
	var s Settings
	if in.Units != "" {
		u, err := quantity.ParseUnits(in.Units)
		if err != nil {
			c.Fail("settings.units", fmt.Sprintf("units is %q", in.Units), `it may be "km" or "mi"`)
		}
		s.Units = &u
	}
	s.DownhillCredit = c.Share("settings.downhill_credit", in.DownhillCredit, 0, 1)
	s.DownhillLimit = c.Share("settings.downhill_limit", in.DownhillLimit, 0, 0.5)
	s.EffortFlex = c.Share("settings.effort_flex", in.EffortFlex, 0, 0.1)
	s.WatchReadsLong = c.Share("settings.watch_reads_long", in.WatchReadsLong, -0.1, 0.1)
	s.UsualExtra = c.Share("settings.usual_extra", in.UsualExtra, 0, 0.1)
	return s
}

func needed(c *tomlfile.Check, path string, v any) time.Duration {
	if v == nil {
		c.Fail(path, fmt.Sprintf("%q is missing", c.File.Key(path)), "add "+c.File.Entry(path, `"45:10"`))
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
		c.Fail(path, c.File.Key(path)+" should be a list of 2 to 100 times", "write "+c.File.Entry(path, `["5:01", "4:59", "5:00"]`))
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
	c.Fail(path, "returning should be true or false", "write true, or leave it out")
	return false
}

// believable refuses a pace that nobody runs: it is a slip of the keys, such
// as hours for minutes.
func believable(c *tomlfile.Check, path, what string, distance float64, t time.Duration) {
	if distance <= 0 || t <= 0 {
		return
	}
	// From 800 m on nobody runs 2:00/km, over less nobody 1:00/km; 30:00/km is
	// slower than a walk.
	if p := t.Seconds() / distance * quantity.Kilometre; p < 60 || p > 1800 || p < 120 && distance >= 800 {
		c.Fail(path, fmt.Sprintf("%s comes out at %s: %s in %s", what, quantity.Pace(p/quantity.Kilometre, quantity.Metric), quantity.Distance(distance, quantity.Metric), quantity.Clock(t.Seconds())), "check its distance and time")
	}
}
