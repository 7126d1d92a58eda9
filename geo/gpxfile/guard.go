package gpxfile

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"golang.org/x/net/html/charset"

	"tautline/geo/inputerr"
)

// guard stands between the XML tokens of a file and the GPX library. It lets
// through only the elements that are used, in the plain form the library
// expects, and refuses what the library would misread in silence. Heights and
// times never reach the library: it loses fractions of seconds, misreads
// zones after a fraction and cannot tell a bad height from none.
type guard struct {
	file    string
	in      *xml.Decoder
	limited *limitedReader

	version   string // "1.0" or "1.1": how the library is to read the file
	stack     []element
	reopen    int // how many elements of the stack are still to be opened again
	closing   int // how many are still to be closed to end a piece
	done      bool
	line, col int // where the token in hand starts

	points, parts, inPiece int
	piece                  int // how many elements make a piece
	attrs                  [2]xml.Attr
	label                  int  // bytes of the name in hand
	fileNamed, lineNamed   bool // the first name counts
	text                   []byte
	extras                 [3][]extra // by kind of point, of the piece in hand
	now                    *[]extra   // the points that ele and time belong to

	err      error // the reason why reading stopped, if it was ours
	badEle   tally
	badTime  tally
	noZone   tally
	foreign  tally
	stray    tally
	warnings []string
}

// element is an element that the library sees.
type element uint8

const (
	nothing element = iota
	inGPX
	inMetadata
	inWaypoint
	inRoute
	inRoutePoint
	inTrack
	inSegment
	inTrackPoint
	inLabel // name or desc
)

// extra is what a point says beyond its position.
type extra struct {
	height float64
	time   time.Time
}

// which of guard.extras a point's extras go to.
const (
	ofWaypoint = iota
	ofRoute
	ofTrack
)

// tally counts one kind of fault and keeps the first place.
type tally struct {
	n, line int
	example string
}

func (t *tally) add(line int, example []byte) {
	if t.n == 0 {
		t.line = line
		t.example = shorten(string(example))
	}
	t.n++
}

// shorten makes a quotable piece of a hostile text.
func shorten(s string) string {
	const most = 40
	if r := []rune(strings.ToValidUTF8(s, "�")); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return strconv.Quote(s)
}

// The namespaces of GPX 1.0 and 1.1, by the schemas of that name. Files
// without a namespace are common and are taken as GPX.
func isGPX(space string) bool {
	switch space {
	case "", "http://www.topografix.com/GPX/1/1", "http://www.topografix.com/GPX/1/0":
		return true
	}
	space = strings.TrimSuffix(strings.TrimPrefix(strings.ToLower(space), "https"), "/")
	space = strings.TrimPrefix(space, "http")
	return space == "://www.topografix.com/gpx/1/1" || space == "://www.topografix.com/gpx/1/0"
}

// limitedReader counts the bytes of the file and of the token in hand.
type limitedReader struct {
	r     io.Reader
	total int64
	token int64 // total when the token in hand began
	fault error // the limit that was reached
}

var (
	errTooLarge = errors.New("file too large")
	errTooLong  = errors.New("token too long")
)

func (l *limitedReader) Read(p []byte) (int, error) {
	if l.fault != nil {
		return 0, l.fault
	}
	n, err := l.r.Read(p)
	l.total += int64(n)
	switch {
	case l.total > MaxBytes:
		l.fault = errTooLarge
	case l.total-l.token > MaxToken+64<<10: // the decoder reads ahead
		l.fault = errTooLong
	}
	if l.fault != nil {
		return 0, l.fault
	}
	return n, err
}

