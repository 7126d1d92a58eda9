package simulate

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"tautline/geo/earth"
	"tautline/geo/published"
)

// The closed forms below are textbook mathematics (first- and second-order
// Gauss–Markov processes, the Rice mean, sampled arcs and corners); the tables
// were worked out independently of this package and checked by a second method.

// pace is 5:00 per kilometre, the speed of all tables here.
const pace = 10.0 / 3

// straight is a run straight on in a direction, with the ends only.
func straight(seconds, speed, heading float64) Truth {
	sin, cos := math.Sincos(heading)
	d := seconds * speed
	return Truth{
		Points: orb.LineString{{}, {d * cos, d * sin}}, Times: []float64{0, seconds}, Along: []float64{0, d},
		Heights: []float64{0, 0}, Shortest: d, Ran: d, Duration: seconds,
	}
}

// quiet has no error at all.
func quiet() Environment {
	return Environment{Slow: Drift{0, 1000}, Fast: Drift{0, 4}, WanderTime: 15}
}

// withoutJumps keeps what the closed forms know.
func withoutJumps(e Environment) Environment {
	e.JumpRate, e.Outage = 0, false
	return e
}

// errors2 are the errors of a record along and across a straight run east.
func errors2(truth Truth, r Record) (along, across []float64) {
	for k, p := range r.Points {
		along = append(along, p[0]-at(truth.Times, []float64{truth.Points[0][0], truth.Points[1][0]}, r.Times[k]))
		across = append(across, p[1])
	}
	return along, across
}

// covariance at a lag of a series of mean zero.
func covariance(x []float64, lag int) float64 {
	sum := 0.0
	for i := lag; i < len(x); i++ {
		sum += x[i] * x[i-lag]
	}
	return sum / float64(len(x)-lag)
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.6g, want %.6g ± %.2g", what, got, want, tolerance)
	}
}

func TestErrorsHaveTheirVarianceAndCorrelation(t *testing.T) {
	const seconds = 100_000
	truth := straight(seconds, pace, 0)
	for i, e := range Environments() {
		e = withoutJumps(e)
		e.Slow.SD = 0 // its own test below: it needs days to settle
		along, across := errors2(truth, e.Record(truth, Options{}, Rand(11, uint64(i))))
		for _, axis := range []struct {
			name         string
			x            []float64
			wander, fast float64
		}{{"along", along, e.WanderAlong, e.Fast.SD}, {"across", across, e.WanderAcross, e.Fast.SD}} {
			R := func(lag float64) float64 {
				a := lag / e.WanderTime
				r := axis.wander*axis.wander*(1+a)*math.Exp(-a) + axis.fast*axis.fast*math.Exp(-lag/e.Fast.Tau)
				if lag == 0 {
					r += e.White * e.White
				}
				return r
			}
			// The covariance of a series that stays correlated for about 5 T
			// has a standard error of about R(0) sqrt(5 T/n); four of them.
			tolerance := 4 * R(0) * math.Sqrt(5*e.WanderTime/seconds)
			for _, lag := range []int{0, 1, 10, 60, 600} {
				near(t, e.Name+" "+axis.name+" covariance", covariance(axis.x, lag), R(float64(lag)), tolerance)
			}
			// Neighbouring fixes are what a distance hangs on: their difference
			// is known much better than the error itself.
			step := 0.0
			for k := 1; k < len(axis.x); k++ {
				step += (axis.x[k] - axis.x[k-1]) * (axis.x[k] - axis.x[k-1])
			}
			want := 2 * (R(0) - R(1))
			near(t, e.Name+" "+axis.name+" change in a second", step/float64(len(axis.x)-1), want, 0.03*want)
		}
	}
}

func TestTheSlowDriftHasItsOneStepVariance(t *testing.T) {
	// A textbook receiver, 4.927 m over 1100 s: step noise 0.2100 m.
	e := quiet()
	e.Slow = Drift{4.927, 1100}
	truth := straight(200_000, pace, 0)
	along, across := errors2(truth, e.Record(truth, Options{}, Rand(3, 1)))
	for _, x := range [][]float64{along, across} {
		sum := 0.0
		for k := 1; k < len(x); k++ {
			sum += (x[k] - x[k-1]) * (x[k] - x[k-1])
		}
		near(t, "step", math.Sqrt(sum/float64(len(x)-1)), 0.2100, 0.0015)
	}
}

