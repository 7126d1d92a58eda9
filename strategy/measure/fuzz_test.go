package measure

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tautline/geo/inputerr"
)

// Whatever the bytes, the readers give an input error or a sheet whose figures
// are all finite.
func fuzzSheet(f *testing.F, pattern, name string) {
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "measure", pattern))
	if err != nil || len(files) == 0 {
		f.Fatalf("no seeds match %s: %v", pattern, err)
	}
	for _, n := range files {
		b, err := os.ReadFile(n)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(b))
	}
	f.Fuzz(func(t *testing.T, in string) {
		s, err := Read(name, strings.NewReader(in))
		var e *inputerr.Error
		if err != nil {
			if !errors.As(err, &e) {
				t.Fatalf("%T: %v", err, err)
			}
			return
		}
		r, err := s.Work()
		if err != nil {
			if !errors.As(err, &e) {
				t.Fatalf("%T: %v", err, err)
			}
			return
		}
		for _, l := range r.Ledger() {
			if math.IsNaN(l.Value) || math.IsInf(l.Value, 0) {
				t.Fatalf("%+v is not a figure", l)
			}
		}
		if g := r.Ground; math.IsNaN(g.Value) || g.Low > g.High {
			t.Fatalf("ground %+v", g)
		}
	})
}

func FuzzTOML(f *testing.F) { fuzzSheet(f, "*.toml", "sheet.toml") }

func FuzzCSV(f *testing.F) { fuzzSheet(f, "*.csv", "sheet.csv") }