func newGuard(file string, r io.Reader, piece int) *guard {
	l := &limitedReader{r: r}
	g := &guard{file: file, piece: piece, limited: l, in: xml.NewDecoder(l)}
	g.in.CharsetReader = func(label string, in io.Reader) (io.Reader, error) {
		switch l := strings.ToLower(label); {
		case strings.HasPrefix(l, "utf-16"), strings.HasPrefix(l, "utf-32"), strings.HasPrefix(l, "ucs"), strings.HasPrefix(l, "iso-10646"):
			return nil, g.fail("the file says it is encoded in "+shorten(label), "save it as UTF-8")
		}
		out, err := charset.NewReaderLabel(label, in)
		if err != nil {
			return nil, g.fail("unknown character encoding "+shorten(label), "save the file as UTF-8")
		}
		return out, nil
	}
	return g
}

// fail makes the error that reading stops with.
func (g *guard) fail(what, advice string) error {
	if g.err == nil {
		g.err = &inputerr.Error{File: g.file, Line: g.line, Column: g.col, What: what, Advice: advice}
	}
	return g.err
}

// next reads a token and notes where it starts.
func (g *guard) next() (xml.Token, error) {
	g.line, g.col = g.in.InputPos()
	g.limited.token = g.limited.total
	t, err := g.in.Token()
	if err == nil {
		return t, nil
	}
	if g.err != nil {
		return nil, g.err
	}
	line, col := g.in.InputPos()
	var syntax *xml.SyntaxError
	switch {
	case g.limited.fault == errTooLarge:
		return nil, g.fail(fmt.Sprintf("the file is larger than %d MB", MaxBytes>>20), "cut it to the race, or write fewer points")
	case g.limited.fault == errTooLong:
		return nil, g.fail(fmt.Sprintf("a text, tag or comment is longer than %d KB", MaxToken>>10), "this is not a course or a record; export the file again")
	case err == io.EOF:
		return nil, err
	case errors.As(err, &syntax):
		g.line, g.col = line, col
		what, advice := "not well-formed XML: "+syntax.Msg, "export the file again, or correct it in a text editor"
		switch {
		case strings.Contains(syntax.Msg, "unexpected EOF"):
			what, advice = "the file is cut off", "export or copy it again"
		case strings.Contains(syntax.Msg, "invalid UTF-8"):
			what, advice = "the text is not UTF-8", `save the file as UTF-8, or name its encoding in the first line`
		}
		return nil, g.fail(what, advice)
	}
	e := &inputerr.Error{File: g.file, Line: line, Column: col, What: "cannot be read: " + err.Error(), Advice: "export or copy it again", Cause: err}
	g.err = e
	return nil, e
}

// root reads up to the root element and checks it.
func (g *guard) root() error {
	for {
		t, err := g.next()
		if err == io.EOF {
			return g.fail("the file holds no GPX data", "export the file again as GPX")
		}
		if err != nil {
			return err
		}
		switch t := t.(type) {
		case xml.CharData:
			if len(bytes.TrimSpace(t)) > 0 {
				return g.fail("this is not an XML file", "give a GPX file")
			}
		case xml.StartElement:
			if t.Name.Local != "gpx" {
				return g.fail(fmt.Sprintf("the root element is <%s>, not <gpx>", clip(t.Name.Local)), "export the file as GPX")
			}
			if !isGPX(t.Name.Space) {
				return g.fail("the root element <gpx> belongs to another namespace, "+shorten(t.Name.Space), "export the file as GPX 1.1")
			}
			g.setVersion(t)
			g.stack = append(g.stack, inGPX)
			g.reopen = 1
			return nil
		}
	}
}

func clip(s string) string {
	q := shorten(s)
	return q[1 : len(q)-1]
}

// setVersion decides by the attribute, and by the namespace where the
// attribute is missing or unknown.
func (g *guard) setVersion(root xml.StartElement) {
	space10 := strings.HasSuffix(strings.TrimSuffix(root.Name.Space, "/"), "1/0")
	said := ""
	for _, a := range root.Attr {
		if a.Name.Space == "" && a.Name.Local == "version" {
			said = strings.TrimSpace(a.Value)
		}
	}
	g.version = "1.1"
	if said == "1.0" || said != "1.1" && space10 {
		g.version = "1.0"
	}
	switch said {
	case "1.0", "1.1":
	case "":
		g.warnings = append(g.warnings, "the file does not say its GPX version; it was read as "+g.version)
	default:
		g.warnings = append(g.warnings, fmt.Sprintf("unknown GPX version %s; the file was read as %s", shorten(said), g.version))
	}
}

