package serve

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"tautline/geo/inputerr"
	"tautline/strategy/demo"
	"tautline/strategy/quantity"
)

func newServer(t *testing.T, o Options) *Server {
	t.Helper()
	if o.Address == "" {
		o.Address = "127.0.0.1:0"
	}
	s, err := Listen(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = s.listener.Close()
		if s.root != nil {
			_ = s.root.Close()
		}
	})
	return s
}

// ask sends one request to the handler.
func ask(s *Server, method, target string, body io.Reader, set ...func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://127.0.0.1:7426"+target, body)
	r.Host = "127.0.0.1:7426"
	for _, f := range set {
		f(r)
	}
	w := httptest.NewRecorder()
	s.Handler().ServeHTTP(w, r)
	return w
}

func header(name, value string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set(name, value) }
}

func host(name string) func(*http.Request) { return func(r *http.Request) { r.Host = name } }

func read(t *testing.T, name string) []byte {
	t.Helper()
	b, err := fs.ReadFile(demo.Files(), name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// upload makes a form of values and files; a file's key is field/name.
func upload(t *testing.T, values map[string]string, files map[string][]byte) (io.Reader, func(*http.Request)) {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for k, v := range values {
		if err := m.WriteField(k, v); err != nil {
			t.Fatal(err)
		}
	}
	for k, v := range files {
		field, name, _ := strings.Cut(k, "/")
		p, err := m.CreateFormFile(field, name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.Write(v); err != nil {
			t.Fatal(err)
		}
	}
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	return &b, header("Content-Type", m.FormDataContentType())
}

// begun posts a form and gives the path of the session that it began.
func begun(t *testing.T, s *Server, target string, values map[string]string, files map[string][]byte) string {
	t.Helper()
	body, kind := upload(t, values, files)
	w := ask(s, "POST", target, body, kind)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("%s gave %d: %s", target, w.Code, w.Body)
	}
	return w.Header().Get("Location")
}

func TestOnlyRequestsToThisMachineAreAnswered(t *testing.T) {
	s := newServer(t, Options{})
	for _, c := range []struct {
		host string
		want int
	}{
		{"127.0.0.1:7426", 200}, {"localhost:7426", 200}, {"LOCALHOST", 200}, {"[::1]:7426", 200}, {"127.0.0.1", 200},
		{"rebound.example:7426", 421}, {"127.0.0.1.rebound.example", 421}, {"localhost.rebound.example:80", 421}, {"", 421}, {"192.0.2.1:7426", 421},
	} {
		if w := ask(s, "GET", "/", nil, host(c.host)); w.Code != c.want {
			t.Errorf("host %q gave %d, want %d", c.host, w.Code, c.want)
		}
	}
	before := s.store.count()
	if w := ask(s, "POST", "/demo/last", nil, host("rebound.example")); w.Code != 421 || s.store.count() != before {
		t.Errorf("a post to a foreign name gave %d and %d sessions", w.Code, s.store.count())
	}
}

func TestOtherSitesCannotPost(t *testing.T) {
	s := newServer(t, Options{})
	for _, c := range []struct {
		name string
		set  func(*http.Request)
		want int
	}{
		{"from another site", header("Sec-Fetch-Site", "cross-site"), 403},
		{"from another port of the site", header("Sec-Fetch-Site", "same-site"), 403},
		{"from a foreign origin", header("Origin", "http://elsewhere.example"), 403},
		{"from no origin", header("Origin", "null"), 403},
		{"from the page itself", header("Sec-Fetch-Site", "same-origin"), 303},
		{"from a command line", func(*http.Request) {}, 303},
	} {
		if w := ask(s, "POST", "/demo/measuring", nil, c.set); w.Code != c.want {
			t.Errorf("%s: %d, want %d", c.name, w.Code, c.want)
		}
	}
	for _, target := range []string{"/demo/last", "/work"} {
		if w := ask(s, "GET", target, nil); w.Code != http.StatusMethodNotAllowed {
			t.Errorf("GET %s gave %d", target, w.Code)
		}
	}
}

// inlineCode finds scripts and styles that stand in a page.
var inlineCode = regexp.MustCompile(`(?i)<script(?:\s+type="text/javascript")?>|<style|\sstyle=|\son[a-z]+=|javascript:`)

func TestServedPagesHoldNoCodeAndAskNoOtherServer(t *testing.T) {
	s := newServer(t, Options{})
	targets := []string{"/", "/work/unknown"}
	for _, task := range []string{"last", "next", "measuring"} {
		targets = append(targets, begun(t, s, "/demo/"+task, nil, nil))
	}
	foreign := regexp.MustCompile(`(?i)(?:src|href|action)="(?:[a-z]+:)?//`)
	for _, target := range targets {
		w := ask(s, "GET", target, nil)
		policy := w.Header().Get("Content-Security-Policy")
		if !strings.Contains(policy, "default-src 'none'") || !strings.Contains(policy, "frame-ancestors 'none'") || strings.Contains(policy, "unsafe") {
			t.Errorf("%s: policy %q", target, policy)
		}
		if w.Header().Get("X-Content-Type-Options") != "nosniff" || w.Header().Get("Referrer-Policy") != "no-referrer" || w.Header().Get("Cache-Control") != "no-store" {
			t.Errorf("%s lacks a header: %v", target, w.Header())
		}
		if m := inlineCode.FindString(w.Body.String()); m != "" {
			t.Errorf("%s holds code of its own: %q", target, m)
		}
		if m := foreign.FindString(w.Body.String()); m != "" {
			t.Errorf("%s names another server: %q", target, m)
		}
	}
	for name := range static() {
		if w := ask(s, "GET", name, nil); w.Code != 200 || w.Body.Len() == 0 {
			t.Errorf("%s gave %d, %d bytes", name, w.Code, w.Body.Len())
		}
	}
}

func TestTooMuchIsRefusedBeforeItIsRead(t *testing.T) {
	s := newServer(t, Options{})
	s.limits = limits{upload: 1 << 20, file: 600 << 10}
	big := bytes.Repeat([]byte("x"), 700<<10)
	for name, files := range map[string]map[string][]byte{
		"one file":  {"course/c.gpx": big},
		"the whole": {"course/c.gpx": big[:550<<10], "record/r.gpx": big[:550<<10]},
	} {
		body, kind := upload(t, map[string]string{"task": "last"}, files)
		if w := ask(s, "POST", "/work", body, kind); w.Code != http.StatusRequestEntityTooLarge {
			t.Errorf("%s too large gave %d", name, w.Code)
		}
	}
	long := strings.NewReader("task=" + strings.Repeat("y", 2<<20))
	if w := ask(s, "POST", "/work", long, header("Content-Type", "application/x-www-form-urlencoded")); w.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("a long form gave %d", w.Code)
	}
	many := map[string]string{"task": "last"}
	for i := range maxParts + 1 {
		many[fmt.Sprint(i)] = "x"
	}
	body, kind := upload(t, many, nil)
	if w := ask(s, "POST", "/work", body, kind); w.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("many parts gave %d", w.Code)
	}
	if n := s.store.count(); n != 0 {
		t.Errorf("%d sessions were begun", n)
	}
}

