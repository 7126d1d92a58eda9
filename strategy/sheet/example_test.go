package sheet_test

import (
	"fmt"

	"tautline/strategy/sheet"
)

func Example() {
	s, err := sheet.Read("race.toml", []byte(`name = "Mill Run"
official = "10 km"
certified = true

[[stretch]]
name = "Brook Lane"
from = "2.1 km"
to = "1.6 mi"
use = "right half"

[[aid]]
at = 5000
stop = 20
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s of %.0f m\n", s.Name, s.Official)
	fmt.Printf("%s to %.0f m on the %s\n", s.Stretches[0].Name, s.Stretches[0].To, s.Stretches[0].Use)

	_, err = sheet.Read("race.toml", []byte("[road]\nwitdh = 8\n"))
	fmt.Println(err)
	// Output:
	// Mill Run of 10000 m
	// Brook Lane to 2575 m on the right half
	// race.toml:2:1: unknown key "witdh" in [road] (did you mean "width"?)
}
