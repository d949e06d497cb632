package main

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"
)

// asks makes one request without following redirects; change, which may be nil,
// makes it what is tried.
func asks(t *testing.T, method, url, body string, change func(*http.Request)) (status int, answer string, header http.Header) {
	t.Helper()
	req, err := http.NewRequest(method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(req)
	}
	client := http.Client{Timeout: 10 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(b), res.Header
}

func get(t *testing.T, url string, change func(*http.Request)) (status int, answer string) {
	t.Helper()
	status, answer, _ = asks(t, http.MethodGet, url, "", change)
	return status, answer
}

// TestSignedIn: with a public URL everything but the bare status of /healthz
// needs a session or a bearer token, at the public name only.
func TestSignedIn(t *testing.T) {
	t.Parallel()
	dir, web := t.TempDir(), freePort(t)
	cfg := writeConfig(t, dir, keeperConfig(dir, web, "public_url: https://watch.example.net"))
	const password = "three fine stones in a tank"
	if _, errs, status := typed(t, password+"\n", "user", "add", "-c", cfg, "keeper"); status != 0 {
		t.Fatalf("user add: exit status %d: %s", status, errs)
	}
	token := strings.TrimSpace(does(t, "user", "token", "-c", cfg, "keeper", "--label", "wall display"))
	p := start(t, binary(t), "run", "-c", cfg)
	base := fmt.Sprintf("http://127.0.0.1:%d", web)
	public := func(r *http.Request) { r.Host = "watch.example.net" }
	also := func(name, value string) func(*http.Request) {
		return func(r *http.Request) { public(r); r.Header.Set(name, value) }
	}
	eventually(t, patience, "lentic is healthy", func() bool {
		select {
		case <-p.done:
			t.Fatalf("lentic ended at once:\n%s", p.stderr)
		default:
		}
		req, err := http.NewRequest(http.MethodGet, base+"/healthz", nil)
		if err != nil {
			t.Fatal(err)
		}
		public(req)
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			return false
		}
		res.Body.Close()
		return res.StatusCode == http.StatusOK
	})
	bearer := also("Authorization", "Bearer "+token)
	for _, c := range []struct {
		name, path string
		change     func(*http.Request)
		want       int
	}{
		{"health, by anybody", "/healthz", public, 200},
		{"rounds without a session", "/", public, http.StatusSeeOther},
		{"tank without a session", "/tank/quillmere-library/atrium", public, http.StatusSeeOther},
		{"sites without a session", "/api/v1/sites", public, 401},
		{"metrics without a session", "/metrics", public, 401},
		{"sites with a token", "/api/v1/sites", bearer, 200},
		{"metrics with a token", "/metrics", bearer, 200},
		{"sites with a wrong token", "/api/v1/sites", also("Authorization", "Bearer "+strings.Repeat("x", len(token))), 401},
		{"another Host", "/api/v1/sites", func(r *http.Request) { bearer(r); r.Host = "elsewhere.example.net" }, http.StatusMisdirectedRequest},
		{"its own address as Host", "/api/v1/sites", func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+token) }, http.StatusMisdirectedRequest},
	} {
		t.Run(c.name, func(t *testing.T) {
			if status, answer := get(t, base+c.path, c.change); status != c.want {
				t.Errorf("got %d, want %d: %s", status, c.want, answer)
			}
		})
	}

	form := url.Values{"name": {"keeper"}, "password": {password}}.Encode()
	signIn := func(origin string) (int, http.Header) {
		status, _, header := asks(t, http.MethodPost, base+"/login", form, func(r *http.Request) {
			also("Content-Type", "application/x-www-form-urlencoded")(r)
			r.Header.Set("Origin", origin)
		})
		return status, header
	}
	if status, _ := signIn("https://elsewhere.example.net"); status != http.StatusForbidden {
		t.Errorf("sign-in from a foreign Origin: got %d, want 403", status)
	}
	status, header := signIn("https://watch.example.net")
	if status != http.StatusSeeOther {
		t.Fatalf("sign-in: got %d, want 303", status)
	}
	cookie := header.Get("Set-Cookie")
	contains(t, cookie, "HttpOnly", "Secure", "SameSite=", "Path=/")
	session, _, _ := strings.Cut(cookie, ";")
	if status, answer := get(t, base+"/", also("Cookie", session)); status != 200 {
		t.Errorf("rounds with a session: got %d, want 200: %s", status, answer)
	}
	deed := base + "/api/v1/alarms/none/acknowledge"
	if status, _, _ := asks(t, http.MethodPost, deed, "{}", func(r *http.Request) {
		also("Cookie", session)(r)
		r.Header.Set("Origin", "https://elsewhere.example.net")
	}); status != http.StatusForbidden {
		t.Errorf("a deed from a foreign Origin: got %d, want 403", status)
	}
	if status, _, _ := asks(t, http.MethodPost, deed, "{}", func(r *http.Request) { bearer(r); r.Header.Set("Origin", "https://elsewhere.example.net") }); status != http.StatusNotFound {
		t.Errorf("a deed by token, whatever its Origin: got %d, want 404 for an alarm that is not", status)
	}
	// A new password ends the session, beside the running daemon, and is the
	// one that opens from now on; the token stays.
	const another = "and a fourth one on the sand"
	if _, errs, status := typed(t, another+"\n", "user", "password", "-c", cfg, "keeper"); status != 0 {
		t.Fatalf("user password: exit status %d: %s", status, errs)
	}
	if status, _ := get(t, base+"/", also("Cookie", session)); status != http.StatusSeeOther {
		t.Errorf("rounds with the session of an old password: got %d, want 303 to the sign-in", status)
	}
	if status, _ := signIn("https://watch.example.net"); status == http.StatusSeeOther {
		t.Error("the old password still opens")
	}
	form = url.Values{"name": {"keeper"}, "password": {another}}.Encode()
	if status, _ := signIn("https://watch.example.net"); status != http.StatusSeeOther {
		t.Errorf("sign-in with the new password: got %d, want 303", status)
	}
	if status, _ := get(t, base+"/api/v1/sites", bearer); status != 200 {
		t.Errorf("sites with the token, after the password: got %d, want 200", status)
	}
	// An account that is removed is out at once, its sessions and tokens too.
	does(t, "user", "remove", "-c", cfg, "keeper")
	if status, _ := get(t, base+"/api/v1/sites", bearer); status != 401 {
		t.Errorf("the token of a removed account: got %d, want 401", status)
	}
	if status, _ := get(t, base+"/api/v1/sites", also("Cookie", session)); status != 401 {
		t.Errorf("the session of a removed account: got %d, want 401", status)
	}
}