func TestFormsThatAreNoFormsAreRefused(t *testing.T) {
	s := newServer(t, Options{})
	for _, c := range []struct{ kind, body string }{
		{"multipart/form-data", "x"},
		{"multipart/form-data; boundary=a", "--a\r\nbroken"},
		{"application/x-www-form-urlencoded", "task=nothing"},
		{"application/x-www-form-urlencoded", "%zz"},
		{"", ""},
	} {
		if w := ask(s, "POST", "/work", strings.NewReader(c.body), header("Content-Type", c.kind)); w.Code != http.StatusBadRequest {
			t.Errorf("%q %q gave %d", c.kind, c.body, w.Code)
		}
	}
}

func TestOldSessionsMakeRoom(t *testing.T) {
	st := newStore()
	now := time.Unix(1e9, 0)
	st.now = func() time.Time { now = now.Add(time.Second); return now }
	var all []*session
	for range maxSessions + 5 {
		x := &session{}
		st.add(x)
		all = append(all, x)
	}
	if n := st.count(); n != maxSessions {
		t.Errorf("%d sessions, want %d", n, maxSessions)
	}
	if st.get(all[0].ID) != nil || st.get(all[len(all)-1].ID) == nil {
		t.Error("the newest went instead of the oldest")
	}
	st.sized(all[len(all)-1], maxHeld-10)
	st.sized(all[len(all)-2], 100)
	if st.get(all[len(all)-1].ID) != nil && st.get(all[len(all)-2].ID) != nil && st.count() > 2 {
		held := 0
		for _, x := range st.all {
			held += x.held
		}
		if held > maxHeld {
			t.Errorf("%d bytes are held", held)
		}
	}
	now = now.Add(idle + time.Minute)
	if st.get(all[len(all)-2].ID) != nil || st.count() != 0 {
		t.Errorf("%d idle sessions are held", st.count())
	}
	seen := map[string]bool{}
	for range 50 {
		x := &session{}
		st.add(x)
		if len(x.ID) < 20 || seen[x.ID] {
			t.Fatalf("the name %q can be guessed", x.ID)
		}
		seen[x.ID] = true
	}
}

