// Package gpxfile reads courses and records from GPX 1.0 and 1.1 files and
// writes GPX 1.1.
//
// A file is refused, with line, column and advice, when a position is missing,
// unreadable or impossible, when it is not GPX, is cut off, or exceeds the
// limits of this package. A height or a time that cannot be used is left out
// of its point and counted in File.Warnings: one bad value of a barometer
// should not cost a runner the whole record. Times keep their fractions and
// are given in UTC. Extensions are left out.
package gpxfile

import (
	"bufio"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	"github.com/tkrajina/gpxgo/gpx"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
	"tautline/geo/track"
)

// File is what a GPX file says about lines and places.
type File struct {
	// Name is the name the file gives itself, else its file name without
	// folder and extension.
	Name string
	// Lines are the tracks in the order of the file, then the routes. Lines
	// and segments without points are left out.
	Lines     []track.Line
	Waypoints []Waypoint
	// Warnings are sentences for people about what was left out or guessed,
	// with the name of the file and the line.
	Warnings []string

	source string // as the user named it
}

// Waypoint is a named place.
type Waypoint struct {
	track.Fix
	Name        string
	Description string
}

// Open reads a file. Errors are *inputerr.Error.
func Open(path string) (*File, error) {
	bad := func(what, advice string, cause error) error {
		return &inputerr.Error{File: path, What: what, Advice: advice, Cause: cause}
	}
	f, err := os.Open(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, bad("there is no such file", "check the name and the folder", err)
	case errors.Is(err, fs.ErrPermission):
		return nil, bad("the file may not be read", "check its permissions", err)
	case err != nil:
		return nil, bad("the file cannot be opened: "+err.Error(), "check the name and the folder", err)
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, bad("this is a folder", "name a GPX file in it", nil)
	}
	return Read(path, f)
}

// Read reads a file; name is what messages call it. Errors are
// *inputerr.Error. It takes time and memory in proportion to the file and
// leaves r wherever it stopped.
func Read(name string, r io.Reader) (*File, error) {
	return read(name, r, chunk)
}

// read reads a file in pieces of so many points.
func read(name string, r io.Reader, piece int) (*File, error) {
	head := bufio.NewReaderSize(r, 1<<16)
	if err := sniff(name, head); err != nil {
		return nil, err
	}
	g := newGuard(name, head, piece)
	if err := g.root(); err != nil {
		return nil, err
	}
	b := builder{file: &File{source: name}}
	for {
		again, line, more := g.more()
		if !more {
			break
		}
		for i := range g.extras {
			g.extras[i] = g.extras[i][:0]
		}
		doc, err := gpx.ParseDecoder(xml.NewTokenDecoder(g), []byte(`<gpx version="`+g.version+`">`))
		if g.err != nil {
			return nil, g.err
		}
		if err != nil {
			return nil, &inputerr.Error{File: name, Line: g.line, Column: g.col, What: "cannot be read as GPX: " + err.Error(), Advice: "export the file again", Cause: err}
		}
		if err := b.add(doc, &g.extras, again, line); err != nil {
			return nil, &inputerr.Error{File: name, Line: g.line, Column: g.col, What: err.Error(), Advice: "export the file again"}
		}
	}
	if err := g.finish(); err != nil {
		return nil, err
	}
	f := b.finish()
	if f.Name == "" {
		base := filepath.Base(name)
		f.Name = cleanText(strings.TrimSuffix(base, filepath.Ext(base)))
	}
	f.Warnings = g.remarks()
	return f, nil
}

// sniff refuses what is not XML in a readable encoding before any XML is
// read, and takes off the byte order mark of UTF-8.
func sniff(name string, r *bufio.Reader) error {
	bad := func(what, advice string) error {
		return &inputerr.Error{File: name, Line: 1, Column: 1, What: what, Advice: advice}
	}
	head, err := r.Peek(4)
	if len(head) == 0 {
		if err != nil && err != io.EOF {
			return &inputerr.Error{File: name, What: "cannot be read: " + err.Error(), Advice: "export or copy it again", Cause: err}
		}
		return bad("the file is empty", "export the file again")
	}
	switch {
	case bytes.HasPrefix(head, []byte("\xEF\xBB\xBF")):
		r.Discard(3)
	case bytes.HasPrefix(head, []byte("\xFE\xFF")), bytes.HasPrefix(head, []byte("\xFF\xFE")),
		bytes.HasPrefix(head, []byte("\x00<")), bytes.HasPrefix(head, []byte("<\x00")), bytes.HasPrefix(head, []byte("\x00\x00")):
		return bad("the file is encoded in UTF-16 or UTF-32", "save it as UTF-8")
	case bytes.HasPrefix(head, []byte("\x1F\x8B")), bytes.HasPrefix(head, []byte("PK")), bytes.HasPrefix(head, []byte("BZh")):
		return bad("the file is compressed", "unpack it first")
	case head[0] == '{' || head[0] == '[':
		return bad("the file looks like JSON, not GPX", "export the file as GPX")
	}
	return nil
}

