package demo

import (
	"bytes"
	"flag"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"testing"

	"tautline/geo/course"
	"tautline/geo/earth"
	"tautline/geo/gpxfile"
)

var update = flag.Bool("update", false, "write the files of the demo anew")

func TestTheGeneratorMakesTheEmbeddedFiles(t *testing.T) {
	made, err := Make()
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		for name, data := range made {
			if err := os.WriteFile(filepath.Join("files", name), data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		t.Skip("written; run again without -update to compare")
	}
	entries, err := fs.ReadDir(Files(), ".")
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != len(made) {
		t.Errorf("%d files are embedded, %d are made", len(entries), len(made))
	}
	for name, want := range made {
		got, err := fs.ReadFile(Files(), name)
		if err != nil {
			t.Error(err)
		} else if !bytes.Equal(got, want) {
			t.Errorf("%s is not what the generator makes; if that is meant, run go test ./strategy/demo -update", name)
		}
	}
}

func TestTheTruthAddsUp(t *testing.T) {
	truth, err := Known()
	if err != nil {
		t.Fatal(err)
	}
	if len(truth.Runners) != 3 {
		t.Fatalf("%d runners", len(truth.Runners))
	}
	if over := truth.SurfaceM/truth.OfficialM - 1; over < 0.0009 || over > 0.0011 {
		t.Errorf("the course is laid out %.3f %% long, want 0.1 %%", 100*over)
	}
	for _, r := range truth.Runners {
		sum := r.BetweenTurnsM
		for _, turn := range r.Turns {
			sum += turn.ExtraM
		}
		// Every figure is rounded to a centimetre.
		if half := 0.005 * float64(len(r.Turns)+2); math.Abs(sum-r.ExtraM) > half || math.Abs(r.RanM-truth.ShortestM-r.ExtraM) > 0.05 {
			t.Errorf("%s: turns and between %.2f m, extra %.2f m, ran %.2f m", r.Name, sum, r.ExtraM, r.RanM)
		}
	}
	careful, wide, poor := truth.Runners[0], truth.Runners[1], truth.Runners[2]
	if !(careful.ExtraM < 30 && wide.ExtraM > 3*careful.ExtraM && poor.ExtraM < wide.ExtraM/2) {
		t.Errorf("extra of the careful runner %g m, the wide one %g m, the one on a poor watch %g m", careful.ExtraM, wide.ExtraM, poor.ExtraM)
	}
	// What a watch shows beyond what was covered from its start to its stop is
	// its own doing.
	own := func(r Runner) float64 { return r.WatchM - r.LeadInM - r.RanM - r.RunOutM }
	if !(own(poor) > 100 && math.Abs(own(wide)) < 60 && math.Abs(own(careful)) < 60) {
		t.Errorf("the watches add %.0f m, %.0f m and %.0f m of their own", own(careful), own(wide), own(poor))
	}
}

func TestTheRecordsFitTheTruth(t *testing.T) {
	truth, err := Known()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range truth.Runners {
		fixes := readGPX(t, r.File)
		sum, longest := 0.0, 0.0
		for i := 1; i < len(fixes.at); i++ {
			sum += earth.Distance(fixes.at[i-1], fixes.at[i])
			longest = max(longest, fixes.seconds[i]-fixes.seconds[i-1])
		}
		// Six decimals are 0.11 m steps: a few metres in ten kilometres.
		if math.Abs(sum-r.FixesM) > 15 || math.Abs(r.WatchM-r.FixesM) > 5 {
			t.Errorf("%s: the fixes add up to %.1f m, the truth says %.1f m and the watch %.0f m", r.Name, sum, r.FixesM, r.WatchM)
		}
		recorded := fixes.seconds[len(fixes.seconds)-1] - fixes.seconds[0]
		if recorded < r.ChipS || recorded > r.ChipS+200 {
			t.Errorf("%s: %g s recorded, %g s run", r.Name, recorded, r.ChipS)
		}
		if blind := longest > 15; blind != (r.File == "poor-watch.gpx") {
			t.Errorf("%s: the longest gap is %g s", r.Name, longest)
		}
	}
}

type readFixes struct {
	at      []earth.LatLon
	seconds []float64
}

func readGPX(t *testing.T, name string) readFixes {
	t.Helper()
	f, err := Files().Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	file, err := gpxfile.Read(name, f)
	if err != nil {
		t.Fatal(err)
	}
	line, _, err := file.Record()
	if err != nil {
		t.Fatal(err)
	}
	var out readFixes
	for _, x := range line.Fixes() {
		out.at = append(out.at, x.At)
		out.seconds = append(out.seconds, float64(x.Time.UnixMilli())/1000)
	}
	return out
}

func TestTheLapClosesAndIsARoadOneCanRun(t *testing.T) {
	r, err := laidOutRace()
	if err != nil {
		t.Fatal(err)
	}
	c, err := course.New("lap", r.drawn)
	if err != nil {
		t.Fatal(err)
	}
	if gap := earth.Distance(r.drawn[0].At, r.drawn[len(r.drawn)-1].At); gap > 0.02 {
		t.Errorf("the lap's ends are %g m apart", gap)
	}
	climb := 0.0
	for i := 1; i < len(c.Points); i++ {
		rise := c.Heights[i] - c.Heights[i-1]
		climb += max(rise, 0)
		if grade := rise / (c.Chainage[i] - c.Chainage[i-1]); c.Chainage[i]-c.Chainage[i-1] > 20 && math.Abs(grade) > 0.12 {
			t.Errorf("a gradient of %.1f %% at %.0f m", 100*grade, c.Chainage[i])
		}
	}
	if climb < 40 || climb > 90 {
		t.Errorf("a lap climbs %.0f m", climb)
	}
	if math.Abs(c.Heights[0]-c.Heights[len(c.Heights)-1]) > 0.11 {
		t.Errorf("the lap begins at %g m and ends at %g m", c.Heights[0], c.Heights[len(c.Heights)-1])
	}
}