func TestNoPathOfARequestReachesTheDisk(t *testing.T) {
	dir := t.TempDir()
	outside := filepath.Join(dir, "outside.txt")
	if err := os.WriteFile(outside, []byte("outside"), 0o600); err != nil {
		t.Fatal(err)
	}
	keep := filepath.Join(dir, "kept")
	if err := os.Mkdir(keep, 0o755); err != nil {
		t.Fatal(err)
	}
	s := newServer(t, Options{Keep: keep})
	hostile := strings.Replace(string(read(t, demo.CourseFile)), "<name>", "<name>../../../up ", 1)
	path := begun(t, s, "/work", map[string]string{"task": "measuring"}, map[string][]byte{"course/..\\..\\c.gpx": []byte(hostile), "sheet/../r.toml": []byte("name = \"../../../up\"\n")})
	if w := ask(s, "GET", path, nil); w.Code != 200 {
		t.Fatalf("the work gave %d: %s", w.Code, w.Body)
	}
	for _, name := range []string{"..%2f..%2foutside.txt", "..%2foutside.txt", "%2fetc%2fpasswd", "..", "outside.txt", "page.html%00"} {
		if w := ask(s, "GET", path+"/files/"+name, nil); w.Code == 200 {
			t.Errorf("%s was answered", name)
		}
	}
	for _, target := range []string{"/static/", "/static/../serve.go", "/assets/app.js", "/static/home.tmpl"} {
		if w := ask(s, "GET", target, nil); w.Code == 200 {
			t.Errorf("%s was answered", target)
		}
	}
	found, err := filepath.Glob(filepath.Join(keep, "*", "*"))
	if err != nil || len(found) < 4 {
		t.Errorf("kept only %v, %v", found, err)
	}
	above, err := os.ReadDir(dir)
	if err != nil || len(above) != 2 {
		t.Errorf("beside the folder there is %v, %v", above, err)
	}
	// A name in the folder that leads out of it is not followed.
	link := filepath.Join(keep, filepath.Base(filepath.Dir(found[0])))
	if err := os.RemoveAll(link); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(dir, link); err != nil {
		t.Skip("no symbolic links here")
	}
	body, kind := upload(t, map[string]string{"settings": "yes", "width": "7 m"}, nil)
	if w := ask(s, "POST", path, body, kind); w.Code != http.StatusSeeOther {
		t.Fatalf("the change gave %d", w.Code)
	}
	if above, err := os.ReadDir(dir); err != nil || len(above) != 2 {
		t.Errorf("a link was followed: %v, %v", above, err)
	}
	if !strings.Contains(ask(s, "GET", path, nil).Body.String(), "cannot be kept") {
		t.Error("nobody is told that the result was not kept")
	}
}

func TestNothingIsWrittenUnlessAskedFor(t *testing.T) {
	tmp := t.TempDir()
	t.Setenv("TMPDIR", tmp)
	s := newServer(t, Options{})
	pad := append(read(t, demo.CourseFile), bytes.Repeat([]byte(" "), 3<<20)...) // more than a form reader holds by default is not needed to spill
	begun(t, s, "/work", map[string]string{"task": "measuring"}, map[string][]byte{"course/c.gpx": pad})
	if left, err := os.ReadDir(tmp); err != nil || len(left) != 0 {
		t.Errorf("left on disk: %v, %v", left, err)
	}
}

