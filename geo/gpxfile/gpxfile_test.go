package gpxfile

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/tkrajina/gpxgo/gpx"
	"pgregory.net/rapid"

	"tautline/geo/earth"
	"tautline/geo/inputerr"
	"tautline/geo/track"
)

const head = `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">`

// refused checks that reading fails with an error that says where and what to
// do, and gives it.
func refused(t *testing.T, r io.Reader) *inputerr.Error {
	t.Helper()
	f, err := Read("race.gpx", r)
	if err == nil {
		t.Fatalf("was read: %s", outcome(f, nil))
	}
	var e *inputerr.Error
	if !errors.As(err, &e) {
		t.Fatalf("error is a %T: %v", err, err)
	}
	if e.File != "race.gpx" || e.What == "" || e.Advice == "" {
		t.Fatalf("error lacks file, cause or advice: %+v", e)
	}
	return e
}

// repeated is a reader of head, n times a middle part, and a tail, that never
// holds the whole.
func repeated(head, part string, n int, tail string) io.Reader {
	return io.MultiReader(strings.NewReader(head), &repeater{part: part, n: n}, strings.NewReader(tail))
}

type repeater struct {
	part string
	n    int
	rest string
}

func (r *repeater) Read(p []byte) (int, error) {
	if r.rest == "" {
		if r.n == 0 {
			return 0, io.EOF
		}
		r.n--
		r.rest = r.part
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}

func TestLimitsAreKept(t *testing.T) {
	const kb = 1 << 10
	for _, c := range []struct {
		name string
		file io.Reader
		want string
	}{
		{"elements nested too deep inside extensions", repeated(head+"<trk><extensions>", "<a>", 1_000_000, ""), "nested more than 32 deep"},
		{"elements nested too deep at the top", repeated(head, "<a>", 1_000_000, ""), "nested more than 32 deep"},
		{"elements nested too deep inside a height", repeated(head+`<wpt lat="1" lon="1"><ele>`, "<a>", 1_000_000, ""), "nested more than 32 deep"},
		{"one huge attribute", repeated(head+`<trk a="`, strings.Repeat("x", kb), 2*kb, `"/></gpx>`), "longer than 1024 KB"},
		{"one huge comment", repeated(head+`<!-- `, strings.Repeat("x", kb), 2*kb, `--></gpx>`), "longer than 1024 KB"},
		{"one huge text", repeated(head+`<trk><name>`, strings.Repeat("x", kb), 2*kb, `</name></trk></gpx>`), "far too long"},
		{"a huge name in many pieces", repeated(head+`<trk><name>`, strings.Repeat("x", kb)+"<!-- -->", 2*kb, `</name></trk></gpx>`), "name is far too long"},
		{"a huge height in many pieces", repeated(head+`<wpt lat="1" lon="1"><ele>`, strings.Repeat("1", kb)+"<!-- -->", 2*kb, `</ele></wpt></gpx>`), "far too long"},
		{"too many empty segments", repeated(head+`<trk>`, "<trkseg/>", MaxParts+1, `</trk></gpx>`), "more than 100000 tracks"},
		{"too many empty routes", repeated(head, "<rte/>", MaxParts+1, `</gpx>`), "more than 100000 tracks"},
		{"endless white space before the root", repeated("", strings.Repeat(" ", kb), 2*kb, head), "longer than 1024 KB"},
		{"a huge tail after the root", repeated(head+"</gpx>", strings.Repeat(" ", kb), 2*kb, ""), "longer than 1024 KB"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if e := refused(t, c.file); !strings.Contains(e.What, c.want) || e.Line == 0 {
				t.Errorf("got %v, want %q with a line", e, c.want)
			}
		})
	}
}

