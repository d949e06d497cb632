package main

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestNews: a page that stands open says what has happened, by itself, to the
// eye and to the ear: an alarm that is raised, and one that is acknowledged.
func TestNews(t *testing.T) {
	browser := chromium(t)
	d := startDemo(t)
	open := func(path string) context.Context {
		t.Helper()
		ctx, complaints := tab(t, browser, view{390, 844, false, true})
		if err := chromedp.Do(ctx, chromedp.Navigate(d.url+path), chromedp.WaitReady(chromedp.CSS("h1"))); err != nil {
			t.Fatal(err)
		}
		if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`window.sameLoad = true`)); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			if ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`window.sameLoad === true`)); err != nil || !ok {
				t.Errorf("%s was loaded again (%v)", path, err)
			}
			if c := complaints(); len(c) > 0 {
				t.Errorf("%s: the browser complained: %s", path, strings.Join(c, "\n"))
			}
		})
		return ctx
	}
	rounds, tank := open("/"), open(atrium)
	quiet := func(ctx context.Context) {
		t.Helper()
		if said, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector('.js-news').textContent`)); err != nil || said != "" {
			t.Fatalf("a screen reader was told %q before anything happened (%v): this machine is too slow for the test", said, err)
		}
	}
	quiet(rounds)
	quiet(tank)

	type alarm struct{ ID, Tank, Text string }
	var a alarm
	eventually(t, 3*time.Minute, "an alarm at the atrium", func() bool {
		var as []alarm
		getJSON(t, d.url+"/api/v1/alarms?standing=true", &as)
		for _, one := range as {
			if one.Tank == "atrium" {
				a = one
			}
		}
		return a.ID != ""
	})
	t.Log(a.Text)
	shows(t, tank, ".lead", a.Text)
	shows(t, tank, ".js-news", "Needs you now. "+a.Text)
	shows(t, rounds, "h1", "you now")
	shows(t, rounds, ".tank.needs", a.Text)
	shows(t, rounds, ".js-news", a.Text)
	shows(t, tank, ".js-notes", a.Text)

	page := open("/alarm/" + a.ID)
	res, err := http.Post(d.url+"/api/v1/alarms/"+a.ID+"/acknowledge", "application/json", strings.NewReader(`{"note":"on my way"}`))
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != http.StatusOK {
		t.Fatalf("acknowledge: %s", res.Status)
	}
	shows(t, tank, ".lead", "In hand")
	shows(t, tank, ".js-news", "In hand")
	shows(t, page, ".js-news", "acknowledged")
	eventually(t, 10*time.Second, "the button to go", func() bool {
		gone, err := chromedp.Run(page, chromedp.Evaluate[bool](`!document.querySelector('button.main')`))
		return err == nil && gone
	})
}
