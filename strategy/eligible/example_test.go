package eligible_test

import (
	"fmt"

	"tautline/geo/earth"
	"tautline/geo/interval"
	"tautline/strategy/eligible"
)

// A marathon from one end of a valley to the other: what the rules ask of drop
// and separation is set beside what the course has.
func ExampleCheck() {
	figures, findings, err := eligible.Check(eligible.Course{
		Start: earth.LatLon{Lat: 47, Lon: -27.5}, Finish: earth.LatLon{Lat: 47.3, Lon: -27.5},
		StartHeight: interval.Exact(80), FinishHeight: interval.Exact(20), Official: 42195,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("start and finish lie %.1f km apart, %.0f %% of the distance; it drops %.2f m per km\n",
		figures.Separation.Value/1000, 100*figures.Share.Value, figures.DropPerKM.Value)
	fmt.Printf("drop %s, separation %s\n", findings[0].Drop, findings[0].Separation)
	// Output:
	// start and finish lie 33.4 km apart, 79 % of the distance; it drops 1.42 m per km
	// drop does not, separation does not
}
