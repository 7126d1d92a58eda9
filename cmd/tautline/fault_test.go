package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"tautline/strategy/demo"
)

// program runs tautline as a process of its own in a folder.
func program(t *testing.T, dir string, args ...string) *exec.Cmd {
	t.Helper()
	path, err := exec.LookPath("tautline")
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(path, args...)
	c.Dir = dir
	return c
}

// ended gives the exit status and standard error of a process.
func ended(t *testing.T, c *exec.Cmd) (status int, errs string) {
	t.Helper()
	var b bytes.Buffer
	c.Stderr = &b
	err := c.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return c.ProcessState.ExitCode(), b.String()
}

// demoFolder is a folder with the files of the demo.
func demoFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, demo.Files()); err != nil {
		t.Fatal(err)
	}
	return dir
}

// inFolder are the files of a folder and what they hold.
func inFolder(t *testing.T, dir string) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, e := range entries {
		b, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil && !e.IsDir() {
			t.Fatal(err)
		}
		out[e.Name()] = string(b)
	}
	return out
}

func same(a, b map[string]string) bool {
	for name := range b {
		if _, ok := a[name]; !ok {
			return false
		}
	}
	for name, content := range a {
		if other, ok := b[name]; !ok || other != content {
			return false
		}
	}
	return true
}

// mounted makes a folder that is a small file system of its own, or skips.
func mounted(t *testing.T, options string) string {
	t.Helper()
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", options, "none", dir).CombinedOutput(); err != nil {
		t.Skipf("no file system can be mounted here: %s", out)
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("%v: %s", err, out)
		}
	})
	return dir
}

// writing are runs that write files to a folder, each more than 16 KB.
func writing(to string) [][]string {
	at := func(name string) string { return filepath.Join(to, name) }
	return [][]string{
		{"line", "course.gpx", "--race", "race.toml", "--gpx", at("line.gpx"), "--geojson", at("line.geojson"), "--page", at("line.html")},
		{"review", "course.gpx", "wide.gpx", "--race", "race.toml", "--page", at("review.html")},
		{"plan", "course.gpx", "--race", "race.toml", "--goal", "45:00", "--csv", at("splits.csv"), "--gpx", at("marks.gpx"), "--band", at("band.html"), "--page", at("plan.html")},
		{"field", "course.gpx", "wide.gpx", "--race", "race.toml", "--state", at("state.json")},
		{"demo", "--out", at("velmarrow")},
	}
}

