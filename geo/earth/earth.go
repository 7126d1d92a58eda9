// Package earth knows the shape of the earth: lengths of short lines on the
// WGS84 ellipsoid, and a local plane in metres to do geometry in.
//
// Positions are geodetic latitude and longitude in degrees on WGS84, as GPX
// and GeoJSON give them. Everything else is in metres and radians.
package earth

import (
	"math"

	"github.com/paulmach/orb"
)

// The WGS84 ellipsoid. Source: NIMA TR8350.2, third edition, table 3.1:
// semi-major axis in metres, flattening, both by definition (exact).
const (
	SemiMajor  = 6378137.0
	Flattening = 1 / 298.257223563
	// ecc2 is the first eccentricity squared, f(2-f).
	ecc2 = Flattening * (2 - Flattening)
)

// MeanRadius is (2a+b)/3 in metres, used only where a part in a hundred of a
// small correction does not matter (altitude, plane distortion).
const MeanRadius = SemiMajor * (1 - Flattening/3)

// LatLon is a position on WGS84, in degrees. Latitude lies in [-90, 90],
// longitude in [-180, 180]; readers check this, functions here do not.
type LatLon struct {
	Lat, Lon float64
}

const degree = math.Pi / 180

// radii returns the meridian radius of curvature and the prime-vertical
// radius, in metres, at a latitude in radians.
func radii(phi float64) (meridian, primeVertical float64) {
	s := math.Sin(phi)
	w2 := 1 - ecc2*s*s
	w := math.Sqrt(w2)
	return SemiMajor * (1 - ecc2) / (w2 * w), SemiMajor / w
}

// wrap brings a longitude difference in degrees into [-180, 180], so that a
// line across the antimeridian is as short as it is on the ground.
func wrap(d float64) float64 {
	if d > 180 {
		return d - 360
	}
	if d < -180 {
		return d + 360
	}
	return d
}

// polar is the latitude in degrees from which Distance uses the chord.
const polar = 80

// Distance is the length in metres of the short line between two positions on
// the ellipsoid, by the local radii at the middle latitude; towards the poles,
// where meridians run together too quickly for that, by the chord. Its error
// grows with the cube of the length and with the latitude: 5e-9 m at 100 m,
// 4e-6 m at 1 km and 4 mm at 10 km up to 60 degrees, ten times that up to 80
// degrees, 1e-8 m at 1 km beyond. Cut longer lines into pieces. Same positions
// give 0; NaN gives NaN.
func Distance(a, b LatLon) float64 {
	mid := (a.Lat + b.Lat) / 2 * degree
	if math.Abs(mid) > polar*degree {
		return byChord(a, b)
	}
	m, n := radii(mid)
	return math.Hypot((b.Lat-a.Lat)*degree*m, wrap(b.Lon-a.Lon)*degree*n*math.Cos(mid))
}

// byChord lengthens the straight line through the earth by what an arc of the
// mean radius is longer than its chord, to the first order.
func byChord(a, b LatLon) float64 {
	ax, ay, az := geocentric(a)
	bx, by, bz := geocentric(b)
	c := math.Hypot(math.Hypot(bx-ax, by-ay), bz-az)
	return c * (1 + c*c/(24*MeanRadius*MeanRadius))
}

// Plane is a plane that touches the ellipsoid at an origin: x east, y north,
// in metres. Unlike latitude and longitude with one frozen scale it has no
// error that grows linearly with distance; what remains (a shortening of
// radial lines by (d/R)^2/2, 1 part in 10^5 at 28 km from the origin) is taken
// out by Plane.Length. A Plane is a value and safe for concurrent use.
type Plane struct {
	Origin                         LatLon
	sinLat, cosLat, sinLon, cosLon float64
	x0, y0, z0                     float64
}

// NewPlane returns the plane that touches the ellipsoid at origin.
func NewPlane(origin LatLon) Plane {
	p := Plane{Origin: origin}
	p.sinLat, p.cosLat = math.Sincos(origin.Lat * degree)
	p.sinLon, p.cosLon = math.Sincos(origin.Lon * degree)
	p.x0, p.y0, p.z0 = geocentric(origin)
	return p
}

func geocentric(q LatLon) (x, y, z float64) {
	sinLat, cosLat := math.Sincos(q.Lat * degree)
	sinLon, cosLon := math.Sincos(q.Lon * degree)
	n := SemiMajor / math.Sqrt(1-ecc2*sinLat*sinLat)
	return n * cosLat * cosLon, n * cosLat * sinLon, n * (1 - ecc2) * sinLat
}

// To gives the plane coordinates (east, north) in metres of a position.
func (p Plane) To(q LatLon) orb.Point {
	x, y, z := geocentric(q)
	x, y, z = x-p.x0, y-p.y0, z-p.z0
	return orb.Point{
		-p.sinLon*x + p.cosLon*y,
		-p.sinLat*p.cosLon*x - p.sinLat*p.sinLon*y + p.cosLat*z,
	}
}

// From is the inverse of To: the position on the ellipsoid, on the origin's
// side, whose plane coordinates are e, exact but for rounding (some nanometres).
// Points beyond the earth's edge, thousands of kilometres off, are brought to it.
func (p Plane) From(e orb.Point) LatLon {
	// The point of the plane, then down along the normal to the ellipsoid
	// x^2 + y^2 + z^2/(1-ecc2) = a^2: a quadratic equation in the depth.
	x := p.x0 - p.sinLon*e[0] - p.sinLat*p.cosLon*e[1]
	y := p.y0 + p.cosLon*e[0] - p.sinLat*p.sinLon*e[1]
	z := p.z0 + p.cosLat*e[1]
	ux, uy, uz := p.cosLat*p.cosLon, p.cosLat*p.sinLon, p.sinLat
	alpha := ux*ux + uy*uy + uz*uz/(1-ecc2)
	beta := x*ux + y*uy + z*uz/(1-ecc2)
	gamma := x*x + y*y + z*z/(1-ecc2) - SemiMajor*SemiMajor
	depth := gamma / (beta + math.Sqrt(max(0, beta*beta-alpha*gamma)))
	x, y, z = x-depth*ux, y-depth*uy, z-depth*uz
	return LatLon{
		Lat: math.Atan2(z, (1-ecc2)*math.Hypot(x, y)) / degree,
		Lon: math.Atan2(y, x) / degree,
	}
}

// Length is the length on the ellipsoid, in metres, of the straight piece
// from a to b in the plane: the plane shortens lines that point away from the
// origin, and this gives that back. Within 30 km of the origin and for pieces
// up to 1 km it agrees with Distance within 2 parts in 10^7.
func (p Plane) Length(a, b orb.Point) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	radial := ((a[0]+b[0])*dx + (a[1]+b[1])*dy) / 2
	d2 := dx*dx + dy*dy
	return math.Sqrt(d2 + radial*radial/(MeanRadius*MeanRadius))
}

// OnSurface turns a map length in metres into the length a measuring wheel
// rolls off on a road at a mean height above the ellipsoid (m) that climbs or
// falls by rise (m) over that length: (1 + h/R) for the altitude and the
// hypotenuse for the gradient. +0.125 % at 5 %, +0.025 % at 1600 m.
func OnSurface(mapLength, height, rise float64) float64 {
	return math.Hypot(mapLength*(1+height/MeanRadius), rise)
}
