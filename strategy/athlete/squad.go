package athlete

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"tautline/geo/inputerr"
	"tautline/strategy/spelling"
	"tautline/strategy/table"
	"tautline/strategy/tomlfile"
)

// MaxSquad is the most athletes of a table.
const MaxSquad = 10_000

// OpenSquad reads a squad table from disk.
func OpenSquad(path string) (squad []*Athlete, refused []error, err error) {
	data, err := tomlfile.Open(path, "squad table")
	if err != nil {
		return nil, nil, err
	}
	squad, refused, err = ReadSquad(path, data)
	for _, a := range squad {
		a.dir = filepath.Dir(path)
	}
	return squad, refused, err
}

// ReadSquad reads a squad table. An athlete whose line cannot be used is left
// out and told in refused, with line and column; the others are read. err is
// for a table that cannot be read at all. All errors are *inputerr.Error.
func ReadSquad(name string, data []byte) (squad []*Athlete, refused []error, err error) {
	r, err := table.NewReader(name, data, 0)
	if err != nil {
		return nil, nil, err
	}
	heads, err := r.Read()
	if err == io.EOF {
		return nil, nil, &inputerr.Error{File: name, What: "the squad table is empty", Advice: "its first line names the columns, for example: name,goal,race_distance,race_time"}
	}
	if err != nil {
		return nil, nil, badCSV(name, err)
	}
	columns := make([]column, len(heads))
	seen := map[string]bool{}
	for i, h := range heads {
		line, col := r.FieldPos(i)
		h = strings.TrimSpace(h)
		at := func(what, advice string) error {
			return &inputerr.Error{File: name, Line: line, Column: col, What: what, Advice: advice}
		}
		if columns[i] = columnFor(h); columns[i].path == "" {
			advice := "known columns: name, goal, race_distance, race_time and the other keys of an athlete file"
			if near := spelling.Nearest(h, columnNames()); near != "" {
				advice = fmt.Sprintf("did you mean %q?", near)
			}
			return nil, nil, at(fmt.Sprintf("unknown column %q", h), advice)
		}
		if seen[columns[i].path] {
			return nil, nil, at(fmt.Sprintf("the column %q is there twice", h), "leave one of them out")
		}
		seen[columns[i].path] = true
	}
	if !seen["name"] {
		return nil, nil, &inputerr.Error{File: name, Line: 1, What: "the squad table has no column \"name\"", Advice: "its first line names the columns, for example: name,goal"}
	}
	for {
		cells, err := r.Read()
		if err == io.EOF {
			return squad, refused, nil
		}
		if err != nil {
			return nil, nil, badCSV(name, err)
		}
		if len(squad)+len(refused) >= MaxSquad {
			return nil, nil, &inputerr.Error{File: name, What: fmt.Sprintf("the table has more than %d athletes", MaxSquad), Advice: "split it"}
		}
		a, err := row(name, columns, cells, r)
		switch {
		case err != nil:
			refused = append(refused, err)
		case a != nil:
			squad = append(squad, a)
		}
	}
}

func badCSV(name string, err error) error {
	e := &inputerr.Error{File: name, What: "this is not a table with columns", Advice: "save it as CSV, cells separated by commas, semicolons or tabs", Cause: err}
	var bad *csv.ParseError
	if errors.As(err, &bad) {
		e.Line, e.Column, e.What = bad.Line, bad.Column, "the table cannot be read: "+bad.Err.Error()
		e.Advice = "a cell with a comma or a line break stands in double quotes"
	}
	return e
}

// SameNames tells which lines of a table are for an athlete of the same name as
// one above them: what is made for the two cannot be told apart. The errors are
// *inputerr.Error.
func SameNames(squad []*Athlete) []error {
	var same []error
	first := map[string]int{} // line
	for _, a := range squad {
		name := strings.ToLower(strings.Join(strings.Fields(a.Name), " "))
		line, _ := a.file.At("name")
		if above, there := first[name]; there {
			same = append(same, a.Err("name", fmt.Sprintf("line %d has an athlete of the same name, %s, as line %d", line, a.Name, above), "add what tells them apart"))
			continue
		}
		first[name] = line
	}
	return same
}

// column says which key of the athlete file a column is: list and number for
// races and workouts, and the key.
type column struct {
	path string // as tomlfile writes it: "race[1].time"
	list string // "race", "workout", "settings" or ""
	n    int    // from 0
	key  string
	pre  string // what the name has before the key: "race2_"
}

