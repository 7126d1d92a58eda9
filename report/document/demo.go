package document

// Demo is what "tautline demo --json" prints: the invented race, and what the
// review says of its three runners beside what is true.
type Demo struct {
	Line
	Runners []DemoRunner `json:"runners"`
}

// DemoRunner is one invented runner.
type DemoRunner struct {
	Name        string  `json:"name"`
	Who         string  `json:"who"`
	Record      string  `json:"record"` // file name
	Review      Review  `json:"review"`
	TruthRanM   float64 `json:"truth_ran_m"`
	TruthExtraM float64 `json:"truth_extra_m"`
}
