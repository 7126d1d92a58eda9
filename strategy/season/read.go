package season

import (
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"tautline/geo/inputerr"
	"tautline/strategy/spelling"
	"tautline/strategy/tomlfile"
)

// The calendar file. Distances are written as people write them.
//
//	longest_run     distance. The longest run of the last 30 days.
//	weekly          distance. The usual distance run in a week.
//	begin           date of the build's first day; else 18 weeks before the goal.
//
// [goal]:
//
//	name            text.
//	date            date. Needed.
//	distance        distance. Needed.
//	course          file name of its course as GPX, in the folder of the
//	                calendar or below it.
//
// [[race]], once for each race that could be run: the same keys, and
//
//	entered         true or false (default false). It will be run in any case.
//
// [[past]], for races run already, marathons above all: name, date, distance.
//
// [rules]: keys and values of the rules, such as races_most = 2,
// longest = "25 km", longest_run_share = "10 %".
type (
	form struct {
		LongestRun any            `toml:"longest_run"`
		Weekly     any            `toml:"weekly"`
		Begin      any            `toml:"begin"`
		Goal       formRace       `toml:"goal"`
		Races      []formEntry    `toml:"race"`
		Past       []formPast     `toml:"past"`
		Rules      map[string]any `toml:"rules"`
	}
	formRace struct {
		Name     string `toml:"name"`
		Date     any    `toml:"date"`
		Distance any    `toml:"distance"`
		Course   string `toml:"course"`
	}
	formEntry struct {
		Name     string `toml:"name"`
		Date     any    `toml:"date"`
		Distance any    `toml:"distance"`
		Course   string `toml:"course"`
		Entered  bool   `toml:"entered"`
	}
	formPast struct {
		Name     string `toml:"name"`
		Date     any    `toml:"date"`
		Distance any    `toml:"distance"`
	}
)

// Open reads a calendar from disk.
func Open(path string) (*Calendar, error) {
	data, err := tomlfile.Open(path, "calendar")
	if err != nil {
		return nil, err
	}
	return Read(path, data)
}

// Read reads a calendar; name is what messages call it. Errors are
// *inputerr.Error with line and column.
func Read(name string, data []byte) (*Calendar, error) {
	var in form
	file, err := tomlfile.Read(name, data, &in)
	if err != nil {
		return nil, err
	}
	c := &tomlfile.Check{File: file}
	out := &Calendar{
		LongestRun: tomlfile.Value(c.Distance("longest_run", in.LongestRun, 0, 1e6)),
		Weekly:     tomlfile.Value(c.Distance("weekly", in.Weekly, 0, 1e6)),
		Begin:      c.Date("begin", in.Begin),
	}
	race := func(path, title string, day, distance any, course string) Race {
		r := Race{Name: title, Course: course, Climb: math.NaN()}
		if day == nil {
			c.Fail(path+".date", `"date" is missing`, "add date = 2027-05-09")
		}
		r.Date = c.Date(path+".date", day)
		r.Distance = tomlfile.Value(c.Needed(path+".distance", distance, 400, 200000))
		if course != "" && !filepath.IsLocal(filepath.FromSlash(course)) {
			c.Fail(path+".course", "the course lies outside the folder of the calendar", "put it beside the file and give its name only")
		}
		return r
	}
	out.Goal = race("goal", in.Goal.Name, in.Goal.Date, in.Goal.Distance, in.Goal.Course)
	if len(in.Races) > MaxRaces || len(in.Past) > MaxRaces {
		c.Fail("race", fmt.Sprintf("the calendar has more than %d races", MaxRaces), "leave out those that are out of the question")
	} else {
		for i, r := range in.Races {
			out.Races = append(out.Races, Candidate{race(fmt.Sprintf("race[%d]", i), r.Name, r.Date, r.Distance, r.Course), r.Entered})
		}
		for i, r := range in.Past {
			out.Past = append(out.Past, race(fmt.Sprintf("past[%d]", i), r.Name, r.Date, r.Distance, ""))
		}
	}
	var keys, known []string
	for k := range in.Rules {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, u := range usual {
		known = append(known, u.Key)
	}
	for _, k := range keys {
		at := "rules." + k
		if !slices.Contains(known, k) {
			advice := "the text output lists the rules"
			if near := spelling.Nearest(k, known); near != "" {
				advice = fmt.Sprintf("did you mean %q?", near)
			}
			c.Fail(at, fmt.Sprintf("there is no rule %q", k), advice)
			continue
		}
		var v *float64
		switch u := rule(k); u.Unit {
		case "m":
			v = c.Distance(at, in.Rules[k], u.Least, u.Most)
		case "share":
			v = c.Share(at, in.Rules[k], u.Least, u.Most)
		default:
			v = c.Number(at, in.Rules[k], u.Least, u.Most, u.Unit)
		}
		if v == nil {
			continue
		}
		set, err := out.Rules.With(k, *v)
		if err != nil {
			c.Fail(at, err.(*inputerr.Error).What, err.(*inputerr.Error).Advice)
		}
		out.Rules = set
	}
	if err := c.Err(); err != nil {
		return nil, err
	}
	if err := out.Check(); err != nil {
		var bad *inputerr.Error
		if errors.As(err, &bad) {
			return nil, file.Err("goal", bad.What, bad.Advice)
		}
		return nil, err
	}
	return out, nil
}