func TestSecondOrderWanderHasItsLagOneCorrelation(t *testing.T) {
	// 0.997874 for T = 15 s and a step of 1 s.
	rng := Rand(5, 1)
	const n = 400_000
	p := newWandering(15, rng)
	var sum, square, rate float64
	for range n {
		before := p.x
		p.step(1, rng)
		sum += (p.x - before) * (p.x - before)
		square += p.x * p.x
		rate += p.dx * p.dx
	}
	near(t, "correlation at 1 s", 1-sum/n/2, 0.997874, 0.00002)
	near(t, "variance", square/n, 1, 0.05)
	near(t, "variance of the rate", rate/n, 1.0/225, 0.05/225)
}

// meanStep is E|(d + a, c)| for independent normal a and c with these
// standard deviations, by the trapezium rule, which for the normal density is
// exact to all digits shown.
func meanStep(d, along, across float64) float64 {
	const n, reach = 400, 8.0
	sum, weight := 0.0, 0.0
	for i := -n; i <= n; i++ {
		x := reach * float64(i) / n
		wx := math.Exp(-x * x / 2)
		for j := -n; j <= n; j += 4 {
			y := reach * float64(j) / n
			w := wx * math.Exp(-y*y/2)
			sum += w * math.Hypot(d+along*x, across*y)
			weight += w
		}
	}
	return sum / weight
}

func TestMeanStepAgreesWithTheRiceMean(t *testing.T) {
	// E[d_m] - d0 = s sqrt(π/2) L_{1/2}(-d0²/2s²) - d0; the last columns of
	// the table, and the same by simulation where an environment can be made
	// with that correlation from second to second.
	for _, c := range []struct{ d0, sigma, rho, bias float64 }{
		{1, 1, 0, 0.98736}, {3, 1, 0, 0.36010}, {5, 2, 0.5, 0.42240}, {10, 1, 0, 0.10052}, {3.5, 3, 0, 2.68564},
		{3.5, 3, 0.9, 0.27013}, {3.5, 3, 0.99, 0.02581}, {10.0 / 3, 4.927, math.Exp(-1.0 / 1100), 0.00662},
		{17.5, 3, 0.95, 0.02573}, {0, 1, 0, 1.77245},
	} {
		s := c.sigma * math.Sqrt(2*(1-c.rho))
		near(t, "quadrature", meanStep(c.d0, s, s)-c.d0, c.bias, 2e-4)
		e := quiet()
		if c.rho == 0 {
			e.White = c.sigma
		} else {
			e.Fast = Drift{c.sigma, -1 / math.Log(c.rho)}
		}
		truth := straight(60_000, c.d0, 0)
		r := e.Record(truth, Options{}, Rand(17, 1))
		var sum, square float64
		for k := 1; k < len(r.Points); k++ {
			d := distance(r.Points[k-1], r.Points[k])
			sum, square = sum+d, square+d*d
		}
		n := float64(len(r.Points) - 1)
		// The step's standard deviation is about s; the along part telescopes.
		near(t, "simulated mean step", sum/n, c.d0+c.bias, 4*s/math.Sqrt(n))
		// Exact for any error: E[d²] = d0² + Var - C.
		near(t, "simulated mean square", square/n, c.d0*c.d0+2*s*s, 4*(2*s*s+2*c.d0*s)/math.Sqrt(n))
	}
}