func TestKeptFilesAreThoseThatCanBeSaved(t *testing.T) {
	keep := t.TempDir()
	s := newServer(t, Options{Keep: keep})
	path := begun(t, s, "/demo/next", nil, nil)
	id := strings.TrimPrefix(path, "/work/")
	x := s.store.get(id)
	if len(x.res.downloads) < 6 {
		t.Fatalf("only %d files", len(x.res.downloads))
	}
	for _, d := range x.res.downloads {
		b, err := os.ReadFile(filepath.Join(keep, x.kept, d.Name))
		if err != nil {
			t.Error(err)
			continue
		}
		w := ask(s, "GET", path+"/files/"+d.Name, nil)
		if !bytes.Equal(b, w.Body.Bytes()) || len(b) == 0 {
			t.Errorf("%s: %d bytes kept, %d sent", d.Name, len(b), w.Body.Len())
		}
		_, at, err := mime.ParseMediaType(w.Header().Get("Content-Disposition"))
		if err != nil || at["filename"] != "velmarrow-lantern-10-"+d.Name {
			t.Errorf("%s is sent as %q, %v", d.Name, at["filename"], err)
		}
	}
	second := begun(t, s, "/demo/next", nil, nil)
	if y := s.store.get(strings.TrimPrefix(second, "/work/")); y.kept == x.kept {
		t.Error("two sessions keep their results in one folder")
	}
}

func TestHostileNamesAreTextEverywhere(t *testing.T) {
	s := newServer(t, Options{})
	const name = `<script>alert(1)</script><img src=x onerror=alert(2)>"'&=HYPERLINK("http://elsewhere.example")`
	inXML := strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(name)
	rename := func(b []byte) []byte {
		return regexp.MustCompile(`<name>[^<]*</name>`).ReplaceAllLiteral(b, []byte("<name>"+inXML+"</name>"))
	}
	course, rec := rename(read(t, demo.CourseFile)), rename(read(t, "wide.gpx"))
	if !bytes.Contains(course, []byte("&lt;script&gt;")) {
		t.Fatal("the course has no name to change")
	}
	toml := "laps = 2\nname = '''" + strings.ReplaceAll(name, "'", "") + "'''\n[[aid]]\nat = \"2 km\"\nname = '''" + strings.ReplaceAll(name, "'", "") + "'''\n"
	for _, task := range []string{"last", "next", "measuring"} {
		path := begun(t, s, "/work", map[string]string{"task": task, "goal": "45:00", "athlete": `=1+1<b>`, "official": "10 km"}, map[string][]byte{
			`course/"><script>alert(3)<script>.gpx`: course, "record/r<b>.gpx": rec, "sheet/s<b>.toml": []byte(toml),
		})
		page := ask(s, "GET", path, nil)
		if page.Code != 200 {
			t.Fatalf("%s gave %d: %.600s", task, page.Code, page.Body)
		}
		files := map[string]string{"the page": page.Body.String()}
		x := s.store.get(strings.TrimPrefix(path, "/work/"))
		for _, d := range x.res.downloads {
			w := ask(s, "GET", path+"/files/"+d.Name, nil)
			files[d.Name] = w.Body.String()
			if at := w.Header().Get("Content-Disposition"); strings.ContainsAny(at, "<>'&\r\n") || !regexp.MustCompile(`^attachment; filename="?[a-z0-9.-]+"?$`).MatchString(at) {
				t.Errorf("%s is sent as %q", d.Name, at)
			}
		}
		for what, text := range files {
			if strings.Contains(what, "toml") || strings.Contains(what, "json") && !strings.Contains(what, "html") {
				continue // data formats that no browser takes for a page
			}
			for _, bad := range []string{"<script>alert", "<img", "onerror=alert(2)>", "<b>"} {
				if !strings.HasSuffix(what, ".csv") && strings.Contains(text, bad) {
					t.Errorf("%s: %s holds %q", task, what, bad)
				}
			}
			if strings.HasSuffix(what, ".csv") && regexp.MustCompile(`(?m)(^|,)"?[=+@]`).MatchString(text) {
				t.Errorf("%s: %s holds a formula", task, what)
			}
		}
	}
}

