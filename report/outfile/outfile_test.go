package outfile_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tautline/report/outfile"
)

// folder lists the names in a folder, so that a test can see that nothing is
// left behind.
func folder(t *testing.T, dir string) string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return strings.Join(names, " ")
}

func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestFilesAreWrittenTogether(t *testing.T) {
	dir := t.TempDir()
	var s outfile.Set
	s.Add(filepath.Join(dir, "a.txt"), []byte("one"))
	s.Add(filepath.Join(dir, "b.txt"), []byte("two"))
	if err := s.Write(); err != nil {
		t.Fatal(err)
	}
	if got := folder(t, dir); got != "a.txt b.txt" {
		t.Errorf("the folder holds %q", got)
	}
	if b, _ := os.ReadFile(filepath.Join(dir, "b.txt")); string(b) != "two" {
		t.Errorf("b.txt holds %q", b)
	}
}

func TestRefusedOutputsLeaveTheFolderAsItWas(t *testing.T) {
	for _, c := range []struct {
		name string
		plan func(dir string, s *outfile.Set)
		want string
	}{
		{"an input under its own name", func(dir string, s *outfile.Set) {
			s.Input(filepath.Join(dir, "in.gpx"))
			s.Add(filepath.Join(dir, "in.gpx"), nil)
		}, "input of the same run"},
		{"an input under another spelling of the path", func(dir string, s *outfile.Set) {
			s.Input(filepath.Join(dir, "in.gpx"))
			s.Add(filepath.Join(dir, "sub", "..", "in.gpx"), nil)
		}, "input of the same run"},
		{"an input through a symbolic link", func(dir string, s *outfile.Set) {
			s.Input(filepath.Join(dir, "in.gpx"))
			s.Add(filepath.Join(dir, "link.gpx"), nil)
		}, "input of the same run"},
		{"a missing folder", func(dir string, s *outfile.Set) {
			s.Add(filepath.Join(dir, "nowhere", "a.txt"), nil)
		}, "does not exist"},
		{"a folder as the file", func(dir string, s *outfile.Set) {
			s.Add(filepath.Join(dir, "sub"), nil)
		}, "this is a folder"},
		{"the second of two cannot be written, so the first is not either", func(dir string, s *outfile.Set) {
			s.Add(filepath.Join(dir, "a.txt"), nil)
			s.Add(filepath.Join(dir, "in.gpx", "b.txt"), nil)
		}, "is a file, not a folder"},
		{"one name twice", func(dir string, s *outfile.Set) {
			s.Add(filepath.Join(dir, "a.txt"), nil)
			s.Add(filepath.Join(dir, ".", "a.txt"), nil)
		}, "two outputs have this name"},
		{"a device", func(_ string, s *outfile.Set) { s.Add(os.DevNull, nil) }, "device or a pipe"},
		{"standard output", func(_ string, s *outfile.Set) { s.Add("-", nil) }, "not written to standard output (give a file name; --json"},
		{"no name", func(_ string, s *outfile.Set) { s.Add("", nil) }, "is empty"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			put(t, filepath.Join(dir, "in.gpx"), "precious")
			if err := os.Mkdir(filepath.Join(dir, "sub"), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.Symlink("in.gpx", filepath.Join(dir, "link.gpx")); err != nil {
				t.Skip("no symbolic links here")
			}
			before := folder(t, dir)
			var s outfile.Set
			c.plan(dir, &s)
			err := s.Write()
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("error is %v, want one with %q", err, c.want)
			}
			if got := folder(t, dir); got != before {
				t.Errorf("the folder holds %q, before it held %q", got, before)
			}
			if b, _ := os.ReadFile(filepath.Join(dir, "in.gpx")); string(b) != "precious" {
				t.Errorf("the input now holds %q", b)
			}
		})
	}
}

func TestAFolderThatTakesNoFilesLeavesTheOldFile(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("root writes everywhere")
	}
	dir := t.TempDir()
	old := filepath.Join(dir, "a.txt")
	put(t, old, "old")
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	defer os.Chmod(dir, 0o755)
	var s outfile.Set
	s.Add(old, []byte("new"))
	if err := s.Write(); err == nil {
		t.Fatal("written into a folder that takes no files")
	}
	if b, _ := os.ReadFile(old); string(b) != "old" {
		t.Errorf("the old file now holds %q", b)
	}
}

func TestAnExistingOutputIsReplacedAndKeepsItsPermissions(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.txt")
	put(t, path, "old")
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	var s outfile.Set
	s.Add(path, []byte("new"))
	if err := s.Write(); err != nil {
		t.Fatal(err)
	}
	in, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	if b, _ := os.ReadFile(path); string(b) != "new" || in.Mode().Perm() != 0o600 {
		t.Errorf("the file holds %q with mode %v", b, in.Mode().Perm())
	}
}

func TestAFolderIsMadeForItsFiles(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	for range 2 { // the second time over its own files
		var s outfile.Set
		if err := s.Folder(dir); err != nil {
			t.Fatal(err)
		}
		s.Add(filepath.Join(dir, "a.txt"), []byte("one"))
		s.Add(filepath.Join(dir, "b.txt"), []byte("two"))
		if err := s.Write(); err != nil {
			t.Fatal(err)
		}
		if got := folder(t, dir); got != "a.txt b.txt" {
			t.Errorf("the folder holds %q", got)
		}
	}
}

func TestAFolderWithOtherFilesIsLeftAsItWas(t *testing.T) {
	dir := t.TempDir()
	put(t, filepath.Join(dir, "b.txt"), "mine")
	var s outfile.Set
	if err := s.Folder(dir); err != nil {
		t.Fatal(err)
	}
	s.Add(filepath.Join(dir, "a.txt"), []byte("one"))
	s.Add(filepath.Join(dir, "b.txt"), []byte("two"))
	if err := s.Write(); err == nil || !strings.Contains(err.Error(), "already there") {
		t.Errorf("error is %v", err)
	}
	if got := folder(t, dir); got != "b.txt" {
		t.Errorf("the folder holds %q", got)
	}
}

func TestAFolderIsNotMadeWhereItCannotBe(t *testing.T) {
	dir := t.TempDir()
	put(t, filepath.Join(dir, "file"), "")
	for _, path := range []string{filepath.Join(dir, "file"), filepath.Join(dir, "no", "demo"), "-"} {
		if err := new(outfile.Set).Folder(path); err == nil {
			t.Errorf("%s was accepted", path)
		}
	}
}

func TestAFailedRunTakesItsFolderAway(t *testing.T) {
	dir := t.TempDir()
	var s outfile.Set
	if err := s.Folder(filepath.Join(dir, "demo")); err != nil {
		t.Fatal(err)
	}
	long := strings.Repeat("x", 300) // no file system takes such a name
	s.Add(filepath.Join(dir, "demo", "a.txt"), nil)
	s.Add(filepath.Join(dir, "demo", long), nil)
	_ = s.Write()
	if got := folder(t, dir); got != "" {
		t.Errorf("the folder holds %q", got)
	}
}
