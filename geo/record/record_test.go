package record

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tautline/geo/earth"
	"tautline/geo/track"
)

var start = time.Date(2031, 5, 4, 9, 0, 0, 0, time.UTC)

// fixes makes fixes from pairs of place (thousandths of a degree of latitude)
// and seconds after the start; NaN seconds is no time.
func fixes(pairs ...float64) []track.Fix {
	var out []track.Fix
	for i := 0; i < len(pairs); i += 2 {
		f := track.Fix{At: earth.LatLon{Lat: pairs[i] / 1000}, Height: math.NaN()}
		if !math.IsNaN(pairs[i+1]) {
			f.Time = start.Add(time.Duration(pairs[i+1] * float64(time.Second)))
		}
		out = append(out, f)
	}
	return out
}

// running gives n fixes, one a second.
func running(n int) []track.Fix {
	var out []track.Fix
	for i := range n {
		out = append(out, fixes(float64(i), float64(i))...)
	}
	return out
}

func show(fixes []track.Fix) string {
	var b strings.Builder
	for _, f := range fixes {
		if f.HasTime() {
			fmt.Fprintf(&b, "%g@%g ", f.At.Lat*1000, f.Time.Sub(start).Seconds())
		} else {
			fmt.Fprintf(&b, "%g ", f.At.Lat*1000)
		}
	}
	return strings.TrimSpace(b.String())
}

func TestClean(t *testing.T) {
	none := math.NaN()
	blocks := append(slices.Clone(running(30)[15:]), running(30)[:15]...)
	for _, c := range []struct {
		name  string
		in    [][]track.Fix
		want  string // "" when too long to write down; see check
		timed bool
		note  string // a part of the only note, "" for no note
	}{
		{"a good record stays as it is", [][]track.Fix{fixes(0, 0, 1, 1, 2, 2)}, "0@0 1@1 2@2", true, ""},
		{"an empty record stays empty", nil, "", false, ""},
		{"one fix stays", [][]track.Fix{fixes(5, 7)}, "5@7", true, ""},
		{"a repeated fix goes", [][]track.Fix{fixes(0, 0, 0, 0, 1, 1)}, "0@0 1@1", true, "1 fix that repeats the time"},
		{"of two places at one time the first stays", [][]track.Fix{fixes(0, 0, 1, 1, 2, 1, 3, 2)}, "0@0 1@1 3@2", true, "1 fix that repeats"},
		{"a runner who stands keeps the time", [][]track.Fix{fixes(0, 0, 0, 1, 0, 2, 1, 3)}, "0@0 0@1 0@2 1@3", true, ""},
		{"a reversed record is turned round", [][]track.Fix{fixes(3, 3, 2, 2, 1, 1, 0, 0)}, "0@0 1@1 2@2 3@3", true, "turned round"},
		{"a fix with a time from before goes", [][]track.Fix{fixes(0, 0, 1, 1, 2, -60, 3, 3, 4, 4)}, "0@0 1@1 3@3 4@4", true, "1 fix with a time out of order was"},
		{"a fix with a time from later goes, not those after it", [][]track.Fix{fixes(0, 0, 1, 1, 2, 99, 3, 3, 4, 4)}, "0@0 1@1 3@3 4@4", true, "1 fix with a time out of order was"},
		{"blocks in the wrong order are sorted", [][]track.Fix{blocks}, show(running(30)), true, "sorted by time"},
		{"fixes from an unset clock go", [][]track.Fix{fixes(0, -3e8, 1, -3e8+1, 2, 2, 3, 3, 4, 4)}, "2@2 3@3 4@4", true, "2 fixes recorded days apart"},
		{"a single fix without time goes", [][]track.Fix{append(running(10), append(fixes(99, none), fixes(10, 10)...)...)}, show(running(11)), true, "1 fix without a time was"},
		{"no times at all: the order of the file, repeated places go", [][]track.Fix{fixes(0, none, 0, none, 1, none, 0, none)}, "0 1 0", false, ""},
		{"few times: the order of the file, without times", [][]track.Fix{fixes(0, none, 1, 5, 2, none)}, "0 1 2", false, "only 1 of 3 fixes"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := Clean(track.Line{Name: "x", Segments: c.in})
			if got := show(r.Fixes); got != c.want || r.Timed != c.timed || r.Name != "x" {
				t.Errorf("got  %s (timed %v)\nwant %s (timed %v)", got, r.Timed, c.want, c.timed)
			}
			if c.note == "" && r.Timed && len(r.Notes) > 0 {
				t.Errorf("notes %q", r.Notes)
			}
			if c.note != "" && (len(r.Notes) != 1 || !strings.Contains(r.Notes[0], c.note)) {
				t.Errorf("notes %q, want one with %q", r.Notes, c.note)
			}
		})
	}
}

