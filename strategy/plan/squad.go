package plan

import (
	"runtime"
	"sort"
	"sync"
)

// Result is one athlete's plan or why there is none.
type Result struct {
	Name string
	Plan *Plan
	Err  error
}

// Squad plans many athletes on one course, in the order given, on all cores.
// One athlete's error does not stop the others.
func Squad(c *Course, marks []Mark, squad []Settings) []Result {
	results := make([]Result, len(squad))
	next := make(chan int)
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(squad)) {
		wg.Go(func() {
			for i := range next {
				p, err := Make(c, marks, squad[i])
				results[i] = Result{squad[i].Name, p, err}
			}
		})
	}
	for i := range squad {
		next <- i
	}
	close(next)
	wg.Wait()
	return results
}

// Row is one line of a coach's overview.
type Row struct {
	Name     string
	Target   float64   // s
	FlatPace float64   // s/m
	Half     float64   // s elapsed at half way
	Gun      float64   // s by the gun at the finish
	Elapsed  []float64 // s at the overview's marks
	Warnings []string  // codes
}

// Overview is the squad on one sheet, quickest target first.
type Overview struct {
	Course   string
	Official float64 // m
	Marks    []Mark
	Rows     []Row
	Refused  []Result // those without a plan
}

// NewOverview puts results that were planned with the same marks together. At
// most columns of the marks are kept, evenly chosen, the finish always.
func NewOverview(c *Course, marks []Mark, results []Result, columns int) Overview {
	o := Overview{Course: c.Name, Official: c.Official}
	var keep []int
	columns = max(1, min(columns, len(marks)))
	for k := 1; k <= columns; k++ {
		i := len(marks)*k/columns - 1
		keep = append(keep, i)
		o.Marks = append(o.Marks, marks[i])
	}
	for _, r := range results {
		if r.Plan == nil {
			o.Refused = append(o.Refused, r)
			continue
		}
		p := r.Plan
		row := Row{Name: r.Name, Target: p.Target, FlatPace: p.FlatPace, Half: p.Half, Gun: p.Target + p.GunDelay}
		for _, i := range keep {
			row.Elapsed = append(row.Elapsed, p.Splits[i].Elapsed)
		}
		for _, w := range p.Warnings {
			row.Warnings = append(row.Warnings, w.Code)
		}
		o.Rows = append(o.Rows, row)
	}
	sort.SliceStable(o.Rows, func(i, j int) bool { return o.Rows[i].Target < o.Rows[j].Target })
	return o
}
