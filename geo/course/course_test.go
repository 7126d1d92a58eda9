package course

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/tidwall/geodesic"
	"pgregory.net/rapid"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
	"tautline/geo/track"
)

func at(lat, lon float64) track.Fix {
	return track.Fix{At: earth.LatLon{Lat: lat, Lon: lon}, Height: math.NaN()}
}

// east draws a line along a parallel with a point every 0.001 degrees.
func east(lat, lon float64, n int) []track.Fix {
	var fixes []track.Fix
	for i := range n {
		f := at(lat, math.Remainder(lon+float64(i)/1000, 360))
		f.Height = float64(i)
		fixes = append(fixes, f)
	}
	return fixes
}

func TestDrawingsThatAreNoCourse(t *testing.T) {
	for name, fixes := range map[string][]track.Fix{
		"nothing":                        nil,
		"one point":                      {at(47, 11)},
		"one point many times":           {at(47, 11), at(47, 11), at(47, 11)},
		"points within a centimetre":     {at(47, 11), at(47.00000005, 11)},
		"one place under two longitudes": {at(-17, 180), at(-17, -180)},
		"the pole under two longitudes":  {at(90, 0), at(90, 120)},
	} {
		t.Run(name, func(t *testing.T) {
			if c, err := New("x", fixes); !errors.Is(err, ErrTooShort) || c != nil {
				t.Errorf("got %v, %v", c, err)
			}
		})
	}
}

func TestRepeatedPointsAreLeftOut(t *testing.T) {
	plain := east(47, 11, 5)
	var repeated []track.Fix
	for _, f := range plain {
		repeated = append(repeated, f, f, track.Fix{At: earth.LatLon{Lat: f.At.Lat + 1e-8, Lon: f.At.Lon}, Height: 999})
	}
	a, err := New("a", plain)
	if err != nil {
		t.Fatal(err)
	}
	b, err := New("b", repeated)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(a.Chainage, b.Chainage) || !slices.Equal(a.Heights, b.Heights) || len(a.Points) != 5 || len(b.Points) != 5 {
		t.Errorf("chainage %v and %v, heights %v and %v", a.Chainage, b.Chainage, a.Heights, b.Heights)
	}
}

// Points closer together than a centimetre must not add up to a lost stretch:
// each is compared with the last one kept.
func TestManySmallStepsAreNotLost(t *testing.T) {
	var fixes []track.Fix
	for i := range 10_001 {
		fixes = append(fixes, at(47+float64(i)*5e-8, 11)) // 5.6 mm each
	}
	c, err := New("x", fixes)
	if err != nil {
		t.Fatal(err)
	}
	if want := earth.Distance(fixes[0].At, fixes[10_000].At); math.Abs(c.Length()-want) > 0.02 {
		t.Errorf("%v m, want %v m", c.Length(), want)
	}
}

func TestLengthIsGeodesic(t *testing.T) {
	// A parallel in short pieces, against Karney's method (J. Geodesy 87,
	// 43-55, 2013) in a library of its own.
	for _, lon := range []float64{11, 179.95, -179.95} {
		fixes := east(-17, lon, 101)
		c, err := New("x", fixes)
		if err != nil {
			t.Fatal(err)
		}
		var want, piece float64
		for i := 1; i < len(fixes); i++ {
			a, b := fixes[i-1].At, fixes[i].At
			geodesic.WGS84.Inverse(a.Lat, a.Lon, b.Lat, b.Lon, &piece, nil, nil)
			want += piece
		}
		if math.Abs(c.Length()-want) > 1e-6 {
			t.Errorf("from longitude %g: %.9f m, want %.9f m", lon, c.Length(), want)
		}
	}
}

func TestTheAntimeridianDoesNotShow(t *testing.T) {
	a, err := New("a", east(-17, 10, 101))
	if err != nil {
		t.Fatal(err)
	}
	b, err := New("b", east(-17, 179.95, 101))
	if err != nil {
		t.Fatal(err)
	}
	for i := range a.Points {
		if math.Hypot(a.Points[i][0]-b.Points[i][0], a.Points[i][1]-b.Points[i][1]) > 1e-5 || math.Abs(a.Chainage[i]-b.Chainage[i]) > 1e-5 {
			t.Fatalf("point %d: %v at %v, elsewhere %v at %v", i, b.Points[i], b.Chainage[i], a.Points[i], a.Chainage[i])
		}
	}
	if o := b.Plane.Origin; math.Abs(math.Abs(o.Lon)-180) > 1e-6 || o.Lat != -17 {
		t.Errorf("the plane touches at %v, the middle lies on the antimeridian", o)
	}
}

func TestChainagesBeyondTheEnds(t *testing.T) {
	c, err := New("x", []track.Fix{at(0, 0), at(0, 0.001), at(0.001, 0.001)})
	if err != nil {
		t.Fatal(err)
	}
	n := c.Length()
	for _, v := range []struct {
		at      float64
		i       int
		heading float64
	}{
		{-50, 0, 0}, {0, 0, 0}, {c.Chainage[1], 0, 0}, {c.Chainage[1] + 1e-9, 1, math.Pi / 2}, {n, 1, math.Pi / 2}, {n + 50, 1, math.Pi / 2},
	} {
		i, f := c.Leg(v.at)
		if i != v.i {
			t.Errorf("%g m lies on leg %d, want %d", v.at, i, v.i)
		}
		if got := c.Chainage[i] + f*(c.Chainage[i+1]-c.Chainage[i]); math.Abs(got-v.at) > 1e-9 {
			t.Errorf("%g m comes back as %v m", v.at, got)
		}
		if h := c.Heading(v.at); math.Abs(h-v.heading) > 1e-6 {
			t.Errorf("heading %v at %g m, want %v", h, v.at, v.heading)
		}
	}
	// The last piece goes on straight: 50 m further north.
	end, on := c.At(n), c.At(n+50)
	if math.Abs(on[0]-end[0]) > 1e-6 || math.Abs(on[1]-end[1]-50) > 1e-4 {
		t.Errorf("50 m beyond %v lies %v", end, on)
	}
	start, before := c.At(0), c.At(-50)
	if math.Abs(before[0]-start[0]+50) > 1e-4 || math.Abs(before[1]-start[1]) > 1e-6 {
		t.Errorf("50 m before %v lies %v", start, before)
	}
}

func TestCourseProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// A walk of pieces up to 2 km, with repeats, anywhere.
		here := earth.LatLon{Lat: rapid.Float64Range(-89, 89).Draw(t, "lat"), Lon: rapid.Float64Range(-180, 180).Draw(t, "lon")}
		fixes := []track.Fix{{At: here}}
		for range rapid.IntRange(1, 20).Draw(t, "n") {
			geodesic.WGS84.Direct(here.Lat, here.Lon, rapid.Float64Range(0, 360).Draw(t, "azimuth"),
				rapid.SampledFrom([]float64{0, 0.005, 1, 30, 400, 2000}).Draw(t, "m"), &here.Lat, &here.Lon, nil)
			fixes = append(fixes, track.Fix{At: here, Height: float64(len(fixes))})
		}
		before := fmt.Sprint(fixes)
		c, err := New("x", fixes)
		if fmt.Sprint(fixes) != before {
			t.Fatal("the fixes were changed")
		}
		if err != nil {
			t.Skip("all in one place")
		}
		if len(c.Points) != len(c.Chainage) || len(c.Points) != len(c.Heights) || c.Chainage[0] != 0 {
			t.Fatalf("%d points, %d chainages from %v, %d heights", len(c.Points), len(c.Chainage), c.Chainage[0], len(c.Heights))
		}
		for i := 1; i < len(c.Points); i++ {
			d := c.Chainage[i] - c.Chainage[i-1]
			if !(d >= sameSpot*(1-1e-9)) {
				t.Fatalf("piece %d is %v m long", i, d)
			}
			// The plane and the ellipsoid agree.
			if l := c.Plane.Length(c.Points[i-1], c.Points[i]); math.Abs(l-d) > 1e-6*d+1e-6 {
				t.Fatalf("piece %d is %v m long, in the plane %v m", i, d, l)
			}
		}
		if wandered := c.Plane.From(c.Points[0]); earth.Distance(wandered, fixes[0].At) > 1e-6 {
			t.Fatalf("the start %v lies at %v", fixes[0].At, wandered)
		}
		s := rapid.Float64Range(0, c.Length()).Draw(t, "chainage")
		i, f := c.Leg(s)
		if f < 0 || f > 1+1e-12 || s < c.Chainage[i] || s > c.Chainage[i+1] {
			t.Fatalf("%v m lies on leg %d at %v", s, i, f)
		}
		p, q := c.At(s), c.At(s+0.5)
		if i2, _ := c.Leg(s + 0.5); i2 == i {
			if h := math.Atan2(q[1]-p[1], q[0]-p[0]); math.Abs(math.Remainder(h-c.Heading(s), 2*math.Pi)) > 1e-5 {
				t.Fatalf("heading %v at %v m, but the course goes %v", c.Heading(s), s, h)
			}
			if step := math.Hypot(q[0]-p[0], q[1]-p[1]); math.Abs(step-0.5) > 1e-5 {
				t.Fatalf("half a metre is %v m", step)
			}
		}
	})
}

func BenchmarkNew(b *testing.B) {
	fixes := east(47, 11, 42_000)
	for i := range fixes {
		fixes[i].At = earth.LatLon{Lat: 47 + 0.1*math.Sin(float64(i)*1e-4), Lon: 11 + 0.1*math.Cos(float64(i)*1e-4)}
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := New("x", fixes); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAt(b *testing.B) {
	c, err := New("x", east(47, 11, 1000))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		c.At(c.Length() / 3)
	}
}

func TestACourseAroundTheWorldIsRefusedWithThePointAtFault(t *testing.T) {
	// The third point is where receivers without a position put themselves.
	_, err := New("thrown", []track.Fix{at(47, -29), at(47.01, -29), at(0, 0), at(47.02, -29)})
	var in *inputerr.Error
	if !errors.As(err, &in) || !strings.Contains(in.What, "no more than 1000 km") || !strings.Contains(in.Advice, "points 3 and 4") {
		t.Errorf("got %v", err)
	}
	if c, err := New("long", []track.Fix{at(47, -29), at(55.9, -29)}); err != nil || c.Length() < 980e3 {
		t.Errorf("a course of 990 km: %v", err)
	}
}

func TestHeightsComeFromTheDrawing(t *testing.T) {
	fixes := east(47, 8, 3)
	for i, h := range []float64{100, 110, math.NaN()} {
		fixes[i].Height = h
	}
	c, err := New("x", fixes)
	if err != nil {
		t.Fatal(err)
	}
	first := c.Chainage[1]
	for chainage, want := range map[float64]float64{-5: 100, 0: 100, first / 2: 105, first: 110} {
		if got := c.HeightAt(chainage); math.Abs(got-want) > 1e-6 {
			t.Errorf("at %v m the height is %v, want %v", chainage, got, want)
		}
	}
	for _, chainage := range []float64{1.5 * first, c.Length(), c.Length() + 5} {
		if got := c.HeightAt(chainage); !math.IsNaN(got) {
			t.Errorf("at %v m, where a height is missing: %v", chainage, got)
		}
	}
}
