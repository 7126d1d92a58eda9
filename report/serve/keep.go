package serve

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"tautline/report/outfile"
)

// maxKept is how many folders of one name are tried.
const maxKept = 1000

// keep writes a result into a folder of its own below the one that was chosen,
// and over it when the session works the same thing out again. The folder is
// opened as a root: no name leads out of it. Every file is written under another
// name first, and only when all of them are complete do they get their own: a
// file is whole or not there, and a full disk leaves what was kept before.
func (s *Server) keep(x *session, in *input, res *result) *Problem {
	if s.root == nil {
		return nil
	}
	cannot := func(what string, err error) *Problem {
		return &Problem{"", "the result is here but cannot be kept: " + what + ": " + outfile.Reason(err)}
	}
	made := ""
	if x.kept == "" {
		name := slug(res.laid.Name) + "-" + string(in.Task)
		for k := 1; made == ""; k++ {
			try := name
			if k > 1 {
				try = fmt.Sprintf("%s-%d", name, k)
			}
			// Two servers may keep in one folder: only one of them makes this one.
			switch err := s.root.Mkdir(try, 0o755); {
			case err == nil:
				made = try
			case !errors.Is(err, fs.ErrExist) || k == maxKept:
				return cannot("no folder can be made for it", err)
			}
		}
		x.kept = made
	}
	part := func(d download) string { return x.kept + "/." + d.Name + ".part" }
	undo := func() {
		for _, d := range res.downloads {
			_ = s.root.Remove(part(d))
		}
		if made != "" && s.root.Remove(made) == nil {
			x.kept = ""
		}
	}
	for _, d := range res.downloads {
		if err := s.whole(part(d), d.content); err != nil {
			defer undo()
			return cannot(d.Name+" cannot be written", err)
		}
	}
	for _, d := range res.downloads {
		if err := s.root.Rename(part(d), x.kept+"/"+d.Name); err != nil {
			defer undo()
			return cannot(d.Name+" cannot be put in place", err)
		}
	}
	return nil
}

// whole writes a file and does not return before it is on the disk, so that
// after a loss of power there is no name without its content.
func (s *Server) whole(name string, content []byte) error {
	f, err := s.root.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(content)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}
