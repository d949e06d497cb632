package broker

import (
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/gorilla/websocket"
	"github.com/mochi-mqtt/server/v2/listeners"
)

// hello is how long a device may take to say who it is.
const hello = 10 * time.Second

// listener accepts connections for the library. The library's own would let
// any web page connect, and would wait for ever for a silent caller.
type listener struct {
	address   string
	tls       *tls.Config
	webSocket bool
	anonymous bool
	log       *slog.Logger
	web       *http.Server // with webSocket
	establish listeners.EstablishFn

	// writeMost bounds a write to a device that does not read.
	writeMost time.Duration

	mu     sync.Mutex // guards what follows
	listen net.Listener
	links  map[*link]bool
	paused bool // lets nobody in for now
	ended  bool
}

func newListener(o Options) *listener {
	return &listener{
		address: o.Address, tls: o.TLS, webSocket: o.WebSocket, anonymous: len(o.Gateways) == 0,
		log: o.Log, links: map[*link]bool{}, writeMost: 10 * time.Second,
	}
}

func (l *listener) open() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.listen != nil {
		return nil
	}
	n, err := net.Listen("tcp", l.address)
	if errors.Is(err, syscall.EADDRINUSE) {
		return fmt.Errorf("mqtt address %s is in use: another broker, or lentic itself, is running: stop it or choose another port: %w", l.address, err)
	}
	if err != nil {
		return fmt.Errorf("mqtt address %s: %w", l.address, err)
	}
	if l.tls != nil {
		n = tls.NewListener(n, l.tls)
	}
	l.listen = n
	return nil
}

func (l *listener) addr() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.listen == nil {
		return ""
	}
	return l.listen.Addr().String()
}

// The library's interface. It opens nothing and closes nothing by itself.
func (l *listener) Init(*slog.Logger) error { return nil }
func (l *listener) ID() string              { return "devices" }
func (l *listener) Address() string         { return l.addr() }
func (l *listener) Protocol() string        { return "mqtt" }

// Close does not call the function it is given: that takes one read lock inside
// another, and stops for ever when a client leaves in between (v2.7.9,
// Clients.GetByListener). Closing the links ends the clients just as well.
func (l *listener) Close(listeners.CloseFn) {
	l.refuse()
	l.hangUp()
}

// Serve accepts until refuse.
func (l *listener) Serve(establish listeners.EstablishFn) {
	l.establish = establish
	if l.webSocket {
		l.serveWeb()
		return
	}
	for {
		c, err := l.listen.Accept()
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil { // out of descriptors, as a rule: some will end
			l.log.Warn("cannot accept a device", "err", err)
			time.Sleep(100 * time.Millisecond)
			continue
		}
		go l.serve(c) // ends with its link; the library waits for it
	}
}

// serve runs one connection to its end.
func (l *listener) serve(c net.Conn) {
	k := &link{Conn: c, writeMost: l.writeMost, closed: make(chan struct{})}
	if plain, ok := c.(*net.TCPConn); ok {
		k.raw, _ = plain.SyscallConn()
	}
	if !l.add(k) {
		_ = k.Close()
		return
	}
	defer l.remove(k)
	_ = c.SetDeadline(time.Now().Add(hello)) // the library sets its own after CONNECT
	if err := l.establish(l.ID(), k); err != nil {
		l.log.Debug("connection ended", "remote", host(c.RemoteAddr().String()), "err", err)
	}
}

func (l *listener) add(k *link) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.ended || l.paused {
		return false
	}
	l.links[k] = true
	return true
}

// remove ends a connection; the library is done with it, and has sent its Will.
func (l *listener) remove(k *link) {
	_ = k.Close()
	l.mu.Lock()
	delete(l.links, k)
	l.mu.Unlock()
	if c := k.conn.Load(); c != nil {
		close(c.gone)
	}
}

// refuse accepts no more.
func (l *listener) refuse() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.ended = true
	if l.listen != nil {
		_ = l.listen.Close()
	}
}

// conns are the connections of devices that have been let in.
func (l *listener) conns() (cs []*conn) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for k := range l.links {
		if c := k.conn.Load(); c != nil {
			cs = append(cs, c)
		}
	}
	return cs
}

// hangUp closes what is connected, callers who have not said who they are
// included.
func (l *listener) hangUp() {
	l.mu.Lock()
	defer l.mu.Unlock()
	for k := range l.links {
		_ = k.Close()
	}
}

