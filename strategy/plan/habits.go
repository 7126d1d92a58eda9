package plan

import (
	"encoding/json"
	"math"

	"tautline/geo/inputerr"
)

// Habits are what an earlier review says about an athlete.
type Habits struct {
	Extra     float64 // share run beyond the shortest legal line
	WatchLong float64 // share by which the watch read longer than what was run from line to line
}

// ReadHabits takes habits from the JSON object of a review. What the watch
// recorded before the start line and after the finish line is left out. name is
// used in errors only, which are *inputerr.Error.
func ReadHabits(name string, data []byte) (Habits, error) {
	refuse := func(what string, cause error) (Habits, error) {
		return Habits{}, &inputerr.Error{File: name, What: what, Advice: "give the output of a review with --json", Cause: cause}
	}
	type metres struct {
		Value *float64 `json:"value"`
	}
	var in struct {
		Shortest *float64 `json:"shortest_m"`
		Watch    *float64 `json:"watch_m"`
		Ran      metres   `json:"ran_m"`
		Matched  *float64 `json:"matched_share"`
		Ledger   []struct {
			Whose  string `json:"whose"`
			Metres metres `json:"metres"`
		} `json:"ledger"`
	}
	if err := json.Unmarshal(data, &in); err != nil {
		return refuse("the file is no review", err)
	}
	if in.Shortest == nil || in.Watch == nil || in.Ran.Value == nil {
		return refuse("the file is no review: it lacks shortest_m, watch_m or ran_m", nil)
	}
	for _, v := range []float64{*in.Shortest, *in.Watch, *in.Ran.Value} {
		if !(v > 0) {
			return refuse("the file is no review: its lengths are not all above zero", nil)
		}
	}
	if in.Matched != nil && !(*in.Matched >= 0.95) {
		return refuse("the reviewed record covers too little of its course to tell habits", nil)
	}
	watch := *in.Watch
	for _, item := range in.Ledger {
		if item.Whose == "ends" && item.Metres.Value != nil {
			watch -= *item.Metres.Value
		}
	}
	h := Habits{Extra: math.Max(0, *in.Ran.Value / *in.Shortest - 1), WatchLong: watch / *in.Ran.Value - 1}
	if !(h.Extra <= MaxExtra) || !(math.Abs(h.WatchLong) <= maxWatch) {
		return refuse("the reviewed lengths are too far apart to be habits", nil)
	}
	return h, nil
}
