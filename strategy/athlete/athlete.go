// Package athlete reads what is known about an athlete: the goal, recent
// races, workouts and habits. One athlete is a TOML file; a squad is a CSV
// table with the same fields as columns.
//
// # The athlete file
//
// Every key may be left out except the name and what is marked needed.
// Distances and times are written as people write them; bare distances are
// metres, bare times seconds.
//
//	name            text. Needed.
//	goal            time, "3:29:59": the goal for the race being planned, chip
//	                time. 30 s to 100 h.
//	longest_run     distance. The longest run of the last 30 days.
//	weekly          distance. The usual distance run in a week.
//	returning       true or false (default false). Back after years away:
//	                older races then say nothing.
//
// [[race]], once for each recent race:
//
//	date            date.
//	name            text.
//	distance        what the race announced. Needed.
//	time            result. Needed.
//	timing          "chip" (default) or "gun".
//	gun_delay       time from the gun to crossing the start line, for a time by
//	                the gun.
//	length          distance. What the course really was, when it was not what
//	                the race announced.
//	course          file name of its course as GPX, in the folder of the
//	                athlete file or below it.
//	laps            how often that course was run, 1 to 200. Default 1.
//	effort          how hard it was run: "all out" (default), "hard", "steady"
//	                or "easy".
//	temperature     of the air, °C.
//
// [[workout]], once for each workout that says something:
//
//	date            date.
//	repeats         whole number, 1 to 100. Default 1.
//	distance        of one repeat. Needed.
//	pace or time    of one repeat, "5:00/km" or "5:00". One of them is needed;
//	                with several repeats, their mean.
//	rest            time of easy running or standing between repeats.
//	slowest         time of the slowest repeat, to see whether they were even.
//	each            list of times, ["5:01", "4:59"]: every repeat in its order.
//	                Instead of pace, time and repeats.
//
// [settings]:
//
//	units               "km" or "mi".
//	downhill_credit     share of the energetic gain downhill that becomes
//	                    speed, "33 %", 0 to 100 %.
//	downhill_limit      the most speed gained downhill, "14 %", 0 to 50 %.
//	effort_flex         more effort allowed uphill, "5 %", 0 to 10 %.
//	watch_reads_long    what the watch shows beyond the distance run, "0.8 %",
//	                    -10 to 10 %; negative when it reads short.
//	usual_extra         what the athlete runs beyond the shortest line, "0.4 %",
//	                    0 to 10 %.
//
// # The squad table
//
// The first line names the columns, separated by commas, semicolons or
// tabs. The columns are the keys above: name, goal, longest_run, weekly; units
// and the other settings; for a recent race race_date, race_name, race_distance,
// race_time, race_timing, race_course, race_laps, race_effort, race_temperature, and for
// further ones race2_… to race9_…; workout_… likewise, its list of times with
// spaces between them. Every further line is an athlete. Empty cells say nothing.
package athlete

import (
	"time"

	"tautline/strategy/quantity"
	"tautline/strategy/tomlfile"
)

// Athlete is what is known about one athlete. Zero values and nil pointers
// mean that it is not said.
type Athlete struct {
	Name       string
	Goal       time.Duration // chip time; 0 when not given
	LongestRun float64       // m; 0 when not given
	Weekly     float64       // m a week; 0 when not given
	Returning  bool          // back after years away
	Races      []Race
	Workouts   []Workout
	Settings   Settings

	file *tomlfile.File
	dir  string
}

// Race is a recent race.
type Race struct {
	Date        time.Time // midnight UTC; zero when not given
	Name        string
	Distance    float64 // m, as announced
	Time        time.Duration
	Gun         bool           // Time is gun time, not chip time
	GunDelay    *time.Duration // from the gun to the start line; nil when not given
	Length      float64        // m, what the course really was; 0 when not given
	Course      string         // GPX file, relative to the athlete file; "" when not given
	Laps        int            // how often the course was run; 0 counts as 1
	Effort      Effort
	Temperature *float64 // °C
}

// Effort is how hard a race was run, as the athlete says.
type Effort string

// The empty Effort means AllOut.
const (
	AllOut Effort = "all out"
	Hard   Effort = "hard"
	Steady Effort = "steady"
	Easy   Effort = "easy"
)

// Workout is a run of even repeats.
type Workout struct {
	Date     time.Time
	Repeats  int             // 1 or more
	Distance float64         // m, of one repeat
	Time     time.Duration   // of one repeat, the mean of several
	Rest     time.Duration   // between two repeats
	Slowest  time.Duration   // 0 when not given
	Each     []time.Duration // every repeat in its order; nil when not given
}

// Settings are the athlete's own numbers; nil takes the usual ones. Shares are
// plain fractions.
type Settings struct {
	Units          *quantity.Units
	DownhillCredit *float64
	DownhillLimit  *float64
	EffortFlex     *float64
	WatchReadsLong *float64
	UsualExtra     *float64
}

// Err is the error that what the file says at a key, such as "race[0].course",
// cannot be used. It names the line and column.
func (a *Athlete) Err(key, what, advice string) error { return a.file.Err(key, what, advice) }

// Entry shows how a value, as TOML has it, is given at a key: for an advice.
func (a *Athlete) Entry(key, value string) string { return a.file.Entry(key, value) }

// Folder is the folder that race courses are looked for in; "" when the
// athlete was not read from disk.
func (a *Athlete) Folder() string { return a.dir }
