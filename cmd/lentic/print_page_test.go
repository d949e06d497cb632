package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// papers by their sides in inches (ISO 216; ANSI/ASME Y14.1).
var papers = []struct {
	name          string
	width, height float64
}{{"A4", 210 / 25.4, 297 / 25.4}, {"Letter", 8.5, 11}}

// pageObject is a page in a PDF (ISO 32000-1, 7.7.3.3), and not the tree of them.
var pageObject = regexp.MustCompile(`/Type\s*/Page\b`)

// TestPrint: before a visit one sheet of paper a tank is printed, and an alarm
// on one or two: black on white, without what only a screen can use, nothing
// wider than the paper. A sheet that takes one page has no strip that is cut.
func TestPrint(t *testing.T) {
	browser := chromium(t)
	d := startDemo(t)
	awaitTexts(t, d, 1)
	var alarms []struct{ ID string }
	getJSON(t, d.url+"/api/v1/alarms?standing=true", &alarms)
	for _, c := range []struct {
		name, path  string
		least, most int
	}{
		{"before-tank", "/before/hotel-sarnbrook/lobby", 1, 1},
		{"before", "/before", 5, 5},
		{"before-some", "/before?tank=hotel-sarnbrook/lobby&tank=velloway-physio/room-1", 2, 2},
		{"alarm", "/alarm/" + alarms[0].ID, 1, 2},
	} {
		for _, p := range papers {
			t.Run(c.name+"-"+p.name, func(t *testing.T) {
				ctx, complaints := tab(t, browser, view{1440, 900, true, true}) // by night too, paper is white
				if err := chromedp.Do(ctx, chromedp.Navigate(d.url+c.path), chromedp.WaitReady(chromedp.CSS("h1"))); err != nil {
					t.Fatal(err)
				}
				yes, none := true, 0.0
				pdf, err := chromedp.Call(ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: p.width, PaperHeight: p.height,
					PreferCSSPageSize: &yes, PrintBackground: &yes, MarginTop: &none, MarginBottom: &none, MarginLeft: &none, MarginRight: &none})
				if err != nil {
					t.Fatal(err)
				}
				if n := len(pageObject.FindAll(pdf.Data, -1)); n < c.least || n > c.most {
					t.Errorf("printed on %d pages, want %d to %d", n, c.least, c.most)
				}
				if !bytes.HasPrefix(pdf.Data, []byte("%PDF")) {
					t.Error("this is no PDF")
				}
				onPaper(t, ctx, p.width)
				if dir := os.Getenv("LENTIC_PICTURES"); dir != "" {
					if err := os.WriteFile(filepath.Join(dir, c.name+"-"+p.name+".pdf"), pdf.Data, 0o644); err != nil {
						t.Error(err)
					}
				}
				if said := complaints(); len(said) > 0 {
					t.Errorf("the browser complained: %s", strings.Join(said, "\n"))
				}
			})
		}
	}
}

// onPaper looks at the page as it is laid out for print, between the margins.
func onPaper(t *testing.T, ctx context.Context, width float64) {
	t.Helper()
	inner := int64((width - 2*15/25.4) * 96) // the page's own margins, in pixels of CSS
	if err := chromedp.Do(ctx, call(emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}),
		call(emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: inner, Height: 900, DeviceScaleFactor: 1})); err != nil {
		t.Fatal(err)
	}
	for expression, why := range map[string]string{
		`getComputedStyle(document.documentElement).backgroundColor === 'rgb(255, 255, 255)'`:                       "the paper is not white",
		`getComputedStyle(document.documentElement).color === 'rgb(0, 0, 0)'`:                                       "the ink is not black",
		`[...document.querySelectorAll('nav, button, input, summary')].every(e => e.getClientRects().length === 0)`: "what only a screen can use is printed",
		fmt.Sprintf(`document.documentElement.scrollWidth <= %d`, inner+1):                                          "it is wider than the paper",
		`[...document.querySelectorAll('figure')].every(e => getComputedStyle(e).breakInside === 'avoid')`:          "a strip may be cut",
		`[...document.querySelectorAll('.drawing text')].every(e => e.getBoundingClientRect().right <= innerWidth)`: "a strip's words leave the paper",
	} {
		if ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](expression)); err != nil || !ok {
			t.Errorf("%s (%v)", why, err)
		}
	}
}
