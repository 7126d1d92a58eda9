package browsertest

import (
	"bytes"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/paulmach/orb"

	"tautline/geo/gpxfile"
	"tautline/geo/track"
	"tautline/report/serve"
	"tautline/strategy/demo"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

const marathonSheet = "laps = 8\nofficial = \"40 km\"\nname = \"Eight Laps of Velmarrow\"\n"

// marathon is a slow run of eight laps of the demo's town: 40 km in five and a
// half hours at a fix a second, wandering about the line. It is made once.
var marathon = sync.OnceValues(func() ([]byte, error) {
	course, err := demo.Files().Open(demo.CourseFile)
	if err != nil {
		return nil, err
	}
	defer course.Close()
	f, err := gpxfile.Read(demo.CourseFile, course)
	if err != nil {
		return nil, err
	}
	s, err := sheet.Read("race.toml", []byte(marathonSheet))
	if err != nil {
		return nil, err
	}
	r, err := race.Prepare(demo.CourseFile, f, s)
	if err != nil {
		return nil, err
	}
	var fixes []track.Fix
	rng := rand.New(rand.NewPCG(7, 1))
	var east, north float64
	began := time.Date(2027, 4, 18, 9, 30, 0, 0, time.UTC)
	for i := 0; float64(2*i) < r.Line.Length; i++ {
		east, north = 0.97*east+0.4*rng.NormFloat64(), 0.97*north+0.4*rng.NormFloat64()
		p := r.Line.PointAt(float64(2 * i))
		at := r.Course.Plane.From(orb.Point{p[0] + east, p[1] + north})
		at.Lat, at.Lon = math.Round(at.Lat*1e6)/1e6, math.Round(at.Lon*1e6)/1e6
		fixes = append(fixes, track.Fix{At: at, Height: math.NaN(), Time: began.Add(time.Duration(i) * time.Second)})
	}
	var b bytes.Buffer
	err = gpxfile.Write(&b, &gpxfile.File{Name: "eight laps", Lines: []track.Line{{Name: "eight laps", Segments: [][]track.Fix{fixes}}}})
	return b.Bytes(), err
})

func TestAMarathonWithTwentyThousandFixesFitsAndMovesSmoothly(t *testing.T) {
	rec, err := marathon()
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(rec, []byte("<trkpt")); n < 19000 {
		t.Fatalf("the record has only %d fixes", n)
	}
	url := web(t)
	began := time.Now()
	at := post(t, url+"work", map[string]string{"task": "last"}, map[string][]byte{"course/course.gpx": read(t, demo.CourseFile), "record/eight.gpx": rec, "sheet/race.toml": []byte(marathonSheet)})
	t.Logf("from upload to page in %d ms", time.Since(began).Milliseconds())
	page := get(t, at+"/files/page.html")
	t.Logf("%d fixes, page of %d kB", bytes.Count(rec, []byte("<trkpt")), len(page)>>10)
	if len(page) > 2<<20 {
		t.Errorf("the page has %d bytes", len(page))
	}
	b := open(t)
	b.do(chromedp.EmulateViewport(1440, 1000), chromedp.Navigate(at))
	b.until(sheetReady)
	// Frames while the pointer runs along a strip, while the plan is dragged
	// close by, and while it is dragged with the whole course in view.
	for _, c := range []struct{ name, start, move string }{
		{"pointing along a strip", `const s = document.querySelectorAll("svg.strip")[2]; s.scrollIntoView({block: "center"});`,
			`const r = s.getBoundingClientRect(); s.dispatchEvent(new PointerEvent("pointermove", {bubbles: true, clientX: r.left + 88, clientY: r.top + 30 + (i * 7) % 400}))`},
		{"moving the plan close by", `const s = document.getElementById("plan"); s.setPointerCapture = () => {}; s.dispatchEvent(new PointerEvent("pointerdown", {bubbles: true, pointerId: 1, clientX: 100, clientY: 100}));`,
			`s.dispatchEvent(new PointerEvent("pointermove", {bubbles: true, pointerId: 1, clientX: 100 + 60 * Math.sin(i / 9), clientY: 100 + 60 * Math.cos(i / 7)}))`},
		{"moving the plan of the whole course", `const s = document.getElementById("plan"); s.setPointerCapture = () => {}; for (let k = 0; k < 14; k++) document.getElementById("farther").click(); s.dispatchEvent(new PointerEvent("pointerdown", {bubbles: true, pointerId: 1, clientX: 100, clientY: 100}));`,
			`s.dispatchEvent(new PointerEvent("pointermove", {bubbles: true, pointerId: 1, clientX: 100 + 60 * Math.sin(i / 9), clientY: 100 + 60 * Math.cos(i / 7)}))`},
	} {
		ms := eval[float64](b, fmt.Sprintf(`new Promise(done => { %s
  let i = 0, began = 0; const frame = now => { if (i === 5) began = now; if (i === 65) { done((now - began) / 60); return; } i++; %s; requestAnimationFrame(frame); }; requestAnimationFrame(frame); })`, c.start, c.move), chromedp.EvalAwaitPromise)
		t.Logf("%s: %.1f ms a frame, %.0f frames a second", c.name, ms, 1000/ms)
		if ms <= 0 {
			t.Errorf("%s: nothing was measured", c.name)
		}
	}
	if out := os.Getenv("TAUTLINE_SAMPLES"); out != "" {
		if err := os.WriteFile(filepath.Join(out, "marathon.html"), page, 0o600); err != nil {
			t.Error(err)
		}
	}
	b.clean(url)
}

// BenchmarkMarathonReview is from the upload to the page, as one client sees
// it.
func BenchmarkMarathonReview(b *testing.B) {
	rec, err := marathon()
	if err != nil {
		b.Fatal(err)
	}
	course, err := fs.ReadFile(demo.Files(), demo.CourseFile)
	if err != nil {
		b.Fatal(err)
	}
	s, err := serve.Listen(serve.Options{Address: "127.0.0.1:0"})
	if err != nil {
		b.Fatal(err)
	}
	h := s.Handler()
	for b.Loop() {
		var form bytes.Buffer
		m := multipart.NewWriter(&form)
		_ = m.WriteField("task", "last")
		for k, v := range map[string][]byte{"course": course, "record": rec, "sheet": []byte(marathonSheet)} {
			p, _ := m.CreateFormFile(k, k)
			_, _ = p.Write(v)
		}
		_ = m.Close()
		r := httptest.NewRequest("POST", "http://127.0.0.1/work", &form)
		r.Header.Set("Content-Type", m.FormDataContentType())
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		to := w.Header().Get("Location")
		w = httptest.NewRecorder()
		if h.ServeHTTP(w, httptest.NewRequest("GET", "http://127.0.0.1"+to, nil)); w.Code != http.StatusOK {
			b.Fatalf("gave %d", w.Code)
		}
	}
}
