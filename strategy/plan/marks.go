package plan

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"tautline/geo/inputerr"
)

// Mark is a place where a split is taken, in official metres.
type Mark struct {
	Name string
	At   float64
}

// Finish is the name of the last mark of every plan.
const Finish = "finish"

const (
	sameMark = 1.0  // m; marks closer than this are one
	maxMarks = 1000 // a plan has no more
)

// Every gives a mark each step metres, named with the unit's own number, and
// the finish: Every(5000, 1000, "km", 42195) is 5 km, 10 km … 40 km, finish.
func Every(step, unit float64, name string, official float64) ([]Mark, error) {
	if !(step > 0) || !(unit > 0) || !(official > 0) || official/step > maxMarks {
		return nil, &inputerr.Error{
			What:   fmt.Sprintf("marks every %.6g m on a course of %.6g m", step, official),
			Advice: fmt.Sprintf("ask for 1 to %d marks", maxMarks),
		}
	}
	var marks []Mark
	for k := 1; float64(k)*step < official-sameMark; k++ {
		at := float64(k) * step
		n := strconv.FormatFloat(math.Round(at/unit*1000)/1000, 'f', -1, 64)
		marks = append(marks, Mark{n + " " + name, at})
	}
	return append(marks, Mark{Finish, official}), nil
}

// HillMarks gives the foot and the crest of every climb of the course as marks.
func HillMarks(c *Course) []Mark {
	var marks []Mark
	for i, h := range c.hills {
		name := h.Name
		if name == "" {
			name = fmt.Sprintf("climb %d", i+1)
		}
		marks = append(marks, Mark{name + " foot", h.Foot}, Mark{name + " crest", h.Crest})
	}
	return marks
}

// Points puts named points in order, joins those within a metre of each other,
// drops those at the start, and adds the finish. A point off the course is an
// *inputerr.Error.
func Points(points []Mark, official float64) ([]Mark, error) {
	sorted := slices.Clone(points)
	sort.SliceStable(sorted, func(i, j int) bool { return sorted[i].At < sorted[j].At })
	var marks []Mark
	for _, m := range sorted {
		if !(m.At >= -sameMark && m.At <= official+sameMark) {
			return nil, &inputerr.Error{
				What:   fmt.Sprintf("%q is at %.0f m, off a course of %.0f m", m.Name, m.At, official),
				Advice: "give its distance from the start",
			}
		}
		if m.At < sameMark || m.At > official-sameMark {
			continue
		}
		if n := len(marks); n > 0 && m.At-marks[n-1].At < sameMark {
			if !slices.Contains(strings.Split(marks[n-1].Name, ", "), m.Name) {
				marks[n-1].Name += ", " + m.Name
			}
			continue
		}
		marks = append(marks, m)
	}
	if len(marks) > maxMarks {
		return nil, &inputerr.Error{What: fmt.Sprintf("%d marks", len(marks)), Advice: fmt.Sprintf("give at most %d", maxMarks)}
	}
	return append(marks, Mark{Finish, official}), nil
}

// CheckMarks says what is wrong with marks that do not rise along the course
// or do not end at the finish, as an *inputerr.Error, or nil.
func CheckMarks(marks []Mark, official float64) error {
	last := 0.0
	for _, m := range marks {
		if !(m.At > last) || m.At > official {
			return &inputerr.Error{
				What:   fmt.Sprintf("the mark %q at %.6g m does not follow the one before it", strings.TrimSpace(m.Name), m.At),
				Advice: "give marks in the order they are passed",
			}
		}
		last = m.At
	}
	if len(marks) == 0 || last != official || len(marks) > maxMarks+1 {
		return &inputerr.Error{What: "the marks do not end at the finish", Advice: "add the finish"}
	}
	return nil
}