// cleanText makes a name of a file fit for a line of text: white space runs
// become one space; control characters, which could steer a terminal, and
// marks that turn the writing direction are taken out.
func cleanText(s string) string {
	var b strings.Builder
	space := false
	for _, r := range strings.ToValidUTF8(s, "") {
		switch {
		case unicode.IsSpace(r):
			space = true
			continue
		case unicode.IsControl(r), r >= 0x202A && r <= 0x202E, r >= 0x2066 && r <= 0x2069, r == 0xFFFE, r == 0xFFFF:
			continue
		}
		if space && b.Len() > 0 {
			b.WriteByte(' ')
		}
		space = false
		b.WriteRune(r)
	}
	return b.String()
}

// builder puts the pieces of a file together.
type builder struct {
	file           *File
	tracks, routes []track.Line
}

var errPieces = errors.New("the GPX library lost points")

// add takes over a piece. again is how many elements were opened again at its
// start (1 is the root alone), line the kind of line that it goes on with.
func (b *builder) add(doc *gpx.GPX, extras *[3][]extra, again int, line element) error {
	if b.file.Name == "" {
		b.file.Name = cleanText(doc.Name)
	}
	ex := extras[ofWaypoint]
	if len(ex) != len(doc.Waypoints) {
		return errPieces
	}
	for i := range doc.Waypoints {
		p := &doc.Waypoints[i]
		b.file.Waypoints = append(b.file.Waypoints, Waypoint{Fix: fix(p, ex[i]), Name: cleanText(p.Name), Description: cleanText(p.Description)})
	}
	ex = extras[ofRoute]
	for i := range doc.Routes {
		r := &doc.Routes[i]
		if i > 0 || again < 2 || line != inRoute {
			b.routes = append(b.routes, track.Line{Route: true, Segments: make([][]track.Fix, 1)})
		}
		l := &b.routes[len(b.routes)-1]
		if l.Name == "" {
			l.Name = cleanText(r.Name)
		}
		if len(ex) < len(r.Points) {
			return errPieces
		}
		l.Segments[0] = appendFixes(l.Segments[0], r.Points, ex)
		ex = ex[len(r.Points):]
	}
	if len(ex) > 0 {
		return errPieces
	}
	ex = extras[ofTrack]
	for i := range doc.Tracks {
		t := &doc.Tracks[i]
		continued := i == 0 && again >= 2 && line == inTrack
		if !continued {
			b.tracks = append(b.tracks, track.Line{})
		}
		l := &b.tracks[len(b.tracks)-1]
		if l.Name == "" {
			l.Name = cleanText(t.Name)
		}
		for j := range t.Segments {
			s := &t.Segments[j]
			if !(continued && j == 0 && again >= 3) {
				l.Segments = append(l.Segments, nil)
			}
			if len(ex) < len(s.Points) {
				return errPieces
			}
			last := &l.Segments[len(l.Segments)-1]
			*last = appendFixes(*last, s.Points, ex)
			ex = ex[len(s.Points):]
		}
	}
	if len(ex) > 0 {
		return errPieces
	}
	return nil
}

func appendFixes(to []track.Fix, points []gpx.GPXPoint, ex []extra) []track.Fix {
	for i := range points {
		to = append(to, fix(&points[i], ex[i]))
	}
	return to
}

func fix(p *gpx.GPXPoint, e extra) track.Fix {
	return track.Fix{At: earth.LatLon{Lat: p.Latitude, Lon: p.Longitude}, Height: e.height, Time: e.time}
}

// finish leaves out what is empty.
func (b *builder) finish() *File {
	for _, l := range append(b.tracks, b.routes...) {
		full := l.Segments[:0]
		for _, s := range l.Segments {
			if len(s) > 0 {
				full = append(full, s)
			}
		}
		if len(full) > 0 {
			l.Segments = full
			b.file.Lines = append(b.file.Lines, l)
		}
	}
	return b.file
}
