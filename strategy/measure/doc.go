// Package measure works out a course measurement from the figures a measurer
// writes down on the day: the calibration rides and the course rides of a
// calibrated bicycle, or the readings of a steel tape. It follows the figures
// step by step (see Result.Ledger), says which rule each step rests on, and
// says what looks like a slip.
//
// It never certifies a course. A course is certified by a qualified measurer
// and the governing body; this package helps them to find mistakes.
//
// Units inside: metres, counts, counts per metre, degrees Celsius, plain
// fractions. A count is whatever the counter shows: most counters give about
// twenty counts for one turn of the wheel; whole wheel turns work as well.
//
// The rule texts were read on public pages, most of them in part, and are
// named with body, document and edition in RuleSets. Where a figure was read
// only second-hand (on the bulletin board of measurers) or is remembered, the
// comment beside it and the Source of the ledger line say so.
package measure

// NeverCertifies is the sentence that belongs beside every length this
// package gives.
const NeverCertifies = "This account never certifies a course: a qualified measurer and the governing body do. " +
	"It helps to find mistakes before and after race day."
