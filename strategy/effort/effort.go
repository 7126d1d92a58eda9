// Package effort holds the one definition of even effort that plan, review and
// forecast share: a pace on a gradient is even effort when its flat-equivalent
// pace is the athlete's flat pace. The flat-equivalent pace is the pace on the
// level, in calm air, that the cost of gradient, with the downhill credit,
// makes equal to this pace on this gradient.
//
// All functions are safe for concurrent use; none changes its arguments.
package effort

import (
	"math"
	"strconv"

	"tautline/geo/inputerr"
	"tautline/strategy/quantity"
)

const gravity = 9.81 // m/s2

const (
	// LevelCost is the net cost of running on the level, J/kg/m, that air
	// resistance is set against: about 3.8 (di Prampero et al. 2005, J Exp
	// Biol 208:2809).
	LevelCost = 3.8

	// DefaultCredit is the downhill credit: the share of the energetic gain
	// downhill that is turned into speed. One third is our reading of Staab,
	// Agnew and Siconolfi 1992 (Med Sci Sports Exerc 24(1):124-127), whose
	// runners lost 2.4 to 2.8 % on hilly treadmill courses, and Townshend,
	// Worringham and Stewart 2010 (Med Sci Sports Exerc 42(1):160-169), whose
	// runners went 13.8 % faster downhill. No paper states the figure.
	DefaultCredit = 1.0 / 3

	// DefaultCap is the greatest speed downhill relative to the level, from
	// the 13.8 % of Townshend, Worringham and Stewart 2010; as a cap it is our
	// reading.
	DefaultCap = 1.14

	// MaxFlex is the greatest effort flex uphill. Johnson, Schmitt, French and
	// Johnson 2022 (Int J Sports Physiol Perform 17(8):1170) saw the best
	// results with at most 10.4 % above the race average on a climb.
	MaxFlex = 0.10

	// flexFull is the gradient at which the effort flex is given in full. It
	// grows from nothing on the level so that a faint rise is not run faster
	// than the level; our own choice.
	flexFull = 0.03
)

// Model is one athlete's cost of gradient and what is made of it. The zero
// Model is not valid; start from Default.
type Model struct {
	Uphill   Cost
	Downhill Cost
	Credit   float64 // downhill credit, 0 to 1
	Cap      float64 // greatest speed downhill relative to the level, 1 to 2
	Flex     float64 // effort added on climbs by choice, 0 to MaxFlex
	Air      Air
}

// Default is Minetti et al. 2002 up and down with the default downhill credit
// and cap, no effort flex and no wind.
func Default() Model { return Published(Minetti2002, Minetti2002) }

// Published is the model with these costs uphill and downhill, the credit that
// suits the downhill one (1 for Davies 1980, whose descending efficiency
// already stands for what little is gained), the default cap, no effort flex
// and no wind.
func Published(up, down Cost) Model {
	m := Model{Uphill: up, Downhill: down, Credit: DefaultCredit, Cap: DefaultCap}
	if info, ok := down.Info(); ok {
		m.Credit = info.Credit
	}
	return m
}

// Check says what is wrong with the settings, as an *inputerr.Error, or nil.
func (m Model) Check() error {
	for _, c := range []struct {
		cost  Cost
		where string
		bad   func(CostInfo) bool
	}{
		{m.Uphill, "uphill", func(i CostInfo) bool { return i.High <= 0 }},
		{m.Downhill, "downhill", func(i CostInfo) bool { return i.Low >= 0 }},
	} {
		info, ok := c.cost.Info()
		if !ok {
			_, err := ParseCost(string(c.cost))
			return err
		}
		if c.bad(info) {
			return &inputerr.Error{
				What:   info.Title + " does not hold " + c.where,
				Advice: "choose " + string(Minetti2002) + " or " + string(Davies1980) + " " + c.where,
			}
		}
	}
	if err := quantity.CheckAll([]quantity.Limit{
		{What: "the downhill credit", Is: m.Credit, Low: 0, High: 1, Show: quantity.InPercent},
		{What: "the limit of speed gained downhill", Is: m.Cap - 1, Low: 0, High: 1, Show: quantity.InPercent},
		{What: "the effort flex uphill", Is: m.Flex, Low: 0, High: MaxFlex, Show: quantity.InPercent},
	}); err != nil {
		return err
	}
	return m.Air.check()
}

