package main

import (
	"context"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestNotCounted: while a probe hangs in the air the page says so beside the value,
// on the strips, under the cursor and in the table, with script and without, and
// rounds say so too; once it is back in the water all of that is over but the marks.
func TestNotCounted(t *testing.T) {
	browser := chromium(t)
	w := watchHour(t, 10*time.Second, func(n int) float64 {
		if n > 90 {
			return 6.6 + float64(n%4)/100
		}
		return 8.3 + 0.3*math.Sin(float64(n*n))
	})
	var since string
	eventually(t, patience, "a page that says it", func() bool {
		since = regexp.MustCompile(`not counted: probe in air since (yesterday )?\d\d:\d\d`).FindString(body(t, w.url+atrium))
		return since != ""
	})
	began := func(ago time.Duration) string { return time.Now().Add(-ago).In(london(t)).Format("15:04") }
	if !slices.ContainsFunc([]time.Duration{15 * time.Minute, 16 * time.Minute, 17 * time.Minute}, func(ago time.Duration) bool { return strings.HasSuffix(since, began(ago)) }) {
		t.Errorf("the page says %q, want since %s or a minute before", since, began(15*time.Minute))
	}
	if !strings.Contains(body(t, w.url+"/"), since) {
		t.Error("rounds do not say it")
	}
	for _, v := range []view{{390, 844, false, true}, {390, 844, true, true}, {1440, 900, false, true}, {1440, 900, true, true}, {390, 844, false, false}} {
		t.Run(v.String(), func(t *testing.T) {
			ctx, complaints := tab(t, browser, v)
			w.report("water", time.Now(), 24.5)
			w.report("ph", time.Now(), 8.3+0.3*math.Sin(float64(v.width)))
			ready := "[data-ready]"
			if !v.script {
				ready = "h1"
			}
			if err := chromedp.Do(ctx, chromedp.Navigate(w.url+atrium), chromedp.WaitReady(chromedp.CSS(ready))); err != nil {
				t.Fatal(err)
			}
			shows(t, ctx, ".figures .why", since)
			shows(t, ctx, ".say.lead", "pH is "+since)
			shows(t, ctx, ".hollow", "pH (probe in air")
			looksRight(t, ctx, v)
			if v.script {
				shows(t, ctx, ".ends .why", "not counted: probe in air")
				shows(t, ctx, ".cursor", "(not counted: probe in air)")
				if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`document.querySelector('.spans button').click() === undefined`)); err != nil { // the last hour
					t.Fatal(err)
				}
				shows(t, ctx, ".spans [aria-pressed=true]", "hour")
			}
			if pictures := os.Getenv("LENTIC_PICTURES"); pictures != "" {
				picture(t, ctx, v, filepath.Join(pictures, "not-counted-"+v.String()+".png"))
			}
			if v.script {
				if err := chromedp.Do(ctx, chromedp.Focus(chromedp.CSS(".js-strips")), chromedp.KeyEvent("t")); err != nil {
					t.Fatal(err)
				}
				shows(t, ctx, ".js-table tbody", "(not counted: probe in air)")
			}
			if c := complaints(); len(c) > 0 {
				t.Errorf("the browser complained: %s", strings.Join(c, "\n"))
			}
		})
	}
	backInWater(t, browser, w)
}

// backInWater reports good readings until the open page believes them.
func backInWater(t *testing.T, browser context.Context, w *watched) {
	t.Helper()
	ctx, _ := tab(t, browser, view{1440, 900, false, true})
	if err := chromedp.Do(ctx, chromedp.Navigate(w.url+atrium), chromedp.WaitReady(chromedp.CSS("[data-ready]"))); err != nil {
		t.Fatal(err)
	}
	w.report("ph", time.Now(), 8.4)
	shows(t, ctx, ".ends b", "8.40")
	shows(t, ctx, ".ends .why", "not counted: probe in air")
	eventually(t, patience, "a value that counts again", func() bool {
		w.report("ph", time.Now(), 6.62)
		time.Sleep(time.Second)
		said, err := chromedp.Run(ctx, chromedp.Evaluate[string](`[...document.querySelectorAll('.ends, .figures .why, .say.lead')].map(e => e.textContent).join(' ')`))
		if err != nil {
			t.Fatal(err)
		}
		return strings.Contains(said, "6.62") && !strings.Contains(said, "not counted")
	})
	shows(t, ctx, ".hollow", "pH (probe in air") // what was stays told apart
}

func london(t *testing.T) *time.Location {
	t.Helper()
	l, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func body(t *testing.T, url string) string {
	t.Helper()
	res, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
