package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// watched is a lentic of one small tank, and a device that reports to it.
type watched struct {
	url    string
	device mqtt.Client
	t      testing.TB
}

const atrium = "/tank/quillmere-library/atrium"

func watch(t testing.TB) *watched {
	return watchHour(t, time.Minute, func(n int) float64 { return 6.5 + float64(n)/100 })
}

// watchHour has reported an hour of readings, of which ph gives the n-th pH before
// now.
func watchHour(t testing.TB, every time.Duration, ph func(n int) float64) *watched {
	t.Helper()
	dir, web, port := t.TempDir(), freePort(t), freePort(t)
	cfg := writeConfig(t, dir, fmt.Sprintf(`data: %q
listen: { web: "127.0.0.1:%d", mqtt: "127.0.0.1:%d" }
people: [ { id: keeper, name: Keeper, email: keeper@example.net } ]
channels: [ { id: mail, kind: smtp, host: 127.0.0.1, port: 9, from: watch@example.net } ]
call_out:
  high: [ { tell: keeper, by: mail } ]
  medium: [ { tell: keeper, by: mail } ]
  low: [ { tell: keeper, by: mail } ]
sites:
  - id: quillmere-library
    name: Quillmere Library
    timezone: Europe/London
    tanks:
      - id: atrium
        name: Atrium island
        sensors:
          ph: { quantity: ph }
          water: { quantity: temperature }
`, filepath.Join(dir, "data"), web, port))
	p := start(t, binary(t), "run", "-c", cfg)
	eventually(t, patience, "start", func() bool {
		select {
		case <-p.done:
			t.Fatalf("lentic ended at once:\n%s", p.stderr)
		default:
		}
		return healthy(web)
	})
	device := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(fmt.Sprintf("tcp://127.0.0.1:%d", port)).SetClientID("device"))
	if tok := device.Connect(); !tok.WaitTimeout(20*time.Second) || tok.Error() != nil {
		t.Fatalf("connect: %v", tok.Error())
	}
	t.Cleanup(func() { device.Disconnect(100) })
	w := &watched{url: fmt.Sprintf("http://127.0.0.1:%d", web), device: device, t: t}
	now := time.Now()
	for n := int(time.Hour / every); n >= 1; n-- {
		w.report("ph", now.Add(-time.Duration(n)*every), ph(n))
		w.report("water", now.Add(-time.Duration(n)*every), 24.5)
	}
	return w
}

// report publishes one reading and waits until it is acknowledged, that is, on
// disk.
func (w *watched) report(sensor string, at time.Time, v float64) {
	w.t.Helper()
	tok := w.device.Publish("lentic/quillmere-library/atrium/"+sensor, 1, false, fmt.Sprintf(`[{"bt":%.3f,"v":%g}]`, float64(at.UnixMilli())/1000, v))
	if !tok.WaitTimeout(20*time.Second) || tok.Error() != nil {
		w.t.Fatalf("publish: %v", tok.Error())
	}
}

// shows waits until the text of the first match of a selector has want in it, whichever
// spaces may break there.
// The page replaces what it shows while it is looked at, so finding and reading
// are one step in the browser.
func shows(t *testing.T, ctx context.Context, selector, want string) string {
	t.Helper()
	var got string
	defer func() {
		if t.Failed() {
			t.Logf("%s says %q", selector, got)
		}
	}()
	eventually(t, patience, fmt.Sprintf("%q in %s", want, selector), func() bool {
		var err error
		if got, err = chromedp.Run(ctx, chromedp.Evaluate[string](fmt.Sprintf("(document.querySelector(%q)?.textContent ?? '').replaceAll('\\u00a0', ' ')", selector))); err != nil {
			t.Fatal(err)
		}
		return strings.Contains(got, want)
	})
	return got
}

// TestLive: what a device reports stands on the open page, without a reload; a
// value that cannot be is shown as one that is not judged.
func TestLive(t *testing.T) {
	browser := chromium(t)
	w := watch(t)
	ctx, complaints := tab(t, browser, view{1440, 900, false, true})
	if err := chromedp.Do(ctx, chromedp.Navigate(w.url+atrium), chromedp.WaitReady(chromedp.CSS("[data-ready]"))); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`window.sameLoad = true`)); err != nil {
		t.Fatal(err)
	}
	shows(t, ctx, ".ends b", "6.51")
	w.report("ph", time.Now(), 6.73)
	began := time.Now()
	shows(t, ctx, ".ends b", "6.73")
	t.Logf("shown %s after its receipt", time.Since(began).Round(time.Millisecond))
	shows(t, ctx, ".cursor", "pH 6.73")
	w.report("ph", time.Now(), 15.2) // above what pH can be
	shows(t, ctx, ".ends", "not counted")
	for expression, why := range map[string]string{
		`window.sameLoad === true`: "the page was loaded again",
		`document.querySelector('[role=status].unseen').textContent === ''`: "a screen reader was told what nobody asked for",
	} {
		if ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](expression)); err != nil || !ok {
			t.Errorf("%s (%v)", why, err)
		}
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the browser complained: %s", strings.Join(c, "\n"))
	}
}

