package heights

import (
	"math"
	"math/rand/v2"
	"testing"
)

// BenchmarkMarathon is a marathon with a height every metre.
func BenchmarkMarathon(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	s := survey(42195, 1, func(at float64) float64 { return 50 + 20*math.Sin(at/900) })
	whiteNoise(r, s, 1)
	for b.Loop() {
		if _, err := New(s, 42195, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
