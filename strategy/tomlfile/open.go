package tomlfile

import (
	"errors"
	"io/fs"
	"os"

	"tautline/geo/inputerr"
	"tautline/strategy/quantity"
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
	return Load(path, f)
}

// Pace reads "4:30/km" in seconds per metre, 0 when there is none.
func (c *Check) Pace(path string, v any) float64 {
	if v == nil {
		return 0
	}
	s, ok := v.(string)
	if !ok {
		c.Fail(path, key(path)+" should be a text", `write "5:00/km"`)
		return 0
	}
	p, err := quantity.ParsePace(s, quantity.NoUnit)
	if err != nil {
		c.failed(path, err)
		return 0
	}
	return p
}
