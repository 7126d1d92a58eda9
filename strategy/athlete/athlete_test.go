package athlete_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tautline/geo/inputerr"
	"tautline/strategy/athlete"
	"tautline/strategy/quantity"
)

const everything = `
name = "Ines Quill"
goal = "3:29:59"
longest_run = "30 km"
weekly = "40 mi"
returning = true

[[race]]
date = 2027-03-07
name = "Mill Ten"
distance = "10 km"
time = "46:12"
timing = "gun"
gun_delay = "0:25"
length = "10.06 km"
course = "mill.gpx"
laps = 2
effort = "hard"
temperature = "9 °C"

[[workout]]
date = 2027-03-20
repeats = 6
distance = "1 mi"
pace = "7:15/mi"
rest = "1:00"
slowest = "7:20"

[[workout]]
distance = "1 km"
each = ["4:40", "4:44", "4:42"]

[settings]
units = "mi"
downhill_credit = "33 %"
downhill_limit = "14 %"
effort_flex = "5 %"
watch_reads_long = "-0.8 %"
usual_extra = "0.4 %"
`

var want = &athlete.Athlete{
	Name: "Ines Quill", Goal: 3*time.Hour + 29*time.Minute + 59*time.Second, LongestRun: 30000, Weekly: 40 * 1609.344, Returning: true,
	Races: []athlete.Race{{Date: time.Date(2027, 3, 7, 0, 0, 0, 0, time.UTC), Name: "Mill Ten", Distance: 10000, Time: 46*time.Minute + 12*time.Second,
		Gun: true, GunDelay: new(25 * time.Second), Length: 10060, Course: "mill.gpx", Laps: 2, Effort: athlete.Hard, Temperature: some(9)}},
	Workouts: []athlete.Workout{{Date: time.Date(2027, 3, 20, 0, 0, 0, 0, time.UTC), Repeats: 6, Distance: 1609.344, Time: 7*time.Minute + 15*time.Second,
		Rest: time.Minute, Slowest: 7*time.Minute + 20*time.Second},
		{Repeats: 3, Distance: 1000, Time: 282 * time.Second, Slowest: 284 * time.Second, Each: []time.Duration{280 * time.Second, 284 * time.Second, 282 * time.Second}}},
	Settings: athlete.Settings{Units: new(quantity.Imperial), DownhillCredit: some(0.33), DownhillLimit: some(0.14), EffortFlex: some(0.05),
		WatchReadsLong: some(-0.008), UsualExtra: some(0.004)},
}

func some(v float64) *float64 { return &v }

var same = cmp.Options{cmpopts.IgnoreUnexported(athlete.Athlete{}), cmpopts.EquateApprox(1e-12, 0)}

func TestEveryKeyIsRead(t *testing.T) {
	got, err := athlete.Read("ines.toml", []byte(everything))
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got, same); d != "" {
		t.Error(d)
	}
}

