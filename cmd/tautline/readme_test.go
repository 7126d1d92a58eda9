package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"tautline/strategy/athlete"
	"tautline/strategy/demo"
	"tautline/strategy/sheet"
)

func readme(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// fence is a fenced block of README.md. A block with a file name after its
// language is that file.
type fence struct{ language, file, text string }

var fenced = regexp.MustCompile("(?ms)^```([a-z]+)(?: ([\\w.-]+))?\n(.*?)^```$")

func fences(t *testing.T) []fence {
	t.Helper()
	var out []fence
	for _, m := range fenced.FindAllStringSubmatch(readme(t), -1) {
		out = append(out, fence{m[1], m[2], m[3]})
	}
	return out
}

// written are the options that name a file to write.
var written = regexp.MustCompile(`--(?:page|gpx|geojson|csv|ics|band|overview|out) ([^ "]+)`)

// TestReadmeCommands runs every command of README.md, in order and in one
// folder that holds the files that README.md shows, so that no example can go
// stale; what a command says it writes must be there afterwards. A command that
// starts with "go test" is this very test and is left out; "tautline serve" ends
// at an interrupt only and has a test of its own.
func TestReadmeCommands(t *testing.T) {
	var script strings.Builder
	files := map[string]string{}
	commands, served := 0, 0
	for _, f := range fences(t) {
		if f.file != "" {
			files[f.file] = f.text
		}
		if f.language != "sh" {
			continue
		}
		for line := range strings.SplitSeq(strings.TrimSpace(f.text), "\n") {
			line, _, _ = strings.Cut(line, " # ")
			line = strings.TrimSpace(line)
			switch {
			case line == "" || strings.HasPrefix(line, "#") || strings.HasPrefix(line, "go test"):
				continue
			case strings.HasPrefix(line, "go run ./cmd/tautline "):
				line = "tautline " + strings.TrimPrefix(line, "go run ./cmd/tautline ")
			case line == "tautline serve":
				served++
				continue
			case !strings.HasPrefix(line, "tautline "):
				t.Fatalf("README.md holds a command this test does not know: %q", line)
			}
			commands++
			line, to, redirected := strings.Cut(line, " > ")
			// The scripts know single quotes only.
			script.WriteString("exec " + strings.ReplaceAll(line, `"`, "'") + "\n")
			if redirected {
				script.WriteString("cp stdout " + to + "\n")
			}
			for _, m := range written.FindAllStringSubmatch(line, -1) {
				script.WriteString("exists " + m[1] + "\n")
			}
		}
	}
	if commands < 15 || served != 1 || len(files) < 5 {
		t.Fatalf("README.md holds %d commands, %d of them serve, and %d files", commands, served, len(files))
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "readme.txtar"), []byte(script.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: dir,
		Setup: func(env *testscript.Env) error {
			for name, text := range files {
				if err := os.WriteFile(filepath.Join(env.WorkDir, name), []byte(text), 0o644); err != nil {
					return err
				}
			}
			return nil
		},
	})
}

// TestReadmeSpeaksOfEverySubcommand holds README.md to the list of subcommands.
func TestReadmeSpeaksOfEverySubcommand(t *testing.T) {
	text := readme(t)
	for _, c := range commands() {
		if c.name != "version" && !strings.Contains(text, "tautline "+c.name) {
			t.Errorf("README.md has no example of %s", c.name)
		}
	}
}

// TestReadmeNamesTheDemosRunner keeps the story of README.md to the demo.
func TestReadmeNamesTheDemosRunner(t *testing.T) {
	truth, err := demo.Known()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range truth.Runners {
		if r.File == "wide.gpx" {
			if text := readme(t); !strings.Contains(text, r.Name) {
				t.Errorf("README.md does not name %s", r.Name)
			}
			return
		}
	}
	t.Error("the demo has no wide.gpx")
}

