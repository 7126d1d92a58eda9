package text

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"unicode/utf8"

	"tautline/geo/interval"
	"tautline/report/document"
	"tautline/strategy/pacing"
	"tautline/strategy/quantity"
	"tautline/strategy/review"
)

// Review prints where the distance that a watch showed comes from: a verdict
// in three sentences, the account, the turns most worth running better, the
// marks, the effort, the cautions. effort is nil where it was not judged.
func Review(s Screen, r document.Review, effort *pacing.Judgement) []byte {
	p := NewPrinter(s)
	u := s.Units
	course, record := CourseName(r.Course), Clean(r.Record)
	if record != "" && record != course {
		course += ", " + record
	}
	p.Title("Review: " + course)
	p.Blank()
	p.Para(strings.Join(append(Verdict(r, u), lineToLine(r, u)...), " "), 0)

	p.Heading("Where the distance comes from")
	account(p, r)

	p.Heading("Turns most worth running better")
	turns(p, r)

	if len(r.Marks) > 0 {
		p.Heading("How far ahead of the marks " + shown(r) + " was")
		t := Table{Columns: []Column{{Head: "mark"}, {Head: "ahead", Right: true}, {Head: "since the last", Right: true}, {}}}
		worst := 0
		for i, m := range r.Marks {
			if m.GrewM > r.Marks[worst].GrewM {
				worst = i
			}
		}
		for i, m := range r.Marks {
			note := ""
			if i == worst && m.GrewM >= 1 {
				note = "grew most"
			}
			t.Rows = append(t.Rows, []string{Clean(m.Name), quantity.Signed(m.WatchAheadM, u), quantity.Signed(m.GrewM, u), note})
		}
		p.Table(t)
	}

	if effort != nil {
		p.effort(effort)
	}

	p.Heading("Cautions")
	cautions := sentences(r.Warnings)
	if effort != nil {
		cautions = append(cautions, EffortCaution)
	}
	p.Points(append(cautions, "The bracketed figures are 90 % intervals: they are meant to hold the truth nine times in ten.", LengthCaution, ClosedRoadCaution))
	return p.Bytes()
}

// lineToLine says how long the race took, where the record tells.
func lineToLine(r document.Review, u quantity.Units) []string {
	if r.TimeS == nil {
		return nil
	}
	return []string{fmt.Sprintf("From line to line you took %s, %s.", quantity.Clock(*r.TimeS), PaceOn(r, *r.TimeS, u))}
}

// PaceOn is the pace of a time in seconds over the length that the account
// starts with, and which length that is.
func PaceOn(r document.Review, seconds float64, u quantity.Units) string {
	on := "official distance"
	if r.OfficialIs == review.Line {
		on = "shortest line"
	}
	return quantity.Pace(seconds/r.OfficialM, u) + " on the " + on
}

// shown names where the account ends.
func shown(r document.Review) string {
	if r.WatchIs == "record" {
		return "the record"
	}
	return "the watch"
}

// small is the difference in metres that is not worth an explanation, as a
// fraction of the race: what a certified course is laid out long.
const small = 0.001

// Verdict is the answer in three sentences: how far the watch was off, what of
// it was run and what was not, and so what to do.
func Verdict(r document.Review, u quantity.Units) []string {
	off := r.WatchM - r.OfficialM
	many, more := "too many", "more"
	if off < 0 {
		many, more = "too few", "less"
	}
	by := quantity.Length(math.Abs(off), u)
	first := fmt.Sprintf("%s shows %s for the %s %s: %s %s.", Capital(shown(r)), Far(r.WatchM, u), r.OfficialIs, Far(r.OfficialM, u), by, many)
	if r.OfficialIs == review.Line {
		first = fmt.Sprintf("%s shows %s where the shortest legal line has %s: %s %s.", Capital(shown(r)), Far(r.WatchM, u), Far(r.OfficialM, u), by, more)
	}
	feet, watch := r.ExtraM, r.SumOf(review.Watch)
	course, ends := r.SumOf(review.Course), r.SumOf(review.Ends)
	second := fmt.Sprintf("You ran %s beyond the shortest legal line; the watch and its reception made %s", quantity.Interval(feet, u), SignedInterval(watch, u))
	if math.Abs(course.Value) >= 0.5 || course.Width() >= 1 {
		second += fmt.Sprintf(", the course itself %s", SignedInterval(course, u))
	}
	if math.Abs(ends.Value) >= 0.5 {
		second += fmt.Sprintf(", and before the start and after the finish it counted %s", SignedInterval(ends, u))
	}
	second += "."
	return []string{first, second, third(r, feet, watch, u)}
}

