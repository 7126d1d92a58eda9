package text

import (
	"fmt"
	"math"
	"strings"

	"tautline/strategy/pacing"
	"tautline/strategy/quantity"
)

// effort prints the effort of a race that has been run: verdict, split by split
// against even effort and against the plan, and what even effort would have
// given.
func (p *Printer) effort(j *pacing.Judgement) {
	u := p.s.Units
	p.Heading("Effort")
	p.Para(strings.Join(j.Verdict(u), " "), 0)
	p.Para("On the level in calm air the whole is worth "+quantity.Pace(j.FlatPace, u)+".", 0)
	if j.EvenGain.High >= 1 {
		p.Para(fmt.Sprintf("The same exertion spent evenly would have saved about %s (%s to %s by published endurance exponents; how exertion adds up is our inference).",
			quantity.Clock(j.EvenGain.Value), quantity.Clock(j.EvenGain.Low), quantity.Clock(j.EvenGain.High)), 0)
	}
	p.Blank()
	planned := len(j.Splits) > 0 && !math.IsNaN(j.Splits[0].Planned)
	t := Table{Columns: []Column{{Head: "mark", Flex: true}, {Head: "run", Right: true}, {Head: "gradient", Right: true}, {Head: "flat", Right: true}, {Head: "effort", Right: true}, {Head: "on even", Right: true}}}
	if planned {
		t.Columns = append(t.Columns, Column{Head: "plan", Right: true}, Column{Head: "on plan", Right: true})
	}
	for _, e := range j.Splits {
		flat, _, _ := strings.Cut(quantity.Pace(e.FlatPace, u), "/")
		row := []string{Clean(e.Mark), quantity.Clock(e.Run), quantity.Percent(e.Gradient, 1), flat, signedPercent(e.Harder), quantity.Seconds(math.Round(e.Ahead))}
		if planned {
			row = append(row, quantity.Clock(e.Planned), quantity.Seconds(math.Round(e.AheadOfPlan)))
		}
		t.Rows = append(t.Rows, row)
	}
	p.Table(t)
	p.Blank()
	legend := "Flat is what the pace is worth on the level, effort how much harder that is than the race as a whole, on even the seconds ahead of the same finish at even effort"
	if planned {
		legend += ", on plan the seconds ahead of the plan"
	}
	p.Para(legend+".", 0)
}

// signedPercent prints a share with its sign, in whole percent.
func signedPercent(share float64) string {
	s := quantity.Percent(share, 0)
	if math.Round(100*share) > 0 {
		return "+" + s
	}
	return s
}