// TestContributorsAreToldOfEveryPackage holds the list of packages in
// DEVELOPERS.md to the folders.
func TestContributorsAreToldOfEveryPackage(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	for _, layer := range []string{"geo", "strategy", "report"} {
		found, err := filepath.Glob(filepath.Join("..", "..", layer, "*", "*.go"))
		if err != nil || len(found) == 0 {
			t.Fatalf("no packages in %s: %v", layer, err)
		}
		_, list, _ := strings.Cut(string(text), "| `"+layer+"/` | |\n")
		list, _, _ = strings.Cut(list, "\n\n")
		for _, f := range found {
			if name := filepath.Base(filepath.Dir(f)); !strings.Contains(list, "| `"+name+"` |") {
				t.Errorf("DEVELOPERS.md does not list %s/%s", layer, name)
			}
		}
	}
}

// TestEveryPackageSaysWhatItIsAndShowsHow asks for a doc comment and an example
// in each.
func TestEveryPackageSaysWhatItIsAndShowsHow(t *testing.T) {
	folders, err := filepath.Glob(filepath.Join("..", "..", "[gsr]*", "*", "*.go"))
	if err != nil || len(folders) == 0 {
		t.Fatalf("no packages: %v", err)
	}
	told, shown := map[string]bool{}, map[string]bool{}
	for _, name := range folders {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		folder := filepath.Dir(name)
		told[folder] = told[folder] || strings.Contains("\n"+string(text), "\n// Package "+filepath.Base(folder)+" ")
		shown[folder] = shown[folder] || strings.HasSuffix(name, "_test.go") && strings.Contains(string(text), "\nfunc Example")
	}
	for folder := range told {
		if !told[folder] {
			t.Errorf("%s has no doc comment", folder)
		}
		if !shown[folder] {
			t.Errorf("%s has no example", folder)
		}
	}
}

// TestReadmeNamesEveryKey holds the reference section of README.md to the forms
// that the files are read into.
func TestReadmeNamesEveryKey(t *testing.T) {
	_, reference, found := strings.Cut(readme(t), "\n## The files\n")
	if !found {
		t.Fatal("README.md has no section on the files")
	}
	sections := map[string]string{}
	for _, s := range strings.Split(reference, "\n### ")[1:] {
		title, body, _ := strings.Cut(s, "\n")
		sections[title], _, _ = strings.Cut(body, "\n## ")
	}
	for _, x := range []struct {
		title, source string
		least         int
	}{
		{"Race sheet", "sheet/read.go", 40},
		{"Athlete file and squad table", "athlete/read.go", 25},
		{"Calendar", "season/read.go", 12},
		{"Start sheet", "start/read.go", 10},
		{"Ride sheet", "measure/sheet.go", 35},
	} {
		source, err := os.ReadFile(filepath.Join("..", "..", "strategy", filepath.FromSlash(x.source)))
		if err != nil {
			t.Fatal(err)
		}
		keys := regexp.MustCompile("`toml:\"([a-z_]+)\"`").FindAllStringSubmatch(string(source), -1)
		if len(keys) < x.least {
			t.Fatalf("only %d keys were found in %s", len(keys), x.source)
		}
		for _, k := range keys {
			if !regexp.MustCompile("`(\\[+([a-z]+\\.)*)?" + k[1] + "\\]*`").MatchString(sections[x.title]) {
				t.Errorf("README.md does not explain the key %s under %q", k[1], x.title)
			}
		}
	}
}

// TestReadmeFilesAreGood reads the race sheet that README.md shows and its
// athlete file. The other files are read by the commands.
func TestReadmeFilesAreGood(t *testing.T) {
	sheets, athletes := 0, 0
	for _, f := range fences(t) {
		var err error
		switch {
		case f.language == "toml" && f.file == "":
			sheets++
			_, err = sheet.Read("README.md", []byte(f.text))
		case f.file == "bram.toml":
			athletes++
			_, err = athlete.Read("README.md", []byte(f.text))
		}
		if err != nil {
			t.Error(err)
		}
	}
	if sheets == 0 || athletes == 0 {
		t.Errorf("README.md shows %d race sheets and %d athlete files", sheets, athletes)
	}
}