// TestOpenOnLoopback: nobody needs to sign in on the machine itself, but
// nothing that comes from elsewhere is let in.
func TestOpenOnLoopback(t *testing.T) {
	t.Parallel()
	dir, web := t.TempDir(), freePort(t)
	watching(t, writeConfig(t, dir, keeperConfig(dir, web)), web)
	base := fmt.Sprintf("http://127.0.0.1:%d", web)
	with := func(name, value string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set(name, value) }
	}
	for _, c := range []struct {
		name   string
		change func(*http.Request)
		want   int
	}{
		{"itself", nil, 200},
		{"by name", func(r *http.Request) { r.Host = fmt.Sprintf("localhost:%d", web) }, 200},
		{"own Origin", with("Origin", base), 200},
		{"foreign Host", func(r *http.Request) { r.Host = "elsewhere.example.net" }, http.StatusMisdirectedRequest},
		{"foreign Origin", with("Origin", "https://elsewhere.example.net"), 403},
		{"a proxy in front", with("X-Forwarded-For", "192.0.2.1"), 403},
		{"a newer proxy in front", with("Forwarded", "for=192.0.2.1"), 403},
	} {
		t.Run(c.name, func(t *testing.T) {
			if status, answer := get(t, base+"/api/v1/sites", c.change); status != c.want {
				t.Errorf("got %d, want %d: %s", status, c.want, answer)
			}
		})
	}
}

// TestExposedPagesRefused: an address that others can reach needs a public URL
// and an account. Nothing listens there in this test: 192.0.2.1 is for
// documentation (RFC 5737) and no address of this machine.
func TestExposedPagesRefused(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		more []string
	}{{"no public_url", nil}, {"no account", []string{"public_url: https://watch.example.net"}}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			text := strings.Replace(keeperConfig(dir, 8420, c.more...), "127.0.0.1:8420", "192.0.2.1:8420", 1)
			contains(t, refusesToRun(t, writeConfig(t, dir, text), 78), "192.0.2.1:8420", "public_url")
		})
	}
}
