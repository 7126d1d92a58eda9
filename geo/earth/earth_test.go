package earth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/tidwall/geodesic"
	"pgregory.net/rapid"

	"tautline/geo/published"
)

// exact is the geodesic length by Karney's method (J. Geodesy 87, 43-55, 2013)
// in a library of its own.
func exact(a, b LatLon) (s float64) {
	geodesic.WGS84.Inverse(a.Lat, a.Lon, b.Lat, b.Lon, &s, nil, nil)
	return s
}

// ahead is the position at a distance and an azimuth in degrees, by the same library.
func ahead(from LatLon, azimuth, metres float64) (to LatLon) {
	geodesic.WGS84.Direct(from.Lat, from.Lon, azimuth, metres, &to.Lat, &to.Lon, nil)
	return to
}

// inPieces sums Distance over a geodesic cut into pieces of about so many metres.
func inPieces(a, b LatLon, piece float64) float64 {
	var s, azimuth float64
	geodesic.WGS84.Inverse(a.Lat, a.Lon, b.Lat, b.Lon, &s, &azimuth, nil)
	n := math.Ceil(s / piece)
	var sum float64
	last := a
	for i := 1.0; i <= n; i++ {
		next := b
		if i < n {
			next = ahead(a, azimuth, s*i/n)
		}
		sum += Distance(last, next)
		last = next
	}
	return sum
}

func dms(d, m, s float64) float64 { return math.Copysign(math.Abs(d)+m/60+s/3600, d) }

const vincenty = "Vincenty's inverse (Survey Review 23, 88-93, 1975)"

func TestPublishedLines(t *testing.T) {
	for _, c := range []struct {
		name, source string
		trust        published.Trust
		a, b         LatLon
		want         string  // m
		tolerance    float64 // m
	}{
		// On GRS80; on WGS84 the same to 0.1 mm.
		{"Flinders Peak to Buninyong", "Geocentric Datum of Australia technical manual", published.FromMemory,
			LatLon{dms(-37, 57, 3.72030), dms(144, 25, 29.52440)}, LatLon{dms(-37, 39, 10.15610), dms(143, 55, 35.38390)}, "54972.271", 0.0006},
		{"the first line of the test set for geodesics", "Karney, doi 10.5281/zenodo.32156", published.FromMemory,
			LatLon{36.530042355041, 0}, LatLon{-48.164270779097769, 5.762344694676510}, "9398502.0434687", 0.001},
		{"across an ocean", "worked example, " + vincenty, published.SecondMethod,
			LatLon{40.6, -73.8}, LatLon{51.6, -0.5}, "5551759.400", 0.001},
		{"a degree along the equator", "WGS 84, a x pi/180", published.Exact, LatLon{0, 0}, LatLon{0, 1}, "111319.4908", 0.0001},
		{"a degree of the meridian at the equator", vincenty, published.SecondMethod, LatLon{0, 0}, LatLon{1, 0}, "110574.3886", 0.0001},
		{"a degree of the meridian at 45 degrees", vincenty, published.SecondMethod, LatLon{44.5, 0}, LatLon{45.5, 0}, "111131.7777", 0.0001},
		{"a degree of longitude at 45 degrees", vincenty, published.SecondMethod, LatLon{45, 0}, LatLon{45, 1}, "78846.3347", 0.0001},
		{"700 m east at 50 degrees", vincenty, published.SecondMethod, LatLon{50, 0}, LatLon{50, 0.01}, "716.9575", 0.0001},
		{"1100 m north at 50 degrees", vincenty, published.SecondMethod, LatLon{50, 0}, LatLon{50.01, 0}, "1112.2916", 0.0001},
		{"3500 m east at 51.5 degrees", vincenty, published.SecondMethod, LatLon{51.5, -0.1}, LatLon{51.5, -0.05}, "3472.0258", 0.0001},
	} {
		t.Run(c.name, func(t *testing.T) {
			published.Check(t, published.Figure{Source: c.source, Trust: c.trust, What: c.name, Unit: "m", Value: c.want, Tolerance: c.tolerance}, inPieces(c.a, c.b, 200))
		})
	}
}