// The same athlete as a line of a table is the same athlete.
func TestATableSaysTheSameAsAFile(t *testing.T) {
	head := "name,goal,longest_run,weekly,returning,race_date,race_name,race_distance,race_time,race_timing,race_gun_delay,race_length,race_course,race_laps,race_effort,race_temperature," +
		"workout_date,workout_repeats,workout_distance,workout_pace,workout_rest,workout_slowest,workout2_distance,workout2_each,units,downhill_credit,downhill_limit,effort_flex,watch_reads_long,usual_extra\n"
	line := "Ines Quill,3:29:59,30 km,40 mi,true,2027-03-07,Mill Ten,10 km,46:12,gun,25,10.06 km,mill.gpx,2,hard,9 °C,2027-03-20,6,1 mi,7:15/mi,60,7:20,1 km,4:40 4:44 4:42,mi,33 %,14 %,5 %,-0.8 %,0.4 %\n"
	for _, c := range []struct{ name, table string }{
		{"with commas", head + line},
		{"with semicolons", strings.ReplaceAll(head+line, ",", ";")},
		{"with tabs", strings.ReplaceAll(head+line, ",", "\t")},
		{"with a byte order mark and Windows line ends", "\xEF\xBB\xBF" + strings.ReplaceAll(head+line, "\n", "\r\n")},
		{"with empty lines of cells", head + ",,,,\n" + line},
	} {
		t.Run(c.name, func(t *testing.T) {
			squad, refused, err := athlete.ReadSquad("squad.csv", []byte(c.table))
			if err != nil || len(refused) > 0 || len(squad) != 1 {
				t.Fatalf("%d athletes, refused %v, error %v", len(squad), refused, err)
			}
			if d := cmp.Diff(want, squad[0], same); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestASecondRaceWithoutAFirstIsTheOnlyRace(t *testing.T) {
	squad, refused, err := athlete.ReadSquad("s.csv", []byte("name,race_distance,race_time,race2_distance,race2_time\nA,,,5 km,20:00\nB,10 km,42:00,5 km,20:00\n"))
	if err != nil || len(refused) > 0 {
		t.Fatal(refused, err)
	}
	if len(squad[0].Races) != 1 || squad[0].Races[0].Distance != 5000 || len(squad[1].Races) != 2 {
		t.Errorf("races %v and %v", squad[0].Races, squad[1].Races)
	}
}

func TestABadLineDoesNotStopTheOthers(t *testing.T) {
	squad, refused, err := athlete.ReadSquad("s.csv", []byte("name,goal\nA,3:00:00\nB,fast\n,3:10:00\nC,3:20:00,x\nD,3:30:00\n"))
	if err != nil {
		t.Fatal(err)
	}
	if len(squad) != 2 || squad[1].Name != "D" {
		t.Errorf("read %d athletes", len(squad))
	}
	for i, want := range []string{"s.csv:3:3: goal: ", "s.csv:4:1: the athlete has no name", "s.csv:5:11: the line has 3 cells, but 2 columns are named"} {
		if i >= len(refused) || !strings.Contains(refused[i].Error(), want) {
			t.Errorf("refused %v, want %s", refused, want)
		}
	}
}

// A table has no keys and no equals signs, and its line is not shown: messages
// name the column and the value, and say what to put into the cell.
func TestABadCellIsToldByItsColumn(t *testing.T) {
	for _, c := range []struct{ name, head, line, want string }{
		{"a date with the month first", "name,race_date,race_distance,race_time", "A,3/28/2027,5 km,19:40", `s.csv:2:3: race_date should be a date, not "3/28/2027" (write 2027-05-09 in column race_date)`},
		{"a race without a time", "name,race_distance,race_time", "A,5 km,", `s.csv:2:3: "race_time" is missing (add 45:10 in column race_time)`},
		{"a further race without a time, the first left out", "name,race_distance,race_time,race2_distance,race2_time", "A,,,5 km,", `"race2_time" is missing (add 45:10 in column race2_time)`},
		{"a race without a distance", "name,race1_time", "A,19:40", `"race1_distance" is missing (add 3.2 km in column race1_distance)`},
		{"a short race", "name,race_distance,race_time", "A,5,19:40", "race_distance is 5 m (it should be 100 m to 1000 km)"},
		{"a point for a colon", "name,race_distance,race_time", "A,5 km,19.40", "race 1 comes out at 0:04/km: 5 km in 0:19 (check its distance and time)"},
		{"a word for a number", "name,race_distance,race_time,race_course,race_laps", "A,5 km,19:40,x.gpx,two", `race_laps should be a number, not "two"`},
		{"a pace for a goal", "name,goal", "A,4:30/km", `goal: "4:30/km" is a pace, not a time (write `},
		{"one repeat", "name,workout_distance,workout_each", "A,1 km,4:40", "workout_each should be a list of 2 to 100 times (write 5:01 4:59 5:00 in column workout_each)"},
		{"laps of nothing", "name,race_distance,race_time,race_laps", "A,5 km,19:40,2", "(add lap.gpx in column race_course, or leave laps out)"},
		{"no name", "name,goal", ",45:10", "the athlete has no name (add … in column name)"},
		{"a gun delay of a chip time", "name,race_distance,race_time,race_gun_delay", "A,5 km,19:40,20", "(it belongs to a time by the gun that is longer: add gun in column race_timing)"},
		{"a share without its sign", "name,usual_extra", "A,0.4", `usual_extra: "0.4" has no percent sign`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, refused, err := athlete.ReadSquad("s.csv", []byte(c.head+"\n"+c.line+"\n"))
			if err != nil || len(refused) != 1 || !strings.Contains(refused[0].Error(), c.want) {
				t.Errorf("refused %v (%v)\nwant %s", refused, err, c.want)
			}
		})
	}
}

func TestAthletesOfOneNameAreToldByTheirLines(t *testing.T) {
	squad, refused, err := athlete.ReadSquad("s.csv", []byte("goal,name\n45:00,Ann Quill\n46:00,Bram\n50:00,ann  quill\n51:00,Ann Quill\n"))
	if err != nil || len(refused) > 0 || len(squad) != 4 {
		t.Fatal(len(squad), refused, err)
	}
	var got []string
	for _, err := range athlete.SameNames(squad) {
		got = append(got, err.Error())
	}
	want := []string{
		"s.csv:4:7: line 4 has an athlete of the same name, ann  quill, as line 2 (add what tells them apart)",
		"s.csv:5:7: line 5 has an athlete of the same name, Ann Quill, as line 2 (add what tells them apart)",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if same := athlete.SameNames(squad[:2]); same != nil {
		t.Errorf("two names are told as one: %v", same)
	}
}

func TestBadTablesAreRefused(t *testing.T) {
	for _, c := range []struct{ name, table, want string }{
		{"an empty file", "", "s.csv: the squad table is empty"},
		{"an unknown column", "name,gaol\nA,1\n", `s.csv:1:6: unknown column "gaol" (did you mean "goal"?)`},
		{"a column twice", "name,goal,goal\n", "is there twice"},
		{"a race beyond nine", "name,race10_time\n", `unknown column "race10_time"`},
		{"Latin-1", "name,goal\nBj\xf6rn,3:00:00\n", "s.csv:2:3: the file is not UTF-8 text (save it as UTF-8)"},
		{"UTF-16", "\xff\xfen\x00a\x00m\x00e\x00", "s.csv: the file is UTF-16 text (save it as UTF-8)"},
		{"no names", "goal\n3:00:00\n", `no column "name"`},
		{"a quote that never ends", "name\n\"A\nB\n", "the table cannot be read"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := athlete.ReadSquad("s.csv", []byte(c.table))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error is %v\nwant one with %s", err, c.want)
			}
		})
	}
}

func TestBadFilesAreRefusedWithTheirPlace(t *testing.T) {
	name := "name = \"A\"\n"
	for _, c := range []struct{ name, text, want string }{
		{"no name", "goal = \"3:00:00\"\n", "the athlete has no name"},
		{"a bare share", name + "[settings]\nusual_extra = 0.4\n", `a.toml:3:15: usual_extra needs a percent sign (write usual_extra = "5 %")`},
		{"too much flex", name + "[settings]\neffort_flex = \"20 %\"\n", "effort_flex is 20 % (it should be 0 % to 10 %)"},
		{"unknown units", name + "[settings]\nunits = \"leagues\"\n", `units is "leagues"`},
		{"a race without a time", name + "[[race]]\ndistance = \"10 km\"\n", `a.toml:2:3: "time" is missing`},
		{"hours for minutes", name + "[[race]]\ndistance = \"10 km\"\ntime = \"46:12:00\"\n", "a.toml:4:8: race 1 comes out at 4:37:12/km"},
		{"a marathon in an hour", name + "[[race]]\ndistance = \"marathon\"\ntime = \"1:00:00\"\n", "check its distance and time"},
		{"a course outside the folder", name + "[[race]]\ndistance = \"10 km\"\ntime = \"46:12\"\ncourse = \"/x.gpx\"\n", "lies outside the folder"},
		{"half a lap", name + "[[race]]\ndistance = \"10 km\"\ntime = \"46:12\"\ncourse = \"x.gpx\"\nlaps = 1.5\n", "a.toml:6:8: laps is not a whole number"},
		{"no lap", name + "[[race]]\ndistance = \"10 km\"\ntime = \"46:12\"\ncourse = \"x.gpx\"\nlaps = 0\n", "a.toml:6:8: laps is 0"},
		{"laps of nothing", name + "[[race]]\ndistance = \"10 km\"\ntime = \"46:12\"\nlaps = 2\n", "race 1 has laps but no course"},
		{"an unknown effort", name + "[[race]]\ndistance = \"10 km\"\ntime = \"46:12\"\neffort = \"all-out\"\n", `did you mean "all out"?`},
		{"half a repeat", name + "[[workout]]\ndistance = \"1 km\"\ntime = \"4:00\"\nrepeats = 2.5\n", "repeats is not a whole number"},
		{"pace and time", name + "[[workout]]\ndistance = \"1 km\"\ntime = \"4:00\"\npace = \"4:00/km\"\n", "gives pace and time"},
		{"a gun delay of a chip time", name + "[[race]]\ndistance = \"10 km\"\ntime = \"46:12\"\ngun_delay = 20\n", "gun_delay of race 1 has no use"},
		{"every repeat and a mean", name + "[[workout]]\ndistance = \"1 km\"\ntime = \"4:00\"\neach = [\"4:00\", \"4:01\"]\n", "gives every repeat and a mean"},
		{"a list of one repeat", name + "[[workout]]\ndistance = \"1 km\"\neach = [\"4:00\"]\n", "each should be a list"},
		{"a doubtful return", name + "returning = \"maybe\"\n", "returning should be true or false"},
		{"a slowest repeat that is fast", name + "[[workout]]\ndistance = \"1 km\"\ntime = \"4:00\"\nslowest = \"3:50\"\n", "is faster than their mean"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := athlete.Read("a.toml", []byte(c.text))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error is %v\nwant one with %s", err, c.want)
			}
		})
	}
}

// FuzzRead holds that neither form panics and that errors are of the one kind.
func FuzzRead(f *testing.F) {
	f.Add([]byte(everything))
	f.Add([]byte("name,goal,race_distance,race_time\nA,3:00:00,10 km,42:00\n"))
	f.Add([]byte("name;workout_repeats;workout_distance\nA;1e9;nan\n"))
	f.Add([]byte("name\n\"A\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		_, err := athlete.Read("f.toml", data)
		_, refused, err2 := athlete.ReadSquad("f.csv", data)
		for _, err := range append(refused, err, err2) {
			var in *inputerr.Error
			if err != nil && !errors.As(err, &in) {
				t.Fatalf("error of another kind: %T %v", err, err)
			}
		}
	})
}
