package terrain

import (
	"encoding/binary"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
	"tautline/geo/published"
)

// writeTile writes a tile of the given side; height gives the sample at a row
// counted from the north and a column counted from the west.
func writeTile(t testing.TB, path string, side int, height func(row, col int) int16) {
	t.Helper()
	b := make([]byte, 2*side*side)
	for r := range side {
		for c := range side {
			binary.BigEndian.PutUint16(b[2*(r*side+c):], uint16(height(r, c)))
		}
	}
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

// sparseTile writes a 1 arc-second tile of zeros with a few samples set, given
// by their offsets in bytes.
func sparseTile(t testing.TB, path string, samples map[int64]int16) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := f.Truncate(25_934_402); err != nil { // 2 x 3601 x 3601
		t.Fatal(err)
	}
	for at, v := range samples {
		if _, err := f.WriteAt(binary.BigEndian.AppendUint16(nil, uint16(v)), at); err != nil {
			t.Fatal(err)
		}
	}
}

func open(t testing.TB, dir string) *Tiles {
	t.Helper()
	tiles, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { tiles.Close() })
	return tiles
}

func TestTheSampleOfAKnownPlaceIsAtItsByte(t *testing.T) {
	// Tile N38W105, column 24, row 752: linear index 2 707 976, the value there
	// being 3772 m, bytes 0e bc (a documented example of the format).
	if got := offset(752, 24, side1); got != 5_415_952 || got/2 != 2_707_976 {
		t.Fatalf("offset %d, index %d", got, got/2)
	}
	dir := t.TempDir()
	sparseTile(t, filepath.Join(dir, "N38W105.hgt"), map[int64]int16{5_415_952: 0x0ebc})
	h, err := open(t, dir).Height(earth.LatLon{Lat: 39 - 752.0/3600, Lon: -105 + 24.0/3600})
	if err != nil {
		t.Fatal(err)
	}
	published.Check(t, published.Figure{Source: "HGT format, documented example", Trust: published.Read,
		What: "tile N38W105, column 24, row 752", Unit: "m", Value: "3772"}, h)
}

func TestBilinearInterpolationOfFourSamples(t *testing.T) {
	// Closed form: [[10,20],[30,50]] at fx 0.25, fy 0.5 is 23.75.
	published.Check(t, published.Figure{Source: "bilinear interpolation", Trust: published.Exact,
		What: "[[10, 20], [30, 50]] at 0.25, 0.5", Value: "23.75", Tolerance: 1e-12}, bilinear([]int16{10, 20}, []int16{30, 50}, 0, 0.25, 0.5))
	if got := bilinear([]int16{10, 20}, []int16{30, void}, 0, 0.25, 0.5); !math.IsNaN(got) {
		t.Errorf("with a void %v, want NaN", got)
	}
	if got := bilinear([]int16{10, void}, []int16{30, void}, 0, 0, 0.5); got != 20 {
		t.Errorf("voids without weight %v, want 20", got)
	}
	if got := bilinear([]int16{10, 12000}, []int16{30, 40}, 0, 0.5, 0); !math.IsNaN(got) {
		t.Errorf("a height above every mountain %v, want NaN", got)
	}
}

// ground is a height field in whole metres defined on the 3 arc-second lattice
// of the earth, so that neighbouring tiles agree on their common edge.
func ground(latSteps, lonSteps int) int16 {
	return int16(((latSteps*7919+lonSteps*104729)%1009+1009)%1009 - 100)
}

func groundTile(t testing.TB, dir, name string) {
	c, ok := parseName(name)
	if !ok {
		t.Fatal(name)
	}
	writeTile(t, filepath.Join(dir, name), side3, func(row, col int) int16 {
		lon := c.lon*1200 + col
		if lon >= 180*1200 { // one meridian, two names
			lon -= 360 * 1200
		}
		return ground((c.lat+1)*1200-row, lon)
	})
}

func TestGridNodesAreExactAndTileEdgesContinuous(t *testing.T) {
	dir := t.TempDir()
	// Around 0, 0 all four hemispheres meet; names in both cases.
	for _, name := range []string{"N00E000.hgt", "s01w001.HGT", "n00W001.hgt", "S01E000.hgt"} {
		groundTile(t, dir, name)
	}
	tiles := open(t, dir)
	rapid.Check(t, func(r *rapid.T) {
		i := rapid.IntRange(-1200, 1200).Draw(r, "lat")
		j := rapid.IntRange(-1200, 1200).Draw(r, "lon")
		q := earth.LatLon{Lat: float64(i) / 1200, Lon: float64(j) / 1200}
		h, err := tiles.Height(q)
		if err != nil || h != float64(ground(i, j)) {
			r.Fatalf("node %d %d: %v %v, want %d", i, j, h, err, ground(i, j))
		}
		// Across either edge the height changes by no more than the ground
		// between two samples allows over that distance.
		const tiny = 1e-9
		for _, d := range []earth.LatLon{{Lat: tiny}, {Lon: tiny}} {
			at := rapid.Float64Range(-0.99, 0.99).Draw(r, "along")
			a, b := earth.LatLon{Lat: -d.Lat, Lon: -d.Lon}, d
			if d.Lat > 0 {
				a.Lon, b.Lon = at, at
			} else {
				a.Lat, b.Lat = at, at
			}
			ha, err1 := tiles.Height(a)
			hb, err2 := tiles.Height(b)
			if err1 != nil || err2 != nil || math.Abs(ha-hb) > 2*1010*2*tiny*1200+1e-6 {
				r.Fatalf("step across the edge at %v: %v %v (%v, %v)", at, ha, hb, err1, err2)
			}
		}
	})
}

