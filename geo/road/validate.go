package road

import (
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

// end is the chainage of the finish line.
func (sp *Spec) end(c *course.Course) float64 {
	if sp.FinishAt == 0 {
		return c.Length()
	}
	return sp.FinishAt
}

// slack is how far in metres a chainage may lie beyond the ends of the drawn
// course and still be taken for the end: sheets give rounded lengths.
const slack = 1.0

// Validate checks a Spec against a course. Every error is an *Error.
func (sp *Spec) Validate(c *course.Course) error {
	bad := func(item Item, i int, field string, rule Rule, advice, format string, a ...any) error {
		return &Error{Rule: rule, Item: item, Index: i, Other: -1, Field: field, What: fmt.Sprintf(format, a...), Advice: advice}
	}
	isBad := func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }
	length := c.Length()
	onCourse := func(item Item, i int, field string, v float64) error {
		if isBad(v) {
			return bad(item, i, field, RuleNumber, "", "%s is not a number", field)
		}
		if v < -slack || v > length+slack {
			return bad(item, i, field, RuleOnCourse, fmt.Sprintf("the drawn course runs from 0 to %.1f m", length), "%.1f m is off the course", v)
		}
		return nil
	}
	width := func(item Item, i int, field string, v float64) error {
		if isBad(v) {
			return bad(item, i, field, RuleNumber, "", "%s is not a number", field)
		}
		if v <= 0 || v > maxWidth {
			return bad(item, i, field, RuleWidth, fmt.Sprintf("give metres from kerb to kerb, more than 0 and at most %.0f", maxWidth), "a road %g m wide is impossible", v)
		}
		return nil
	}
	radius := func(item Item, i int, field string, v float64) error {
		if isBad(v) {
			return bad(item, i, field, RuleNumber, "", "%s is not a number", field)
		}
		if v < 0 || v > maxRadius {
			return bad(item, i, field, RuleRadius, fmt.Sprintf("give metres, 0 to %.0f", maxRadius), "a radius of %g m is impossible", v)
		}
		return nil
	}
	if err := width(ItemSpec, -1, "Width", sp.Width); err != nil {
		return err
	}
	if err := radius(ItemSpec, -1, "CornerRadius", sp.CornerRadius); err != nil {
		return err
	}
	for _, k := range []EdgeKind{Kerb, Cone, PaintedLine} {
		v := sp.Clearance.Of(k)
		field := map[EdgeKind]string{Kerb: "Clearance.Kerb", Cone: "Clearance.Cone", PaintedLine: "Clearance.Line"}[k]
		if isBad(v) {
			return bad(ItemSpec, -1, field, RuleNumber, "", "the clearance from a %s is not a number", k)
		}
		if v < 0 || v > maxClearance {
			return bad(ItemSpec, -1, field, RuleClearance, fmt.Sprintf("give metres, 0 to %.0f", maxClearance), "a clearance of %g m is impossible", v)
		}
	}
	if sp.Part < AutoPart || sp.Part > LeftHalf {
		return bad(ItemSpec, -1, "Part", RuleKind, "whole, right half or left half", "the road's part is unknown")
	}
	if err := onCourse(ItemSpec, -1, "StartAt", sp.StartAt); err != nil {
		return err
	}
	if err := onCourse(ItemSpec, -1, "FinishAt", sp.FinishAt); err != nil {
		return err
	}
	if sp.StartAt >= sp.end(c) {
		return bad(ItemSpec, -1, "FinishAt", RuleOrder, "chainages run along the drawn course; reverse the drawing if it runs the other way",
			"the finish at %.1f m is not after the start at %.1f m", sp.end(c), sp.StartAt)
	}
	kind := func(item Item, i int, field string, k EdgeKind) error {
		if k < AutoEdge || k > Free {
			return bad(item, i, field, RuleKind, "kerb, cone, line or free", "the kind of edge is unknown")
		}
		return nil
	}
	for i := range sp.Stretches {
		t := &sp.Stretches[i]
		for _, v := range []struct {
			name string
			v    float64
		}{{"From", t.From}, {"To", t.To}} {
			if err := onCourse(ItemStretch, i, v.name, v.v); err != nil {
				return err
			}
		}
		if t.From >= t.To {
			return bad(ItemStretch, i, "To", RuleOrder, "", "it ends at %.1f m, not after its start at %.1f m", t.To, t.From)
		}
		if t.Width != 0 {
			if err := width(ItemStretch, i, "Width", t.Width); err != nil {
				return err
			}
		}
		if t.CornerRadius != nil {
			if err := radius(ItemStretch, i, "CornerRadius", *t.CornerRadius); err != nil {
				return err
			}
		}
		for _, v := range []struct {
			name string
			v    *float64
		}{{"Left", t.Left}, {"Right", t.Right}, {"LaneLeft", t.LaneLeft}, {"LaneRight", t.LaneRight}} {
			if v.v == nil {
				continue
			}
			if isBad(*v.v) {
				return bad(ItemStretch, i, v.name, RuleNumber, "", "the %s is not a number", thing[v.name])
			}
			if math.Abs(*v.v) > maxWidth {
				return bad(ItemStretch, i, v.name, RuleWidth, "", "an edge %g m beside the course is impossible", *v.v)
			}
		}
		if t.Part < AutoPart || t.Part > Lane {
			return bad(ItemStretch, i, "Part", RuleKind, "whole, right half, left half or lane", "the part of the road is unknown")
		}
		if t.Part != Lane && (t.LaneLeft != nil || t.LaneRight != nil) {
			return bad(ItemStretch, i, "Part", RulePart, "say that the part is a lane", "lane edges are given but the part is %s", t.Part)
		}
		if t.Part == Lane && t.LaneLeft == nil && t.LaneRight == nil {
			return bad(ItemStretch, i, "Part", RulePart, "give its left edge, its right edge or both", "the lane has no edges")
		}
		if err := kind(ItemStretch, i, "LeftEdge", t.LeftEdge); err != nil {
			return err
		}
		if err := kind(ItemStretch, i, "RightEdge", t.RightEdge); err != nil {
			return err
		}
		for j := range i {
			if field := disagree(t, &sp.Stretches[j]); field != "" {
				return &Error{Rule: RuleAgree, Item: ItemStretch, Index: i, Other: j, Field: field,
					What:   fmt.Sprintf("it says another %s than a stretch that it overlaps", thing[field]),
					Advice: "end one where the other begins"}
			}
		}
	}
	// What the stretches make of the road together.
	marks := sp.marks(c)
	for i := range len(marks) - 1 {
		x := sp.resolve((marks[i] + marks[i+1]) / 2)
		item, at := ItemSpec, -1
		if x.by >= 0 {
			item, at = ItemStretch, x.by
		}
		if x.kerbLeft <= x.kerbRight {
			return bad(item, at, "Left", RuleWidth, "left is positive, right is negative", "the left kerb at %g m is not to the left of the right kerb at %g m", x.kerbLeft, x.kerbRight)
		}
		if x.l.at <= x.r.at {
			return bad(item, at, "LaneLeft", RulePart, "left is positive, right is negative", "the permitted part's left edge at %g m is not to the left of its right edge at %g m", x.l.at, x.r.at)
		}
		if x.l.at > x.kerbLeft+1e-9 || x.r.at < x.kerbRight-1e-9 {
			return bad(item, at, "LaneLeft", RulePart, "leave out an edge that is the kerb", "the lane from %g to %g m lies off the road from %g to %g m", x.l.at, x.r.at, x.kerbLeft, x.kerbRight)
		}
		if x.l.c+x.r.c >= x.l.at-x.r.at {
			return bad(item, at, "Clearance", RuleClearance, "make the road wider or the clearance smaller",
				"%.2f m between the edges leave nothing after clearances of %.2f and %.2f m", x.l.at-x.r.at, x.l.c, x.r.c)
		}
	}
	for i := range sp.Gates {
		g := &sp.Gates[i]
		if err := onCourse(ItemGate, i, "At", g.At); err != nil {
			return err
		}
		if isBad(g.From) || isBad(g.To) {
			return bad(ItemGate, i, "From", RuleNumber, "", "the opening is not a number")
		}
		if err := kind(ItemGate, i, "Edge", g.Edge); err != nil {
			return err
		}
		l0, r0 := math.Max(g.From, g.To), math.Min(g.From, g.To)
		x := sp.resolve(g.At)
		l, r := math.Min(l0, x.l.at), math.Max(r0, x.r.at)
		if l-r <= 2*sp.Clearance.Of(g.Edge.or(Cone)) {
			return bad(ItemGate, i, "From", RulePart, "the opening is given across the road, from the drawn line",
				"nothing of the opening from %s to %s is left on the permitted road from %s to %s", beside(r0), beside(l0), beside(x.r.at), beside(x.l.at))
		}
	}
	for i := range sp.Turnarounds {
		t := &sp.Turnarounds[i]
		if err := onCourse(ItemTurnaround, i, "At", t.At); err != nil {
			return err
		}
		if t.Kind < AtPoint || t.Kind > RoundMedian {
			return bad(ItemTurnaround, i, "Kind", RuleKind, "a point, a cone or a median end", "the kind is unknown")
		}
		if err := radius(ItemTurnaround, i, "Radius", t.Radius); err != nil {
			return err
		}
		if t.Clearance != nil && (isBad(*t.Clearance) || *t.Clearance < 0 || *t.Clearance > maxClearance) {
			return bad(ItemTurnaround, i, "Clearance", RuleClearance, fmt.Sprintf("give metres, 0 to %.0f", maxClearance), "a clearance of %g m is impossible", *t.Clearance)
		}
		for j := range i {
			if math.Abs(sp.Turnarounds[j].At-t.At) < 1 {
				return &Error{Rule: RuleAgree, Item: ItemTurnaround, Index: i, Other: j, Field: "At",
					What: fmt.Sprintf("it is at the same place as turn-around %d", j+1), Advice: "keep one of them"}
			}
		}
	}
	for i := range sp.Kerbs {
		k := &sp.Kerbs[i]
		if len(k.Line) < 2 {
			return bad(ItemKerb, i, "Line", RuleKerb, "draw at least two points", "it has fewer than two points")
		}
		for _, p := range k.Line {
			if isBad(p[0]) || isBad(p[1]) {
				return bad(ItemKerb, i, "Line", RuleNumber, "", "a coordinate is not a number")
			}
		}
		if err := onCourse(ItemKerb, i, "From", k.From); err != nil {
			return err
		}
		if err := onCourse(ItemKerb, i, "To", k.To); err != nil {
			return err
		}
		if k.From > k.To || k.From == k.To && k.To != 0 {
			return bad(ItemKerb, i, "To", RuleOrder, "", "it ends at %.1f m, not after its start at %.1f m", k.To, k.From)
		}
		if err := kind(ItemKerb, i, "Edge", k.Edge); err != nil {
			return err
		}
	}
	return nil
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
