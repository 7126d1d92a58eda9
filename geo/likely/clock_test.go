package likely

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A clock that nobody can have run by must cost neither memory nor time, and
// the account stays one of finite numbers. Comparing shapes asked for terabytes
// once, for fixes a nanosecond apart.
func TestAClockThatNobodyRanByIsBorne(t *testing.T) {
	r := town(rand.New(rand.NewPCG(7, 1)), 6)
	plain := steady(r, 2, 3.3)
	for _, c := range []struct {
		name string
		time func(i int, t float64) float64
	}{
		{"fixes a nanosecond apart", func(i int, _ float64) float64 { return 1e-9 * float64(i) }},
		{"all at the same moment", func(int, float64) float64 { return 0 }},
		{"all but one at the same moment", func(i int, _ float64) float64 { return float64(min(i, 1)) }},
		{"six days apart", func(i int, _ float64) float64 { return 6 * 86400 * float64(i) }},
		{"a nanosecond and then a second by turns", func(i int, _ float64) float64 { return float64(i/2) + 1e-9*float64(i%2) }},
		{"a burst in each turn", func(i int, t float64) float64 { return math.Floor(t/30)*30 + 1e-7*float64(i) }},
		{"a day at each thirtieth fix", func(i int, t float64) float64 { return t + 86400*float64(i/30) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			fixes := make([]Fix, len(plain))
			for i, f := range plain {
				f.T = c.time(i, f.T)
				fixes[i] = f
			}
			res := Infer(r, fixes, Options{})
			for _, v := range []float64{res.Extra.Low, res.Extra.Value, res.Extra.High, res.Between.Low, res.Between.High} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("extra %+v, between %+v", res.Extra, res.Between)
				}
			}
			if !(math.Abs(res.Extra.Value) < 0.05*r.Length()) {
				t.Errorf("%.0f m extra for a runner on a line of %.0f m", res.Extra.Value, r.Length())
			}
		})
	}
}
