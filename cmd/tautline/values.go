package main

import (
	"strings"
	"unicode"

	"tautline/geo/inputerr"
	"tautline/strategy/quantity"
)

func clockFlag(s string) (float64, error) {
	v, err := quantity.ParseClock(s)
	if err == nil {
		return v, nil
	}
	// A bare number is seconds where only short times are meant.
	if v, bare := quantity.ParseClock(s + " s"); bare == nil {
		return v, nil
	}
	return 0, err // of what was written
}

// notPace lets a parser of times send a pace to the option that takes one.
func notPace(parse func(string) (float64, error), option string) func(string) (float64, error) {
	return func(s string) (float64, error) {
		v, err := parse(s)
		if err != nil && quantity.IsPace(s) {
			return 0, &inputerr.Error{What: "\"" + s + "\" is a pace, not a time", Advice: "--" + option + " takes a pace"}
		}
		return v, err
	}
}

// step reads the distance from mark to mark: "5 km" or a unit alone, "km",
// which is one of it; a bare number is metres.
func step(s string) (float64, error) {
	v, err := far(s)
	if word := strings.TrimSpace(s); err != nil && strings.IndexFunc(word, unicode.IsLetter) == 0 {
		if one, unit := far("1 " + word); unit == nil {
			return one, nil
		}
	}
	return v, err
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