func TestRawFixesLengthenAStraightAsPredicted(t *testing.T) {
	for i, c := range []struct {
		e             Environment
		percent       float64 // small-error form, two or three digits
		perMinute     float64 // m, standing
		across, along float64 // total standard deviation, m
	}{
		{OpenRoad(), 0.166, 14.4, 1.50, 1.50},
		{TreeLined(), 0.574, 26.9, 2.76, 2.76},
		{MidRise(), 1.227, 39.3, 4.96, 3.66},
		{Canyon(), 5.00, 79.3, 12.3, 6.6},
		{Legacy(), 0.69, math.NaN(), 3.53, 3.53},
	} {
		t.Run(c.e.Name, func(t *testing.T) {
			e := withoutJumps(c.e)
			near(t, "predicted excess", 100*e.StraightExcess(pace, 1), c.percent, 0.006)
			sd := func(wander float64) float64 {
				return math.Sqrt(e.Slow.SD*e.Slow.SD + wander*wander + e.Fast.SD*e.Fast.SD + e.White*e.White)
			}
			near(t, "total across", sd(e.WanderAcross), c.across, 0.051)
			near(t, "total along", sd(e.WanderAlong), c.along, 0.051)

			truth := straight(100_000, pace, 0.7)
			got := e.Record(truth, Options{}, Rand(21, uint64(i))).Length()/truth.Ran - 1
			across, along := e.ChangeVariance(1)
			want := meanStep(pace, math.Sqrt(along), math.Sqrt(across))/pace - 1
			near(t, "simulated excess", got, want, 0.03*want)
			if math.IsNaN(c.perMinute) {
				return
			}
			// The table takes the change across the street in both directions.
			near(t, "predicted standing", 60*math.Sqrt(across*math.Pi/2), c.perMinute, 0.051)
			want = 60 * meanStep(0, math.Sqrt(along), math.Sqrt(across))
			near(t, "predicted standing in a street", 60*e.StandingRate(1), want, 1e-3*want)
			truth = straight(50_000, 1e-9, 0.7)
			got = e.Record(truth, Options{}, Rand(22, uint64(i))).Length() / 50_000 * 60
			near(t, "simulated standing", got, want, 0.02*want)
		})
	}
}

func TestExcessFallsWithSparserFixesByTheKindOfError(t *testing.T) {
	white, fast, wander := quiet(), quiet(), quiet()
	white.White, fast.Fast = 0.3, Drift{0.45, 4}
	wander.WanderAcross, wander.WanderAlong = 2.2, 2.2
	truth := straight(300_000, pace, 0)
	every := []int{1, 2, 5, 10, 20}
	for _, c := range []struct {
		name    string
		e       Environment
		percent [5]float64
	}{
		{"white", white, [5]float64{0.8100, 0.2025, 0.0324, 0.0081, 0.0020}},
		{"first order", fast, [5]float64{0.4031, 0.1793, 0.0520, 0.0167, 0.0045}},
		{"second order", wander, [5]float64{0.0926, 0.0886, 0.0778, 0.0629, 0.0419}},
	} {
		r := c.e.Record(truth, Options{}, Rand(31, 1))
		for i, k := range every {
			published.Check(t, published.Figure{Source: "Ranacher et al. 2016, excess of a straight in closed form", Trust: published.Derived,
				What: fmt.Sprintf("%s error, a fix every %d s", c.name, k), Unit: "%", Value: fmt.Sprintf("%.4f", c.percent[i]), Tolerance: 0.00006}, 100*c.e.StraightExcess(pace, float64(k)))
			var kept Record
			for j := 0; j < len(r.Points); j += k {
				kept.Points = append(kept.Points, r.Points[j])
			}
			got := kept.Length()/(float64((len(kept.Points)-1)*k)*pace) - 1
			// The ends' along-street error adds up to a metre or three.
			near(t, c.name+" simulated", 100*got, c.percent[i], 0.03*c.percent[i]+100*3/truth.Ran)
		}
	}
}

func TestErrorsFollowTheStreet(t *testing.T) {
	e := quiet()
	e.WanderAcross, e.WanderAlong = 12, 6
	for _, heading := range []float64{0, math.Pi / 2, 2.2, -2.2, math.Pi} {
		truth := straight(100_000, pace, heading)
		r := e.Record(truth, Options{}, Rand(41, 1))
		sin, cos := math.Sincos(heading)
		var along, across, both float64
		for k, p := range r.Points {
			d := pace * r.Times[k]
			x, y := p[0]-d*cos, p[1]-d*sin
			a, c := cos*x+sin*y, cos*y-sin*x
			along, across, both = along+a*a, across+c*c, both+a*c
		}
		n := float64(len(r.Points))
		near(t, "along", math.Sqrt(along/n), 6, 0.4)
		near(t, "across", math.Sqrt(across/n), 12, 0.8)
		near(t, "correlation", both/n/72, 0, 0.1)
	}
}

