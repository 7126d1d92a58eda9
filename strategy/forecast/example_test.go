package forecast_test

import (
	"fmt"
	"time"

	"tautline/strategy/athlete"
	"tautline/strategy/forecast"
)

func Example() {
	may := time.Date(2031, 5, 4, 0, 0, 0, 0, time.UTC)
	a := &athlete.Athlete{Name: "Ilva Brandt", Weekly: 50e3, Races: []athlete.Race{
		{Date: may.AddDate(0, 0, -28), Distance: 10000, Time: 43 * time.Minute},
	}}
	f, err := forecast.ForGoal(a, forecast.Goal{Distance: 21097.5, On: may}, forecast.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	minutes := func(s float64) time.Duration { return time.Duration(s/60+0.5) * time.Minute }
	fmt.Println(minutes(f.Level.Value), "between", minutes(f.Level.Low), "and", minutes(f.Level.High))
	// Output:
	// 1h35m0s between 1h28m0s and 1h43m0s
}
