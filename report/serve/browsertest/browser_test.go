// Package browsertest tries the local page as people do, in a browser. It holds
// tests only, apart from those of the server because they take longer.
package browsertest

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"io/fs"
	"mime/multipart"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"tautline/report/serve"
	"tautline/strategy/demo"
)

var shared struct {
	once sync.Once
	ctx  context.Context
	stop []context.CancelFunc
	err  error
}

func TestMain(m *testing.M) {
	code := m.Run()
	for i := len(shared.stop) - 1; i >= 0; i-- {
		shared.stop[i]()
	}
	os.Exit(code)
}

// tab is a browser's tab that notes what a page asks for and complains of.
type tab struct {
	context.Context
	t        *testing.T
	mu       sync.Mutex
	requests []string
	troubles []string
}

// open gives a tab, or skips the test when there is no browser. Where tests run
// for others to rely on, a missing browser is an error.
func open(t *testing.T) *tab {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("chromium is missing")
		}
		t.Skip("chromium is not installed")
	}
	shared.once.Do(func() {
		opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.DisableGPU,
			chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
			chromedp.Flag("no-first-run", true), chromedp.Flag("disable-default-apps", true), chromedp.Flag("hide-scrollbars", true))
		if os.Geteuid() == 0 {
			opts = append(opts, chromedp.NoSandbox)
		}
		alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
		ctx, stop2 := chromedp.NewContext(alloc)
		shared.ctx, shared.stop = ctx, []context.CancelFunc{stop, stop2}
		shared.err = chromedp.Do(ctx)
	})
	if shared.err != nil {
		t.Fatal(shared.err)
	}
	ctx, shut := chromedp.NewContext(shared.ctx)
	ctx, late := context.WithTimeout(ctx, 5*time.Minute)
	t.Cleanup(func() { late(); shut() })
	b := &tab{Context: ctx, t: t}
	err = chromedp.Listen(ctx, func(ev any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch e := ev.(type) {
		case *network.EventRequestWillBeSent:
			b.requests = append(b.requests, e.Request.URL)
		case *runtime.EventExceptionThrown:
			b.troubles = append(b.troubles, fmt.Sprint(e.ExceptionDetails.Text, " ", e.ExceptionDetails.LineNumber))
			if e.ExceptionDetails.Exception != nil {
				b.troubles = append(b.troubles, e.ExceptionDetails.Exception.Description)
			}
		case *cdplog.EventEntryAdded:
			b.troubles = append(b.troubles, e.Entry.Text+" "+e.Entry.URL)
		case *runtime.EventConsoleAPICalled:
			b.troubles = append(b.troubles, fmt.Sprint("console: ", e.Type))
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	return b
}

// clean checks that the page asked for nothing beyond a prefix and complained
// of nothing.
func (b *tab) clean(prefix string) {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.requests) == 0 {
		b.t.Error("no request was seen: the test sees nothing")
	}
	for _, r := range b.requests {
		if !strings.HasPrefix(r, prefix) {
			b.t.Errorf("asked for %s", r)
		}
	}
	for _, x := range b.troubles {
		b.t.Errorf("the page complains: %s", x)
	}
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b, steps...); err != nil {
		b.t.Fatal(err)
	}
}

func eval[T any](b *tab, js string, opts ...chromedp.EvaluateOption) T {
	b.t.Helper()
	v, err := chromedp.Run(b, chromedp.Evaluate[T](js, opts...))
	if err != nil {
		b.t.Fatalf("%s: %v", js, err)
	}
	return v
}

// until waits for a condition, over navigations.
func (b *tab) until(js string) {
	b.t.Helper()
	for {
		if v, err := chromedp.Run(b, chromedp.Evaluate[bool]("!!("+js+")")); err == nil && v {
			return
		}
		if b.Err() != nil {
			body, _ := chromedp.Run(context.WithoutCancel(b), chromedp.Evaluate[string]("document.body.innerText.slice(0,400)"))
			b.t.Fatalf("%s never came true; the page says %q", js, body)
		}
		time.Sleep(20 * time.Millisecond)
	}
}

