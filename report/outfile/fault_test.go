package outfile_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"tautline/report/outfile"
)

// writer is the variable that makes this test program write three files to
// the folder that it names, and nothing else.
const writer = "OUTFILE_TEST_WRITER"

func TestMain(m *testing.M) {
	if dir := os.Getenv(writer); dir != "" {
		var s outfile.Set
		for _, name := range names {
			s.Add(filepath.Join(dir, name), fresh)
		}
		if err := s.Write(); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

var (
	names = []string{"a.txt", "b.txt", "c.txt"}
	fresh = bytes.Repeat([]byte("new "), 8<<20)
)

// write runs the writer in a process of its own.
func write(t *testing.T, dir string, before ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	if len(before) > 0 {
		c = exec.Command("sh", "-c", strings.Join(before, "; ")+`; exec "$0"`, self)
	}
	c.Env = append(os.Environ(), writer+"="+dir)
	return c
}

// old fills a folder with earlier files.
func old(t *testing.T, dir string) {
	t.Helper()
	for _, name := range names {
		put(t, filepath.Join(dir, name), "old "+name)
	}
}

// intact says whether every file is the earlier one or whole.
func intact(t *testing.T, dir string) (isNew int) {
	t.Helper()
	for _, name := range names {
		b, err := os.ReadFile(filepath.Join(dir, name))
		switch {
		case err != nil:
			t.Error(err)
		case bytes.Equal(b, fresh):
			isNew++
		case string(b) != "old "+name:
			t.Errorf("%s is half written: %d bytes", name, len(b))
		}
	}
	return isNew
}

var partial = regexp.MustCompile(`^\.tautline-[0-9]+\.part$`)

// leftovers are the names in a folder that are none of the files.
func leftovers(t *testing.T, dir string) []string {
	t.Helper()
	var out []string
	for name := range strings.FieldsSeq(folder(t, dir)) {
		if !strings.HasSuffix(name, ".txt") {
			out = append(out, name)
		}
	}
	return out
}

// A program that is killed while it writes leaves the earlier files, beside
// them at most parts whose names tell what they are, and a later run is not
// troubled by those.
func TestAWriterThatIsKilledLeavesTheEarlierFiles(t *testing.T) {
	dir := t.TempDir()
	midst := 0
	for try := 0; try < 12 && midst < 3; try++ {
		old(t, dir)
		before := len(leftovers(t, dir))
		c := write(t, dir)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		// Wait for one part more on each try, up to all three.
		for end := time.Now().Add(20 * time.Second); len(leftovers(t, dir)) <= before+try%3 && time.Now().Before(end); {
			time.Sleep(200 * time.Microsecond)
		}
		if err := c.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = c.Wait()
		if n := intact(t, dir); n == 0 {
			midst++ // before any was put in place
		}
		for _, name := range leftovers(t, dir) {
			if !partial.MatchString(name) {
				t.Errorf("a killed run has left %q", name)
			}
		}
	}
	if midst == 0 {
		t.Error("no run was killed while it was writing")
	}
	parts := leftovers(t, dir)
	if out, err := write(t, dir).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if intact(t, dir) != len(names) || len(leftovers(t, dir)) != len(parts) {
		t.Errorf("a later run gave %s", folder(t, dir))
	}
}

// A limit on the size of files is as good as a full disk, and needs no rights.
func TestAFileThatMayNotGrowLeavesTheEarlierFiles(t *testing.T) {
	if _, err := exec.LookPath("sh"); err != nil {
		t.Skip("no shell sets limits here")
	}
	dir := t.TempDir()
	old(t, dir)
	out, err := write(t, dir, "ulimit -f 64 || exit 7").CombinedOutput()
	if exit, ok := err.(*exec.ExitError); ok && exit.ExitCode() == 7 {
		t.Skipf("no limit can be set here: %s", out)
	}
	if err == nil || !strings.Contains(string(out), "cannot be written: file too large") || !strings.Contains(string(out), "nothing was written") {
		t.Errorf("%v: %s", err, out)
	}
	if intact(t, dir) != 0 || len(leftovers(t, dir)) != 0 {
		t.Errorf("the folder holds %s", folder(t, dir))
	}
}

func TestADiskThatFillsLeavesTheEarlierFiles(t *testing.T) {
	dir := t.TempDir()
	// Room for two of the three files.
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=80m", "none", dir).CombinedOutput(); err != nil {
		t.Skipf("no file system can be mounted here: %s", out)
	}
	defer func() {
		if out, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("%v: %s", err, out)
		}
	}()
	old(t, dir)
	var s outfile.Set
	for _, name := range names {
		s.Add(filepath.Join(dir, name), fresh)
	}
	if err := s.Write(); err == nil || !strings.Contains(err.Error(), "c.txt: the file cannot be written: no space left on device") {
		t.Errorf("error is %v", err)
	}
	if intact(t, dir) != 0 || len(leftovers(t, dir)) != 0 {
		t.Errorf("the folder holds %s", folder(t, dir))
	}

	if out, err := exec.Command("mount", "-o", "remount,ro", dir).CombinedOutput(); err != nil {
		t.Skipf("it cannot be made read only: %s", out)
	}
	s = outfile.Set{}
	s.Add(filepath.Join(dir, "a.txt"), []byte("small"))
	if err := s.Write(); err == nil || !strings.Contains(err.Error(), "read-only file system") {
		t.Errorf("error is %v", err)
	}
	if intact(t, dir) != 0 || len(leftovers(t, dir)) != 0 {
		t.Errorf("the folder holds %s", folder(t, dir))
	}
}