// Radii of curvature by the textbook formulas, evaluated to four decimals in
// another program; a at the equator and a/sqrt(1-e2) at the pole are
// definitions.
func TestRadiiOfCurvature(t *testing.T) {
	for _, c := range []struct{ lat, meridian, primeVertical, degreeOfLat, degreeOfLon float64 }{
		{0, 6335439.3273, 6378137.0000, 110574.2758, 111319.4908},
		{30, 6351377.1037, 6383480.9177, 110852.4425, 96486.2803},
		{40, 6361815.8264, 6386976.1657, 111034.6326, 85393.8570},
		{45, 6367381.8156, 6388838.2901, 111131.7774, 78846.8351},
		{50, 6372955.9257, 6390702.0442, 111229.0640, 71695.7536},
		{60, 6383453.8572, 6394209.1738, 111412.2875, 55800.0016},
		{90, 6399593.6258, 6399593.6258, 111693.9796, 0},
	} {
		m, n := radii(c.lat * degree)
		for _, v := range []struct {
			name      string
			got, want float64
		}{
			{"meridian radius", m, c.meridian}, {"prime vertical radius", n, c.primeVertical},
			{"degree of latitude", m * degree, c.degreeOfLat}, {"degree of longitude", n * math.Cos(c.lat*degree) * degree, c.degreeOfLon},
		} {
			published.Check(t, published.Figure{Source: "WGS 84, radii of curvature", Trust: published.SecondMethod,
				What: fmt.Sprintf("%s at %g degrees", v.name, c.lat), Unit: "m", Value: fmt.Sprintf("%.4f", v.want), Tolerance: 0.00006}, v.got)
		}
	}
	published.Check(t, published.Figure{Source: "WGS 84, (2a + b) / 3", Trust: published.Exact,
		What: "mean radius", Unit: "m", Value: "6371008.7714", Tolerance: 0.00006}, MeanRadius)
}

// A sphere of 6371008.8 m misjudges a marathon to the north at 40 degrees by
// 61 m and one to the east by -105 m; that the ellipsoid is used shows here.
func TestItIsNotASphere(t *testing.T) {
	sphere := func(a, b LatLon) float64 {
		sin := func(d float64) float64 { s := math.Sin(d / 2); return s * s }
		h := sin((b.Lat-a.Lat)*degree) + math.Cos(a.Lat*degree)*math.Cos(b.Lat*degree)*sin((b.Lon-a.Lon)*degree)
		return 2 * 6371008.8 * math.Asin(math.Sqrt(h))
	}
	for _, c := range []struct {
		b    LatLon
		want float64 // m in a marathon
	}{{LatLon{40.001, 0}, 61.0}, {LatLon{40, 0.001}, -105.5}} {
		a := LatLon{40, 0}
		if got := 42195 * (sphere(a, c.b)/Distance(a, c.b) - 1); math.Abs(got-c.want) > 0.1 {
			t.Errorf("towards %v: %.2f m, want %.1f m", c.b, got, c.want)
		}
	}
}

// The error bounds that the doc comment of Distance states.
func TestDistanceAgainstGeodesics(t *testing.T) {
	const seed = 20310504
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 1))
	const rounding = 4e-9 // coordinates in degrees end at 1e-9 m
	for _, c := range []struct{ from, to, metres, tolerance float64 }{
		{0, 60, 3, rounding}, {0, 60, 100, 5e-9 + rounding}, {0, 60, 1000, 4e-6}, {0, 60, 10000, 0.004},
		{60, 80, 3, rounding}, {60, 80, 100, 5e-8}, {60, 80, 1000, 4e-5}, {60, 80, 10000, 0.04},
		{80, 90, 3, rounding}, {80, 90, 100, 1e-8}, {80, 90, 1000, 5e-5}, {81, 90, 1000, 2e-8}, {81, 90, 10000, 2e-5},
	} {
		t.Run(fmt.Sprintf("%g m from %g to %g degrees", c.metres, c.from, c.to), func(t *testing.T) {
			for range 2000 {
				lat := c.from + r.Float64()*(c.to-c.from)
				if r.IntN(2) == 0 {
					lat = -lat
				}
				a := LatLon{lat, r.Float64()*360 - 180}
				azimuth := r.Float64() * 360
				b := ahead(a, azimuth, c.metres)
				if math.Abs(b.Lat) > c.to && c.to < 90 {
					continue
				}
				if got := Distance(a, b); math.Abs(got-c.metres) > c.tolerance {
					t.Fatalf("from %v by azimuth %g: %.10f m", a, azimuth, got)
				}
			}
		})
	}
}

