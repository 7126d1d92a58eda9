package browsertest

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// TestSamples writes pictures to look at into the folder that TAUTLINE_SAMPLES
// names; without it there is nothing to do.
func TestSamples(t *testing.T) {
	dir := os.Getenv("TAUTLINE_SAMPLES")
	if dir == "" {
		t.Skip("TAUTLINE_SAMPLES names no folder")
	}
	b := open(t)
	url := web(t)
	pages := map[string]string{"front": url}
	for _, task := range []string{"last", "next", "measuring"} {
		pages[task] = post(t, url+"demo/"+task, nil, nil)
	}
	write := func(name string, data []byte) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for name, page := range pages {
		for width, label := range map[int64]string{390: "phone", 1440: "screen"} {
			b.do(chromedp.EmulateViewport(width, 900), chromedp.Navigate(page))
			if name != "front" {
				b.until(sheetReady)
			}
			whole, err := chromedp.Run(b, chromedp.FullScreenshot(100))
			if err != nil {
				t.Fatal(err)
			}
			write(name+"-"+label+".png", whole)
			if name == "last" {
				eval[bool](b, `document.querySelectorAll("svg.strip")[3].scrollIntoView({block: "center"}), true`)
				seen, err := chromedp.Run(b, chromedp.CaptureScreenshot())
				if err != nil {
					t.Fatal(err)
				}
				write(name+"-"+label+"-scrolled.png", seen)
			}
		}
	}
	_, err := chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}})
	if err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.EmulateViewport(1440, 900), chromedp.Navigate(pages["last"]))
	b.until(sheetReady)
	whole, err := chromedp.Run(b, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatal(err)
	}
	write("last-dark.png", whole)
	for name, paper := range map[string]chromedp.PaperSize{"a4": {Width: 8.27, Height: 11.69}, "letter": chromedp.PaperLetter} {
		pdf, err := chromedp.Run(b, chromedp.PrintToPDF(chromedp.PDFPaper(paper), chromedp.PDFPrintBackground()))
		if err != nil {
			t.Fatal(err)
		}
		write("last-"+name+".pdf", pdf)
	}
}