// tag is the name the library knows an element by.
var tag = [...]xml.Name{
	inGPX: {Local: "gpx"}, inMetadata: {Local: "metadata"}, inWaypoint: {Local: "wpt"}, inRoute: {Local: "rte"},
	inRoutePoint: {Local: "rtept"}, inTrack: {Local: "trk"}, inSegment: {Local: "trkseg"}, inTrackPoint: {Local: "trkpt"},
}

// child tells what an element means inside its parent; nothing is left out.
func child(parent element, name string, version string) element {
	switch parent {
	case inGPX:
		switch name {
		case "trk":
			return inTrack
		case "rte":
			return inRoute
		case "wpt":
			return inWaypoint
		case "metadata":
			return inMetadata
		case "name":
			if version == "1.0" {
				return inLabel
			}
		}
	case inTrack:
		switch name {
		case "trkseg":
			return inSegment
		case "name":
			return inLabel
		}
	case inSegment:
		if name == "trkpt" {
			return inTrackPoint
		}
	case inRoute:
		switch name {
		case "rtept":
			return inRoutePoint
		case "name":
			return inLabel
		}
	case inWaypoint:
		if name == "name" || name == "desc" {
			return inLabel
		}
	case inMetadata:
		if name == "name" {
			return inLabel
		}
	}
	return nothing
}

// more tells whether another piece is to be read, how many elements it opens
// again, and the kind of line that it goes on with.
func (g *guard) more() (again int, line element, more bool) {
	if len(g.stack) > 1 {
		line = g.stack[1]
	}
	return len(g.stack), line, !g.done
}

// Token gives the library its next token; it makes guard an xml.TokenReader.
func (g *guard) Token() (xml.Token, error) {
	if g.reopen > 0 {
		// A new piece starts inside the elements that the last one left open.
		e := g.stack[len(g.stack)-g.reopen]
		g.reopen--
		return xml.StartElement{Name: tag[e]}, nil
	}
	if g.closing > 0 {
		g.closing--
		e := g.stack[g.closing]
		if g.closing == 0 {
			g.reopen = len(g.stack)
		}
		return xml.EndElement{Name: tag[e]}, nil
	}
	for {
		parent := g.stack[len(g.stack)-1]
		if g.inPiece >= g.piece && parent != inLabel && parent != inMetadata && parent != inWaypoint && parent != inRoutePoint && parent != inTrackPoint {
			g.inPiece = 0
			g.closing = len(g.stack)
			return g.Token()
		}
		t, err := g.next()
		if err == io.EOF {
			g.line, g.col = g.in.InputPos()
			err = g.fail("the file is cut off", "export or copy it again")
		}
		if err != nil {
			return nil, err
		}
		switch t := t.(type) {
		case xml.StartElement:
			out, err := g.start(parent, t)
			if out != nil || err != nil {
				return out, err
			}
		case xml.EndElement:
			g.stack = g.stack[:len(g.stack)-1]
			if len(g.stack) == 0 {
				g.done = true
			}
			if parent == inLabel {
				return xml.EndElement{Name: xml.Name{Local: t.Name.Local}}, nil
			}
			return xml.EndElement{Name: tag[parent]}, nil
		case xml.CharData:
			if parent == inLabel {
				if g.label += len(t); g.label > MaxToken {
					return nil, g.fail("a name is far too long", "shorten it")
				}
				return t, nil
			}
		}
	}
}

