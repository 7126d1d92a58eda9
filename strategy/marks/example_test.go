package marks_test

import (
	"fmt"

	"tautline/strategy/marks"
)

func ExampleEvery() {
	want, err := marks.Every(1000, 3200)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, w := range want {
		fmt.Println(w.Name)
	}
	// Output:
	// 1 km
	// 2 km
	// 3 km
}
