package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"tautline": main})
}

// TestScripts runs the program as people do: each script is a folder of files
// and the commands to try on them.
func TestScripts(t *testing.T) {
	dir := filepath.Join("testdata", "script")
	found, err := filepath.Glob(filepath.Join(dir, "*.txtar"))
	if err != nil || len(found) == 0 {
		t.Fatalf("no scripts in %s: %v", dir, err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 dir,
		RequireExplicitExec: true,
		Setup:               copyCourse,
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"status":  exitStatus,
			"only":    onlyFiles,
			"fits":    linesFit,
			"oneline": oneLine,
		},
	})
}

// copyCourse puts the course that all scripts share into their folder.
func copyCourse(env *testscript.Env) error {
	b, err := os.ReadFile(filepath.Join("testdata", "course.gpx"))
	if err != nil {
		return err
	}
	env.Setenv("NO_COLOR", "")
	return os.WriteFile(filepath.Join(env.WorkDir, "course.gpx"), b, 0o644)
}

// exitStatus runs a command and compares its exit status:
// status 2 tautline lien
func exitStatus(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N command...")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := "0"
	if err != nil {
		got = strings.TrimPrefix(err.Error(), "exit status ")
	}
	if got != args[0] {
		ts.Fatalf("exit status %s, want %s", got, args[0])
	}
}

// onlyFiles says which files are there, so that nothing is left behind:
// only course.gpx race.toml
func onlyFiles(ts *testscript.TestScript, neg bool, args []string) {
	entries, err := os.ReadDir(ts.MkAbs("."))
	ts.Check(err)
	var got []string
	for _, e := range entries {
		if e.Name() != ".tmp" {
			got = append(got, e.Name())
		}
	}
	if strings.Join(got, " ") != strings.Join(args, " ") {
		ts.Fatalf("the folder holds %v, want %v", got, args)
	}
}

// linesFit checks that no line of stdout is wider than N characters: fits 40
func linesFit(ts *testscript.TestScript, neg bool, args []string) {
	widths := map[string]int{"40": 40, "60": 60, "80": 80, "100": 100}
	width, ok := widths[args[0]]
	out := ts.ReadFile("stdout")
	if !ok || out == "" {
		ts.Fatalf("fits needs 40, 60, 80 or 100 and an output")
	}
	for l := range strings.SplitSeq(out, "\n") {
		if n := len([]rune(l)); n > width {
			ts.Fatalf("a line of %d characters: %q", n, l)
		}
	}
}

// oneLine checks that stderr is exactly one line.
func oneLine(ts *testscript.TestScript, neg bool, args []string) {
	if out := ts.ReadFile("stderr"); strings.Count(out, "\n") != 1 {
		ts.Fatalf("stderr is not one line: %q", out)
	}
}

// An interrupt ends a run that waits, at once, with status 130 and nothing
// written.
func TestAnInterruptEndsTheRun(t *testing.T) {
	dir := t.TempDir()
	ctx, interrupt := context.WithCancel(t.Context())
	never, _ := io.Pipe()
	var out, errs bytes.Buffer
	done := make(chan int)
	go func() {
		done <- run(ctx, []string{"line", "-", "--gpx", filepath.Join(dir, "out.gpx")}, never, &out, &errs)
	}()
	interrupt()
	select {
	case got := <-done:
		if got != exitInterrupted {
			t.Errorf("exit status %d, want %d", got, exitInterrupted)
		}
	case <-time.After(time.Minute):
		t.Fatal("the run goes on")
	}
	if out.Len() > 0 || errs.String() != "tautline: interrupted; nothing was written\n" {
		t.Errorf("stdout %q, stderr %q", out.String(), errs.String())
	}
	if left, _ := os.ReadDir(dir); len(left) > 0 {
		t.Errorf("the folder holds %v", left)
	}
}

// A standard output that takes nothing is an error, not a success.
func TestAFullStandardOutputIsAnError(t *testing.T) {
	var errs bytes.Buffer
	if got := run(t.Context(), []string{"version"}, strings.NewReader(""), full{}, &errs); got != exitInput {
		t.Errorf("exit status %d, want %d", got, exitInput)
	}
	if !strings.Contains(errs.String(), "cannot be written to standard output") {
		t.Errorf("stderr %q", errs.String())
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, io.ErrShortWrite }

func TestEverySubcommandExplainsItself(t *testing.T) {
	for _, c := range commands() {
		t.Run(c.name, func(t *testing.T) {
			if c.summary == "" || c.for_ == "" || c.run == nil {
				t.Errorf("%+v is incomplete", c)
			}
			var out, errs bytes.Buffer
			if got := run(t.Context(), []string{"help", c.name}, strings.NewReader(""), &out, &errs); got != exitDone || errs.Len() > 0 {
				t.Errorf("exit status %d, stderr %q", got, errs.String())
			}
			if !strings.Contains(strings.Join(strings.Fields(out.String()), " "), c.summary) && c.name != "help" {
				t.Errorf("the help lacks the summary:\n%s", out.String())
			}
		})
	}
}