// start deals with the start of an element; nil, nil when it was left out.
func (g *guard) start(parent element, t xml.StartElement) (xml.Token, error) {
	own := isGPX(t.Name.Space)
	kind := nothing
	if own {
		kind = child(parent, t.Name.Local, g.version)
	} else if child(parent, t.Name.Local, g.version) != nothing {
		g.foreign.add(g.line, []byte(t.Name.Space))
	}
	switch kind {
	case nothing:
		if own && (parent == inTrackPoint || parent == inRoutePoint || parent == inWaypoint) {
			switch t.Name.Local {
			case "ele":
				return nil, g.height()
			case "time":
				return nil, g.time()
			}
		}
		if own {
			switch t.Name.Local {
			case "trk", "trkseg", "trkpt", "rte", "rtept", "wpt":
				g.stray.add(g.line, []byte(t.Name.Local))
			}
		}
		return nil, g.skip()
	case inLabel:
		switch parent {
		case inGPX, inMetadata:
			if g.fileNamed {
				return nil, g.skip()
			}
			g.fileNamed = true
		case inTrack, inRoute:
			if g.lineNamed {
				return nil, g.skip()
			}
			g.lineNamed = true
		}
		g.stack = append(g.stack, inLabel)
		g.label = 0
		g.inPiece++
		return xml.StartElement{Name: xml.Name{Local: t.Name.Local}}, nil
	case inWaypoint, inRoutePoint, inTrackPoint:
		return g.point(kind, t)
	case inTrack, inRoute, inSegment:
		g.parts++
		if g.parts > MaxParts {
			return nil, g.fail(fmt.Sprintf("more than %d tracks, segments and routes", MaxParts), "cut the file to the race")
		}
		if kind != inSegment {
			g.lineNamed = false
		}
	}
	g.inPiece++
	g.stack = append(g.stack, kind)
	return xml.StartElement{Name: tag[kind]}, nil
}

// point checks a point's position.
func (g *guard) point(kind element, t xml.StartElement) (xml.Token, error) {
	g.points++
	if g.points > MaxPoints {
		return nil, g.fail(fmt.Sprintf("more than %d points", MaxPoints), "cut the file to the race, or write fewer points")
	}
	g.attrs = [2]xml.Attr{{Name: xml.Name{Local: "lat"}}, {Name: xml.Name{Local: "lon"}}}
	var seen [2]bool
	for _, a := range t.Attr {
		if a.Name.Space != "" {
			continue
		}
		i, name, most := 0, "lat", 90.0
		switch a.Name.Local {
		case "lat":
		case "lon":
			i, name, most = 1, "lon", 180
		default:
			continue
		}
		if seen[i] {
			return nil, g.fail("a point gives "+name+" twice", "remove one of them")
		}
		seen[i] = true
		s := strings.TrimSpace(a.Value)
		if s == "" {
			return nil, g.fail("a point has an empty "+name, "remove the point or give its position in degrees")
		}
		v, ok := number(s)
		if !ok {
			advice := "give degrees as a plain number such as 47.5"
			if strings.Contains(s, ",") {
				advice = "write a decimal point, not a comma: 47.5"
			}
			return nil, g.fail(fmt.Sprintf("%s=%s is not a number", name, shorten(a.Value)), advice)
		}
		if v < -most || v > most {
			return nil, g.fail(fmt.Sprintf("%s=%s lies outside -%g to %g degrees", name, shorten(s), most, most),
				"check whether latitude and longitude are swapped, or whether the file is in metres")
		}
		g.attrs[i].Value = s
	}
	for i, name := range [2]string{"lat", "lon"} {
		if !seen[i] {
			return nil, g.fail("a point has no "+name, "remove the point or give its position")
		}
	}
	which := ofTrack
	switch kind {
	case inWaypoint:
		which = ofWaypoint
	case inRoutePoint:
		which = ofRoute
	}
	g.now = &g.extras[which]
	*g.now = append(*g.now, extra{height: math.NaN()})
	g.inPiece++
	g.stack = append(g.stack, kind)
	return xml.StartElement{Name: tag[kind], Attr: g.attrs[:]}, nil
}

