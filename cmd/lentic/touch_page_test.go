package main

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
)

// doubleTap is longer than two taps may be apart to be one double tap.
const doubleTap = 400 * time.Millisecond

// finger is where a finger is, in parts of the first strip's width and height.
type finger struct{ x, y float64 }

// hand puts fingers on the strips of an open tank page.
type hand struct {
	t   *testing.T
	ctx context.Context
	box struct{ Left, Top, Width, Height float64 } // of the first strip, on the screen
}

func newHand(t *testing.T, ctx context.Context) *hand {
	t.Helper()
	if err := chromedp.Do(ctx, call(emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true, MaxTouchPoints: 2})); err != nil {
		t.Fatal(err)
	}
	h := &hand{t: t, ctx: ctx}
	h.look()
	return h
}

// look finds out where the strip is on the screen now.
func (h *hand) look() {
	h.t.Helper()
	box, err := chromedp.Run(h.ctx, chromedp.Evaluate[[]float64](`(b => [b.left, b.top, b.width, 90])(document.querySelector('.strip-live').getBoundingClientRect())`))
	if err != nil {
		h.t.Fatal(err)
	}
	h.box.Left, h.box.Top, h.box.Width, h.box.Height = box[0], box[1], box[2], box[3]
}

func (h *hand) send(kind input.DispatchTouchEventType, fingers ...finger) {
	h.t.Helper()
	points := []*input.TouchPoint{}
	for i, f := range fingers {
		id := float64(i)
		points = append(points, &input.TouchPoint{X: h.box.Left + f.x*h.box.Width, Y: h.box.Top + f.y*h.box.Height, ID: &id})
	}
	if err := chromedp.Do(h.ctx, call(input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points})); err != nil {
		h.t.Fatal(err)
	}
}

// draw moves the fingers from where they begin to where they end, in steps, and
// lifts them.
func (h *hand) draw(from, to []finger) {
	h.t.Helper()
	h.look()
	const steps = 8
	h.send(input.DispatchTouchEventTypeTouchStart, from...)
	for n := 1; n <= steps; n++ {
		var now []finger
		for i := range from {
			k := float64(n) / steps
			now = append(now, finger{from[i].x + k*(to[i].x-from[i].x), from[i].y + k*(to[i].y-from[i].y)})
		}
		h.send(input.DispatchTouchEventTypeTouchMove, now...)
	}
	h.send(input.DispatchTouchEventTypeTouchEnd)
}

func (h *hand) tap(at finger) {
	h.t.Helper()
	h.look()
	h.send(input.DispatchTouchEventTypeTouchStart, at)
	h.send(input.DispatchTouchEventTypeTouchEnd)
}

// shown is the stretch of time the strips show, in hours; ago is how long
// before now it ends.
func (h *hand) shown() (width, ago float64) {
	h.t.Helper()
	v, err := chromedp.Run(h.ctx, chromedp.Evaluate[[]float64](`(d => [(d.to - d.from) / 3.6e6, (Date.now() - d.to) / 3.6e6])(document.querySelector('.js-strips').dataset)`))
	if err != nil {
		h.t.Fatal(err)
	}
	return v[0], v[1]
}

// comesTo waits until the strips show what is wanted, in hours, to a tenth.
func (h *hand) comesTo(what string, width, ago float64) {
	h.t.Helper()
	var w, a float64
	defer func() { h.t.Logf("%s: %.2f h, up to %.2f h ago", what, w, a) }()
	eventually(h.t, 5*time.Second, fmt.Sprintf("%s: %g h, up to %g h ago", what, width, ago), func() bool {
		w, a = h.shown()
		return math.Abs(w-width) < width/10 && math.Abs(a-ago) < max(0.1, width/10)
	})
}

// TestTouch: fingers move the strips and the page, each as it should.
func TestTouch(t *testing.T) {
	browser := chromium(t)
	w := watch(t)
	ctx, complaints := tab(t, browser, view{390, 600, false, true})
	if err := chromedp.Do(ctx, chromedp.Navigate(w.url+atrium), chromedp.WaitReady(chromedp.CSS("[data-ready]"))); err != nil {
		t.Fatal(err)
	}
	h := newHand(t, ctx)
	h.comesTo("a day at first", 24, 0)
	shows(t, ctx, ".cursor", "pH 6.51")
	// Some 25 minutes ago, when pH was 0.25 higher; a pixel is 5 minutes. On a
	// busy machine a tap can last so long that it is none.
	eventually(t, patience, "the cursor where the finger was", func() bool {
		h.tap(finger{0.983, 0.5})
		time.Sleep(doubleTap)
		said, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector('.cursor').textContent`))
		if err != nil {
			t.Fatal(err)
		}
		return strings.Contains(said, "pH 6.6") || strings.Contains(said, "pH 6.7") || strings.Contains(said, "pH 6.8")
	})
	h.draw([]finger{{0.3, 0.5}}, []finger{{0.8, 0.5}})
	h.comesTo("a finger draws yesterday in", 24, 12)
	h.draw([]finger{{0.45, 0.5}, {0.55, 0.5}}, []finger{{0.3, 0.5}, {0.7, 0.5}})
	h.comesTo("two fingers apart, a quarter", 6, 21)
	h.draw([]finger{{0.3, 0.5}, {0.7, 0.5}}, []finger{{0.4, 0.5}, {0.6, 0.5}})
	h.comesTo("two fingers together, twice that", 12, 18)
	eventually(t, patience, "a double tap to lead back", func() bool {
		h.tap(finger{0.5, 0.5})
		h.tap(finger{0.5, 0.5})
		time.Sleep(doubleTap)
		width, _ := h.shown()
		return width > 20
	})
	h.comesTo("a double tap leads back", 24, 0)

	before := scrolled(t, ctx)
	h.draw([]finger{{0.5, 0.9}}, []finger{{0.52, -1.5}})
	eventually(t, patience, "the page to scroll", func() bool { return scrolled(t, ctx) > before+50 })
	h.comesTo("upwards is the page's", 24, 0)
	if c := complaints(); len(c) > 0 {
		t.Errorf("the browser complained: %q", c)
	}
}

func scrolled(t *testing.T, ctx context.Context) float64 {
	t.Helper()
	y, err := chromedp.Run(ctx, chromedp.Evaluate[float64](`scrollY`))
	if err != nil {
		t.Fatal(err)
	}
	return y
}
