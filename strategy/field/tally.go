package field

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"sort"

	"tautline/geo/inputerr"
	"tautline/geo/interval"
)

// stateVersion is raised whenever what a state file holds changes.
const stateVersion = 3

// Widths of the bins of the sketches and their ends, m.
const (
	acrossBin, acrossEdge = 0.25, 40.0
	reachBin, reachEdge   = 0.5, 120.0
	extraBin, extraEdge   = 0.25, 60.0
)

// Row is one record. Lengths are whole millimetres, so that a row is the same
// wherever it was made.
type Row struct {
	Key       string `json:"key"`  // of the record's content
	Name      string `json:"name"` // file
	Share     int64  `json:"share_ppm"`
	Recorded  int64  `json:"recorded_mm"`
	Ran       int64  `json:"ran_mm"`
	RanLow    int64  `json:"ran_low_mm"`
	RanHigh   int64  `json:"ran_high_mm"`
	Extra     int64  `json:"extra_mm"`
	ExtraLow  int64  `json:"extra_low_mm"`
	ExtraHigh int64  `json:"extra_high_mm"`
	Surplus   int64  `json:"surplus_mm"`          // of the watch over the official distance, or over the line
	Left      []Span `json:"left_road,omitempty"` // where the record leaves the permitted road for certain
}

// Span is where one record left the permitted road: m along the line, rounded.
type Span struct {
	From int64 `json:"from_m"`
	To   int64 `json:"to_m"`
	How  How   `json:"how"`
}

// How a runner left the permitted road.
type How string

// The ways to leave the road.
const (
	Cut         How = "cut a corner"
	Crossed     How = "crossed the edge of the permitted road"
	Wide        How = "ran outside the course"
	TurnedEarly How = "missed a turn-around"
	Skipped     How = "left a part out"
)

// place is what all records say of a station.
type place struct {
	Across sketch `json:"across"` // 0.25 m bins, left of the line
	Out    uint32 `json:"out"`    // records that left it out
}

// Tally is what is known of a field so far. Everything in it is whole numbers
// that add up, so parts can be put together in any order. It is not safe for
// concurrent use.
type Tally struct {
	Version int      `json:"version"`
	Print   string   `json:"course"`
	Rows    []Row    `json:"rows"` // in the order of their keys
	Places  []place  `json:"places"`
	Reaches []sketch `json:"reaches"`
	Extras  []sketch `json:"extras"`

	known map[string]int
}

// NewTally is an empty tally of a ground.
func (g *Ground) NewTally() *Tally {
	return &Tally{
		Version: stateVersion, Print: g.print, Rows: []Row{}, known: map[string]int{},
		Places: make([]place, len(g.stations)), Reaches: make([]sketch, len(g.arounds)), Extras: make([]sketch, len(g.Race.Line.Turns)),
	}
}

// Has tells whether a record of this content has been counted.
func (t *Tally) Has(key string) bool { _, ok := t.known[key]; return ok }

// Add counts a record, once: a record of the same content is not counted
// again. It tells whether it was new.
func (t *Tally) Add(l *Look) bool {
	if i, ok := t.known[l.row.Key]; ok {
		// Which of two copies comes first is chance; the name must not be.
		if l.row.Name < t.Rows[i].Name {
			t.Rows[i].Name = l.row.Name
		}
		return false
	}
	t.known[l.row.Key] = len(t.Rows)
	t.Rows = append(t.Rows, l.row)
	t.observe(l.o)
	for k, v := range l.extras {
		if !math.IsNaN(v) {
			t.Extras[k].add(v, extraBin, extraEdge)
		}
	}
	return true
}

func (t *Tally) observe(o observation) {
	for j, seen := range o.seen {
		switch seen {
		case across:
			t.Places[j].Across.add(o.y[j], acrossBin, acrossEdge)
		case leftOut:
			t.Places[j].Out++
		}
	}
	for k, v := range o.reach {
		if !math.IsNaN(v) {
			t.Reaches[k].add(v, reachBin, reachEdge)
		}
	}
}

