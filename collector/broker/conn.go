package broker

import (
	"fmt"
	"net"
	"sync"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
)

// conn is one device's connection, with the acknowledgements it is owed.
type conn struct {
	cl      *mqtt.Client
	link    *link
	gateway *Gateway // nil: nobody in particular
	source  string
	session *session
	most    int
	gone    chan struct{} // closed when its Will, if any, has been taken
	wake    chan struct{} // holds a token while the writer may have work
	room    chan struct{} // holds a token while the reader may go on

	mu    sync.Mutex      // guards what follows
	owed  []ack           // in the order received
	first uint64          // the number of owed[0], counted from the first of the connection
	rest  []chan struct{} // closed when nothing is owed
}

// ack is one acknowledgement owed.
type ack struct {
	packet byte // packets.Puback or packets.Pubrec
	told   bool // on disk
	id     uint16
}

func newConn(cl *mqtt.Client, k *link, g *Gateway, most int) *conn {
	c := &conn{
		cl:      cl,
		link:    k,
		gateway: g,
		source:  fmt.Sprintf("client %q at %s", cl.ID, host(cl.Net.Remote)),
		most:    most,
		gone:    make(chan struct{}),
		wake:    make(chan struct{}, 1),
		room:    make(chan struct{}, 1),
	}
	if g != nil {
		c.source = fmt.Sprintf("gateway %s at %s", g.ID, host(cl.Net.Remote))
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
// no point any more. This is where the connection's reader waits, and its
// device with it.
func (c *conn) await(stop <-chan struct{}) bool {
	for {
		c.mu.Lock()
		full := len(c.owed) >= c.most
		c.mu.Unlock()
		if !full {
			return true
		}
		select {
		case <-c.room:
		case <-c.link.closed:
			return false
		case <-stop:
			return false
		}
	}
}

// owe puts an acknowledgement in its place in the order, and gives its number.
func (c *conn) owe(packet byte, id uint16) uint64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.owed = append(c.owed, ack{packet: packet, id: id})
	return c.first + uint64(len(c.owed)) - 1
}

// disown takes back the acknowledgement owed last: its message was not taken.
func (c *conn) disown() {
	c.mu.Lock()
	c.owed = c.owed[:len(c.owed)-1]
	c.mu.Unlock()
	c.settle(false)
}

// tell marks an acknowledgement as due. It never blocks. The writer is woken
// for the first in the order; it takes along what is due behind it.
func (c *conn) tell(n uint64) {
	c.mu.Lock()
	c.owed[n-c.first].told = true
	head := n == c.first
	c.mu.Unlock()
	if head {
		signal(c.wake)
	}
}

// signal leaves a token where there is none.
func signal(token chan<- struct{}) {
	select {
	case token <- struct{}{}:
	default:
	}
}

// due removes and encodes, onto out, what may be written now: everything up to
// the first that is not told yet. Both versions of MQTT read these four bytes
// as success.
func (c *conn) due(out []byte) []byte {
	c.mu.Lock()
	defer c.mu.Unlock()
	n := 0
	for n < len(c.owed) && c.owed[n].told {
		a := c.owed[n]
		out = append(out, a.packet<<4, 2, byte(a.id>>8), byte(a.id))
		n++
	}
	c.owed = append(c.owed[:0], c.owed[n:]...)
	c.first += uint64(n)
	if n > 0 {
		signal(c.room)
	}
	return out
}

// empty is closed once nothing is owed any more, or the connection is.
func (c *conn) empty() <-chan struct{} {
	c.mu.Lock()
	defer c.mu.Unlock()
	select {
	case <-c.link.closed:
		return c.link.closed
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

// acknowledge writes what is due, in order, until the connection ends. What is
// told later is dropped: the device will send the message again.
func (c *conn) acknowledge() {
	defer c.settle(true)
	var out []byte
	for {
		select {
		case <-c.link.closed:
			return
		case <-c.wake:
		}
		for out = c.due(out[:0]); len(out) > 0; out = c.due(out[:0]) {
			if err := c.write(out); err != nil {
				c.cl.Stop(err)
				return
			}
		}
		c.settle(false)
	}
}

// write sends raw packets past the library, which would make a system call of
// each. Its own writes take the same lock.
func (c *conn) write(out []byte) error {
	c.cl.Lock()
	defer c.cl.Unlock()
	_, err := c.link.Write(out)
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
