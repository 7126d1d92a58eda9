package eligible

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/earth"
	"tautline/geo/interval"
	"tautline/geo/published"
)

// at gives a place so many metres north of a fixed one.
func at(north float64) earth.LatLon {
	return earth.NewPlane(earth.LatLon{Lat: 47, Lon: 8}).From([2]float64{0, north})
}

func race(separation, drop, heightSD float64) Course {
	return Course{Start: at(0), Finish: at(separation), StartHeight: interval.Normal(400, heightSD), FinishHeight: interval.Normal(400-drop, heightSD), Official: 10000}
}

func find(t *testing.T, all []Finding, body, edition string) Finding {
	t.Helper()
	for _, f := range all {
		if f.Rule.Body == body && strings.Contains(f.Rule.Edition, edition) {
			return f
		}
	}
	t.Fatalf("no rule of %s, %s", body, edition)
	return Finding{}
}

func TestTheRecordRuleAsksForBothDropAndSeparation(t *testing.T) {
	for _, c := range []struct {
		name                     string
		separation, drop, height float64
		want                     Outcome
	}{
		{"a level loop", 0, 0, 0.5, Meets},
		{"9 m in 10 km, heights known to half a metre", 0, 8, 0.5, Meets},
		{"10 m exactly, heights exact: at most means at most", 0, 10, 0, Meets},
		{"9 m in 10 km, heights known to 2 m", 0, 9, 2, CannotTell},
		{"11 m, heights exact", 0, 11, 0, DoesNot},
		{"uphill", 0, -60, 3, Meets},
		{"4.9 km apart", 4900, 0, 0.5, Meets},
		{"5.1 km apart", 5100, 0, 0.5, DoesNot},
		{"too far apart whatever the heights", 5100, 10, 3, DoesNot},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, all, err := Check(race(c.separation, c.drop, c.height))
			if err != nil {
				t.Fatal(err)
			}
			f := find(t, all, "IAAF", "2009 to 2019")
			if f.Verdict != c.want || f.Reason == "" {
				t.Errorf("%s, want %s: %s", f.Verdict, c.want, f.Reason)
			}
		})
	}
}

// The stated limits differ by body and edition: 30 % until about 2004 (IAAF)
// and December 2013 (USATF), 50 % since (sources named in Rules).
func TestFortyPerCentApartMeetsTheNewerRulesOnly(t *testing.T) {
	_, all, err := Check(race(4000, 0, 0.1))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		body, edition string
		want          Outcome
	}{
		{"IAAF", "2002", DoesNot}, {"USA Track & Field", "until December 2013", DoesNot}, {"Run Canada Committee", "", DoesNot},
		{"IAAF", "2004", Meets}, {"IAAF", "2009 to 2019", Meets}, {"USA Track & Field, Road", "", Meets}, {"AIMS", "", Meets},
	} {
		var got Finding
		matches := 0
		for _, f := range all {
			if strings.HasPrefix(f.Rule.Body, c.body) && strings.Contains(f.Rule.Edition, c.edition) {
				got = f
				matches++
			}
		}
		if matches != 1 {
			t.Fatalf("%d rules are called %s %s", matches, c.body, c.edition)
		}
		if got.Verdict != c.want {
			t.Errorf("%s %s: %q, want %q", c.body, c.edition, got.Verdict, c.want)
		}
	}
}

// The limits as the verdict turns at them, not as they are listed.
func TestTheVerdictTurnsAtTheLimitsOfTheRules(t *testing.T) {
	for _, c := range []struct {
		source, body, edition string
		trust                 published.Trust
		what                  string
		value                 string
		course                func(share float64) Course
		beyond                float64 // a share that no rule allows
	}{
		{"IAAF Rule 260, as given by AIMS", "IAAF", "2009 to 2019", published.Read, "start to finish", "0.50", apart, 1},
		{"IAAF Rule 260, as given by AIMS", "IAAF", "2009 to 2019", published.Read, "drop", "0.0010", dropping, 0.01},
		{"IAAF Rule 240, 2004", "IAAF", "2004", published.Read, "start to finish", "0.50", apart, 1},
		{"IAAF Rule 240, about 2002", "IAAF", "2002", published.Read, "start to finish", "0.30", apart, 1},
		{"USA Track & Field, 2013", "USA Track & Field, Road Running Technical Council", "December 2013", published.Read, "start to finish", "0.50", apart, 1},
		{"USA Track & Field, 2013", "USA Track & Field, Road Running Technical Council", "December 2013", published.Read, "drop", "0.0010", dropping, 0.01},
		{"USA Track & Field, before 2013", "USA Track & Field", "until December 2013", published.SecondHand, "start to finish", "0.30", apart, 1},
		{"AIMS, qualifying performances", "AIMS", "", published.Read, "drop", "0.0010", dropping, 0.01},
	} {
		low, high := 0.0, c.beyond
		for high-low > 1e-7 {
			share := (low + high) / 2
			_, all, err := Check(c.course(share))
			if err != nil {
				t.Fatal(err)
			}
			if find(t, all, c.body, c.edition).Verdict == Meets {
				low = share
			} else {
				high = share
			}
		}
		published.Check(t, published.Figure{Source: c.source, Trust: c.trust, What: c.what + ", at most", Unit: "of the distance", Value: c.value, Tolerance: 1e-5}, low)
	}
}

