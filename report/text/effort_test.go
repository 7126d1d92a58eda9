package text_test

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tautline/geo/interval"
	"tautline/report/text"
	"tautline/strategy/effort"
	"tautline/strategy/pacing"
	"tautline/strategy/plan"
)

var update = flag.Bool("update", false, "write the golden file anew")

// waves is a road over two lengths of hill.
type waves struct{}

func (waves) Height(at float64) float64 { return 40 + 25*math.Sin(at/1700) + 6*math.Sin(at/430) }

func (w waves) sum(from, to, sign float64) interval.Estimate {
	var v float64
	for a := from; a < to; a += 10 {
		v += math.Max(0, sign*(w.Height(math.Min(to, a+10))-w.Height(a)))
	}
	return interval.Exact(v)
}

func (w waves) Climb(from, to float64) interval.Estimate   { return w.sum(from, to, 1) }
func (w waves) Descent(from, to float64) interval.Estimate { return w.sum(from, to, -1) }

// fading is a race over the waves, quicker than its plan early and slower late.
func fading(t *testing.T) *pacing.Judgement {
	t.Helper()
	const official = 10000
	c, err := plan.NewCourse(plan.Route{Name: "Quarrymouth", Official: official, Shortest: official + 12, Ground: waves{}})
	if err != nil {
		t.Fatal(err)
	}
	marks, err := plan.Every(1000, 1000, "km", official)
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(c, marks, plan.Settings{Name: "Bram", Goal: 2700, Model: effort.Default()})
	if err != nil {
		t.Fatal(err)
	}
	var race []pacing.Passing
	for i, s := range p.Splits {
		late := 1 + 0.006*float64(i-4)
		race = append(race, pacing.Passing{Name: s.Mark, At: s.To, Elapsed: s.Elapsed * late})
	}
	j, err := pacing.Judge(c, plan.Settings{Model: effort.Default()}, race, nil, p)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func TestEffortAfterTheRaceGolden(t *testing.T) {
	whole := string(text.Review(text.Screen{Width: 80}, poorWatch(), fading(t)))
	_, after, _ := strings.Cut(whole, "\n\nEffort\n")
	section, _, found := strings.Cut(after, "\nCautions\n")
	if !found {
		t.Fatalf("no section on effort before the cautions:\n%s", whole)
	}
	got := "Effort\n" + section
	if !strings.Contains(whole, text.EffortCaution[:40]) {
		t.Error("effort is shown without its caution")
	}
	path := filepath.Join("testdata", "effort.txt")
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("the section on effort differs from the golden file; look at it and run with -update if it is right\n%s", got)
	}
}