func TestAProblemIsShownInPlaceAndKeepsWhatWasEntered(t *testing.T) {
	s := newServer(t, Options{})
	course := read(t, demo.CourseFile)
	for _, c := range []struct {
		name   string
		values map[string]string
		files  map[string][]byte
		field  string
		says   string
	}{
		{"no record", map[string]string{"task": "last", "official": "9.9 km"}, map[string][]byte{"course/hill.gpx": course}, "record", "a record is needed"},
		{"no course", map[string]string{"task": "measuring"}, nil, "course", "a course is needed"},
		{"a width that is none", map[string]string{"task": "measuring", "width": "wide"}, map[string][]byte{"course/hill.gpx": course}, "width", "wide"},
		{"a road of 300 m", map[string]string{"task": "measuring", "width": "300"}, map[string][]byte{"course/hill.gpx": course}, "width", "road, kerb to kerb: \"300\" is out of range"},
		{"a road of less than nothing", map[string]string{"task": "measuring", "width": "-3"}, map[string][]byte{"course/hill.gpx": course}, "width", "road, kerb to kerb: \"-3\" is negative"},
		{"a corner of less than nothing", map[string]string{"task": "measuring", "radius": "-3"}, map[string][]byte{"course/hill.gpx": course}, "radius", "corner radius: \"-3\" is negative"},
		{"a distance that is none", map[string]string{"task": "measuring", "official": "far"}, map[string][]byte{"course/hill.gpx": course}, "official", "official distance: \"far\""},
		{"no GPX", map[string]string{"task": "measuring"}, map[string][]byte{"course/hill.gpx": []byte("hello")}, "course", "hill.gpx"},
		{"a sheet with an unknown word", map[string]string{"task": "measuring"}, map[string][]byte{"course/hill.gpx": course, "sheet/s.toml": []byte("lapps = 2\n")}, "sheet", "s.toml:1"},
		{"a sheet that asks for a file", map[string]string{"task": "measuring"}, map[string][]byte{"course/hill.gpx": course, "sheet/s.toml": []byte("kerbs = \"passwd\"\n")}, "sheet", "passwd"},
		{"a goal that is none", map[string]string{"task": "next", "goal": "soon"}, map[string][]byte{"course/hill.gpx": course}, "goal", "soon"},
		{"the record of another race", map[string]string{"task": "last"}, map[string][]byte{"course/hill.gpx": course, "record/other.gpx": elsewhere()}, "record", "other.gpx"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := begun(t, s, "/work", c.values, c.files)
			w := ask(s, "GET", path, nil)
			if w.Code != http.StatusUnprocessableEntity {
				t.Errorf("gave %d", w.Code)
			}
			x := s.store.get(strings.TrimPrefix(path, "/work/"))
			if x.problem == nil || x.problem.Field != c.field || !strings.Contains(x.problem.What, c.says) {
				t.Errorf("the problem is %+v, want one of %s that says %q", x.problem, c.field, c.says)
			}
			if field := c.field; c.values[field] != "" && !regexp.MustCompile(`<label class="bad">[^<]*<input name="`+field+`"`).MatchString(w.Body.String()) {
				t.Errorf("the field %s is not marked", field)
			}
			for k, v := range c.values {
				if k != "task" && !strings.Contains(w.Body.String(), `value="`+v+`"`) {
					t.Errorf("%s %q was not kept", k, v)
				}
			}
			if len(c.files) > 0 && !strings.Contains(w.Body.String(), "hill.gpx") {
				t.Error("the course was not kept")
			}
		})
	}
	// What was given stays: the missing file alone completes the work.
	path := begun(t, s, "/work", map[string]string{"task": "last", "official": "5 km"}, map[string][]byte{"course/hill.gpx": course})
	body, kind := upload(t, map[string]string{"settings": "yes"}, map[string][]byte{"record/r.gpx": read(t, "wide.gpx")})
	ask(s, "POST", path, body, kind)
	if w := ask(s, "GET", path, nil); w.Code != 200 || !strings.Contains(w.Body.String(), "Watch ledger") {
		t.Errorf("the completed work gave %d", w.Code)
	}
}

// elsewhere is a record far from the demo race.
func elsewhere() []byte {
	var b strings.Builder
	b.WriteString(`<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>`)
	for i := range 200 {
		fmt.Fprintf(&b, `<trkpt lat="%.6f" lon="10"><time>2027-04-18T09:%02d:%02dZ</time></trkpt>`, 1+float64(i)*1e-4, i/60, i%60)
	}
	b.WriteString(`</trkseg></trk></gpx>`)
	return []byte(b.String())
}

