// Package road turns a drawn course and what the race says of its road into
// the permitted road.
//
// # Portals, not an area
//
// The permitted road is a row of portals across the direction of travel, each
// with a left and a right end, never the union of the road as an area: where
// a course crosses itself, runs laps or comes back along the same street, the
// union would open short cuts that no runner has. Left and right never swap,
// and every portal comes after the one before it.
//
// # From the drawing to the edges
//
// The drawing is cleaned (points that repeat, spikes and steps back of some
// metres are taken out) and cut into sections where it turns back along
// itself: a vertex of more than 150° whose arms lie along each other for 20 m
// or as far as they go. Such a place is a turn-around, by default a point,
// measured without clearance.
//
// A street's block has round corners: it is what a disc of the corner radius
// can sweep inside it. So on each side the drawn course is offset by half the
// width plus the corner radius, to the edge's core, and grown back by the
// corner radius plus the clearance: arcs about the core's corners. The offset
// keeps a point only if no other part of the course, within 12 offset
// distances along it, is nearer than its own distance. That is exact for
// corners of one vertex, gives the same for five close ones, follows noisy
// recordings as a rolling disc would, and lets laps and ways back overlap.
// Where a hole is trimmed off, all chainages in it are served by the same
// point of the edge: portals that fan round the corner.
//
// Where the disc does not fit, between the legs of a hairpin or in a bend
// tighter than half the road, it is made smaller there until it does: first
// the corner radius gives way, then the road, so that the inner edge of a
// tight bend is the bend's own centre. The outside of a corner is round about
// the drawn vertex; a taut line never comes near it. The edges of a lane keep
// their distance from the drawn course, round its corners too.
//
// Where a stretch begins or ends in such a hole, or so near that the corner's
// room reaches there, the road before and the road behind are each built as if
// they went on alike, round the whole corner, and put together: the edge of the
// one ends where it is hidden behind the beginning of the narrower other, which
// is kept clear of all round. Two kerbs of one radius need none of that: their
// widths meet in one corner wherever in it the width changes.
//
// Portals join both edges at the same chainage. Each is cut back from both
// ends by corner radius and clearance, measured to the nearest part of the
// edge, and says on which arc its ends lie. Start line, finish line and gates
// are square to the course, and portals that would cross them give way; beside a
// corner so sharp that all that follows would have to, the line turns to the
// corner. What had to be repaired is said in Road.Warnings with its chainage.
//
// # What is a convention
//
// No rule says what a runner restricted to a half of the road does where it
// changes sides, nor whether both directions of an out-and-back may use the
// whole road: Spec.Part says it. Radius and clearance give way in hairpins as
// described. A step in width has a rounded nose when the kerb has a radius.
// Cones and painted lines that cut the road have no corner radius.
package road
