package main

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tautline/geo/gpxfile"
	"tautline/geo/inputerr"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/sheet"
)

func planCommand() *command {
	return &command{
		name: "plan", operands: "COURSE", for_: forCoaches,
		summary: "target splits at even effort, for one athlete or a squad, and a pace band to print",
		about: "COURSE is a GPX file with the drawn course, with elevation if hills should count. The goal is chip time with stops inside. " +
			"Even effort means that every pace, uphill and downhill, is worth the same pace on the level: slower up, somewhat faster down. " +
			"Marks are the official ones; the athlete's own distance, the shortest legal line and a little more, lies between them.\n\n" +
			"Instead of a goal, --effort gives the pace on the level, --recent a race that was run, and an athlete file or a squad table can hold either.",
		run: runPlan,
	}
}

type planOptions struct {
	race raceFlags
	show showFlags

	goal, effort, recent quantityFlag
	recentCourse         string
	recentDistance       quantityFlag
	every                string
	name                 string
	athlete, squad       string
	terrain              string
	review               string

	up, down                  string
	credit, limit, flex       quantityFlag
	extra, watchLong          quantityFlag
	gunDelay, crowd, crowdFor quantityFlag
	firstHalf                 string
	climbHold                 quantityFlag
	critical                  quantityFlag
	stops                     []string

	weather weatherFlags

	band, paper, csv, gpx, overview, page string

	firstHalfSeconds, firstHalfShare float64
	planStops                        []plan.Stop
	step, unit                       float64 // m between marks and m in their unit; 0: at points
	unitName                         string
	upCost, downCost                 effort.Cost
}

func (o *planOptions) define(set *pflag.FlagSet) {
	flag := func(f *quantityFlag, parse func(string) (float64, error), name, usage string) {
		f.parse = parse
		set.Var(f, name, usage)
	}
	flag(&o.goal, notPace(quantity.ParseClock, "effort"), "goal", "`TIME` to aim for, by the chip, stops included: \"3:30:00\"")
	flag(&o.effort, perKm, "effort", "`PACE` on the level at even effort, instead of a goal: \"4:50/km\"")
	flag(&o.recent, quantity.ParseClock, "recent", "`TIME` of a recent race run all out, instead of a goal")
	set.StringVar(&o.recentCourse, "recent-course", "", "`FILE` the GPX course of that race; its hills and its line are taken out")
	flag(&o.recentDistance, far, "recent-distance", "`DISTANCE` that race announced; else the length of its course")
	set.StringVar(&o.every, "every", "", "`WHAT` marks to give splits for: \"km\", \"mi\", \"5km\", another distance, or \"points\": aid stations and marks of the race sheet, foot and crest of each climb")
	set.StringVar(&o.name, "name", "", "`NAME` of the athlete")
	set.StringVar(&o.athlete, "athlete", "", "`FILE` the athlete's TOML file: goal or races, habits")
	set.StringVar(&o.squad, "squad", "", "`CSV` a table of athletes: one plan each and an overview")
	set.StringVar(&o.terrain, "terrain", "", "`DIR` take heights from the HGT terrain tiles in this folder instead of the course's own")
	set.StringVar(&o.up, "uphill", string(effort.Minetti2002), "`MODEL` cost of gradient uphill: "+models(true))
	set.StringVar(&o.down, "downhill", string(effort.Minetti2002), "`MODEL` cost of gradient downhill: "+models(false))
	flag(&o.credit, quantity.ParsePercent, "downhill-credit", "`PERCENT` of the energetic gain downhill that becomes speed; 33 % unless given, our reading of Staab 1992 and Townshend 2010")
	flag(&o.limit, quantity.ParsePercent, "downhill-limit", "`PERCENT` the most speed gained downhill; 14 % unless given")
	flag(&o.flex, quantity.ParsePercent, "effort-flex", "`PERCENT` more effort on climbs, 0 to 10 %; none unless given")
	flag(&o.extra, quantity.ParsePercent, "usual-extra", "`PERCENT` run beyond the shortest legal line, from an earlier review")
	flag(&o.watchLong, quantity.WithSign(quantity.ParsePercent), "watch-long", "`PERCENT` that the athlete's watch reads beyond the distance run, from an earlier review; \"-0.5 %\" when it reads short")
	set.StringVar(&o.review, "from-review", "", "`FILE` to take --usual-extra and --watch-long from: the output of an earlier review with --json")
	flag(&o.gunDelay, clockFlag, "gun-delay", "`TIME` from the gun to crossing the start line: \"1:30\" or \"90 s\"")
	flag(&o.crowd, clockFlag, "crowd", "`TIME` that the crowd after the start costs: \"30 s\"")
	flag(&o.crowdFor, far, "crowd-over", "`DISTANCE` in which that fades; 3.94 km unless given")
	set.StringVar(&o.firstHalf, "hold-first-half", "", "`AMOUNT` by which the first half is slower than even effort: \"30 s\" or \"1 %\"; \"-30 s\" spends instead")
	flag(&o.climbHold, quantity.ParsePercent, "hold-climbs", "`PERCENT` by which the first third of each climb is slower")
	set.StringArrayVar(&o.stops, "stop", nil, "`PLACE=TIME` a stop: \"20 km=25 s\"; adds to those of the race sheet; may be repeated")
	flag(&o.critical, speedOrPace, "critical-speed", "`SPEED` the athlete's critical speed, \"4.1 m/s\" or \"4:04/km\", to check the first half of a marathon against")
	o.weather.define(set)
	set.StringVar(&o.band, "band", "", "`FILE` to write the pace band to, .svg or .html, to print at full size")
	set.StringVar(&o.paper, "paper", "A4", "`PAPER` to print the band on: \"A4\" (as usual) or \"letter\"")
	set.StringVar(&o.csv, "csv", "", "`FILE` to write the splits to as a table")
	set.StringVar(&o.gpx, "gpx", "", "`FILE` to write the marks and their targets to, as GPX waypoints")
	set.StringVar(&o.page, "page", "", "`FILE` to write the plan and its strip map to: one page, .html, that needs nothing from elsewhere")
	set.StringVar(&o.overview, "overview", "", "`FILE` to write the squad's overview to as a table")
	o.race.define(set)
	o.show.define(set)
}