const sheetReady = `document.documentElement.dataset.ready === "yes"`

// web starts a server and gives its address.
func web(t *testing.T) string {
	t.Helper()
	s, err := serve.Listen(serve.Options{Address: "127.0.0.1:0"})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Run(ctx, io.Discard) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return s.URL()
}

func read(t *testing.T, name string) []byte {
	t.Helper()
	b, err := fs.ReadFile(demo.Files(), name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// post sends a form of values and files, whose keys are field/name, and gives
// the address of the session that it began.
func post(t *testing.T, url string, values map[string]string, files map[string][]byte) string {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for k, v := range values {
		_ = m.WriteField(k, v) // writing into memory cannot fail
	}
	for k, v := range files {
		field, name, _ := strings.Cut(k, "/")
		p, _ := m.CreateFormFile(field, name)
		_, _ = p.Write(v)
	}
	_ = m.Close()
	res, err := http.Post(url, m.FormDataContentType(), &b)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	if body, _ := io.ReadAll(res.Body); res.StatusCode != http.StatusOK {
		t.Fatalf("%s gave %d: %.500s", url, res.StatusCode, body)
	}
	return res.Request.URL.String()
}

// get reads what an address answers.
func get(t *testing.T, url string) []byte {
	t.Helper()
	res, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		t.Fatalf("%s gave %d, %v", url, res.StatusCode, err)
	}
	return b
}

func saved(t *testing.T, name string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, read(t, name), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestTheDemoIsOneClick(t *testing.T) {
	t.Parallel()
	b := open(t)
	url := web(t)
	b.do(chromedp.Navigate(url))
	began := time.Now()
	b.do(chromedp.Click(`form[action="/demo/last"] button`))
	b.until(sheetReady)
	t.Logf("ready %d ms after the click", time.Since(began).Milliseconds())
	if got := eval[string](b, `document.querySelector("h1").textContent`); got != "Velmarrow Lantern 10" {
		t.Errorf("the race is %q", got)
	}
	if n := eval[int](b, `document.querySelectorAll("svg.strip").length`); n != 10 {
		t.Errorf("%d strips", n)
	}
	if n := eval[int](b, `document.querySelectorAll(".worst li").length`); n != 3 {
		t.Errorf("%d turns to run better", n)
	}
	b.clean(url)
}

func TestPointingAtOneDrawingShowsThePlaceInAll(t *testing.T) {
	t.Parallel()
	b := open(t)
	url := web(t)
	b.do(chromedp.EmulateViewport(1440, 1000), chromedp.Navigate(url), chromedp.Click(`form[action="/demo/last"] button`))
	b.until(sheetReady)
	eval[bool](b, `document.querySelectorAll("svg.strip")[1].scrollIntoView({block: "center"}), true`)
	at := eval[[]float64](b, `(() => { const s = document.querySelectorAll("svg.strip")[1].getBoundingClientRect(); return [s.left + 88, s.top + s.height / 2]; })()`)
	b.do(chromedp.MouseEvent("mouseMoved", at[0], at[1]))
	b.until(`document.getElementById("readout").textContent.startsWith("1.50 km")`)
	b.until(`document.querySelectorAll("svg.strip .cursor.on").length === 1 && document.querySelectorAll("svg.strip")[1].querySelector(".cursor.on")`)
	x := eval[string](b, `document.querySelector(".wide svg.profile .cursor").getAttribute("transform")`)
	// The other way round: the slider by keyboard, then the profile.
	b.do(chromedp.Focus("#at"), chromedp.KeyEvent("\ue014"))
	eval[bool](b, `(() => { const r = document.getElementById("at"); r.value = 5000; r.dispatchEvent(new Event("input", {bubbles: true})); return true; })()`)
	b.until(`document.getElementById("readout").textContent.startsWith("5.00 km")`)
	if y := eval[string](b, `document.querySelector(".wide svg.profile .cursor").getAttribute("transform")`); x == y || !strings.HasPrefix(y, "translate(") {
		t.Errorf("the cursor of the profile went from %q to %q", x, y)
	}
	if here := eval[float64](b, `+document.querySelector("svg.overview .here").getAttribute("cx")`); here < 0 {
		t.Error("the overview does not show the place")
	}
	eval[bool](b, `document.querySelector('#turn-5 .go').click(), true`)
	b.until(`document.getElementById("readout").textContent.includes("in turn 5 ")`)
	if !eval[bool](b, `document.getElementById("turn-5").classList.contains("here")`) {
		t.Error("the table does not show the turn")
	}
	// In miles nothing stays in metres.
	eval[bool](b, `(() => { const s = document.querySelector("select[name=units]"); s.value = "mi"; s.form.requestSubmit(); return true; })()`)
	b.until(sheetReady + ` && document.getElementById("readout").textContent.includes(" mi ")`)
	for _, at := range []int{0, 1200, 5000} {
		eval[bool](b, fmt.Sprintf(`(() => { const r = document.getElementById("at"); r.value = %d; r.dispatchEvent(new Event("input", {bubbles: true})); return true; })()`, at))
		b.until(fmt.Sprintf(`document.getElementById("readout").textContent.startsWith("%.2f mi")`, float64(at)/1609.344))
		if told := eval[string](b, `document.getElementById("readout").textContent`); regexp.MustCompile(`\d m\b`).MatchString(told) || !strings.Contains(told, " ft ") {
			t.Errorf("at %d m the page says %q", at, told)
		}
	}
	b.clean(url)
}

func TestUploadedFilesAreReviewedAndAChangeOfTheRoadIsSeen(t *testing.T) {
	t.Parallel()
	b := open(t)
	url := web(t)
	form := `form:has(input[value="last"]) `
	b.do(chromedp.Navigate(url),
		chromedp.SetUploadFiles(form+`input[name="course"]`, []string{saved(t, demo.CourseFile)}),
		chromedp.SetUploadFiles(form+`input[name="record"]`, []string{saved(t, "careful.gpx")}),
		chromedp.SetUploadFiles(form+`input[name="sheet"]`, []string{saved(t, demo.SheetFile)}),
		chromedp.SendKeys(form+`input[name="watch"]`, "10.05 km"),
		chromedp.Click(form+`button.main`))
	b.until(sheetReady)
	if ms := eval[float64](b, `performance.getEntriesByType("navigation")[0].domContentLoadedEventEnd`); !(ms > 0) {
		t.Error("no load time")
	} else {
		t.Logf("page ready %.0f ms after it was asked for", ms)
	}
	figure := `[...document.querySelectorAll(".figures li")].find(e => e.textContent.includes("really run")).querySelector("strong").textContent`
	before := eval[string](b, figure)
	b.do(chromedp.Focus(`#settings input[name="width"]`), chromedp.SendKeys(`#settings input[name="width"]`, "6 m\r"))
	b.until(`document.getElementById("changes") && ` + sheetReady)
	after := eval[string](b, figure)
	if before == after {
		t.Errorf("the distance run is %s on both roads", after)
	}
	if said := eval[string](b, `document.getElementById("changes").textContent`); !strings.Contains(said, "was "+before) {
		t.Errorf("the page says %q of a change from %s to %s", said, before, after)
	}
	if v := eval[string](b, `document.querySelector('#settings input[name="width"]').value`); v != "6 m" {
		t.Errorf("the width on the form is %q", v)
	}
	// A mistake is told in place.
	b.do(chromedp.SendKeys(`#settings input[name="radius"]`, "round\r"))
	b.until(`document.getElementById("problem") && ` + sheetReady)
	if v := eval[string](b, `document.querySelector(".bad input").value`); v != "round" {
		t.Errorf("the mistake on the form is %q", v)
	}
	b.clean(url)
}

func TestFilesAreSaved(t *testing.T) {
	t.Parallel()
	b := open(t)
	url := web(t)
	dir := t.TempDir()
	if _, err := chromedp.CallBrowser(b, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: dir}); err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.Navigate(url), chromedp.Click(`form[action="/demo/next"] button`))
	b.until(sheetReady)
	n := eval[int](b, `document.querySelectorAll(".downloads a").length`)
	if n != 6 {
		t.Fatalf("%d files are offered", n)
	}
	for i := range n {
		eval[bool](b, fmt.Sprintf(`document.querySelectorAll(".downloads a")[%d].click(), true`, i))
		for {
			if got, _ := filepath.Glob(filepath.Join(dir, "velmarrow-lantern-10-*.*")); len(got) > i && !strings.Contains(strings.Join(got, " "), "crdownload") {
				break
			}
			if b.Err() != nil {
				got, _ := os.ReadDir(dir)
				t.Fatalf("the files are %v", got)
			}
			time.Sleep(20 * time.Millisecond)
		}
	}
	for name, begins := range map[string]string{"page.html": "<!DOCTYPE html>", "pace-band.html": "<!DOCTYPE html>", "splits.csv": "athlete,mark", "race.toml": "name =", "line.gpx": "<?xml", "marks.gpx": "<?xml"} {
		got, err := os.ReadFile(filepath.Join(dir, "velmarrow-lantern-10-"+name))
		if err != nil || !bytes.HasPrefix(got, []byte(begins)) {
			t.Errorf("%s begins %.30q, %v", name, got, err)
		}
	}
}