// link is a network connection that knows whose it is, and tells when it has
// been closed.
type link struct {
	net.Conn
	conn      atomic.Pointer[conn] // nil until its device has been let in
	paused    atomic.Bool          // a pause ends it, and not its device
	raw       syscall.RawConn      // nil where bytes are wrapped on their way
	writeMost time.Duration
	until     time.Time // the read deadline; the reader's own
	once      sync.Once
	closed    chan struct{}
}

// slack is how much earlier than asked a read may end, so that not each packet
// costs a timer. Keepalives are whole seconds, and stretched by half.
const slack = 100 * time.Millisecond

// SetDeadline is the library's: how long its reader waits for the next packet.
// It means writing too, and sets this once per packet read: a device that then
// was quiet for a while could not be answered any more.
func (k *link) SetDeadline(t time.Time) error {
	if later := t.Sub(k.until); !t.IsZero() && later >= 0 && later < slack {
		return nil
	}
	k.until = t
	return k.SetReadDeadline(t)
}

// Write has a limit of its own each time.
func (k *link) Write(p []byte) (int, error) {
	if err := k.SetWriteDeadline(time.Now().Add(k.writeMost)); err != nil {
		return 0, err
	}
	defer func() { _ = k.SetWriteDeadline(time.Time{}) }()
	return k.Conn.Write(p)
}

// writeNow writes as much as the line takes without waiting, and is the number
// of bytes. It is 0 where the line is not a plain one.
func (k *link) writeNow(p []byte) (n int) {
	if k.raw == nil {
		return 0
	}
	err := k.raw.Write(func(fd uintptr) bool {
		n, _ = syscall.Write(int(fd), p)
		return true // do not wait and try again
	})
	if err != nil {
		return 0
	}
	return max(n, 0)
}

func (k *link) Close() error {
	err := net.ErrClosed
	k.once.Do(func() {
		close(k.closed)
		err = k.Conn.Close()
	})
	return err
}

// serveWeb accepts MQTT in WebSockets (MQTT 3.1.1, section 6).
func (l *listener) serveWeb() {
	up := websocket.Upgrader{Subprotocols: []string{"mqtt"}, CheckOrigin: l.origin, HandshakeTimeout: hello}
	l.web = &http.Server{
		ReadHeaderTimeout: hello,
		ErrorLog:          slog.NewLogLogger(l.log.Handler(), slog.LevelDebug),
		Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			c, err := up.Upgrade(w, r, nil)
			if err != nil {
				l.log.Debug("no WebSocket", "remote", host(r.RemoteAddr), "err", err)
				return
			}
			l.serve(&webConn{Conn: c.NetConn(), c: c})
		}),
	}
	_ = l.web.Serve(l.listen) // until refuse closes it
}

// origin refuses web pages of other places: a browser sends its page's origin,
// a device none or the address it calls. Where nobody is asked for a password
// that address must be this machine's, for a page may have any name point here.
func (l *listener) origin(r *http.Request) bool {
	from := r.Header.Get("Origin")
	if from == "" {
		return true
	}
	u, err := url.Parse(from)
	if err != nil || u.Host != r.Host {
		return false
	}
	return !l.anonymous || loopback(u.Hostname())
}

// webConn reads and writes a stream of bytes in binary WebSocket messages;
// packets need not begin and end with them (MQTT-6.0.0-2).
type webConn struct {
	net.Conn
	c    *websocket.Conn
	rest interface{ Read([]byte) (int, error) }
}

func (w *webConn) Read(p []byte) (int, error) {
	for {
		if w.rest == nil {
			kind, r, err := w.c.NextReader()
			if err != nil {
				return 0, err
			}
			if kind != websocket.BinaryMessage {
				return 0, errors.New("MQTT in a WebSocket wants binary messages (MQTT-6.0.0-1)")
			}
			w.rest = r
		}
		n, err := w.rest.Read(p)
		if err != nil {
			w.rest = nil // its end, or that of the connection, told by NextReader
		}
		if n > 0 || len(p) == 0 {
			return n, nil
		}
	}
}

// SetWriteDeadline tells the WebSocket, which otherwise writes without one.
func (w *webConn) SetWriteDeadline(t time.Time) error { return w.c.SetWriteDeadline(t) }

func (w *webConn) Write(p []byte) (int, error) {
	if err := w.c.WriteMessage(websocket.BinaryMessage, p); err != nil {
		return 0, err
	}
	return len(p), nil
}
