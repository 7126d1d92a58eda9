package band

import (
	"math"
	"strings"

	"tautline/report/text"
	"tautline/strategy/pacing"
	"tautline/strategy/quantity"
)

// EffortText is the effort of a race that has been run, for the terminal:
// verdict, split by split against even effort and against the plan, and what
// even effort would have given.
func EffortText(rv *pacing.Judgement, screen text.Screen) []string {
	u := screen.Units
	lines := []string{screen.Heading("Effort")}
	say := func(s string) { lines = append(lines, text.Wrap(s, screen.Width, 0)...) }
	say(strings.Join(rv.Verdict(), " "))
	say("On the level in calm air the whole is worth " + quantity.Pace(rv.FlatPace, u) + ".")
	if rv.EvenGain.High >= 1 {
		say("The same exertion spent evenly would have saved about " + quantity.Clock(rv.EvenGain.Value) + " (" + quantity.Clock(rv.EvenGain.Low) + " to " + quantity.Clock(rv.EvenGain.High) +
			" by published endurance exponents; how exertion adds up is our inference).")
	}
	lines = append(lines, "")
	planned := len(rv.Splits) > 0 && !math.IsNaN(rv.Splits[0].Planned)
	table := text.Table{Columns: []text.Column{{Head: "mark", Flex: true}, {Head: "run", Right: true}, {Head: "gradient", Right: true}, {Head: "flat", Right: true}, {Head: "effort", Right: true}, {Head: "on even", Right: true}}}
	if planned {
		table.Columns = append(table.Columns, text.Column{Head: "plan", Right: true}, text.Column{Head: "on plan", Right: true})
	}
	for _, e := range rv.Splits {
		row := []string{text.Clean(e.Mark), quantity.Clock(e.Run), quantity.Percent(e.Gradient, 1), bare(quantity.Pace(e.FlatPace, u)), signed(e.Harder), quantity.Seconds(math.Round(e.Ahead))}
		if planned {
			row = append(row, quantity.Clock(e.Planned), quantity.Seconds(math.Round(e.AheadOfPlan)))
		}
		table.Rows = append(table.Rows, row)
	}
	lines = append(lines, table.Lines(screen.Width)...)
	lines = append(lines, "")
	legend := "Flat is what the pace is worth on the level, effort how much harder that is than the race as a whole, on even the seconds ahead of the same finish at even effort"
	if planned {
		legend += ", on plan the seconds ahead of the plan"
	}
	say(legend + ".")
	return lines
}

// signed prints a share with its sign.
func signed(v float64) string {
	s := quantity.Percent(v, 0)
	if math.Round(100*v) > 0 {
		return "+" + s
	}
	return s
}
