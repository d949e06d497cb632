package channel

import (
	"context"
	"crypto/tls"
	"net"
	"sync"
)

// connection is the one connection of an attempt, to be closed from outside.
type connection struct {
	tls *tls.Config // from the first byte on; nil: not

	mu     sync.Mutex // guards conn and closed
	conn   net.Conn
	closed bool
}

func (c *connection) dial(ctx context.Context, network, address string) (net.Conn, error) {
	var conn net.Conn
	var err error
	if c.tls != nil {
		conn, err = (&tls.Dialer{Config: c.tls}).DialContext(ctx, network, address)
	} else {
		conn, err = new(net.Dialer).DialContext(ctx, network, address)
	}
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.conn = conn
	if c.closed {
		_ = conn.Close()
	}
	return conn, nil
}

func (c *connection) close() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.closed = true
	if c.conn != nil {
		_ = c.conn.Close()
	}
}
