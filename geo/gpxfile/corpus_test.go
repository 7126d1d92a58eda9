package gpxfile

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

const corpus = "../../testdata/gpx"

// outcome says in one line what reading a file gave: the name, the lines with
// the points of their segments, the times of the first line's fixes with each
// fix's height, the waypoints, the warnings; or the error.
func outcome(f *File, err error) string {
	if err != nil {
		return "refused: " + strings.ReplaceAll(err.Error(), corpus+"/", "")
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%q", f.Name)
	for _, l := range f.Lines {
		what := "track"
		if l.Route {
			what = "route"
		}
		fmt.Fprintf(&b, "; %s %q", what, l.Name)
		for _, s := range l.Segments {
			b.WriteString(" [")
			for i, x := range s {
				if i > 0 {
					b.WriteString(", ")
				}
				fmt.Fprintf(&b, "%.9g %.9g", x.At.Lat, x.At.Lon)
				if x.HasHeight() {
					fmt.Fprintf(&b, " %gm", x.Height)
				}
				if x.HasTime() {
					b.WriteString(" " + x.Time.Format(time.RFC3339Nano))
				}
			}
			b.WriteString("]")
		}
	}
	for _, w := range f.Waypoints {
		fmt.Fprintf(&b, "; waypoint %q %q %g %g", w.Name, w.Description, w.At.Lat, w.At.Lon)
		if w.HasHeight() {
			fmt.Fprintf(&b, " %gm", w.Height)
		}
	}
	for _, w := range f.Warnings {
		b.WriteString("; warning: " + strings.TrimPrefix(w, corpus+"/"))
	}
	return b.String()
}

// outcomes reads the list of stated outcomes, "file | outcome" in each line.
func outcomes(t *testing.T) map[string]string {
	t.Helper()
	file, err := os.Open(filepath.Join(corpus, "outcomes.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	stated := map[string]string{}
	lines := bufio.NewScanner(file)
	for lines.Scan() {
		line := lines.Text()
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		name, what, found := strings.Cut(line, " | ")
		if !found || what == "" {
			t.Fatalf("outcomes.txt: %q is not “file | outcome”", line)
		}
		if _, twice := stated[name]; twice {
			t.Fatalf("outcomes.txt: %s stands twice", name)
		}
		stated[name] = what
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	return stated
}

// Each file of the corpus has the outcome that is stated for it, and each
// stated outcome has its file.
func TestCorpusHasItsStatedOutcomes(t *testing.T) {
	stated := outcomes(t)
	files, err := filepath.Glob(filepath.Join(corpus, "*.gpx"))
	if err != nil || len(files) < 50 {
		t.Fatalf("found %d files in %s (%v)", len(files), corpus, err)
	}
	for _, path := range files {
		name := filepath.Base(path)
		t.Run(name, func(t *testing.T) {
			want, found := stated[name]
			if !found {
				t.Fatal("no outcome is stated for it")
			}
			delete(stated, name)
			if got := outcome(Open(path)); got != want {
				t.Errorf("got  %s\nwant %s", got, want)
			}
		})
	}
	for name := range stated {
		t.Errorf("outcomes.txt names %s, which is not there", name)
	}
}
