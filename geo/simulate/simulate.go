// Package simulate makes runners and records whose truth is known: a path on
// the road that a runner could have run, and what a receiver would have
// written down of it. It is the measuring stick for everything that infers
// running from records, so it shares no code with what it measures.
//
// A run has three steps, each from its own seeded generator so that one can be
// changed while the others stay:
//
//	course := simulate.RandomCourse(simulate.Corners, 10000, rng)   // what is drawn
//	truth, err := runner.Run(reference, rng)                        // what is run
//	record := environment.Record(truth, options, rng)               // what is written
//
// The reference between the first two, the shortest legal line of the course,
// comes from the packages that make it.
//
// Lengths are in metres, times in seconds, angles in radians anticlockwise; a
// left turn is positive, an offset to the left of the direction of travel is
// positive.
package simulate

import "math/rand/v2"

// Rand is the generator that all simulations start from: PCG, which gives the
// same numbers on every machine. Different streams of one seed are independent.
func Rand(seed, stream uint64) *rand.Rand {
	return rand.New(rand.NewPCG(seed, stream))
}

// uniform draws from [low, high).
func uniform(rng *rand.Rand, low, high float64) float64 {
	return low + (high-low)*rng.Float64()
}
