package document_test

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"tautline/geo/interval"
	"tautline/report/document"
	"tautline/strategy/effort"
	"tautline/strategy/pacing"
	"tautline/strategy/plan"
)

// ridge rises by 2 % from 2 to 5 km and falls by 2 % to 8 km.
type ridge struct{}

func (ridge) Height(at float64) float64 { return 50 + 0.02*math.Max(0, 3000-math.Abs(at-5000)) }

func (g ridge) Climb(from, to float64) interval.Estimate {
	return interval.Exact(g.Height(math.Max(from, math.Min(to, 5000))) - g.Height(from))
}

func (g ridge) Descent(from, to float64) interval.Estimate {
	return interval.Exact(g.Height(math.Max(from, math.Min(to, 5000))) - g.Height(to))
}

// planned is a plan for 10 km, level or over the ridge.
func planned(t *testing.T, ground plan.Ground, s plan.Settings) (*plan.Course, *plan.Plan) {
	t.Helper()
	c, err := plan.NewCourse(plan.Route{Official: 10000, Shortest: 10000, Ground: ground})
	if err != nil {
		t.Fatal(err)
	}
	marks, err := plan.Every(1000, 1000, "km", 10000)
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(c, marks, s)
	if err != nil {
		t.Fatal(err)
	}
	return c, p
}

func TestTheDocumentOfAPlanKeepsTheSums(t *testing.T) {
	_, p := planned(t, ridge{}, plan.Settings{Goal: 3000.5, Model: effort.Default()})
	d := document.NewPlan(p)
	var sum float64
	for _, s := range d.Splits {
		sum += s.SplitS
		if math.Abs(s.ElapsedS-sum) > 1e-6 {
			t.Errorf("%s: %v s elapsed, splits of %v s", s.Mark, s.ElapsedS, sum)
		}
	}
	if last := d.Splits[len(d.Splits)-1]; last.ElapsedS != d.TargetS || d.TargetS != 3000.5 {
		t.Errorf("%+v", last)
	}
	if d.Warnings == nil {
		t.Error("no list of warnings")
	}
}

func TestTheDocumentOfPacingLeavesOutWhatNeedsAPlan(t *testing.T) {
	s := plan.Settings{Goal: 3000, Model: effort.Default()}
	c, p := planned(t, nil, s)
	var race []pacing.Passing
	for _, x := range p.Splits {
		race = append(race, pacing.Passing{Name: x.Mark, At: x.To, Elapsed: x.Elapsed})
	}
	judged := func(against *plan.Plan) document.Pacing {
		j, err := pacing.Judge(c, s, race, nil, against)
		if err != nil {
			t.Fatal(err)
		}
		return document.NewPacing(j)
	}
	with, without := judged(p), judged(nil)
	for i := range with.Splits {
		a, b := with.Splits[i], without.Splits[i]
		if a.PlannedS == nil || *a.PlannedS != 300 || *a.AheadOfPlanS != 0 || b.PlannedS != nil || b.OverPlanShare != nil {
			t.Errorf("%+v %+v", a, b)
		}
	}
	if b, err := json.Marshal(without); err != nil || !bytes.Contains(b, []byte(`"planned_s":null`)) {
		t.Errorf("%v %s", err, b)
	}
}