func TestAStreetsErrorDoesNotTurnRoundInACornerOrATurnAround(t *testing.T) {
	e := quiet()
	e.WanderAcross, e.WanderAlong, e.WanderTime = 12, 6, 15
	for _, angle := range []float64{math.Pi / 2, math.Pi} {
		ref := drawn(leg{200, angle, 1}, leg{200, 0, 0})
		truth, err := Runner{Speed: pace}.Run(ref, Rand(1, 1))
		if err != nil {
			t.Fatal(err)
		}
		worst := 0.0
		for seed := range uint64(20) {
			r := e.Record(truth, Options{}, Rand(seed, 2))
			last := orb.Point{}
			for k, p := range r.Points {
				xs, ys := split(truth.Points)
				v := orb.Point{p[0] - at(truth.Times, xs, r.Times[k]), p[1] - at(truth.Times, ys, r.Times[k])}
				if k > 0 {
					worst = max(worst, distance(v, last))
				}
				last = v
			}
		}
		// On a straight the change in a second has a standard deviation of
		// 12/15 m; at corners the axis adds up to (12-6)/9 of the error's size.
		if worst > 5 {
			t.Errorf("the error changes by %g m in a second", worst)
		}
	}
}

// circle is a run round a circle, many times.
func circle(radius, speed, seconds float64) Truth {
	var t Truth
	step := 0.002 * radius
	for d := 0.0; d <= speed*seconds; d += step {
		sin, cos := math.Sincos(d / radius)
		t.Points = append(t.Points, orb.Point{radius * cos, radius * sin})
		t.Times, t.Along, t.Heights = append(t.Times, d/speed), append(t.Along, d), append(t.Heights, 0)
	}
	return t
}

func TestSparseFixesShortenBends(t *testing.T) {
	// Chords of a circle: 1 - sin(x)/x with x = d/2R.
	for _, c := range []struct{ radius, d, percent float64 }{
		{36.8, pace, 0.03418}, {36.8, 10, 0.30739}, {36.8, 17.5, 0.93960}, {20, pace, 0.11570}, {10, pace, 0.46231}, {5, pace, 1.84155},
	} {
		truth := circle(c.radius, c.d, 300)
		r := quiet().Record(truth, Options{}, Rand(1, 1))
		got := 1 - r.Length()/(c.d*r.Times[len(r.Times)-1])
		near(t, "deficit %", 100*got, c.percent, 0.0002)
	}
	// A sharp corner at a random moment: k(θ) d.
	rng := Rand(2, 1)
	for _, c := range []struct{ degrees, k float64 }{
		{15, 0.0056985}, {30, 0.0226372}, {45, 0.0503431}, {60, 0.0880204}, {90, 0.1883874}, {120, 0.3099135}, {150, 0.4296930}, {180, 0.5},
	} {
		const trials = 1500
		sum := 0.0
		for i := range trials {
			phase := (float64(i) + rng.Float64()) / trials
			sum += cornerLoss(c.degrees*math.Pi/180, phase, Options{})
		}
		near(t, "corner loss per spacing", sum/trials/pace, c.k, 0.0002)
	}
}

// cornerLoss is how much shorter than the run the record of a sharp corner is
// that is passed some part of a second after a fix.
func cornerLoss(angle, phase float64, opt Options) float64 {
	sin, cos := math.Sincos(angle)
	before, after := (20+phase)*pace, (21-phase)*pace
	truth := Truth{
		Points: orb.LineString{{-before, 0}, {}, {after * cos, after * sin}},
		Times:  []float64{0, before / pace, (before + after) / pace}, Along: []float64{0, before, before + after}, Heights: []float64{0, 0, 0},
	}
	r := quiet().Record(truth, opt, Rand(1, 1))
	return pace*(r.Times[len(r.Times)-1]-r.Times[0]) - r.Length()
}

