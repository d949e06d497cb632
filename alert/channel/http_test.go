package channel

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"lentic/alert/rota"
	"lentic/collector/aquarium"
)

var keeper = aquarium.Person{ID: "keeper", Name: "Keeper", Phone: "+447700900101", Email: "keeper@example.net"}

const token = "s3cr3t-token-of-the-provider"

// provider is a server on loopback that answers as told and keeps what it got.
func provider(t *testing.T, status int, answer string) (at string, got *http.Request, body *string) {
	t.Helper()
	got, body = new(http.Request), new(string)
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b, err := io.ReadAll(r.Body)
		if err != nil {
			t.Error(err)
		}
		*got, *body = *r.Clone(context.Background()), string(b)
		w.WriteHeader(status)
		_, _ = io.WriteString(w, answer)
	}))
	t.Cleanup(s.Close)
	return s.URL, got, body
}

func send(t *testing.T, o HTTPOptions, m rota.Outgoing) (string, error) {
	t.Helper()
	h, err := NewHTTP(o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	return h.Send(ctx, m)
}

func TestHTTPRequest(t *testing.T) {
	at, got, body := provider(t, 200, `{"status":"queued","id":"77"}`)
	awkward := "Hotel \"Sarnbrook\"\nlobby <b> & \\ \x01 \u2028"
	o := HTTPOptions{
		URL:      at + "/send?ref={{urlquery .ID}}&name={{urlquery .Name}}",
		Body:     `{"to":{{json .To}},"text":{{json .Text}},"name":{{json .Name}},"subject":{{json .Subject}}}`,
		Headers:  map[string]string{"Authorization": "Bearer " + token},
		Accepted: Accepted{Status: 200, Pointer: "/status", Equals: "queued"},
	}
	to := keeper
	to.Name = awkward
	receipt, err := send(t, o, rota.Outgoing{ID: "m 1&2", To: to, Subject: awkward, Text: awkward})
	if err != nil {
		t.Fatal(err)
	}
	if want := `200 OK: {"status":"queued","id":"77"}`; receipt != want {
		t.Errorf("receipt: got %q, want %q", receipt, want)
	}
	var doc map[string]string
	if err := json.Unmarshal([]byte(*body), &doc); err != nil {
		t.Fatalf("body is not JSON: %v\n%s", err, *body)
	}
	for k, want := range map[string]string{"to": "+447700900101", "text": awkward, "name": awkward, "subject": awkward} {
		if doc[k] != want {
			t.Errorf("%s: got %q, want %q", k, doc[k], want)
		}
	}
	if q := got.URL.Query(); q.Get("ref") != "m 1&2" || q.Get("name") != awkward {
		t.Errorf("query: got %v", q)
	}
	if got.Method != "POST" || got.Header.Get("Content-Type") != "application/json" || got.Header.Get("Authorization") != "Bearer "+token {
		t.Errorf("got %s, %v", got.Method, got.Header)
	}
}

func TestHTTPForm(t *testing.T) {
	at, got, body := provider(t, 202, "ok")
	o := HTTPOptions{URL: at, Method: "PUT", Body: `to={{urlquery .To}}&text={{urlquery .Text}}`}
	if _, err := send(t, o, rota.Outgoing{To: keeper, Text: "a&b=c\nd"}); err != nil {
		t.Fatal(err)
	}
	q, err := url.ParseQuery(*body)
	if err != nil || q.Get("text") != "a&b=c\nd" || q.Get("to") != keeper.Phone {
		t.Errorf("got %q, %v", *body, err)
	}
	if got.Method != "PUT" || got.Header.Get("Content-Type") != "application/x-www-form-urlencoded" {
		t.Errorf("got %s %s", got.Method, got.Header.Get("Content-Type"))
	}
}

func TestAccepted(t *testing.T) {
	queued := Accepted{Status: 200, Pointer: "/status", Equals: "queued"}
	cases := []struct {
		name   string
		a      Accepted
		status int
		answer string
		want   string // in the error; empty: taken
	}{
		{"taken", queued, 200, `{"status":"queued"}`, ""},
		{"an error in a 200", queued, 200, `{"status":"error","why":"no credit"}`, `want "queued" at /status, got "error"`},
		{"nothing there", queued, 200, `{"ok":true}`, "want something at /status"},
		{"not JSON", queued, 200, `<html>`, "want a JSON answer"},
		{"empty answer", queued, 200, "", "want a JSON answer"},
		{"another status", queued, 201, `{"status":"queued"}`, "want status 200"},
		{"any 2xx", Accepted{}, 299, "", ""},
		{"no 3xx", Accepted{}, 302, "", "want a status from 200 to 299"},
		{"refused", Accepted{}, 401, "unauthorised", "401 Unauthorized: unauthorised"},
		{"broken", Accepted{}, 500, "", "500"},
		{"a number", Accepted{Pointer: "/messages/0/code", Equals: "0"}, 200, `{"messages":[{"code":0}]}`, ""},
		{"a large number as written", Accepted{Pointer: "/id", Equals: "12345678901234567890"}, 200, `{"id":12345678901234567890}`, ""},
		{"a truth", Accepted{Pointer: "/ok", Equals: "true"}, 200, `{"ok":true}`, ""},
		{"anything", Accepted{Pointer: "/id"}, 200, `{"id":"x"}`, ""},
		{"beyond the list", Accepted{Pointer: "/m/1"}, 200, `{"m":[0]}`, "want something at /m/1"},
		{"no leading zero, as RFC 6901 section 4 says", Accepted{Pointer: "/m/00"}, 200, `{"m":[0]}`, "want something at /m/00"},
		{"escaped as in RFC 6901 section 5", Accepted{Pointer: "/a~1b/m~0n", Equals: "8"}, 200, `{"a/b":{"m~n":8}}`, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			at, _, _ := provider(t, c.status, c.answer)
			_, err := send(t, HTTPOptions{URL: at, Body: "{{json .Text}}", Accepted: c.a}, rota.Outgoing{To: keeper})
			switch {
			case c.want == "" && err != nil:
				t.Errorf("got %v, want it taken", err)
			case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

// TestHTTPQuotesNoSecret: wherever a secret stands in the request and however
// the provider gives it back, no answer and no error shows it.
func TestHTTPQuotesNoSecret(t *testing.T) {
	echo := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		user, password, _ := r.BasicAuth()
		heard, _ := json.Marshal(map[string]any{"decoded": r.URL.Query(), "path": r.URL.Path, "user": user, "password": password})
		w.WriteHeader(403)
		fmt.Fprintf(w, "%s is not valid: %v %s %s", r.URL.RequestURI(), r.Header, heard, body)
	}))
	t.Cleanup(echo.Close)
	at := echo.URL
	for _, c := range []struct {
		name    string
		o       HTTPOptions
		secrets []string
	}{
		{"header", HTTPOptions{URL: at, Headers: map[string]string{"Authorization": "Bearer " + token}}, []string{token}},
		{"a header of its own", HTTPOptions{URL: at, Headers: map[string]string{"X-Key": token}}, []string{token}},
		{"query", HTTPOptions{URL: at + "/send?to={{urlquery .To}}&key=a%2Fsecret%22key"}, []string{"a%2Fsecret%22key", `a/secret"key`, `a/secret\"key`}},
		{"path", HTTPOptions{URL: at + "/robot" + token + "/send"}, []string{token}},
		{"user and password", HTTPOptions{URL: strings.Replace(at, "http://", "http://watch1:"+token+"@", 1)},
			[]string{"watch1", token, base64.StdEncoding.EncodeToString([]byte("watch1:" + token))}},
		{"body", HTTPOptions{URL: at, Body: `{"key":"` + token + `"}`, Secrets: []string{token}}, []string{token}},
		{"no answer", HTTPOptions{URL: "http://watch1:" + token + "@127.0.0.1:1/?key=another-secret"}, []string{token, "another-secret"}}, // nobody listens on tcpmux
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.o.Body == "" {
				c.o.Body = "{{json .Text}}"
			}
			_, err := send(t, c.o, rota.Outgoing{To: keeper, Text: strings.Repeat("x ", 5000)})
			if err == nil {
				t.Fatal("want a refusal")
			}
			for _, s := range append(c.secrets, "447700900101") {
				if strings.Contains(err.Error(), s) {
					t.Errorf("quotes %q: %v", s, err)
				}
			}
			if c.name != "no answer" && (!strings.Contains(err.Error(), "403 Forbidden") || !strings.Contains(err.Error(), "is not valid")) {
				t.Errorf("want the status and the answer, got %v", err)
			}
			if n := len([]rune(err.Error())); n > 350 {
				t.Errorf("quotes %d characters", n)
			}
		})
	}
}

