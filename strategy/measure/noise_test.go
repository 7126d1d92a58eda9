package measure

import "math/rand/v2"

type noise struct{ r *rand.Rand }

func newNoise(seed uint64) noise { return noise{rand.New(rand.NewPCG(seed, 1))} }

func (n noise) norm() float64    { return n.r.NormFloat64() }
func (n noise) uniform() float64 { return n.r.Float64() }
