package gpxfile

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"tautline/geo/track"
)

// Write writes GPX 1.1: waypoints, routes, tracks. Positions have 7 decimals
// (about 1 cm), heights 3, times are in UTC with the fractions they have; names
// are cleaned of what XML or a terminal cannot bear. The same file always
// gives the same bytes, and Read gives back what was written. A position, a
// height or a time that Read would refuse or leave out is an error, and then
// w may have received a part of the file.
func Write(w io.Writer, f *File) error {
	o := &out{w: bufio.NewWriterSize(w, 1<<16)}
	o.put(xml.Header)
	o.put(`<gpx version="1.1" creator="tautline" xmlns="http://www.topografix.com/GPX/1/1">` + "\n")
	if f.Name != "" {
		o.put(" <metadata>\n")
		o.element("  ", "name", f.Name)
		o.put(" </metadata>\n")
	}
	for _, p := range f.Waypoints {
		o.point(" ", "wpt", p.Fix, p.Name, p.Description)
	}
	for _, l := range f.Lines {
		if !l.Route {
			continue
		}
		o.put(" <rte>\n")
		o.element("  ", "name", l.Name)
		for _, s := range l.Segments {
			for _, x := range s {
				o.point("  ", "rtept", x, "", "")
			}
		}
		o.put(" </rte>\n")
	}
	for _, l := range f.Lines {
		if l.Route {
			continue
		}
		o.put(" <trk>\n")
		o.element("  ", "name", l.Name)
		for _, s := range l.Segments {
			o.put("  <trkseg>\n")
			for _, x := range s {
				o.point("   ", "trkpt", x, "", "")
			}
			o.put("  </trkseg>\n")
		}
		o.put(" </trk>\n")
	}
	o.put("</gpx>\n")
	if o.err != nil {
		return o.err
	}
	return o.w.Flush()
}

type out struct {
	w   *bufio.Writer
	num []byte
	err error
}

func (o *out) put(s string) {
	if o.err == nil {
		_, o.err = o.w.WriteString(s)
	}
}

func (o *out) element(indent, name, text string) {
	text = cleanText(text)
	if text == "" || o.err != nil {
		return
	}
	o.put(indent + "<" + name + ">")
	if o.err == nil {
		o.err = xml.EscapeText(o.w, []byte(text))
	}
	o.put("</" + name + ">\n")
}

// decimal writes a number without needless zeros and without minus zero.
func (o *out) decimal(v float64, places int) {
	scale := math.Pow10(places)
	if math.Round(v*scale) == 0 {
		v = 0
	}
	o.num = strconv.AppendFloat(o.num[:0], v, 'f', places, 64)
	if o.err == nil {
		_, o.err = o.w.Write(o.num)
	}
}

func (o *out) point(indent, name string, x track.Fix, label, desc string) {
	if !(math.Abs(x.At.Lat) <= 90 && math.Abs(x.At.Lon) <= 180) {
		o.fail("position %v, %v is not on earth", x.At.Lat, x.At.Lon)
	}
	if x.HasHeight() && !(x.Height >= MinHeight && x.Height <= MaxHeight) {
		o.fail("height %v m is not on a road", x.Height)
	}
	if y := x.Time.UTC().Year(); x.HasTime() && (y < MinYear || y > 9999) {
		o.fail("time %v lies outside the years %d to 9999", x.Time, MinYear)
	}
	o.put(indent + "<" + name + ` lat="`)
	o.decimal(x.At.Lat, 7)
	o.put(`" lon="`)
	o.decimal(x.At.Lon, 7)
	if !x.HasHeight() && !x.HasTime() && label == "" && desc == "" {
		o.put("\"/>\n")
		return
	}
	o.put(`">`)
	if x.HasHeight() {
		o.put("<ele>")
		o.decimal(x.Height, 3)
		o.put("</ele>")
	}
	if x.HasTime() {
		o.put("<time>" + x.Time.UTC().Format(time.RFC3339Nano) + "</time>")
	}
	if label != "" || desc != "" {
		o.put("\n")
		o.element(indent+" ", "name", label)
		o.element(indent+" ", "desc", desc)
		o.put(indent)
	}
	o.put("</" + name + ">\n")
}

func (o *out) fail(format string, args ...any) {
	if o.err == nil {
		o.err = fmt.Errorf("cannot write GPX: "+format, args...)
	}
}