func TestTooManyPointsAreRefused(t *testing.T) {
	// Shortly before the limit, so that the test does not read two million.
	g := newGuard("race.gpx", strings.NewReader(head+"<trk><trkseg>\n<trkpt lat='1' lon='1'/>\n<trkpt lat='1' lon='1'/>\n</trkseg></trk></gpx>"), chunk)
	g.points = MaxPoints - 1
	if err := g.root(); err != nil {
		t.Fatal(err)
	}
	_, err := gpx.ParseDecoder(xml.NewTokenDecoder(g), nil)
	var e *inputerr.Error
	if !errors.As(err, &e) || e.What != "more than 2000000 points" || e.Line != 3 || e.Column != 1 {
		t.Errorf("got %v", err)
	}
}

func TestAFileLargerThanTheLimitIsRefused(t *testing.T) {
	// Just below the end of the limit, so that the test does not read 256 MB.
	l := &limitedReader{r: strings.NewReader("<gpx>"), total: MaxBytes - 2, token: MaxBytes - 2}
	if _, err := l.Read(make([]byte, 10)); err != errTooLarge {
		t.Errorf("got %v", err)
	}
	if _, err := l.Read(make([]byte, 10)); err != errTooLarge {
		t.Errorf("a second Read gives %v", err)
	}
}

func TestReadersThatBehaveOddly(t *testing.T) {
	file, err := os.ReadFile(filepath.Join(corpus, "fractions-and-zones.gpx"))
	if err != nil {
		t.Fatal(err)
	}
	want := outcome(Read("x.gpx", bytes.NewReader(file)))
	for name, r := range map[string]io.Reader{
		"data and EOF come together":   iotest.DataErrReader(bytes.NewReader(file)),
		"one byte at a time":           iotest.OneByteReader(bytes.NewReader(file)),
		"half of what is asked":        iotest.HalfReader(bytes.NewReader(file)),
		"one byte, then data with EOF": iotest.OneByteReader(iotest.DataErrReader(bytes.NewReader(file))),
	} {
		t.Run(name, func(t *testing.T) {
			if got := outcome(Read("x.gpx", r)); got != want {
				t.Errorf("got %s\nwant %s", got, want)
			}
		})
	}
	t.Run("a disk error in the middle", func(t *testing.T) {
		cause := errors.New("bad sector")
		e := refused(t, io.MultiReader(bytes.NewReader(file[:len(file)/2]), iotest.ErrReader(cause)))
		if !errors.Is(e, cause) || e.Line == 0 {
			t.Errorf("got %#v", e)
		}
	})
	t.Run("a disk error at the start", func(t *testing.T) {
		cause := errors.New("bad sector")
		if e := refused(t, iotest.ErrReader(cause)); !errors.Is(e, cause) {
			t.Errorf("got %#v", e)
		}
	})
}

func TestFilesThatCannotBeOpened(t *testing.T) {
	dir := t.TempDir()
	for name, c := range map[string]struct{ path, want string }{
		"a missing file": {filepath.Join(dir, "none.gpx"), "there is no such file"},
		"a folder":       {dir, "this is a folder"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Open(c.path)
			var e *inputerr.Error
			if !errors.As(err, &e) || e.What != c.want || e.File != c.path {
				t.Errorf("got %v", err)
			}
		})
	}
}

