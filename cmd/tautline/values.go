package main

import (
	"tautline/geo/inputerr"
	"tautline/strategy/quantity"
)

func clockFlag(s string) (float64, error) {
	if v, err := quantity.ParseClock(s); err == nil {
		return v, nil
	}
	// A bare number is seconds where only short times are meant.
	return quantity.ParseClock(s + " s")
}

func perKm(s string) (float64, error) { return quantity.ParsePace(s, quantity.NoUnit) }

func speedOrPace(s string) (float64, error) {
	if v, err := quantity.ParseSpeed(s); err == nil {
		return v, nil
	}
	p, err := quantity.ParsePace(s, quantity.NoUnit)
	if err != nil {
		return 0, &inputerr.Error{What: "\"" + s + "\" is neither a speed nor a pace", Advice: "write 4.1 m/s, 14.8 km/h or 4:04/km"}
	}
	return 1 / p, nil
}
