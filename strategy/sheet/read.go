package sheet

import (
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"tautline/strategy/quantity"
	"tautline/strategy/tomlfile"
)

// Limits of a sheet. They leave room for any real race and keep a hostile
// sheet from asking for more work than a course can hold.
const (
	MaxItems = 2000 // stretches, gates, turn-arounds, aid stations, marks: of each
	MaxLaps  = 200
	// maxAlong is the longest course in metres that a place may lie on.
	maxAlong = 1e6
)

// The shape of the file. A quantity may be a number or a text with a unit, so
// its field takes any value and is checked in Read.
type (
	form struct {
		Name      string `toml:"name"`
		Date      any    `toml:"date"`
		Official  any    `toml:"official"`
		Certified bool   `toml:"certified"`
		CourseIs  string `toml:"course_is"`
		Laps      int    `toml:"laps"`
		Kerbs     string `toml:"kerbs"`

		Start       formStart        `toml:"start"`
		Finish      formFinish       `toml:"finish"`
		Road        formRoad         `toml:"road"`
		Stretches   []formStretch    `toml:"stretch"`
		Gates       []formGate       `toml:"gate"`
		Turnarounds []formTurnaround `toml:"turnaround"`
		Aid         []formAid        `toml:"aid"`
		Marks       []formMark       `toml:"mark"`
		Weather     formWeather      `toml:"weather"`
	}
	formStart struct {
		At  any `toml:"at"`
		Gun any `toml:"gun"`
	}
	formFinish struct {
		At any `toml:"at"`
	}
	formRoad struct {
		Width        any    `toml:"width"`
		CornerRadius any    `toml:"corner_radius"`
		Use          string `toml:"use"`
		Clearance    any    `toml:"clearance"`
	}
	formStretch struct {
		Name         string `toml:"name"`
		From         any    `toml:"from"`
		To           any    `toml:"to"`
		Lap          int    `toml:"lap"`
		Width        any    `toml:"width"`
		CornerRadius any    `toml:"corner_radius"`
		Use          string `toml:"use"`
		LeftKerb     any    `toml:"left_kerb"`
		RightKerb    any    `toml:"right_kerb"`
		LaneLeft     any    `toml:"lane_left"`
		LaneRight    any    `toml:"lane_right"`
		LeftEdge     string `toml:"left_edge"`
		RightEdge    string `toml:"right_edge"`
	}
	formGate struct {
		Name    string `toml:"name"`
		At      any    `toml:"at"`
		Lap     int    `toml:"lap"`
		Between []any  `toml:"between"`
		Edge    string `toml:"edge"`
	}
	formTurnaround struct {
		Name      string `toml:"name"`
		At        any    `toml:"at"`
		Lap       int    `toml:"lap"`
		Kind      string `toml:"kind"`
		Radius    any    `toml:"radius"`
		Clearance any    `toml:"clearance"`
		Turn      string `toml:"turn"`
	}
	formAid struct {
		At   any    `toml:"at"`
		Name string `toml:"name"`
		Stop any    `toml:"stop"`
	}
	formMark struct {
		At   any    `toml:"at"`
		Name string `toml:"name"`
		Mat  bool   `toml:"mat"`
	}
	formWeather struct {
		Temperature any `toml:"temperature"`
		WBGT        any `toml:"wbgt"`
		Wind        any `toml:"wind"`
		WindFrom    any `toml:"wind_from"`
		Altitude    any `toml:"altitude"`
	}
)

// Open reads a race sheet from disk.
func Open(path string) (*Sheet, error) {
	data, err := tomlfile.Open(path, "race sheet")
	if err != nil {
		return nil, err
	}
	s, err := Read(path, data)
	if err != nil {
		return nil, err
	}
	s.dir = filepath.Dir(path)
	return s, nil
}

