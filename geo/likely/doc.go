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
//     together, compared with a library of receiver filters.
//   - What remains is weighed against what is known of runners: they do not run
//     inside the kerb, they take their turns alike, and they are as far out
//     shortly before and after a turn as in it. That part is a linear model with
//     normal errors, so sums of turns get their interval with all correlations.
//
// Lengths are in metres, times in seconds. One record seldom tells a single
// turn; the total is better known, because a receiver's displacement carries
// from turn to turn and cancels.
package likely
