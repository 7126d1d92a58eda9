package measure

import (
	"fmt"
	"math"
	"strings"
)

// unrolled is a ride with the rounds of its counter counted.
type unrolled struct {
	pieces []float64 // counts
	total  float64   // counts
	rounds int
	marks  []float64 // counts from the start of the ride
}

// unrolling is a ride whose counter is being followed.
type unrolling struct {
	sheet    *Sheet
	ride     Ride
	label    string  // of the ride, for messages
	key      string  // of the ride in the sheet
	round    float64 // counts after which the counter starts again
	expected float64 // roughly how many counts the ride has, 0 when nothing says
	perMetre float64 // turns intended places into counts
	unrolled
}

// unroll follows the counter through a ride, round by round. perMetre is the
// constant for the day, counts per metre.
func (s *Sheet) unroll(i, j int, perMetre float64) (unrolled, error) {
	ride := s.Sessions[i].Rides[j]
	u := unrolling{
		sheet: s, ride: ride, label: ride.label(j), key: fmt.Sprintf("session[%d].ride[%d]", i, j),
		round: s.modulus(), expected: s.expected(ride) * perMetre, perMetre: perMetre,
	}
	var err error
	if len(ride.Pieces) == 1 && len(ride.Marks) > 0 {
		err = u.fromMarkToMark()
	} else if err = u.pieceByPiece(); err == nil {
		err = u.marksInPieces()
	}
	return u.unrolled, err
}

// bad makes an error at a key below the ride.
func (u *unrolling) bad(below, what, advice string) error {
	return u.sheet.bad(u.key+below, what, advice)
}

// badMark makes an error at a mark.
func (u *unrolling) badMark(m int, what, advice string) error {
	return u.bad(fmt.Sprintf(".mark[%d]", m), what, advice)
}

// pieceByPiece adds the pieces up. None may be longer than one round, but a ride
// in one piece has as many as the expected length asks for.
func (u *unrolling) pieceByPiece() error {
	for _, p := range u.ride.Pieces {
		g := gain(p, u.round)
		u.pieces = append(u.pieces, g)
		u.total += g
		if !p.GainGiven && p.To < p.From {
			u.rounds++
		}
	}
	if u.expected == 0 || u.ride.Pieces[0].GainGiven {
		return nil
	}
	more := int(math.Round((u.expected - u.total) / u.round))
	if more <= 0 {
		return nil
	}
	if len(u.pieces) > 1 {
		return u.bad(".pieces", fmt.Sprintf("ride %s is %d rounds of the counter shorter than expected and cannot be followed over %d pieces", u.label, more, len(u.pieces)),
			"cut pieces so that none is longer than one round of the counter, or correct the expected length")
	}
	u.rounds += more
	u.total += float64(more) * u.round
	u.pieces[0] = u.total
	return nil
}

// marksInPieces finds the marks of a ride in pieces: each lies in the first
// piece, from that of the mark before it on, that holds its reading.
func (u *unrolling) marksInPieces() error {
	at, before := 0, 0.0 // the piece, and the counts of those before it
	var last float64
	for m, mark := range u.ride.Marks {
		for {
			if at == len(u.pieces) {
				return u.badMark(m, fmt.Sprintf("the reading of mark %s lies in no piece of ride %s after the mark before it", quote(mark.Name), u.label), "check the reading and the order of the marks")
			}
			in := math.Mod(mark.Reading.Count-u.ride.Pieces[at].From+u.round, u.round)
			if in <= u.pieces[at] && before+in >= last {
				last = before + in
				u.marks = append(u.marks, last)
				break
			}
			before += u.pieces[at]
			at++
		}
	}
	return nil
}

// fromMarkToMark follows the counter through a ride in one piece, from its start
// over its marks to its end.
func (u *unrolling) fromMarkToMark() error {
	stops := []float64{u.ride.Pieces[0].From}
	for _, m := range u.ride.Marks {
		stops = append(stops, m.Reading.Count)
	}
	stops = append(stops, u.ride.Pieces[0].To)
	gains := make([]float64, len(stops)-1)
	for n := range gains {
		g := stops[n+1] - stops[n]
		if g < 0 {
			g += u.round
			u.rounds++
		}
		gains[n] = g
		u.total += g
	}
	if u.expected > 0 {
		more := int(math.Round((u.expected - u.total) / u.round))
		if more < 0 {
			return u.backwards(gains)
		}
		if more > 0 {
			if err := u.addRounds(gains, more); err != nil {
				return err
			}
		}
	}
	var sum float64
	for n := range u.ride.Marks {
		sum += gains[n]
		u.marks = append(u.marks, sum)
	}
	u.pieces = []float64{u.total}
	return nil
}

// backwards is the error of readings that go back: each slip of that kind shows
// as a round too many. It names the longest way between two readings.
func (u *unrolling) backwards(gains []float64) error {
	longest, at := 0.0, 0
	for n, g := range gains {
		if g > longest {
			longest, at = g, n
		}
	}
	where := "the end"
	if at < len(u.ride.Marks) {
		where = "mark " + quote(u.ride.Marks[at].Name)
	}
	return u.badMark(min(at, len(u.ride.Marks)-1), fmt.Sprintf("the readings of ride %s go backwards: the way to %s would be %.0f counts", u.label, where, longest), "check that reading and the one before it")
}

// addRounds spreads whole rounds that the readings alone do not show over the
// gains from mark to mark, by where the marks should be.
func (u *unrolling) addRounds(gains []float64, rounds int) error {
	var was float64
	for n := range gains {
		is := u.expected
		if n < len(u.ride.Marks) {
			place, ok := u.ride.Marks[n].intended()
			if !ok {
				return u.badMark(n, fmt.Sprintf("the counter went round more often than the marks of ride %s show, and mark %s does not say where it should be", u.label, quote(u.ride.Marks[n].Name)),
					"give at = \"5 km\" for every mark of this ride")
			}
			is = place * u.perMetre
		}
		if add := math.Max(0, math.Round((is-was-gains[n])/u.round)); add > 0 {
			gains[n] += add * u.round
			rounds -= int(add)
			u.rounds += int(add)
			u.total += add * u.round
		}
		was = is
	}
	if rounds != 0 {
		return u.bad("", fmt.Sprintf("the rounds of the counter in ride %s do not add up: marks and expected length disagree", u.label), "check where the marks should be and the expected length")
	}
	return nil
}

// intended is where a mark should be, m, if the sheet says so.
func (m Mark) intended() (float64, bool) {
	if m.At != 0 {
		return float64(m.At), true
	}
	var l Length
	if !strings.ContainsAny(m.Name, "kmfyhKMFYH") || l.UnmarshalText([]byte(m.Name)) != nil {
		return 0, false
	}
	return float64(l), true
}