// number reads a decimal number, with an exponent or not. Unlike
// strconv.ParseFloat it knows no hexadecimals, no infinities and no NaN.
func number(s string) (float64, bool) {
	for i := range len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9', c == '.', c == '-', c == '+', c == 'e', c == 'E':
		default:
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// skip leaves out an element with all that is in it.
func (g *guard) skip() error {
	for inside := 1; inside > 0; {
		t, err := g.next()
		if err != nil {
			return g.cutOff(err)
		}
		switch t.(type) {
		case xml.StartElement:
			inside++
			if len(g.stack)+inside > MaxDepth {
				return g.fail(fmt.Sprintf("elements are nested more than %d deep", MaxDepth), "export the file again without extensions")
			}
		case xml.EndElement:
			inside--
		}
	}
	return nil
}

func (g *guard) cutOff(err error) error {
	if err == io.EOF {
		g.line, g.col = g.in.InputPos()
		return g.fail("the file is cut off", "export or copy it again")
	}
	return err
}

// value collects the text of an element up to its end, without comments and
// without what nested elements say.
func (g *guard) value() ([]byte, error) {
	g.text = g.text[:0]
	for {
		t, err := g.next()
		if err != nil {
			return nil, g.cutOff(err)
		}
		switch t := t.(type) {
		case xml.CharData:
			if len(g.text)+len(t) > MaxToken {
				return nil, g.fail("a height or time is far too long", "export the file again")
			}
			g.text = append(g.text, t...)
		case xml.StartElement:
			if err := g.skip(); err != nil {
				return nil, err
			}
		case xml.EndElement:
			return bytes.TrimSpace(g.text), nil
		}
	}
}

func (g *guard) height() error {
	line := g.line
	s, err := g.value()
	if err != nil || len(s) == 0 {
		return err
	}
	v, ok := number(string(s))
	if !ok || v < MinHeight || v > MaxHeight {
		g.badEle.add(line, s)
		return nil
	}
	(*g.now)[len(*g.now)-1].height = v
	return nil
}

func (g *guard) time() error {
	line := g.line
	s, err := g.value()
	if err != nil || len(s) == 0 {
		return err
	}
	t, zone, ok := parseTime(s)
	if !ok {
		g.badTime.add(line, s)
		return nil
	}
	if !zone {
		g.noZone.add(line, s)
	}
	(*g.now)[len(*g.now)-1].time = t
	return nil
}

// finish looks at what follows the root element.
func (g *guard) finish() error {
	for {
		t, err := g.next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			if g.limited.fault != nil {
				return err
			}
			g.trailing()
			return nil
		}
		switch t := t.(type) {
		case xml.CharData:
			if len(bytes.TrimSpace(t)) > 0 {
				g.trailing()
				return nil
			}
		case xml.StartElement:
			if t.Name.Local == "gpx" {
				return g.fail("a second GPX document follows the first", "put each into a file of its own")
			}
			g.trailing()
			return nil
		}
	}
}

func (g *guard) trailing() {
	g.warnings = append(g.warnings, fmt.Sprintf("%s:%d: what follows </gpx> was left out", g.file, g.line))
}

// remarks gives all warnings, with counts.
func (g *guard) remarks() []string {
	w := g.warnings
	say := func(t tally, one, many string) {
		switch {
		case t.n == 1:
			w = append(w, fmt.Sprintf("%s:%d: "+one, g.file, t.line, t.example))
		case t.n > 1:
			w = append(w, fmt.Sprintf("%s: %d "+many, g.file, t.n, t.line, t.example))
		}
	}
	say(g.badEle, "the height %s cannot be used; its point has none", "heights cannot be used, the first on line %d (%s); their points have none")
	say(g.badTime, "the time %s cannot be read; its point has none", "times cannot be read, the first on line %d (%s); their points have none")
	say(g.noZone, "the time %s has no zone; it was taken as UTC", "times have no zone, the first on line %d (%s); they were taken as UTC")
	say(g.stray, "an element %s stands where GPX has none and was left out", "elements stand where GPX has none, the first on line %d (%s), and were left out")
	say(g.foreign, "an element of another namespace, %s, was left out", "elements of another namespace were left out, the first on line %d (%s)")
	return w
}
