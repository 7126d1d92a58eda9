package serve

import (
	"errors"
	"fmt"
	"io/fs"
)

// maxKept is how many folders of one name are tried.
const maxKept = 1000

// keep writes a result into a folder of its own below the one that was chosen,
// and over it when the session works the same thing out again. The folder is
// opened as a root: no name leads out of it.
func (s *Server) keep(x *session, in *input, res *result) *Problem {
	if s.root == nil {
		return nil
	}
	if x.kept == "" {
		name := slug(res.laid.Name) + "-" + string(in.Task)
		for k := 1; ; k++ {
			try := name
			if k > 1 {
				try = fmt.Sprintf("%s-%d", name, k)
			}
			err := s.root.Mkdir(try, 0o755)
			if err == nil {
				x.kept = try
				break
			}
			if !errors.Is(err, fs.ErrExist) || k == maxKept {
				return &Problem{"", "the result is here but cannot be kept: no folder can be made for it"}
			}
		}
	}
	for _, d := range res.downloads {
		// Under another name first, so that a file is whole or not there.
		part := x.kept + "/." + d.Name + ".part"
		err := s.root.WriteFile(part, d.content, 0o644)
		if err == nil {
			err = s.root.Rename(part, x.kept+"/"+d.Name)
		}
		if err != nil {
			_ = s.root.Remove(part)
			return &Problem{"", "the result is here but cannot be kept: " + d.Name + " cannot be written"}
		}
	}
	return nil
}
