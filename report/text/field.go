package text

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"tautline/geo/interval"
	"tautline/report/document"
	"tautline/strategy/quantity"
)

// MostRunners is how many records are listed one by one; more are in the JSON.
const MostRunners = 60

// mostCrowded is how many turns of the crowd's line are listed.
const mostCrowded = 40

// Field prints what the records of many runners say of a course.
func Field(s Screen, d document.Field) []byte {
	p := NewPrinter(s)
	u := s.Units
	p.Title(fmt.Sprintf("Field: %s, %s", CourseName(d.Course), Plural(d.Records, "record")))
	p.Blank()
	p.Para(FieldVerdict(d), 0)
	p.Blank()
	for _, t := range FieldLength(d, u) {
		p.Para(t, 0)
	}

	if len(d.Findings) > 0 {
		p.Heading("Where the field did not run the measured course")
		t := Table{Columns: []Column{{Head: "at", Right: true}, {Head: "turns"}, {Head: "what the crowd did", Flex: true}, {Head: "course", Right: true}, {Head: "records", Right: true}}}
		for _, f := range d.Findings {
			t.Rows = append(t.Rows, []string{At((f.FromM+f.ToM)/2, u), TurnNumbers(f.Turns), FieldFinding(f, u), SignedInterval(f.LengthM, u), strconv.Itoa(f.Records)})
		}
		p.Table(t)
		p.Para("There the course was short or long, a marshal was missing, or cones stood elsewhere than when it was measured: go and look.", 0)
		for _, t := range FieldTips(d, u) {
			p.Para(t, 0)
		}
	}

	p.Heading("Runners who left the permitted road")
	if len(d.LeftRoad) == 0 {
		p.Para("None that a record shows for certain.", 0)
	} else {
		t := Table{Columns: []Column{{Head: "at", Right: true}, {Head: "turns"}, {Head: "how", Flex: true}, {Head: "records", Right: true}, {Head: "share", Right: true}}}
		for _, l := range d.LeftRoad {
			t.Rows = append(t.Rows, []string{At((l.FromM+l.ToM)/2, u), TurnNumbers(l.Turns), l.How, strconv.Itoa(l.Records),
				fmt.Sprintf("%s (%s to %s)", quantity.Percent(l.Share.Value, 0), quantity.Percent(l.Share.Low, 0), quantity.Percent(l.Share.High, 0))})
		}
		p.Table(t)
	}

	crowd(p, d, u)
	runners(p, d, u)

	if len(d.Refused) > 0 {
		p.Heading(fmt.Sprintf("Not counted: %s", Plural(len(d.Refused), "record")))
		var list []string
		for _, r := range d.Refused {
			list = append(list, r.Why)
		}
		p.Points(list)
	}
	p.Heading("Cautions")
	list := sentences(d.Warnings)
	if d.CountedTwice > 0 {
		list = append(list, fmt.Sprintf("%s came more than once and counted once.", Plural(d.CountedTwice, "record")))
	}
	p.Points(append(append(list, document.FieldCautions()...), "The bracketed figures are 90 % intervals, except where they are called quartiles."))
	return p.Bytes()
}

// FieldVerdict says whether the field agrees with the measurement.
func FieldVerdict(d document.Field) string {
	switch d.Verdict {
	case "look at":
		where := "Look at the places below"
		switch n := len(d.LookAtTurns); {
		case n == 1:
			where = fmt.Sprintf("Look at turn %d", d.LookAtTurns[0])
		case n > 1:
			where = fmt.Sprintf("Look at turns %s and %d", commas(d.LookAtTurns[:n-1]), d.LookAtTurns[n-1])
		}
		return where + ": " + d.Why + "."
	case "agrees":
		return "The records agree with the course: " + d.Why + "."
	}
	return "The records cannot tell: " + d.Why + "."
}

// FieldLength says what length the records support, and what they cannot see.
func FieldLength(d document.Field, u quantity.Units) []string {
	text := fmt.Sprintf("They support a course of %s (%s to %s)", Far(d.CourseM.Value, u), quantity.DistanceFixed(d.CourseM.Low, u, 3), quantity.DistanceFixed(d.CourseM.High, u, 3))
	if d.OfficialM != nil {
		text += fmt.Sprintf("; the official distance is %s", Far(*d.OfficialM, u))
	} else {
		text += fmt.Sprintf("; the shortest legal line of the drawing has %s, and no official distance was given", Far(d.ShortestM, u))
	}
	out := []string{text + ". The interval holds the doubt of the drawing; what the records add is whether the field ran that drawing."}
	text = fmt.Sprintf("Receivers at one place err together, by %s (standard deviation, learnt on %s of straight road and never below 1 m).",
		quantity.Length(d.SharedErrorM, u), quantity.Distance(d.StraightsM, u))
	var least []string
	if d.SeesTurnbackM != nil {
		least = append(least, "a turn-around that stood less than "+quantity.Length(*d.SeesTurnbackM, u)+" from its place")
	}
	if d.SeesCornerM != nil {
		least = append(least, "a street corner cut less than "+quantity.Length(*d.SeesCornerM, u)+" inside its kerb")
	}
	if d.SeesAcrossM != nil {
		least = append(least, "a crowd less than "+quantity.Length(*d.SeesAcrossM, u)+" outside the road over 100 m")
	}
	if len(least) > 0 {
		text += " So " + strings.Join(least, ", or ") + ", would not be told from it, however many the records."
	}
	return append(out, text)
}

