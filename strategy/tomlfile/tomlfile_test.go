package tomlfile_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"tautline/geo/inputerr"
	"tautline/strategy/tomlfile"
)

// form stands for the files of the program: texts, a switch, numbers that may
// come as texts with a unit, a table and a list of tables.
type form struct {
	Name    string   `toml:"name"`
	Ready   bool     `toml:"ready"`
	Laps    int      `toml:"laps"`
	Road    road     `toml:"road"`
	Stretch []piece  `toml:"stretch"`
	Files   []string `toml:"files"`
}

type road struct {
	Width  any     `toml:"width"`
	Radius float64 `toml:"radius"`
}

type piece struct {
	From any `toml:"from"`
	To   any `toml:"to"`
}

func ExampleFile_Err() {
	var f form
	file, err := tomlfile.Read("town.toml", []byte("name = \"Town\"\n\n[[stretch]]\nfrom = \"1 km\"\nto = \"900 m\"\n"), &f)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(file.Err("stretch[0].to", "stretch 1 ends before it begins", "swap from and to"))
	// Output: town.toml:5:6: stretch 1 ends before it begins (swap from and to)
}

func TestPositions(t *testing.T) {
	var f form
	file, err := tomlfile.Read("a.toml", []byte(strings.Join([]string{
		`name = "a"`,                  // 1
		`files = ["x", "y"]`,          // 2
		`road.width = 8`,              // 3
		`[[stretch]]`,                 // 4
		`from = 1`,                    // 5
		`[[stretch]]`,                 // 6
		`  from = "2 km" # a comment`, // 7
		`to = 3`,                      // 8
		`[[stretch]]`,                 // 9
	}, "\n")), &f)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, path   string
		line, column int
	}{
		{"a key at the top", "name", 1, 8},
		{"a dotted key", "road.width", 3, 14},
		{"a key in the first table of a list", "stretch[0].from", 5, 8},
		{"a key in the second table of a list", "stretch[1].from", 7, 10},
		{"a key that is missing falls back to its table", "stretch[0].to", 4, 3},
		{"an empty table of a list", "stretch[2]", 9, 3},
		{"a list element", "files[1]", 2, 15},
		{"a key that is nowhere", "weather.wind", 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			if line, column := file.At(c.path); line != c.line || column != c.column {
				t.Errorf("At(%q) = %d:%d, want %d:%d", c.path, line, column, c.line, c.column)
			}
		})
	}
	if file.Has("stretch[0].to") || !file.Has("stretch[1].to") {
		t.Error("Has does not tell given keys from missing ones")
	}
}

func TestBadFilesAreRefusedWithTheirPlace(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"an unknown key", "name = 'a'\n[road]\nwidht = 8\n", `b.toml:3:1: unknown key "widht" in [road] (did you mean "width"?)`},
		{"an unknown key in a list of tables", "[[stretch]]\nfrom = 1\nuntil = 2\n", `b.toml:3:1: unknown key "until" in [stretch] (known keys: from, to)`},
		{"an unknown table", "[weathr]\nx = 1\n", `b.toml:1:2: unknown key "weathr"`},
		{"two unknown keys", "x = 1\nyy = 2\n", `b.toml:1:1: unknown key "x", and 1 more unknown`},
		{"a text where a switch belongs", "ready = 'yes'\n", `b.toml:1:9: "ready" should be true or false`},
		{"a number where a text belongs", "name = 7\n", `b.toml:1:8: "name" should be a text in quotes`},
		{"a single table where a list belongs", "[stretch]\nfrom = 1\n", `given in double brackets`},
		{"a text where a number belongs", "[road]\nradius = '8'\n", `b.toml:2:10: "road.radius" should be a number`},
		{"a key twice", "name = 'a'\nname = 'b'\n", `b.toml:2:1: `},
		{"no value", "name = 'a'\n[road]\nwidth =\n", `b.toml:3:8: `},
		{"a value without quotes", "[road]\nwidth = 8 m\n", `b.toml:2:`},
		{"bytes that are no text", "name = \"\xff\"\n", `b.toml:1:9: the file is not UTF-8 text`},
		{"UTF-16 text", "\xff\xfen\x00", `b.toml: the file is UTF-16 text (save it as UTF-8)`},
		{"UTF-16 text without a mark", "n\x00=\x001\x00", `b.toml: the file is UTF-16 text (save it as UTF-8)`},
		{"a file that is far too large", strings.Repeat("# long\n", 1<<18), `more than the limit`},
		{"deep nesting", "name = " + strings.Repeat("[", 30) + strings.Repeat("]", 30), `nests too deeply`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := tomlfile.Read("b.toml", []byte(c.text), new(form))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("error is %v\nwant one with %s", err, c.want)
			}
			if strings.Contains(err.Error(), "\n") {
				t.Error("the error has more than one line")
			}
		})
	}
}

func TestAnErrorCanShowItsLine(t *testing.T) {
	_, err := tomlfile.Read("b.toml", []byte("name = 'a'\r\n[road]\r\n\twidht = 8\r\n"), new(form))
	var ex *tomlfile.Excerpt
	if !errors.As(err, &ex) {
		t.Fatalf("no excerpt in %v", err)
	}
	want := "    3 | \twidht = 8\n      | \t^"
	if ex.Error() != want {
		t.Errorf("the excerpt is\n%s\nwant\n%s", ex.Error(), want)
	}
}

func TestAByteOrderMarkIsSkipped(t *testing.T) {
	var f form
	if _, err := tomlfile.Read("b.toml", []byte("\xEF\xBB\xBFname = 'a'\n"), &f); err != nil || f.Name != "a" {
		t.Errorf("name %q, error %v", f.Name, err)
	}
}

// FuzzRead holds that reading never panics, that every error says where it is
// in one line, and that every known position lies inside the file.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{
		"", "name = 'a'\n[road]\nwidth = \"8 m\"\n", "[[stretch]]\nfrom=1\n[[stretch]]\nto = 2\n",
		"stretch = [{from=1, to = 2}, {from=3}]", "a.b.c = 1\n[a]\n", "name = \"\"\"x\ny\"\"\"\n", "[stretch]\n[[stretch]]",
		"road = {width = nan, radius = inf}", "x = [1,\n# c\n2]", "\"\" = 1", "name = '\x00'",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := tomlfile.Read("f.toml", data, new(form))
		if err != nil {
			var in *inputerr.Error
			if !errors.As(err, &in) {
				t.Fatalf("error of another kind: %T %v", err, err)
			}
			if lines := strings.Count(string(data), "\n") + 1; in.Line > lines {
				t.Fatalf("line %d of %d: %v", in.Line, lines, err)
			}
			return
		}
		for _, path := range []string{"name", "road", "road.width", "stretch[0].from", "stretch[1].to"} {
			line, column := file.At(path)
			if file.Has(path) && (line < 1 || column < 1) {
				t.Fatalf("%s is at %d:%d", path, line, column)
			}
		}
	})
}

// The decoder takes keys in any capitals; the checks ask for them by name.
func TestKeysInOtherCapitalsAreUnknown(t *testing.T) {
	for _, text := range []string{"lAps = -1\n", "laps = 1\n[[Place]]\nat = 1\n", "[[place]]\nAT = 1\n"} {
		var into struct {
			Laps  int `toml:"laps"`
			Place []struct {
				At int `toml:"at"`
			} `toml:"place"`
		}
		_, err := tomlfile.Read("a.toml", []byte(text), &into)
		if err == nil || !strings.Contains(err.Error(), "unknown key") || !strings.Contains(err.Error(), "did you mean") {
			t.Errorf("%q: %v", text, err)
		}
	}
}
