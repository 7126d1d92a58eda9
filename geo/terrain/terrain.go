// Package terrain reads ground heights from tiles in the open HGT form: a
// headerless square of signed 16-bit big-endian metres, one file per degree.
//
// The file name gives the south-west corner (N38W105.hgt), which is the centre
// of the lower-left sample. Rows run from north to south, columns from west to
// east. The size of the file alone tells the resolution: 3601 x 3601 samples
// are 1 arc-second, 1201 x 1201 are 3 arc-seconds. The first row and column
// repeat the neighbour's last ones. Format facts: Farr T.G. et al. 2007,
// Reviews of Geophysics 45, RG2004 (the survey); the void value, and that
// heights refer to the EGM96 geoid and positions to WGS84, are from memory,
// unchecked.
//
// Such tiles are models of the surface that the radar saw: bridges, cuttings,
// roofs and trees are in them or missing from them. Their mission requirement
// is 16 m absolute at 90 %. What a road makes of them is the business of
// package heights.
package terrain

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
)

// Limits of what is kept in memory and open at a time.
const (
	// MaxRows is the number of tile rows kept; a row of a 1 arc-second tile
	// takes 7.2 kB, so that all of them take at most 7.4 MB.
	MaxRows = 1024
	// MaxOpen is the number of tile files held open.
	MaxOpen = 16
	// maxEntries bounds the folder listing.
	maxEntries = 100_000
)

const (
	side1 = 3601 // samples along a side, 1 arc-second
	side3 = 1201 // 3 arc-seconds
	void  = math.MinInt16
	// No ground lies outside these, in metres; values there are damage and
	// count as void.
	lowest, highest = -500, 9000
)

// corner is the south-west corner of a tile in whole degrees.
type corner struct{ lat, lon int }

// Name gives the usual file name of the tile whose south-west corner lies at
// whole degrees lat in [-90, 89] and lon in [-180, 179]: N38W105.hgt.
func Name(lat, lon int) string {
	ns, ew := 'N', 'E'
	if lat < 0 {
		ns, lat = 'S', -lat
	}
	if lon < 0 {
		ew, lon = 'W', -lon
	}
	return fmt.Sprintf("%c%02d%c%03d.hgt", ns, lat, ew, lon)
}

// parseName is the inverse of Name; upper and lower case are the same.
func parseName(name string) (corner, bool) {
	if len(name) != len("N38W105.hgt") || !strings.EqualFold(name[7:], ".hgt") {
		return corner{}, false
	}
	number := func(s string) (n int, ok bool) {
		for _, r := range []byte(s) {
			if r < '0' || r > '9' {
				return 0, false
			}
			n = n*10 + int(r-'0')
		}
		return n, true
	}
	lat, ok1 := number(name[1:3])
	lon, ok2 := number(name[4:7])
	if !ok1 || !ok2 {
		return corner{}, false
	}
	switch name[0] {
	case 'N', 'n':
	case 'S', 's':
		lat = -lat
	default:
		return corner{}, false
	}
	switch name[3] {
	case 'E', 'e':
	case 'W', 'w':
		lon = -lon
	default:
		return corner{}, false
	}
	if lat < -90 || lat > 89 || lon < -180 || lon > 179 {
		return corner{}, false
	}
	return corner{lat, lon}, true
}

// Tiles is a folder of tiles. It reads only the rows that are asked for and
// keeps at most MaxRows of them. It is safe for concurrent use.
type Tiles struct {
	dir   string
	root  *os.Root
	names map[corner]string

	mu       sync.Mutex
	open     map[corner]*tile
	openings []corner // oldest first
	rows     map[rowKey][]int16
	reads    []rowKey // oldest first
	bytes    []byte
	posting  float64
}

type tile struct {
	file *os.File
	side int
}

type rowKey struct {
	at  corner
	row int
}

// Open lists the tiles of a folder. Files of other names are passed over.
// Symbolic links are followed as long as they stay inside the folder: nothing
// outside it is ever read. A folder without a single tile is an error.
func Open(dir string) (*Tiles, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, &inputerr.Error{File: dir, What: "the folder of terrain tiles cannot be opened: " + reason(err),
			Advice: "give a folder that holds files such as N38W105.hgt", Cause: err}
	}
	t := &Tiles{dir: dir, root: root, names: map[corner]string{},
		open: map[corner]*tile{}, rows: map[rowKey][]int16{}}
	if err := t.list(); err != nil {
		root.Close()
		return nil, err
	}
	return t, nil
}

