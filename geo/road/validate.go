package road

import (
	"cmp"
	"fmt"
	"math"

	"tautline/geo/course"
)

// Limits of what a Spec may say, in metres. A road wider than maxWidth or a
// kerb rounder than maxRadius is a slip of the pen, not a street.
const (
	maxWidth     = 200.0
	maxRadius    = 100.0
	maxClearance = 10.0
)

// slack is how far in metres a chainage may lie beyond the ends of the drawn
// course and still be taken for the end: sheets give rounded lengths.
const slack = 1.0

// onto moves a chainage beyond an end of the course to the end.
func onto(c *course.Course, s float64) float64 { return max(0, min(c.Length(), s)) }

// lines are the chainages of the start and the finish line.
func (sp *Spec) lines(c *course.Course) (start, finish float64) {
	finish = c.Length()
	if sp.FinishAt != 0 {
		finish = onto(c, sp.FinishAt)
	}
	return onto(c, sp.StartAt), finish
}

// Validate checks a Spec against a course. Every error is an *Error.
func (sp *Spec) Validate(c *course.Course) error {
	if err := sp.validateWhole(c); err != nil {
		return err
	}
	for i := range sp.Stretches {
		if err := sp.validateStretch(c, i); err != nil {
			return err
		}
	}
	if err := sp.validateProfiles(c); err != nil {
		return err
	}
	for i := range sp.Gates {
		if err := sp.validateGate(c, i); err != nil {
			return err
		}
	}
	for i := range sp.Turnarounds {
		if err := sp.validateTurnaround(c, i); err != nil {
			return err
		}
	}
	for i := range sp.Kerbs {
		if err := sp.validateKerb(c, i); err != nil {
			return err
		}
	}
	return nil
}

// entry is a place in the lists of a Spec, for the errors about what it says.
type entry struct {
	item  Item
	index int // -1 for the Spec itself
}

func (e entry) bad(field string, rule Rule, advice, format string, a ...any) error {
	return &Error{Rule: rule, Item: e.item, Index: e.index, Other: -1, Field: field, What: fmt.Sprintf(format, a...), Advice: advice}
}

func isBad(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }

func (e entry) number(field string, v float64) error {
	if isBad(v) {
		return e.bad(field, RuleNumber, "", "%s is not a number", field)
	}
	return nil
}

func (e entry) onCourse(field string, v float64, c *course.Course) error {
	if err := e.number(field, v); err != nil {
		return err
	}
	if v < -slack || v > c.Length()+slack {
		return e.bad(field, RuleOnCourse, fmt.Sprintf("the drawn course runs from 0 to %.1f m", c.Length()), "%.1f m is off the course", v)
	}
	return nil
}

func (e entry) width(field string, v float64) error {
	if err := e.number(field, v); err != nil {
		return err
	}
	if v <= 0 || v > maxWidth {
		return e.bad(field, RuleWidth, fmt.Sprintf("give metres from kerb to kerb, more than 0 and at most %.0f", maxWidth), "a road %g m wide is impossible", v)
	}
	return nil
}

func (e entry) radius(field string, v float64) error {
	if err := e.number(field, v); err != nil {
		return err
	}
	if v < 0 || v > maxRadius {
		return e.bad(field, RuleRadius, fmt.Sprintf("give metres, 0 to %.0f", maxRadius), "a radius of %g m is impossible", v)
	}
	return nil
}

func (e entry) clearance(field string, v float64) error {
	if !(v >= 0 && v <= maxClearance) {
		return e.bad(field, RuleClearance, fmt.Sprintf("give metres, 0 to %.0f", maxClearance), "a clearance of %g m is impossible", v)
	}
	return nil
}

func (e entry) kind(field string, k EdgeKind) error {
	if k < AutoEdge || k > Free {
		return e.bad(field, RuleKind, "kerb, cone, line or free", "the kind of edge is unknown")
	}
	return nil
}

// validateWhole checks what holds for all of the road.
func (sp *Spec) validateWhole(c *course.Course) error {
	e := entry{ItemSpec, -1}
	if err := cmp.Or(e.width("Width", sp.Width), e.radius("CornerRadius", sp.CornerRadius)); err != nil {
		return err
	}
	for _, v := range []struct {
		field     string
		kind      EdgeKind
		clearance float64
	}{{"Clearance.Kerb", Kerb, sp.Clearance.Kerb}, {"Clearance.Cone", Cone, sp.Clearance.Cone}, {"Clearance.Line", PaintedLine, sp.Clearance.Line}} {
		if isBad(v.clearance) {
			return e.bad(v.field, RuleNumber, "", "the clearance from a %s is not a number", v.kind)
		}
		if err := e.clearance(v.field, v.clearance); err != nil {
			return err
		}
	}
	if sp.Part < AutoPart || sp.Part > LeftHalf {
		return e.bad("Part", RuleKind, "whole, right half or left half", "the road's part is unknown")
	}
	if err := cmp.Or(e.onCourse("StartAt", sp.StartAt, c), e.onCourse("FinishAt", sp.FinishAt, c)); err != nil {
		return err
	}
	if start, finish := sp.lines(c); start >= finish {
		return e.bad("FinishAt", RuleOrder, "chainages run along the drawn course; reverse the drawing if it runs the other way",
			"the finish at %.1f m is not after the start at %.1f m", finish, start)
	}
	return nil
}