func TestFiltersCutCorners(t *testing.T) {
	// A moving average over n seconds of fixes acts as two averages in a row,
	// the chords' (1 s) and the mean's; over a sharp corner both take about
	// k(θ) times their length. With n fixes the length of the mean is between
	// (n-1) and n seconds. The loss of the ends (half a window of lag) shows
	// as shortness too: the record begins with the first fix alone and lags
	// behind at the end by (n-1)/2 s.
	const k90, n = 0.1883874, 5
	sum := 0.0
	for i := range 200 {
		sum += cornerLoss(math.Pi/2, (float64(i)+0.5)/200, Options{Filter: MovingAverage(n)})
	}
	loss := sum/200/pace - (n-1)/2.0
	if loss < k90*(n-1) || loss > k90*(n+0.3) {
		t.Errorf("a right-angled corner costs %g s of running with an average of %d s", loss, n)
	}

	// Round a circle the mean of n fixes shrinks the radius by
	// sin(nφ/2)/(n sin(φ/2)), φ the angle between fixes; close to sin(x)/x.
	for _, radius := range []float64{10, 36.8} {
		truth := circle(radius, pace, 400)
		r := quiet().Record(truth, Options{Filter: MovingAverage(n)}, Rand(1, 1))
		phi := pace / radius
		want := math.Sin(n*phi/2) / (n * math.Sin(phi/2))
		for k := 20; k < len(r.Points); k++ {
			near(t, "radius factor", math.Hypot(r.Points[k][0], r.Points[k][1])/radius, want, 1e-4)
		}
	}

	// The smoother is a cubic smoothing spline: factor 1/(1+(ω/ωc)^4),
	// ωc = (q/(σ² dt))^(1/4), exact for frequent fixes.
	for _, c := range []struct{ q, sigma, factor float64 }{
		{0.1, 3, 0.47368}, {0.1, 1.5, 0.78261}, {1, 1.5, 0.97297},
	} {
		truth := circle(10, pace, 400)
		r := quiet().Record(truth, Options{Filter: KalmanSmoother(c.q, c.sigma)}, Rand(1, 1))
		for k := 100; k < 300; k++ {
			near(t, "radius factor", math.Hypot(r.Points[k][0], r.Points[k][1])/10, c.factor, 0.005)
		}
	}
}

func TestTheKalmanFilterAgreesWithAWorkedExample(t *testing.T) {
	// y = 0, 1.2, 1.8, 3.3, 3.9; h = 1, q = 0.1, r = 0.25; prior m = (0, 1),
	// P = I. The table was checked against the direct normal density.
	y := []float64{0, 1.2, 1.8, 3.3, 3.9}
	want := [][6]float64{ // filtered p, v; smoothed p, v; smoothed variance p, v
		{0, 1, 0.044204, 1.009276, 0.141946, 0.115940},
		{1.166292, 1.141573, 1.050260, 0.999153, 0.078790, 0.064112},
		{1.905640, 0.894921, 2.045125, 0.996876, 0.074651, 0.051125},
		{3.160868, 1.086740, 3.040269, 0.983368, 0.084471, 0.070429},
		{4.009091, 0.961550, 4.009091, 0.961550, 0.171542, 0.137553},
	}
	b := belief{v: 1, pp: 1, vv: 1}
	var predicted, filtered []belief
	for k, z := range y {
		if k > 0 {
			b = b.predict(1, 0.1)
		}
		predicted = append(predicted, b)
		b = b.update(z, 0.25)
		filtered = append(filtered, b)
	}
	smoothed := append([]belief(nil), filtered...)
	for k := len(y) - 2; k >= 0; k-- {
		smoothed[k] = filtered[k].smooth(predicted[k+1], smoothed[k+1], 1)
	}
	for k, w := range want {
		got := [6]float64{filtered[k].p, filtered[k].v, smoothed[k].p, smoothed[k].v, smoothed[k].pp, smoothed[k].vv}
		for i, what := range []string{"filtered place", "filtered speed", "smoothed place", "smoothed speed", "variance of place", "variance of speed"} {
			published.Check(t, published.Figure{Source: "constant velocity filter and smoother, five fixes, by the normal density", Trust: published.SecondMethod,
				What: fmt.Sprintf("fix %d, %s", k+1, what), Value: fmt.Sprintf("%.6f", w[i]), Tolerance: 1e-6}, got[i])
		}
	}
}