// keysOf gives the keys of a form by their tags, tables left out.
func keysOf(v any) []string {
	t := reflect.TypeOf(v)
	var keys []string
	for i := range t.NumField() {
		if k := t.Field(i).Type.Kind(); k != reflect.Slice && k != reflect.Struct {
			keys = append(keys, t.Field(i).Tag.Get("toml"))
		}
	}
	return keys
}

func columnNames() []string {
	names := append(keysOf(form{}), keysOf(formSettings{})...)
	for _, k := range keysOf(formRace{}) {
		names = append(names, "race_"+k)
	}
	for _, k := range keysOf(formWorkout{}) {
		names = append(names, "workout_"+k)
	}
	return names
}

// columnFor reads a column's name; its path is "" when it is unknown.
func columnFor(name string) column {
	if slices.Contains(keysOf(form{}), name) {
		return column{path: name, key: name}
	}
	if slices.Contains(keysOf(formSettings{}), name) {
		return column{path: "settings." + name, list: "settings", key: name}
	}
	for list, keys := range map[string][]string{"race": keysOf(formRace{}), "workout": keysOf(formWorkout{})} {
		rest, ok := strings.CutPrefix(name, list)
		if !ok {
			continue
		}
		number, key, ok := strings.Cut(rest, "_")
		if !ok {
			continue
		}
		n := 1
		if number != "" {
			n, _ = strconv.Atoi(number)
			if n < 1 || n > 9 || strconv.Itoa(n) != number {
				continue
			}
		}
		if slices.Contains(keys, key) {
			return column{path: fmt.Sprintf("%s[%d].%s", list, n-1, key), list: list, n: n - 1, key: key, pre: strings.TrimSuffix(name, key)}
		}
	}
	return column{}
}

// row turns one line of the table into the same form as an athlete file, so
// that both are checked by the same rules. It gives nil for an empty line.
func row(name string, columns []column, cells []string, r *csv.Reader) (*Athlete, error) {
	line, _ := r.FieldPos(0)
	if len(cells) > len(columns) {
		_, col := r.FieldPos(len(columns))
		return nil, &inputerr.Error{File: name, Line: line, Column: col, What: fmt.Sprintf("the line has %d cells, but %d columns are named", len(cells), len(columns)),
			Advice: "a cell with a comma stands in double quotes"}
	}
	var in form
	places := map[string][2]int{"name": {line, 1}}
	prefixes := map[string]string{}
	used := map[string]int{} // list and number in the table to index in the form
	empty := true
	for i, text := range cells {
		text = strings.TrimSpace(text)
		if text == "" {
			continue
		}
		empty = false
		c := columns[i]
		target, path := reflect.ValueOf(&in).Elem(), c.path
		if c.list == "settings" {
			target = reflect.ValueOf(&in.Settings).Elem()
		} else if c.list != "" {
			// A table may leave a race out; the form has no holes.
			id := fmt.Sprintf("%s%d", c.list, c.n)
			k, known := used[id]
			list := target.FieldByName(map[string]string{"race": "Races", "workout": "Workouts"}[c.list])
			if !known {
				k = list.Len()
				used[id] = k
				list.Set(reflect.Append(list, reflect.Zero(list.Type().Elem())))
			}
			item := fmt.Sprintf("%s[%d]", c.list, k)
			target, path, prefixes[item] = list.Index(k), item+"."+c.key, c.pre
		}
		at, col := r.FieldPos(i)
		places[path] = [2]int{at, col}
		if cut := strings.LastIndexByte(path, '.'); cut > 0 {
			if _, there := places[path[:cut]]; !there {
				places[path[:cut]] = [2]int{at, col}
			}
		}
		var v any = text
		if bare[c.key] {
			if n, err := strconv.ParseFloat(text, 64); err == nil {
				v = n
			}
		}
		for f := range target.NumField() {
			if target.Type().Field(f).Tag.Get("toml") == c.key {
				target.Field(f).Set(reflect.ValueOf(v))
			}
		}
	}
	if empty {
		return nil, nil
	}
	return in.check(tomlfile.Row(name, places, prefixes))
}

// bare names the columns whose cells may be bare numbers, as in the file.
var bare = map[string]bool{"distance": true, "longest_run": true, "weekly": true, "rest": true, "temperature": true, "time": true, "slowest": true, "goal": true,
	"gun_delay": true, "length": true, "laps": true, "repeats": true}
