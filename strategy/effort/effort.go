// Package effort holds the one definition of even effort that plan, review and
// forecast share: a pace on a gradient is even effort when its flat-equivalent
// pace is the athlete's flat pace. The flat-equivalent pace is the pace on the
// level, in calm air, that the cost of gradient, with the downhill credit,
// makes equal to this pace on this gradient.
//
// All functions are safe for concurrent use; none changes its arguments.
package effort

import (
	"fmt"
	"math"
	"strconv"

	"tautline/geo/inputerr"
)

const gravity = 9.81 // m/s2

var nan = math.NaN()

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
	for _, v := range []struct {
		what      string
		is        float64
		low, high float64
	}{
		{"downhill credit", m.Credit, 0, 1},
		{"downhill cap", m.Cap, 1, 2},
		{"effort flex uphill", m.Flex, 0, MaxFlex},
	} {
		if err := inRange(v.what, v.is, v.low, v.high); err != nil {
			return err
		}
	}
	return m.Air.check()
}

func inRange(what string, v, low, high float64) error {
	if v >= low && v <= high {
		return nil
	}
	return &inputerr.Error{
		What:   fmt.Sprintf("the %s is %s", what, strconv.FormatFloat(v, 'g', 6, 64)),
		Advice: fmt.Sprintf("give a number from %g to %g", low, high),
	}
}

func quote(s string) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "…"
	}
	return strconv.Quote(s)
}

// SpeedFactor is the speed at even effort on a gradient (fraction, + uphill)
// relative to the speed on the level, in still air and without the effort
// flex: uphill the level cost over the cost there; downhill 1 plus the credit
// times the energetic gain, at most the cap. Beyond the gradients at which the
// cost is valid it is held, see OutOfRange.
func (m Model) SpeedFactor(gradient float64) float64 { return m.Ready().SpeedFactor(gradient) }

// OutOfRange tells whether the cost for this gradient had to be held at the
// nearest gradient for which it is published.
func (m Model) OutOfRange(gradient float64) bool {
	return m.Ready().OutOfRange(gradient)
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

// Factor is the speed at even effort under these conditions relative to the
// flat speed (m/s), which matters only when there is air resistance.
func (m Model) Factor(c Conditions, flatSpeed float64) float64 {
	return m.Ready().Factor(c, flatSpeed)
}

// FlatEquivalentPace is the pace on the level, in calm air, that is equal to
// this pace under these conditions. Any unit of pace; with air resistance it
// must be seconds per metre.
func (m Model) FlatEquivalentPace(pace float64, c Conditions) float64 {
	return m.Ready().FlatEquivalentPace(pace, c)
}

// Ready makes the model ready for many evaluations. The model should pass
// Check; with an unknown cost every figure is NaN.
func (m Model) Ready() Ready {
	r := Ready{m: m}
	var ok bool
	if r.up, ok = m.Uphill.tableOf(); !ok {
		r.up.ratio = func(float64) float64 { return nan }
	}
	if r.down, ok = m.Downhill.tableOf(); !ok {
		r.down.ratio = func(float64) float64 { return nan }
	}
	return r
}

// Ready is a Model made ready for many evaluations; its methods mean the same
// as those of Model.
type Ready struct {
	m        Model
	up, down table
}

// SpeedFactor is Model.SpeedFactor.
func (r Ready) SpeedFactor(gradient float64) float64 {
	if gradient >= 0 {
		i, _ := r.up.hold(gradient)
		return 1 / r.up.ratio(i)
	}
	i, _ := r.down.hold(gradient)
	s := 1 + r.m.Credit*(1/r.down.ratio(i)-1)
	if s > r.m.Cap {
		return r.m.Cap
	}
	return s
}

// Factor is Model.Factor.
func (r Ready) Factor(c Conditions, flatSpeed float64) float64 {
	return r.Stretch(c).Speed(flatSpeed) / flatSpeed
}

// FlatEquivalentPace is Model.FlatEquivalentPace.
func (r Ready) FlatEquivalentPace(pace float64, c Conditions) float64 {
	if r.m.Air.K == 0 {
		return pace * r.SpeedFactor(c.Gradient)
	}
	return 1 / r.Stretch(c).FlatSpeed(1/pace)
}

// OutOfRange is Model.OutOfRange.
func (r Ready) OutOfRange(gradient float64) bool {
	t := r.up
	if gradient < 0 {
		t = r.down
	}
	_, held := t.hold(gradient)
	return held
}

// Stretch works out once what conditions mean for the model.
func (r Ready) Stretch(c Conditions) Stretch {
	s := Stretch{factor: r.SpeedFactor(c.Gradient), air: r.m.Air.K}
	if s.air != 0 {
		s.against, s.across = r.m.Air.Headwind(c)
	}
	return s
}

// Stretch is a short part of a course made ready for one model.
type Stretch struct {
	factor, air, against, across float64
}

// Speed is the speed at even effort at a flat speed, m/s.
func (s Stretch) Speed(flat float64) float64 {
	if s.air == 0 {
		return flat * s.factor
	}
	power := flat * (LevelCost + s.air*flat*flat)
	return equalPower(power, LevelCost/s.factor, s.air, s.against, s.across, flat*s.factor)
}

// FlatSpeed is the flat speed at which a speed, m/s, is even effort.
func (s Stretch) FlatSpeed(v float64) float64 {
	if s.air == 0 {
		return v / s.factor
	}
	power := v * (LevelCost/s.factor + drag(s.air, v, s.against, s.across))
	return equalPower(power, LevelCost, s.air, 0, 0, v/s.factor)
}