func TestJumpsComeAtTheirRateAndSizeAndAcrossTheStreet(t *testing.T) {
	e := quiet()
	e.JumpRate, e.JumpSD, e.JumpHold, e.JumpRamp = 3e-3, 20, 20, 3
	truth := straight(200_000, pace, math.Pi/4)
	r := e.Record(truth, Options{}, Rand(51, 1))
	var along, square float64
	for k, p := range r.Points {
		d := pace * r.Times[k]
		x, y := p[0]-d*math.Sqrt2/2, p[1]-d*math.Sqrt2/2
		along = max(along, math.Abs(x+y)/math.Sqrt2)
		square += (y - x) * (y - x) / 2
	}
	near(t, "error along the street", along, 0, 1e-6)
	// Shot noise: variance = rate per second × size² × the integral of the
	// squared shape (20 s held and two ramps of 3 s at a third).
	want := 3e-3 * pace * 400 * (20 + 2*3.0/3)
	near(t, "variance across", square/float64(len(r.Points)), want, 0.15*want)

	for _, c := range []struct{ t, shape float64 }{{-1, 0}, {0, 0}, {1.5, 0.5}, {3, 1}, {22.9, 1}, {23, 1}, {24.5, 0.5}, {26, 0}, {99, 0}} {
		near(t, "shape", e.jumpShape(c.t), c.shape, 1e-9)
	}
	// A jump of 10 m in one step adds 7.2076 m, over 5 s 2.7698 m.
	for _, c := range []struct{ size, seconds, extra float64 }{{10, 1, 7.2076}, {10, 5, 2.7698}, {20, 10, 5.5397}} {
		step := math.Hypot(pace, c.size/c.seconds)
		near(t, "a jump's extra", c.seconds*(step-pace), c.extra, 5e-5)
	}
}

func TestUnderpasses(t *testing.T) {
	truth := straight(600, pace, 0)
	under := []Span{{500, 600}}
	e := Canyon()
	e.JumpRate = 0
	for seed := range uint64(20) {
		gap := func(s Silence) Record {
			return e.Record(truth, Options{Underpasses: under, Silence: s}, Rand(seed, 1))
		}
		missing, held, on := gap(Missing), gap(Held), gap(Extrapolated)
		if len(held.Points) != 601 || len(on.Points) != 601 {
			t.Fatalf("%d and %d fixes, want one every second", len(held.Points), len(on.Points))
		}
		longest := 0.0
		for k := 1; k < len(missing.Times); k++ {
			longest = max(longest, missing.Times[k]-missing.Times[k-1])
		}
		// 100 m take 30 s, then 1 to 5 s to the first fix, on whole seconds.
		if longest < 30 || longest > 37 {
			t.Errorf("a gap of %g s", longest)
		}
		const inside = 165 // s, 550 m
		if held.Points[inside] != held.Points[155] {
			t.Error("a held fix moved")
		}
		v := minus(on.Points[inside], on.Points[inside-1])
		w := minus(on.Points[inside-5], on.Points[inside-6])
		if distance(v, w) > 1e-6 || math.Hypot(v[0], v[1]) < 0.5 {
			t.Errorf("extrapolated by %v and then by %v", w, v)
		}
	}
	if n := len(TreeLined().Record(truth, Options{Underpasses: under}, Rand(1, 1)).Points); n != 601 {
		t.Errorf("a receiver without outages wrote %d fixes", n)
	}
}

// written is a run through streets, and options to write it down.
func written(t *testing.T) (Truth, Options) {
	t.Helper()
	truth, err := careless().Run(streets(), Rand(3, 1))
	if err != nil {
		t.Fatal(err)
	}
	return truth, Options{Plane: earth.NewPlane(midOcean), Began: time.Date(2031, 4, 6, 8, 30, 0, 0, time.UTC)}
}

func TestOptionsOfWhenFixesAreWritten(t *testing.T) {
	truth, base := written(t)
	seconds := len(OpenRoad().Record(truth, base, Rand(1, 1)).Fixes)

	t.Run("every fifth fix", func(t *testing.T) {
		o := base
		o.Every = 5
		r := OpenRoad().Record(truth, o, Rand(1, 1))
		if want := (seconds + 4) / 5; len(r.Fixes) != want {
			t.Errorf("%d fixes, want %d", len(r.Fixes), want)
		}
		if got := r.Fixes[3].Time.Sub(r.Fixes[2].Time); got != 5*time.Second || !r.Fixes[0].Time.Equal(base.Began) {
			t.Errorf("%v between fixes from %v", got, r.Fixes[0].Time)
		}
	})
	t.Run("on turns", func(t *testing.T) {
		o := base
		o.KeepOnTurn = true
		r := OpenRoad().Record(truth, o, Rand(1, 1))
		if len(r.Fixes) < seconds/10 || len(r.Fixes) > seconds*2/3 {
			t.Errorf("%d of %d fixes kept", len(r.Fixes), seconds)
		}
		for k := 1; k < len(r.Times); k++ {
			if r.Times[k]-r.Times[k-1] > 10.001 {
				t.Errorf("%g s without a fix", r.Times[k]-r.Times[k-1])
			}
		}
	})
	t.Run("lost", func(t *testing.T) {
		o := base
		o.Lost = 0.2
		n := 0
		for seed := range uint64(20) {
			n += len(OpenRoad().Record(truth, o, Rand(seed, 1)).Fixes)
		}
		near(t, "share kept", float64(n)/20/float64(seconds), 0.8, 0.02)
	})
	t.Run("jitter moves fixes along the run only", func(t *testing.T) {
		o := base
		o.Jitter = 0.2
		line := straight(20_000, pace, 0)
		r := quiet().Record(line, o, Rand(4, 1))
		along, across := errors2(line, r)
		near(t, "along", math.Sqrt(covariance(along, 0)), 0.2*pace, 0.04*pace) // a little less: it is cut at 0.45 s
		near(t, "across", math.Sqrt(covariance(across, 0)), 0, 1e-6)
	})
}

