package drawing_test

import (
	"fmt"
	"strings"

	"tautline/report/drawing"
)

// A straight kilometre on a road of 8 m, unrolled: chainage along, kerb to kerb
// across.
func ExampleStripMap() {
	m := drawing.StripMap(&drawing.Scene{
		Name: "Tannery Kilometre", Length: 1000, Unit: drawing.Unit{Metres: 1000, Name: "km"},
		Road: []drawing.Across{
			{At: 0, KerbLeft: 4, KerbRight: -4, Left: 4, Right: -4, LeftKind: "kerb", RightKind: "kerb"},
			{At: 1000, KerbLeft: 4, KerbRight: -4, Left: 4, Right: -4, LeftKind: "kerb", RightKind: "kerb"},
		},
		Line:  []drawing.Place{{At: 0, Left: 1}, {At: 1000, Left: -2}},
		Marks: []drawing.Mark{{At: 500, Name: "half way", Time: "1:55"}},
	})
	fmt.Println(len(m.Strips), "strips")
	for i, strip := range m.Strips {
		if strings.Contains(string(strip), "half way") && strings.Contains(string(strip), "1:55") {
			fmt.Println("the mark is on strip", i+1)
		}
	}
	// Output:
	// 4 strips
	// the mark is on strip 3
}