func TestTheSavedPageWorksFromDiskAlone(t *testing.T) {
	t.Parallel()
	b := open(t)
	page := get(t, post(t, web(t)+"demo/last", nil, nil)+"/files/page.html")
	if len(page) > 2<<20 {
		t.Errorf("the page has %d bytes", len(page))
	}
	name := filepath.Join(t.TempDir(), "page.html")
	if err := os.WriteFile(name, page, 0o600); err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.EmulateViewport(1440, 1000), chromedp.Navigate("file://"+name))
	b.until(sheetReady)
	if w := eval[float64](b, `document.querySelector("#plan").width`); w < 200 {
		t.Errorf("the plan is %v px wide", w)
	}
	b.clean("file://" + name)
	// The policy holds: code that is added is not run.
	eval[bool](b, `(() => { const s = document.createElement("script"); s.textContent = "document.title = 'changed'"; document.body.appendChild(s); return true; })()`)
	if eval[string](b, "document.title") == "changed" {
		t.Error("foreign code ran in the page")
	}
}

func TestNothingOverlapsOrIsCut(t *testing.T) {
	t.Parallel()
	b := open(t)
	url := web(t)
	pages := []string{url}
	for _, task := range []string{"last", "next", "measuring"} {
		pages = append(pages, post(t, url+"demo/"+task, nil, nil))
	}
	pages = append(pages, post(t, post(t, url+"demo/last", nil, nil), map[string]string{"settings": "yes", "units": "mi"}, nil))
	for _, width := range []int64{390, 820, 1440} {
		for _, page := range pages {
			b.do(chromedp.EmulateViewport(width, 1000), chromedp.Navigate(page))
			if page != url {
				b.until(sheetReady)
			}
			if over := eval[float64](b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); over > 0 {
				t.Errorf("%s is %v px wider than a screen of %d px", page, over, width)
			}
			for _, fault := range eval[[]string](b, faults) {
				t.Errorf("%d px, %s: %s", width, page, fault)
			}
		}
	}
	b.clean(url)
}

