// Package eligible compares a course with what the rules ask of courses on
// which records or qualifying times count: how far it drops from start to
// finish, and how far apart start and finish lie.
//
// It decides nothing; the governing body does. Heights from maps and receivers
// carry errors of metres, so a verdict can be "cannot tell".
package eligible

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"tautline/geo/earth"
	"tautline/geo/interval"
)

// Caution belongs beside every verdict.
const Caution = "This compares figures with rule texts; it does not make a course eligible. " +
	"Measurement by a qualified measurer and the decision of the governing body do."

// Use is what a rule is for.
type Use string

// Uses.
const (
	Records    Use = "records"
	Qualifying Use = "qualifying"
	Shape      Use = "name only"
)

// Rule is one stated rule. Limits that it does not set are NaN.
type Rule struct {
	Body       string
	Document   string
	Edition    string
	Use        Use
	Drop       float64 // m of drop per m of course, at most
	DropBelow  bool    // the drop must be less than Drop, not at most
	Separation float64 // straight start-finish distance / official distance, at most
	Read       string  // how the text was read: "read", "second-hand"
	Note       string
}

var none = math.NaN()

// Rules are the rules that were read, the strictest use first.
func Rules() []Rule {
	return []Rule{
		{"IAAF", "Rule 260.28 and 260.21, as given by AIMS", "quoted 2009 to 2019", Records, 0.001, false, 0.5, "read (AIMS), second-hand (text of 2018-19)",
			"also asks for a grade A or B measurer, a check on site, and the measurer or another with the data in the lead vehicle"},
		{"USA Track & Field, Road Running Technical Council", "Pre-race and Post-race Verification Guidelines", "snapshots of December 2013 and November 2015", Records, 0.001, false, 0.5, "read", ""},
		{"IAAF", "Rule 240, road races", "2004-05 and 2009", Records, none, false, 0.5, "read", "states the separation; the drop stands in Rule 260"},
		{"IAAF", "Rule 240, road races", "about 2002, as a recommendation", Records, none, false, 0.3, "read", "an older figure, superseded"},
		{"USA Track & Field", "record rule before December 2013", "until December 2013", Records, none, false, 0.3, "second-hand", "an older figure, superseded"},
		{"AIMS", "course measurement page", "undated", Qualifying, 0.001, true, none, "read", "for qualifying performances, not records: start and finish may lie more than half the distance apart"},
		{"Run Canada Committee", "Road Race Course Measurement Procedures, appendix D", "undated", Shape, 0.001, false, 0.3, "read",
			"a course beyond either limit is called point-to-point; that is a name, not a refusal"},
	}
}

// Course is what the rules ask about. Split courses (a record at an
// intermediate distance) are checked with their own finish and distance.
type Course struct {
	Start, Finish earth.LatLon
	Position      float64           // standard deviation of either position along any direction, m
	StartHeight   interval.Estimate // m above any one level; NaN when not known
	FinishHeight  interval.Estimate
	Official      float64 // m
}

// Outcome of a check.
type Outcome string

// Outcomes.
const (
	Meets      Outcome = "meets"
	DoesNot    Outcome = "does not"
	CannotTell Outcome = "cannot tell"
	NotAsked   Outcome = "not asked"
)

// Finding is a course against one rule.
type Finding struct {
	Rule       Rule
	Drop       Outcome
	Separation Outcome
	Verdict    Outcome
	Reason     string // plain words
}

// Figures are the two quantities the rules speak of, with 90 % intervals.
type Figures struct {
	Drop       interval.Estimate // m, positive when the finish lies lower
	DropPerKM  interval.Estimate // m per km of official distance
	Separation interval.Estimate // m, straight line
	Share      interval.Estimate // of the official distance
}

// Errors of Check.
var (
	ErrDistance = errors.New("the official distance must be a positive number of metres")
	ErrPosition = errors.New("the start or the finish is not a position")
	ErrHeight   = errors.New("the interval of a height is not in order")
)

