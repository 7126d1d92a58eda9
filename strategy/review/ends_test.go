package review_test

import (
	"math"
	"testing"
	"time"

	"tautline/geo/record"
	"tautline/geo/simulate"
	"tautline/geo/track"
	"tautline/strategy/race"
	"tautline/strategy/review"
)

// runs are simulated races on every kind of course with the fixes of a record,
// one a second, behind an error that fades in a minute.
func runs(t *testing.T, seed uint64, length float64, tell func(r *race.Race, truth simulate.Truth, fixes []track.Fix, kind simulate.Kind)) {
	t.Helper()
	t.Logf("first seed %d", seed)
	for k, kind := range append(simulate.Kinds(), simulate.Kinds()...) {
		rng := simulate.Rand(seed+uint64(k), 7)
		r, truth := anyRun(t, kind, length, rng)
		tell(r, truth, recordWith(r, truth, faded(2, 60, 0.3), 1, 1, rng), kind)
	}
}

func reviewOf(t *testing.T, r *race.Race, fixes []track.Fix, o review.Options) *review.Review {
	t.Helper()
	v, err := review.Of(r, record.Clean(track.Line{Segments: [][]track.Fix{fixes}}), o)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// A watch that is started and stopped at the lines shows no lead-in and no
// run-out, wherever within its error the first and the last fix lie; each fix
// that is cut off takes some 4 m.
func TestAWatchStartedAtTheLineHasNoLeadIn(t *testing.T) {
	runs(t, 94000, 4000, func(r *race.Race, truth simulate.Truth, fixes []track.Fix, kind simulate.Kind) {
		for cut := range 4 {
			v := reviewOf(t, r, fixes[cut:len(fixes)-cut], review.Options{})
			for _, item := range v.Ledger {
				switch item.Cause {
				case "lead-in", "run-out", "gaps", "not recorded":
					if math.Abs(item.Metres.Value) > 12+10*float64(cut) {
						t.Errorf("%v course, %d fixes cut at both ends: %s %.0f m", kind, cut, item.Cause, item.Metres.Value)
					}
				}
			}
		}
	})
}

// Without times less is known, and no more is claimed.
func TestARecordWithoutTimesIsNotToldTooSurely(t *testing.T) {
	var held, n, bias float64
	runs(t, 94100, 8000, func(r *race.Race, truth simulate.Truth, fixes []track.Fix, kind simulate.Kind) {
		for i := range fixes {
			fixes[i].Time = time.Time{}
		}
		v := reviewOf(t, r, fixes, review.Options{})
		n++
		bias += (v.Extra.Value - truth.Extra) / r.Line.Length * 100
		if v.Extra.Holds(truth.Extra) {
			held++
		}
	})
	t.Logf("held %.0f of %.0f, bias %+.3f %%", held, n, bias/n)
	if held < 0.75*n || math.Abs(bias/n) > 0.2 {
		t.Errorf("held %.0f of %.0f, bias %+.3f %%", held, n, bias/n)
	}
}
