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
	for _, s := range line.Segments {
		w.fixes = append(w.fixes, s...)
	}
	n, timed := len(w.fixes), 0
	for _, f := range w.fixes {
		if f.HasTime() {
			timed++
		}
	}
	switch {
	case timed == 0:
		if n > 0 {
			w.note("the record has no times; it was taken in the order of the file")
		}
		return w.untimed()
	case float64(n-timed) > untimedShare*float64(n):
		w.note("only %d of %d fixes have a time; the record was taken in the order of the file, without times", timed, n)
		for i := range w.fixes {
			w.fixes[i].Time = time.Time{}
		}
		return w.untimed()
	case timed < n:
		w.noteDropped(w.keep(func(i int) bool { return w.fixes[i].HasTime() }), "without a time")
	}
	return w.timed()
}

// work is a record on its way to order. Its fixes are its own.
type work struct {
	name  string
	fixes []track.Fix
	notes []string
}

func (w *work) note(format string, args ...any) {
	w.notes = append(w.notes, fmt.Sprintf(format, args...))
}

// noteDropped says how many fixes were dropped, if any, and which.
func (w *work) noteDropped(n int, which string) {
	if n > 0 {
		w.note("%s", dropped(n, which))
	}
}

// dropped says that so many fixes were dropped, and which.
func dropped(n int, which string) string {
	if n == 1 {
		return "1 fix " + which + " was dropped"
	}
	return fmt.Sprintf("%d fixes %s were dropped", n, which)
}

// keep drops the fixes that want refuses. want sees the old indices.
func (w *work) keep(want func(i int) bool) (dropped int) {
	n := 0
	for i := range w.fixes {
		if want(i) {
			w.fixes[n] = w.fixes[i]
			n++
		}
	}
	dropped = len(w.fixes) - n
	w.fixes = w.fixes[:n]
	return dropped
}

func (w *work) untimed() Record {
	w.noteDropped(w.keep(w.distinct(func(a, b track.Fix) bool { return a.At == b.At })), "at the place of the one before")
	return Record{Name: w.name, Fixes: w.fixes, Notes: w.notes}
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
		back = steps - back
		w.note("the times ran backwards; the record was turned round")
	}
	if back > 0 {
		w.order()
	}
	w.dropApart()
	n := w.keep(w.distinct(func(a, b track.Fix) bool { return a.Time.Equal(b.Time) }))
	repeat := "that repeat the time of the one before"
	if n == 1 {
		repeat = "that repeats the time of the one before"
	}
	w.noteDropped(n, repeat)
	gaps := w.gaps()
	return Record{Name: w.name, Fixes: w.fixes, Timed: true, Gaps: gaps, Notes: w.notes}
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
		w.noteDropped(strays, "with a time out of order")
		return
	}
	slices.SortStableFunc(w.fixes, func(a, b track.Fix) int { return a.Time.Compare(b.Time) })
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
	w.noteDropped(len(w.fixes)-(to-from), "recorded days apart from the rest")
	w.fixes = w.fixes[from:to]
}

// gaps finds the places where nothing was recorded for long, and notes them.
func (w *work) gaps() []Gap {
	if len(w.fixes) < 2 {
		return nil
	}
	steps := make([]float64, len(w.fixes)-1)
	for i := range steps {
		steps[i] = w.fixes[i+1].Time.Sub(w.fixes[i].Time).Seconds()
	}
	sorted := slices.Sorted(slices.Values(steps))
	limit := math.Max(gapSeconds, gapSteps*sorted[len(sorted)/2])
	var gaps []Gap
	var longest Gap
	for i, s := range steps {
		if s > limit {
			gaps = append(gaps, Gap{i, s})
			if s > longest.Seconds {
				longest = Gap{i, s}
			}
		}
	}
	if len(gaps) > 0 {
		places := "1 place"
		if len(gaps) > 1 {
			places = fmt.Sprintf("%d places", len(gaps))
		}
		w.note("nothing was recorded for more than %.0f s in %s; the longest, %.0f s, from %s UTC",
			limit, places, longest.Seconds, w.fixes[longest.Before].Time.UTC().Format("15:04:05"))
	}
	return gaps
}