// Read reads a race sheet. name is what messages call it. Errors are
// *inputerr.Error with the line and column of the value that cannot be used.
// Whether places lie on the course is checked by Resolve.
func Read(name string, data []byte) (*Sheet, error) {
	var in form
	file, err := tomlfile.Read(name, data, &in)
	if err != nil {
		return nil, err
	}
	c := &tomlfile.Check{File: file}
	s := &Sheet{file: file, Name: in.Name, Certified: in.Certified, Laps: in.Laps, Kerbs: in.Kerbs}
	in.readRace(c, s)
	s.Start.At = c.Distance("start.at", in.Start.At, 0, maxAlong)
	s.Start.Gun = c.TimeOfDay("start.gun", in.Start.Gun)
	s.Finish.At = c.Distance("finish.at", in.Finish.At, 0, maxAlong*MaxLaps)
	s.Road = in.Road.read(c)
	s.Weather = in.Weather.read(c)
	if !in.readItems(c, s) {
		return nil, c.Err()
	}
	return s, c.Err()
}

// readRace checks the keys at the top of the file.
func (in *form) readRace(c *tomlfile.Check, s *Sheet) {
	s.Date = c.Date("date", in.Date)
	s.Official = tomlfile.Value(c.Distance("official", in.Official, 100, 1e6))
	if s.Certified && in.Official == nil {
		c.Fail("certified", "a certified race needs its official distance", `add official = "10 km"`)
	}
	s.CourseIs = CourseIs(c.OneOf("course_is", in.CourseIs, string(DrawnRoad), string(DrawnLine)))
	if c.File.Has("laps") && (in.Laps < 1 || in.Laps > MaxLaps) {
		c.Fail("laps", fmt.Sprintf("laps is %d", in.Laps), fmt.Sprintf("it should be 1 to %d", MaxLaps))
	}
	if in.Kerbs != "" && !filepath.IsLocal(filepath.FromSlash(in.Kerbs)) {
		c.Fail("kerbs", "the file with drawn kerbs lies outside the folder of the sheet", "put it beside the sheet and give its name only")
	}
}

// readItems reads what a sheet may hold many of; false when there are more than
// the limit.
func (in *form) readItems(c *tomlfile.Check, s *Sheet) bool {
	for _, list := range []struct {
		key string
		n   int
	}{{"stretch", len(in.Stretches)}, {"gate", len(in.Gates)}, {"turnaround", len(in.Turnarounds)}, {"aid", len(in.Aid)}, {"mark", len(in.Marks)}} {
		if list.n > MaxItems {
			c.Fail(list.key, fmt.Sprintf("the sheet has %d of [[%s]], more than the limit of %d", list.n, list.key, MaxItems), "leave out those that change nothing")
			return false
		}
	}
	laps := s.LapCount()
	for i, x := range in.Stretches {
		s.Stretches = append(s.Stretches, x.read(c, i, laps))
	}
	for i, x := range in.Gates {
		s.Gates = append(s.Gates, x.read(c, i, laps))
	}
	for i, x := range in.Turnarounds {
		s.Turnarounds = append(s.Turnarounds, x.read(c, i, laps))
	}
	for i, x := range in.Aid {
		at := keyOf("aid", i)
		s.Aid = append(s.Aid, Aid{
			At: tomlfile.Value(c.Needed(at("at"), x.At, 0, 1e6)), Name: x.Name,
			Stop: c.Duration(at("stop"), x.Stop, 0, time.Hour),
		})
	}
	for i, x := range in.Marks {
		at := keyOf("mark", i)
		if strings.TrimSpace(x.Name) == "" {
			c.Fail(at("name"), fmt.Sprintf("mark %d has no name", i+1), `add name = "hill foot"`)
		}
		s.Marks = append(s.Marks, Mark{At: tomlfile.Value(c.Needed(at("at"), x.At, 0, 1e6)), Name: x.Name, Mat: x.Mat})
	}
	return true
}

// keyOf gives the paths of the keys of an item, such as "stretch[2].from".
func keyOf(list string, i int) func(key string) string {
	return func(key string) string { return fmt.Sprintf("%s[%d].%s", list, i, key) }
}

