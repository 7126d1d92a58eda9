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
// # Form of the sheet
//
// TOML, one measurement to a file; readCSV has the form of the same as a table.
// Lengths are written with their unit ("10 km", "0.5 mi", "1000 ft",
// "marathon") or as plain numbers, which are metres; temperatures with their
// scale ("14 C", "75 F"); shares as "0.08 %" or 0.0008. A ride is its two
// readings, "04000-09610", or what the counter gained, 5610.
//
// Top level:
//
//	title, source   text. What was measured; where the figures come from.
//	rules           name of a set of RuleSets; "usatf-procedures" when not
//	                given, "usatf-verification" for purpose "verify",
//	                "steel-tape" for method "tape".
//	purpose         "lay-out" or "verify".
//	method          "bicycle" or "tape".
//
// [course]:
//
//	distance        the official distance.
//	expected        roughly what was ridden, so that the rounds of the counter
//	                can be counted. Default: the distance.
//	lap_step        tape only: the course is laps in multiples of this (1, 0.5)
//	                and a remainder.
//
// [settings], each instead of what the rules say:
//
//	constant        "larger" or "average" of working and finish constant.
//	factor          short-course factor: 1.001, "0.1 %", "on" or "off".
//	tolerance       between the rides; default 0.08 %.
//	allowance       of a verification.
//	length_that_counts   "smaller" (default) or "mean".
//	constant_rounding    round the constants to multiples of this many counts
//	                per constant_per; default none.
//	constant_per    "1 km" (default), "1 mi", "1 m": how constants are written.
//
// [counter]:
//
//	digits          places of its display, 3 to 9; default 5.
//	unit            "counts" (default) or "turns" of the wheel.
//	step            finest reading; default half a count.
//
// [calibration], one of the two:
//
//	length          of the calibration course.
//	tape            a table [calibration.tape] of its tapings.
//
// [calibration.tape], and [tape] for method "tape":
//
//	readings        a list, one for each taping of the whole stretch: "304.8 m"
//	                or "10 x 30 m + 4.80815 m".
//	temperature     of the tape; "applied" when the readings are corrected.
//	coefficient     "us" (default) or "metric".
//	tape_says, tape_is   the printed and the true length of the tape.
//	per_pull        signed correction of one pull, and pulls, their number,
//	                where the readings do not show it.
//	aim             the length that was meant.
//
// [[session]], one bicycle on one day:
//
//	name            text.
//	before, after   lists of calibration rides.
//	temperature_before, temperature_after, hours_between
//
// [[session.ride]], a ride of the course, and [[session.ride.mark]] on it:
//
//	name            text.
//	pieces          a list of rides; what the counter gains between two pieces
//	                does not count.
//	laps            the course is this many times what was ridden.
//	expected        as for the course, of this ride.
//	mark            name, reading, and at: where it should be, if the name does
//	                not say.
//
// [splits]: every and at, lists of lengths, ask for the counts at these places.
//
// The rule texts were read on public pages, most of them in part, and are
// named with body, document and edition in RuleSets. Where a figure was read
// only second-hand (on the bulletin board of measurers) or is remembered, the
// comment beside it and the Source of the ledger line say so.
package measure

import _ "embed"

// NeverCertifies is the sentence that belongs beside every length this
// package gives.
const NeverCertifies = "This account never certifies a course: a qualified measurer and the governing body do. " +
	"It helps to find mistakes before and after race day."

// Example is a sheet with a comment on every part, to start from.
//
//go:embed example.toml
var Example []byte