// models lists the costs of gradient that hold uphill or downhill.
func models(up bool) string {
	var names []string
	for _, c := range effort.Costs() {
		if up && c.High > 0 || !up && c.Low < 0 {
			names = append(names, `"`+string(c.Cost)+`"`)
		}
	}
	return strings.Join(names, ", ")
}

func (o *planOptions) validate() error {
	for _, check := range []func() error{o.race.validate, o.show.validate, o.whose, o.marks, o.deviations, o.day, o.outputs} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

// whose checks that it is clear whose plan it is and where its goal comes from.
func (o *planOptions) whose() error {
	given := 0
	for _, f := range []quantityFlag{o.goal, o.effort, o.recent} {
		if f.value != nil {
			given++
		}
	}
	switch {
	case given > 1:
		return &usageError{"--goal, --effort and --recent contradict each other", "give one of them"}
	case o.athlete != "" && o.squad != "":
		return &usageError{"--athlete and --squad contradict each other", "give one of them"}
	case o.squad != "" && (given > 0 || o.name != "" || o.review != ""):
		return &usageError{"a squad's goals, names and habits are in its table", "leave out --goal, --effort, --recent, --name and --from-review"}
	case given == 0 && o.athlete == "" && o.squad == "":
		return &usageError{"a plan needs a goal", "add --goal 3:30:00, --effort 4:50/km or --recent 45:10"}
	case o.recent.value != nil && o.recentCourse == "" && o.recentDistance.value == nil:
		return &usageError{"--recent needs to know which race", "add --recent-distance \"10 km\" or --recent-course FILE"}
	case o.recent.value == nil && (o.recentCourse != "" || o.recentDistance.value != nil):
		return &usageError{"--recent-course and --recent-distance describe the race of --recent", "add --recent TIME"}
	}
	for _, c := range []struct {
		name string
		text string
		cost *effort.Cost
	}{{"uphill", o.up, &o.upCost}, {"downhill", o.down, &o.downCost}} {
		cost, err := effort.ParseCost(c.text)
		if err != nil {
			return &usageError{"--" + c.name + " " + plain(err).Error(), ""}
		}
		*c.cost = cost
	}
	s := plan.Settings{Model: effort.Published(o.upCost, o.downCost)}
	o.own(&s)
	if err := s.Model.Check(); err != nil {
		return &usageError{plain(err).Error(), ""}
	}
	return nil
}

func (o *planOptions) marks() error {
	every := strings.ToLower(strings.TrimSpace(o.every))
	if every == "" {
		every = o.show.in().Name()
	}
	o.unit, o.unitName = quantity.Kilometre, "km"
	if every == "points" {
		return nil
	}
	v, err := step(every)
	if err != nil || !(v >= 100) {
		return &usageError{"--every \"" + o.every + "\" is unknown", "write km, mi, 5km, points, or a distance of at least 100 m"}
	}
	o.step = v
	if strings.Contains(every, "mi") {
		o.unit, o.unitName = quantity.Mile, "mi"
	}
	return nil
}

func (o *planOptions) deviations() error {
	if o.crowdFor.value != nil && o.crowd.value == nil {
		return &usageError{"--crowd-over is where the time of --crowd is lost", "add --crowd \"30 s\""}
	}
	if o.firstHalf != "" {
		if v, err := quantity.WithSign(quantity.ParsePercent)(o.firstHalf); err == nil {
			o.firstHalfShare = v
		} else if v, err := quantity.WithSign(clockFlag)(o.firstHalf); err == nil {
			o.firstHalfSeconds = v
		} else {
			return &usageError{"--hold-first-half \"" + o.firstHalf + "\" is neither a time nor a share", "write \"30 s\", \"1 %\" or \"-30 s\""}
		}
	}
	for _, s := range o.stops {
		place, long, ok := strings.Cut(s, "=")
		at, err1 := quantity.ParseDistance(strings.TrimSpace(place), quantity.Metre)
		seconds, err2 := clockFlag(strings.TrimSpace(long))
		if !ok || err1 != nil || err2 != nil {
			return &usageError{"--stop \"" + s + "\" cannot be read", "write \"20 km=25 s\""}
		}
		o.planStops = append(o.planStops, plan.Stop{At: at, Seconds: seconds})
	}
	return nil
}

func (o *planOptions) day() error { return o.weather.validate(o.race.sheet) }

func (o *planOptions) outputs() error {
	switch ext := strings.ToLower(filepath.Ext(o.band)); {
	case o.band == "":
	case ext != ".svg" && ext != ".html" && ext != ".htm":
		return &usageError{"--band \"" + o.band + "\" is neither a drawing nor a page", "end the name with .svg or .html"}
	case o.squad != "" && ext == ".svg":
		return &usageError{"a squad's bands are one page", "end the name of --band with .html"}
	}
	if err := pageName(o.page); err != nil {
		return err
	}
	if p := strings.ToLower(o.paper); p != "a4" && p != "letter" {
		return &usageError{"--paper \"" + o.paper + "\" is unknown", "write A4 or letter"}
	}
	if o.squad != "" && o.gpx != "" {
		return &usageError{"waypoints are for one athlete", "plan that athlete alone for --gpx"}
	}
	if o.squad != "" && o.page != "" {
		return &usageError{"the page with the strip map is for one athlete", "plan that athlete alone for --page, or give --band for the whole squad"}
	}
	if o.squad == "" && o.overview != "" {
		return &usageError{"--overview is for a squad", "add --squad CSV"}
	}
	return nil
}

func runPlan(ctx context.Context, e *env, args []string) error {
	var o planOptions
	operands, err := planCommand().parse(e, args, &o, 1, 1)
	if err != nil {
		return err
	}
	e.show(&o.show)
	inputs := slices.DeleteFunc(append(operands, o.athlete, o.squad, o.recentCourse, o.review), func(s string) bool { return s == "" })
	if err := e.planned(inputs, o.band, o.csv, o.gpx, o.overview, o.page); err != nil {
		return err
	}
	r, err := o.race.prepare(e, operands[0])
	if err != nil {
		return err
	}
	ground, err := groundOf(r, o.terrain)
	if err != nil {
		return err
	}
	route, notes := plan.FromRace(r, ground)
	for _, n := range append(r.Notes, notes...) {
		e.warn("%s", n)
	}
	o.weather.shelter(&route)
	c, err := plan.NewCourse(route)
	if err != nil {
		return err
	}
	marks, err := o.places(c, r.Sheet)
	if err != nil {
		return err
	}
	base, err := o.settings(r.Sheet)
	if err != nil {
		return err
	}
	out := planOutput{o: &o, e: e, c: c, r: r, ground: ground, course: operands[0]}
	if o.squad != "" {
		return out.squad(ctx, marks, base)
	}
	return out.one(marks, base)
}

// places are the marks of the plan.
func (o *planOptions) places(c *plan.Course, s *sheet.Sheet) ([]plan.Mark, error) {
	if o.step > 0 {
		return plan.Every(o.step, o.unit, o.unitName, c.Official)
	}
	points := plan.HillMarks(c)
	for _, a := range s.Aid {
		name := a.Name
		if name == "" {
			name = "aid " + quantity.Distance(a.At, o.show.in())
		}
		points = append(points, plan.Mark{Name: name, At: a.At})
	}
	for _, m := range s.Marks {
		points = append(points, plan.Mark{Name: m.Name, At: m.At})
	}
	return plan.Points(points, c.Official)
}

// settings are what the flags and the race sheet say about every athlete.
func (o *planOptions) settings(s *sheet.Sheet) (plan.Settings, error) {
	p := plan.Settings{
		Name: o.name, Model: effort.Published(o.upCost, o.downCost),
		FirstHalf: o.firstHalfSeconds, FirstHalfShare: o.firstHalfShare,
		Stops: slices.Clone(o.planStops),
	}
	p.Stops = append(p.Stops, plan.SheetStops(s)...)
	w, err := o.weather.of(s, o.race.sheet)
	if err != nil {
		return p, err
	}
	if o.review != "" {
		data, err := os.ReadFile(o.review)
		if err != nil {
			return p, &inputerr.Error{File: o.review, What: "the review cannot be read", Advice: "check its name", Cause: err}
		}
		h, err := plan.ReadHabits(o.review, data)
		if err != nil {
			return p, err
		}
		p.Extra, p.WatchLong = h.Extra, h.WatchLong
	}
	w.on(&p)
	o.own(&p)
	return p, nil
}

// own lays the flags about the athlete over settings.
func (o *planOptions) own(p *plan.Settings) {
	for _, v := range []struct {
		from *float64
		to   *float64
		plus float64
	}{
		{o.goal.value, &p.Goal, 0}, {o.effort.value, &p.FlatPace, 0},
		{o.credit.value, &p.Model.Credit, 0}, {o.limit.value, &p.Model.Cap, 1}, {o.flex.value, &p.Model.Flex, 0},
		{o.extra.value, &p.Extra, 0}, {o.watchLong.value, &p.WatchLong, 0},
		{o.gunDelay.value, &p.GunDelay, 0}, {o.crowd.value, &p.Crowd.Seconds, 0}, {o.crowdFor.value, &p.Crowd.Over, 0},
		{o.climbHold.value, &p.ClimbHold, 0}, {o.critical.value, &p.CriticalSpeed, 0},
	} {
		if v.from != nil {
			*v.to = *v.from + v.plus
		}
	}
}

// openBelow opens a GPX file in a folder or below it, never outside.
func openBelow(folder, name string) (*gpxfile.File, error) {
	if folder == "" {
		folder = "."
	}
	root, err := os.OpenRoot(folder)
	if err != nil {
		return nil, &inputerr.Error{File: folder, What: "the folder cannot be opened", Cause: err}
	}
	defer root.Close()
	f, err := root.Open(filepath.FromSlash(name))
	if err != nil {
		return nil, &inputerr.Error{File: name, What: "the course of the race cannot be opened", Advice: "put it into the folder of the file that names it or below it", Cause: err}
	}
	defer f.Close()
	return gpxfile.Read(name, f)
}
