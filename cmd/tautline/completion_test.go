package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// printed gives what a subcommand prints.
func printed(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if got := run(t.Context(), args, strings.NewReader(""), &out, &errs); got != exitDone {
		t.Fatalf("%v ended with %d: %s", args, got, errs.String())
	}
	return out.String()
}

// shell finds a shell, or skips.
func shell(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed: its completion is checked for structure only", name)
	}
	return path
}

// tree makes a folder with a file of each kind and gives its path.
func tree(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for _, name := range []string{"course.gpx", "RECORD.GPX", "race.toml", "squad.csv", "out.html", "review.json", "pack.zip", "two words.gpx"} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(dir, "sub"), 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

// completions are command lines, the cursor at their end, with all that must
// be offered.
var completions = []struct {
	line []string // after "tautline"
	want []string
}{
	{[]string{"rev"}, []string{"review"}},
	{[]string{"comp"}, []string{"completion"}},
	{[]string{"review", "--pa"}, []string{"--page"}},
	{[]string{"review", "course.gpx", "--watch", "10.2 km", "--wi"}, []string{"--width-doubt"}},
	{[]string{"line", "--units", ""}, []string{"km", "mi"}},
	{[]string{"line", "--course-is", "r"}, []string{"road"}},
	{[]string{"plan", "--uphill", "dav"}, []string{"davies-1980"}},
	{[]string{"plan", "--paper", ""}, []string{"A4", "letter"}},
	{[]string{"plan", "--goal", ""}, nil},
	{[]string{"review", "course.gpx", "--race", ""}, []string{"race.toml", "sub/"}},
	{[]string{"review", "c"}, []string{"course.gpx"}},
	{[]string{"review", ""}, []string{"RECORD.GPX", "course.gpx", "sub/", "two words.gpx"}},
	{[]string{"plan", "course.gpx", "--squad", "s"}, []string{"squad.csv", "sub/"}},
	{[]string{"plan", "course.gpx", "--from-review", "r"}, []string{"review.json"}},
	{[]string{"plan", "course.gpx", "--terrain", ""}, []string{"sub/"}},
	{[]string{"appraise", "course.gpx", "--measurement", "r"}, []string{"race.toml"}},
	{[]string{"season", "r"}, []string{"race.toml"}},
	{[]string{"field", "course.gpx", "p"}, []string{"pack.zip"}},
	{[]string{"help", "xyz"}, nil},
	{[]string{"help", "mea"}, []string{"measure"}},
	{[]string{"completion", ""}, []string{"bash", "fish", "zsh"}},
}

func TestBashCompletes(t *testing.T) {
	bash := shell(t, "bash")
	script := filepath.Join(t.TempDir(), "tautline.bash")
	if err := os.WriteFile(script, []byte(printed(t, "completion", "bash")), 0o644); err != nil {
		t.Fatal(err)
	}
	dir := tree(t)
	// What bash does with a command line: split it at spaces and, unless it
	// stands in quotes, at "=".
	complete := func(t *testing.T, words ...string) []string {
		t.Helper()
		c := exec.Command(bash, append([]string{"--norc", "-c", `
set -u
source "$1" || exit 1
complete -p tautline >/dev/null || exit 1
shift
COMP_WORDS=(tautline "$@")
COMP_CWORD=$#
_tautline tautline "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD-1]}"
for reply in ${COMPREPLY[@]+"${COMPREPLY[@]}"}; do
    [ -d "$reply" ] && reply="$reply/"   # readline's own doing with -o filenames
    printf '%s\n' "$reply"
done`, "bash", script}, words...)...)
		c.Dir = dir
		var errs bytes.Buffer
		c.Stderr = &errs
		out, err := c.Output()
		if err != nil || errs.Len() > 0 {
			t.Fatalf("%q: %v: %s", words, err, errs.String())
		}
		return lines(string(out))
	}
	for _, c := range completions {
		if got := complete(t, c.line...); !slices.Equal(got, c.want) {
			t.Errorf("tautline %q gives %q, want %q", c.line, got, c.want)
		}
	}
	for _, c := range []struct{ line, want []string }{
		{[]string{"line", "course.gpx", "--units", "="}, []string{"km", "mi"}},
		{[]string{"line", "course.gpx", "--units", "=", "m"}, []string{"mi"}},
		{[]string{"line", "course.gpx", "--race", "=", "ra"}, []string{"race.toml"}},
	} {
		if got := complete(t, c.line...); !slices.Equal(got, c.want) {
			t.Errorf("tautline %q gives %q, want %q", c.line, got, c.want)
		}
	}
	for _, d := range definitions() {
		got := complete(t, d.name, "--")
		want := []string{"--help"}
		for _, o := range d.options {
			want = append(want, "--"+o.name)
		}
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("%s offers %q, has %q", d.name, got, want)
		}
	}
}