// Merge adds another tally of the same ground. A record that is in both cannot
// be told apart in the sums and is an error.
func (t *Tally) Merge(o *Tally) error {
	if o.Print != t.Print {
		return fmt.Errorf("the partial result is of another course or another road")
	}
	twice := 0
	for _, r := range o.Rows {
		if t.Has(r.Key) {
			twice++
		}
	}
	if twice > 0 {
		return fmt.Errorf("%d of its records are in another partial result as well", twice)
	}
	for _, r := range o.Rows {
		t.known[r.Key] = len(t.Rows)
		t.Rows = append(t.Rows, r)
	}
	for j := range o.Places {
		t.Places[j].Across.join(o.Places[j].Across)
		t.Places[j].Out += o.Places[j].Out
	}
	for k := range o.Reaches {
		t.Reaches[k].join(o.Reaches[k])
	}
	for k := range o.Extras {
		t.Extras[k].join(o.Extras[k])
	}
	return nil
}

// Encode gives the tally as the content of a state file: the same bytes for
// the same records, however they came in.
func (t *Tally) Encode() ([]byte, error) {
	c := *t
	c.Rows = append([]Row{}, t.Rows...)
	sort.Slice(c.Rows, func(i, j int) bool { return c.Rows[i].Key < c.Rows[j].Key })
	return json.Marshal(&c)
}

// Decode reads a state file of this ground; name is what messages call it.
func (g *Ground) Decode(name string, content []byte) (*Tally, error) {
	bad := func(what, advice string, cause error) error {
		return &inputerr.Error{File: name, What: what, Advice: advice, Cause: cause}
	}
	t := &Tally{known: map[string]int{}}
	d := json.NewDecoder(bytes.NewReader(content))
	d.DisallowUnknownFields()
	if err := d.Decode(t); err != nil {
		return nil, bad("this is no state file of a field", "name a file that --state has written", err)
	}
	switch {
	case t.Version != stateVersion:
		return nil, bad(fmt.Sprintf("the state file has version %d, this program writes %d", t.Version, stateVersion), "start again with a new file", nil)
	case t.Print != g.print:
		return nil, bad("the state file is of another course or another road", "give the same course, race sheet and road, or start again with a new file", nil)
	case len(t.Places) != len(g.stations) || len(t.Reaches) != len(g.arounds) || len(t.Extras) != len(g.Race.Line.Turns):
		return nil, bad("the state file does not fit the course", "start again with a new file", nil)
	}
	sound := func(s *sketch, most float64) bool {
		return len(s.Count) == 0 || s.Low >= int32(-most)-1 && int(s.Low)+len(s.Count) <= int(most)+2 && s.total() <= len(t.Rows)
	}
	for j := range t.Places {
		if !sound(&t.Places[j].Across, acrossEdge/acrossBin) || int(t.Places[j].Out) > len(t.Rows) {
			return nil, bad("the state file is damaged", "start again with a new file", nil)
		}
	}
	for k := range t.Reaches {
		if !sound(&t.Reaches[k], reachEdge/reachBin) {
			return nil, bad("the state file is damaged", "start again with a new file", nil)
		}
	}
	for k := range t.Extras {
		if !sound(&t.Extras[k], extraEdge/extraBin) {
			return nil, bad("the state file is damaged", "start again with a new file", nil)
		}
	}
	for i, r := range t.Rows {
		if t.Has(r.Key) {
			return nil, bad("the state file counts a record twice", "start again with a new file", nil)
		}
		t.known[r.Key] = i
	}
	return t, nil
}

// Sorted gives the rows in the order of their keys: the same for the same
// records, and none that tells who came first.
func (t *Tally) Sorted() []Row {
	rows := append([]Row{}, t.Rows...)
	sort.Slice(rows, func(i, j int) bool { return rows[i].Key < rows[j].Key })
	return rows
}

// ExtraQuartiles are the median and, as bounds, the quartiles of what the
// runners whose record shows nearly all of the course ran beyond the line, m.
func (t *Tally) ExtraQuartiles() (interval.Estimate, bool) {
	var v []int64
	for _, r := range t.Rows {
		if r.Share >= 950_000 {
			v = append(v, r.Extra)
		}
	}
	if len(v) == 0 {
		return interval.Estimate{}, false
	}
	slices.Sort(v)
	at := func(q float64) float64 { return float64(v[int(q*float64(len(v)-1)+0.5)]) / 1000 }
	return interval.Estimate{Value: at(0.5), Low: at(0.25), High: at(0.75)}, true
}

// Records is how many records have been counted.
func (t *Tally) Records() int { return len(t.Rows) }
