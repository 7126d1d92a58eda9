package text

import (
	"fmt"
	"strings"

	"tautline/report/document"
	"tautline/strategy/pacing"
	"tautline/strategy/quantity"
)

// Demo prints the main job on the invented race: the verdict on each of the
// three runners beside the truth that only an invented race has, and the whole
// review of the one who ran widest. effort is the judgement on each of them, nil
// where effort was not judged.
func Demo(s Screen, d document.Demo, effort []*pacing.Judgement) []byte {
	p := NewPrinter(s)
	u := s.Units
	p.Title("The demo: " + d.Name)
	p.Blank()
	p.Para(fmt.Sprintf("An invented race of three invented runners. Its shortest legal line is %s on the map, %d turns; its certified distance is %s. "+
		"Each runner gave in a record; this is what it says, and since the race is invented, what is true.",
		Far(d.ShortestM, u), len(d.Turns), Far(*d.OfficialM, u)), 0)
	widest := 0
	for i, r := range d.Runners {
		p.Heading(r.Name + ", " + r.Who)
		p.Para(strings.Join(Verdict(r.Review, u), " "), 0)
		p.Para(fmt.Sprintf("Truth: %s ran %s beyond the line.", r.Name, quantity.Length(r.TruthExtraM, u)), 0)
		if r.Review.ExtraM.Value > d.Runners[widest].Review.ExtraM.Value {
			widest = i
		}
	}
	p.Blank()
	p.Para("The whole review of one of them, as a runner gets it:", 0)
	p.Blank()
	p.b.Write(Review(s, d.Runners[widest].Review, effort[widest]))
	p.Blank()
	p.Para("Next: tautline demo --out DIR writes these files to try things on; tautline help says what else there is.", 0)
	return p.Bytes()
}