// validateStretch checks a stretch, and whether it agrees with those before it.
func (sp *Spec) validateStretch(c *course.Course, i int) error {
	t, e := &sp.Stretches[i], entry{ItemStretch, i}
	if err := cmp.Or(e.onCourse("From", t.From, c), e.onCourse("To", t.To, c)); err != nil {
		return err
	}
	if t.From >= t.To {
		return e.bad("To", RuleOrder, "", "it ends at %.1f m, not after its start at %.1f m", t.To, t.From)
	}
	if t.Width != 0 {
		if err := e.width("Width", t.Width); err != nil {
			return err
		}
	}
	if t.CornerRadius != nil {
		if err := e.radius("CornerRadius", *t.CornerRadius); err != nil {
			return err
		}
	}
	for _, v := range []struct {
		field string
		at    *float64
	}{{"Left", t.Left}, {"Right", t.Right}, {"LaneLeft", t.LaneLeft}, {"LaneRight", t.LaneRight}} {
		if v.at == nil {
			continue
		}
		if isBad(*v.at) {
			return e.bad(v.field, RuleNumber, "", "the %s is not a number", thing[v.field])
		}
		if math.Abs(*v.at) > maxWidth {
			return e.bad(v.field, RuleWidth, "", "an edge %g m beside the course is impossible", *v.at)
		}
	}
	if t.Part < AutoPart || t.Part > Lane {
		return e.bad("Part", RuleKind, "whole, right half, left half or lane", "the part of the road is unknown")
	}
	if t.Part != Lane && (t.LaneLeft != nil || t.LaneRight != nil) {
		return e.bad("Part", RulePart, "say that the part is a lane", "lane edges are given but the part is %s", t.Part)
	}
	if t.Part == Lane && t.LaneLeft == nil && t.LaneRight == nil {
		return e.bad("Part", RulePart, "give its left edge, its right edge or both", "the lane has no edges")
	}
	if err := cmp.Or(e.kind("LeftEdge", t.LeftEdge), e.kind("RightEdge", t.RightEdge)); err != nil {
		return err
	}
	for j := range i {
		if field := disagree(t, &sp.Stretches[j]); field != "" {
			return &Error{Rule: RuleAgree, Item: ItemStretch, Index: i, Other: j, Field: field,
				What:   fmt.Sprintf("it says another %s than a stretch that it overlaps", thing[field]),
				Advice: "end one where the other begins"}
		}
	}
	return nil
}

// validateProfiles checks what the stretches make of the road together.
func (sp *Spec) validateProfiles(c *course.Course) error {
	marks := sp.marks(c)
	for i := range len(marks) - 1 {
		x := sp.resolve((marks[i] + marks[i+1]) / 2)
		e := entry{ItemSpec, -1}
		if x.by >= 0 {
			e = entry{ItemStretch, x.by}
		}
		if x.kerbLeft <= x.kerbRight {
			return e.bad("Left", RuleWidth, "left is positive, right is negative", "the left kerb at %g m is not to the left of the right kerb at %g m", x.kerbLeft, x.kerbRight)
		}
		if x.l.at <= x.r.at {
			return e.bad("LaneLeft", RulePart, "left is positive, right is negative", "the permitted part's left edge at %g m is not to the left of its right edge at %g m", x.l.at, x.r.at)
		}
		if x.l.at > x.kerbLeft+1e-9 || x.r.at < x.kerbRight-1e-9 {
			return e.bad("LaneLeft", RulePart, "leave out an edge that is the kerb", "the lane from %g to %g m lies off the road from %g to %g m", x.l.at, x.r.at, x.kerbLeft, x.kerbRight)
		}
		if x.l.c+x.r.c >= x.l.at-x.r.at {
			return e.bad("Clearance", RuleClearance, "make the road wider or the clearance smaller",
				"%.2f m between the edges leave nothing after clearances of %.2f and %.2f m", x.l.at-x.r.at, x.l.c, x.r.c)
		}
	}
	return nil
}