func TestTheAntimeridianIsAnEdgeLikeAnyOther(t *testing.T) {
	dir := t.TempDir()
	groundTile(t, dir, "S17E179.hgt")
	groundTile(t, dir, "S17W180.hgt")
	tiles := open(t, dir)
	for _, q := range []earth.LatLon{{Lat: -16.5, Lon: 180}, {Lat: -16.5, Lon: -180}, {Lat: -16.5, Lon: 179.9999999999}} {
		h, err := tiles.Height(q)
		if want := float64(ground(-16*1200-600, -180*1200)); err != nil || math.Abs(h-want) > 0.01 {
			t.Errorf("%v: %v %v, want %v", q, h, err, want)
		}
	}
	west := t.TempDir()
	groundTile(t, west, "S17E179.hgt")
	if _, err := open(t, west).Height(earth.LatLon{Lat: -16.5, Lon: 180}); err != nil {
		t.Errorf("the eastern edge of E179 serves 180: %v", err)
	}
	east := t.TempDir()
	groundTile(t, east, "S17W180.hgt")
	if h, err := open(t, east).Height(earth.LatLon{Lat: -16.5, Lon: 180}); err != nil || h != float64(ground(-16*1200-600, -180*1200)) {
		t.Errorf("the western edge of W180 serves 180: %v %v", h, err)
	}
}

func TestNamesOfTiles(t *testing.T) {
	for _, c := range []struct {
		lat, lon int
		name     string
	}{{38, -105, "N38W105.hgt"}, {0, 0, "N00E000.hgt"}, {-1, -1, "S01W001.hgt"}, {-90, -180, "S90W180.hgt"}, {89, 179, "N89E179.hgt"}} {
		if got := Name(c.lat, c.lon); got != c.name {
			t.Errorf("Name(%d, %d) = %s, want %s", c.lat, c.lon, got, c.name)
		}
		for _, n := range []string{c.name, strings.ToLower(c.name), strings.ToUpper(c.name)} {
			if got, ok := parseName(n); !ok || got != (corner{c.lat, c.lon}) {
				t.Errorf("parseName(%s) = %v %v", n, got, ok)
			}
		}
	}
	for _, bad := range []string{"", "N38W105", "N38W105.hgt.zip", "X38W105.hgt", "N3 W105.hgt", "N38X105.hgt", "N90E000.hgt", "N00E180.hgt", "S91E000.hgt", "N+1E001.hgt"} {
		if c, ok := parseName(bad); ok {
			t.Errorf("parseName(%q) = %v", bad, c)
		}
	}
}

func FuzzNames(f *testing.F) {
	f.Add("N38W105.hgt")
	f.Add("s01e000.HGT")
	f.Add("N00W000.hgt")
	f.Fuzz(func(t *testing.T, name string) {
		if c, ok := parseName(name); ok {
			if back, ok := parseName(Name(c.lat, c.lon)); !ok || back != c {
				t.Errorf("%q -> %v -> %v", name, c, back)
			}
		}
	})
}

func TestWhatCannotBeUsedIsSaidWithTheFile(t *testing.T) {
	at := earth.LatLon{Lat: 38.5, Lon: -104.5}
	t.Run("a folder that is not there", func(t *testing.T) {
		_, err := Open(filepath.Join(t.TempDir(), "nowhere"))
		var e *inputerr.Error
		if !errors.As(err, &e) || !strings.Contains(err.Error(), "nowhere") {
			t.Fatal(err)
		}
	})
	t.Run("a folder without tiles", func(t *testing.T) {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "readme.txt"), nil, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "no terrain tiles") {
			t.Fatal(err)
		}
		if _, err := Open(t.TempDir()); err == nil || !strings.Contains(err.Error(), "no terrain tiles") {
			t.Fatal(err)
		}
	})
	t.Run("a tile of the wrong size", func(t *testing.T) {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "N38W105.hgt"), make([]byte, 2_884_800), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := open(t, dir).Height(at)
		var e *inputerr.Error
		if !errors.As(err, &e) || !strings.Contains(err.Error(), "N38W105.hgt") || !strings.Contains(err.Error(), "2884800") || e.Advice == "" {
			t.Fatal(err)
		}
	})
	t.Run("a folder in place of a tile", func(t *testing.T) {
		dir := t.TempDir()
		if err := os.Mkdir(filepath.Join(dir, "N38W105.hgt"), 0o700); err != nil {
			t.Fatal(err)
		}
		if _, err := open(t, dir).Height(at); err == nil || !strings.Contains(err.Error(), "not a file") {
			t.Fatal(err)
		}
	})
	t.Run("a missing tile is named, with the place that needs it", func(t *testing.T) {
		dir := t.TempDir()
		groundTile(t, dir, "N38W106.hgt")
		tiles := open(t, dir)
		_, err := tiles.Height(at)
		var m *MissingError
		if !errors.As(err, &m) || m.Name != "N38W105.hgt" || !strings.Contains(err.Error(), "38.5000, -104.5000") {
			t.Fatal(err)
		}
		h, missing, err := tiles.Along([]earth.LatLon{{Lat: 38.5, Lon: -105.5}, at, at})
		if err != nil || len(missing) != 1 || missing[0] != "N38W105.hgt" || math.IsNaN(h[0]) || !math.IsNaN(h[1]) {
			t.Fatal(h, missing, err)
		}
		if _, _, err := tiles.Along([]earth.LatLon{at}); !errors.As(err, &m) {
			t.Fatal(err)
		}
	})
	t.Run("a position that is none", func(t *testing.T) {
		dir := t.TempDir()
		groundTile(t, dir, "N38W105.hgt")
		tiles := open(t, dir)
		for _, q := range []earth.LatLon{{Lat: math.NaN()}, {Lon: math.Inf(1)}, {Lat: 91}, {Lon: -181}} {
			if _, err := tiles.Height(q); err == nil {
				t.Errorf("%v accepted", q)
			}
		}
	})
}

