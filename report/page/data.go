package page

import (
	"encoding/json"
	"math"

	"tautline/report/drawing"
	"tautline/report/text"
	"tautline/strategy/quantity"
)

// data is what the script of the page needs besides the drawings. Places are
// whole centimetres, times whole tenths of a second, each as the difference to
// the one before.
type data struct {
	Length float64    `json:"length"`
	Unit   float64    `json:"unit"`
	Name   string     `json:"unit_name"`
	Short  float64    `json:"short"` // of lengths of the size of a road, m
	Brief  string     `json:"short_name"`
	Line   [3][]int64 `json:"line"`  // at, x, y
	Path   [5][]int64 `json:"path"`  // at, x, y, low, high (the last two plain)
	Sides  [2][]int64 `json:"sides"` // direction to the left at the points of path, thousandths, plain
	Kerbs  [][]int64  `json:"kerbs"` // x, y in turn
	Edges  [][]int64  `json:"edges"`
	Fixes  [4][]int64 `json:"fixes"` // at, x, y, time, in decimetres and tenths of a second
	Turns  []turnData `json:"turns"`
	Ground [2][]int64 `json:"ground"`          // at, height, both in cm
	Crowd  [][]int64  `json:"crowd,omitempty"` // at, and left of the line the middle, low, high (the last three plain)
}

type turnData struct {
	Number int     `json:"number"`
	At     float64 `json:"at"`
	Words  string  `json:"words"`
}

// deltas turns places in metres into differences in centimetres. Unknown
// places repeat the last one.
func deltas(n int, at func(int) float64, scale float64) []int64 {
	out := make([]int64, 0, n)
	last := int64(0)
	for i := range n {
		v := at(i)
		w := last
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			w = int64(math.Round(v * scale))
		}
		out = append(out, w-last)
		last = w
	}
	return out
}

func plainInts(n int, at func(int) float64, scale float64) []int64 {
	out := make([]int64, 0, n)
	for i := range n {
		v := at(i) * scale
		if math.IsNaN(v) || math.IsInf(v, 0) {
			v = 0
		}
		out = append(out, int64(math.Round(v)))
	}
	return out
}

func newData(s *drawing.Scene, u quantity.Units) ([]byte, error) {
	const cm = 100
	short, brief := text.ShortUnit(u)
	d := data{Length: math.Round(s.Length*100) / 100, Unit: s.Unit.Metres, Name: s.Unit.Name, Short: short, Brief: brief, Turns: []turnData{}}
	line := thin(s.Plan.Line)
	d.Line = [3][]int64{
		deltas(len(line), func(i int) float64 { return line[i].At }, cm),
		deltas(len(line), func(i int) float64 { return line[i].X }, cm),
		deltas(len(line), func(i int) float64 { return line[i].Y }, cm),
	}
	path := s.Plan.Path
	d.Path = [5][]int64{
		deltas(len(path), func(i int) float64 { return path[i].At }, cm),
		deltas(len(path), func(i int) float64 { return path[i].X }, cm),
		deltas(len(path), func(i int) float64 { return path[i].Y }, cm),
		plainInts(len(path), func(i int) float64 { return path[i].Low }, cm),
		plainInts(len(path), func(i int) float64 { return path[i].High }, cm),
	}
	d.Sides = [2][]int64{
		plainInts(len(path), func(i int) float64 { return path[i].NX }, 1000),
		plainInts(len(path), func(i int) float64 { return path[i].NY }, 1000),
	}
	fixes := s.Plan.Fixes
	d.Fixes = [4][]int64{
		deltas(len(fixes), func(i int) float64 { return fixes[i].At }, 10),
		deltas(len(fixes), func(i int) float64 { return fixes[i].X }, 10),
		deltas(len(fixes), func(i int) float64 { return fixes[i].Y }, 10),
		deltas(len(fixes), func(i int) float64 { return fixes[i].T }, 10),
	}
	for _, q := range []struct {
		from [][]drawing.Point
		to   *[][]int64
	}{{s.Plan.Kerbs, &d.Kerbs}, {s.Plan.Edges, &d.Edges}} {
		*q.to = [][]int64{}
		for _, l := range q.from {
			out := make([]int64, 0, 2*len(l))
			var x, y int64
			for _, p := range l {
				u, v := int64(math.Round(p.X*cm)), int64(math.Round(p.Y*cm))
				out = append(out, u-x, v-y)
				x, y = u, v
			}
			*q.to = append(*q.to, out)
		}
	}
	for _, t := range s.Turns {
		side := "right"
		if t.Left() {
			side = "left"
		}
		words := side
		if t.Figure != "" {
			words += ", " + t.Figure
		}
		d.Turns = append(d.Turns, turnData{t.Number, math.Round(t.At*10) / 10, words})
	}
	d.Ground = [2][]int64{
		deltas(len(s.Ground), func(i int) float64 { return s.Ground[i].At }, cm),
		deltas(len(s.Ground), func(i int) float64 { return s.Ground[i].Height }, cm),
	}
	if c := s.Middle; len(c) > 0 {
		d.Crowd = [][]int64{
			deltas(len(c), func(i int) float64 { return c[i].At }, cm),
			plainInts(len(c), func(i int) float64 { return c[i].Left }, cm),
			plainInts(len(c), func(i int) float64 { return c[i].Low }, cm),
			plainInts(len(c), func(i int) float64 { return c[i].High }, cm),
		}
	}
	return json.Marshal(d)
}

// thin drops stations that lie within a centimetre of a straight line between
// neighbours and are less than 20 m apart.
func thin(line []drawing.Station) []drawing.Station {
	var out []drawing.Station
	for i, q := range line {
		if i > 0 && i < len(line)-1 && len(out) > 0 {
			a, b := out[len(out)-1], line[i+1]
			l := math.Hypot(b.X-a.X, b.Y-a.Y)
			if l > 0 && l < 20 && math.Abs((q.X-a.X)*(b.Y-a.Y)-(q.Y-a.Y)*(b.X-a.X))/l < 0.01 {
				continue
			}
		}
		out = append(out, q)
	}
	return out
}
