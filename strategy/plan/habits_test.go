package plan

import (
	"errors"
	"testing"

	"tautline/geo/inputerr"
)

func TestHabitsComeFromAReviewWithoutItsEnds(t *testing.T) {
	h := must(ReadHabits("review.json", []byte(`{"shortest_m": 10000, "watch_m": 10190, "matched_share": 0.99,
		"ran_m": {"value": 10060, "low": 10050, "high": 10070}, "ledger": [
		{"cause": "lead-in", "whose": "ends", "metres": {"value": 20}}, {"cause": "run-out", "whose": "ends", "metres": {"value": 10}},
		{"cause": "scatter", "whose": "watch", "metres": {"value": 80}}]}`)))(t)
	near(t, "extra", h.Extra, 0.006, 1e-12)
	near(t, "watch", h.WatchLong, 10160.0/10060-1, 1e-12)
}

func TestWhatIsNoReviewIsRefused(t *testing.T) {
	for name, data := range map[string]string{
		"nothing":               "",
		"a list":                "[]",
		"another form":          `{"centreline_m": 5}`,
		"half a course":         `{"shortest_m": 10000, "watch_m": 10100, "ran_m": {"value": 10050}, "matched_share": 0.5}`,
		"far apart":             `{"shortest_m": 10000, "watch_m": 15000, "ran_m": {"value": 10050}}`,
		"a null length":         `{"shortest_m": 0, "watch_m": 0, "ran_m": {"value": 0}}`,
		"lengths run backwards": `{"shortest_m": -10000, "watch_m": -10190, "ran_m": {"value": -10060}}`,
		"two objects":           `{} {}`,
	} {
		var e *inputerr.Error
		if _, err := ReadHabits("x.json", []byte(data)); !errors.As(err, &e) || e.File != "x.json" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzReadHabits(f *testing.F) {
	f.Add([]byte(`{"shortest_m": 10000, "watch_m": 10190, "ran_m": {"value": 10060}, "ledger": [{"whose": "ends", "metres": {"value": 20}}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		h, err := ReadHabits("x", data)
		if err == nil && !(h.Extra >= 0 && h.Extra <= MaxExtra && h.WatchLong >= -maxWatch && h.WatchLong <= maxWatch) {
			t.Errorf("%+v", h)
		}
	})
}
