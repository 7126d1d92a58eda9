// Package taut pulls a string tight through the permitted road: it finds the
// shortest legal line of a course, its turns, and how much it depends on what
// is known of the road.
//
// # Method
//
// Package road gives the road as a row of portals. Between two portals the
// road is flat and without holes, so among all lines through the portals in
// their order there is one taut string, and it is the shortest. It is found
// with a funnel in a deque (D. T. Lee and F. P. Preparata 1984; the form with
// plain arrays after J. Hershberger and J. Snoeyink 1994; both from memory,
// unchecked): the funnel holds the shortest ways to the two ends of the
// portal reached so far, every end enters and leaves it once, and so the time
// grows linearly with the number of portals. Only orientation tests are used;
// that parts of the road overlap elsewhere does no harm.
//
// Start and finish are lines, not points. The string is drawn from infinitely
// far behind the start line, square to it, to infinitely far ahead of the
// finish line: what lies between the lines is then the shortest from anywhere
// on the one to anywhere on the other. Points at infinity are directions in
// the orientation tests, so nothing is lost in rounding. A portal that is one
// point (a turn-around, a start that is a point) ties the string there.
//
// Ends of portals that differ in the last digits only are one place, and ends
// on one line with the string's last bend are reached without a bend: there
// rounding alone would decide between left and right.
//
// Kerb corners keep their clearance on arcs, which reach the funnel as
// samples. What the funnel finds is only which arcs the string touches and on
// which side; tangents and arcs are then worked out in closed form, wherever
// the exact string touches the arc near the samples that the funnel found. Lengths
// are within 1 µm of the closed form for a corner of any angle, and within
// 0.03 mm where the string only grazes an arc between two samples. A drawn
// course of many pieces is a polygon: on the inside of a bend of radius R drawn
// every d metres the line is shorter than round the circle by (R/24 + h/12)
// (d/R)² for every radian, h being half the width plus the corner radius: 1.7 mm
// for 37 m drawn every metre on a street of 8 m.
//
// The plane's lengths are turned into lengths on the ellipsoid piece by piece.
// With heights in the drawing the length along the surface is given too, on
// the profile that package heights reads from them; the line is taken to climb
// as the course does at the same chainage.
//
// # Turns
//
// A turn is where the course turns: its drawn line, thinned to what is needed
// to stay within 0.3 m of it (a recorded drawing is first averaged over some
// metres, by its own scatter), has vertices that turn the same way and lie
// close together. Less than 18° is no turn, nor is less than 30° over more
// than 200 m. The angle of a turn is the course's own, between its headings
// before and after; its extent reaches to where the inner kerb becomes
// straight, or halfway to the next turn.
package taut
