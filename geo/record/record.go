// Package record makes a recorded line fit to be followed: fixes in the order
// of time, each moment once, with the pauses named. It never moves a fix and
// never judges where a runner can have been; that needs the course.
package record

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"tautline/geo/track"
)

// Record is a recorded line in order. It is not changed after Clean.
type Record struct {
	Name string
	// Fixes are in the order of running. When Timed, every fix has a time and
	// the times strictly increase; otherwise no fix has one.
	Fixes []track.Fix
	Timed bool
	// Starts are the indices of fixes before which the file began a new
	// segment: the watch was stopped, or the signal lost. Increasing, 0 is not
	// in it.
	Starts []int
	// Gaps are the places where nothing was recorded for long.
	Gaps []Gap
	// Notes are sentences for people about what Clean did.
	Notes []string
}

// Gap is a time without fixes, between Fixes[Before] and Fixes[Before+1].
type Gap struct {
	Before  int
	Seconds float64
}

// What Clean goes by. The shares are common sense, not measured: a record with
// more faults than that has another kind of fault.
const (
	// turnedShare of the steps in time going backwards: the file is reversed.
	turnedShare = 0.9
	// strayShare is the most fixes that may be dropped for their time; with
	// more, whole blocks are in the wrong order and the record is sorted.
	strayShare = 0.05
	// untimedShare is the most fixes without a time that a timed record loses.
	untimedShare = 0.1
	// apart is the time no race lasts: fixes apart by more belong to a clock
	// that was not yet set.
	apart = 7 * 24 * time.Hour
	// gapSeconds and gapSteps: a gap is longer than both that time and that
	// many usual steps, so that a watch that saves every minute has none.
	gapSeconds = 10.0
	gapSteps   = 6.0
)

// Clean puts a recorded line in order, by these rules in this order:
//
//   - With times on less than nine tenths of the fixes, the record is taken in
//     the order of the file, without times. Otherwise fixes without a time are
//     dropped.
//   - A record whose times run backwards throughout is turned round.
//   - Fixes whose time does not fit between those before and after are
//     dropped, as few as possible. Would that be more than one in twenty, the
//     record is sorted by time instead: its parts were saved in another order.
//   - Fixes more than seven days from the main part are dropped.
//   - Of several fixes with the same time the first is kept. Without times,
//     fixes at the place of the one before are dropped. Fixes at the same place
//     with increasing times stay: the runner stood.
//
// Impossible jumps stay too; whoever follows the record along a course can
// tell them. A record may come out empty.
func Clean(line track.Line) Record {
	w := work{name: line.Name}
	total := 0
	for i, s := range line.Segments {
		for _, f := range s {
			w.fixes = append(w.fixes, f)
			w.segment = append(w.segment, int32(i))
			if f.HasTime() {
				total++
			}
		}
	}
	n := len(w.fixes)
	switch {
	case total == 0:
		if n > 0 {
			w.note("the record has no times; it was taken in the order of the file")
		}
		return w.untimed()
	case float64(n-total) > untimedShare*float64(n):
		w.note("only %d of %d fixes have a time; the record was taken in the order of the file, without times", total, n)
		for i := range w.fixes {
			w.fixes[i].Time = time.Time{}
		}
		return w.untimed()
	case total < n:
		w.keep(func(i int) bool { return w.fixes[i].HasTime() })
		w.note("%s without a time %s dropped", count(n-total, "fix", "fixes"), was(n-total))
	}
	return w.timed()
}

type work struct {
	name    string
	fixes   []track.Fix
	segment []int32 // the segment of the file each fix comes from
	notes   []string
}

