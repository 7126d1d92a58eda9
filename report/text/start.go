package text

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"tautline/geo/interval"
	"tautline/strategy/quantity"
	"tautline/strategy/start"
)

// Start prints where to line up and what each place would mean.
func Start(s Screen, name string, a *start.Advice) []byte {
	p := NewPrinter(s)
	u := s.Units
	title := "Start"
	if n := Clean(name); n != "" {
		title += ": " + n
	}
	p.Title(fmt.Sprintf("%s, for %s over %s", title, quantity.Pace(a.Runner.Pace, u), quantity.Distance(a.Runner.Distance, u)))
	p.Blank()
	b := a.Best
	p.Para(fmt.Sprintf("Stand %s: about %.0f people in front, %s behind the line.", PenPlace(a, b), b.Ahead, quantity.Length(b.Behind, u)), 0)
	p.Para(fmt.Sprintf("From the gun to the mat %s. The crowd after it costs %s, %.0f s of it in %s; make it up evenly over the whole race, not at once.",
		ClockInterval(b.Delay), quantity.SecondsInterval(b.Crowd), b.FirstKm.Value, FirstKilometre(u)), 0)
	what := fmt.Sprintf("Places go by chip time: the %s before the mat cost nothing.", quantity.Clock(b.Delay.Value))
	if a.Line.GunAwards {
		what = fmt.Sprintf("Places or awards go by gun time: the %s before the mat count. Who runs for a place stands at the front of where the pace allows; a best is still the chip time.", quantity.Clock(b.Delay.Value))
	}
	p.Para(what, 0)

	p.Heading("Where one stands and what it means")
	t := Table{Columns: []Column{{Head: "place", Flex: true}, {Head: "ahead", Right: true}, {Head: "mat", Right: true}, {Head: "crowd", Right: true}, {Head: "pass", Right: true}, {Head: "past", Right: true}, {Head: "weave", Right: true}}}
	spots := append([]start.Spot{b}, a.Others...)
	slices.SortStableFunc(spots, func(x, y start.Spot) int { return cmp.Compare(x.Ahead, y.Ahead) })
	for _, x := range spots {
		t.Rows = append(t.Rows, []string{x.Where, fmt.Sprintf("%.0f", x.Ahead), quantity.Clock(x.Delay.Value), fmt.Sprintf("%.0f s", x.Crowd.Value),
			people(x.Passes), people(x.Passed), quantity.Length(math.Round(x.Weave.Value), u)})
	}
	p.Table(t)
	p.Blank()
	p.Para("Ahead: people in front. Mat: time from the gun to the mat. Crowd: what it costs against the own pace, from half of it to twice. Pass and past: people to pass, and people coming past.", 0)
	p.Para(fmt.Sprintf("Passing and weaving are counted until the crowd has thinned, after about %s. Weaving at the right place: %s.",
		quantity.Distance(math.Round(b.Over/10)*10, u), quantity.Interval(b.Weave, u)), 0)

	p.Heading("Which part of the road")
	if x := a.Sides; x.Known {
		far := quantity.Distance(math.Round(x.Over/10)*10, u)
		if math.Max(x.Left, x.Right) < 0.5 {
			p.Para("Within the first "+far+" there are no turns: either edge is as short as the middle.", 0)
		} else {
			p.Para(fmt.Sprintf("Against the shortest way, the first %s is longer by %s at the left edge, %s in the middle and %s at the right edge.", far,
				quantity.Length(x.Left, u), quantity.Length(x.Middle, u), quantity.Length(x.Right, u)), 0)
			p.Para("The "+x.Better+" edge is the better one.", 0)
		}
	} else {
		step := "metre"
		if u == quantity.Imperial {
			step = "foot"
		}
		per, _ := ShortUnit(u)
		p.Para(fmt.Sprintf("Every %s further out in a turn of 90° adds %s; give the COURSE to have its first turns added up.", step, quantity.Length(per*math.Pi/2, u)), 0)
	}
	p.Para("The edges thin out before the middle (common practice). In a crowd a few metres at a turn are cheaper than braking and darting.", 0)

	p.Heading("For the plan")
	delay, crowd := b.ForPlan()
	p.Para(fmt.Sprintf("tautline plan … --gun-delay \"%.0f s\" --crowd \"%.0f s\" --crowd-over \"%.0f m\"", delay, crowd.Seconds, crowd.Over), 2)

	p.Heading("How it is reckoned")
	flow := "the published flows of race starts, 102 to 152 runners a minute and metre (Peckover et al. 2022)"
	if a.Line.Flow != (interval.Estimate{}) {
		flow = fmt.Sprintf("the given flow of %.0f runners a minute and metre", 60*a.Line.Flow.Value)
	}
	p.Points([]string{
		"The time to the mat: people in front over flow times width, with " + flow + "; in brackets its 90 % band, the count taken as known to 15 % (our own, unsourced).",
		"People to pass and coming past: paces spread evenly over a pen, people misjudging themselves by 6 % (our own, unsourced). What the crowd costs: 0.09 s times the people to pass in the first kilometre per metre of road width, to the power 1.5. That form is our own, from simulated fields and unsourced; its band, half to twice, holds nine in ten of them.",
		"The band of the cost reaches up to the time to the mat, at most a minute: so much was lost after the line in five marathons (Stone 1999, informal). Real starts have not been used otherwise.",
	})
	if len(a.Notes) > 0 {
		p.Heading("Look again")
		p.Points(sentences(a.Notes))
	}
	p.Heading("Cautions")
	p.Points(start.Cautions())
	return p.Bytes()
}

func people(e interval.Estimate) string { return fmt.Sprintf("%.0f", e.Value) }

// PenPlace says where in a pen a spot is.
func PenPlace(a *start.Advice, s start.Spot) string {
	pen := "pen " + cmp.Or(Clean(a.Line.Pens[s.Pen].Name), strconv.Itoa(s.Pen+1))
	if len(a.Line.Pens) == 1 {
		pen = "the field"
	}
	switch {
	case s.Share <= 0.1:
		return "at the front of " + pen
	case s.Share < 0.4:
		return "in " + pen + ", in the front third"
	case s.Share <= 0.6:
		return "in " + pen + ", in the middle"
	case s.Share < 0.9:
		return "in " + pen + ", in the back third"
	}
	return "at the back of " + pen
}
