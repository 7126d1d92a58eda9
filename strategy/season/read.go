package season

import (
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"

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
		Goal:       readRace(c, "goal", in.Goal),
		Rules:      readRules(c, in.Rules),
	}
	if len(in.Races) > MaxRaces || len(in.Past) > MaxRaces {
		c.Fail("race", fmt.Sprintf("the calendar has more than %d races", MaxRaces), "leave out those that are out of the question")
	} else {
		for i, r := range in.Races {
			at := fmt.Sprintf("race[%d]", i)
			out.Races = append(out.Races, Candidate{readRace(c, at, formRace{r.Name, r.Date, r.Distance, r.Course}), r.Entered})
		}
		for i, r := range in.Past {
			at := fmt.Sprintf("past[%d]", i)
			out.Past = append(out.Past, readRace(c, at, formRace{Name: r.Name, Date: r.Date, Distance: r.Distance}))
		}
	}
	if err := c.Err(); err != nil {
		return nil, err
	}
	// What can be wrong with values that are good by themselves.
	c.Refuse("begin", out.checkBegin())
	c.Refuse("rules", out.Rules.check())
	if err := c.Err(); err != nil {
		return nil, err
	}
	return out, nil
}

func readRace(c *tomlfile.Check, path string, in formRace) Race {
	if in.Date == nil {
		c.Fail(path+".date", `"date" is missing`, "add date = 2027-05-09")
	}
	if in.Course != "" && !filepath.IsLocal(filepath.FromSlash(in.Course)) {
		c.Fail(path+".course", "the course lies outside the folder of the calendar", "put it beside the file and give its name only")
	}
	return Race{
		Name: in.Name, Course: in.Course, Climb: math.NaN(),
		Date:     c.Date(path+".date", in.Date),
		Distance: tomlfile.Value(c.Needed(path+".distance", in.Distance, leastRace, mostRace)),
	}
}

// readRules sets the rules that the file gives.
func readRules(c *tomlfile.Check, in map[string]any) (out Rules) {
	var known []string
	for _, u := range usual {
		known = append(known, u.Key)
	}
	for _, k := range slices.Sorted(maps.Keys(in)) {
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
			v = c.Distance(at, in[k], u.Least, u.Most)
		case "share":
			v = c.Share(at, in[k], u.Least, u.Most)
		default:
			v = c.Number(at, in[k], u.Least, u.Most, u.Unit)
		}
		if v == nil {
			continue
		}
		set, err := out.With(k, *v)
		c.Refuse(at, err)
		out = set
	}
	return out
}
