package simulate_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"tautline/geo/simulate"
)

func Example() {
	// A straight kilometre; a turn would stand in Turns.
	reference := simulate.Reference{Line: orb.LineString{{0, 0}, {1000, 0}}}
	runner := simulate.Runner{Speed: 4, WeaveSD: 0.5, WeaveLength: 40}
	truth, err := runner.Run(reference, simulate.Rand(1, 1))
	if err != nil {
		fmt.Println(err)
		return
	}
	record := simulate.TreeLined().Record(truth, simulate.Options{}, simulate.Rand(1, 2))
	fmt.Printf("ran %.0f m in %.0f s\n", truth.Ran, truth.Duration)
	fmt.Printf("the receiver wrote %d fixes, %d m in all\n", len(record.Fixes), int(record.Length()))
	// Output:
	// ran 1000 m in 250 s
	// the receiver wrote 251 fixes, 1003 m in all
}
