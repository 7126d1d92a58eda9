// Package outfile writes output files whole or not at all: under a temporary
// name in the same folder, renamed when everything has been written. It never
// writes over a file that the run has read.
package outfile

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"tautline/geo/inputerr"
)

// A Set collects the files of one run in memory and writes them together at
// the end. The zero Set is ready. It is not safe for concurrent use.
type Set struct {
	inputs  []string
	files   []file
	folders []string
}

type file struct {
	path    string
	content []byte
}

// Input names a file that the run reads, so that it is never written over.
// "" and "-" (standard input) are ignored.
func (s *Set) Input(path string) {
	if path != "" && path != "-" {
		s.inputs = append(s.inputs, path)
	}
}

// Add plans a file. The content is kept, not copied, until Write.
func (s *Set) Add(path string, content []byte) {
	s.files = append(s.files, file{path, content})
}

// Folder plans a folder that Write makes if it is missing; the folder above it
// must exist. Files planned for it must not be there yet with other content,
// since a whole folder of files is easily aimed at the wrong place.
func (s *Set) Folder(path string) error {
	if path == "-" {
		return &inputerr.Error{File: path, What: "a folder is not written to standard output", Advice: `give the name of a folder; "./-" names one "-"`}
	}
	if in, err := os.Stat(path); err == nil && !in.IsDir() {
		return &inputerr.Error{File: path, What: "this is a file, not a folder", Advice: "give the name of a folder"}
	} else if errors.Is(err, fs.ErrNotExist) {
		above := filepath.Dir(filepath.Clean(path))
		if up, err := os.Stat(above); err != nil || !up.IsDir() {
			return &inputerr.Error{File: path, What: "the folder " + above + " does not exist", Advice: "create it first, or choose another place"}
		}
	} else if err != nil {
		return &inputerr.Error{File: path, What: "the folder cannot be used: " + Reason(err), Cause: err}
	}
	s.folders = append(s.folders, filepath.Clean(path))
	return nil
}

// planned tells whether a folder will be made by Write.
func (s *Set) planned(dir string) bool { return slices.Contains(s.folders, filepath.Clean(dir)) }

// Check says whether the planned path could be written: the folder exists,
// the path is no folder, and it is none of the inputs under any name. Call it
// before long work, so that a mistyped path is told at once.
func (s *Set) Check(path string) error {
	bad := func(what, advice string) error {
		return &inputerr.Error{File: path, What: what, Advice: advice}
	}
	switch path {
	case "":
		return bad("the name of the output file is empty", "give a file name")
	case "-":
		return bad("files are not written to standard output", `give a file name; --json prints the result there, and "./-" names a file "-"`)
	}
	dir := filepath.Dir(path)
	switch in, err := os.Stat(dir); {
	case errors.Is(err, fs.ErrNotExist) && s.planned(dir):
		return nil
	case errors.Is(err, fs.ErrNotExist):
		return bad("the folder "+dir+" does not exist", "create it first, or choose another place")
	case err != nil:
		return &inputerr.Error{File: path, What: "the folder " + dir + " cannot be used", Cause: err}
	case !in.IsDir():
		return bad(dir+" is a file, not a folder", "choose another place")
	}
	out, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return &inputerr.Error{File: path, What: "the output file cannot be used: " + Reason(err), Cause: err}
	}
	if out.IsDir() {
		return bad("this is a folder, not a file", "add a file name")
	}
	if !out.Mode().IsRegular() {
		return bad("this is a device or a pipe, and output files are put in place by renaming", "give the name of an ordinary file")
	}
	for _, name := range s.inputs {
		if in, err := os.Stat(name); err == nil && os.SameFile(in, out) {
			return bad("this file is an input of the same run", "choose another name for the output")
		}
	}
	return nil
}

// Write writes all planned files or none: every file is first written under a
// temporary name beside its place, and only when all of them are complete are
// they renamed. After an error no temporary file and no new file is left
// behind. One thing cannot be undone: if the system refuses a later rename, a
// file that an earlier one has replaced stays replaced.
func (s *Set) Write() error {
	seen := map[string]bool{}
	for _, f := range s.files {
		if err := s.Check(f.path); err != nil {
			return err
		}
		if clean := filepath.Clean(f.path); seen[clean] {
			return &inputerr.Error{File: f.path, What: "two outputs have this name", Advice: "give each its own"}
		} else {
			seen[clean] = true
		}
	}
	for _, f := range s.files {
		if !s.planned(filepath.Dir(f.path)) {
			continue
		}
		if old, err := os.ReadFile(f.path); err == nil && !bytes.Equal(old, f.content) {
			return &inputerr.Error{File: f.path, What: "a different file with this name is already there", Advice: "choose an empty or a new folder; nothing was written"}
		}
	}
	var ready, made []string
	undo := func() {
		for _, name := range ready {
			_ = os.Remove(name)
		}
		for _, name := range made {
			_ = os.Remove(name)
		}
	}
	for _, dir := range s.folders {
		switch err := os.Mkdir(dir, 0o755); {
		case err == nil:
			made = append(made, dir)
		case !errors.Is(err, fs.ErrExist):
			undo()
			return &inputerr.Error{File: dir, What: "the folder cannot be made: " + Reason(err), Cause: err}
		}
	}
	for _, f := range s.files {
		name, err := writeBeside(f.path, f.content)
		if err != nil {
			undo()
			return &inputerr.Error{File: f.path, What: "the file cannot be written: " + Reason(err), Advice: "nothing was written", Cause: err}
		}
		ready = append(ready, name)
	}
	var placed []string
	for i, f := range s.files {
		_, old := os.Lstat(f.path)
		if err := os.Rename(ready[i], f.path); err != nil {
			ready = append(ready[i:], placed...)
			undo()
			return &inputerr.Error{File: f.path, What: "the file cannot be put in place: " + Reason(err), Cause: err}
		}
		if errors.Is(old, fs.ErrNotExist) {
			placed = append(placed, f.path)
		}
	}
	return nil
}

// writeBeside writes content to a new file in the folder of path and gives
// the new file's name. An existing file's permissions are kept.
func writeBeside(path string, content []byte) (name string, err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".tautline-*.part")
	if err != nil {
		return "", err
	}
	defer func() {
		if err != nil {
			_ = f.Close()
			_ = os.Remove(f.Name())
		}
	}()
	if _, err = f.Write(content); err != nil {
		return "", err
	}
	mode := fs.FileMode(0o644)
	if old, err := os.Stat(path); err == nil {
		mode = old.Mode().Perm()
	}
	if err = f.Chmod(mode); err != nil {
		return "", err
	}
	if err = f.Sync(); err != nil {
		return "", err
	}
	return f.Name(), f.Close()
}

// Reason is the system's own word for why a file could not be written, without
// the temporary name that means nothing to the user.
func Reason(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		return l.Err.Error()
	}
	return err.Error()
}
