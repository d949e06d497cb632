package web

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"lentic/collector/aquarium"
)

func TestWhoMayComeInWithoutASession(t *testing.T) {
	open := newBench(t, nil)
	closed := newBench(t, nil)
	closed.accounts()
	public := newBench(t, func(o *Options) { o.PublicURL = "https://watch.example.net" })
	public.accounts()
	bearer := func(b *bench) []string { return []string{"Authorization", "Bearer " + b.token["keeper"]} }
	for _, c := range []struct {
		name   string
		b      *bench
		method string
		header []string
		want   int
	}{
		{"loopback, nobody known", open, "GET", nil, 200},
		{"by name", open, "GET", []string{"Host", "localhost:9000"}, 200},
		{"over IPv6", open, "GET", []string{"Host", "[::1]:8420"}, 200},
		{"foreign host", open, "GET", []string{"Host", "evil.example.net"}, 421},
		{"foreign host with our port", open, "GET", []string{"Host", "evil.example.net:8420"}, 421},
		{"foreign origin", open, "GET", []string{"Origin", "http://evil.example.net"}, 403},
		{"another port of this machine", open, "GET", []string{"Origin", "http://127.0.0.1:3000"}, 403},
		{"hidden origin", open, "GET", []string{"Origin", "null"}, 403},
		{"own origin", open, "GET", []string{"Origin", "http://127.0.0.1:8420"}, 200},
		{"proxy, by the standard", open, "GET", []string{"Forwarded", "for=198.51.100.7"}, 403},
		{"proxy, by custom", open, "GET", []string{"X-Forwarded-For", "198.51.100.7"}, 403},
		{"unsafe, foreign origin", open, "POST", []string{"Origin", "http://evil.example.net"}, 403},
		{"unsafe, another site by its browser", open, "POST", []string{"Sec-Fetch-Site", "cross-site"}, 403},
		{"unsafe, from a program", open, "POST", nil, 200},
		{"unsafe, own form", open, "POST", []string{"Origin", "http://127.0.0.1:8420"}, 200},

		{"account, no session", closed, "GET", nil, 401},
		{"account, bearer", closed, "GET", bearer(closed), 200},
		{"account, wrong bearer", closed, "GET", []string{"Authorization", "Bearer lentic_x"}, 401},
		{"account, basic", closed, "GET", []string{"Authorization", "Basic eA=="}, 401},
		{"account, bearer, foreign host", closed, "GET", append(bearer(closed), "Host", "evil.example.net"), 421},
		{"account, bearer needs no origin", closed, "POST", append(bearer(closed), "Origin", "http://evil.example.net"), 200},

		{"public, its host", public, "GET", append(bearer(public), "Host", "watch.example.net"), 200},
		{"public, its host with the port", public, "GET", append(bearer(public), "Host", "watch.example.net:443"), 200},
		{"public, loopback host", public, "GET", bearer(public), 421},
		{"public, behind a proxy", public, "GET", append(bearer(public), "Host", "watch.example.net", "X-Forwarded-For", "198.51.100.7"), 200},
		{"public, no session", public, "GET", []string{"Host", "watch.example.net"}, 401},
	} {
		t.Run(c.name, func(t *testing.T) {
			target := "/api/v1/alarms"
			if c.method == "POST" {
				target = "/api/v1/alarms/q1/acknowledge"
			}
			w := c.b.ask(c.method, target, "", c.header...)
			if w.Code != c.want {
				t.Errorf("got %d %s, want %d", w.Code, w.Body, c.want)
			}
			if w.Code == 401 && w.Header().Get("WWW-Authenticate") == "" {
				t.Error("a 401 must say how to come in")
			}
			if w.Code >= 400 {
				var p struct{ Status int }
				if ct := w.Header().Get("Content-Type"); ct != "application/problem+json" || json.Unmarshal(w.Body.Bytes(), &p) != nil || p.Status != w.Code {
					t.Errorf("no problem details: %s %s", ct, w.Body)
				}
			}
		})
	}
}

