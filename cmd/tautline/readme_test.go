package main

import (
	"bytes"
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

var block = regexp.MustCompile("(?ms)^```sh\n(.*?)^```$")

// TestReadmeCommands runs every command of README.md, in order and in one
// folder that holds the files of the demo, so that no example can go stale. A
// command that starts with "go test" is this very test and is left out.
func TestReadmeCommands(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	var script strings.Builder
	n := 0
	for _, b := range block.FindAllStringSubmatch(string(readme), -1) {
		for line := range strings.SplitSeq(strings.TrimSpace(b[1]), "\n") {
			line, _, _ = strings.Cut(line, " # ")
			line = strings.TrimSpace(line)
			switch {
			case line == "" || strings.HasPrefix(line, "#") || strings.HasPrefix(line, "go test") || strings.HasPrefix(line, ".ci/") || strings.HasPrefix(line, "go build") || strings.HasPrefix(line, "cd "):
				continue
			case strings.HasPrefix(line, "go run ./cmd/tautline "):
				line = "tautline " + strings.TrimPrefix(line, "go run ./cmd/tautline ")
			case !strings.HasPrefix(line, "tautline "):
				t.Fatalf("README.md holds a command this test does not know: %q", line)
			}
			n++
			// The scripts know single quotes only.
			script.WriteString("exec " + strings.ReplaceAll(line, `"`, "'") + "\n")
		}
	}
	if n < 4 {
		t.Fatalf("only %d commands were found in README.md", n)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "readme.txtar"), []byte(script.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: dir,
		Setup: func(env *testscript.Env) error {
			return os.CopyFS(env.WorkDir, demo.Files())
		},
	})
}

// TestReadmeNamesEveryKeyOfTheRaceSheet holds the reference section of
// README.md to the sheet's own documentation.
func TestReadmeNamesEveryKeyOfTheRaceSheet(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	source, err := os.ReadFile(filepath.Join("..", "..", "strategy", "sheet", "read.go"))
	if err != nil {
		t.Fatal(err)
	}
	keys := regexp.MustCompile("`toml:\"([a-z_]+)\"`").FindAllStringSubmatch(string(source), -1)
	if len(keys) < 40 {
		t.Fatalf("only %d keys were found", len(keys))
	}
	for _, k := range keys {
		if !strings.Contains(string(readme), "`"+k[1]+"`") && !strings.Contains(string(readme), "`[["+k[1]+"]]`") && !strings.Contains(string(readme), "`["+k[1]+"]`") {
			t.Errorf("README.md does not explain the key %s", k[1])
		}
	}
}

// TestReadmeFilesAreGood reads the race sheets and the athlete files that
// README.md shows; an athlete file says so in its first line.
func TestReadmeFilesAreGood(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	sheets, athletes := 0, 0
	for _, f := range regexp.MustCompile("(?ms)^```toml\n(.*?)^```$").FindAllSubmatch(readme, -1) {
		if bytes.HasPrefix(f[1], []byte("# athlete\n")) {
			athletes++
			_, err = athlete.Read("README.md", f[1])
		} else {
			sheets++
			_, err = sheet.Read("README.md", f[1])
		}
		if err != nil {
			t.Error(err)
		}
	}
	if sheets == 0 || athletes == 0 {
		t.Errorf("README.md shows %d race sheets and %d athlete files", sheets, athletes)
	}
}
