package simulate

import "math"

// Drift is a first-order Gauss–Markov error: standard deviation per axis, m,
// and correlation time, s.
type Drift struct{ SD, Tau float64 }

// Environment is the error of a receiver in some surroundings. A fix is the
// truth plus a slow drift, a smooth wander, a fast and a white part, and in
// streets the jumps that reflected signals cause. All but the wander and the
// jumps are alike in every direction.
type Environment struct {
	Name                      string
	Slow, Fast                Drift
	WanderAcross, WanderAlong float64 // m, across and along the street
	WanderTime                float64 // s, T of the second-order process
	White                     float64 // m per axis
	// FastStretch is the ratio of the fast part across the street to that
	// along it; 0 means 1.
	FastStretch float64

	JumpRate           float64 // jumps per metre run
	JumpSD             float64 // m across the street
	JumpHold, JumpRamp float64 // s

	// Outage: underpasses cut the signal off; without it they are ignored.
	Outage bool

	HeightSlow   Drift   // of a height from satellites
	HeightWander float64 // m, over WanderTime
	HeightGust   float64 // m, of a barometric height, over 5 s
	PressureStep float64 // m, of a barometric height in an underpass
}

// The environments. Correlation times: textbook Gauss–Markov receivers (1100 s,
// from memory, unchecked) and the bend near one minute in Wilson's static
// tests. The sizes are assumptions, set so that the open road matches the
// 2DRMS of 4.29 m of Szot et al. 2021, the tree-lined road the phones under
// canopy of Purfürst 2022, and the streets the campus and central-city figures
// of Merry and Bettinger 2019 and Adjrad and Groves 2017; the legacy receiver
// matches the 10.35 m that Szot et al. report for 2011.
func OpenRoad() Environment {
	return Environment{
		Name: "open road", Slow: Drift{1.3, 1100}, WanderAcross: 0.7, WanderAlong: 0.7, WanderTime: 20,
		Fast: Drift{0.25, 4}, White: 0.05,
		HeightSlow: Drift{4, 1100}, HeightWander: 1.5, HeightGust: 0.3,
	}
}

// TreeLined is a road under trees.
func TreeLined() Environment {
	return Environment{
		Name: "tree-lined", Slow: Drift{1.6, 1100}, WanderAcross: 2.2, WanderAlong: 2.2, WanderTime: 15,
		Fast: Drift{0.45, 4}, White: 0.08,
		HeightSlow: Drift{6, 1100}, HeightWander: 4, HeightGust: 0.3,
	}
}

// MidRise is a street between buildings of a few storeys.
func MidRise() Environment {
	return Environment{
		Name: "mid-rise streets", Slow: Drift{2, 1100}, WanderAcross: 4.5, WanderAlong: 3, WanderTime: 15,
		Fast: Drift{0.6, 4}, White: 0.10,
		JumpRate: 0.5e-3, JumpSD: 8, JumpHold: 15, JumpRamp: 3,
		HeightSlow: Drift{8, 1100}, HeightWander: 8, HeightGust: 0.6,
	}
}

// Canyon is a street between tall buildings, with underpasses that cut the
// signal off.
func Canyon() Environment {
	return Environment{
		Name: "street canyon", Slow: Drift{2.5, 1100}, WanderAcross: 12, WanderAlong: 6, WanderTime: 15,
		Fast: Drift{1, 4}, White: 0.15,
		JumpRate: 3e-3, JumpSD: 20, JumpHold: 20, JumpRamp: 3, Outage: true,
		HeightSlow: Drift{9.4, 1100}, HeightWander: 15, HeightGust: 0.6, PressureStep: 0.5,
	}
}

// Legacy is an older receiver of a single satellite system on an open road.
func Legacy() Environment {
	e := OpenRoad()
	e.Name = "older receiver"
	e.Slow, e.WanderAcross, e.WanderAlong = Drift{3.2, 1100}, 1.4, 1.4
	e.Fast, e.White = Drift{0.5, 4}, 0.10
	return e
}

// Environments lists the four environments and the older receiver.
func Environments() []Environment {
	return []Environment{OpenRoad(), TreeLined(), MidRise(), Canyon(), Legacy()}
}

// Stretched makes the error across the street ratio times the error along it,
// in the parts that the surroundings cause (wander and fast), which keep their
// size along the street. It stands for places worse than the model knows.
func (e Environment) Stretched(ratio float64) Environment {
	e.WanderAcross, e.FastStretch = e.WanderAlong*ratio, ratio
	return e
}

func (e Environment) fastAcross() float64 {
	if e.FastStretch == 0 {
		return e.Fast.SD
	}
	return e.Fast.SD * e.FastStretch
}

// ChangeVariance is the variance, m², of the change of the error across and
// along the street between two fixes dt seconds apart, without jumps:
// 2 (R(0) - R(dt)).
func (e Environment) ChangeVariance(dt float64) (across, along float64) {
	if dt == 0 {
		return 0, 0
	}
	a := dt / e.WanderTime
	wander := 2 * (1 - (1+a)*math.Exp(-a))
	fast := -2 * math.Expm1(-dt/e.Fast.Tau)
	common := -2*e.Slow.SD*e.Slow.SD*math.Expm1(-dt/e.Slow.Tau) + 2*e.White*e.White
	across = common + wander*e.WanderAcross*e.WanderAcross + fast*e.fastAcross()*e.fastAcross()
	along = common + wander*e.WanderAlong*e.WanderAlong + fast*e.Fast.SD*e.Fast.SD
	return across, along
}

// StraightExcess is the share by which raw fixes every dt seconds lengthen a
// straight run at a speed in m/s, in the small-error form
// s²/(2 v² dt²) with s² the change variance across the street. Jumps come on
// top. It is a little high where the error is as large as the step.
func (e Environment) StraightExcess(speed, dt float64) float64 {
	across, _ := e.ChangeVariance(dt)
	return across / (2 * speed * speed * dt * dt)
}

// StandingRate is the distance in metres that raw fixes every dt seconds add
// up to per second while standing still.
func (e Environment) StandingRate(dt float64) float64 {
	across, along := e.ChangeVariance(dt)
	// The mean of the length of a Gaussian vector with unequal axes is
	// sqrt(π/2) times the mean over directions of hypot(a cos φ, b sin φ).
	const steps = 360
	sum := 0.0
	for i := range steps {
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / steps)
		sum += math.Sqrt(across*cos*cos + along*sin*sin)
	}
	return math.Sqrt(math.Pi/2) * sum / steps / dt
}
