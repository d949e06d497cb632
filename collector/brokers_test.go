package collector

import (
	"bufio"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/binary"
	"fmt"
	"io"
	"log/slog"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"
)

// patience bounds every wait of a test.
const patience = 20 * time.Second

// strangers is somebody else's broker in this process. readable says which
// subscriptions it grants; nil: all.
func strangers(t *testing.T, config listeners.Config, readable func(filter string) bool) (address string) {
	t.Helper()
	s := mochi.New(&mochi.Options{Logger: slog.New(slog.DiscardHandler)})
	if err := s.AddHook(&rights{readable: readable}, nil); err != nil {
		t.Fatal(err)
	}
	var l listeners.Listener
	if config.Type == listeners.TypeWS {
		config.Address = freePort(t) // that listener does not tell its port
		l = listeners.NewWebsocket(config)
	} else {
		config.Address = "127.0.0.1:0"
		l = listeners.NewTCP(config)
	}
	if err := s.AddListener(l); err != nil {
		t.Fatal(err)
	}
	if err := s.Serve(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return l.Address()
}

type rights struct {
	mochi.HookBase
	readable func(string) bool
}

func (*rights) ID() string { return "rights" }

func (*rights) Provides(b byte) bool {
	return b == mochi.OnACLCheck || b == mochi.OnConnectAuthenticate
}

func (r *rights) OnACLCheck(_ *mochi.Client, topic string, write bool) bool {
	return write || r.readable == nil || r.readable(topic)
}

func (r *rights) OnConnectAuthenticate(_ *mochi.Client, pk packets.Packet) bool {
	return string(pk.Connect.Password) != "wrong"
}

func freePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	return l.Addr().String()
}

func mosquitto(t *testing.T) (address string) { return realBroker(t) }

// realBroker is Mosquitto, with the settings of deploy/mosquitto.conf that
// are not about its place.
func realBroker(t testing.TB) (address string) {
	t.Helper()
	path, err := exec.LookPath("mosquitto")
	if err != nil {
		if path = "/usr/sbin/mosquitto"; !isFile(path) {
			t.Skip("mosquitto is not installed (Debian package mosquitto)")
		}
	}
	address = freePort(t)
	_, port, _ := net.SplitHostPort(address)
	conf := filepath.Join(t.TempDir(), "mosquitto.conf")
	text := fmt.Sprintf("listener %s 127.0.0.1\nallow_anonymous true\nmax_inflight_messages 0\nmax_queued_messages 0\n", port)
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(path, "-c", conf)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	for began := time.Now(); ; time.Sleep(10 * time.Millisecond) { // another process: its clock is the real one
		if c, err := net.Dial("tcp", address); err == nil {
			_ = c.Close()
			return address
		}
		if time.Since(began) > patience {
			t.Fatal("mosquitto does not answer")
		}
	}
}

func isFile(path string) bool {
	i, err := os.Stat(path)
	return err == nil && i.Mode().IsRegular()
}

// line is a network line to a broker that a test can cut, and that notes the
// ids of the messages going down it and of the acknowledgements coming up.
type line struct {
	address string
	to      string

	copies sync.WaitGroup

	mu       sync.Mutex // guards what follows
	conns    []net.Conn
	down, up []uint16
}

func newLine(t *testing.T, to string) *line {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = l.Close() })
	n := &line{address: l.Addr().String(), to: to}
	t.Cleanup(n.cut)
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			b, err := net.Dial("tcp", to)
			if err != nil {
				_ = c.Close()
				continue
			}
			n.mu.Lock()
			n.conns = append(n.conns, c, b)
			n.mu.Unlock()
			n.copies.Go(func() { n.copy(b, c, 0x40, &n.up) })
			n.copies.Go(func() { n.copy(c, b, 0x30, &n.down) })
		}
	}()
	return n
}

// copy passes packets on, and notes the ids of one type. It hangs up in its own
// direction only: a full close would throw away what the other side has not
// read yet.
func (n *line) copy(to, from net.Conn, kind byte, ids *[]uint16) {
	defer func() { _ = to.(*net.TCPConn).CloseWrite() }()
	in := bufio.NewReader(from)
	for {
		head, err := in.ReadByte()
		if err != nil {
			return
		}
		size, err := binary.ReadUvarint(in)
		if err != nil {
			return
		}
		body := make([]byte, size)
		if _, err := io.ReadFull(in, body); err != nil {
			return
		}
		if head&0xf0 == kind {
			at := 0
			if kind == 0x30 && head&0x06 != 0 {
				at = 2 + int(binary.BigEndian.Uint16(body))
			}
			n.mu.Lock()
			*ids = append(*ids, binary.BigEndian.Uint16(body[at:]))
			n.mu.Unlock()
		}
		if _, err := to.Write(append(binary.AppendUvarint([]byte{head}, size), body...)); err != nil {
			return
		}
	}
}

func (n *line) cut() {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, c := range n.conns {
		_ = c.Close()
	}
	n.conns, n.up, n.down = nil, nil, nil
}

// rest waits until nothing is under way: both ends have hung up.
func (n *line) rest() { n.copies.Wait() }

func (n *line) ids() (down, up []uint16) {
	n.mu.Lock()
	defer n.mu.Unlock()
	return append([]uint16{}, n.down...), append([]uint16{}, n.up...)
}

// certificate is a key and a certificate for 127.0.0.1, and the pool that
// trusts it and nothing else.
func certificate(t *testing.T) (*tls.Config, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1),
		Subject:      pkix.Name{CommonName: "broker.example.net"},
		NotBefore:    time.Now().Add(-time.Hour),
		NotAfter:     time.Now().Add(time.Hour),
		IPAddresses:  []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(leaf)
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}, pool
}