// TestRoles asks every route as each kind of visitor.
func TestRoles(t *testing.T) {
	b := newBench(t, nil)
	b.accounts()
	const form = "act=start"
	for _, c := range []struct {
		target                 string // of the library, which the viewer may see
		body                   string
		nobody, viewer, keeper int
		hidden                 string // the same of the hotel, which the viewer may not see; empty: none
	}{
		{"GET /", "", 303, 200, 200, ""},
		{"GET /tank/quillmere-library/atrium", "", 303, 200, 200, "GET /tank/hotel-sarnbrook/lobby"},
		{"GET /alarm/q1", "", 303, 200, 200, "GET /alarm/h1"},
		{"POST /alarm/q1", "act=acknowledge", 401, 403, 303, ""},
		{"GET /before", "", 303, 200, 200, ""},
		{"GET /before/quillmere-library/atrium", "", 303, 200, 200, "GET /before/hotel-sarnbrook/lobby"},
		{"GET /intake", "", 303, 403, 200, ""},
		{"GET /texts", "", 303, 403, 200, ""},
		{"GET /visit/quillmere-library/atrium", "", 303, 403, 200, ""},
		{"POST /visit/quillmere-library/atrium", form, 401, 403, 303, ""},
		{"GET /login", "", 200, 303, 303, ""},
		{"POST /logout", "", 303, 303, 303, ""},
		{"GET /a/lucky", "", 200, 200, 200, ""},
		{"GET /a/wrong", "", 404, 404, 404, ""},
		{"POST /a/lucky", "", 303, 303, 303, ""},
		{"GET /static/tank-1.js", "", 200, 200, 200, ""},
		{"GET /static/manifest.json", "", 404, 404, 404, ""},
		{"GET /healthz", "", 200, 200, 200, ""},
		{"GET /metrics", "", 401, 200, 200, ""},
		{"GET /api/v1/sites", "", 401, 200, 200, ""},
		{"GET /api/v1/alarms?standing=true", "", 401, 200, 200, ""},
		{"GET /api/v1/readings?site=quillmere-library&tank=atrium&sensor=ph", "", 401, 200, 200, "GET /api/v1/readings?site=hotel-sarnbrook&tank=lobby&sensor=ph"},
		{"POST /api/v1/alarms/q1/acknowledge", "{}", 401, 403, 200, ""},
		{"POST /api/v1/alarms/q1/shelve", `{"until":"2031-03-02T13:00:00Z"}`, 401, 403, 200, ""},
		{"GET /api/v1/live?site=quillmere-library&tank=atrium", "", 401, 426, 426, "GET /api/v1/live?site=hotel-sarnbrook&tank=lobby"},
		{"GET /nowhere", "", 404, 404, 404, ""},
		{"DELETE /texts", "", 405, 405, 405, ""},
	} {
		for who, want := range map[string]int{"": c.nobody, "client": c.viewer, "keeper": c.keeper} {
			t.Run(c.target+" as "+who, func(t *testing.T) { askAs(t, b, c.target, c.body, who, want) })
			if c.hidden != "" && who != "" {
				if who == "client" {
					want = 404
				}
				t.Run(c.hidden+" as "+who, func(t *testing.T) { askAs(t, b, c.hidden, c.body, who, want) })
			}
		}
	}
}

func askAs(t *testing.T, b *bench, request, body, who string, want int) {
	t.Helper()
	method, target, _ := strings.Cut(request, " ")
	var header []string
	if who != "" {
		header = []string{"Authorization", "Bearer " + b.token[who]}
	}
	w := b.ask(method, target, body, header...)
	if w.Code != want {
		t.Errorf("got %d, want %d: %.300s", w.Code, want, w.Body)
	}
	if who == "client" && !strings.HasPrefix(target, "/a/") {
		for _, secret := range []string{"hotel-sarnbrook\"", "Lobby river", "Valve cupboard", "lentic_outbox", "disk-low"} {
			if strings.Contains(w.Body.String(), secret) {
				t.Errorf("a viewer of the library is shown %q", secret)
			}
		}
	}
	for _, inline := range []string{` style="`, "<style", "<script>", ` onclick="`, "javascript:"} {
		if strings.Contains(w.Body.String(), inline) {
			t.Errorf("the page holds %q, which its own policy forbids", inline)
		}
	}
	csp := w.Header().Get("Content-Security-Policy")
	if !strings.HasPrefix(csp, "default-src 'none';") || strings.Contains(csp, "unsafe") || !strings.Contains(csp, "frame-ancestors 'none'") {
		t.Errorf("policy %q", csp)
	}
	if w.Header().Get("X-Content-Type-Options") != "nosniff" || !strings.Contains(w.Header().Get("Cache-Control"), "no-store") {
		t.Errorf("headers %v", w.Header())
	}
}

