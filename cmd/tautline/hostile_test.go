package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"tautline/geo/track"
)

var updateAnswers = flag.Bool("update-answers", false, "write testdata/answers.txt anew")

// answer carries out a command line and says in one line how it ended: the exit
// status and the first line that the user reads.
func answer(t *testing.T, args ...string) (status int, stdout, first string) {
	t.Helper()
	var out, errs bytes.Buffer
	status = run(context.Background(), args, strings.NewReader(""), &out, &errs)
	shown := out.String()
	if status != exitDone {
		if shown != "" {
			t.Errorf("%v: status %d, and yet a result:\n%s", args, status, shown)
		}
		shown = errs.String()
	}
	first, _, _ = strings.Cut(shown, "\n")
	return status, shown, first
}

// Every file of the corpus is drawn as a course, and reviewed as a record of
// itself; what the user then reads is stated in testdata/answers.txt.
func TestTheCorpusHasItsStatedAnswers(t *testing.T) {
	t.Setenv("COLUMNS", "80")
	golden, err := filepath.Abs(filepath.Join("testdata", "answers.txt"))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(filepath.Join("..", "..", "testdata", "gpx"))
	files, err := filepath.Glob("*.gpx")
	if err != nil || len(files) < 50 {
		t.Fatalf("%d files in the corpus (%v)", len(files), err)
	}
	var got strings.Builder
	got.WriteString("# What the program answers to each file of testdata/gpx: the exit status and the\n" +
		"# first line, as a course and as a record of itself. Written anew by\n" +
		"# go test ./cmd/tautline -run Corpus -update-answers; read the difference.\n\n")
	for _, name := range files {
		status, _, first := answer(t, "line", name)
		fmt.Fprintf(&got, "%s | line: %d %s\n", name, status, first)
		status, _, first = answer(t, "review", name, name)
		fmt.Fprintf(&got, "%s | review: %d %s\n", name, status, first)
	}
	if *updateAnswers {
		if err := os.WriteFile(golden, []byte(got.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		t.Skip("written; run again without -update-answers to compare")
	}
	stated, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	want, have := strings.Split(string(stated), "\n"), strings.Split(got.String(), "\n")
	for i := range max(len(want), len(have)) {
		var w, h string
		if i < len(want) {
			w = want[i]
		}
		if i < len(have) {
			h = have[i]
		}
		if w != h {
			t.Fatalf("line %d of answers.txt\n got %s\nwant %s", i+1, h, w)
		}
	}
}

// A whole race, written in every odd way that GPX allows, gives the same review
// as written plainly; where it cannot, the answer says why.
func TestARaceWrittenOddlyIsReviewedTheSame(t *testing.T) {
	s := scenes()[1]
	course, record := plainGPX(s.course), plainGPX(s.record)
	plain := reviewFiles(t, course, record)
	if plain.status != exitDone || plain.Share < 0.9 || !(plain.Ran.Value > 500) {
		t.Fatalf("the plain files: %+v", plain)
	}
	replace := func(old, new string) func(string) string {
		return func(x string) string {
			if !strings.Contains(x, old) {
				t.Fatalf("no %q in the file", old)
			}
			return strings.ReplaceAll(x, old, new)
		}
	}
	const space = ` xmlns="http://www.topografix.com/GPX/1/1"`
	tags := regexp.MustCompile(`<(/?)(gpx|trk|trkseg|trkpt|ele|time)\b`)
	points := regexp.MustCompile(`(?s)<trkpt.*?</trkpt>`)
	turned := func(x string) string {
		all := points.FindAllString(x, -1)
		at := len(all)
		return points.ReplaceAllStringFunc(x, func(string) string { at--; return all[at] })
	}
	every := func(n int, with string) func(string) string {
		return func(x string) string {
			i := 0
			return points.ReplaceAllStringFunc(x, func(p string) string {
				if i++; i%n == 0 {
					return p + with
				}
				return p
			})
		}
	}
	zoned := func(x string) string {
		east := time.FixedZone("", 5*3600+1800)
		return regexp.MustCompile(`<time>(.*?)</time>`).ReplaceAllStringFunc(x, func(m string) string {
			at, err := time.Parse(time.RFC3339Nano, m[6:len(m)-7])
			if err != nil {
				t.Fatal(err)
			}
			return "<time>" + at.In(east).Format("2006-01-02T15:04:05.000000-07:00") + "</time>"
		})
	}
	encode := func(how func(string) (string, error), declared string) func(string) string {
		return func(x string) string {
			b, err := how(strings.Replace(x, `encoding="UTF-8"`, `encoding="`+declared+`"`, 1))
			if err != nil {
				t.Fatal(err)
			}
			return b
		}
	}
	within := func(inner string) func(string) string {
		return replace("</trkpt>", "<extensions>"+inner+"</extensions></trkpt>")
	}
	same := func(x string) string { return x }
	for _, c := range []struct {
		name           string
		course, record func(string) string
		refused        string // what the message holds; "" when it gives the same
	}{
		{"written plainly", same, same, ""},
		{"as GPX 1.0", replace(`version="1.1"`+space, `version="1.0" xmlns="http://www.topografix.com/GPX/1/0"`), replace(`version="1.1"`+space, `version="1.0" xmlns="http://www.topografix.com/GPX/1/0"`), ""},
		{"without a namespace", replace(space, ""), replace(space, ""), ""},
		{"with a prefix", same, func(x string) string {
			return strings.Replace(tags.ReplaceAllString(x, "<${1}way:$2"), `xmlns=`, `xmlns:way=`, 1)
		}, ""},
		{"with elements of others", same, within(`<o:heart xmlns:o="urn:example:o">140</o:heart>`), ""},
		{"with extensions nested twenty deep", same, within(strings.Repeat("<a>", 20) + strings.Repeat("</a>", 20)), ""},
		{"with extensions nested a hundred deep", same, within(strings.Repeat("<a>", 100) + strings.Repeat("</a>", 100)), "nested more than 32 deep"},
		{"with an attribute of 500 KB", same, replace("<trk>", `<trk note="`+strings.Repeat("x", 500<<10)+`">`), ""},
		{"with an attribute of 2 MB", same, replace("<trk>", `<trk note="`+strings.Repeat("x", 2<<20)+`">`), "longer than 1024 KB"},
		{"in many segments", every(4, "</trkseg><trkseg>"), every(5, "</trkseg><trkseg>"), ""},
		{"in many tracks that follow each other", same, every(9, "</trkseg></trk><trk><trkseg>"), ""},
		{"the course as a route", func(x string) string {
			return strings.NewReplacer("trkpt", "rtept", "<trkseg>", "", "</trkseg>", "", "<trk>", "<rte>", "</trk>", "</rte>").Replace(x)
		}, same, ""},
		{"the course as waypoints", func(x string) string {
			return strings.NewReplacer("trkpt", "wpt", "<trkseg>", "", "</trkseg>", "", "<trk>", "", "</trk>", "").Replace(x)
		}, same, "waypoints but no track and no route"},
		{"in UTF-8 with a byte order mark", replace("<?xml", "\ufeff<?xml"), replace("<?xml", "\ufeff<?xml"), ""},
		{"in Latin-1", same, encode(charmap.ISO8859_1.NewEncoder().String, "ISO-8859-1"), ""},
		{"in UTF-16", same, encode(unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String, "UTF-16"), "save it as UTF-8"},
		{"with fractions and zones in the times", same, zoned, ""},
		{"with the record from its last fix to its first", same, turned, ""},
		{"with the course from its finish to its start", turned, same, "from its finish to its start"},
		{"with every fix twice", same, func(x string) string { return points.ReplaceAllString(x, "$0$0") }, ""},
		{"with every point of the course twice", func(x string) string { return points.ReplaceAllString(x, "$0$0") }, same, ""},
		{"with a course that stands still", func(x string) string {
			return regexp.MustCompile(`lat="[^"]*" lon="[^"]*"`).ReplaceAllString(x, `lat="47" lon="11"`)
		}, same, "fewer than two different points"},
		{"with a record that stands still", same, func(x string) string {
			return regexp.MustCompile(`lat="[^"]*" lon="[^"]*"`).ReplaceAllString(x, `lat="47" lon="11"`)
		}, "does not follow the course"},
		{"cut off", same, func(x string) string { return x[:len(x)*2/3] }, "the file is cut off"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := reviewFiles(t, c.course(course), c.record(record))
			if c.refused != "" {
				if got.status != exitInput || !strings.Contains(got.first, c.refused) || !strings.Contains(got.first, ".gpx") {
					t.Errorf("status %d, %s; want 1 and a file with %q", got.status, got.first, c.refused)
				}
				return
			}
			if got.status != exitDone {
				t.Fatalf("status %d, %s", got.status, got.first)
			}
			// In one sum for another order of the same numbers.
			if math.Abs(got.Ran.Value-plain.Ran.Value) > 1e-3 || math.Abs(got.Watch-plain.Watch) > 1e-3 || math.Abs(got.Ran.High-plain.Ran.High) > 2e-3 || *got.Time != *plain.Time {
				t.Errorf("%+v\nplainly %+v", got, plain)
			}
		})
	}
}

// The same race elsewhere on earth: the map's rounding apart, nothing changes
// at the antimeridian. At a pole a degree of longitude is no length, so there
// the race is only drawn, and its account must hold.
func TestARaceAcrossTheAntimeridianAndAtThePole(t *testing.T) {
	s := scenes()[1]
	plain := reviewFiles(t, plainGPX(s.course), plainGPX(s.record))
	shift := func(fixes []track.Fix, lat, lon float64) (out []track.Fix) {
		for _, f := range fixes {
			f.At.Lat, f.At.Lon = f.At.Lat+lat, math.Remainder(f.At.Lon+lon, 360)
			out = append(out, f)
		}
		return out
	}
	mid := s.course[len(s.course)/2].At
	course := shift(s.course, 0, 180-mid.Lon)
	west, east := 0, 0
	for _, f := range course {
		if f.At.Lon < 0 {
			west++
		} else {
			east++
		}
	}
	if west == 0 || east == 0 {
		t.Fatal("the course does not cross the antimeridian")
	}
	got := reviewFiles(t, plainGPX(course), plainGPX(shift(s.record, 0, 180-mid.Lon)))
	if got.status != exitDone || math.Abs(got.Ran.Value-plain.Ran.Value) > 0.05 || math.Abs(got.Watch-plain.Watch) > 0.05 {
		t.Errorf("across the antimeridian %+v\nelsewhere %+v", got, plain)
	}
	got = reviewFiles(t, plainGPX(shift(s.course, 89.5-mid.Lat, 0)), plainGPX(shift(s.record, 89.5-mid.Lat, 0)))
	if got.status != exitDone || !(got.Share > 0.5) || !(got.Ran.Low <= got.Ran.Value && got.Ran.Value <= got.Ran.High) {
		t.Errorf("near the pole %+v", got)
	}
}

// plainGPX writes fixes as most programs do.
func plainGPX(fixes []track.Fix) string {
	var b strings.Builder
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n" + `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" creator="test"><trk><trkseg>` + "\n")
	for _, f := range fixes {
		fmt.Fprintf(&b, `<trkpt lat="%.9f" lon="%.9f">`, f.At.Lat, f.At.Lon)
		if f.HasHeight() {
			fmt.Fprintf(&b, "<ele>%.1f</ele>", f.Height)
		}
		if f.HasTime() {
			b.WriteString("<time>" + f.Time.UTC().Format(time.RFC3339Nano) + "</time>")
		}
		b.WriteString("</trkpt>\n")
	}
	b.WriteString("</trkseg></trk></gpx>\n")
	return b.String()
}

// reviewed is a part of what review --json prints.
type reviewed struct {
	status int
	first  string
	Ran    struct{ Value, Low, High float64 } `json:"ran_m"`
	Watch  float64                            `json:"watch_m"`
	Share  float64                            `json:"matched_share"`
	Time   *float64                           `json:"time_s"`
}

func reviewFiles(t *testing.T, course, record string) reviewed {
	t.Helper()
	dir := t.TempDir()
	a, b := filepath.Join(dir, "course.gpx"), filepath.Join(dir, "record.gpx")
	for path, data := range map[string]string{a: course, b: record} {
		if err := os.WriteFile(path, []byte(data), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var r reviewed
	status, out, first := answer(t, "review", "--json", a, b)
	if status == exitDone {
		if err := json.Unmarshal([]byte(out), &r); err != nil {
			t.Fatal(err)
		}
	}
	r.status, r.first = status, first
	return r
}
