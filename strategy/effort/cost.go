package effort

import (
	"math"
	"strings"

	"tautline/geo/inputerr"
)

// Cost names a published cost of gradient by author and year. It tells how
// much more, or less, energy a metre costs on a gradient than on the level.
type Cost string

// The published costs of gradient.
const (
	// Minetti2002 is the fifth-order polynomial of Minetti, Moia, Roi, Susta
	// and Ferretti 2002, J Appl Physiol 93(3):1039-1046, gradients -0.45 to
	// +0.45. The coefficients are from memory, unchecked; they meet the
	// abstract's measured means within their standard deviations. Measured
	// gradients were 0 and 0.10 or steeper, so road gradients are
	// interpolations.
	Minetti2002 Cost = "minetti-2002"
	// Davies1980 is two straight slopes with Davies's apparent efficiencies of
	// climbing, 0.35, and descending, 1.2 (J Appl Physiol 1980), on a level
	// cost of 3.8 J/kg/m, gradients -0.10 to +0.05. The efficiencies are
	// published; putting them into one formula is our inference.
	Davies1980 Cost = "davies-1980"
	// ACSM is the running equation of the ACSM guidelines, 10th edition
	// (Bushman 2020, ACSM's Health & Fitness J 24(4):5-8), net of rest:
	// ratio 1 + 4.5 i. Uphill only: it is not meant for descents. The source
	// read gives no upper gradient; +0.15 is our own limit.
	ACSM Cost = "acsm"
	// Robergs1997 is the regression of Robergs, Wagner and Skemp 1997,
	// J Sports Med Phys Fitness 37(3):168-174, for descents of 0 to 5.4 %,
	// taken at 172 m/min, the middle of their speeds. It is gross of rest.
	Robergs1997 Cost = "robergs-1997"
	// Padulo2013 is one straight line to the +53 % that Padulo et al. 2013,
	// PLoS ONE 8(7):e69006, measured at +7 %. The straight line between their
	// two points is ours.
	Padulo2013 Cost = "padulo-2013"
	// Balducci2016 is straight lines through the oxygen costs that Balducci et
	// al. 2016, J Sports Sci Med 15:239-246, measured at 0, 12.5 and 25 %. The
	// straight lines are ours.
	Balducci2016 Cost = "balducci-2016"
)

// CostInfo describes a published cost of gradient.
type CostInfo struct {
	Cost   Cost
	Title  string  // author and year
	Low    float64 // least gradient it is valid at, fraction
	High   float64 // greatest gradient it is valid at, fraction
	Credit float64 // the share of its gain downhill that Default takes as speed
	Source string  // where the numbers come from, and how sure that is
}

// minettiDomain is the range of the 2002 measurements.
const minettiDomain = 0.45

var costs = []CostInfo{
	{Minetti2002, "Minetti et al. 2002", -minettiDomain, minettiDomain, DefaultCredit,
		"J Appl Physiol 93(3):1039-1046; coefficients from memory, unchecked, within the published standard deviations at the measured gradients"},
	{Davies1980, "Davies 1980", -0.10, 0.05, 1,
		"J Appl Physiol 48:702-709 (pages from memory, unchecked); published efficiencies 0.35 and 1.2, formula inferred"},
	{ACSM, "ACSM guidelines, 10th edition", 0, 0.15, DefaultCredit,
		"as set out by Bushman 2020, ACSM's Health & Fitness J 24(4):5-8; uphill only, upper limit ours"},
	{Robergs1997, "Robergs, Wagner and Skemp 1997", -0.054, 0, DefaultCredit,
		"J Sports Med Phys Fitness 37(3):168-174; downhill only, gross, at 172 m/min"},
	{Padulo2013, "Padulo et al. 2013", 0, 0.07, DefaultCredit,
		"PLoS ONE 8(7):e69006; uphill only, straight line between two measured points"},
	{Balducci2016, "Balducci et al. 2016", 0, 0.25, DefaultCredit,
		"J Sports Sci Med 15:239-246; uphill only, straight lines between three measured points"},
}

// Costs lists the published costs of gradient, the default first. The slice is
// the caller's own.
func Costs() []CostInfo { return append([]CostInfo(nil), costs...) }

// Info describes c; ok is false when c is not one of the published costs.
func (c Cost) Info() (info CostInfo, ok bool) {
	for _, k := range costs {
		if k.Cost == c {
			return k, true
		}
	}
	return CostInfo{}, false
}

// ParseCost reads the name of a published cost, letters of either case.
func ParseCost(name string) (Cost, error) {
	c := Cost(strings.ToLower(strings.TrimSpace(name)))
	if _, ok := c.Info(); ok {
		return c, nil
	}
	var known []string
	for _, k := range costs {
		known = append(known, string(k.Cost))
	}
	return "", &inputerr.Error{
		What:   "no cost of gradient is called " + quote(name),
		Advice: "choose one of " + strings.Join(known, ", "),
	}
}

// table is a cost made ready for many evaluations.
type table struct {
	low, high float64 // the gradients it is valid at
	ratio     func(gradient float64) float64
}

// table of an unknown cost gives NaN everywhere.
func (c Cost) table() table {
	info, ok := c.Info()
	if !ok {
		return table{math.Inf(-1), math.Inf(1), func(float64) float64 { return math.NaN() }}
	}
	return table{info.Low, info.High, ratios[c]}
}

// at is the cost of a metre at a gradient (fraction, + uphill) divided by the
// cost of a metre on the level. Outside the gradients at which the cost is valid
// it is held at the nearest of them and held is true.
func (t table) at(gradient float64) (ratio float64, held bool) {
	switch {
	case gradient < t.low:
		return t.ratio(t.low), true
	case gradient > t.high:
		return t.ratio(t.high), true
	}
	return t.ratio(gradient), false
}

var ratios = map[Cost]func(float64) float64{
	Minetti2002:  func(i float64) float64 { return minetti(i) / 3.6 },
	Davies1980:   davies,
	ACSM:         func(i float64) float64 { return 1 + 4.5*i },
	Robergs1997:  robergs,
	Padulo2013:   func(i float64) float64 { return 1 + 0.53*i/0.07 },
	Balducci2016: balducci,
}

// minetti is the running polynomial in J/kg/m. Its value at 0, 3.6, is above
// the measured 3.40, so it is only used divided by 3.6.
func minetti(i float64) float64 {
	return ((((155.4*i-30.4)*i-43.3)*i+46.3)*i+19.5)*i + 3.6
}

func davies(i float64) float64 {
	efficiency := 0.35
	if i < 0 {
		efficiency = 1.2
	}
	return 1 + gravity*i/(efficiency*LevelCost)
}

// robergs uses VO2 = 6.8192 + 0.1313 S + 1.2367 G with S in m/min and G in
// percent.
func robergs(i float64) float64 {
	const level = 6.8192 + 0.1313*172
	return (level + 1.2367*100*i) / level
}

func balducci(i float64) float64 {
	const level, middle, steep = 0.192, 0.350, 0.516 // ml/kg/m at 0, 12.5, 25 %
	if i <= 0.125 {
		return 1 + (middle/level-1)*i/0.125
	}
	return middle/level + (steep-middle)/level*(i-0.125)/0.125
}
