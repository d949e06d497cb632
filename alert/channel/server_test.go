package channel

import (
	"bufio"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"fmt"
	"math/big"
	"net"
	"strings"
	"testing"
	"time"
)

// mailServer is a small SMTP server (RFC 5321) for one test.
type mailServer struct {
	t    *testing.T
	l    net.Listener
	cert *tls.Certificate // offers STARTTLS (RFC 3207)
	data string           // its answer to the end of DATA; empty: 250

	got chan received
}

type received struct {
	from, to, mail, user, password string
	tls                            bool
}

func newMailServer(t *testing.T, cert *tls.Certificate, data string) *mailServer {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s := &mailServer{t: t, l: l, cert: cert, data: data, got: make(chan received, 4)}
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			s.serve(c)
		}
	}()
	t.Cleanup(func() { _ = l.Close(); <-done })
	return s
}

func (s *mailServer) port() int { return s.l.Addr().(*net.TCPAddr).Port }

// serve holds one conversation.
func (s *mailServer) serve(c net.Conn) {
	defer func() { _ = c.Close() }()
	_ = c.SetDeadline(time.Now().Add(10 * time.Second))
	r := bufio.NewReader(c)
	say := func(format string, a ...any) { _, _ = fmt.Fprintf(c, format+"\r\n", a...) }
	var got received
	say("220 mail.example.net ready")
	for {
		line, err := r.ReadString('\n')
		if err != nil {
			return
		}
		line = strings.TrimSpace(line)
		verb, rest, _ := strings.Cut(line, " ")
		switch strings.ToUpper(verb) {
		case "EHLO":
			say("250-mail.example.net")
			if s.cert != nil && !got.tls {
				say("250-STARTTLS")
			}
			say("250 AUTH PLAIN")
		case "STARTTLS":
			say("220 go on")
			t := tls.Server(c, &tls.Config{Certificates: []tls.Certificate{*s.cert}})
			if t.Handshake() != nil {
				return
			}
			c, r, got.tls = t, bufio.NewReader(t), true
		case "AUTH":
			_, b64, _ := strings.Cut(rest, " ")
			b, _ := base64.StdEncoding.DecodeString(b64)
			if parts := strings.Split(string(b), "\x00"); len(parts) == 3 {
				got.user, got.password = parts[1], parts[2]
			}
			say("235 welcome")
		case "MAIL":
			got.from = rest
			say("250 ok")
		case "RCPT":
			got.to = rest
			say("250 ok")
		case "DATA":
			say("354 go on")
			var b strings.Builder
			for {
				l, err := r.ReadString('\n')
				if err != nil {
					return
				}
				if l == ".\r\n" {
					break
				}
				b.WriteString(strings.TrimPrefix(l, "."))
			}
			got.mail = b.String()
			if s.data != "" {
				say("%s", s.data)
				continue
			}
			s.got <- got
			say("250 2.0.0 kept as 4711")
		case "QUIT":
			say("221 goodbye")
			return
		default:
			say("250 ok")
		}
	}
}

// certificate is one for 127.0.0.1, and the pool that trusts it.
func certificate(t *testing.T) (*tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	der, err := x509.CreateCertificate(rand.Reader, c, c, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool.AddCert(leaf)
	return &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, pool
}