func TestSignIn(t *testing.T) {
	b := newBench(t, func(o *Options) { o.PublicURL = "https://watch.example.net" })
	b.accounts()
	own := []string{"Host", "watch.example.net", "Origin", "https://watch.example.net"}
	w := b.ask("POST", "/login", "name=keeper&password=moss+on+old+stone&next=%2Ftexts", own...)
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/texts" {
		t.Fatalf("got %d to %q", w.Code, w.Header().Get("Location"))
	}
	c := w.Result().Cookies()[0]
	if c.Name != "__Host-lentic" || !c.HttpOnly || !c.Secure || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" {
		t.Errorf("cookie %+v", c)
	}
	cookie := append(own, "Cookie", c.Name+"="+c.Value)
	if w := b.ask("GET", "/texts", "", cookie...); w.Code != 200 {
		t.Errorf("signed in: got %d", w.Code)
	}
	if w := b.ask("POST", "/api/v1/alarms/q1/acknowledge", "{}", "Host", "watch.example.net", "Origin", "https://evil.example.net", "Cookie", c.Name+"="+c.Value); w.Code != 403 {
		t.Errorf("a foreign page with our cookie: got %d, want 403", w.Code)
	}
	b.now = b.now.Add(25 * 60 * 60 * 1e9)
	w = b.ask("GET", "/texts", "", cookie...)
	if len(w.Result().Cookies()) != 1 || w.Result().Cookies()[0].Value == c.Value {
		t.Error("a day later the session must get a fresh secret")
	}
	fresh := w.Result().Cookies()[0].Value
	b.ask("POST", "/logout", "", append(own, "Cookie", c.Name+"="+fresh)...)
	if w := b.ask("GET", "/texts", "", append(own, "Cookie", c.Name+"="+fresh)...); w.Code != 303 {
		t.Errorf("signed out: got %d, want to be sent to the door", w.Code)
	}
}

func TestGuessingIsSlowedDown(t *testing.T) {
	b := newBench(t, nil)
	b.accounts()
	for i := range loginBurst {
		if w := b.ask("POST", "/login", "name=keeper&password=wrong"); w.Code != 401 {
			t.Fatalf("try %d: got %d, want 401", i, w.Code)
		}
	}
	w := b.ask("POST", "/login", "name=keeper&password=moss+on+old+stone")
	if w.Code != 429 || w.Header().Get("Retry-After") == "" {
		t.Errorf("got %d, want 429 with a time to wait", w.Code)
	}
	b.now = b.now.Add(loginEvery + 1)
	if w := b.ask("POST", "/login", "name=keeper&password=moss+on+old+stone"); w.Code != 303 {
		t.Errorf("after waiting: got %d, want 303", w.Code)
	}
}

func TestNextStaysHere(t *testing.T) {
	for in, want := range map[string]string{"/texts": "/texts", "//evil.example.net": "/", `/\evil.example.net`: "/", "https://evil.example.net": "/", "": "/"} {
		if got := ownPath(in); got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
	}
}

func TestTextedLink(t *testing.T) {
	b := newBench(t, nil)
	b.accounts()
	for range 3 {
		b.ask("GET", "/a/lucky", "")
	}
	if b.desk.changes != 0 {
		t.Error("looking at a link changed something")
	}
	body := b.ask("GET", "/a/lucky", "").Body.String()
	for _, other := range []string{"Hotel Sarnbrook", "Lobby river"} {
		if strings.Contains(body, other) {
			t.Errorf("the link of one alarm shows %q", other)
		}
	}
	if w := b.ask("POST", "/a/lucky", "act=shelve&hours=24"); w.Code != 403 || b.desk.changes != 0 {
		t.Errorf("a link must not shelve: got %d", w.Code)
	}
	for range 2 { // again is no mistake
		if w := b.ask("POST", "/a/lucky", "act=acknowledge"); w.Code != 303 {
			t.Errorf("got %d, want 303", w.Code)
		}
	}
	if a, _ := b.desk.Alarm("q1"); a.State != aquarium.Acknowledged {
		t.Errorf("got %s", a.State)
	}
	one, two := b.ask("GET", "/a/wrong", ""), b.ask("GET", "/a/also-wrong", "")
	if one.Code != 404 || one.Body.String() != two.Body.String() {
		t.Error("dead links must all be answered alike")
	}
	for range missBurst {
		b.ask("GET", "/a/wrong", "")
	}
	if w := b.ask("GET", "/a/wrong", ""); w.Code != 429 {
		t.Errorf("many dead links: got %d, want 429", w.Code)
	}
	if w := b.ask("GET", "/a/lucky", ""); w.Code != 200 {
		t.Errorf("a good link beside them: got %d, want 200", w.Code)
	}
}