// XML Schema part 2, dateTime (W3C 2004), for the lexical form, the zone and
// 24:00:00; ISO 8601 for second 60 and the comma.
func TestTimes(t *testing.T) {
	utc := func(y int, mo time.Month, d, h, m, s, ns int) time.Time {
		return time.Date(y, mo, d, h, m, s, ns, time.UTC)
	}
	for _, c := range []struct {
		in   string
		want time.Time
		zone bool
	}{
		{"2031-05-04T09:00:00Z", utc(2031, 5, 4, 9, 0, 0, 0), true},
		{"2031-05-04t09:00:00z", utc(2031, 5, 4, 9, 0, 0, 0), true},
		{"2031-05-04 09:00:00", utc(2031, 5, 4, 9, 0, 0, 0), false},
		{"2031-05-04T09:00:00.000+02:00", utc(2031, 5, 4, 7, 0, 0, 0), true},
		{"2031-05-04T09:00:00+05:30", utc(2031, 5, 4, 3, 30, 0, 0), true},
		{"2031-05-04T09:00:00-0930", utc(2031, 5, 4, 18, 30, 0, 0), true},
		{"2031-05-04T09:00:00+02", utc(2031, 5, 4, 7, 0, 0, 0), true},
		{"2031-05-04T00:30:00+14:00", utc(2031, 5, 3, 10, 30, 0, 0), true},
		{"2031-05-04T09:00:00.5Z", utc(2031, 5, 4, 9, 0, 0, 500_000_000), true},
		{"2031-05-04T09:00:00,25Z", utc(2031, 5, 4, 9, 0, 0, 250_000_000), true},
		{"2031-05-04T09:00:00.1234567894Z", utc(2031, 5, 4, 9, 0, 0, 123_456_789), true},
		{"2031-12-31T24:00:00Z", utc(2032, 1, 1, 0, 0, 0, 0), true},
		{"2016-12-31T23:59:60Z", utc(2017, 1, 1, 0, 0, 0, 0), true},
		{"2032-02-29T00:00:00Z", utc(2032, 2, 29, 0, 0, 0, 0), true},
	} {
		got, zone, ok := parseTime([]byte(c.in))
		if !ok || !got.Equal(c.want) || zone != c.zone {
			t.Errorf("%s: got %v, zone %v, %v; want %v, zone %v", c.in, got, zone, ok, c.want, c.zone)
		}
	}
	for _, bad := range []string{
		"", "soon", "2031-05-04", "2031-05-04T09:00Z", "2031-05-04T9:00:00Z", "2031-13-04T09:00:00Z", "2031-02-29T09:00:00Z",
		"2031-05-00T09:00:00Z", "2031-05-04T25:00:00Z", "2031-05-04T24:00:01Z", "2031-05-04T24:00:00.5Z", "2031-05-04T09:60:00Z", "2031-05-04T09:00:61Z",
		"2031-05-04T09:00:00.Z", "2031-05-04T09:00:00+", "2031-05-04T09:00:00+2", "2031-05-04T09:00:00+02:0", "2031-05-04T09:00:00+15:00",
		"2031-05-04T09:00:00+02:60", "2031-05-04T09:00:00+-2:00", "2031-05-04T09:00:00Z ", "2031-05-04T09:00:00 CET", "0001-01-01T00:00:00Z", "1899-12-30T00:00:00Z",
		"-031-05-04T09:00:00Z", "20310504T090000Z", "2031-05-04X09:00:00Z", "２０31-05-04T09:00:00Z",
	} {
		if got, _, ok := parseTime([]byte(bad)); ok {
			t.Errorf("%q was read as %v", bad, got)
		}
	}
}

// Every time of the common form means what the standard library says.
func TestTimesAgreeWithTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		zone := time.FixedZone("", 60*rapid.IntRange(-14*60, 14*60).Draw(t, "zone"))
		at := time.Unix(rapid.Int64Range(-2_000_000_000, 200_000_000_000).Draw(t, "s"), rapid.Int64Range(0, 999_999_999).Draw(t, "ns")).In(zone)
		s := at.Format(time.RFC3339Nano)
		got, hasZone, ok := parseTime([]byte(s))
		if !ok || !hasZone || !got.Equal(at) || got.Location() != time.UTC {
			t.Fatalf("%s: got %v %v %v", s, got, hasZone, ok)
		}
	})
}

