package browsertest

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"tautline/geo/gpxfile"
	"tautline/report/page"
	"tautline/strategy/appraise"
	"tautline/strategy/demo"
	"tautline/strategy/marks"
	"tautline/strategy/measure"
	"tautline/strategy/race"
	"tautline/strategy/sheet"
)

// directors writes the pages of a race director on the demo course into a
// folder, and gives their addresses by name.
func directors(t *testing.T, dir string) map[string]string {
	t.Helper()
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	f, err := gpxfile.Read(demo.CourseFile, bytes.NewReader(read(t, demo.CourseFile)))
	check(err)
	s, err := sheet.Read(demo.SheetFile, read(t, demo.SheetFile))
	check(err)
	s.SetFolder(demo.Files())
	r, err := race.Prepare(demo.CourseFile, f, s)
	check(err)
	ride, err := measure.Read("ride.toml", bytes.NewReader(measure.Example))
	check(err)
	measured, err := ride.Work()
	check(err)
	options := appraise.UsualOptions()
	add := 12.0
	options.Add = &add
	options.RecordAt = []float64{5000}
	appraisal, err := appraise.Of(r, options, appraise.Silent)
	check(err)
	want, err := marks.Usual(r.Official)
	check(err)
	list, err := marks.Place(marks.Input{Line: r.Line, Plane: r.Course.Plane, Road: r.Road, Official: r.Official}, want)
	check(err)

	out := map[string]string{}
	keep := func(name string, s *page.Sheet, err error) {
		t.Helper()
		check(err)
		b, err := s.HTML()
		check(err)
		path := filepath.Join(dir, name+".html")
		check(os.WriteFile(path, b, 0o600))
		out[name] = "file://" + path
	}
	look := page.Options{Date: "2027-04-19", Source: demo.CourseFile}
	sheet, err := page.Measurement(measured, look)
	keep("measurement", sheet, err)
	sheet, err = page.Appraisal(appraisal, look)
	keep("appraisal", sheet, err)
	sheet, err = page.MarkSheet(r, list, look)
	keep("marks", sheet, err)
	return out
}

// cut finds what reaches beyond the margin of the sheet: cells of tables whose
// rows are blocks on a phone, headings, signs, figures.
const cut = `(() => {
  const out = [], main = document.querySelector("main");
  const margin = main.getBoundingClientRect().right - parseFloat(getComputedStyle(main).paddingRight) + 0.5;
  const seen = document.querySelectorAll(".blocks :is(th, td), .legend li, h1, h2, .verdict, .figures li");
  for (const e of seen) {
    const r = document.createRange();
    r.selectNodeContents(e);
    if (r.getBoundingClientRect().right > margin) out.push("“" + e.textContent.slice(0, 40) + "” is cut");
  }
  if (!document.querySelector(".blocks td")) out.push("there is no table to look at");
  return out.slice(0, 12);
})()`

func TestADirectorsPageCanBeReadOnAPhone(t *testing.T) {
	t.Parallel()
	b := open(t)
	dir := t.TempDir()
	for name, url := range directors(t, dir) {
		for _, width := range []int64{390, 1440} {
			b.do(chromedp.EmulateViewport(width, 844), chromedp.Navigate(url))
			if over := eval[float64](b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); over > 0 {
				t.Errorf("%s is %v px wider than a screen of %d px", name, over, width)
			}
			for _, fault := range append(eval[[]string](b, faults), eval[[]string](b, cut)...) {
				t.Errorf("%d px, %s: %s", width, name, fault)
			}
		}
	}
	b.clean("file://" + dir)
}

// narrowest is the width between the margins of the narrower paper, A4 with
// 10 mm on either side, px. A browser makes all of a page smaller when
// something is wider.
const narrowest = 718

// beyondPaper finds what reaches past the right margin when it is printed.
const beyondPaper = `(() => {
  const out = [], right = document.querySelector("main").getBoundingClientRect().right + 0.5;
  for (const e of document.querySelectorAll("main .block, .cells div, .cells dd, table, figure, .strip, .figures li, .worst li")) {
    const r = document.createRange();
    r.selectNodeContents(e);
    if (Math.max(e.getBoundingClientRect().right, r.getBoundingClientRect().right) > right) out.push("“" + e.textContent.slice(0, 40) + "” reaches past the margin");
  }
  if (document.querySelectorAll(".cells div").length < 3) out.push("there is no title block to look at");
  return out.slice(0, 12);
})()`

// onPaper checks that the page shown fits on paper.
func (b *tab) onPaper(name string) {
	b.t.Helper()
	b.do(chromedp.EmulateViewport(narrowest, 1000))
	if _, err := chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}); err != nil {
		b.t.Fatal(err)
	}
	if over := eval[float64](b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); over > 0 {
		b.t.Errorf("%s is %v px wider than paper", name, over)
	}
	for _, fault := range eval[[]string](b, beyondPaper) {
		b.t.Errorf("%s: %s", name, fault)
	}
	if _, err := chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{}); err != nil {
		b.t.Fatal(err)
	}
}

func TestADirectorsPageFitsOnPaper(t *testing.T) {
	t.Parallel()
	b := open(t)
	for name, url := range directors(t, t.TempDir()) {
		b.do(chromedp.Navigate(url))
		b.onPaper(name)
	}
}