func TestOptionsOfWhereFixesAreWritten(t *testing.T) {
	truth, base := written(t)
	t.Run("decimals", func(t *testing.T) {
		for _, decimals := range []int{5, 6, 7} {
			o := base
			o.Decimals = decimals
			r := OpenRoad().Record(truth, o, Rand(1, 1))
			exact := OpenRoad().Record(truth, base, Rand(1, 1))
			unit := math.Pow(10, -float64(decimals))
			for k, f := range r.Fixes {
				if off := math.Abs(math.Remainder(f.At.Lat, unit)) + math.Abs(math.Remainder(f.At.Lon, unit)); off > 1e-11 {
					t.Fatalf("%.10f %.10f has more than %d decimals", f.At.Lat, f.At.Lon, decimals)
				}
				if d := distance(r.Points[k], exact.Points[k]); d > 0.7*unit*111_300 {
					t.Fatalf("rounding moved a fix by %g m", d)
				}
			}
		}
	})
	t.Run("put on the road", func(t *testing.T) {
		o := base
		o.Road = streets().Line
		r := MidRise().Record(truth, o, Rand(1, 1))
		for k, p := range r.Points {
			least := math.Inf(1)
			for i := 1; i < len(o.Road); i++ {
				least = min(least, toPiece(p, o.Road[i-1], o.Road[i]))
			}
			if least > 1e-6 {
				t.Fatalf("fix %d lies %g m off the road", k, least)
			}
		}
		// On an out-and-back the fix must not go to the other leg's chainage:
		// the snapped record still covers the whole road.
		if r.Length() < 0.9*truth.Ran {
			t.Errorf("the record covers %g m of %g m", r.Length(), truth.Ran)
		}
	})
	t.Run("positions on the earth agree with the plane", func(t *testing.T) {
		r := OpenRoad().Record(truth, base, Rand(1, 1))
		sum := 0.0
		for k := 1; k < len(r.Fixes); k++ {
			sum += earth.Distance(r.Fixes[k-1].At, r.Fixes[k].At)
		}
		near(t, "length", sum, r.Length(), 0.001)
	})
}

func toPiece(q, a, b orb.Point) float64 {
	v := minus(b, a)
	f := 0.0
	if vv := dot(v, v); vv > 0 {
		f = min(max(dot(minus(q, a), v)/vv, 0), 1)
	}
	return distance(q, orb.Point{a[0] + f*v[0], a[1] + f*v[1]})
}