func TestAChangeOfTheRoadChangesTheFigures(t *testing.T) {
	s := newServer(t, Options{})
	path := begun(t, s, "/demo/measuring", nil, nil)
	x := s.store.get(strings.TrimPrefix(path, "/work/"))
	before := x.res.laid.Line.Length
	body, kind := upload(t, map[string]string{"settings": "yes", "width": "6 m"}, nil)
	ask(s, "POST", path, body, kind)
	if after := x.res.laid.Line.Length; !(after > before+5) {
		t.Errorf("a road 2 m narrower made the line %.1f m, from %.1f m", after, before)
	}
	if page := ask(s, "GET", path, nil).Body.String(); !strings.Contains(page, "shortest legal line: ") || !strings.Contains(page, ", was "+quantity.Distance(before, quantity.Metric)) {
		t.Error("the page does not say what has changed")
	}
	// A mistake leaves the drawing and says so.
	body, kind = upload(t, map[string]string{"settings": "yes", "width": "-3"}, nil)
	ask(s, "POST", path, body, kind)
	if page := ask(s, "GET", path, nil); page.Code != 200 || !strings.Contains(page.Body.String(), "is from before") || !strings.Contains(page.Body.String(), `value="-3"`) {
		t.Errorf("after a mistake the page gave %d without the drawing or the entry", page.Code)
	}
	body, kind = upload(t, map[string]string{"settings": "yes", "width": ""}, nil)
	ask(s, "POST", path, body, kind)
	if after := x.res.laid.Line.Length; after != before {
		t.Errorf("with the width taken back the line is %.3f m, was %.3f m", after, before)
	}
}

func TestARestrictionDrawnOnTheStripIsInTheSheet(t *testing.T) {
	s := newServer(t, Options{})
	path := begun(t, s, "/demo/measuring", nil, nil)
	x := s.store.get(strings.TrimPrefix(path, "/work/"))
	before := x.res.laid.Line.Length
	post := func(target string, values map[string]string) {
		t.Helper()
		body, kind := upload(t, values, nil)
		if w := ask(s, "POST", path+target, body, kind); w.Code != http.StatusSeeOther {
			t.Fatalf("%s gave %d: %s", target, w.Code, w.Body)
		}
	}
	post("/closure", map[string]string{"from": "1200", "to": "1600", "use": "right half", "lap": "every"})
	if x.problem != nil {
		t.Fatal(x.problem)
	}
	restricted := x.res.laid.Line.Length
	if !(restricted > before+1) {
		t.Errorf("a closed half made the line %.1f m, from %.1f m", restricted, before)
	}
	saved := ask(s, "GET", path+"/files/race.toml", nil).Body.Bytes()
	if !bytes.Contains(saved, []byte(`"right half"`)) {
		t.Errorf("the sheet does not have it:\n%s", saved)
	}
	// The saved sheet gives the same line again.
	again := begun(t, s, "/work", map[string]string{"task": "measuring"}, map[string][]byte{"course/course.gpx": read(t, demo.CourseFile), "sheet/race.toml": saved})
	if y := s.store.get(strings.TrimPrefix(again, "/work/")); y.res == nil || y.res.laid.Line.Length != restricted {
		t.Errorf("the saved sheet gives %+v", y.problem)
	}
	for name, values := range map[string]map[string]string{
		"nowhere":       {"from": "x", "to": "y", "use": "right half"},
		"NaN":           {"from": "NaN", "to": "NaN", "use": "right half"},
		"off the end":   {"from": "100", "to": "99999", "use": "right half"},
		"too short":     {"from": "100", "to": "100.5", "use": "right half"},
		"over a lap":    {"from": "4900", "to": "5200", "use": "right half"},
		"unknown use":   {"from": "1700", "to": "1900", "use": "upside down"},
		"contradiction": {"from": "1300", "to": "1500", "use": "left half", "lap": "every"},
	} {
		post("/closure", values)
		if x.problem == nil || x.problem.Field != "closure" || x.res.laid.Line.Length != restricted || len(x.in.Closures) != 1 {
			t.Errorf("%s: problem %+v, %d closures", name, x.problem, len(x.in.Closures))
		}
	}
	post("/open", map[string]string{"number": "0"})
	if got := x.res.laid.Line.Length; got != before || x.problem != nil {
		t.Errorf("with it taken away the line is %.3f m, was %.3f m; %+v", got, before, x.problem)
	}
	body, kind := upload(t, map[string]string{"number": "7"}, nil)
	if w := ask(s, "POST", path+"/open", body, kind); w.Code != http.StatusBadRequest {
		t.Errorf("taking away what is not there gave %d", w.Code)
	}
}