func TestAFullDiskIsToldAndLeavesEarlierFiles(t *testing.T) {
	t.Parallel()
	files := demoFolder(t)
	disk := mounted(t, "size=28k")
	earlier := map[string]string{"line.gpx": "an earlier line", "line.html": "an earlier page", "splits.csv": "an earlier table"}
	for name, text := range earlier {
		if err := os.WriteFile(filepath.Join(disk, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, args := range writing(disk) {
		status, errs := ended(t, program(t, files, args...))
		if status != exitInput || !strings.Contains(errs, "no space left on device") || !strings.Contains(errs, "tautline: "+disk) {
			t.Errorf("%s: status %d, %s", args[0], status, errs)
		}
		if got := inFolder(t, disk); !same(got, earlier) {
			t.Errorf("%s: the disk holds %d files, not the earlier ones alone", args[0], len(got))
		}
	}
}

func TestAFileSystemThatIsReadOnlyIsTold(t *testing.T) {
	t.Parallel()
	files := demoFolder(t)
	disk := mounted(t, "size=1m")
	if out, err := exec.Command("mount", "-o", "remount,ro", disk).CombinedOutput(); err != nil {
		t.Skipf("it cannot be made read only: %s", out)
	}
	for _, args := range writing(disk) {
		status, errs := ended(t, program(t, files, args...))
		if status != exitInput || !strings.Contains(errs, "read-only file system") {
			t.Errorf("%s: status %d, %s", args[0], status, errs)
		}
	}
}

// The device that is always full stands for a full disk below a redirection.
func TestAFullStandardOutputIsTold(t *testing.T) {
	t.Parallel()
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip("there is no device that is always full")
	}
	defer full.Close()
	files := demoFolder(t)
	c := program(t, files, "line", "course.gpx", "--json")
	c.Stdout = full
	if status, errs := ended(t, c); status != exitInput || !strings.Contains(errs, "standard output: write /dev/stdout: no space left on device") {
		t.Errorf("status %d, %s", status, errs)
	}
}

// A run that is interrupted or killed at whatever moment leaves either the
// earlier file or the whole new one; an interrupt leaves nothing else.
func TestARunThatIsStoppedAtAnyMomentLeavesWholeFiles(t *testing.T) {
	t.Parallel()
	files := demoFolder(t)
	to := t.TempDir()
	args := writing(to)[0]
	begun := time.Now()
	if status, errs := ended(t, program(t, files, args...)); status != exitDone {
		t.Fatalf("status %d, %s", status, errs)
	}
	whole := time.Since(begun)
	fresh := inFolder(t, to)
	partial := regexp.MustCompile(`^\.tautline-[0-9]+\.part$`)
	stopped := map[os.Signal]int{}
	signals := []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGKILL}
	const tries, most = 5, 40
	for _, signal := range signals {
		after := 20 * time.Millisecond
		// On a busy machine a moment in the midst must be looked for.
		for k := 0; k < tries || stopped[signal] == 0 && k < most; k++ {
			old := map[string]string{}
			for name := range fresh {
				old[name] = "earlier " + name
				if err := os.WriteFile(filepath.Join(to, name), []byte(old[name]), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			c := program(t, files, args...)
			var errs bytes.Buffer
			c.Stderr = &errs
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			time.Sleep(after)
			_ = c.Process.Signal(signal)
			_ = c.Wait()
			status := c.ProcessState.ExitCode()
			got := inFolder(t, to)
			for name := range got {
				if partial.MatchString(name) && signal == syscall.SIGKILL {
					if err := os.Remove(filepath.Join(to, name)); err != nil {
						t.Fatal(err)
					}
					delete(got, name)
				}
			}
			if after += whole / tries; k >= tries && status == exitDone {
				after = whole / 10
			}
			switch {
			case status == exitDone:
				if !same(got, fresh) {
					t.Errorf("%v: done, but the files are not those of a whole run", signal)
				}
			case signal == syscall.SIGKILL:
				stopped[signal]++
				for name, content := range got {
					if content != old[name] && content != fresh[name] {
						t.Errorf("killed: %s is neither the earlier file nor the whole new one", name)
					}
				}
			case status == -1 && errs.Len() == 0:
				// The signal came before the program listened to it.
				if !same(got, old) {
					t.Errorf("%v at the very beginning: something was written", signal)
				}
			default:
				stopped[signal]++
				if status != exitInterrupted || errs.String() != "tautline: interrupted; nothing was written\n" {
					t.Errorf("%v: status %d, %q", signal, status, errs.String())
				}
				if !same(got, old) {
					t.Errorf("%v: something was written", signal)
				}
			}
		}
	}
	for _, signal := range signals {
		if stopped[signal] == 0 {
			t.Errorf("no run was stopped by %v", signal)
		}
	}
}

// Between the end of the work and the files there is a moment; an interrupt that
// comes then must not pass for done.
func TestAnInterruptAtTheLastMomentDoesNotPassForDone(t *testing.T) {
	ctx, interrupt := context.WithCancel(t.Context())
	interrupt()
	failed := errors.New("it failed")
	for _, c := range []struct {
		name      string
		ctx       context.Context
		patient   bool
		err, want error
		placed    bool
	}{
		{"done", t.Context(), false, nil, nil, true},
		{"done but for some inputs", t.Context(), false, errSomeRefused, errSomeRefused, true},
		{"failed", t.Context(), false, failed, failed, false},
		{"interrupted", ctx, false, nil, context.Canceled, false},
		{"interrupted, and some inputs were refused", ctx, false, errSomeRefused, context.Canceled, false},
		{"interrupted, which is how it ends", ctx, true, nil, nil, false},
	} {
		path := filepath.Join(t.TempDir(), "a.txt")
		var e env
		e.patient.Store(c.patient)
		e.files.Add(path, []byte("new"))
		placed, err := e.place(c.ctx, c.err)
		_, missing := os.Stat(path)
		if placed != c.placed || !errors.Is(err, c.want) || (c.want == nil) != (err == nil) || (missing == nil) != c.placed {
			t.Errorf("%s: placed %v, %v; the file: %v", c.name, placed, err, missing)
		}
	}
}

// An interrupt ends a run whose output nobody takes, after the files are in
// place.
func TestAnInterruptEndsARunThatNobodyReads(t *testing.T) {
	t.Parallel()
	files := demoFolder(t)
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	// A pipe that is full already.
	if err := w.SetWriteDeadline(time.Now().Add(100 * time.Millisecond)); err != nil {
		t.Skip("no pipe can be filled here")
	}
	if _, err := w.Write(make([]byte, 1<<20)); err == nil {
		t.Fatal("the pipe took everything")
	}
	c := program(t, files, "line", "course.gpx", "--json", "--gpx", "line.gpx")
	var errs bytes.Buffer
	c.Stdout, c.Stderr = w, &errs
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	_ = w.Close()
	for end := time.Now().Add(time.Minute); ; time.Sleep(5 * time.Millisecond) {
		if _, err := os.Stat(filepath.Join(files, "line.gpx")); err == nil {
			break
		}
		if time.Now().After(end) {
			t.Fatal("it writes nothing")
		}
	}
	time.Sleep(50 * time.Millisecond)
	if err := c.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	gone := make(chan error, 1)
	go func() { gone <- c.Wait() }()
	select {
	case <-gone:
	case <-time.After(time.Minute):
		_ = c.Process.Kill()
		t.Fatal("it does not end")
	}
	if status := c.ProcessState.ExitCode(); status != exitInterrupted || !strings.Contains(errs.String(), "not taken to its end") {
		t.Errorf("status %d, %s", status, errs.String())
	}
}

// crowd fills a folder with records of the demo's runners, each told from the
// others by a space at its end.
func crowd(t *testing.T, dir string, n int) {
	t.Helper()
	for k := range n {
		b, err := fs.ReadFile(demo.Files(), []string{"careful.gpx", "wide.gpx", "poor-watch.gpx"}[k%3])
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%02d.gpx", k)), append(b, strings.Repeat("\n", k)...), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// A field that is interrupted or killed, again and again, comes to the state
// that one run comes to, to the byte.
func TestAFieldThatIsStoppedGoesOnToTheSameState(t *testing.T) {
	t.Parallel()
	files := demoFolder(t)
	records := t.TempDir()
	crowd(t, records, 7)
	to := t.TempDir()
	run := func(state string) *exec.Cmd {
		return program(t, files, "field", "course.gpx", records, "--race", "race.toml", "--state", filepath.Join(to, state), "--json")
	}
	begun := time.Now()
	if status, errs := ended(t, run("whole")); status != exitDone {
		t.Fatalf("status %d, %s", status, errs)
	}
	whole := time.Since(begun)
	want := inFolder(t, to)["whole"]
	kept := 0
	for k, signal := range []os.Signal{os.Interrupt, syscall.SIGKILL, syscall.SIGHUP, syscall.SIGTERM} {
		c := run("parts")
		var errs bytes.Buffer
		c.Stderr = &errs
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(20*time.Millisecond + whole*time.Duration(k+1)/8)
		_ = c.Process.Signal(signal)
		_ = c.Wait()
		status := c.ProcessState.ExitCode()
		early := status == -1 && errs.Len() == 0 // before the program listened
		if signal != syscall.SIGKILL && status != exitDone && status != exitInterrupted && !early {
			t.Errorf("%v: status %d, %s", signal, status, errs.String())
		}
		if b, err := os.ReadFile(filepath.Join(to, "parts")); err == nil {
			kept++
			if !json.Valid(b) {
				t.Errorf("%v: the state is half written", signal)
			}
		}
	}
	if kept == 0 {
		t.Error("no interrupted run kept what it had")
	}
	if status, errs := ended(t, run("parts")); status != exitDone {
		t.Fatalf("status %d, %s", status, errs)
	}
	if got := inFolder(t, to); got["parts"] != want {
		t.Error("in parts it came to another state")
	}
}

// A state file that is half written or spoilt is told, and is left as it is.
func TestASpoiltStateIsToldAndLeft(t *testing.T) {
	t.Parallel()
	files := demoFolder(t)
	state := filepath.Join(files, "state")
	args := []string{"field", "course.gpx", "wide.gpx", "--race", "race.toml", "--state", state}
	if status, errs := ended(t, program(t, files, args...)); status != exitDone {
		t.Fatalf("status %d, %s", status, errs)
	}
	good, err := os.ReadFile(state)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name    string
		content []byte
	}{
		{"nothing in it", nil},
		{"its first half", good[:len(good)/2]},
		{"all but the last byte", good[:len(good)-1]},
		{"zeros, as after a loss of power", make([]byte, len(good))},
		{"another kind of file", []byte("<gpx/>")},
		{"a count that cannot be", bytes.Replace(good, []byte(`"out":0`), []byte(`"out":99`), 1)},
	} {
		if bytes.Equal(c.content, good) {
			t.Fatalf("%s: nothing was spoilt", c.name)
		}
		if err := os.WriteFile(state, c.content, 0o644); err != nil {
			t.Fatal(err)
		}
		status, errs := ended(t, program(t, files, args...))
		if status != exitInput || !strings.HasPrefix(errs, "tautline: "+state+": ") || strings.Count(errs, "\n") != 1 || !strings.Contains(errs, "(") {
			t.Errorf("%s: status %d, %s", c.name, status, errs)
		}
		if b, _ := os.ReadFile(state); !bytes.Equal(b, c.content) {
			t.Errorf("%s: the file was changed", c.name)
		}
	}
}

// A server that is killed in the middle of a request leaves whole files, and
// the next one takes its place at the same address and folder.
func TestAServerThatIsKilledLeavesWholeFilesAndCanBeginAgain(t *testing.T) {
	t.Parallel()
	keep := t.TempDir()
	address := "127.0.0.1:0"
	whole := map[string]string{}
	var takes time.Duration
	for k := range 5 {
		c := program(t, t.TempDir(), "serve", "--address", address, "--keep", keep)
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		var errs bytes.Buffer
		c.Stderr = &errs
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		defer func() { _ = c.Process.Kill() }()
		line := make([]byte, 100)
		n, err := out.Read(line)
		if err != nil {
			_ = c.Wait()
			t.Fatalf("it says nothing: %v, %s", err, errs.String())
		}
		url := strings.TrimSpace(string(line[:n]))
		address = strings.TrimSuffix(strings.TrimPrefix(url, "http://"), "/")
		asked := make(chan error, 1)
		begun := time.Now()
		go func() {
			res, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }, Transport: &http.Transport{DisableKeepAlives: true}}).
				Post(url+"demo/measuring", "", nil)
			if err == nil {
				_ = res.Body.Close()
			}
			asked <- err
		}()
		if k == 0 { // the first is let work to the end: its files are whole
			if err := <-asked; err != nil {
				t.Fatal(err)
			}
			whole = inFolder(t, filepath.Join(keep, "velmarrow-lantern-10-measuring"))
			if len(whole) < 4 {
				t.Fatalf("only %d files were kept", len(whole))
			}
			takes = time.Since(begun)
		} else {
			time.Sleep(takes * time.Duration(k) / 4)
		}
		if err := c.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = c.Wait()
		if k > 0 {
			<-asked
		}
	}
	folders, err := os.ReadDir(keep)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range folders {
		for name, content := range inFolder(t, filepath.Join(keep, f.Name())) {
			hidden := strings.HasPrefix(name, ".") && strings.HasSuffix(name, ".part")
			if content != whole[name] && !hidden {
				t.Errorf("%s/%s is half written: %d bytes", f.Name(), name, len(content))
			}
		}
	}
}

var moment = regexp.MustCompile(`<time>([^<]+)</time>`)

// shifted gives a record whose k-th time is what set makes of it.
func shifted(t *testing.T, gpx []byte, set func(k, of int, at time.Time) time.Time) []byte {
	t.Helper()
	of := len(moment.FindAll(gpx, -1))
	k := -1
	return moment.ReplaceAllFunc(gpx, func(m []byte) []byte {
		at, err := time.Parse(time.RFC3339, string(moment.FindSubmatch(m)[1]))
		if err != nil {
			t.Fatal(err)
		}
		k++
		return []byte("<time>" + set(k, of, at).UTC().Format(time.RFC3339) + "</time>")
	})
}

// A watch whose clock ran backwards, was set back in the middle or stood still
// is reviewed or refused in words, and no figure of its review is impossible.
func TestRecordsWhoseClockGoesBackwards(t *testing.T) {
	t.Parallel()
	files := demoFolder(t)
	good, err := os.ReadFile(filepath.Join(files, "wide.gpx"))
	if err != nil {
		t.Fatal(err)
	}
	begin, err := time.Parse(time.RFC3339, string(moment.FindSubmatch(good)[1]))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		set  func(k, of int, at time.Time) time.Time
	}{
		{"the whole record backwards", func(k, _ int, at time.Time) time.Time { return begin.Add(-at.Sub(begin)) }},
		{"set back by an hour half way", func(k, of int, at time.Time) time.Time {
			if k > of/2 {
				return at.Add(-time.Hour)
			}
			return at
		}},
		{"set back by two seconds every minute", func(k, _ int, at time.Time) time.Time { return at.Add(-time.Duration(k/60) * 2 * time.Second) }},
		{"one fix in the year 1980", func(k, of int, at time.Time) time.Time {
			if k == of/3 {
				return time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC)
			}
			return at
		}},
		{"the clock stands still", func(int, int, time.Time) time.Time { return begin }},
		{"every second fix a second early", func(k, _ int, at time.Time) time.Time { return at.Add(-time.Duration(k%2) * 2 * time.Second) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			if err := os.WriteFile(filepath.Join(files, "odd.gpx"), shifted(t, good, c.set), 0o644); err != nil {
				t.Fatal(err)
			}
			x := program(t, files, "review", "course.gpx", "odd.gpx", "--race", "race.toml", "--watch", "10.22 km", "--goal", "45:00", "--json", "--page", "odd.html")
			var out bytes.Buffer
			x.Stdout = &out
			status, errs := ended(t, x)
			if status == exitInput && strings.HasPrefix(errs, "tautline: odd.gpx: ") {
				t.Logf("refused: %s", errs)
				return
			}
			if status != exitDone {
				t.Fatalf("status %d, %s", status, errs)
			}
			var v struct {
				OfficialM float64                                    `json:"official_m"`
				WatchM    float64                                    `json:"watch_m"`
				Ledger    []struct{ Metres struct{ Value float64 } } `json:"ledger"`
				Warnings  []string                                   `json:"warnings"`
			}
			if err := json.Unmarshal(out.Bytes(), &v); err != nil {
				t.Fatal(err)
			}
			sum := 0.0
			for _, l := range v.Ledger {
				sum += l.Metres.Value
			}
			if math.Abs(sum-(v.WatchM-v.OfficialM)) > 0.05 {
				t.Errorf("the account does not close: %g, not %g", sum, v.WatchM-v.OfficialM)
			}
			t.Logf("reviewed, with %q", v.Warnings)
			noNegativeTimes(t, out.Bytes())
		})
	}
}

