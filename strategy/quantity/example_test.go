package quantity_test

import (
	"fmt"

	"tautline/geo/interval"
	"tautline/strategy/quantity"
)

func Example() {
	metres, _ := quantity.ParseDistance("26.2 mi", quantity.NoUnit)
	exact, note := quantity.Official(metres)
	fmt.Println(quantity.Distance(exact, quantity.Metric))
	fmt.Println(note)
	fmt.Println(quantity.Interval(interval.Estimate{Value: 12, Low: 8, High: 16}, quantity.Metric))
	_, err := quantity.ParseDistance("42,195 m", quantity.NoUnit)
	fmt.Println(err)
	// Output:
	// 42.195 km
	// 42164.8 m was taken as the official marathon of 42195 m
	// 12 m (8 to 16)
	// "42,195 m" has a comma (write a decimal point: 42.195, or without a separator: 42195)
}
