package channel

import (
	"context"
	"crypto/tls"
	"io"
	"mime"
	"mime/quotedprintable"
	"net/mail"
	"strings"
	"testing"
	"time"

	"lentic/alert/rota"
)

var letter = rota.Outgoing{
	ID: "m1", To: keeper,
	Subject: "Quillmere Library: pH falls\r\nBcc: somebody@example.net",
	Text:    "Atrium island – pH 5.98, “valve shut”\n.\nend\n",
}

func mailTo(t *testing.T, o SMTPOptions, m rota.Outgoing) (string, error) {
	t.Helper()
	o.Host, o.From = "127.0.0.1", "watch@example.net"
	o.Now = func() time.Time { return time.Date(2031, 3, 2, 2, 14, 30, 0, time.UTC) }
	s, err := NewSMTP(o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	return s.Send(ctx, m)
}

func TestMail(t *testing.T) {
	s := newMailServer(t, nil, "")
	receipt, err := mailTo(t, SMTPOptions{Port: s.port(), Username: "watch", Password: "pass-of-watch"}, letter)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(receipt, "4711") {
		t.Errorf("receipt: got %q, want the server's answer", receipt)
	}
	got := <-s.got
	if got.user != "watch" || got.password != "pass-of-watch" {
		t.Errorf("authenticated as %q", got.user)
	}
	if !strings.HasPrefix(got.from, "FROM:<watch@example.net>") || !strings.HasPrefix(got.to, "TO:<keeper@example.net>") {
		t.Errorf("envelope: %s, %s", got.from, got.to)
	}
	m, err := mail.ReadMessage(strings.NewReader(got.mail))
	if err != nil {
		t.Fatal(err)
	}
	for k, want := range map[string]string{
		"Date":         "Sun, 02 Mar 2031 02:14:30 +0000",
		"Message-ID":   "<m1.keeper@example.net>",
		"Bcc":          "",
		"Content-Type": "text/plain; charset=UTF-8",
	} {
		if h := m.Header.Get(k); h != want {
			t.Errorf("%s: got %q, want %q", k, h, want)
		}
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
	if want := "Quillmere Library: pH falls Bcc: somebody@example.net"; err != nil || subject != want {
		t.Errorf("subject: got %q, want %q (%v)", subject, want, err)
	}
	body, err := io.ReadAll(quotedprintable.NewReader(m.Body))
	if text := strings.ReplaceAll(string(body), "\r\n", "\n"); err != nil || strings.TrimSpace(text) != strings.TrimSpace(letter.Text) {
		t.Errorf("text: got %q, want %q (%v)", text, letter.Text, err)
	}
}

func TestMailRefusedAfterData(t *testing.T) {
	s := newMailServer(t, nil, "552 5.2.2 mailbox full")
	_, err := mailTo(t, SMTPOptions{Port: s.port()}, letter)
	if err == nil || !strings.Contains(err.Error(), "mailbox full") {
		t.Errorf("got %v, want the server's refusal", err)
	}
}

func TestMailOverTLS(t *testing.T) {
	cert, pool := certificate(t)
	s := newMailServer(t, cert, "")
	o := SMTPOptions{Port: s.port(), Username: "watch", Password: "pass-of-watch", TLS: &tls.Config{RootCAs: pool}}
	if _, err := mailTo(t, o, letter); err != nil {
		t.Fatal(err)
	}
	if got := <-s.got; !got.tls || got.password != "pass-of-watch" {
		t.Errorf("got tls %v, user %q; want both", got.tls, got.user)
	}
}

func TestMailWithoutTrust(t *testing.T) {
	cert, _ := certificate(t)
	_, others := certificate(t)
	cases := []struct {
		name string
		cert *tls.Certificate
		tls  *tls.Config
		want string
	}{
		{"a stranger's certificate", cert, &tls.Config{RootCAs: others}, "certificate"},
		{"the check cannot be switched off", cert, &tls.Config{RootCAs: others, InsecureSkipVerify: true}, "certificate"},
		{"no STARTTLS offered", nil, &tls.Config{RootCAs: others}, "STARTTLS"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s := newMailServer(t, c.cert, "")
			_, err := mailTo(t, SMTPOptions{Port: s.port(), Username: "watch", Password: "pass-of-watch", TLS: c.tls}, letter)
			if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "pass-of-watch") {
				t.Errorf("got %v, want %q", err, c.want)
			}
			if len(s.got) > 0 {
				t.Error("the mail left all the same")
			}
		})
	}
}

func TestMailOffLoopbackNeedsTLS(t *testing.T) {
	for host, bare := range map[string]bool{"127.0.0.1": true, "localhost": true, "::1": true, "mail.example.net": false, "192.0.2.1": false} {
		s, err := NewSMTP(SMTPOptions{Host: host, From: "watch@example.net"})
		if err != nil || s.bare != bare {
			t.Errorf("%s: without TLS %v, want %v (%v)", host, s.bare, bare, err)
		}
	}
}

func TestNewSMTPRefuses(t *testing.T) {
	for _, o := range []SMTPOptions{{From: "watch@example.net"}, {Host: "h", From: "nobody"}, {Host: "h", From: "watch@example.net", Port: 70000}} {
		if _, err := NewSMTP(o); err == nil {
			t.Errorf("%+v: want an error", o)
		}
	}
}