func TestDistanceProperties(t *testing.T) {
	position := rapid.Custom(func(t *rapid.T) LatLon {
		return LatLon{rapid.Float64Range(-90, 90).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon")}
	})
	rapid.Check(t, func(t *rapid.T) {
		a := position.Draw(t, "a")
		b := ahead(a, rapid.Float64Range(0, 360).Draw(t, "azimuth"), rapid.Float64Range(0, 5000).Draw(t, "m"))
		d := Distance(a, b)
		if back := Distance(b, a); d != back {
			t.Fatalf("%v there, %v back", d, back)
		}
		if same := Distance(a, a); same != 0 {
			t.Fatalf("a place lies %v m from itself", same)
		}
		// The other name of the same meridian.
		if math.Abs(a.Lon) == 180 {
			if other := Distance(LatLon{a.Lat, -a.Lon}, b); math.Abs(other-d) > 1e-8 {
				t.Fatalf("%v and %v", d, other)
			}
		}
		if e := exact(a, b); math.Abs(d-e) > 1e-8+1e-6*e {
			t.Fatalf("%v, exactly %v", d, e)
		}
	})
	if !math.IsNaN(Distance(LatLon{math.NaN(), 0}, LatLon{})) || !math.IsNaN(Distance(LatLon{}, LatLon{0, math.NaN()})) {
		t.Error("NaN is lost")
	}
}

func TestAcrossTheAntimeridian(t *testing.T) {
	a, b := LatLon{-17, 179.999}, LatLon{-17, -179.999}
	if got, want := Distance(a, b), Distance(LatLon{-17, 0}, LatLon{-17, 0.002}); math.Abs(got-want) > 1e-6 {
		t.Errorf("%v m, elsewhere %v m", got, want)
	}
	if got := Distance(LatLon{-17, 180}, LatLon{-17, -180}); got != 0 {
		t.Errorf("the same meridian lies %v m apart", got)
	}
}

func TestAcrossThePole(t *testing.T) {
	a, b := LatLon{89.9999, 20}, LatLon{89.9999, -160}
	if got, want := Distance(a, b), exact(a, b); math.Abs(got-want) > 1e-8 {
		t.Errorf("%v m, exactly %v m", got, want)
	}
}

// From undoes To, wherever the plane lies, the poles and the antimeridian
// included, and the other way round.
func TestPlaneThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		origin := LatLon{
			rapid.OneOf(rapid.Float64Range(-90, 90), rapid.SampledFrom([]float64{0, 90, -90, 89.9999, -89.99})).Draw(t, "lat"),
			rapid.OneOf(rapid.Float64Range(-180, 180), rapid.SampledFrom([]float64{180, -180, 179.999, 0})).Draw(t, "lon"),
		}
		p := NewPlane(origin)
		azimuth, d := rapid.Float64Range(0, 360).Draw(t, "azimuth"), rapid.Float64Range(0, 300_000).Draw(t, "m")
		q := ahead(origin, azimuth, d)
		e := p.To(q)
		back := p.From(e)
		if !(math.Abs(back.Lat) <= 90 && math.Abs(back.Lon) <= 180) {
			t.Fatalf("%v is not on earth", back)
		}
		if off := exact(q, back); off > 2e-8 {
			t.Fatalf("%v comes back as %v, %v m off", q, back, off)
		}
		if again := p.To(back); math.Hypot(again[0]-e[0], again[1]-e[1]) > 2e-8 {
			t.Fatalf("%v comes back as %v", e, again)
		}
		// East and north: the plane turns with the meridian of its origin.
		if d > 1 && d < 1000 && math.Abs(origin.Lat) < 89 {
			if want := (orb.Point{d * math.Sin(azimuth*degree), d * math.Cos(azimuth*degree)}); math.Hypot(e[0]-want[0], e[1]-want[1]) > 1e-5 {
				t.Fatalf("%g m by azimuth %g: %v, want %v", d, azimuth, e, want)
			}
		}
	})
}

