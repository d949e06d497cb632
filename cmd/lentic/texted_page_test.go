package main

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestTexted: the link in a text shows the alarm and changes nothing by being
// opened, for programs open links before people do; its one main button
// acknowledges. Script is off, as in a browser that shows a text's links.
func TestTexted(t *testing.T) {
	browser := chromium(t)
	d := startDemo(t)
	text := awaitTexts(t, d, 1)[0]
	state := func() string {
		t.Helper()
		var alarms []struct{ State, Text string }
		getJSON(t, d.url+"/api/v1/alarms?standing=true", &alarms)
		for _, a := range alarms {
			what, _, _ := strings.Cut(a.Text, ". ") // the numbers may be fewer in a text
			if strings.Contains(text, what) {
				return a.State
			}
		}
		t.Fatalf("no standing alarm says %q: %+v", text, alarms)
		return ""
	}
	const before, after = "unacknowledged", "acknowledged"
	if got := state(); got != before {
		t.Fatalf("before the link was opened: got %s, want %s", got, before)
	}
	ctx, complaints := tab(t, browser, view{390, 844, true, false})
	if err := chromedp.Do(ctx, chromedp.Navigate(link(t, text)), chromedp.WaitVisible(chromedp.CSS("button.main"))); err != nil {
		t.Fatal(err)
	}
	shows(t, ctx, "h2", "Do this first")
	if got := state(); got != before {
		t.Fatalf("opening the link made it %s, want %s", got, before)
	}
	mains, err := chromedp.Run(ctx, chromedp.Nodes(chromedp.CSSAll("button.main")))
	if err != nil {
		t.Fatal(err)
	}
	if len(mains) != 1 {
		t.Errorf("got %d main buttons, want 1", len(mains))
	}
	if err := chromedp.Do(ctx, chromedp.Click(chromedp.CSS("button.main"))); err != nil {
		t.Fatal(err)
	}
	eventually(t, patience, "the acknowledgement", func() bool { return state() == after })
	shows(t, ctx, ".said", "Acknowledged")
	if said := complaints(); len(said) > 0 {
		t.Errorf("the browser complained: %s", strings.Join(said, "\n"))
	}
}