func (in formRoad) read(c *tomlfile.Check) Road {
	return Road{
		Width:        width(c, "road.width", in.Width),
		CornerRadius: c.Distance("road.corner_radius", in.CornerRadius, 0, 100),
		Use:          Use(c.OneOf("road.use", in.Use, string(WholeRoad), string(RightHalf), string(LeftHalf))),
		Clearance:    clearance(c, "road.clearance", in.Clearance),
	}
}

func (in formStretch) read(c *tomlfile.Check, i, laps int) Stretch {
	at := keyOf("stretch", i)
	p := Stretch{Name: in.Name, Lap: in.Lap}
	p.From = tomlfile.Value(c.Needed(at("from"), in.From, 0, maxAlong))
	p.To = tomlfile.Value(c.Needed(at("to"), in.To, 0, maxAlong))
	if in.From != nil && in.To != nil && p.To <= p.From {
		c.Fail(at("to"), fmt.Sprintf("stretch %d ends before it begins", i+1), "from should be less than to")
	}
	checkLap(c, at("lap"), in.Lap, laps)
	p.Width = width(c, at("width"), in.Width)
	p.CornerRadius = c.Distance(at("corner_radius"), in.CornerRadius, 0, 100)
	p.Use = Use(c.OneOf(at("use"), in.Use, string(WholeRoad), string(RightHalf), string(LeftHalf), string(Lane)))
	p.LeftKerb, p.RightKerb = across(c, at("left_kerb"), in.LeftKerb), across(c, at("right_kerb"), in.RightKerb)
	p.LaneLeft, p.LaneRight = across(c, at("lane_left"), in.LaneLeft), across(c, at("lane_right"), in.LaneRight)
	p.LeftEdge, p.RightEdge = edge(c, at("left_edge"), in.LeftEdge), edge(c, at("right_edge"), in.RightEdge)
	if lane := p.LaneLeft != nil || p.LaneRight != nil; lane && p.Use == "" {
		p.Use = Lane
	} else if lane && p.Use != Lane {
		c.Fail(at("use"), fmt.Sprintf("stretch %d gives the edges of a lane and %q", i+1, p.Use), `leave use out, or write use = "lane"`)
	} else if !lane && p.Use == Lane {
		c.Fail(at("use"), fmt.Sprintf("stretch %d is a lane without edges", i+1), `add lane_left = "2 m left" or lane_right = "1 m left"`)
	}
	inOrder(c, at("left_kerb"), p.LeftKerb, p.RightKerb, "the left kerb lies to the right of the right kerb")
	inOrder(c, at("lane_left"), p.LaneLeft, p.LaneRight, "the left edge of the lane lies to the right of its right edge")
	return p
}

func (in formGate) read(c *tomlfile.Check, i, laps int) Gate {
	at := keyOf("gate", i)
	g := Gate{Name: in.Name, Lap: in.Lap}
	g.At = tomlfile.Value(c.Needed(at("at"), in.At, 0, maxAlong))
	checkLap(c, at("lap"), in.Lap, laps)
	if len(in.Between) != 2 {
		c.Fail(at("between"), fmt.Sprintf("gate %d needs the two ends of its opening", i+1), `write between = ["2 m left", "1 m right"]`)
	} else {
		one, other := across(c, at("between[0]"), in.Between[0]), across(c, at("between[1]"), in.Between[1])
		if one != nil && other != nil && *one == *other {
			c.Fail(at("between"), fmt.Sprintf("gate %d has no opening", i+1), "its two ends are the same place")
		}
		g.Between = [2]float64{tomlfile.Value(one), tomlfile.Value(other)}
	}
	g.Edge = edge(c, at("edge"), in.Edge)
	return g
}