func TestSeveralUploadsAtOnce(t *testing.T) {
	s := newServer(t, Options{})
	web := httptest.NewServer(s.Handler())
	defer web.Close()
	course, rec := read(t, demo.CourseFile), read(t, "careful.gpx")
	var all sync.WaitGroup
	for i := range 8 {
		all.Go(func() {
			var b bytes.Buffer
			m := multipart.NewWriter(&b)
			_ = m.WriteField("task", "last")
			_ = m.WriteField("width", fmt.Sprint(6+i))
			for k, v := range map[string][]byte{"course": course, "record": rec, "sheet": []byte("laps = 2\n")} {
				p, _ := m.CreateFormFile(k, k)
				_, _ = p.Write(v)
			}
			_ = m.Close()
			res, err := http.Post(web.URL+"/work", m.FormDataContentType(), &b)
			if err != nil {
				t.Error(err)
				return
			}
			defer res.Body.Close()
			page, err := io.ReadAll(res.Body)
			if err != nil || res.StatusCode != 200 || !strings.Contains(string(page), fmt.Sprintf(`value="%d"`, 6+i)) {
				t.Errorf("upload %d gave %d, %v", i, res.StatusCode, err)
			}
		})
	}
	all.Wait()
	if n := s.store.count(); n != 8 {
		t.Errorf("%d sessions", n)
	}
}

func TestAClientThatGoesAwayEndsItsWork(t *testing.T) {
	s := newServer(t, Options{})
	began, ended := make(chan struct{}), make(chan error, 1)
	s.work = func(ctx context.Context, _ *input, say func(string)) (*result, *Problem, error) {
		say("digging")
		close(began)
		<-ctx.Done()
		ended <- ctx.Err()
		return nil, nil, ctx.Err()
	}
	web := httptest.NewServer(s.Handler())
	defer web.Close()
	ctx, leave := context.WithCancel(context.Background())
	defer leave()
	req, err := http.NewRequestWithContext(ctx, "POST", web.URL+"/demo/last", strings.NewReader("ticket=0123456789"))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	gone := make(chan error, 1)
	go func() {
		res, err := http.DefaultClient.Do(req)
		if err == nil {
			_ = res.Body.Close()
		}
		gone <- err
	}()
	<-began
	var told map[string]string
	if err := json.Unmarshal(ask(s, "GET", "/progress/0123456789", nil).Body.Bytes(), &told); err != nil || told["doing"] != "digging" {
		t.Errorf("the progress says %v, %v", told, err)
	}
	leave()
	if err := <-gone; !errors.Is(err, context.Canceled) {
		t.Errorf("the client got %v", err)
	}
	select {
	case err := <-ended:
		if !errors.Is(err, context.Canceled) {
			t.Errorf("the work ended with %v", err)
		}
	case <-time.After(time.Minute):
		t.Fatal("the work goes on without its client")
	}
	for i := 0; len(s.working)+len(s.waiting) > 0; i++ {
		if i > 6000 {
			t.Fatal("its place is still taken")
		}
		time.Sleep(10 * time.Millisecond)
	}
	if n := s.store.count(); n != 0 {
		t.Errorf("%d sessions were begun", n)
	}
	if got := s.tickets.read("0123456789"); got != "" {
		t.Errorf("the ticket still says %q", got)
	}
}

func TestTooMuchWorkIsTurnedAway(t *testing.T) {
	s := newServer(t, Options{})
	let := make(chan struct{})
	s.work = func(context.Context, *input, func(string)) (*result, *Problem, error) {
		<-let
		return nil, &Problem{"", "done"}, nil
	}
	var all sync.WaitGroup
	for range maxWaiting {
		all.Go(func() { ask(s, "POST", "/demo/last", nil) })
	}
	for len(s.waiting) < maxWaiting || len(s.working) < maxWorking {
		time.Sleep(time.Millisecond)
	}
	if w := ask(s, "POST", "/demo/last", nil); w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") == "" {
		t.Errorf("gave %d", w.Code)
	}
	if len(s.working) != maxWorking {
		t.Errorf("%d are worked on at once", len(s.working))
	}
	close(let)
	all.Wait()
	if w := ask(s, "POST", "/demo/last", nil); w.Code != http.StatusSeeOther {
		t.Errorf("afterwards it gave %d", w.Code)
	}
}