// third says who made the difference, where that can be told, and what follows.
func third(r document.Review, feet, watch interval.Estimate, u quantity.Units) string {
	least := small * r.OfficialM
	off := math.Abs(r.WatchM - r.OfficialM)
	missing, away := r.SumFor(review.NotRecorded), r.SumFor(review.OffCourse)
	course, ends := r.SumOf(review.Course), r.SumOf(review.Ends)
	switch {
	case math.Abs(missing.Value) > math.Max(least, off/2):
		return fmt.Sprintf("The record does not show %s of the course, so what you ran beyond the line there is only guessed.", quantity.Length(-missing.Value, u))
	case math.Abs(course.Value) > math.Max(10*least, off/2):
		return fmt.Sprintf("Most of it is the course itself: check that %s is the distance of this course and of all its laps.", Far(r.OfficialM, u))
	case ends.Value > math.Max(100*least, off/2):
		return "Most of it was counted before the start and after the finish: check that this is the whole course with all its laps."
	case away.Value > feet.Value/2 && feet.Low > watch.High:
		return fmt.Sprintf("So your feet, not the watch, made most of it, and %s of it on a way off the course.", quantity.Interval(away, u))
	case ends.Value > off/2 && ends.Low > math.Max(feet.High, watch.High):
		return "So most of it was counted before the start and after the finish: start and stop the watch at the lines."
	case watch.High < -least && feet.Value > -watch.Value/2:
		return fmt.Sprintf("The watch lost distance that you ran; without that it would have shown %s more.", quantity.Length(-watch.Value, u))
	case watch.High < 0 && watch.Value < -least:
		return "The watch lost distance that you ran; do not read a short course or a fast pace out of it."
	case math.Abs(watch.Value) < least && feet.Value < least:
		return "Both are within what a course is laid out long anyway: you ran close to the line and the watch did well."
	case watch.Low > feet.High:
		return "So the watch, not your feet, made most of the difference; no better line would have taken it away."
	case feet.Low > watch.High && r.BetweenM.Value > feet.Value/2:
		return fmt.Sprintf("So your feet, not the watch, made most of it, and %s of it between the turns: pick the line to the next turn early and hold it.", quantity.Interval(r.BetweenM, u))
	case feet.Low > watch.High:
		return "So your feet, not the watch, made most of it, and the turns below are where to save it."
	}
	return "Whether your feet or the watch made more cannot be told from this one record."
}

// SignedInterval is an interval whose value carries its sign.
func SignedInterval(e interval.Estimate, u quantity.Units) string {
	s := quantity.Interval(e, u)
	if e.Value > 0 && !strings.HasPrefix(s, "0 ") {
		s = "+" + s
	}
	return s
}

// AccountEnds names the two lengths that the account lies between.
func AccountEnds(r document.Review) (official, reading string) {
	official, reading = "shortest legal line", "what the watch showed"
	switch r.OfficialIs {
	case review.Certified:
		official = "certified distance"
	case review.Announced:
		official = "announced distance"
	case review.Line:
	}
	if r.WatchIs == "record" {
		reading = "the record's length"
	}
	return official, reading
}

// AccountItem is an item of the ledger in whole metres or feet.
type AccountItem struct {
	Value  int
	Bounds string // "8 to 15", rounded outward; "" for what is exact
}

// Account gives the items of the ledger as they are shown everywhere, so that
// they visibly add up, and their sum.
func Account(r document.Review, u quantity.Units) (items []AccountItem, sum int) {
	per, _ := ShortUnit(u)
	values := make([]float64, len(r.Ledger))
	for i, item := range r.Ledger {
		values[i] = item.Metres.Value / per
	}
	for i, v := range Together(values) {
		item := AccountItem{Value: v}
		if e := r.Ledger[i].Metres; e.Width() > 0 {
			item.Bounds = fmt.Sprintf("%d to %d", int(math.Floor(e.Low/per)), int(math.Ceil(e.High/per)))
		}
		items = append(items, item)
		sum += v
	}
	return items, sum
}

// SignedWhole prints a whole figure of the ledger: "+12", "-3", "0".
func SignedWhole(v int) string {
	if v == 0 {
		return "0"
	}
	return fmt.Sprintf("%+d", v)
}

