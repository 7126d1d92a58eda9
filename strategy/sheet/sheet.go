// Package sheet reads and writes the race sheet: the TOML file that describes
// a race, its official distance, its road, its aid stations and its weather.
//
// # Form
//
// Every key may be left out. Distances are written as people write them
// ("3.2 km", "2 mi", "30 ft") or as plain numbers, which are metres. There are
// two ways to say where something is, and each key takes one of them:
//
//   - along the drawn course: the distance from the first point of the drawn
//     course, as a map tool shows it. The start line, the finish line,
//     stretches, gates and turn-arounds are placed so, since they belong to
//     the drawing.
//   - official: the distance from the start line as the race announces it. Aid
//     stations and marks are placed so, since "the 5 km mark" is an official
//     place.
//
// Places across the road are given from the drawn course: "2.5 m left",
// "1 m right" (of a runner who follows it) or "middle".
//
// Top level:
//
//	name        text. What the race is called.
//	date        date, 2027-05-09.
//	official    distance. What the race announces, "10 km", "13.1094 mi",
//	            "marathon". 100 m to 1000 km.
//	certified   true or false (default false). Whether a measurer certified
//	            the official distance; it then outranks the drawn map.
//	course_is   "road" (default): the drawn course is the middle of the road;
//	            "line": it is already the measured line, nothing is shortened.
//	laps        whole number, 1 to 200 (default 1). How often the drawn course
//	            is run. What is placed along it then holds on every lap.
//	kerbs       file name. A GeoJSON file with drawn kerbs, in the folder of
//	            the sheet or below it; never outside.
//
// [start] and [finish]:
//
//	at          along the drawn course. Default: its first and its last point.
//	            With laps, the finish counts through all laps.
//	gun         time of day, "09:30" (start only).
//
// [road], what holds where no stretch says otherwise:
//
//	width           kerb to kerb, (0, 200] m. Default 8 m, common practice for
//	                a town street, not a measurement.
//	corner_radius   of the kerb at street corners, [0, 100] m. Default 5 m.
//	use             "whole road" (default), "right half" or "left half". On a
//	                road with traffic both ways, or run both ways, the rules
//	                agree on no default: say what the race enforces.
//	clearance       one distance for all edges, or { kerb = , cone = , line = }.
//	                What the measured line keeps from an edge, [0, 5] m.
//	                Default 0.30 m from kerbs and cones, 0.20 m from a painted
//	                line.
//
// [[stretch]], once for each piece of the course with its own road:
//
//	name            text, used in messages.
//	from, to        along the drawn course. Needed.
//	lap             whole number. The lap it holds on; default every lap.
//	width, corner_radius, use   as for the road; use may also be "lane".
//	left_kerb, right_kerb       places across, for a road that is not centred
//	                            on the drawn course. They outrank width.
//	lane_left, lane_right       places across, the edges of the permitted lane.
//	                            One alone closes the other side of it: coned
//	                            lanes and no-go sides are written so.
//	left_edge, right_edge       "kerb", "cone", "line" or "free" (no clearance):
//	                            what the edges of the permitted part are.
//
// [[gate]], an opening that every runner passes through:
//
//	name, lap       as for a stretch.
//	at              along the drawn course. Needed.
//	between         two places across, ["2 m left", "1 m right"]. Needed.
//	edge            what stands at its ends; default "cone".
//
// [[turnaround]], where the course turns back along itself:
//
//	name, lap       as for a stretch.
//	at              along the drawn course, the drawn turning point. Needed.
//	kind            "point" (default): to a point and back, without clearance;
//	                "cone": round a cone; "median end": round the end of a
//	                median.
//	radius          of the ring of cones or of the median's end, [0, 100] m.
//	clearance       instead of the usual one, [0, 5] m.
//	turn            "left" (default) or "right": which way runners turn.
//
// [[aid]], an aid station:
//
//	at              official. Needed.
//	name            text.
//	stop            seconds or "1:30". What a stop there costs, 0 to 3600 s.
//
// [[mark]], a named place to give a split for:
//
//	at              official. Needed.
//	name            text. Needed.
//	mat             true or false (default false). A timing mat lies there.
//
// [weather], used only where a subcommand asks for weather:
//
//	temperature     of the air, °C, -60 to 60.
//	wbgt            wet-bulb globe temperature, °C, -20 to 50.
//	wind            speed, "5 m/s", "18 km/h", "11 mph"; plain numbers are m/s.
//	wind_from       where it blows from, degrees clockwise from north, or "SW".
//	altitude        of the race, m above sea level, -500 to 6000.
package sheet

