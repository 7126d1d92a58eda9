package pacing

import (
	"tautline/geo/heights"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/race"
	"tautline/strategy/review"
)

// Ran is the pacing of a race that has been run and reviewed, as far as it can
// be told.
type Ran struct {
	Course    *plan.Course
	Model     effort.Model   // of what effort costs
	Units     quantity.Units // of the marks
	Planned   *plan.Plan     // even effort for the goal; nil without one
	Judgement *Judgement     // nil when effort cannot be judged; Notes say why
	Notes     []string
}

// Of judges the pacing of a reviewed race, split by split at the marks of
// these units and as a whole from kilometre to kilometre, so that it is as even
// in miles as in kilometres. The settings are those the race would have been planned with;
// with a goal its plan is set beside what was run, with the stops of the race
// sheet unless the settings have some. What the course or the record lack is a
// note, since the review of the line stands without effort; what is wrong with
// the goal is an *inputerr.Error.
func Of(r *race.Race, ground *heights.Profile, v *review.Review, u quantity.Units, s plan.Settings) (*Ran, error) {
	out := &Ran{Model: s.Model, Units: u}
	route, _ := plan.FromRace(r, ground)
	c, err := plan.NewCourse(route)
	if err != nil {
		return out.unless(s.Goal != 0, err)
	}
	marks, err := plan.Every(u.Per(), u.Per(), u.Name(), c.Official)
	if err != nil {
		return out.unless(s.Goal != 0, err)
	}
	out.Course = c
	if s.Goal != 0 {
		if len(s.Stops) == 0 {
			s.Stops = plan.SheetStops(r.Sheet)
		}
		if out.Planned, err = plan.Make(c, marks, s); err != nil {
			return nil, err
		}
	}
	race, notes, err := passings(r, c, v, marks)
	if err != nil {
		return out.unless(false, err)
	}
	kilometres, err := plan.Every(quantity.Kilometre, quantity.Kilometre, quantity.Metric.Name(), c.Official)
	if err != nil {
		return out.unless(false, err)
	}
	grain, _, err := passings(r, c, v, kilometres)
	if err != nil {
		return out.unless(false, err)
	}
	ran := plan.Settings{Model: s.Model, Day: s.Day, Extra: ownExtra(v)}
	if out.Judgement, err = Judge(c, ran, race, grain, out.Planned); err != nil {
		return out.unless(false, err)
	}
	out.Notes = append(out.Notes, notes...)
	if !c.HasHeights() {
		out.Notes = append(out.Notes, "the course has no heights: effort is judged as on the level, so that hills look like uneven pacing; terrain tiles or a course with elevation would tell")
	}
	return out, nil
}

// unless gives the error when it matters, and else a note that nothing was
// judged.
func (r *Ran) unless(matters bool, err error) (*Ran, error) {
	if matters {
		return nil, err
	}
	r.Notes = append(r.Notes, "effort is not judged: "+err.Error())
	return r, nil
}
