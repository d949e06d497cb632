package main

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// listen marks a page as it was loaded, and keeps all that it tells a screen reader.
const listen = `(() => {
	const news = document.querySelector('.js-news')
	window.said = ''
	new MutationObserver(() => { window.said += news.textContent + '\n' }).observe(news, {childList: true, characterData: true, subtree: true})
	return window.sameLoad = true
})()`

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
		if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](listen)); err != nil {
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
	// said awaits words to a screen reader; others may have followed them.
	said := func(ctx context.Context, want string) {
		t.Helper()
		var all string
		eventually(t, patience, fmt.Sprintf("%q to a screen reader", want), func() bool {
			var err error
			if all, err = chromedp.Run(ctx, chromedp.Evaluate[string](`window.said`)); err != nil {
				t.Fatal(err)
			}
			return strings.Contains(all, want)
		})
	}
	quiet := func(ctx context.Context) {
		t.Helper()
		if told, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector('.js-news').textContent`)); err != nil || told != "" {
			t.Fatalf("a screen reader was told %q before anything happened (%v): this machine is too slow for the test", told, err)
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
	said(tank, "Needs you now. "+a.Text)
	shows(t, rounds, "h1", "you now")
	shows(t, rounds, ".tank.needs:has([href='"+atrium+"'])", a.Text) // another tank may stand above it
	said(rounds, a.Text)
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
	said(tank, "In hand")
	said(page, "acknowledged")
	eventually(t, patience, "the button to go", func() bool {
		gone, err := chromedp.Run(page, chromedp.Evaluate[bool](`!document.querySelector('button.main')`))
		return err == nil && gone
	})
}