func TestAnErrorInTheProgramIsToldAndSurvived(t *testing.T) {
	s := newServer(t, Options{})
	s.work = func(context.Context, *input, func(string)) (*result, *Problem, error) { panic("a slip") }
	path := begun(t, s, "/demo/last", nil, nil)
	if w := ask(s, "GET", path, nil); !strings.Contains(w.Body.String(), "an error in the program") {
		t.Errorf("the page says %s", w.Body)
	}
	if w := ask(s, "GET", "/", nil); w.Code != 200 {
		t.Errorf("afterwards the first page gave %d", w.Code)
	}
}

func TestForgettingASession(t *testing.T) {
	s := newServer(t, Options{})
	path := begun(t, s, "/demo/last", nil, nil)
	if w := ask(s, "GET", path+"/forget", nil); w.Code != http.StatusMethodNotAllowed {
		t.Errorf("a GET forgot: %d", w.Code)
	}
	ask(s, "POST", path+"/forget", nil)
	if w := ask(s, "GET", path, nil); w.Code != http.StatusNotFound || s.store.count() != 0 {
		t.Errorf("afterwards it gave %d", w.Code)
	}
}

func TestAnAddressInUseIsAClearError(t *testing.T) {
	s := newServer(t, Options{})
	_, err := Listen(Options{Address: s.listener.Addr().String()})
	var in *inputerr.Error
	if !errors.As(err, &in) || !strings.Contains(in.What, "in use") || in.Advice == "" {
		t.Errorf("the error is %v", err)
	}
	for _, address := range []string{"nowhere", "127.0.0.1:99999", "192.0.2.1:0", "0.0.0.0:0", ":0", "[::]:0"} {
		if _, err := Listen(Options{Address: address}); !errors.As(err, &in) {
			t.Errorf("%s: %v", address, err)
		}
	}
	if _, err := Listen(Options{Address: "127.0.0.1:0", Keep: filepath.Join(t.TempDir(), "missing")}); !errors.As(err, &in) || in.File == "" {
		t.Errorf("a missing folder: %v", err)
	}
}

func TestSlowClientsAreCutOff(t *testing.T) {
	s := newServer(t, Options{})
	srv := s.server(t.Context())
	for name, limit := range map[string]time.Duration{"header": srv.ReadHeaderTimeout, "request": srv.ReadTimeout, "answer": srv.WriteTimeout, "idle": srv.IdleTimeout} {
		if limit <= 0 || limit > 3*time.Minute {
			t.Errorf("the limit of the %s is %v", name, limit)
		}
	}
	if srv.WriteTimeout <= patience {
		t.Error("an answer is cut off before the work is given up")
	}
	// One that never ends its header is let go, with a limit made short.
	srv.ReadHeaderTimeout = 50 * time.Millisecond
	go func() { _ = srv.Serve(s.listener) }()
	defer srv.Close()
	c, err := net.Dial("tcp", s.listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := io.WriteString(c, "GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"); err != nil {
		t.Fatal(err)
	}
	if err := c.SetReadDeadline(time.Now().Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadAll(c); err != nil {
		t.Errorf("the connection stays open: %v", err)
	}
}

func TestAnInterruptLetsWorkUnderWayEnd(t *testing.T) {
	s, err := Listen(Options{Address: "127.0.0.1:0"})
	if err != nil {
		t.Fatal(err)
	}
	began := make(chan struct{})
	s.work = func(ctx context.Context, in *input, say func(string)) (*result, *Problem, error) {
		close(began)
		time.Sleep(200 * time.Millisecond)
		return work(ctx, in, say)
	}
	ctx, interrupt := context.WithCancel(context.Background())
	stopped := make(chan error, 1)
	var log bytes.Buffer
	go func() { stopped <- s.Run(ctx, &log) }()
	answered := make(chan error, 1)
	go func() {
		res, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}).Post(s.URL()+"demo/measuring", "", nil)
		if err == nil {
			_ = res.Body.Close()
			if res.StatusCode != http.StatusSeeOther {
				err = fmt.Errorf("status %d", res.StatusCode)
			}
		}
		answered <- err
	}()
	<-began
	interrupt()
	if err := <-answered; err != nil {
		t.Errorf("the work under way got %v", err)
	}
	if err := <-stopped; err != nil {
		t.Errorf("the end gave %v", err)
	}
	if c, err := net.DialTimeout("tcp", s.listener.Addr().String(), time.Second); err == nil {
		_ = c.Close()
		t.Error("it still listens")
	}
	if !strings.Contains(log.String(), "stopping") {
		t.Errorf("it says %q", log.String())
	}
}