// validateGate checks that a gate leaves something of the road open.
func (sp *Spec) validateGate(c *course.Course, i int) error {
	g, e := &sp.Gates[i], entry{ItemGate, i}
	if err := e.onCourse("At", g.At, c); err != nil {
		return err
	}
	if isBad(g.From) || isBad(g.To) {
		return e.bad("From", RuleNumber, "", "the opening is not a number")
	}
	if err := e.kind("Edge", g.Edge); err != nil {
		return err
	}
	l0, r0 := math.Max(g.From, g.To), math.Min(g.From, g.To)
	x := sp.resolveOn(c, g.At)
	l, r := math.Min(l0, x.l.at), math.Max(r0, x.r.at)
	if l-r <= 2*sp.Clearance.Of(g.Edge.or(Cone)) {
		return e.bad("From", RulePart, "the opening is given across the road, from the drawn line",
			"nothing of the opening from %s to %s is left on the permitted road from %s to %s", beside(r0), beside(l0), beside(x.r.at), beside(x.l.at))
	}
	return nil
}

// validateTurnaround checks a turn-around. Whether the course turns there is
// found when the drawing is cut.
func (sp *Spec) validateTurnaround(c *course.Course, i int) error {
	t, e := &sp.Turnarounds[i], entry{ItemTurnaround, i}
	if err := e.onCourse("At", t.At, c); err != nil {
		return err
	}
	if t.Kind < AtPoint || t.Kind > RoundMedian {
		return e.bad("Kind", RuleKind, "a point, a cone or a median end", "the kind is unknown")
	}
	if err := e.radius("Radius", t.Radius); err != nil {
		return err
	}
	if t.Clearance != nil {
		if err := e.clearance("Clearance", *t.Clearance); err != nil {
			return err
		}
	}
	for j := range i {
		if math.Abs(sp.Turnarounds[j].At-t.At) < 1 {
			return &Error{Rule: RuleAgree, Item: ItemTurnaround, Index: i, Other: j, Field: "At",
				What: fmt.Sprintf("it is at the same place as turn-around %d", j+1), Advice: "keep one of them"}
		}
	}
	return nil
}

// validateKerb checks a drawn kerb. Whether it lies beside the course is found
// when it is laid along it.
func (sp *Spec) validateKerb(c *course.Course, i int) error {
	k, e := &sp.Kerbs[i], entry{ItemKerb, i}
	if len(k.Line) < 2 {
		return e.bad("Line", RuleKerb, "draw at least two points", "it has fewer than two points")
	}
	for _, p := range k.Line {
		if isBad(p[0]) || isBad(p[1]) {
			return e.bad("Line", RuleNumber, "", "a coordinate is not a number")
		}
	}
	if err := cmp.Or(e.onCourse("From", k.From, c), e.onCourse("To", k.To, c)); err != nil {
		return err
	}
	if k.From > k.To || k.From == k.To && k.To != 0 {
		return e.bad("To", RuleOrder, "", "it ends at %.1f m, not after its start at %.1f m", k.To, k.From)
	}
	return e.kind("Edge", k.Edge)
}

// beside says a place across the road as a race sheet does.
func beside(m float64) string {
	switch {
	case m > 0:
		return fmt.Sprintf("%g m left", m)
	case m < 0:
		return fmt.Sprintf("%g m right", -m)
	}
	return "the drawn line"
}

// thing names for people what a field of Stretch says.
var thing = map[string]string{
	"Width": "width", "Left": "left kerb", "Right": "right kerb", "Part": "part of the road", "LaneLeft": "left edge of the lane",
	"LaneRight": "right edge of the lane", "CornerRadius": "corner radius", "LeftEdge": "kind of left edge", "RightEdge": "kind of right edge",
}

// disagree names the first thing that two overlapping stretches set
// differently, "" if none.
func disagree(a, b *Stretch) string {
	if math.Min(a.To, b.To) <= math.Max(a.From, b.From) {
		return ""
	}
	differ := func(x, y *float64) bool { return x != nil && y != nil && *x != *y }
	wide := func(t *Stretch) bool { return t.Width != 0 }
	edged := func(t *Stretch) bool { return t.Left != nil || t.Right != nil }
	switch {
	case wide(a) && wide(b) && a.Width != b.Width:
		return "Width"
	case wide(a) && edged(b) || wide(b) && edged(a):
		return "Width"
	case differ(a.Left, b.Left):
		return "Left"
	case differ(a.Right, b.Right):
		return "Right"
	case a.Part != AutoPart && b.Part != AutoPart && a.Part != b.Part:
		return "Part"
	case differ(a.LaneLeft, b.LaneLeft):
		return "LaneLeft"
	case differ(a.LaneRight, b.LaneRight):
		return "LaneRight"
	case differ(a.CornerRadius, b.CornerRadius):
		return "CornerRadius"
	case a.LeftEdge != AutoEdge && b.LeftEdge != AutoEdge && a.LeftEdge != b.LeftEdge:
		return "LeftEdge"
	case a.RightEdge != AutoEdge && b.RightEdge != AutoEdge && a.RightEdge != b.RightEdge:
		return "RightEdge"
	}
	return ""
}
