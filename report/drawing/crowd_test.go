package drawing

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// crowded is the bend with a crowd that keeps to the second metre from the
// right.
func crowded() *Scene {
	s := bend()
	s.Path, s.Plan.Path = nil, nil
	for at := 10.0; at < 595; at += 10 {
		s.Crowd = append(s.Crowd, Crowd{At: at, Left: 4, Right: -4, Share: []float64{0.02, 0.5, 0.2, 0.1, 0.05, 0.05, 0.04, 0.04}})
	}
	s.Spans = []Span{{From: 280, To: 320, Class: "span-worth", Name: "lane"}, {From: 100, To: 100, Left: true, Class: "span-left", Name: "7 cut"}}
	s.Cones = []Cone{{At: 300, Left: 1, Name: "cone <1>"}}
	s.Marks = append(s.Marks, Mark{At: 300, Name: "A", Time: "+6.1 m", Kind: Name})
	return s
}

func TestATintIsWhereItsShareIs(t *testing.T) {
	s := crowded()
	m := StripMap(s)
	for _, h := range m.Strips {
		if err := wellFormed(h); err != nil {
			t.Fatal(err)
		}
		// Half of the field runs between 2 and 3 m right of the middle.
		d := regexp.MustCompile(`class="crowd-4" d="([^"]*)"`).FindStringSubmatch(string(h))
		if d == nil {
			t.Fatal("the densest tint is missing")
		}
		for _, cell := range regexp.MustCompile(`M([\d.]+) [\d.]+H([\d.]+)V`).FindAllStringSubmatch(d[1], -1) {
			left, _ := strconv.ParseFloat(cell[1], 64)
			right, _ := strconv.ParseFloat(cell[2], 64)
			if math.Abs(left-(stripMiddle+2*m.Across)) > 0.06 || math.Abs(right-(stripMiddle+3*m.Across)) > 0.06 {
				t.Errorf("the densest metre is drawn from %.1f to %.1f px", left, right)
			}
		}
		if strings.Count(string(h), `class="crowd-`) != 4 {
			t.Error("not every tint is drawn as one path")
		}
	}
}

func TestTintsAreOrderedAndSparseRoadStaysBlank(t *testing.T) {
	for i, least := range Densities {
		if got := tint(least); got != i {
			t.Errorf("a share of %g has tint %d, want %d", least, got, i)
		}
		if i > 0 && least <= Densities[i-1] {
			t.Error("the shares of the tints do not rise")
		}
		if !strings.Contains(Style, ".crowd-"+strconv.Itoa(i+1)+" ") {
			t.Errorf("tint %d has no style", i+1)
		}
	}
	if tint(Densities[0]-1e-9) != -1 || tint(math.NaN()) != -1 {
		t.Error("nearly nobody has a tint")
	}
}

func TestPlacesFarApartAreNotJoined(t *testing.T) {
	s := crowded()
	s.Crowd = []Crowd{s.Crowd[0], s.Crowd[len(s.Crowd)-1]}
	m := StripMap(s)
	if strings.Contains(string(m.Strips[1]), `class="crowd-`) {
		t.Error("a strip without a place shows a crowd")
	}
}
