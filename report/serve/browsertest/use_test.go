package browsertest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tautline/strategy/demo"
)

func TestARestrictionIsDrawnByDraggingAlongAStrip(t *testing.T) {
	t.Parallel()
	b := open(t)
	url := web(t)
	b.do(chromedp.EmulateViewport(1440, 1000), chromedp.Navigate(post(t, url+"demo/measuring", nil, nil)))
	b.until(sheetReady)
	before := eval[string](b, `document.querySelector(".figures strong").textContent`)
	eval[bool](b, `document.getElementById("closures").open = true`)
	b.do(chromedp.Click("#draw"))
	eval[bool](b, `document.querySelectorAll("svg.strip")[1].scrollIntoView({block: "center"}), true`)
	at := eval[[]float64](b, `(() => { const s = document.querySelectorAll("svg.strip")[1], r = s.getBoundingClientRect(); return [r.left + 88, r.top + r.height * .7, r.top + r.height * .3]; })()`)
	b.do(chromedp.DragAndDropXY(at[0], at[1], at[0], at[2], 8))
	b.until(`+document.querySelector("#closure [name=from]").value > 1000 && +document.querySelector("#closure [name=to]").value < 2000`)
	long := eval[float64](b, `document.querySelector("#closure [name=to]").value - document.querySelector("#closure [name=from]").value`)
	// Four tenths of a drawing of 490 px with 440 px to the kilometre.
	if long < 400 || long > 490 {
		t.Errorf("the restriction is %v m long", long)
	}
	b.do(chromedp.Click("#closure button.main"))
	b.until(`document.getElementById("changes") && ` + sheetReady)
	if after := eval[string](b, `document.querySelector(".figures strong").textContent`); after == before {
		t.Errorf("the line is %s with and without half the road", after)
	}
	if !eval[bool](b, `document.querySelectorAll("svg.strip")[1].querySelector(".shut") !== null`) {
		t.Error("the strip map does not show the closed half")
	}
	b.do(chromedp.Click(`#closures li button`))
	b.until(`document.querySelectorAll("#closures li").length === 0 && ` + sheetReady)
	if after := eval[string](b, `document.querySelector(".figures strong").textContent`); after != before {
		t.Errorf("the line is %s, was %s", after, before)
	}
	b.clean(url)
}

func TestLongWorkTellsHowFarItIsAndCanBeCancelled(t *testing.T) {
	t.Parallel()
	b := open(t)
	url := web(t)
	rec, err := marathon()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	files := map[string][]byte{"course.gpx": read(t, demo.CourseFile), "record.gpx": rec, "race.toml": []byte(marathonSheet)}
	for name, content := range files {
		if err := os.WriteFile(filepath.Join(dir, name), content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	form := `form:has(input[value="last"]) `
	b.do(chromedp.Navigate(url),
		chromedp.SetUploadFiles(form+`input[name="course"]`, []string{filepath.Join(dir, "course.gpx")}),
		chromedp.SetUploadFiles(form+`input[name="record"]`, []string{filepath.Join(dir, "record.gpx")}),
		chromedp.SetUploadFiles(form+`input[name="sheet"]`, []string{filepath.Join(dir, "race.toml")}),
		chromedp.SendKeys(form+`input[name="watch"]`, "40.5 km"))
	// The button is pressed as soon as it is there.
	said := eval[string](b, `new Promise((done, never) => {
  const busy = document.getElementById("busy"), trouble = document.getElementById("trouble");
  new MutationObserver(() => { if (!busy.hidden) document.getElementById("cancel").click(); }).observe(busy, {attributes: true});
  new MutationObserver(() => { if (!trouble.hidden) done(trouble.textContent); }).observe(trouble, {attributes: true, childList: true});
  setTimeout(() => never(new Error("nothing was cancelled")), 15000);
  document.querySelector('form:has(input[value="last"]) button.main').click(); })`, chromedp.EvalAwaitPromise)
	if !strings.HasPrefix(said, "Cancelled.") {
		t.Errorf("the page says %q", said)
	}
	if kept := eval[string](b, `document.querySelector('form:has(input[value="last"]) input[name="watch"]').value + document.querySelector('form:has(input[value="last"]) input[name="record"]').files.length`); kept != "40.5 km1" {
		t.Errorf("of what was entered %q is left", kept)
	}
	b.clean(url)
}

func TestFilesCanBeDropped(t *testing.T) {
	t.Parallel()
	b := open(t)
	url := web(t)
	b.do(chromedp.Navigate(url))
	got := eval[string](b, `(() => {
  const drop = document.querySelector(".drop"), data = new DataTransfer();
  data.items.add(new File(["<gpx/>"], "dropped.gpx"));
  drop.dispatchEvent(new DragEvent("drop", {bubbles: true, cancelable: true, dataTransfer: data}));
  // One that misses must not be opened by the browser.
  const missed = new DragEvent("drop", {bubbles: true, cancelable: true, dataTransfer: data});
  document.querySelector("h1").dispatchEvent(missed);
  return drop.querySelector("input").files[0].name + (missed.defaultPrevented ? "" : " and opened"); })()`)
	if got != "dropped.gpx" {
		t.Errorf("dropping gave %q", got)
	}
	b.clean(url)
}

func TestAProblemWithAFileIsToldBesideIt(t *testing.T) {
	t.Parallel()
	b := open(t)
	url := web(t)
	bad := filepath.Join(t.TempDir(), "notes.gpx")
	if err := os.WriteFile(bad, []byte("not a course"), 0o600); err != nil {
		t.Fatal(err)
	}
	form := `form:has(input[value="measuring"]) `
	b.do(chromedp.Navigate(url), chromedp.SetUploadFiles(form+`input[name="course"]`, []string{bad}), chromedp.SendKeys(form+`input[name="width"]`, "7 m"), chromedp.Click(form+`button.main`))
	b.until(`document.getElementById("problem")`)
	if got := eval[string](b, `document.getElementById("problem").textContent`); !strings.Contains(got, "notes.gpx") {
		t.Errorf("the page says %q", got)
	}
	if got := eval[string](b, `document.querySelector(".bad input").name + " " + document.querySelector('input[name="width"]').value`); got != "course 7 m" {
		t.Errorf("the form shows %q", got)
	}
	b.do(chromedp.SetUploadFiles(`#settings input[name="course"]`, []string{saved(t, demo.CourseFile)}), chromedp.Click(`#settings button.main`))
	b.until(sheetReady)
	if got := eval[string](b, `document.querySelector('#settings input[name="width"]').value`); got != "7 m" {
		t.Errorf("the width on the form is %q", got)
	}
	// The refused form is answered with 422, which the browser notes; that is
	// the one thing it may complain of.
	b.mu.Lock()
	for i, x := range b.troubles {
		if strings.Contains(x, "422") {
			b.troubles = append(b.troubles[:i], b.troubles[i+1:]...)
			break
		}
	}
	b.mu.Unlock()
	b.clean(url)
}
