package tomlfile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"tautline/geo/inputerr"
)

// Open reads a whole file within the limit of MaxBytes. kind is what messages
// call it, such as "race sheet". Errors are *inputerr.Error.
func Open(path, kind string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		what := "the " + kind + " cannot be opened"
		if errors.Is(err, fs.ErrNotExist) {
			what = "there is no such " + kind
		}
		return nil, &inputerr.Error{File: path, What: what, Advice: "check the path", Cause: err}
	}
	defer f.Close()
	if in, err := f.Stat(); err == nil && in.IsDir() {
		return nil, &inputerr.Error{File: path, What: "this is a folder, not the " + kind, Advice: "give the path of the file"}
	}
	// One byte more than is wanted tells that a file is too large before it is
	// held.
	data, err := io.ReadAll(io.LimitReader(f, MaxBytes+1))
	switch {
	case err != nil:
		return nil, &inputerr.Error{File: path, What: "the file cannot be read: " + err.Error(), Advice: "check that another program can open it", Cause: err}
	case len(data) > MaxBytes:
		return nil, &inputerr.Error{File: path, What: fmt.Sprintf("the file is larger than the limit of %d bytes", MaxBytes), Advice: "check that this is the right file"}
	}
	return data, nil
}