func TestVoidsAreNotHeights(t *testing.T) {
	dir := t.TempDir()
	writeTile(t, filepath.Join(dir, "N10E010.hgt"), side3, func(r, c int) int16 {
		if r == 600 && c == 600 {
			return void
		}
		return 50
	})
	tiles := open(t, dir)
	d := 1.0 / 1200
	if p := tiles.Posting(); p != 0 {
		t.Errorf("posting %v before any tile was read", p)
	}
	h, missing, err := tiles.Along([]earth.LatLon{{Lat: 10.5, Lon: 10.5}, {Lat: 10.5 + d/2, Lon: 10.5}, {Lat: 10.5 + d, Lon: 10.5}})
	if p := tiles.Posting(); math.Abs(p-92.7) > 0.5 { // 3 arc-seconds of meridian
		t.Errorf("posting %v, want 92.7", p)
	}
	if err != nil || len(missing) != 0 || !math.IsNaN(h[0]) || !math.IsNaN(h[1]) || h[2] != 50 {
		t.Fatal(h, missing, err)
	}
}

func TestLinksStayInsideTheFolder(t *testing.T) {
	base := t.TempDir()
	dir := filepath.Join(base, "tiles")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	groundTile(t, base, "N10E010.hgt")
	groundTile(t, dir, "N20E020.hgt")
	if err := os.Rename(filepath.Join(dir, "N20E020.hgt"), filepath.Join(dir, "data.bin")); err != nil {
		t.Fatal(err)
	}
	for name, target := range map[string]string{"N20E020.hgt": "data.bin", "N10E010.hgt": "../N10E010.hgt"} {
		if err := os.Symlink(target, filepath.Join(dir, name)); err != nil {
			t.Skip("no symbolic links here:", err)
		}
	}
	tiles := open(t, dir)
	if _, err := tiles.Height(earth.LatLon{Lat: 20.5, Lon: 20.5}); err != nil {
		t.Errorf("a link inside the folder: %v", err)
	}
	if h, err := tiles.Height(earth.LatLon{Lat: 10.5, Lon: 10.5}); err == nil {
		t.Errorf("a link out of the folder was followed: %v", h)
	}
}

func TestMemoryStaysBoundedAndRowsStayRight(t *testing.T) {
	dir := t.TempDir()
	groundTile(t, dir, "N00E000.hgt")
	tiles := open(t, dir)
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Go(func() {
			for i := range 1201 {
				r := (i*7 + w*300) % 1201
				if h, err := tiles.Height(earth.LatLon{Lat: float64(r) / 1200, Lon: 0.25}); err != nil || h != float64(ground(r, 300)) {
					t.Errorf("row %d: %v %v", r, h, err)
					return
				}
			}
		})
	}
	wg.Wait()
	if len(tiles.rows) > MaxRows || len(tiles.reads) != len(tiles.rows) {
		t.Errorf("%d rows kept, %d listed", len(tiles.rows), len(tiles.reads))
	}
}

func BenchmarkMarathonOfHeights(b *testing.B) {
	dir := b.TempDir()
	sparseTile(b, filepath.Join(dir, "N38W105.hgt"), nil)
	line := make([]earth.LatLon, 4220)
	for i := range line {
		a := float64(i) / 4220 * 2 * math.Pi
		line[i] = earth.LatLon{Lat: 38.5 + 0.06*math.Sin(a), Lon: -104.5 + 0.06*math.Cos(a)}
	}
	for b.Loop() {
		tiles, err := Open(dir)
		if err != nil {
			b.Fatal(err)
		}
		if _, _, err := tiles.Along(line); err != nil {
			b.Fatal(err)
		}
		tiles.Close()
	}
}