// TestKeyboard: the strips are reached, read and left with keys alone.
func TestKeyboard(t *testing.T) {
	browser := chromium(t)
	w := watch(t)
	ctx, _ := tab(t, browser, view{1440, 900, false, true})
	press := func(key string) {
		t.Helper()
		if err := chromedp.Do(ctx, chromedp.KeyEvent(key)); err != nil {
			t.Fatal(err)
		}
	}
	ask := func(expression string) bool {
		t.Helper()
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](expression))
		if err != nil {
			t.Fatal(err)
		}
		return ok
	}
	if err := chromedp.Do(ctx, chromedp.Navigate(w.url+atrium), chromedp.WaitReady(chromedp.CSS("[data-ready]"))); err != nil {
		t.Fatal(err)
	}
	for n := 0; !ask(`document.activeElement.matches('.js-strips')`); n++ {
		if n == 20 {
			t.Fatal("the strips were not reached with 20 presses of Tab")
		}
		press(kb.Tab)
	}
	if !ask(`document.activeElement.matches(':focus-visible') && getComputedStyle(document.activeElement).outlineStyle !== 'none'`) {
		t.Error("nothing shows that the strips have the focus")
	}
	now := shows(t, ctx, ".cursor", "pH 6.51")
	press("-") // two days, then back to one: the keys change the time shown
	eventually(t, patience, "two days", func() bool { return !ask(`!!document.querySelector('.spans [aria-pressed=true]')`) })
	press("+")
	eventually(t, patience, "one day", func() bool {
		return ask(`document.querySelector('.spans [aria-pressed=true]')?.textContent === 'day'`)
	})
	for range 3 { // 7.2 minutes each: a two-hundredth of what is shown
		press(kb.ArrowLeft)
	}
	moved := shows(t, ctx, ".cursor", "pH 6.7")
	if moved == now {
		t.Errorf("the arrow did not move the cursor from %q", now)
	}
	shows(t, ctx, "[role=status].unseen", "temperature 24.5") // heard in full, read in short
	if strings.Contains(moved, "\n") || len(moved) > 80 {
		t.Errorf("the cursor's sentence is too long for a phone: %q", moved)
	}
	press("t")
	shows(t, ctx, ".js-table table", "pH")
	if rows := ask(`document.querySelectorAll('.js-table tbody tr').length >= 20 && document.querySelector('.js-table tbody th').scope === 'row'`); !rows {
		t.Error("the table has not its rows")
	}
	press("t")
	eventually(t, patience, "the table to go", func() bool { return ask(`!document.querySelector('.js-table table')`) })
	for range 5 { // to an hour, the least there is
		press("+")
	}
	eventually(t, patience, "an hour", func() bool {
		return ask(`document.querySelector('.spans [aria-pressed=true]')?.textContent === 'hour'`)
	})
	for range 25 { // 3 minutes each: the paper follows the cursor that would leave it
		if err := chromedp.Do(ctx, chromedp.KeyEvent(kb.ArrowLeft, chromedp.KeyModifiers(chromedp.ModifierShift))); err != nil {
			t.Fatal(err)
		}
	}
	eventually(t, patience, "the paper to follow the cursor", func() bool {
		return ask(`(d => d.to - d.from === 3.6e6 && d.to < Date.now() - 5 * 6e4)(document.querySelector('.js-strips').dataset)`)
	})
	press(kb.Home)
	if back := shows(t, ctx, ".cursor", "pH 6.51"); back != now {
		t.Errorf("Home leads to %q, want %q", back, now)
	}
}

// TestPagesWithoutScript: the essentials of a tank are in the page itself.
func TestPagesWithoutScript(t *testing.T) {
	browser := chromium(t)
	w := watch(t)
	ctx, complaints := tab(t, browser, view{390, 844, false, false})
	if err := chromedp.Do(ctx, chromedp.Navigate(w.url+atrium), chromedp.WaitReady(chromedp.CSS("h1"))); err != nil {
		t.Fatal(err)
	}
	shows(t, ctx, "h1", "Atrium island")
	said := shows(t, ctx, ".say.lead", "")
	if strings.TrimSpace(said) == "" {
		t.Error("no sentence says how the tank is")
	}
	t.Log(said)
	shows(t, ctx, ".figures", "6.51")
	shows(t, ctx, ".figures", "24.5")
	drawn, err := chromedp.Run(ctx, chromedp.Attributes(chromedp.CSS("svg.drawing")))
	if err != nil {
		t.Fatal(err)
	}
	if got, want := drawn["aria-label"], "last 6.51"; !strings.Contains(got, want) {
		t.Errorf("the strip in words: got %q, want %q in it", got, want)
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the browser complained: %s", strings.Join(c, "\n"))
	}
}
