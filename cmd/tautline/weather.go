package main

import (
	"github.com/spf13/pflag"

	"tautline/geo/inputerr"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/quantity"
	"tautline/strategy/sheet"
)

// weatherFlags are the options about the day of a race.
type weatherFlags struct {
	sheet           bool
	wbgt, altitude  quantityFlag
	wind, sheltered quantityFlag
	windFrom        quantityFlag
}

func (f *weatherFlags) define(set *pflag.FlagSet) {
	flag := func(v *quantityFlag, parse func(string) (float64, error), name, usage string) {
		v.parse = parse
		set.Var(v, name, usage)
	}
	set.BoolVar(&f.sheet, "weather", false, "reckon with the heat, wind and altitude of the race sheet")
	flag(&f.wbgt, quantity.ParseTemperature, "wbgt", "`TEMPERATURE` wet-bulb globe temperature: \"21 °C\"")
	flag(&f.altitude, far, "altitude", "`METRES` above the sea, for athletes not used to it")
	flag(&f.wind, quantity.ParseSpeed, "wind", "`SPEED` forecast for 10 m above ground: \"5 m/s\"; half of it is felt")
	flag(&f.windFrom, quantity.ParseDirection, "wind-from", "`DIRECTION` the wind blows from: \"SW\" or degrees clockwise from north")
	flag(&f.sheltered, quantity.ParsePercent, "sheltered", "`PERCENT` of the wind that houses and trees keep off")
}

// validate takes the name of the race sheet, "" without one.
func (f *weatherFlags) validate(raceSheet string) error {
	switch {
	case f.sheet && raceSheet == "":
		return &usageError{"--weather takes the weather from the race sheet", "add --race SHEET, or give --wbgt, --wind and --altitude"}
	case (f.wind.value == nil) != (f.windFrom.value == nil):
		return &usageError{"a wind needs a speed and a direction", "give --wind and --wind-from"}
	case f.sheltered.value != nil && f.wind.value == nil && !f.sheet:
		return &usageError{"--sheltered is about the wind", "add --wind and --wind-from, or --weather"}
	}
	return nil
}

// of is the weather that the options ask for; those outrank the race sheet,
// whose file is named.
func (f *weatherFlags) of(s *sheet.Sheet, file string) (w weather, err error) {
	if f.sheet {
		if w, err = sheetWeather(s, file); err != nil {
			return w, err
		}
	}
	if f.wbgt.value != nil {
		w.wbgt = f.wbgt.value
	}
	if f.altitude.value != nil {
		w.altitude = f.altitude.value
	}
	if f.wind.value != nil {
		w.wind, w.from = f.wind.value, f.windFrom.value
	}
	return w, nil
}

// shelter keeps wind off a whole route.
func (f *weatherFlags) shelter(route *plan.Route) {
	if v := f.sheltered.value; v != nil {
		share := *v
		route.Sheltered = func(float64) float64 { return share }
	}
}

// weather is what a plan can reckon with; nil where it is not known.
type weather struct{ wbgt, altitude, wind, from *float64 }

// sheetWeather is the weather of a race sheet; file is its name.
func sheetWeather(s *sheet.Sheet, file string) (weather, error) {
	w := weather{wbgt: s.Weather.WBGT, altitude: s.Weather.Altitude}
	if s.Weather.Wind != nil && s.Weather.WindFrom != nil {
		w.wind, w.from = s.Weather.Wind, s.Weather.WindFrom
	}
	if w == (weather{}) {
		return w, &inputerr.Error{File: file, What: "the race sheet gives no weather that a plan can use", Advice: "add wbgt, altitude, or wind and wind_from under [weather]"}
	}
	return w, nil
}

// on reckons with the weather.
func (w weather) on(p *plan.Settings) {
	if w.wbgt != nil {
		p.Day.Heat, p.Day.WBGT = true, *w.wbgt
	}
	if w.altitude != nil {
		p.Day.High, p.Day.Altitude = true, *w.altitude
	}
	if w.wind != nil && w.from != nil {
		p.Model.Air = effort.Wind(*w.from, *w.wind)
	}
}