// aFile draws a file that can be written and read back without loss:
// coordinates with 7 decimals, heights with 3.
func aFile(t *rapid.T, most int) *File {
	fix := rapid.Custom(func(t *rapid.T) track.Fix {
		f := track.Fix{
			At: earth.LatLon{
				Lat: float64(rapid.IntRange(-900_000_000, 900_000_000).Draw(t, "lat")) / 1e7,
				Lon: float64(rapid.IntRange(-1_800_000_000, 1_800_000_000).Draw(t, "lon")) / 1e7,
			},
			Height: math.NaN(),
		}
		if rapid.Bool().Draw(t, "has height") {
			f.Height = float64(rapid.IntRange(MinHeight*1000, MaxHeight*1000).Draw(t, "height")) / 1000
		}
		if rapid.Bool().Draw(t, "has time") {
			f.Time = time.Unix(rapid.Int64Range(-2_000_000_000, 200_000_000_000).Draw(t, "s"), rapid.Int64Range(0, 999_999_999).Draw(t, "ns")).UTC()
		}
		return f
	})
	text := rapid.Map(rapid.String(), cleanText)
	f := &File{Name: rapid.Map(rapid.StringN(1, 20, -1), func(s string) string { return "n" + cleanText(s) }).Draw(t, "name")}
	for range rapid.IntRange(0, 3).Draw(t, "tracks") {
		f.Lines = append(f.Lines, track.Line{Name: text.Draw(t, "track"),
			Segments: rapid.SliceOfN(rapid.SliceOfN(fix, 1, most), 1, 4).Draw(t, "segments")})
	}
	for range rapid.IntRange(0, 3).Draw(t, "routes") {
		f.Lines = append(f.Lines, track.Line{Name: text.Draw(t, "route"), Route: true,
			Segments: [][]track.Fix{rapid.SliceOfN(fix, 1, most).Draw(t, "route points")}})
	}
	for range rapid.IntRange(0, 3).Draw(t, "waypoints") {
		f.Waypoints = append(f.Waypoints, Waypoint{fix.Draw(t, "place"), text.Draw(t, "place name"), text.Draw(t, "description")})
	}
	return f
}

// same compares with NaN equal to NaN.
func same(a, b *File) bool {
	return a.Name == b.Name && fmt.Sprint(a.Lines, a.Waypoints) == fmt.Sprint(b.Lines, b.Waypoints)
}

func TestWhatIsWrittenIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := aFile(t, 12)
		var b bytes.Buffer
		if err := Write(&b, f); err != nil {
			t.Fatal(err)
		}
		// Pieces of any size give the same: the way of reading does not show.
		piece := rapid.IntRange(1, 40).Draw(t, "piece")
		got, err := read("x.gpx", bytes.NewReader(b.Bytes()), piece)
		if err != nil {
			t.Fatal(err)
		}
		if !same(got, f) || len(got.Warnings) > 0 {
			t.Fatalf("in pieces of %d: got  %s\nwant %s", piece, outcome(got, nil), outcome(f, nil))
		}
		var again bytes.Buffer
		if err := Write(&again, got); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(b.Bytes(), again.Bytes()) {
			t.Fatalf("written again it differs:\n%s\n%s", b.Bytes(), again.Bytes())
		}
	})
}

// The pieces that a file is read in begin and end anywhere: inside a track, a
// route, between waypoints. Elements come in any order in files, and names
// after the points.
func TestPiecesDoNotShow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		n := 0
		points := func(tag string) {
			for range rapid.IntRange(0, 6).Draw(t, tag) {
				n++
				fmt.Fprintf(&b, `<%s lat="%d" lon="%d"><time>2031-05-04T09:00:%02dZ</time></%s>`, tag, n%90, n, n%60, tag)
			}
		}
		name := func() {
			if rapid.Bool().Draw(t, "named") {
				fmt.Fprintf(&b, "<name>after %d</name>", n)
			}
		}
		b.WriteString(head)
		for range rapid.IntRange(0, 6).Draw(t, "parts") {
			switch rapid.IntRange(0, 2).Draw(t, "kind") {
			case 0:
				points("wpt")
			case 1:
				b.WriteString("<rte>")
				name()
				points("rtept")
				name()
				b.WriteString("</rte>")
			case 2:
				b.WriteString("<trk>")
				name()
				for range rapid.IntRange(0, 4).Draw(t, "segments") {
					b.WriteString("<trkseg>")
					points("trkpt")
					b.WriteString("</trkseg>")
				}
				name()
				b.WriteString("</trk>")
			}
		}
		b.WriteString("</gpx>")
		whole, err := Read("x.gpx", strings.NewReader(b.String()))
		if err != nil {
			t.Fatal(err)
		}
		seen := len(whole.Waypoints)
		for _, l := range whole.Lines {
			seen += len(l.Fixes())
		}
		if seen != n {
			t.Fatalf("%d points of %d", seen, n)
		}
		for piece := 1; piece < 12; piece++ {
			got, err := read("x.gpx", strings.NewReader(b.String()), piece)
			if err != nil || !same(got, whole) {
				t.Fatalf("in pieces of %d: %s\nwhole: %s\n%s", piece, outcome(got, err), outcome(whole, nil), b.String())
			}
		}
	})
}