func (t *Tiles) list() error {
	f, err := t.root.Open(".")
	if err != nil {
		return &inputerr.Error{File: t.dir, What: "the folder of terrain tiles cannot be read: " + reason(err), Cause: err}
	}
	defer f.Close()
	entries, err := f.ReadDir(maxEntries)
	if err != nil && len(entries) == 0 {
		return &inputerr.Error{File: t.dir, What: "the folder holds no terrain tiles",
			Advice: "give a folder that holds files such as N38W105.hgt", Cause: err}
	}
	// Sorted, so that of N38W105.hgt and n38w105.hgt always the same is taken.
	names := make([]string, 0, len(entries))
	for _, e := range entries {
		names = append(names, e.Name())
	}
	slices.Sort(names)
	for _, name := range names {
		if c, ok := parseName(name); ok {
			if _, twice := t.names[c]; !twice {
				t.names[c] = name
			}
		}
	}
	if len(t.names) == 0 {
		return &inputerr.Error{File: t.dir, What: "the folder holds no terrain tiles",
			Advice: "give a folder that holds unpacked files such as N38W105.hgt"}
	}
	return nil
}

// reason is the short text of a file error, without the path that the message
// already names.
func reason(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// Close closes the files.
func (t *Tiles) Close() error {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, x := range t.open {
		x.file.Close()
	}
	clear(t.open)
	clear(t.rows)
	t.openings, t.reads = nil, nil
	return t.root.Close()
}

// MissingError says that the tile for a position is not in the folder.
type MissingError struct {
	Dir  string
	Name string // the file that is missing
	At   earth.LatLon
}

// Error says which file is missing.
func (e *MissingError) Error() string {
	return fmt.Sprintf("%s: terrain tile %s is missing (put it into the folder; the course passes %.4f, %.4f)",
		e.Dir, e.Name, e.At.Lat, e.At.Lon)
}

// Height gives the ground height in metres above the geoid at a position, by
// bilinear interpolation between the four samples around it. It is NaN where
// one of the samples it needs is void. A tile that is not in the folder gives
// a *MissingError, a tile that cannot be used an *inputerr.Error.
func (t *Tiles) Height(q earth.LatLon) (float64, error) {
	if !(q.Lat >= -90 && q.Lat <= 90) || !(q.Lon >= -180 && q.Lon <= 180) {
		return math.NaN(), fmt.Errorf("position %g, %g is not on the earth", q.Lat, q.Lon)
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	c, ok := t.find(q)
	if !ok {
		return math.NaN(), &MissingError{t.dir, Name(c.lat, c.lon), q}
	}
	x, err := t.tile(c)
	if err != nil {
		return math.NaN(), err
	}
	n := float64(x.side - 1)
	lon := q.Lon
	if lon-float64(c.lon) > 300 { // 180 east on the western edge of W180
		lon -= 360
	}
	row, fy := split((float64(c.lat)+1-q.Lat)*n, x.side)
	col, fx := split((lon-float64(c.lon))*n, x.side)
	north, err := t.row(c, x, row)
	if err != nil {
		return math.NaN(), err
	}
	south := north
	if fy > 0 {
		if south, err = t.row(c, x, row+1); err != nil {
			return math.NaN(), err
		}
	}
	return bilinear(north, south, col, fx, fy), nil
}

// split cuts a grid coordinate into a sample number that has a successor in
// the tile, and the fraction of the way to it.
func split(v float64, side int) (int, float64) {
	// Degrees hold positions to about 1e-14; without the snap a position on a
	// sample would come out a rounding error beside it and need its neighbour.
	if r := math.Round(v); math.Abs(v-r) < 1e-7 {
		v = r
	}
	i := max(0, min(int(math.Floor(v)), side-2))
	return i, v - float64(i)
}

// bilinear interpolates at column col+fx between a row and the next one south
// of it. Samples with no weight are not looked at, so that a void beside a
// valid sample does not spoil it.
func bilinear(north, south []int16, col int, fx, fy float64) float64 {
	sum := 0.0
	for _, p := range [4]struct {
		line   []int16
		col    int
		weight float64
	}{
		{north, col, (1 - fx) * (1 - fy)}, {north, col + 1, fx * (1 - fy)},
		{south, col, (1 - fx) * fy}, {south, col + 1, fx * fy},
	} {
		if p.weight <= 0 {
			continue
		}
		v := p.line[p.col]
		if v < lowest || v > highest { // void is below lowest
			return math.NaN()
		}
		sum += p.weight * float64(v)
	}
	return sum
}

// find gives the tile in the folder that holds a position. A position on an
// edge is in two tiles, on a corner in four; any of them will do. When none
// is there, c is the one to ask for.
func (t *Tiles) find(q earth.LatLon) (c corner, ok bool) {
	c = corner{int(math.Floor(q.Lat)), int(math.Floor(q.Lon))}
	lats, lons := []int{c.lat}, []int{c.lon}
	if float64(c.lat) == q.Lat {
		lats = append(lats, c.lat-1)
	}
	if float64(c.lon) == q.Lon {
		lons = append(lons, c.lon-1)
	}
	first := true
	for _, lat := range lats {
		for _, lon := range lons {
			if lat < -90 || lat > 89 {
				continue
			}
			k := corner{lat, wrap(lon)}
			if first {
				c, first = k, false
			}
			if _, there := t.names[k]; there {
				return k, true
			}
		}
	}
	return c, false
}

// wrap brings the western edge of a tile into [-180, 179].
func wrap(lon int) int { return ((lon+180)%360+360)%360 - 180 }

func (t *Tiles) tile(c corner) (*tile, error) {
	if x := t.open[c]; x != nil {
		return x, nil
	}
	name := t.names[c]
	path := filepath.Join(t.dir, name)
	f, err := t.root.Open(name)
	if err != nil {
		return nil, &inputerr.Error{File: path, What: "the terrain tile cannot be opened: " + reason(err),
			Advice: "a link must stay inside the folder; copy the tile into it", Cause: err}
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, &inputerr.Error{File: path, What: "the terrain tile cannot be read: " + reason(err), Cause: err}
	}
	side := 0
	switch size := info.Size(); {
	case !info.Mode().IsRegular():
		f.Close()
		return nil, &inputerr.Error{File: path, What: "this is not a file", Advice: "remove it from the folder of tiles"}
	case size == 2*side1*side1:
		side = side1
	case size == 2*side3*side3:
		side = side3
	default:
		f.Close()
		return nil, &inputerr.Error{File: path,
			What:   fmt.Sprintf("the terrain tile has %d bytes, but 1 arc-second has %d and 3 arc-seconds %d", size, 2*side1*side1, 2*side3*side3),
			Advice: "unpack the tile, or fetch it again if it was cut short"}
	}
	if len(t.openings) >= MaxOpen {
		old := t.openings[0]
		t.openings = t.openings[1:]
		t.open[old].file.Close()
		delete(t.open, old)
	}
	const degreeNorth = 111_200.0 // m, on average
	t.posting = math.Max(t.posting, degreeNorth/float64(side-1))
	x := &tile{f, side}
	t.open[c] = x
	t.openings = append(t.openings, c)
	return x, nil
}

func (t *Tiles) row(c corner, x *tile, row int) ([]int16, error) {
	k := rowKey{c, row}
	if line := t.rows[k]; line != nil {
		return line, nil
	}
	var line []int16
	if len(t.reads) >= MaxRows {
		old := t.reads[0]
		t.reads = t.reads[1:]
		line = t.rows[old]
		delete(t.rows, old)
	}
	if cap(line) < x.side {
		line = make([]int16, x.side)
	}
	line = line[:x.side]
	if cap(t.bytes) < 2*x.side {
		t.bytes = make([]byte, 2*x.side)
	}
	b := t.bytes[:2*x.side]
	if _, err := x.file.ReadAt(b, offset(row, 0, x.side)); err != nil {
		path := filepath.Join(t.dir, t.names[c])
		return nil, &inputerr.Error{File: path, What: "the terrain tile cannot be read: " + reason(err), Cause: err}
	}
	for i := range line {
		line[i] = int16(binary.BigEndian.Uint16(b[2*i:]))
	}
	t.rows[k] = line
	t.reads = append(t.reads, k)
	return line, nil
}

// offset is the place of a sample in the file, in bytes.
func offset(row, col, side int) int64 { return 2 * (int64(row)*int64(side) + int64(col)) }

// Posting is the greatest north-south distance in metres between samples of
// the tiles that have been read so far, 0 before the first: about 31 for 1
// arc-second, 93 for 3.
func (t *Tiles) Posting() float64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.posting
}

// Along gives the heights at a line of positions, NaN where the tiles have
// none, and the names of the missing tiles in order of their first use. It
// fails when a tile cannot be used, and with a *MissingError when no tile at
// all covers the line.
func (t *Tiles) Along(line []earth.LatLon) (heights []float64, missing []string, err error) {
	heights = make([]float64, len(line))
	var first *MissingError
	found := false
	for i, q := range line {
		h, err := t.Height(q)
		var m *MissingError
		switch {
		case errors.As(err, &m):
			if first == nil {
				first = m
			}
			if !slices.Contains(missing, m.Name) {
				missing = append(missing, m.Name)
			}
		case err != nil:
			return nil, nil, err
		default:
			found = true
		}
		heights[i] = h
	}
	if !found && first != nil {
		return nil, nil, first
	}
	return heights, missing, nil
}