func quote(s string) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "…"
	}
	return strconv.Quote(s)
}

// Describe says in a few words how effort is reckoned.
func (m Model) Describe() string {
	up, _ := m.Uphill.Info()
	down, _ := m.Downhill.Info()
	text := up.Title
	if m.Uphill != m.Downhill {
		text += " uphill, " + down.Title + " downhill"
	}
	text += ", downhill credit " + quantity.Percent(m.Credit, 0) + " up to " + quantity.Percent(m.Cap-1, 0)
	if m.Flex > 0 {
		text += ", effort flex " + quantity.Percent(m.Flex, 0)
	}
	if m.Air.K > 0 {
		text += ", wind"
	}
	return text
}

// FlexAt is the effort asked for on a gradient relative to even effort: 1 on
// the level and downhill, 1+Flex from +3 % up, in between in proportion. It is
// a choice of the plan and no part of the flat-equivalent pace, which shows it
// as the harder effort that it is.
func (m Model) FlexAt(gradient float64) float64 {
	if !(gradient > 0) || m.Flex == 0 {
		return 1
	}
	return 1 + m.Flex*math.Min(1, gradient/flexFull)
}

// Conditions are what a short stretch of the course asks of a runner.
type Conditions struct {
	Gradient  float64 // fraction, + uphill
	Heading   float64 // direction of travel, radians anticlockwise from east
	Sheltered float64 // share of the wind kept off on this stretch, 0 to 1
}

// Ready makes the model ready for many evaluations. The model should pass
// Check; with an unknown cost every figure is NaN.
func (m Model) Ready() Ready { return Ready{m, m.Uphill.table(), m.Downhill.table()} }

// Ready is a Model made ready for many evaluations.
type Ready struct {
	m        Model
	up, down table
}

// side is the cost that counts on a gradient.
func (r Ready) side(gradient float64) table {
	if gradient < 0 {
		return r.down
	}
	return r.up
}

// OutOfRange tells whether the cost for this gradient is held at the nearest
// gradient for which it is published.
func (r Ready) OutOfRange(gradient float64) bool {
	_, held := r.side(gradient).at(gradient)
	return held
}

// speedFactor is the speed at even effort on a gradient (fraction, + uphill)
// relative to the speed on the level, in still air and without the effort flex:
// uphill the level cost over the cost there; downhill 1 plus the credit times
// the energetic gain, at most the cap.
func (r Ready) speedFactor(gradient float64) float64 {
	ratio, _ := r.side(gradient).at(gradient)
	if gradient < 0 {
		return math.Min(r.m.Cap, 1+r.m.Credit*(1/ratio-1))
	}
	return 1 / ratio
}

// Stretch works out once what conditions mean for the model.
func (r Ready) Stretch(c Conditions) Stretch {
	s := Stretch{factor: r.speedFactor(c.Gradient), air: r.m.Air.K}
	if s.air != 0 {
		s.against, s.across = r.m.Air.headwind(c)
	}
	return s
}

// Stretch is a short part of a course made ready for one model.
type Stretch struct {
	factor          float64 // see speedFactor
	air             float64 // Air.K
	against, across float64 // wind, m/s
}

// Speed is the speed at even effort at a flat speed, both in m/s. Beyond the
// gradients at which the cost is valid it is held, see Ready.OutOfRange.
func (s Stretch) Speed(flat float64) float64 {
	if s.air == 0 {
		return flat * s.factor
	}
	power := flat * (LevelCost + s.air*flat*flat)
	return equalPower(power, LevelCost/s.factor, s.air, s.against, s.across, flat*s.factor)
}

// FlatSpeed is the flat speed at which a speed is even effort, both in m/s: the
// speed on the level, in calm air, that takes the same effort.
func (s Stretch) FlatSpeed(v float64) float64 {
	if s.air == 0 {
		return v / s.factor
	}
	power := v * (LevelCost/s.factor + drag(s.air, v, s.against, s.across))
	return equalPower(power, LevelCost, s.air, 0, 0, v/s.factor)
}