func TestHostileNamesAreWrittenHarmlessly(t *testing.T) {
	for _, c := range []struct{ name, want string }{
		{`</name><trk>`, `</name><trk>`},
		{"a & b \"c\" 'd' ]]>", "a & b \"c\" 'd' ]]>"},
		{"bell\x07 null\x00 escape\x1b[31m", "bell null escape[31m"},
		{"bad \xff\xfe bytes", "bad bytes"},
		{"\ufffe\uffff\u202e", ""},
		{" two\r\n lines\t", "two lines"},
		{"emoji 🏁 and é", "emoji 🏁 and é"},
	} {
		t.Run(c.want, func(t *testing.T) {
			f := &File{Name: "n", Lines: []track.Line{{Name: c.name, Segments: [][]track.Fix{{{At: earth.LatLon{Lat: 1}, Height: math.NaN()}}}}}}
			var b bytes.Buffer
			if err := Write(&b, f); err != nil {
				t.Fatal(err)
			}
			got, err := Read("x.gpx", &b)
			if err != nil {
				t.Fatal(err)
			}
			if len(got.Lines) != 1 || got.Lines[0].Name != c.want {
				t.Errorf("got %s", outcome(got, nil))
			}
		})
	}
}

func TestWriteRefusesWhatCouldNotBeRead(t *testing.T) {
	ok := track.Fix{At: earth.LatLon{Lat: 1, Lon: 1}, Height: math.NaN()}
	for name, spoil := range map[string]func(*track.Fix){
		"no latitude":           func(f *track.Fix) { f.At.Lat = math.NaN() },
		"beyond the pole":       func(f *track.Fix) { f.At.Lat = 90.1 },
		"infinite longitude":    func(f *track.Fix) { f.At.Lon = math.Inf(-1) },
		"infinite height":       func(f *track.Fix) { f.Height = math.Inf(1) },
		"height above all":      func(f *track.Fix) { f.Height = MaxHeight + 1 },
		"a year of five digits": func(f *track.Fix) { f.Time = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) },
	} {
		t.Run(name, func(t *testing.T) {
			f := ok
			spoil(&f)
			if err := Write(io.Discard, &File{Lines: []track.Line{{Segments: [][]track.Fix{{f}}}}}); err == nil {
				t.Error("was written")
			}
		})
	}
	if err := Write(io.Discard, &File{Lines: []track.Line{{Segments: [][]track.Fix{{ok}}}}}); err != nil {
		t.Error(err)
	}
}

