package broker

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"math/big"
	"net"
	"net/http"
	"testing"
	"time"

	"github.com/gorilla/websocket"
)

// A device behind a web proxy speaks MQTT in a WebSocket. A page of another
// place, opened in a browser on this machine, must not.
func TestWebSocket(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer, WebSocket: true})
	up := websocket.Dialer{Subprotocols: []string{"mqtt"}}
	for _, tt := range []struct {
		name, origin, host string
		in                 bool
	}{
		{"a device", "", "", true},
		{"a device that names the address as its origin", "http://" + b.Addr(), "", true},
		{"a page of another place", "http://evil.example.net", "", false},
		{"a page whose name points here", "http://evil.example.net", "evil.example.net", false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			head := http.Header{}
			if tt.origin != "" {
				head.Set("Origin", tt.origin)
			}
			if tt.host != "" {
				head.Set("Host", tt.host)
			}
			c, r, err := up.Dial("ws://"+b.Addr()+"/mqtt", head)
			if r != nil {
				_ = r.Body.Close()
			}
			if (err == nil) != tt.in {
				t.Fatalf("error %v, want let in %v", err, tt.in)
			}
			if !tt.in {
				return
			}
			defer func() { _ = c.Close() }()
			// One packet in two messages, and the answer in one of its own.
			hello := frame(0x10, text("MQTT"), []byte{4, 2, 0, 60}, text("x"))
			say(t, c, hello[:5])
			say(t, c, hello[5:])
			hear(t, c, 0x20)
			say(t, c, publish(topic, 1, 7, []byte("6.58")))
			d.await(t, 1)
			d.commit(1)
			hear(t, c, 0x40)
		})
	}
}

func say(t *testing.T, c *websocket.Conn, b []byte) {
	t.Helper()
	if err := c.WriteMessage(websocket.BinaryMessage, b); err != nil {
		t.Fatal(err)
	}
}

func hear(t *testing.T, c *websocket.Conn, head byte) {
	t.Helper()
	_ = c.SetReadDeadline(time.Now().Add(patience))
	kind, got, err := c.ReadMessage()
	if err != nil || kind != websocket.BinaryMessage || got[0] != head {
		t.Fatalf("message % x of kind %d, %v, want packet % x", got, kind, err, head)
	}
}

func TestTLS(t *testing.T) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	d := newDisk()
	b, _ := start(t, Options{
		Offer:    d.offer,
		TLS:      &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}, MinVersion: tls.VersionTLS12},
		Gateways: []Gateway{{ID: "gw1", Site: "quillmere-library", Password: "p"}},
	})
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(leaf)
	c, err := tls.Dial("tcp", b.Addr(), &tls.Config{RootCAs: pool})
	if err != nil {
		t.Fatal(err)
	}
	dev := wrap(t, c)
	dev.hello(login{id: "x", user: "gw1", password: "p"})
	if h, body := dev.read(); h != 0x20 || body[1] != 0 {
		t.Fatalf("CONNACK % x % x, want accepted", h, body)
	}
	dev.send(publish(topic, 1, 7, []byte("6.58")))
	if m := d.await(t, 1)[0]; m.Gateway != "gw1" {
		t.Errorf("gateway %q, want gw1", m.Gateway)
	}
	d.commit(1)
	dev.want(0x40, 7)
}