// account prints the ledger so that it visibly adds up: whole metres or feet,
// rounded together, a rule, and the sum.
func account(p *Printer, r document.Review) {
	u := p.s.Units
	_, name := ShortUnit(u)
	official, end := AccountEnds(r)
	items, sum := Account(r, u)
	figures := make([]string, 0, len(items)+1)
	for _, x := range items {
		figures = append(figures, SignedWhole(x.Value))
	}
	figures = append(figures, SignedWhole(sum))
	widest := 0
	for _, f := range figures {
		widest = max(widest, utf8.RuneCountInString(f))
	}
	p.Table(Table{Columns: []Column{{}, {Right: true}}, Rows: [][]string{{official, Far(r.OfficialM, u)}, {end, Far(r.WatchM, u)}}})
	p.Blank()
	p.Para(fmt.Sprintf("The difference of %s %s is made up of:", figures[len(figures)-1], name), 0)
	for i, item := range r.Ledger {
		bounds := ""
		if b := items[i].Bounds; b != "" {
			bounds = " (" + b + ")"
		}
		head := strings.Repeat(" ", widest-utf8.RuneCountInString(figures[i])) + figures[i] + " " + name + "  "
		room := p.s.Width - utf8.RuneCountInString(head)
		for j, l := range Wrap(Line(item.Cause)+bounds, room, 2) {
			if j > 0 {
				head = strings.Repeat(" ", utf8.RuneCountInString(head))
			}
			p.Line(head + l)
		}
		if item.Sentence != "" {
			p.Para(Sentence(item.Sentence), utf8.RuneCountInString(head)+2)
		}
	}
	p.Line(strings.Repeat("-", widest+1+len(name)))
	p.Line(figures[len(figures)-1] + " " + name + "  " + "in all")
}

// Together rounds values to whole numbers whose sum is the rounded sum: the
// largest fractions are rounded up first (largest remainder method).
func Together(values []float64) []int {
	total := 0.0
	whole := make([]int, len(values))
	order := make([]int, len(values))
	left := 0
	for i, v := range values {
		total += v
		whole[i] = int(math.Floor(v))
		order[i] = i
		left -= whole[i]
	}
	left += int(math.Round(total))
	sort.SliceStable(order, func(a, b int) bool {
		x, y := values[order[a]], values[order[b]]
		return x-math.Floor(x) > y-math.Floor(y)
	})
	for k := 0; k < left && k < len(order); k++ {
		whole[order[k]]++
	}
	return whole
}

// mostTurns is how many turns are worth a runner's attention.
const mostTurns = 5

func turns(p *Printer, r document.Review) {
	u := p.s.Units
	if len(r.Turns) == 0 {
		p.Para("The course has no turns.", 0)
		return
	}
	var worth []document.ReviewTurn
	for _, t := range r.Turns {
		if t.ExtraM.Value > 0 && !t.Unseen {
			worth = append(worth, t)
		}
	}
	sort.SliceStable(worth, func(i, j int) bool { return worth[i].Cost() > worth[j].Cost() })
	if len(worth) > mostTurns {
		worth = worth[:mostTurns]
	}
	if len(worth) == 0 {
		p.Para("None: no turn shows distance that was given away.", 0)
		return
	}
	sure := 0
	timed := worth[0].LostS != nil
	t := Table{Columns: []Column{{Head: "turn", Right: true}, {Head: "at", Right: true}, {Head: "to the"}, {Head: "ran extra", Right: true}}}
	if timed {
		t.Columns = append(t.Columns, Column{Head: "cost", Right: true})
	}
	for _, x := range worth {
		extra := quantity.Interval(x.ExtraM, u)
		if x.ExtraM.Low > 0 {
			sure++
		} else {
			extra += " ?"
		}
		row := []string{fmt.Sprint(x.Number), Far(x.AtM, u), x.Side + fmt.Sprintf(" %.0f°", math.Abs(x.AngleDeg)), extra}
		if timed {
			lost := ""
			if x.LostS != nil {
				lost = quantity.SecondsInterval(*x.LostS)
			}
			row = append(row, lost)
		}
		t.Rows = append(t.Rows, row)
	}
	p.Table(t)
	if sure < len(worth) {
		p.Blank()
		which := "A turn with ? cannot be told"
		if sure == 0 {
			which = "None of them can be told for certain"
		}
		p.Para(which+" from this one record: its interval reaches zero. The total is surer than any single turn.", 0)
	}
	p.Blank()
	same := true
	for _, x := range worth {
		if x.How != "" {
			same = false
			p.Para(fmt.Sprintf("Turn %d: %s", x.Number, Sentence(x.How)), 0)
		}
	}
	if same {
		p.Para("How: come in from the outside of the road, touch the edge on the inside of the turn half way round, and let yourself out on the straight way to the next turn.", 0)
	}
}
