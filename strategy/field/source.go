package field

import (
	"archive/zip"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"tautline/geo/inputerr"
)

// maxRecord is the size in bytes of one record. A marathon recorded every
// second with all extensions has about 10 MB; the limit keeps all cores
// together in a small memory.
const maxRecord = 48 << 20

// Source is a record that has not been read yet.
type Source struct {
	Name string // file, or zip file and the name in it
	open func() (io.ReadCloser, error)
}

// Sources are the records of a field.
type Sources struct {
	List    []Source
	Refused []Refusal // zip files and folders that cannot be read
	zips    []*zip.ReadCloser
}

// Refusal is a record that was not counted, and why.
type Refusal struct {
	Name string
	Err  error
}

// Close closes the zip files.
func (s *Sources) Close() {
	for _, z := range s.zips {
		_ = z.Close()
	}
}

// Find lists the records in files, folders with everything below them, and zip
// files. In folders and zip files only names that end in .gpx count, and none
// of the files in except. A path that is not there is an error; a zip file that
// cannot be read is refused, and the others go on.
func Find(paths []string, except ...string) (*Sources, error) {
	s := &Sources{}
	var infos []fs.FileInfo
	for _, e := range except {
		if in, err := os.Stat(e); err == nil {
			infos = append(infos, in)
		}
	}
	excepted := func(path string) bool {
		in, err := os.Stat(path)
		if err != nil {
			return false
		}
		for _, x := range infos {
			if os.SameFile(x, in) {
				return true
			}
		}
		return false
	}
	for _, path := range paths {
		in, err := os.Stat(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			s.Close()
			return nil, &inputerr.Error{File: path, What: "there is no such file or folder", Advice: "check the name", Cause: err}
		case err != nil:
			s.Refused = append(s.Refused, Refusal{path, &inputerr.Error{File: path, What: "it cannot be read", Cause: err}})
		case in.IsDir():
			_ = filepath.WalkDir(path, func(name string, d fs.DirEntry, err error) error {
				if err != nil {
					s.Refused = append(s.Refused, Refusal{name, &inputerr.Error{File: name, What: "it cannot be read", Cause: err}})
					return nil
				}
				switch {
				case d.IsDir() || excepted(name):
				case ends(name, ".zip"):
					s.zip(name)
				case ends(name, ".gpx"):
					s.file(name)
				}
				return nil
			})
		case ends(path, ".zip"):
			s.zip(path)
		default:
			s.file(path)
		}
	}
	return s, nil
}

func ends(name, suffix string) bool { return strings.HasSuffix(strings.ToLower(name), suffix) }

func (s *Sources) file(path string) {
	s.List = append(s.List, Source{path, func() (io.ReadCloser, error) { return os.Open(path) }})
}

func (s *Sources) zip(path string) {
	z, err := zip.OpenReader(path)
	if err != nil {
		s.Refused = append(s.Refused, Refusal{path, &inputerr.Error{File: path, What: "this is no zip file that can be read", Advice: "save it again, or unpack it and name the folder", Cause: err}})
		return
	}
	s.zips = append(s.zips, z)
	for _, f := range z.File {
		if !f.FileInfo().IsDir() && ends(f.Name, ".gpx") {
			s.List = append(s.List, Source{path + ": " + f.Name, f.Open})
		}
	}
}