func apart(share float64) Course    { return race(10000*share, 0, 0) }
func dropping(share float64) Course { return race(0, 10000*share, 0) }

func TestQualifyingCoursesMustDropLessThanTheLimitAndMayRunPointToPoint(t *testing.T) {
	_, all, err := Check(race(9900, 10, 0))
	if err != nil {
		t.Fatal(err)
	}
	f := find(t, all, "AIMS", "")
	if f.Separation != NotAsked || f.Verdict != DoesNot {
		t.Errorf("a drop of exactly 1 m per km must be below the limit: %+v", f)
	}
	_, all, _ = Check(race(9900, 9.99, 0))
	if f := find(t, all, "AIMS", ""); f.Verdict != Meets {
		t.Errorf("%+v", f)
	}
}

func TestWithoutHeightsTheDropCannotBeTold(t *testing.T) {
	nan := interval.Exact(math.NaN())
	c := Course{Start: at(0), Finish: at(100), StartHeight: nan, FinishHeight: nan, Official: 5000}
	_, all, err := Check(c)
	if err != nil {
		t.Fatal(err)
	}
	if f := find(t, all, "IAAF", "2009 to 2019"); f.Verdict != CannotTell || !strings.Contains(f.Reason, "not known") {
		t.Errorf("%+v", f)
	}
	if f := find(t, all, "IAAF", "2004"); f.Verdict != Meets {
		t.Errorf("a rule that asks only for the separation needs no heights: %+v", f)
	}
	c.Finish = at(4000)
	_, all, _ = Check(c)
	if f := find(t, all, "IAAF", "2009 to 2019"); f.Verdict != DoesNot {
		t.Errorf("80 %% apart fails whatever the heights: %+v", f)
	}
}

func TestImpossibleCoursesAreRefused(t *testing.T) {
	good := race(100, 1, 1)
	for name, c := range map[string]Course{
		"no distance":       {Start: good.Start, Finish: good.Finish},
		"infinite distance": {Official: math.Inf(1)},
		"no such place":     {Official: 1000, Start: earth.LatLon{Lat: 91}},
		"NaN place":         {Official: 1000, Start: earth.LatLon{Lat: math.NaN()}},
		"heights in disorder": {Official: 1000, Start: good.Start, Finish: good.Finish,
			StartHeight: interval.Estimate{Value: 1, Low: 2, High: 3}},
	} {
		if _, _, err := Check(c); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// The verdict is sure only when the whole interval lies on one side, and a
// better known height never turns a sure verdict round.
func TestBetterHeightsNeverReverseASureVerdict(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sep := rapid.Float64Range(0, 9000).Draw(t, "separation")
		drop := rapid.Float64Range(-30, 30).Draw(t, "drop")
		sd := rapid.Float64Range(0.01, 10).Draw(t, "sd")
		_, rough, err := Check(race(sep, drop, sd))
		if err != nil {
			t.Fatal(err)
		}
		_, fine, _ := Check(race(sep, drop, sd/2))
		for i := range rough {
			if rough[i].Verdict != CannotTell && rough[i].Verdict != fine[i].Verdict {
				t.Fatalf("%s %s: %s, then %s", rough[i].Rule.Body, rough[i].Rule.Edition, rough[i].Verdict, fine[i].Verdict)
			}
		}
	})
}

func TestTheSeparationIsTheStraightLineWithItsError(t *testing.T) {
	c := race(3000, 0, 0)
	c.Position = 2
	f, err := Measure(c)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(f.Separation.Value-3000) > 0.01 || !f.Separation.Holds(3000) || math.Abs(f.Separation.Width()-2*1.6449*2*math.Sqrt2) > 0.01 {
		t.Errorf("%+v", f.Separation)
	}
	c.Finish = c.Start
	if f, _ = Measure(c); f.Separation.Low != 0 || f.Separation.High < 4 {
		t.Errorf("the same place, known to 2 m: %+v", f.Separation)
	}
}
