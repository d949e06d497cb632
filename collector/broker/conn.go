package broker

import (
	"fmt"
	"net"
	"sync"
	"time"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
)

// conn is one connection, with the acknowledgements it is owed.
type conn struct {
	cl      *mqtt.Client
	gateway *Gateway // nil: nobody in particular
	source  string
	session *session
	most    int
	closed  <-chan struct{} // closed with the network connection
	gone    chan struct{}   // closed when its Will, if any, has been taken
	wake    chan struct{}   // holds a token while the writer may have work

	mu   sync.Mutex // guards what follows
	owed []*ack     // in the order received
	room chan struct{}
	rest []chan struct{} // closed when nothing is owed
}

// ack is one acknowledgement owed on one connection.
type ack struct {
	packet byte // packets.Puback or packets.Pubrec
	id     uint16
	told   bool // on disk; guarded by the connection's mu
}

func newConn(cl *mqtt.Client, g *Gateway, most int) *conn {
	c := &conn{
		cl:      cl,
		gateway: g,
		source:  fmt.Sprintf("client %q at %s", cl.ID, host(cl.Net.Remote)),
		most:    most,
		gone:    make(chan struct{}),
		wake:    make(chan struct{}, 1),
		room:    make(chan struct{}),
	}
	if g != nil {
		c.source = fmt.Sprintf("gateway %s at %s", g.ID, host(cl.Net.Remote))
	}
	if l, ok := cl.Net.Conn.(*link); ok {
		c.closed = l.closed
	}
	return c
}

// host leaves the port out, which changes with each connection: a source is
// reported once, not each time it comes back.
func host(remote string) string {
	if h, _, err := net.SplitHostPort(remote); err == nil {
		return h
	}
	return remote
}

// await returns when one more acknowledgement may be owed; false when there is
// no point any more. This is where a reader waits, and its device with it.
func (c *conn) await(stop <-chan struct{}) bool {
	for {
		c.mu.Lock()
		full, room := len(c.owed) >= c.most, c.room
		c.mu.Unlock()
		if !full {
			return true
		}
		select {
		case <-room:
		case <-c.closed:
			return false
		case <-stop:
			return false
		}
	}
}

// owe puts an acknowledgement in its place in the order.
func (c *conn) owe(packet byte, id uint16) *ack {
	a := &ack{packet: packet, id: id}
	c.mu.Lock()
	c.owed = append(c.owed, a)
	c.mu.Unlock()
	return a
}

// disown takes back the acknowledgement owed last: its message was not taken.
func (c *conn) disown(a *ack) {
	c.mu.Lock()
	if n := len(c.owed); n > 0 && c.owed[n-1] == a {
		c.owed = c.owed[:n-1]
	}
	c.mu.Unlock()
	c.settle(false)
}

// tell marks an acknowledgement as due. It never blocks.
func (c *conn) tell(a *ack) {
	c.mu.Lock()
	a.told = true
	c.mu.Unlock()
	select {
	case c.wake <- struct{}{}:
	default:
	}
}

// due removes and encodes what may be written now: everything up to the first
// that is not told yet. Both versions of MQTT read these four bytes as success.
func (c *conn) due() []byte {
	c.mu.Lock()
	defer c.mu.Unlock()
	var out []byte
	n := 0
	for n < len(c.owed) && c.owed[n].told {
		a := c.owed[n]
		out = append(out, a.packet<<4, 2, byte(a.id>>8), byte(a.id))
		n++
	}
	if n == 0 {
		return nil
	}
	clear(c.owed[:n])
	c.owed = c.owed[n:]
	close(c.room)
	c.room = make(chan struct{})
	return out
}

// empty is closed once nothing is owed any more, or the connection is.
func (c *conn) empty() <-chan struct{} {
	c.mu.Lock()
	defer c.mu.Unlock()
	select {
	case <-c.closed:
		return c.closed
	default:
	}
	done := make(chan struct{})
	if len(c.owed) == 0 {
		close(done)
	} else {
		c.rest = append(c.rest, done)
	}
	return done
}

// settle lets go who waits for nothing to be owed; all is whether to do so in
// any case.
func (c *conn) settle(all bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !all && len(c.owed) > 0 {
		return
	}
	for _, done := range c.rest {
		close(done)
	}
	c.rest = nil
}

// writeTimeout bounds a write to a device that does not read.
const writeTimeout = 10 * time.Second

// acknowledge writes what is due, in order, until the connection ends. What is
// told later is dropped: the device will send the message again.
func (c *conn) acknowledge() {
	defer c.settle(true)
	for {
		select {
		case <-c.closed:
			return
		case <-c.wake:
		}
		for out := c.due(); out != nil; out = c.due() {
			if err := c.write(out); err != nil {
				c.cl.Stop(err)
				return
			}
		}
		c.settle(false)
	}
}

// write sends raw packets past the library, which would make a system call of
// each. Its own writes take the same lock. The reader sets deadlines by the
// keepalive and may be waiting, so that its last one has passed: hence a new
// one each time.
func (c *conn) write(out []byte) error {
	c.cl.Lock()
	defer c.cl.Unlock()
	if err := c.cl.Net.Conn.SetWriteDeadline(time.Now().Add(writeTimeout)); err != nil {
		return err
	}
	_, err := c.cl.Net.Conn.Write(out)
	return err
}

// complete answers a PUBREL.
func (c *conn) complete(id uint16, known bool) {
	out := []byte{packets.Pubcomp << 4, 2, byte(id >> 8), byte(id)}
	if !known && c.cl.Properties.ProtocolVersion == 5 {
		out = append(out, packets.ErrPacketIdentifierNotFound.Code)
		out[1]++
	}
	if err := c.write(out); err != nil {
		c.cl.Stop(err)
	}
}