func TestHeights(t *testing.T) {
	truth := straight(100_000, pace, 0)
	read := func(e Environment, o Options, seed uint64) []float64 {
		o.Plane = earth.NewPlane(midOcean)
		var out []float64
		for _, f := range e.Record(truth, o, Rand(seed, 1)).Fixes {
			out = append(out, f.Height)
		}
		return out
	}
	if h := read(OpenRoad(), Options{}, 1); !math.IsNaN(h[5]) {
		t.Errorf("a height of %g without a source", h[5])
	}
	if h := read(Canyon(), Options{Heights: TrueHeights}, 1); h[5] != 0 {
		t.Errorf("a true height of %g, want 0", h[5])
	}
	h := read(Canyon(), Options{Heights: SatelliteHeights}, 1)
	near(t, "satellite height", math.Sqrt(covariance(h, 0)), math.Hypot(9.4, 15), 2)

	// Barometric heights drift by up to 3 m an hour; taken out, what is left
	// is 0.15 m white, the gusts and the rounding to 0.1 m.
	for seed := range uint64(5) {
		h = read(OpenRoad(), Options{Heights: BarometricHeights}, seed)
		n := float64(len(h))
		var sx, sy, sxx, sxy float64
		for k, v := range h {
			x := float64(k) - (n-1)/2
			sx, sy, sxx, sxy = sx+x, sy+v, sxx+x*x, sxy+x*v
		}
		slope, mean := sxy/sxx, sy/n
		if math.Abs(slope) > 3.0/3600 {
			t.Errorf("a drift of %g m per hour", slope*3600)
		}
		left := 0.0
		for k, v := range h {
			d := v - mean - slope*(float64(k)-(n-1)/2)
			left += d * d
		}
		near(t, "barometric noise", math.Sqrt(left/n), math.Sqrt(0.15*0.15+0.3*0.3+0.01/12), 0.02)
	}
}

func TestAStretchedEnvironmentErrsMoreAcrossTheStreet(t *testing.T) {
	for _, ratio := range []float64{1.5, 2} {
		e := TreeLined().Stretched(ratio)
		e.Slow.SD, e.White = 0, 0 // these are alike in every direction
		across, along := e.ChangeVariance(1)
		near(t, "predicted ratio", math.Sqrt(across/along), ratio, 1e-9)
		truth := straight(50_000, pace, 0)
		a, c := errors2(truth, e.Record(truth, Options{}, Rand(61, 1)))
		near(t, "simulated ratio", math.Sqrt(covariance(c, 0)/covariance(a, 0)), ratio, 0.1*ratio)
	}
}

func TestAnyOptionsWriteFixesThatCanBeUsed(t *testing.T) {
	ref := streets()
	runner := careless()
	runner.LeadIn, runner.RunOut = Walk{Distance: 20, Wait: 15}, Walk{Distance: 10, Wait: 5}
	truth, err := runner.Run(ref, Rand(2, 1))
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(rt *rapid.T) {
		e := rapid.SampledFrom(Environments()).Draw(rt, "environment")
		o := Options{
			Plane: earth.NewPlane(midOcean), Began: time.Unix(1_900_000_000, 0).UTC(),
			Filter: rapid.SampledFrom([]Filter{{}, MovingAverage(5), Kalman(0.1, 3), Kalman(1, 1.5), KalmanSmoother(0.3, 1.5)}).Draw(rt, "filter"),
			Every:  rapid.IntRange(0, 5).Draw(rt, "every"), KeepOnTurn: rapid.Bool().Draw(rt, "on turns"),
			Jitter: rapid.Float64Range(0, 0.4).Draw(rt, "jitter"), Lost: rapid.Float64Range(0, 0.5).Draw(rt, "lost"),
			Underpasses: []Span{{rapid.Float64Range(0, 500).Draw(rt, "from"), rapid.Float64Range(500, 900).Draw(rt, "to")}},
			Silence:     rapid.SampledFrom([]Silence{Missing, Held, Extrapolated}).Draw(rt, "silence"),
			Decimals:    rapid.SampledFrom([]int{0, 5, 6, 7}).Draw(rt, "decimals"),
			Heights:     rapid.SampledFrom([]HeightSource{NoHeights, TrueHeights, SatelliteHeights, BarometricHeights}).Draw(rt, "heights"),
		}
		if rapid.Bool().Draw(rt, "on the road") {
			o.Road = ref.Line
		}
		r := e.Record(truth, o, Rand(rapid.Uint64().Draw(rt, "seed"), 2))
		if len(r.Fixes) < 20 || len(r.Points) != len(r.Fixes) || len(r.Times) != len(r.Fixes) {
			rt.Fatalf("%d fixes, %d points, %d times", len(r.Fixes), len(r.Points), len(r.Times))
		}
		for k, p := range r.Points {
			if bad(p[0]) || bad(p[1]) || math.Abs(p[0])+math.Abs(p[1]) > 5000 {
				rt.Fatalf("fix %d at %v", k, p)
			}
			if k > 0 && !r.Fixes[k].Time.After(r.Fixes[k-1].Time) {
				rt.Fatalf("fix %d at %v after %v", k, r.Fixes[k].Time, r.Fixes[k-1].Time)
			}
		}
	})
}
