package athlete_test

import (
	"fmt"

	"tautline/strategy/athlete"
)

func Example() {
	a, err := athlete.Read("ilva.toml", []byte(`name = "Ilva Brandt"
goal = "3:29:59"

[[race]]
distance = "10 km"
time = "43:30"
effort = "hard"
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(a.Name, a.Goal, a.Races[0].Distance, a.Races[0].Effort)

	_, err = athlete.Read("ilva.toml", []byte("name = \"Ilva Brandt\"\n\n[settings]\nusual_extra = \"40 %\"\n"))
	fmt.Println(err)
	// Output:
	// Ilva Brandt 3h29m59s 10000 hard
	// ilva.toml:4:15: usual_extra is 40 % (it should be 0 % to 10 %)
}

func ExampleReadSquad() {
	squad, refused, err := athlete.ReadSquad("squad.csv", []byte(`name,goal
Ilva Brandt,3:29:59
Tomo Reyl,yesterday
`))
	fmt.Println(len(squad), err)
	for _, r := range refused {
		fmt.Println(r)
	}
	// Output:
	// 1 <nil>
	// squad.csv:3:11: goal: "yesterday" cannot be read (write for example 3:29:59, 45:10 or 1h05m)
}