import (
	"io/fs"
	"time"

	"tautline/strategy/tomlfile"
)

// Sheet is a race sheet with its quantities in metres, seconds and °C. A nil
// pointer and an empty text mean that the sheet does not say; the zero Sheet
// says nothing. Fields may be changed before Resolve, as flags and the web page
// do. Sheet values share what their slices and pointers point to.
type Sheet struct {
	Name      string
	Date      time.Time // midnight UTC of the day; zero when not given
	Official  float64   // m; 0 when not given
	Certified bool
	CourseIs  CourseIs
	Laps      int // 0 counts as 1
	Kerbs     string

	Start  Start
	Finish Finish
	Road   Road

	Stretches   []Stretch
	Gates       []Gate
	Turnarounds []Turnaround
	Aid         []Aid
	Marks       []Mark
	Weather     Weather

	file  *tomlfile.File
	dir   string // folder of the sheet; "" when it was not read from disk
	files fs.FS  // instead of dir
}

// CourseIs says what the drawn course is.
type CourseIs string

// The empty CourseIs means DrawnRoad.
const (
	DrawnRoad CourseIs = "road" // the middle of the road
	DrawnLine CourseIs = "line" // the measured line itself
)

// Start is the start line.
type Start struct {
	At  *float64       // m along the drawn course
	Gun *time.Duration // time of day after midnight, local
}

// Finish is the finish line.
type Finish struct {
	At *float64 // m along the drawn course, through all laps
}

// Use says which part of the road may be used.
type Use string

// The empty Use means WholeRoad for the road and the road's for a stretch.
const (
	WholeRoad Use = "whole road"
	RightHalf Use = "right half"
	LeftHalf  Use = "left half"
	Lane      Use = "lane"
)

// Edge is the kind of an edge.
type Edge string

// The empty Edge means the usual kind for the place.
const (
	Kerb Edge = "kerb"
	Cone Edge = "cone"
	Line Edge = "line"
	Free Edge = "free"
)

// Road is what holds where no stretch says otherwise.
type Road struct {
	Width        *float64 // m
	CornerRadius *float64 // m
	Use          Use
	Clearance    Clearance
}

// Clearance is the distance kept from an edge by its kind, m.
type Clearance struct {
	Kerb, Cone, Line *float64
}

// Stretch is a piece of the course with its own road.
type Stretch struct {
	Name                string
	From, To            float64 // m along the drawn course
	Lap                 int     // 0: every lap
	Width, CornerRadius *float64
	Use                 Use
	LeftKerb, RightKerb *float64 // m to the left of the drawn course
	LaneLeft, LaneRight *float64 // m to the left of the drawn course
	LeftEdge, RightEdge Edge
}

// Gate is an opening that every runner passes through.
type Gate struct {
	Name    string
	At      float64 // m along the drawn course
	Lap     int     // 0: every lap
	Between [2]float64
	Edge    Edge
}

// TurnKind says how the runner turns back.
type TurnKind string

// The empty TurnKind means AtPoint.
const (
	AtPoint   TurnKind = "point"
	RoundCone TurnKind = "cone"
	MedianEnd TurnKind = "median end"
)

// Turnaround is a place where the course turns back along itself.
type Turnaround struct {
	Name      string
	At        float64 // m along the drawn course
	Lap       int     // 0: every lap
	Kind      TurnKind
	Radius    float64 // m
	Clearance *float64
	Clockwise bool // turns to the right
}

// Aid is an aid station.
type Aid struct {
	At   float64 // official, m from the start line
	Name string
	Stop time.Duration
}

// Mark is a named place to give a split for.
type Mark struct {
	At   float64 // official, m from the start line
	Name string
	Mat  bool
}

// Weather is the weather of the race.
type Weather struct {
	Temperature *float64 // °C
	WBGT        *float64 // °C
	Wind        *float64 // m/s
	WindFrom    *float64 // radians clockwise from north
	Altitude    *float64 // m
}

// LapCount is Laps, 1 when the sheet does not say.
func (s *Sheet) LapCount() int { return max(1, s.Laps) }

func copied(p *float64) *float64 {
	if p == nil {
		return nil
	}
	return new(*p)
}
