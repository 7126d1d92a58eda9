package demo

import (
	"math"
	"strings"
	"text/template"
)

// raceSheet is the sheet of the demo race. Places along the course are filled
// in to the metre.
var raceSheet = template.Must(template.New("race").Parse(`# The race sheet of the demo: an invented race in an invented town.
# Distances along the drawn course count from its first point; aid stations and
# marks stand at official distances.

name = "Velmarrow Lantern 10"
date = 2027-04-18
official = "10 km"
certified = true
laps = 2                     # course.gpx holds one lap

[start]
gun = "09:30"

[road]
width = "8 m"                # kerb to kerb, where no stretch says otherwise
corner_radius = "5 m"

[[stretch]]
name = "Lantern Row"
from = {{.LanternFrom}}
to = {{.LanternTo}}
width = "12 m"

[[stretch]]
name = "Ropewalk"            # a lane between warehouses
from = {{.RopewalkFrom}}
to = {{.RopewalkTo}}
width = "4.5 m"

[[stretch]]
name = "Long Mole"           # out and back, cones along the middle
from = {{.MoleFrom}}
to = {{.MoleTo}}
width = "7 m"
use = "right half"
left_edge = "cone"

[[stretch]]
name = "Quayside"            # the left half is kept clear for the harbour
from = {{.QuayFrom}}
to = {{.QuayTo}}
lane_left = "middle"
left_edge = "cone"

[[gate]]
name = "Tollhouse arch"
at = {{.GateAt}}
between = ["2 m left", "1.5 m right"]

[[turnaround]]
name = "Mole head"
at = {{.HeadAt}}
kind = "cone"

[[aid]]
at = "2.5 km"
name = "Tanner's Brow"

[[aid]]
at = "5 km"
name = "Corn Square"

[[aid]]
at = "7.5 km"
name = "Tanner's Brow"

[[mark]]
at = "5 km"
name = "Corn Square"
mat = true

[weather]
temperature = "13 °C"
wind = "4 m/s"
wind_from = "SW"
altitude = "54 m"
`))

// sheetOf is the text of the race sheet for a lap.
func sheetOf(l lap) ([]byte, error) {
	metres := func(v float64) int { return int(math.Round(v)) }
	var b strings.Builder
	err := raceSheet.Execute(&b, map[string]int{
		"LanternFrom":  0,
		"LanternTo":    metres(l.corners[lanternRow] - 10),
		"RopewalkFrom": metres(l.corners[cooperSt] + 15),
		"RopewalkTo":   metres(l.corners[ropewalk] - 60),
		"MoleFrom":     metres(l.corners[ferrySt] + 20),
		"MoleTo":       metres(l.corners[moleBack] - 20),
		"QuayFrom":     metres(l.corners[quayside] + 40),
		"QuayTo":       metres(l.corners[lowerQuay] - 60),
		"GateAt":       metres(l.corners[tannersBrow] + 230),
		"HeadAt":       metres(l.corners[moleOut]),
	})
	return []byte(b.String()), err
}

// underpass is where the railway crosses Station Road, chainage on a lap.
func underpass(l lap) (from, to float64) {
	return l.corners[lowerQuay] + 100, l.corners[lowerQuay] + 170
}
