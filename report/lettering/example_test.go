package lettering_test

import (
	"fmt"
	"strings"

	"tautline/report/lettering"
)

// A caption of 3 mm letters in 40 mm of room.
func Example() {
	caption := "Aid station at the Tannery <yard>"
	fmt.Printf("%.0f mm wide\n", lettering.Width(caption, 3, false))
	fmt.Println(lettering.Fit(caption, 3, false, 40))
	fmt.Println(strings.Join(lettering.Wrap(caption, 3, 40), " | "))
	fmt.Println(lettering.Escape("<yard>"))
	// Output:
	// 49 mm wide
	// Aid station at the Tannery…
	// Aid station at the Tannery | <yard>
	// &lt;yard&gt;
}
