package effort

import (
	"math"

	"tautline/geo/interval"
	"tautline/strategy/quantity"
)

// Day is what heat and altitude do to the whole race. The zero Day does
// nothing: neither is applied unless asked for. The figures are information
// and no medical advice.
type Day struct {
	Heat     bool    // apply WBGT
	WBGT     float64 // wet-bulb globe temperature, degrees Celsius, -20 to 50
	High     bool    // apply Altitude
	Altitude float64 // mean height of the course above the sea, m, -500 to 6000
}

// Limits of the data behind Day; beyond them the figures are held.
const (
	heatFrom     = 15.0   // degrees Celsius WBGT; no slowing from 7.5 to here
	heatTo       = 25.0   // the warmest class of Ely et al. 2007
	altitudeFrom = 500.0  // m
	altitudeTo   = 2800.0 // m, the highest of both altitude studies
)

// Check says what is wrong with the day, as an *inputerr.Error, or nil.
func (d Day) Check() error {
	var asked []quantity.Limit
	if d.Heat {
		asked = append(asked, quantity.Limit{What: "the wet-bulb globe temperature", Is: d.WBGT, Low: -20, High: 50, Show: quantity.In("°C")})
	}
	if d.High {
		asked = append(asked, quantity.Limit{What: "the altitude", Is: d.Altitude, Low: -500, High: 6000, Show: quantity.In("m")})
	}
	return quantity.CheckAll(asked)
}

// OutOfRange tells whether heat or altitude go beyond the data and were held.
func (d Day) OutOfRange() bool {
	return d.Heat && d.WBGT > heatTo || d.High && d.Altitude > altitudeTo
}

// Slowing is the share by which the day lengthens a race of this distance (m)
// at this flat speed (m/s): 0.02 is 2 % more time. Heat and altitude are added.
// The interval is a stated band, wider than the published mean effects; it has
// not been checked against results.
func (d Day) Slowing(flatSpeed, distance float64) interval.Estimate {
	h, a := d.heat(flatSpeed, distance), d.altitude()
	return interval.Estimate{Value: h.Value + a.Value, Low: h.Low + a.Low, High: h.High + a.High}
}

// heat: nothing up to 15 degrees WBGT (the best range of Mantzios et al. 2022,
// Med Sci Sports Exerc 54(1):153-161, is 7.5 to 15), then 0.35 % per degree at
// the pace of a three-hour marathon and faster (their 0.3 to 0.4 %, elite
// runners), growing in proportion to 0.7 % at the pace of 4:30 and slower
// (Ely et al. 2007, Med Sci Sports Exerc 39(3):487-493: slower places lost
// more; the doubling is our inference, and one large race showed the reverse:
// Front Psychol 2020;11:1438). Shorter races lose less: half for a half
// marathon, 0.3 for 10 km and below, no source. The band, from half to twice
// the value, is ours. Cold is left out: the studies disagree on it.
func (d Day) heat(flatSpeed, distance float64) interval.Estimate {
	if !d.Heat || !(d.WBGT > heatFrom) {
		return interval.Estimate{}
	}
	degrees := math.Min(d.WBGT, heatTo) - heatFrom
	const marathon = 42195.0
	minutes := marathon / flatSpeed / 60
	perDegree := 0.0035 * (1 + clamp((minutes-180)/90, 0, 1))
	v := degrees * perDegree * heatShare(distance)
	return interval.Estimate{Value: v, Low: v / 2, High: v * 2}
}

// heatShare goes in straight lines on the logarithm of distance through 0.3 at
// 10 km, 0.5 at the half and 1 at the marathon.
func heatShare(distance float64) float64 {
	const half, full = 21097.5, 42195.0
	switch {
	case distance >= full:
		return 1
	case distance >= half:
		return 0.5 + 0.5*math.Log(distance/half)/math.Log(full/half)
	}
	return 0.3 + 0.2*clamp(math.Log(distance/10000)/math.Log(half/10000), 0, 1)
}

// altitude: nothing up to 500 m, then 5 % of time per 1000 m for runners not
// used to it, our inference from Wehrlin and Hallen 2006 (Eur J Appl Physiol
// 96:404-412; maximal oxygen uptake -6.3 % per 1000 m, from memory,
// unchecked). The band reaches from 3 % to the 12.3 % that Lara, Salinero and
// Del Coso 2014 (High Alt Med Biol 15:64-69) found between cities, an upper
// bound because the fields differed.
func (d Day) altitude() interval.Estimate {
	if !d.High || !(d.Altitude > altitudeFrom) {
		return interval.Estimate{}
	}
	km := (math.Min(d.Altitude, altitudeTo) - altitudeFrom) / 1000
	return interval.Estimate{Value: 0.05 * km, Low: 0.03 * km, High: 0.123 * km}
}

func clamp(v, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, v)) }
