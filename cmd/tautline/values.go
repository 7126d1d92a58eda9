package main

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"

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

// signedPercent reads a share that may be below zero.
func signedPercent(s string) (float64, error) {
	t := strings.TrimSpace(s)
	if size := strings.TrimLeft(t, "-−"); size != t {
		v, err := quantity.ParsePercent(size)
		return -v, err
	}
	return quantity.ParsePercent(strings.TrimPrefix(t, "+"))
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

// compass reads degrees clockwise from north or a point of the compass, as
// radians clockwise from north.
func compass(s string) (float64, error) {
	points := strings.Fields("N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW")
	if i := slices.Index(points, strings.ToUpper(strings.TrimSpace(s))); i >= 0 {
		return float64(i) * math.Pi / 8, nil
	}
	d, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(s), "°"), 64)
	if err != nil || !(d >= 0 && d <= 360) {
		return 0, errors.New("write degrees clockwise from north or a point of the compass such as SW")
	}
	return d * math.Pi / 180, nil
}
