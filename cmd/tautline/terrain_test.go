package main

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Heights from terrain tiles reach a plan and a review: the course climbs 40 m
// and comes down again where the tile has a ridge, though its own file has no
// heights.
func TestTerrainTilesGiveTheHillsOfAPlanAndOfAReview(t *testing.T) {
	dir := t.TempDir()
	const (
		width, high = 1201, 40.0
		west        = 3.0
		ridge       = 3.03 // degrees east
		half        = 0.02 // of the ridge, degrees
	)
	tile := make([]byte, 0, 2*width*width)
	for range width {
		for col := range width {
			lon := west + float64(col)/(width-1)
			h := 10 + high*math.Max(0, (1+math.Cos(math.Pi*math.Min(1, math.Abs(lon-ridge)/half)))/2)
			tile = binary.BigEndian.AppendUint16(tile, uint16(math.Round(h)))
		}
	}
	tiles := filepath.Join(dir, "tiles")
	write := func(name string, b []byte) string {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	write("tiles/N52E003.hgt", tile)
	// 4 km to the east; the record runs it at 4 m/s whatever the ground does.
	const metresPerDegree = 68459.0 // of longitude at 52.2°
	gpx := func(timed bool) []byte {
		var b strings.Builder
		b.WriteString(`<gpx version="1.1" creator="hand" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>Ridge</name><trkseg>`)
		for x := 0.0; x <= 4000; x += 40 {
			stamp := ""
			if timed {
				s := int(x / 4)
				stamp = fmt.Sprintf("<time>2026-05-03T09:%02d:%02dZ</time>", s/60, s%60)
			}
			fmt.Fprintf(&b, `<trkpt lat="52.2" lon="%.7f">%s</trkpt>`, west+0.0008+x/metresPerDegree, stamp)
		}
		b.WriteString("</trkseg></trk></gpx>")
		return []byte(b.String())
	}
	drawn, ran := write("ridge.gpx", gpx(false)), write("ran.gpx", gpx(true))

	tautline := func(args ...string) []byte {
		var out, errs bytes.Buffer
		if got := run(t.Context(), append(args, "--official", "4 km", "--json"), strings.NewReader(""), &out, &errs); got != exitDone {
			t.Fatalf("exit status %d: %s", got, errs.String())
		}
		return out.Bytes()
	}
	var p struct {
		Splits []struct {
			ClimbM   float64 `json:"climb_m"`
			DescentM float64 `json:"descent_m"`
		} `json:"splits"`
	}
	sum := func(b []byte) (up, down float64) {
		p.Splits = nil
		if err := json.Unmarshal(b, &p); err != nil {
			t.Fatal(err)
		}
		for _, s := range p.Splits {
			up, down = up+s.ClimbM, down+s.DescentM
		}
		return up, down
	}
	if up, down := sum(tautline("plan", drawn, "--goal", "18:00")); up != 0 || down != 0 {
		t.Errorf("without tiles %.1f m up and %.1f m down", up, down)
	}
	// Within the 5 % that a 40 m hill must keep.
	if up, down := sum(tautline("plan", drawn, "--goal", "18:00", "--terrain", tiles)); math.Abs(up-high) > 0.05*high || math.Abs(down-high) > 0.05*high {
		t.Errorf("with tiles %.1f m up and %.1f m down, the ridge has %.0f m", up, down, high)
	}

	var r struct {
		Effort struct {
			Heights string `json:"heights"`
			Splits  []struct {
				Gradient float64 `json:"gradient"`
				Harder   float64 `json:"harder_share"`
			} `json:"splits"`
		} `json:"effort"`
	}
	judged := func(args ...string) {
		r.Effort.Splits = nil
		if err := json.Unmarshal(tautline(append([]string{"review", drawn, ran}, args...)...), &r); err != nil {
			t.Fatal(err)
		}
		if len(r.Effort.Splits) != 4 {
			t.Fatalf("%+v", r)
		}
	}
	judged()
	for _, s := range r.Effort.Splits {
		if r.Effort.Heights != "none" || math.Abs(s.Harder) > 0.02 {
			t.Errorf("without heights an even pace is uneven: %+v", r.Effort)
		}
	}
	judged("--terrain", tiles)
	if up, down := r.Effort.Splits[1], r.Effort.Splits[2]; r.Effort.Heights != "terrain" || up.Gradient < 0.02 || up.Harder < 0.05 || down.Gradient > -0.02 || down.Harder > -0.03 {
		t.Errorf("an even pace over the ridge is even effort: %+v", r.Effort)
	}
}
