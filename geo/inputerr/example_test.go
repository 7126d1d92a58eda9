package inputerr_test

import (
	"errors"
	"fmt"

	"tautline/geo/inputerr"
)

func Example() {
	err := fmt.Errorf("mill run: %w", &inputerr.Error{
		File: "race.toml", Line: 3, Column: 9,
		What: `"8 mm" is not a width of a road`, Advice: `write metres: "8 m"`,
	})
	// Whoever knows more about the place can ask for the parts.
	var in *inputerr.Error
	if errors.As(err, &in) {
		fmt.Println(in.File, in.Line)
		fmt.Println(in)
	}
	// Output:
	// race.toml 3
	// race.toml:3:9: "8 mm" is not a width of a road (write metres: "8 m")
}
