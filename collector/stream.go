package collector

import (
	"bufio"
	"context"
	"crypto/tls"
	"net"
	"net/url"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	"golang.org/x/net/proxy"
)

// stream is a connection that is read and written in large pieces. The library
// reads each packet in three small ones and writes each acknowledgement alone;
// a system call for each of these costs more than all the rest.
type stream struct {
	net.Conn
	in    *bufio.Reader
	ended chan struct{} // closed when nothing more is written

	mu     sync.Mutex // guards what follows
	change *sync.Cond
	out    []byte // to be written
	closed bool
}

// dial connects to a broker as the library would by itself.
func dial(ctx context.Context, u *url.URL, config *tls.Config) (net.Conn, error) {
	switch u.Scheme {
	case "ws":
		return streaming(paho.NewWebsocket(u.String(), nil, writeMost, nil, nil))
	case "wss":
		return streaming(paho.NewWebsocket(u.String(), config, writeMost, nil, nil))
	}
	c, err := proxy.FromEnvironmentUsing(&net.Dialer{Timeout: writeMost}).Dial("tcp", u.Host)
	if err != nil || u.Scheme == "mqtt" || u.Scheme == "tcp" {
		return streaming(c, err)
	}
	ctx, cancel := context.WithTimeout(ctx, writeMost)
	defer cancel()
	t := tls.Client(c, config)
	if err := t.HandshakeContext(ctx); err != nil {
		_ = c.Close()
		return nil, err
	}
	return streaming(t, nil)
}

// streaming makes a stream of a new connection. Its goroutine ends with Close.
func streaming(c net.Conn, err error) (net.Conn, error) {
	if err != nil {
		return nil, err
	}
	s := &stream{Conn: c, in: bufio.NewReaderSize(c, 32<<10), ended: make(chan struct{})}
	s.change = sync.NewCond(&s.mu)
	go s.write()
	return s, nil
}

func (s *stream) Read(p []byte) (int, error) { return s.in.Read(p) }

// Write takes everything and does not wait. That the line has broken is told to
// the reader.
func (s *stream) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return 0, net.ErrClosed
	}
	s.out = append(s.out, p...)
	s.change.Signal()
	return len(p), nil
}

// write sends what has come together since the last piece, until Close.
func (s *stream) write() {
	defer close(s.ended)
	var piece []byte
	for {
		s.mu.Lock()
		for len(s.out) == 0 && !s.closed {
			s.change.Wait()
		}
		if len(s.out) == 0 {
			s.mu.Unlock()
			return
		}
		piece, s.out = s.out, piece[:0]
		if !s.closed {
			_ = s.SetWriteDeadline(time.Now().Add(writeMost))
		}
		s.mu.Unlock()
		if _, err := s.Conn.Write(piece); err != nil {
			_ = s.Conn.Close()
			return
		}
	}
}

// Close sends what is left, the goodbye as a rule, and gives that little time.
func (s *stream) Close() error {
	s.mu.Lock()
	if !s.closed {
		s.closed = true
		_ = s.SetWriteDeadline(time.Now().Add(quiesce * time.Millisecond))
		s.change.Signal()
	}
	s.mu.Unlock()
	<-s.ended
	return s.Conn.Close()
}