func TestWriteReportsAFullDisk(t *testing.T) {
	full := errors.New("no space left")
	f := &File{Name: "n", Lines: []track.Line{{Segments: [][]track.Fix{make([]track.Fix, 5000)}}}}
	if err := Write(failing{full}, f); !errors.Is(err, full) {
		t.Errorf("got %v", err)
	}
	if err := Write(failing{full}, &File{Name: "short"}); !errors.Is(err, full) {
		t.Errorf("a short file: got %v", err)
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

func TestTheCourseAndTheRecordOfAFile(t *testing.T) {
	open := func(name string) *File {
		t.Helper()
		f, err := Open(filepath.Join(corpus, name))
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	t.Run("tracks that follow each other in time are one record", func(t *testing.T) {
		line, notes, err := open("several-tracks.gpx").Record()
		if err != nil || len(line.Segments) != 2 || len(line.Fixes()) != 4 || line.Name != "First" || len(notes) != 2 {
			t.Errorf("got %v, %q, %v", line, notes, err)
		}
	})
	t.Run("so they are in the wrong order in the file", func(t *testing.T) {
		f := open("several-tracks.gpx")
		f.Lines[0], f.Lines[1] = f.Lines[1], f.Lines[0]
		before := outcome(f, nil)
		line, _, err := f.Record()
		if err != nil || line.Name != "First" || len(line.Segments) != 2 || line.Segments[1][0].At.Lat != 47.501 {
			t.Errorf("got %v, %v", line, err)
		}
		if after := outcome(f, nil); after != before {
			t.Errorf("Record changed the file: %s", after)
		}
	})
	t.Run("tracks that overlap in time are records of their own", func(t *testing.T) {
		f := open("several-tracks.gpx")
		f.Lines = append(f.Lines, f.Lines[0])
		line, notes, err := f.Record()
		if err != nil || len(notes) == 0 || len(line.Fixes()) != 4 {
			t.Errorf("got %v, %q, %v", line, notes, err)
		}
	})
	t.Run("the course is the longest line", func(t *testing.T) {
		line, notes, err := open("several-tracks.gpx").Course()
		if err != nil || line.Name != "First" || len(notes) != 1 || !strings.Contains(notes[0], "“First”") {
			t.Errorf("got %v, %q, %v", line.Name, notes, err)
		}
	})
	t.Run("a route is a course without a note", func(t *testing.T) {
		line, notes, err := open("route-only.gpx").Course()
		if err != nil || !line.Route || len(notes) != 0 {
			t.Errorf("got %v, %q, %v", line, notes, err)
		}
	})
	t.Run("a route is a record only with a note", func(t *testing.T) {
		line, notes, err := open("route-only.gpx").Record()
		if err != nil || !line.Route || len(notes) != 1 {
			t.Errorf("got %v, %q, %v", line, notes, err)
		}
	})
	for name, want := range map[string]string{"waypoints-only.gpx": "holds 2 waypoints but no track", "nothing.gpx": "holds no track"} {
		t.Run(name+" has neither", func(t *testing.T) {
			f := open(name)
			_, _, err := f.Course()
			_, _, err2 := f.Record()
			for _, err := range []error{err, err2} {
				var e *inputerr.Error
				if !errors.As(err, &e) || !strings.Contains(e.What, want) || e.Advice == "" || !strings.HasSuffix(e.File, name) {
					t.Errorf("got %v", err)
				}
			}
		})
	}
}

func TestAMillionPointsAreReadInLittleMemory(t *testing.T) {
	const n = 1_000_000
	live := func() float64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return float64(m.HeapAlloc)
	}
	before := live()
	f, err := Read("x.gpx", repeated(head+"<trk><trkseg>", "<trkpt lat='1' lon='1'/>", n, "</trkseg></trk></gpx>"))
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Lines) != 1 || len(f.Lines[0].Segments) != 1 || len(f.Lines[0].Segments[0]) != n {
		t.Errorf("got %d lines", len(f.Lines))
	}
	// A fix has 48 bytes; the list that it stands in may be a quarter longer
	// than what is in it.
	per := (live() - before) / n
	runtime.KeepAlive(f)
	t.Logf("%.1f bytes a point", per)
	if per > 64 {
		t.Errorf("%.1f bytes a point stay in memory, want at most 64", per)
	}
}

func TestReadingGivesValuesOfItsOwn(t *testing.T) {
	file, err := os.ReadFile(filepath.Join(corpus, "version-1-0.gpx"))
	if err != nil {
		t.Fatal(err)
	}
	a, err := Read("x.gpx", bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	b, err := Read("x.gpx", bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	if !same(a, b) || reflect.ValueOf(a.Lines[0].Segments[0]).Pointer() == reflect.ValueOf(b.Lines[0].Segments[0]).Pointer() {
		t.Error("two readings of one file differ or share memory")
	}
}