// lines are the lines of a text, sorted.
func lines(s string) []string {
	var out []string
	for l := range strings.SplitSeq(s, "\n") {
		if l != "" {
			out = append(out, l)
		}
	}
	slices.Sort(out)
	return out
}

func TestFishCompletes(t *testing.T) {
	fish := shell(t, "fish")
	script := filepath.Join(t.TempDir(), "tautline.fish")
	if err := os.WriteFile(script, []byte(printed(t, "completion", "fish")), 0o644); err != nil {
		t.Fatal(err)
	}
	dir := tree(t)
	// All lines in one process: fish is slow to begin.
	ask := "source " + script + "\n"
	for _, c := range completions {
		var typed []string
		for i, w := range c.line {
			if i < len(c.line)-1 && strings.Contains(w, " ") {
				w = `"` + w + `"`
			}
			typed = append(typed, w)
		}
		ask += "echo '#'; complete -C 'tautline " + strings.Join(typed, " ") + "'\n"
	}
	c := exec.Command(fish, "--no-config", "-c", ask)
	c.Dir = dir
	c.Env = append(os.Environ(), "HOME="+dir)
	out, err := c.CombinedOutput()
	answers := strings.Split(string(out), "#\n")
	if err != nil || len(answers) != len(completions)+1 {
		t.Fatalf("%v: %s", err, out)
	}
	for i, c := range completions {
		var got []string
		for _, l := range lines(answers[i+1]) {
			word, _, _ := strings.Cut(l, "\t")
			got = append(got, strings.ReplaceAll(word, `\ `, " "))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("tautline %q gives %q, want %q", c.line, got, c.want)
		}
	}
}

// In zsh the options go through a function of the shell's own that works in a
// real command line only; here a stand-in shows what it is given.
func TestZshIsGivenEveryOption(t *testing.T) {
	zsh := shell(t, "zsh")
	script := filepath.Join(t.TempDir(), "_tautline")
	if err := os.WriteFile(script, []byte(printed(t, "completion", "zsh")), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(zsh, "-n", script).CombinedOutput(); err != nil || len(out) > 0 {
		t.Fatalf("%v: %s", err, out)
	}
	for _, d := range definitions() {
		out, err := exec.Command(zsh, "-f", "-c", `
compdef() { : }
_describe() { print -l -- "$names[@]" }
_arguments() {
  if [ "$1" = -C ]; then state=rest; words=("$sub"); return 1; fi
  print -l -- "$@"
}
sub="$2"
source "$1"
_tautline`, "zsh", script, d.name).CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v: %s", d.name, err, out)
		}
		got := string(out)
		for _, o := range d.options {
			spec := "--" + o.name
			if o.value != "" {
				spec += "="
			}
			if o.repeated {
				spec = "*" + spec
			}
			if !strings.Contains("\n"+got, "\n"+spec+"[") {
				t.Errorf("%s: %s is not among %s", d.name, spec, got)
			}
		}
		if d.name == "line" && (!strings.Contains(got, `:SHEET:_files -g "*.(toml|TOML)"`) || !strings.Contains(got, ":UNITS:(km mi)") || !strings.Contains(got, `*:COURSE:_files -g "*.(gpx|GPX)"`)) {
			t.Errorf("values of line are given as %s", got)
		}
	}
}

// Without the shells at hand every script still names every subcommand and
// option.
func TestEveryScriptHoldsEverySubcommandAndOption(t *testing.T) {
	for _, name := range shellNames() {
		script := printed(t, "completion", name)
		for _, d := range definitions() {
			for _, o := range d.options {
				if !strings.Contains(script, "--"+o.name) && !strings.Contains(script, "-l "+o.name) {
					t.Errorf("%s: --%s of %s is missing", name, o.name, d.name)
				}
			}
			if !strings.Contains(script, d.name) {
				t.Errorf("%s: %s is missing", name, d.name)
			}
		}
	}
}

// A file option whose text does not say what kind of file would be completed
// with any file; only the state of a field may have any name.
func TestEveryOptionSaysWhatItTakes(t *testing.T) {
	found := 0
	for _, d := range definitions() {
		for _, o := range d.options {
			if o.takes.file {
				found++
				if o.takes.endings == nil && o.name != "state" {
					t.Errorf("--%s of %s does not say what kind of file it takes: %s", o.name, d.name, o.what)
				}
			}
			if slices.Contains(fixed, o.value) && len(o.takes.words) < 2 {
				t.Errorf("--%s of %s does not list its values in quotes: %s", o.name, d.name, o.what)
			}
		}
	}
	if found < 30 {
		t.Errorf("only %d options take files", found)
	}
}

func TestAnUnknownShellIsWrongUsage(t *testing.T) {
	var out, errs bytes.Buffer
	if got := run(t.Context(), []string{"completion", "fsh"}, strings.NewReader(""), &out, &errs); got != exitUsage || !strings.Contains(errs.String(), `did you mean "fish"?`) {
		t.Errorf("status %d, %q", got, errs.String())
	}
}
