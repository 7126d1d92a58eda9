package serve

import (
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"tautline/report/text"
	"tautline/strategy/quantity"
)

// Closure is a restriction of the road that was drawn on the strip map, in
// metres along the drawn course of one lap.
type Closure struct {
	From, To float64
	Lap      int // 0: every lap
	Use      string
	Width    string
}

func (c Closure) words(u quantity.Units) string {
	out := quantity.Distance(c.From, u) + " to " + quantity.Distance(c.To, u) + " of the drawn course"
	if c.Lap > 0 {
		out += fmt.Sprintf(", lap %d", c.Lap)
	}
	if c.Use != "" {
		out += ": " + c.Use
	}
	if c.Width != "" {
		out += ", " + text.Clean(c.Width) + " wide"
	}
	return out
}

// addClosure takes a restriction that was drawn on the strip map: from and to
// are metres along the shortest line.
func (s *Server) addClosure(w http.ResponseWriter, r *http.Request) {
	x, f := s.findForm(w, r)
	if x == nil {
		return
	}
	x.mu.Lock()
	in, res := x.in, x.res
	x.mu.Unlock()
	if res == nil {
		s.refuse(w, r, &refusal{http.StatusConflict, "there is no strip map yet to draw on"})
		return
	}
	next := f.apply(in)
	from, err1 := strconv.ParseFloat(f.values["from"], 64)
	to, err2 := strconv.ParseFloat(f.values["to"], 64)
	c, p := closure(res, from, to, f.values["lap"] == "this", f.values["use"], strings.TrimSpace(f.values["closure-width"]))
	if err1 != nil || err2 != nil {
		p = &Problem{"closure", "where the restriction begins and ends is not known: draw it along a strip"}
	}
	if p == nil && len(next.Closures) >= maxClosures {
		p = &Problem{"closure", "no more restrictions can be drawn here: write them into a race sheet"}
	}
	if p != nil {
		x.mu.Lock()
		x.problem, x.changes = p, nil
		x.mu.Unlock()
		s.see(w, r, "/work/"+x.ID)
		return
	}
	next.Closures = append(next.Closures, c)
	s.carryOut(w, r, x, next, "closure", f.values["ticket"])
}

// closure turns a stretch of the shortest line into one of the drawn course.
func closure(res *result, from, to float64, thisLap bool, use, width string) (Closure, *Problem) {
	if !(from >= 0) || !(to <= res.laid.Line.Length+1) || math.IsNaN(to) {
		return Closure{}, &Problem{"closure", "the restriction lies off the course"}
	}
	if to < from {
		from, to = to, from
	}
	line := res.laid.Line
	a, b := line.CourseAt(from), line.CourseAt(to)
	if b-a < 2 {
		return Closure{}, &Problem{"closure", "the restriction is shorter than 2 m: draw along the strip"}
	}
	lap := 0
	if res.laps > 1 {
		k := math.Floor(a / res.lap)
		if b-k*res.lap > res.lap+1 {
			return Closure{}, &Problem{"closure", "the restriction runs over the end of a lap: draw it in two parts"}
		}
		if thisLap {
			lap = int(k) + 1
		}
		a, b = a-k*res.lap, math.Min(b-k*res.lap, res.lap)
	}
	return Closure{From: math.Round(a), To: math.Round(b), Lap: lap, Use: use, Width: width}, nil
}

func (s *Server) removeClosure(w http.ResponseWriter, r *http.Request) {
	x, f := s.findForm(w, r)
	if x == nil {
		return
	}
	next := f.apply(x.input())
	k, err := strconv.Atoi(f.values["number"])
	if err != nil || k < 0 || k >= len(next.Closures) {
		s.refuse(w, r, &refusal{http.StatusBadRequest, "there is no such restriction"})
		return
	}
	next.Closures = append(next.Closures[:k], next.Closures[k+1:]...)
	s.carryOut(w, r, x, next, "closure", f.values["ticket"])
}
