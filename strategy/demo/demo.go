// Package demo is the race that `tautline demo` works on: an invented town, a
// hilly race of two laps, and the records of three invented runners whose true
// paths are known. The files are made by Make from fixed seeds and are part of
// the program.
package demo

import (
	"embed"
	"encoding/json"
	"io/fs"
)

//go:embed files/*
var embedded embed.FS

// Names of the files.
const (
	CourseFile = "course.gpx" // one lap as it is drawn
	SheetFile  = "race.toml"
	TruthFile  = "truth.json" // what was really run, see Truth
)

// Files is the folder of the demo: the course, the race sheet, one record for
// each runner, and the truth.
func Files() fs.FS {
	sub, err := fs.Sub(embedded, "files")
	if err != nil {
		panic(err) // only for a name that is no path
	}
	return sub
}

// Truth is what really happened, as the generator made it.
type Truth struct {
	Note      string   `json:"note"`
	OfficialM float64  `json:"official_m"`
	ShortestM float64  `json:"shortest_m"`         // map length of the shortest legal line
	SurfaceM  float64  `json:"shortest_surface_m"` // the same along the road's surface
	Runners   []Runner `json:"runners"`
}

// Runner is one of the invented runners.
type Runner struct {
	Name   string  `json:"name"`
	What   string  `json:"what"`    // one sentence
	File   string  `json:"file"`    // the record
	WatchM float64 `json:"watch_m"` // what the watch showed, to 10 m as watches do

	RanM          float64 `json:"ran_m"`   // from line to line
	ExtraM        float64 `json:"extra_m"` // beyond the shortest legal line
	BetweenTurnsM float64 `json:"between_turns_m"`
	LeadInM       float64 `json:"lead_in_m"`
	RunOutM       float64 `json:"run_out_m"`
	ChipS         float64 `json:"chip_s"`  // from line to line
	FixesM        float64 `json:"fixes_m"` // sum of the fixes before they were rounded for the file
	Turns         []Turn  `json:"turns"`
}

// Turn is a turn of the shortest legal line as the runner took it.
type Turn struct {
	Number int     `json:"number"`
	AtM    float64 `json:"at_m"`    // along the shortest legal line
	ExtraM float64 `json:"extra_m"` // between the ends of the turn
	MissM  float64 `json:"miss_m"`  // how far outside the apex
	TimeS  float64 `json:"time_s"`
}

// Known is the truth that is kept beside the records.
func Known() (Truth, error) {
	var t Truth
	data, err := fs.ReadFile(Files(), TruthFile)
	if err != nil {
		return t, err
	}
	return t, json.Unmarshal(data, &t)
}
