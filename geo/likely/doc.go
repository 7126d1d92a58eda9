// Package likely infers where a runner really ran, and how far, from a record
// whose fixes are in error.
//
// The record is laid along the shortest legal line and cut into sections at
// normals to it: one section around every turn and one between turns. A
// section's recorded length, less the line's, is what the runner ran wide,
// plus scatter (error across the road lengthens every step), less corner loss
// (sparse or filtered fixes clip turns), plus an error of the first order: the
// receiver's displacement at the turn times the change of direction there.
//
//   - Scatter is learnt between the turns, from how quickly the place along the
//     road changes, where nothing but error moves quickly.
//   - Corner loss comes from the shape and speed of the record in all turns
//     together, compared with a library of receiver filters. Between the turns
//     the filter is heard: it leaves its mark on the spectrum of what changes
//     from second to second, and an average lets nothing through at some tones.
//     A turn's loss is the mean over the shapes that fit it, by how well they do:
//     a runner leaves the line before a turn, goes round outside and comes back.
//   - What remains is weighed against what is known of runners: they go outside
//     the line, take their turns alike, and pay a little for every turn however
//     little it turns. That part is a linear model with normal errors, so sums of
//     turns get their interval with all correlations; a turn's displacement error
//     carries over to the turns near it in time.
//
// What it does not know: whether a quick change of the recorded speed in a turn
// is the receiver's or the runner's, and a road that is not where it was drawn.
//
// Lengths are in metres, times in seconds. One record seldom tells a single
// turn; the total is better known, because a receiver's displacement carries
// from turn to turn and cancels.
package likely
