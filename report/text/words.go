package text

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"tautline/geo/earth"
	"tautline/strategy/quantity"
)

// Sentences that stand where what they are about is shown, on the terminal and
// on pages alike.
const (
	// EffortCaution stands once wherever pacing is shown.
	EffortCaution = "Pacing and heat figures are information, not medical advice. After long inactivity, or with symptoms, see a physician before racing."
	// LengthCaution stands where a course length is shown.
	LengthCaution = "A length from a drawn course never certifies it: that takes a qualified measurer and the governing body."
	// ClosedRoadCaution stands where the shortest line is shown.
	ClosedRoadCaution = "Run the short line only where the road is closed and the course permits it; marshals and traffic law come first."
)

// Far prints a distance to the metre, or to the thousandth of a mile.
func Far(m float64, u quantity.Units) string {
	return quantity.DistanceFixed(m, u, 3) + " " + u.Name()
}

// At names a place along a course: to ten metres, or the hundredth of a mile.
func At(m float64, u quantity.Units) string {
	return quantity.DistanceFixed(m, u, 2) + " " + u.Name()
}

// CourseName is the name of a course from a file, fit to print.
func CourseName(name string) string { return cmp.Or(Clean(name), "unnamed course") }

// LatLon prints a place to a decimetre.
func LatLon(p earth.LatLon) string { return fmt.Sprintf("%.6f, %.6f", p.Lat, p.Lon) }

// Metres prints a length that is settled with a tape, whatever people's units
// are.
func Metres(m float64) string { return fmt.Sprintf("%.1f m", m) }

// SignedMetres is the same for a difference; next to nothing is "+0.0 m".
func SignedMetres(m float64) string { return fmt.Sprintf("%+.1f m", math.Round(m*10)/10+0) }

// ShortUnit is the unit of lengths of the size of a road, in metres, and its
// name.
func ShortUnit(u quantity.Units) (metres float64, name string) {
	if u == quantity.Imperial {
		return quantity.Foot, "ft"
	}
	return quantity.Metre, "m"
}

// FirstKilometre names the first kilometre of a race, in people's units.
func FirstKilometre(u quantity.Units) string {
	if u == quantity.Imperial {
		return "the first " + quantity.Distance(quantity.Kilometre, u)
	}
	return "the first kilometre"
}

// Plural counts things whose name takes an s: "1 turn", "3 turns".
func Plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Capital gives a text a capital at its beginning.
func Capital(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[size:]
}

// Sentence makes a note fit to stand by itself: on one line, with a capital
// and, unless it ends otherwise, a full stop.
func Sentence(s string) string {
	s = Capital(Line(s))
	if s == "" || strings.ContainsAny(s[len(s)-1:], ".!?") {
		return s
	}
	return s + "."
}

func sentences(list []string) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = Sentence(s)
	}
	return out
}

// mostTurnsNamed is how many turns stand in one cell of a table.
const mostTurnsNamed = 6

// TurnNumbers lists the numbers of turns for a table, the first six of them; a
// dash for none.
func TurnNumbers(numbers []int) string {
	if len(numbers) == 0 {
		return quantity.None
	}
	if len(numbers) > mostTurnsNamed {
		return commas(numbers[:mostTurnsNamed]) + ", …"
	}
	return commas(numbers)
}

func commas(numbers []int) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = strconv.Itoa(n)
	}
	return strings.Join(words, ", ")
}
