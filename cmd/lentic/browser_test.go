package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// chromium starts a real browser, or skips the test and says why.
func chromium(t *testing.T) context.Context {
	t.Helper()
	path := onPath("chromium")
	if path == "" {
		t.Skip("chromium is not installed: nothing was seen in a browser")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("hide-scrollbars", true),
		chromedp.UserDataDir(t.TempDir()), chromedp.WSURLReadTimeout(60*time.Second))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("chromium: %v", err)
	}
	return ctx
}

// call is a command of the protocol as a step.
func call[P, R any](cmd cdp.Command[P, R], params P) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
		_, err := cdp.Call(ctx, tab, cmd, params)
		return err
	})
}

// view is one way of looking at a page.
type view struct {
	width, height int64
	dark, script  bool
}

func (v view) String() string {
	s := fmt.Sprintf("%d", v.width)
	if v.dark {
		s += "-dark"
	}
	if !v.script {
		s += "-noscript"
	}
	return s
}

// screen gives the page the view's size.
func (v view) screen() chromedp.Action[chromedp.Void] {
	return call(emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{
		Width: v.width, Height: v.height, DeviceScaleFactor: 1, Mobile: v.width < 600})
}

// tab opens a page of its own with the view; complaints collects what the
// browser's console, its errors and its content policy said.
func tab(t *testing.T, browser context.Context, v view) (ctx context.Context, complaints func() []string) {
	t.Helper()
	ctx, cancel := chromedp.NewContext(browser)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil { // opens the tab, without a deadline of its own
		t.Fatal(err)
	}
	ctx, cancel = context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(cancel)
	var mu sync.Mutex // guards said
	var said []string
	err := chromedp.Listen(ctx, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch e := ev.(type) {
		case *runtime.EventExceptionThrown:
			said = append(said, fmt.Sprintf("%+v", e.ExceptionDetails))
		case *log.EventEntryAdded:
			if e.Entry.Level == log.EntryLevelError || e.Entry.Level == log.EntryLevelWarning {
				said = append(said, e.Entry.Text+" "+e.Entry.URL)
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	scheme := "light"
	if v.dark {
		scheme = "dark"
	}
	err = chromedp.Do(ctx,
		call(log.Enable, cdp.Empty{}), call(runtime.Enable, cdp.Empty{}),
		v.screen(),
		call(emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !v.script}),
		call(emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
			{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}}}))
	if err != nil {
		t.Fatal(err)
	}
	return ctx, func() []string {
		mu.Lock()
		defer mu.Unlock()
		return append([]string(nil), said...)
	}
}

// looksRight measures the page that is open: by its text and its boxes, which
// a browser that runs no page's script still tells.
func looksRight(t *testing.T, ctx context.Context, v view) {
	t.Helper()
	heading, err := chromedp.Run(ctx, chromedp.TextContent(chromedp.CSS("h1")))
	if err != nil {
		t.Fatal(err)
	}
	if strings.TrimSpace(heading) == "" {
		t.Error("the first heading is empty")
	}
	layout, err := chromedp.Call(ctx, page.GetLayoutMetrics, cdp.Empty{})
	if err != nil {
		t.Fatal(err)
	}
	if got := layout.CSSContentSize.Width; got > float64(v.width)+1 {
		t.Errorf("the page is %.0f px wide on a screen of %d", got, v.width)
	}
	if !v.script {
		return
	}
	small, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](smallTargets))
	if err != nil {
		t.Fatal(err)
	}
	if len(small) > 0 {
		t.Errorf("too small for a thumb (44 px): %s", strings.Join(small, "; "))
	}
}

// inReach holds that the one main act is on the first screen, before anything
// is scrolled.
func inReach(t *testing.T, ctx context.Context) {
	t.Helper()
	seen, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`(b => b.top >= 0 && b.bottom <= innerHeight)(document.querySelector('button.main').getBoundingClientRect())`))
	if err != nil {
		t.Fatal(err)
	}
	if !seen {
		t.Error("the main button is not on the first screen")
	}
}

// picture writes the whole page, from its head to its foot, on a screen as high
// as the page, so that what keeps to the screen's edge covers nothing; and of a
// phone also the first screen.
func picture(t *testing.T, ctx context.Context, v view, path string) {
	t.Helper()
	if v.width < 600 {
		first, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(strings.TrimSuffix(path, ".png")+"-first.png", first, 0o644); err != nil {
			t.Error(err)
		}
	}
	layout, err := chromedp.Call(ctx, page.GetLayoutMetrics, cdp.Empty{})
	if err != nil {
		t.Fatal(err)
	}
	v.height = int64(layout.CSSContentSize.Height)
	if err := chromedp.Do(ctx, v.screen()); err != nil {
		t.Fatal(err)
	}
	shot, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, shot, 0o644); err != nil {
		t.Error(err)
	}
}

// smallTargets lists buttons and fields less than 44 px high; links within
// sentences are exempt (WCAG 2.2, 2.5.8 exception "inline").
const smallTargets = `[...document.querySelectorAll('button, input:not([type=hidden]), select, textarea')]
  .filter(e => e.offsetParent && e.getBoundingClientRect().height < 44)
  .map(e => e.tagName + ' ' + (e.textContent || e.name) + ' ' + Math.round(e.getBoundingClientRect().height))`
