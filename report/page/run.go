package page

import (
	"math"

	"tautline/geo/record"
	"tautline/report/drawing"
	"tautline/strategy/effort"
	"tautline/strategy/pacing"
	"tautline/strategy/plan"
	"tautline/strategy/race"
	"tautline/strategy/review"
)

// Run is what a record shows, for drawing.
type Run struct {
	Path  []Place      // in order along the line
	Fixes []Fix        // in the order of the record
	Plan  []Split      // the target that the race was run for; nil without one
	Model effort.Model // of what effort costs
}

// Split is a target pace between two places along the shortest line.
type Split struct {
	From, To float64 // m along the shortest line
	Pace     float64 // s/m
}

// Splits are the target paces of a plan. c is the course that it was made for.
func Splits(r *race.Race, c *plan.Course, p *plan.Plan) []Split {
	var out []Split
	for _, q := range p.Splits {
		out = append(out, Split{r.Line.AlongAt(c.Chainage(q.From)), r.Line.AlongAt(c.Chainage(q.To)), q.Pace})
	}
	return out
}

// RunOf is what a reviewed record shows. rec is the record that v is about, ran
// how it was paced; without that nil.
func RunOf(r *race.Race, v *review.Review, rec record.Record, ran *pacing.Ran) Run {
	run := Run{Model: effort.Default()}
	if ran != nil {
		run.Model = ran.Model
		if ran.Planned != nil {
			run.Plan = Splits(r, ran.Course, ran.Planned)
		}
	}
	last := math.Inf(-1)
	for _, p := range v.Path {
		// The path is in the order of the record; a runner who stood has
		// several fixes at one place, which one point draws as well.
		if p.Along-last < math.Max(0.3, r.Line.Length/mostFixes) {
			continue
		}
		// A part that the record does not show is left open.
		if p.Along-last > drawing.Unshown && len(run.Path) > 0 {
			nan := math.NaN()
			run.Path = append(run.Path, Place{Along: last + 0.01, Left: nan, Low: nan, High: nan})
		}
		last = p.Along
		run.Path = append(run.Path, Place{Along: p.Along, Left: p.Off.Value, Low: p.Off.Low, High: p.Off.High})
	}
	every := 1 + len(rec.Fixes)/mostFixes
	along := review.Along(r, v.Match)
	for i, f := range rec.Fixes {
		if i%every != 0 {
			continue
		}
		run.Fixes = append(run.Fixes, Fix{At: f.At, Along: along[i], Time: v.Fixes[i].T - v.Match.StartTime})
	}
	return run
}

// mostFixes is how many fixes, or points of a path, a page holds; of longer
// records it holds every second one, or fewer.
const mostFixes = 40000