func (w *work) note(format string, args ...any) {
	w.notes = append(w.notes, fmt.Sprintf(format, args...))
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func was(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

// keep drops the fixes that want refuses. want sees the old indices.
func (w *work) keep(want func(i int) bool) (dropped int) {
	n := 0
	for i := range w.fixes {
		if want(i) {
			w.fixes[n], w.segment[n] = w.fixes[i], w.segment[i]
			n++
		}
	}
	dropped = len(w.fixes) - n
	w.fixes, w.segment = w.fixes[:n], w.segment[:n]
	return dropped
}

func (w *work) untimed() Record {
	if n := w.keep(w.distinct(func(a, b track.Fix) bool { return a.At == b.At })); n > 0 {
		w.note("%s at the place of the one before %s dropped", count(n, "fix", "fixes"), was(n))
	}
	return w.record(false)
}

// distinct refuses a fix that is the same as the last one kept.
func (w *work) distinct(same func(a, b track.Fix) bool) func(i int) bool {
	var last track.Fix
	return func(i int) bool {
		if i > 0 && same(last, w.fixes[i]) {
			return false
		}
		last = w.fixes[i]
		return true
	}
}

func (w *work) timed() Record {
	back, steps := 0, 0
	for i := 1; i < len(w.fixes); i++ {
		switch d := w.fixes[i].Time.Compare(w.fixes[i-1].Time); {
		case d < 0:
			back++
			steps++
		case d > 0:
			steps++
		}
	}
	if steps > 0 && float64(back) > turnedShare*float64(steps) {
		slices.Reverse(w.fixes)
		slices.Reverse(w.segment)
		back = steps - back
		w.note("the times ran backwards; the record was turned round")
	}
	if back > 0 {
		w.order()
	}
	w.dropApart()
	if n := w.keep(w.distinct(func(a, b track.Fix) bool { return a.Time.Equal(b.Time) })); n > 0 {
		w.note("%s that repeat%s the time of the one before %s dropped", count(n, "fix", "fixes"), map[bool]string{true: "s"}[n == 1], was(n))
	}
	return w.record(true)
}

// order drops the fewest fixes that leave the times in order, or sorts.
func (w *work) order() {
	in := longestOrdered(w.fixes)
	strays := len(w.fixes) - len(in)
	if float64(strays) <= max(1, strayShare*float64(len(w.fixes))) {
		next := 0
		w.keep(func(i int) bool {
			if next < len(in) && in[next] == i {
				next++
				return true
			}
			return false
		})
		w.note("%s with a time out of order %s dropped", count(strays, "fix", "fixes"), was(strays))
		return
	}
	at := make([]int, len(w.fixes))
	for i := range at {
		at[i] = i
	}
	sort.SliceStable(at, func(i, j int) bool { return w.fixes[at[i]].Time.Before(w.fixes[at[j]].Time) })
	fixes, segment := make([]track.Fix, len(at)), make([]int32, len(at))
	for i, k := range at {
		fixes[i], segment[i] = w.fixes[k], w.segment[k]
	}
	w.fixes, w.segment = fixes, segment
	w.note("parts of the record were out of order; it was sorted by time")
}

// longestOrdered gives the indices of a longest subsequence whose times do not
// decrease (patience sorting, n log n).
func longestOrdered(fixes []track.Fix) []int {
	var tails []int // of the best subsequence of each length, its last index
	before := make([]int, len(fixes))
	for i, f := range fixes {
		k := sort.Search(len(tails), func(k int) bool { return fixes[tails[k]].Time.After(f.Time) })
		before[i] = -1
		if k > 0 {
			before[i] = tails[k-1]
		}
		if k == len(tails) {
			tails = append(tails, i)
		} else {
			tails[k] = i
		}
	}
	if len(tails) == 0 {
		return nil
	}
	out := make([]int, len(tails))
	for k, i := len(tails)-1, tails[len(tails)-1]; k >= 0; k, i = k-1, before[i] {
		out[k] = i
	}
	return out
}

// dropApart keeps the largest run of fixes without a step of days.
func (w *work) dropApart() {
	var from, to, start int
	for i := 1; i <= len(w.fixes); i++ {
		if i < len(w.fixes) && w.fixes[i].Time.Sub(w.fixes[i-1].Time) <= apart {
			continue
		}
		if i-start > to-from {
			from, to = start, i
		}
		start = i
	}
	if n := w.keep(func(i int) bool { return i >= from && i < to }); n > 0 {
		w.note("%s recorded days apart from the rest %s dropped", count(n, "fix", "fixes"), was(n))
	}
}

func (w *work) record(timed bool) Record {
	r := Record{Name: w.name, Fixes: w.fixes, Timed: timed, Notes: w.notes}
	for i := 1; i < len(w.segment); i++ {
		if w.segment[i] != w.segment[i-1] {
			r.Starts = append(r.Starts, i)
		}
	}
	if !timed || len(r.Fixes) < 2 {
		return r
	}
	steps := make([]float64, len(r.Fixes)-1)
	for i := range steps {
		steps[i] = r.Fixes[i+1].Time.Sub(r.Fixes[i].Time).Seconds()
	}
	sorted := slices.Clone(steps)
	slices.Sort(sorted)
	limit := math.Max(gapSeconds, gapSteps*sorted[len(sorted)/2])
	longest := -1
	for i, s := range steps {
		if s > limit {
			if longest < 0 || s > r.Gaps[longest].Seconds {
				longest = len(r.Gaps)
			}
			r.Gaps = append(r.Gaps, Gap{i, s})
		}
	}
	if longest >= 0 {
		g := r.Gaps[longest]
		r.Notes = append(r.Notes, fmt.Sprintf("nothing was recorded for more than %.0f s in %s; the longest, %.0f s, from %s UTC",
			limit, count(len(r.Gaps), "place", "places"), g.Seconds, r.Fixes[g.Before].Time.UTC().Format("15:04:05")))
	}
	return r
}