// FieldTips says from where findings at turn-arounds count, if there are any,
// since the table of the turns counts from elsewhere.
func FieldTips(d document.Field, u quantity.Units) []string {
	some, parted := false, false
	for _, f := range d.Findings {
		parted = parted || len(f.Groups) == 2
		some = some || parted || f.Kind == "turned before" || f.Kind == "turned behind"
	}
	var out []string
	if some {
		out = append(out, fmt.Sprintf("Nobody turns on the spot: as a rule a field turns %s beyond the line's furthest point at a turn-around. What is said here counts from there; “beyond” in the table of the turns counts from the line's furthest point and so differs by as much.", quantity.Length(d.UsualBeyondM, u)))
	}
	if parted {
		out = append(out, "Where the field turned at two places, “course” tells of the group that turned further from the turn-around; the length of the course is what the other group ran.")
	}
	return out
}

// FieldFinding says what the crowd did at a place.
func FieldFinding(f document.FieldFinding, u quantity.Units) string {
	m := quantity.Interval(size(f.Metres), u)
	if len(f.Groups) == 2 {
		a, b := f.Groups[0], f.Groups[1]
		second := "at it"
		if b.Kind != "turned at it" {
			second = "turned " + quantity.Interval(size(b.Metres), u) + " " + sideOf(b) + " it"
		}
		return fmt.Sprintf("fell into two groups: of %s %d turned %s %s the turn-around and %d %s: was it moved during the race, or missed by some?",
			Plural(f.Records, "record"), a.Records, quantity.Interval(size(a.Metres), u), sideOf(a), b.Records, second)
	}
	switch f.Kind {
	case "turned before":
		return "turned " + m + " before the turn-around"
	case "turned behind":
		return "turned " + m + " behind the turn-around"
	case "left out":
		return "left out " + m + " of the course"
	case "outside to the left":
		return "ran " + m + " outside the road, on its left"
	}
	return "ran " + m + " outside the road, on its right"
}

// size is a figure without its sign.
func size(e interval.Estimate) interval.Estimate {
	if e.Value < 0 {
		return interval.Estimate{Value: -e.Value, Low: -e.High, High: -e.Low}
	}
	return e
}

// sideOf says on which side of a turn-around a group turned.
func sideOf(g document.FieldGroup) string {
	return strings.TrimPrefix(g.Kind, "turned ")
}

func crowd(p *Printer, d document.Field, u quantity.Units) {
	var shown []document.FieldTurn
	for _, t := range d.Turns {
		if t.OutsideM != nil || t.BeyondM != nil {
			shown = append(shown, t)
		}
	}
	if len(shown) == 0 {
		return
	}
	p.Heading("The crowd's line in the turns")
	if len(shown) > mostCrowded {
		// Those that cost the field most.
		sort.SliceStable(shown, func(i, j int) bool { return median(shown[i]) > median(shown[j]) })
		shown = shown[:mostCrowded]
		sort.SliceStable(shown, func(i, j int) bool { return shown[i].Number < shown[j].Number })
		p.Para(fmt.Sprintf("The %d turns of %d that cost the field most.", mostCrowded, len(d.Turns)), 0)
	}
	t := Table{Columns: []Column{{Head: "turn", Right: true}, {Head: "at", Right: true}, {Head: "outside the line", Flex: true}, {Head: "ran wide, quartiles", Right: true}, {Head: "records", Right: true}}}
	for _, c := range shown {
		out := quantity.None
		switch {
		case c.BeyondM != nil:
			out = quantity.Interval(*c.BeyondM, u) + " beyond"
		case c.OutsideM != nil:
			out = quantity.Interval(*c.OutsideM, u)
		}
		wide := quantity.None
		if c.ExtraM != nil {
			wide = quantity.Interval(*c.ExtraM, u)
		}
		t.Rows = append(t.Rows, []string{strconv.Itoa(c.Number), At(c.AtM, u), out, wide, strconv.Itoa(c.Records)})
	}
	p.Table(t)
}

func median(t document.FieldTurn) float64 {
	if t.ExtraM == nil {
		return math.Inf(-1)
	}
	return t.ExtraM.Value
}

func runners(p *Printer, d document.Field, u quantity.Units) {
	if d.ExtraQuartiles == nil && len(d.Runners) == 0 {
		return
	}
	p.Heading("The runners")
	if q := d.ExtraQuartiles; q != nil {
		p.Para(fmt.Sprintf("The middle one of those whose record shows all of the course ran %s beyond the shortest line; half of them lie between %s and %s.",
			quantity.Length(q.Value, u), quantity.Length(q.Low, u), quantity.Length(q.High, u)), 0)
	}
	if len(d.Runners) > MostRunners {
		p.Para("--json lists every record.", 0)
		return
	}
	t := Table{Columns: []Column{{Head: "", Right: true}, {Head: "matched", Right: true}, {Head: "ran", Right: true}, {Head: "beyond the line", Right: true}, {Head: "watch over official", Right: true}, {Head: "", Flex: true}}}
	if d.OfficialM == nil {
		t.Columns[4].Head = "watch over line"
	}
	for _, r := range d.Runners {
		t.Rows = append(t.Rows, []string{strconv.Itoa(r.Number), quantity.Percent(r.MatchedPart, 0), Far(r.RanM.Value, u), quantity.Interval(r.ExtraM, u), quantity.Signed(r.SurplusM, u), Clean(r.Name)})
	}
	p.Table(t)
}
