package effort

import (
	"fmt"
	"math"

	"tautline/geo/inputerr"
	"tautline/strategy/quantity"
)

const (
	// DefaultK is the air coefficient in J s2/kg/m3 of the cost k v|v| that
	// air adds per metre and kilogram. It lies between what Davies 1980
	// implies (0.003 to 0.005) and di Prampero's 0.010 (from memory,
	// unchecked); Pugh 1971's 18.5 m/s wind gives 0.0070 by our inference.
	DefaultK = 0.008

	// DefaultAtRunner is the share of the wind forecast for 10 m above ground
	// that is felt at a runner's height among buildings: about half, common
	// practice.
	DefaultAtRunner = 0.5

	// maxWind is the strongest wind at the runner, m/s, for which an
	// equal-power speed is sought; beyond it nobody races.
	maxWind = 15.0
)

// Air is air resistance with wind. The zero Air leaves air out of account: the
// resistance of calm air is then thought to be part of the flat pace.
type Air struct {
	K         float64 // J s2/kg/m3, 0 to 0.02; 0 leaves air out
	WindEast  float64 // wind at 10 m, towards the east, m/s
	WindNorth float64 // wind at 10 m, towards the north, m/s
	AtRunner  float64 // share of it felt at a runner's height, 0 to 1
}

// Wind is the air with the default coefficient and a wind given as forecasts
// give it: where it blows from, in radians clockwise from north, and its speed
// in m/s at 10 m above ground.
func Wind(from, speed float64) Air {
	sin, cos := math.Sincos(from)
	return Air{K: DefaultK, WindEast: -speed * sin, WindNorth: -speed * cos, AtRunner: DefaultAtRunner}
}

func (a Air) check() error {
	if err := quantity.CheckAll([]quantity.Limit{
		{What: "the air coefficient", Is: a.K, Low: 0, High: 0.02, Show: quantity.In("J s2/kg/m3")},
		{What: "the share of the wind felt at a runner's height", Is: a.AtRunner, Low: 0, High: 1, Show: quantity.InPercent},
	}); err != nil {
		return err
	}
	wind := math.Hypot(a.WindEast, a.WindNorth)
	if felt := wind * a.AtRunner; !(felt <= maxWind) {
		return &inputerr.Error{
			What:   fmt.Sprintf("a wind of %.4g m/s is %.4g m/s at a runner's height", wind, felt),
			Advice: fmt.Sprintf("give one of at most %.4g m/s (%.4g km/h), or leave it out: in more nobody races", maxWind/a.AtRunner, 3.6*maxWind/a.AtRunner),
		}
	}
	return nil
}

// headwind is the part of the wind against a runner with this heading (radians
// anticlockwise from east) and the part across, in m/s at the runner.
func (a Air) headwind(c Conditions) (against, across float64) {
	if a.WindEast == 0 && a.WindNorth == 0 {
		return 0, 0
	}
	sin, cos := math.Sincos(c.Heading)
	k := a.AtRunner * (1 - c.Sheltered)
	return -k * (a.WindEast*cos + a.WindNorth*sin), k * (a.WindNorth*cos - a.WindEast*sin)
}

// drag is what air with the coefficient k adds per metre and kilogram at speed
// v, J/kg/m. It points along the air's velocity seen by the runner and grows
// with its square, so a wind across also costs; without one it is
// k (v+w)|v+w|.
func drag(k, v, against, across float64) float64 {
	w := v + against
	return k * w * math.Sqrt(w*w+across*across)
}

// equalPower finds the speed at which v times cost and drag is the power. The
// left side grows with v for every wind that check lets pass, so a bracketed
// Newton iteration finds the only root.
func equalPower(power, cost, k, against, across, guess float64) float64 {
	if !(power > 0) || math.IsInf(power, 1) || math.IsNaN(cost) || !(guess > 0) {
		return math.NaN()
	}
	lo, hi := 0.0, math.Inf(1)
	v := guess
	for range 200 {
		w := v + against
		rel := math.Sqrt(w*w + across*across)
		y := v*(cost+k*w*rel) - power
		if y > 0 {
			hi = v
		} else {
			lo = v
		}
		slope := cost + k*w*rel
		if rel > 0 {
			slope += v * k * (rel + w*w/rel)
		}
		next := v - y/slope
		if !(next > lo && next < hi) {
			if next = (lo + hi) / 2; math.IsInf(hi, 1) {
				next = 2 * v
			}
		}
		if math.Abs(next-v) <= 1e-9*v { // Newton's next error is its square
			return next
		}
		v = next
	}
	return v
}
