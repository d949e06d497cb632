package main

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// demo is a running `lentic demo` on free ports.
type demo struct {
	*process
	url  string
	mqtt string
}

var (
	openLine = regexp.MustCompile(`Open\s+(http://\S+)`)
	mqttLine = regexp.MustCompile(`over MQTT at (\S+?)\. `)
)

func startDemo(t testing.TB) *demo {
	t.Helper()
	d := &demo{process: start(t, binary(t), "demo", "--web", "127.0.0.1:0", "--mqtt", "127.0.0.1:0")}
	eventually(t, 3*time.Minute, "the demo's address", func() bool {
		select {
		case <-d.done:
			t.Fatalf("the demo ended:\n%s", d.stderr)
		default:
		}
		said := d.stderr.String()
		if m := openLine.FindStringSubmatch(said); m != nil {
			d.url = m[1]
		}
		if m := mqttLine.FindStringSubmatch(said); m != nil {
			d.mqtt = m[1]
		}
		return d.url != "" && d.mqtt != ""
	})
	return d
}

// pages are the demo's, by the name of their picture.
var pages = []struct{ name, path string }{
	{"rounds", "/"},
	{"tank", "/tank/quillmere-library/atrium"},
	{"before", "/before"},
	{"before-tank", "/before/hotel-sarnbrook/lobby"},
	{"intake", "/intake"},
	{"texts", "/texts"},
	{"visit", "/visit/velloway-physio/room-2"},
}

// TestPages opens every page at the width of a phone and of a desk, by day and
// by night, with script and without: nothing overflows, nothing complains, the
// first heading is there, and what can be pressed is large enough for a thumb.
func TestPages(t *testing.T) {
	browser := chromium(t)
	d := startDemo(t)
	texts := awaitTexts(t, d, 1)
	all := append(pages[:len(pages):len(pages)], struct{ name, path string }{"texted", strings.TrimPrefix(link(t, texts[0]), d.url)})
	var alarms []struct{ ID, Cause string }
	getJSON(t, d.url+"/api/v1/alarms?standing=true", &alarms)
	if len(alarms) == 0 {
		t.Fatal("no alarm stands after a text was sent")
	}
	all = append(all, struct{ name, path string }{"alarm", "/alarm/" + alarms[0].ID})
	wasThere(t, d, "quillmere-library/atrium")
	pictures := os.Getenv("LENTIC_PICTURES") // a folder, to look at them
	for _, p := range all {
		for _, v := range []view{{390, 844, false, true}, {390, 844, true, true}, {1440, 900, false, true}, {1440, 900, true, true}, {390, 844, false, false}} {
			t.Run(p.name+"-"+v.String(), func(t *testing.T) {
				ctx, complaints := tab(t, browser, v)
				see := []chromedp.Action[chromedp.Void]{chromedp.Navigate(d.url + p.path), chromedp.WaitReady(chromedp.CSS("h1"))}
				if v.script && p.name == "tank" {
					see = append(see, chromedp.WaitReady(chromedp.CSS("[data-ready]")))
				}
				if err := chromedp.Do(ctx, see...); err != nil {
					t.Fatal(err)
				}
				looksRight(t, ctx, v)
				if v.script && v.width < 600 && (p.name == "alarm" || p.name == "texted") {
					inReach(t, ctx)
				}
				if pictures != "" {
					picture(t, ctx, v, filepath.Join(pictures, p.name+"-"+v.String()+".png"))
				}
				if said := complaints(); len(said) > 0 {
					t.Errorf("the browser complained: %s", strings.Join(said, "\n"))
				}
			})
		}
	}
}

// wasThere notes at a tank what a keeper did there: nine days ago a service, and
// ten hours ago a hand test that found what the configuration says.
func wasThere(t testing.TB, d *demo, tank string) {
	t.Helper()
	now := time.Now()
	for _, form := range []url.Values{
		{"act": {"serviced"}, "on": {now.AddDate(0, 0, -9).Format("2006-01-02")}, "note": {"Filter a cleaned, hair grass cut"}},
		{"act": {"hand-test"}, "kh": {"4.0"}, "at": {now.Add(-10 * time.Hour).Format("2006-01-02T15:04")}},
	} {
		res, err := http.PostForm(d.url+"/visit/"+tank, form)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != http.StatusOK {
			t.Fatalf("%s at %s: %s", form.Get("act"), tank, res.Status)
		}
	}
}

var textLine = regexp.MustCompile(`(?m)^  \| (.*)$`)

// awaitTexts waits until the demo has shown n texts.
func awaitTexts(t testing.TB, d *demo, n int) []string {
	t.Helper()
	var texts []string
	eventually(t, 3*time.Minute, fmt.Sprintf("%d texts", n), func() bool {
		texts = nil
		for _, m := range textLine.FindAllStringSubmatch(d.stderr.String(), -1) {
			texts = append(texts, m[1])
		}
		return len(texts) >= n
	})
	return texts
}

var linkIn = regexp.MustCompile(`https?://\S+/a/\S+`)

func link(t testing.TB, text string) string {
	t.Helper()
	l := linkIn.FindString(text)
	if l == "" {
		t.Fatalf("no link in %q", text)
	}
	return l
}

func getJSON(t testing.TB, url string, v any) {
	t.Helper()
	res, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	if res.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s", url, res.Status)
	}
	if err := decodeJSON(res.Body, v); err != nil {
		t.Fatal(err)
	}
}