// faults finds labels of a drawing that overlap, leave the drawing or are too
// small to be read.
const faults = `(() => {
  const out = [];
  for (const svg of document.querySelectorAll("main svg")) {
    const box = svg.getBoundingClientRect();
    if (!box.width || !box.height) continue;
    const labels = [...svg.querySelectorAll("text")].map(e => ({ e, r: e.getBoundingClientRect() })).filter(l => l.r.width);
    const name = svg.getAttribute("class") + " “";
    for (const { e, r } of labels) {
      if (r.left < box.left - 1.5 || r.right > box.right + 1.5 || r.top < box.top - 3 || r.bottom > box.bottom + 3) out.push(name + e.textContent + "” is cut");
      if (r.height < 8.5) out.push(name + e.textContent + "” is " + r.height.toFixed(1) + " px high");
    }
    for (let i = 0; i < labels.length; i++) for (let j = i + 1; j < labels.length; j++) {
      const a = labels[i].r, b = labels[j].r, x = Math.min(a.right, b.right) - Math.max(a.left, b.left), y = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (x > 2 && y > 0.35 * Math.min(a.height, b.height)) out.push(name + labels[i].e.textContent + "” lies over “" + labels[j].e.textContent + "”");
    }
  }
  return out.slice(0, 12);
})()`