func TestPausesAreNamed(t *testing.T) {
	first, second := running(20), running(20)
	for i := range second {
		second[i].Time = second[i].Time.Add(20*time.Second + 4*time.Minute)
	}
	r := Clean(track.Line{Segments: [][]track.Fix{first, second}})
	if len(r.Gaps) != 1 || r.Gaps[0] != (Gap{19, 241}) {
		t.Errorf("gaps %v", r.Gaps)
	}
	if len(r.Notes) != 1 || !strings.Contains(r.Notes[0], "more than 10 s in 1 place; the longest, 241 s, from 09:00:19 UTC") {
		t.Errorf("notes %q", r.Notes)
	}
	// A watch that saves every five seconds has no gaps for that.
	sparse := running(20)
	for i := range sparse {
		sparse[i].Time = start.Add(time.Duration(5*i) * time.Second)
	}
	sparse[19].Time = sparse[19].Time.Add(20 * time.Second) // 25 s, within six steps
	if r := Clean(track.Line{Segments: [][]track.Fix{sparse}}); len(r.Gaps) != 0 {
		t.Errorf("gaps %v", r.Gaps)
	}
}

func TestASegmentThatWasSavedFirstComesLast(t *testing.T) {
	r := Clean(track.Line{Segments: [][]track.Fix{running(30)[20:], running(30)[:20]}})
	if show(r.Fixes) != show(running(30)) {
		t.Errorf("record %s", show(r.Fixes))
	}
}

// Whatever the record: times strictly increase, no fix is moved or invented,
// the input is unchanged, cleaning again changes nothing, and nothing is lost
// from a record that was in order.
func TestCleanProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fix := rapid.Custom(func(t *rapid.T) track.Fix {
			f := track.Fix{At: earth.LatLon{Lat: float64(rapid.IntRange(0, 9).Draw(t, "lat")), Lon: 180}, Height: 1}
			if rapid.IntRange(0, 19).Draw(t, "timed") > 0 {
				f.Time = start.Add(time.Duration(rapid.IntRange(-50, 50).Draw(t, "s")) * time.Second)
			}
			return f
		})
		line := track.Line{Segments: rapid.SliceOfN(rapid.SliceOfN(fix, 0, 30), 0, 4).Draw(t, "segments")}
		switch rapid.IntRange(0, 2).Draw(t, "order") {
		case 1:
			for _, s := range line.Segments {
				slices.SortFunc(s, func(a, b track.Fix) int { return a.Time.Compare(b.Time) })
			}
		case 2:
			for _, s := range line.Segments {
				slices.SortFunc(s, func(a, b track.Fix) int { return b.Time.Compare(a.Time) })
			}
		}
		before := fmt.Sprint(line)
		r := Clean(line)
		if fmt.Sprint(line) != before {
			t.Fatal("the input was changed")
		}
		in := map[track.Fix]int{}
		for _, f := range line.Fixes() {
			in[f]++
			if !r.Timed {
				f.Time = time.Time{}
				in[f]++
			}
		}
		for i, f := range r.Fixes {
			if in[f] == 0 {
				t.Fatalf("fix %v was not in the record, or not so often", f)
			}
			in[f]--
			if r.Timed != f.HasTime() {
				t.Fatalf("fix %v in a record with timed %v", f, r.Timed)
			}
			if r.Timed && i > 0 && !f.Time.After(r.Fixes[i-1].Time) {
				t.Fatalf("times do not increase: %s", show(r.Fixes))
			}
		}
		again := Clean(track.Line{Segments: [][]track.Fix{r.Fixes}})
		if !slices.Equal(again.Fixes, r.Fixes) {
			t.Fatalf("cleaned again it differs:\n%s\n%s", show(r.Fixes), show(again.Fixes))
		}
	})
}

func TestTheFewestFixesAreDropped(t *testing.T) {
	// Against trying all subsets of short records.
	rapid.Check(t, func(t *rapid.T) {
		var f []track.Fix
		for _, s := range rapid.SliceOfN(rapid.IntRange(0, 9), 1, 10).Draw(t, "times") {
			f = append(f, fixes(0, float64(s))...)
		}
		most := 0
		for set := range 1 << len(f) {
			n, last, ok := 0, time.Time{}, true
			for i := range f {
				if set>>i&1 == 1 {
					ok = ok && !f[i].Time.Before(last)
					last = f[i].Time
					n++
				}
			}
			if ok {
				most = max(most, n)
			}
		}
		in := longestOrdered(f)
		for i := 1; i < len(in); i++ {
			if in[i] <= in[i-1] || f[in[i]].Time.Before(f[in[i-1]].Time) {
				t.Fatalf("%v of %s is not in order", in, show(f))
			}
		}
		if len(in) != most {
			t.Fatalf("%d of %s, could be %d", len(in), show(f), most)
		}
	})
}

func BenchmarkClean(b *testing.B) {
	line := track.Line{Segments: [][]track.Fix{running(12000)}}
	line.Segments[0][6000].Time = start
	b.ReportAllocs()
	for b.Loop() {
		if r := Clean(line); len(r.Fixes) != 11999 {
			b.Fatal(len(r.Fixes))
		}
	}
}