func (in formTurnaround) read(c *tomlfile.Check, i, laps int) Turnaround {
	at := keyOf("turnaround", i)
	t := Turnaround{Name: in.Name, Lap: in.Lap}
	t.At = tomlfile.Value(c.Needed(at("at"), in.At, 0, maxAlong))
	checkLap(c, at("lap"), in.Lap, laps)
	t.Kind = TurnKind(c.OneOf(at("kind"), in.Kind, string(AtPoint), string(RoundCone), string(MedianEnd)))
	t.Radius = tomlfile.Value(c.Distance(at("radius"), in.Radius, 0, 100))
	t.Clearance = c.Distance(at("clearance"), in.Clearance, 0, 5)
	t.Clockwise = c.OneOf(at("turn"), in.Turn, "left", "right") == "right"
	if (t.Kind == AtPoint || t.Kind == "") && (t.Radius > 0 || t.Clearance != nil) {
		c.Fail(at("kind"), fmt.Sprintf("turn-around %d is a point, which has no radius or clearance", i+1), `write kind = "cone" or kind = "median end", or leave them out`)
	}
	return t
}

func (in formWeather) read(c *tomlfile.Check) Weather {
	return Weather{
		Temperature: c.Temperature("weather.temperature", in.Temperature, -60, 60),
		WBGT:        c.Temperature("weather.wbgt", in.WBGT, -20, 50),
		Wind:        c.Speed("weather.wind", in.Wind, 0, quantity.MaxSpeed),
		WindFrom:    c.Compass("weather.wind_from", in.WindFrom),
		Altitude:    c.Distance("weather.altitude", in.Altitude, -500, 6000),
	}
}

func width(c *tomlfile.Check, path string, v any) *float64 {
	w := c.Distance(path, v, 0, 200)
	if w != nil && *w == 0 {
		c.Fail(path, "the road is 0 m wide", "give its width from kerb to kerb")
	}
	return w
}

func edge(c *tomlfile.Check, path, v string) Edge {
	return Edge(c.OneOf(path, v, string(Kerb), string(Cone), string(Line), string(Free)))
}

func checkLap(c *tomlfile.Check, path string, lap, laps int) {
	if c.File.Has(path) && (lap < 1 || lap > laps) {
		c.Fail(path, fmt.Sprintf("lap %d of a race of %d", lap, laps), "leave lap out for every lap")
	}
}

func inOrder(c *tomlfile.Check, path string, left, right *float64, what string) {
	if left != nil && right != nil && *left <= *right {
		c.Fail(path, what, `places across are "2 m left", "1 m right" or "middle", of a runner who follows the course`)
	}
}

// clearance takes one distance for all edges or a table by kind of edge.
func clearance(c *tomlfile.Check, path string, v any) Clearance {
	table, ok := v.(map[string]any)
	if !ok {
		all := c.Distance(path, v, 0, 5)
		return Clearance{all, copied(all), copied(all)}
	}
	var k Clearance
	for key, v := range table {
		under := path + "." + key
		switch key {
		case "kerb":
			k.Kerb = c.Distance(under, v, 0, 5)
		case "cone":
			k.Cone = c.Distance(under, v, 0, 5)
		case "line":
			k.Line = c.Distance(under, v, 0, 5)
		default:
			c.Fail(under, fmt.Sprintf("unknown key %q in the clearance", key), "known keys: kerb, cone, line")
		}
	}
	return k
}

// across reads a place across the road: "2.5 m left", "1 m right", "middle".
func across(c *tomlfile.Check, path string, v any) *float64 {
	if v == nil {
		return nil
	}
	advice := `write "2.5 m left", "1 m right" or "middle"`
	text, ok := v.(string)
	if !ok {
		c.Fail(path, "a place across the road needs a side", advice)
		return nil
	}
	text = strings.TrimSpace(text)
	if text == "middle" {
		return new(0.0)
	}
	cut := strings.LastIndexByte(text, ' ')
	if cut < 0 {
		c.Fail(path, fmt.Sprintf("%q is no place across the road", text), advice)
		return nil
	}
	var side float64
	switch text[cut+1:] {
	case "left":
		side = 1
	case "right":
		side = -1
	default:
		c.Fail(path, fmt.Sprintf("%q is no place across the road", text), advice)
		return nil
	}
	d := c.Distance(path, strings.TrimSpace(text[:cut]), 0, 200)
	if d == nil {
		return nil
	}
	if *d == 0 {
		return new(0.0) // never -0, which would print with a sign
	}
	return new(side * *d)
}
