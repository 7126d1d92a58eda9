package start

import (
	"fmt"
	"time"

	"tautline/geo/interval"
	"tautline/strategy/tomlfile"
)

// Sheet is what a file says about a start.
//
//	name        text. What the race is called.
//	distance    distance of the race.
//	width       of the road at the start line. Needed.
//	awards      "gun" or "chip" (default): what places or awards go by.
//	flow        runners per minute per metre of width, from an earlier year; else
//	            the published 102 to 152.
//	density     runners per square metre in the pens; else 2.2, the middle of the
//	            published 1.48 to 3.01.
//
// [[pen]], from the line backwards; a start without pens is one pen:
//
//	name        text.
//	fastest     pace, "4:00/km". Default: the slowest of the pen in front.
//	slowest     pace. Default: the fastest of the pen behind.
//	people      whole number. Needed.
//	after       time from the gun until it is let go, "2:00", for waves.
type Sheet struct {
	Name     string
	Distance float64 // m; 0 when not given
	Line     Line
}

type (
	form struct {
		Name     string    `toml:"name"`
		Distance any       `toml:"distance"`
		Width    any       `toml:"width"`
		Awards   string    `toml:"awards"`
		Flow     any       `toml:"flow"`
		Density  any       `toml:"density"`
		Pens     []formPen `toml:"pen"`
	}
	formPen struct {
		Name    string `toml:"name"`
		Fastest any    `toml:"fastest"`
		Slowest any    `toml:"slowest"`
		People  any    `toml:"people"`
		After   any    `toml:"after"`
	}
)

// flowDoubt is the half width, as a share at 90 %, of a flow from an earlier
// year; our own.
const flowDoubt = 0.15

// Open reads a start sheet from disk.
func Open(path string) (*Sheet, error) {
	data, err := tomlfile.Open(path, "start sheet")
	if err != nil {
		return nil, err
	}
	return Read(path, data)
}

// Read reads a start sheet; name is what messages call it. Errors are
// *inputerr.Error with line and column.
func Read(name string, data []byte) (*Sheet, error) {
	var in form
	file, err := tomlfile.Read(name, data, &in)
	if err != nil {
		return nil, err
	}
	c := &tomlfile.Check{File: file}
	s := &Sheet{Name: in.Name}
	s.Distance = tomlfile.Value(c.Distance("distance", in.Distance, 400, 200000))
	if in.Width == nil {
		c.Fail("width", `"width" is missing`, `add width = "8 m", of the road at the start line`)
	}
	s.Line.Width = tomlfile.Value(c.Distance("width", in.Width, 1, 100))
	s.Line.GunAwards = c.OneOf("awards", in.Awards, "chip", "gun") == "gun"
	if q := c.Number("flow", in.Flow, 10, 600, "per minute per metre"); q != nil {
		s.Line.Flow = interval.Estimate{Value: *q / 60, Low: *q / 60 * (1 - flowDoubt), High: *q / 60 * (1 + flowDoubt)}
	}
	s.Line.Density = tomlfile.Value(c.Number("density", in.Density, 0.2, 8, "per square metre"))
	for i, p := range in.Pens {
		at := func(key string) string { return fmt.Sprintf("pen[%d].%s", i, key) }
		x := Pen{Name: p.Name}
		x.Fastest, x.Slowest = c.Pace(at("fastest"), p.Fastest), c.Pace(at("slowest"), p.Slowest)
		if p.People == nil {
			c.Fail(at("people"), fmt.Sprintf("pen %d does not say how many stand in it", i+1), "add people = 400")
		}
		x.People = tomlfile.Value(c.Number(at("people"), p.People, 1, maxPeople, "people"))
		x.After = c.Duration(at("after"), p.After, 0, 2*time.Hour).Seconds()
		s.Line.Pens = append(s.Line.Pens, x)
	}
	if err := c.Err(); err != nil {
		return nil, err
	}
	// What can be wrong with values that are good by themselves.
	c.Refuse("pen", s.Line.checkRoad())
	for i := range min(len(s.Line.Pens), MaxPens) {
		c.Refuse(fmt.Sprintf("pen[%d]", i), s.Line.checkPen(i))
	}
	if err := c.Err(); err != nil {
		return nil, err
	}
	return s, nil
}