// Measure works out the figures of a course. The straight line is the length
// on the ellipsoid, within 2 m at 100 km. The errors of the two heights are
// taken as independent: heights from one source often share their error, and
// the interval is then wider than it need be.
func Measure(c Course) (Figures, error) {
	var f Figures
	if !(c.Official > 0) || math.IsInf(c.Official, 0) {
		return f, ErrDistance
	}
	for _, p := range []earth.LatLon{c.Start, c.Finish} {
		if !(math.Abs(p.Lat) <= 90 && math.Abs(p.Lon) <= 180) {
			return f, ErrPosition
		}
	}
	if !(c.Position >= 0) || math.IsInf(c.Position, 0) {
		return f, ErrPosition
	}
	for _, h := range []interval.Estimate{c.StartHeight, c.FinishHeight} {
		if !math.IsNaN(h.Value) && !(h.Low <= h.Value && h.Value <= h.High) {
			return f, ErrHeight
		}
	}
	s, e := c.StartHeight, c.FinishHeight
	d := s.Value - e.Value
	f.Drop = interval.Estimate{
		Value: d,
		Low:   d - math.Hypot(s.Value-s.Low, e.High-e.Value),
		High:  d + math.Hypot(s.High-s.Value, e.Value-e.Low),
	}
	f.DropPerKM = f.Drop.Scale(1000 / c.Official)
	sep := earth.Distance(c.Start, c.Finish)
	// Both positions err along the line between them. Where they nearly
	// coincide the error itself is the separation, and this is on the wide side.
	w := interval.Z90 * math.Sqrt2 * c.Position
	f.Separation = interval.Estimate{Value: sep, Low: math.Max(0, sep-w), High: sep + w}
	f.Share = f.Separation.Scale(1 / c.Official)
	return f, nil
}

// Check compares a course with every rule of Rules.
func Check(c Course) (Figures, []Finding, error) {
	f, err := Measure(c)
	if err != nil {
		return f, nil, err
	}
	var all []Finding
	for _, r := range Rules() {
		all = append(all, Against(r, f))
	}
	return f, all, nil
}

// Against compares the figures with one rule.
func Against(r Rule, f Figures) Finding {
	x := Finding{Rule: r}
	x.Drop = within(f.DropPerKM, r.Drop*1000, r.DropBelow)
	x.Separation = within(f.Share, r.Separation, false)
	switch {
	case x.Drop == DoesNot || x.Separation == DoesNot:
		x.Verdict = DoesNot
	case x.Drop == CannotTell || x.Separation == CannotTell:
		x.Verdict = CannotTell
	default:
		x.Verdict = Meets
	}
	x.Reason = reason(x, f)
	return x
}

// within compares an interval with a limit.
func within(e interval.Estimate, limit float64, below bool) Outcome {
	switch {
	case math.IsNaN(limit):
		return NotAsked
	case math.IsNaN(e.Value) || math.IsNaN(e.Low) || math.IsNaN(e.High):
		return CannotTell
	case e.High < limit || (e.High == limit && !below):
		return Meets
	case e.Low > limit || (e.Low == limit && below):
		return DoesNot
	}
	return CannotTell
}

// reason says in words how the figures lie to the limits of the rule.
func reason(x Finding, f Figures) string {
	var parts []string
	limit := x.Rule.Drop * 1000
	switch {
	case x.Drop == NotAsked:
	case math.IsNaN(f.Drop.Value):
		parts = append(parts, fmt.Sprintf("the heights at both ends are not known, and the drop may be at most %.4g m per km", limit))
	case x.Drop == CannotTell:
		parts = append(parts, fmt.Sprintf("the drop is %.2f m per km, between %.2f and %.2f, and the limit of %.4g lies in between", f.DropPerKM.Value, f.DropPerKM.Low, f.DropPerKM.High, limit))
	default:
		parts = append(parts, fmt.Sprintf("the drop is %.2f m per km (%.2f to %.2f) against %.4g", f.DropPerKM.Value, f.DropPerKM.Low, f.DropPerKM.High, limit))
	}
	if x.Separation != NotAsked {
		s := fmt.Sprintf("start and finish lie %.1f %% of the distance apart against %.0f %%", 100*f.Share.Value, 100*x.Rule.Separation)
		if x.Separation == CannotTell {
			s += ", too close to the limit for these positions"
		}
		parts = append(parts, s)
	}
	return strings.Join(parts, "; ")
}