func TestHTTPFollowsNoRedirect(t *testing.T) {
	elsewhere := false
	other := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { elsewhere = true }))
	defer other.Close()
	s := httptest.NewServer(http.RedirectHandler(other.URL, http.StatusTemporaryRedirect))
	defer s.Close()
	_, err := send(t, HTTPOptions{URL: s.URL, Body: "x"}, rota.Outgoing{To: keeper})
	if err == nil || !strings.Contains(err.Error(), "307") {
		t.Errorf("got %v, want the redirect refused", err)
	}
	if elsewhere {
		t.Error("followed the redirect")
	}
}

func TestHTTPDeadline(t *testing.T) {
	release := make(chan struct{})
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.WriteHeader(200)
		w.(http.Flusher).Flush()
		<-release
	}))
	defer s.Close()
	defer close(release)
	h, err := NewHTTP(HTTPOptions{URL: s.URL, Body: "x"})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	if _, err := h.Send(ctx, rota.Outgoing{To: keeper}); err == nil || !strings.Contains(err.Error(), "broke off after 200 OK") {
		t.Errorf("got %v, want the deadline told with the status", err)
	}
}

func TestHTTPBoundsTheAnswer(t *testing.T) {
	at, _, _ := provider(t, 200, strings.Repeat("a", 10*answerLimit))
	receipt, err := send(t, HTTPOptions{URL: at, Body: "x"}, rota.Outgoing{To: keeper})
	if err != nil || len(receipt) > quoteLimit+20 {
		t.Errorf("got %d bytes, %v", len(receipt), err)
	}
}

func TestNewHTTPRefuses(t *testing.T) {
	good := "https://sms.example.net/send"
	cases := []struct {
		name string
		o    HTTPOptions
		want string
	}{
		{"unknown field", HTTPOptions{URL: good, Body: "{{.Message}}"}, "Message"},
		{"unknown function", HTTPOptions{URL: good, Body: "{{quote .Text}}"}, "quote"},
		{"unclosed", HTTPOptions{URL: good, Body: "{{json .Text"}, "body"},
		{"no address", HTTPOptions{Body: "x"}, "want http"},
		{"another scheme", HTTPOptions{URL: "ftp://sms.example.net", Body: "x"}, "want http"},
		{"pointer without slash", HTTPOptions{URL: good, Accepted: Accepted{Pointer: "status"}}, "RFC 6901"},
		{"no status", HTTPOptions{URL: good, Accepted: Accepted{Status: 20}}, "100 to 599"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := NewHTTP(c.o)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}
