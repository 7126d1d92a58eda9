package heights

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// gain is the sum of the rises between the turning points at a threshold.
func gain(heights []float64, threshold float64) float64 {
	turns := turningPoints(heights, threshold)
	var sum float64
	for i := 1; i < len(turns); i++ {
		sum += max(0, heights[turns[i]]-heights[turns[i-1]])
	}
	return sum
}

func TestGainByTurningPoints(t *testing.T) {
	// Derived check values of the hysteresis rule.
	short := []float64{10, 13, 11, 16, 15, 12, 14, 9}
	long := []float64{100, 101, 100, 102, 101, 103, 102, 105, 104, 107, 103, 104, 102, 106, 105, 110}
	for _, c := range []struct {
		heights    []float64
		thresholds []float64
		want       float64
	}{
		{short, []float64{0, 2}, 10}, {short, []float64{3, 4, 6}, 6}, {short, []float64{8}, 0},
		{long, []float64{0, 1}, 21}, {long, []float64{2, 3, 4, 5}, 15}, {long, []float64{6}, 10},
		{nil, []float64{0, 1}, 0}, {[]float64{5}, []float64{0, 1}, 0}, {[]float64{5, 5, 5}, []float64{0, 1}, 0},
		{[]float64{1, 2, 3}, []float64{0, 2}, 2}, {[]float64{3, 2, 1}, []float64{0, 2}, 0},
	} {
		for _, threshold := range c.thresholds {
			if got := gain(c.heights, threshold); got != c.want {
				t.Errorf("gain of %v at %v is %v, want %v", c.heights, threshold, got, c.want)
			}
		}
	}
}

func TestTurningPointsAlternateAndStandApart(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		h := rapid.SliceOfN(rapid.Float64Range(-20, 20), 1, 60).Draw(r, "heights")
		threshold := rapid.Float64Range(0, 15).Draw(r, "threshold")
		turns := turningPoints(h, threshold)
		for k := 1; k < len(turns); k++ {
			d := h[turns[k]] - h[turns[k-1]]
			if turns[k] <= turns[k-1] || math.Abs(d) < threshold {
				r.Fatalf("turns %v of %v at %v", turns, h, threshold)
			}
			if k > 1 && (d > 0) == (h[turns[k-1]] > h[turns[k-2]]) {
				r.Fatalf("turns %v of %v do not alternate", turns, h)
			}
		}
		if a, b := gain(h, threshold), gain(h, threshold/2); a > b+1e-9 {
			r.Fatalf("gain grows with the threshold: %v at %v, %v at half", a, threshold, b)
		}
	})
}

func TestSummedGainOfWhiteNoiseIsTheKnownOne(t *testing.T) {
	// Per sample sigma/sqrt(pi), 2031 m an hour at 1 Hz and 1 m (derived).
	const seed, n = 3, 200_000
	r := rand.New(rand.NewPCG(seed, 1))
	h := make([]float64, n)
	for i := range h {
		h[i] = r.NormFloat64()
	}
	if got := gain(h, 0) / n; math.Abs(got-0.564190) > 0.006 {
		t.Errorf("seed %d: %v per sample, want 0.5642", seed, got)
	}
}

func TestMonotoneIsTheNearestRisingLine(t *testing.T) {
	v := []float64{0, 3, 1, 2, 2, 6, 4, 8}
	monotone(v, true)
	if want := []float64{0, 2, 2, 2, 2, 5, 5, 8}; !slices.Equal(v, want) {
		t.Errorf("%v, want %v", v, want)
	}
	v = []float64{8, 4, 6, 1, 0}
	monotone(v, false)
	if want := []float64{8, 5, 5, 1, 0}; !slices.Equal(v, want) {
		t.Errorf("%v, want %v", v, want)
	}
}