func TestPlaneBeyondTheEdgeOfTheEarth(t *testing.T) {
	for _, e := range []orb.Point{{1e7, 0}, {0, -1e8}, {1e12, 1e12}} {
		if q := NewPlane(LatLon{47, 11}).From(e); !(math.Abs(q.Lat) <= 90 && math.Abs(q.Lon) <= 180) {
			t.Errorf("%v comes from %v", e, q)
		}
	}
}

// Plane.Length gives back what the plane takes: within 30 km for pieces up to
// 1 km, 2 parts in 10^7 as its doc comment says.
func TestPlaneLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		origin := LatLon{rapid.Float64Range(-89, 89).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon")}
		p := NewPlane(origin)
		a := ahead(origin, rapid.Float64Range(0, 360).Draw(t, "where"), rapid.Float64Range(0, 30_000).Draw(t, "off"))
		d := rapid.Float64Range(0.1, 1000).Draw(t, "m")
		b := ahead(a, rapid.Float64Range(0, 360).Draw(t, "whither"), d)
		got := p.Length(p.To(a), p.To(b))
		if math.Abs(got-d) > 2e-7*d+1e-8 {
			t.Fatalf("%v m, on the ellipsoid %v m", got, d)
		}
	})
	// Without the correction the same piece would be short by 11 parts in a
	// million: the test can tell.
	p := NewPlane(LatLon{47, 11})
	a := ahead(p.Origin, 30, 29_000)
	b := ahead(p.Origin, 30, 30_000)
	ea, eb := p.To(a), p.To(b)
	if bare := math.Hypot(eb[0]-ea[0], eb[1]-ea[1]); 1000-bare < 0.009 {
		t.Errorf("the bare plane gives %v m", bare)
	}
}

// The corrections as the rules of course measurement know them: 0.125 % at a
// gradient of 5 %, 0.025 % at 1600 m.
func TestOnSurface(t *testing.T) {
	for _, c := range []struct {
		name                    string
		length, height, rise    float64
		wantPercent, withinPart float64
	}{
		{"level at the sea", 1000, 0, 0, 0, 1e-12},
		{"climbing by 5 %", 1000, 0, 50, 0.1249, 0.00005},
		{"falling by 5 %", 1000, 0, -50, 0.1249, 0.00005},
		{"climbing by 2 %", 1000, 0, 20, 0.0200, 0.00005},
		{"climbing by 10 %", 1000, 0, 100, 0.4988, 0.00005},
		{"level at 1600 m", 1000, 1600, 0, 0.0251, 0.00005},
		{"level below the sea", 1000, -400, 0, -0.0063, 0.00005},
	} {
		t.Run(c.name, func(t *testing.T) {
			published.Check(t, published.Figure{Source: "sqrt(1 + gradient²) and (R + height) / R", Trust: published.Exact,
				What: "surface beyond map, " + c.name, Unit: "%", Value: fmt.Sprintf("%.4f", c.wantPercent), Tolerance: c.withinPart},
				100*(OnSurface(c.length, c.height, c.rise)/c.length-1))
		})
	}
}

func BenchmarkDistance(b *testing.B) {
	for name, lat := range map[string]float64{"at 47 degrees": 47, "near the pole": 88} {
		b.Run(name, func(b *testing.B) {
			x, y := LatLon{lat, 11}, LatLon{lat + 0.0001, 11.0001}
			for b.Loop() {
				Distance(x, y)
			}
		})
	}
}

func BenchmarkPlane(b *testing.B) {
	p := NewPlane(LatLon{47, 11})
	q := LatLon{47.1, 11.1}
	b.Run("to", func(b *testing.B) {
		for b.Loop() {
			p.To(q)
		}
	})
	e := p.To(q)
	b.Run("from", func(b *testing.B) {
		for b.Loop() {
			p.From(e)
		}
	})
}