func TestThePageIsPrinted(t *testing.T) {
	t.Parallel()
	b := open(t)
	url := web(t)
	b.do(chromedp.Navigate(post(t, url+"demo/last", nil, nil)))
	b.until(sheetReady)
	// On paper nothing is left out: every row that the screen has is there.
	b.do(chromedp.Click("#turn-5 .go"))
	b.until(`document.querySelector("tr.here")`)
	if _, err := chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}); err != nil {
		t.Fatal(err)
	}
	if n := eval[int](b, `[...document.querySelectorAll("tr, .strip, .plate, .worst li, .cautions li")].filter(e => getComputedStyle(e).display === "none").length`); n != 0 {
		t.Errorf("%d rows or drawings are not printed", n)
	}
	b.onPaper("a review")
	if _, err := chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{}); err != nil {
		t.Fatal(err)
	}
	for name, size := range map[string]chromedp.PaperSize{"A4": {Width: 8.27, Height: 11.69}, "letter": chromedp.PaperLetter} {
		pdf, err := chromedp.Run(b, chromedp.PrintToPDF(chromedp.PDFPaper(size), chromedp.PDFPrintBackground()))
		if err != nil {
			t.Fatal(err)
		}
		pages := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1))
		if !bytes.HasPrefix(pdf, []byte("%PDF")) || pages < 2 || pages > 9 {
			t.Errorf("%s gave %d bytes on %d pages", name, len(pdf), pages)
		}
	}
	b.clean(url)
}

func TestTheFormsWorkWithoutScript(t *testing.T) {
	t.Parallel()
	url := web(t)
	for _, page := range []string{url, post(t, url+"demo/last", nil, nil)} {
		body := string(get(t, page))
		for _, form := range regexp.MustCompile(`(?s)<form[^>]*>.*?</form>`).FindAllString(body, -1) {
			if !strings.Contains(form, `method="post"`) || !regexp.MustCompile(`action="/(work|demo)`).MatchString(form) || !regexp.MustCompile(`<button(?: class="main")?>`).MatchString(form) {
				t.Errorf("a form cannot be sent without script: %.200s", form)
			}
			if strings.Contains(form, `type="file"`) && !strings.Contains(form, `enctype="multipart/form-data"`) {
				t.Errorf("a form would not send its files: %.200s", form)
			}
		}
	}
}

func TestEveryControlAndDrawingHasAName(t *testing.T) {
	t.Parallel()
	b := open(t)
	url := web(t)
	for _, page := range []string{url, post(t, url+"demo/last", nil, nil)} {
		b.do(chromedp.Navigate(page))
		for _, bad := range eval[[]string](b, `(() => { const out = [];
  for (const e of document.querySelectorAll("button, input:not([type=hidden]), select, a, summary, canvas, svg[role]")) {
    const name = (e.getAttribute("aria-label") || (e.labels && [...e.labels].map(l => l.textContent).join(" ")) || e.textContent || "").trim();
    if (!name) out.push(e.outerHTML.slice(0, 120));
  }
  const levels = [...document.querySelectorAll("h1, h2, h3")].map(e => +e.tagName[1]);
  if (levels.filter(l => l === 1).length !== 1) out.push("there is not one first heading");
  const seen = {}; for (const e of document.querySelectorAll("[id]")) { if (seen[e.id]) out.push("two things are called " + e.id); seen[e.id] = true; }
  return out; })()`) {
			t.Errorf("%s: %s", page, bad)
		}
	}
	b.clean(url)
}