// noNegativeTimes looks at every time and pace of a document.
func noNegativeTimes(t *testing.T, document []byte) {
	t.Helper()
	var v any
	if err := json.Unmarshal(document, &v); err != nil {
		t.Fatal(err)
	}
	var walk func(at string, v any)
	walk = func(at string, v any) {
		switch v := v.(type) {
		case map[string]any:
			for k, x := range v {
				if f, ok := x.(float64); ok && f < 0 && slices.Contains([]string{"elapsed_s", "even_elapsed_s", "planned_s", "run_s", "time_s", "pace_s_per_km", "flat_pace_s_per_km"}, k) {
					t.Errorf("%s.%s is %g", at, k, f)
				}
				walk(at+"."+k, x)
			}
		case []any:
			for i, x := range v {
				walk(fmt.Sprintf("%s[%d]", at, i), x)
			}
		}
	}
	walk("", v)
}

// A machine whose clock has fallen back to the year 2000 plans, reviews and
// forecasts as on any day, or says that the races lie ahead of it.
func TestTheMachinesClockIsYearsBehind(t *testing.T) {
	files := demoFolder(t)
	athlete := filepath.Join(files, "bram.toml")
	if err := os.WriteFile(athlete, []byte("name = \"Bram Oddley\"\ngoal = \"45:30\"\n[[race]]\nname = \"Ottery Five\"\ndate = 2027-03-28\ndistance = \"5 km\"\ntime = \"21:15\"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	at := func(name string) string { return filepath.Join(files, name) }
	for _, args := range [][]string{
		{"review", at("course.gpx"), at("wide.gpx"), "--race", at("race.toml"), "--goal", "45:00", "--page", at("review.html")},
		{"plan", at("course.gpx"), "--race", at("race.toml"), "--athlete", athlete, "--page", at("plan.html")},
		{"forecast", "--distance", "10 km", "--athlete", athlete},
		{"forecast", at("course.gpx"), "--race", at("race.toml"), "--athlete", athlete},
		{"brief", at("course.gpx"), "--race", at("race.toml"), "--athlete", athlete, "--page", at("brief.html")},
	} {
		synctest.Test(t, func(t *testing.T) {
			if time.Now().Year() != 2000 {
				t.Fatalf("the clock says %v", time.Now())
			}
			var out, errs bytes.Buffer
			status := run(t.Context(), args, strings.NewReader(""), &out, &errs)
			said := strings.Count(errs.String(), "\n")
			if !(status == exitDone || status == exitInput && said == 1 && strings.Contains(errs.String(), "tautline: ")) {
				t.Errorf("%s: status %d, %s", args[0], status, errs.String())
			}
			if status == exitInput {
				t.Logf("%s says: %s", args[0], errs.String())
			}
			// A review prints differences from the goal, which may be negative.
			negative := args[0] != "review" && regexp.MustCompile(`-\d+:\d\d`).Match(out.Bytes())
			if negative || bytes.Contains(out.Bytes(), []byte("NaN")) {
				t.Errorf("%s prints an impossible time: %s", args[0], out.String())
			}
		})
	}
}

// Progress and what is left of it count on a clock that nobody can set.
func TestProgressNeverSaysLessThanNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		show := progressOf(&oneAtATime{w: &out}, "records")
		for k := 1; k <= 10; k++ {
			time.Sleep(time.Second)
			show(k, 10)
		}
		if got := out.String(); !strings.Contains(got, "5 of 10 records, 0:05 left") || strings.Contains(got, "-") || !strings.HasSuffix(got, "10 of 10 records") {
			t.Errorf("it says %q", got)
		}
	})
}
