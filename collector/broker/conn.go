package broker

import (
	"fmt"
	"io"
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
	defer c.mu.Unlock()
	c.owed = c.owed[:len(c.owed)-1]
	c.settle(false)
}

// tell marks an acknowledgement as due, and never waits. The writer is woken for
// the first in the order, and takes along what is due behind it. One that is
// alone is written here, if the line takes it at once: to wake somebody for it
// costs more than to write it.
func (c *conn) tell(n uint64) {
	c.mu.Lock()
	c.owed[n-c.first].told = true
	head, alone := n == c.first, len(c.owed) == 1
	c.mu.Unlock()
	if head && !(alone && c.writeOne()) {
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

// due encodes, onto out, what may be written now: everything up to the first
// that is not told yet. Both versions of MQTT read these four bytes as success.
func (c *conn) due(out []byte) []byte {
	c.mu.Lock()
	defer c.mu.Unlock()
	for n := 0; n < len(c.owed) && c.owed[n].told; n++ {
		a := c.owed[n]
		out = append(out, a.packet<<4, 2, byte(a.id>>8), byte(a.id))
	}
	return out
}

// written strikes off the first n of what is owed.
func (c *conn) written(n int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.owed = append(c.owed[:0], c.owed[n:]...)
	c.first += uint64(n)
	signal(c.room)
	c.settle(false)
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
// any case. mu is held.
func (c *conn) settle(all bool) {
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
	defer func() {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.settle(true)
	}()
	var out []byte
	for {
		select {
		case <-c.link.closed:
			return
		case <-c.wake:
		}
		var err error
		if out, err = c.writeDue(out[:0]); err != nil {
			c.cl.Stop(err)
			return
		}
	}
}

// writeDue writes until nothing is due, past the library, which would make a
// system call of each. Its own writes take the same lock, and so does whoever
// takes from what is due: it keeps the order.
func (c *conn) writeDue(out []byte) ([]byte, error) {
	c.cl.Lock()
	defer c.cl.Unlock()
	for out = c.due(out); len(out) > 0; out = c.due(out[:0]) {
		if _, err := c.link.Write(out); err != nil {
			return out, err
		}
		c.written(len(out) / ackSize)
	}
	return out, nil
}

const ackSize = 4

// writeOne writes what is due, if that is one, nobody else is writing and the
// line takes it without waiting.
func (c *conn) writeOne() bool {
	if !c.cl.TryLock() {
		return false
	}
	defer c.cl.Unlock()
	var one [ackSize]byte
	out := c.due(one[:0])
	if len(out) != ackSize {
		return len(out) == 0
	}
	switch c.link.writeNow(out) {
	case ackSize:
		c.written(1)
		return true
	case 0:
		return false
	}
	c.cl.Stop(io.ErrShortWrite) // the device will send the message again
	return true
}

// complete answers a PUBREL.
func (c *conn) complete(id uint16, known bool) {
	out := []byte{packets.Pubcomp << 4, 2, byte(id >> 8), byte(id)}
	if !known && c.cl.Properties.ProtocolVersion == 5 {
		out = append(out, packets.ErrPacketIdentifierNotFound.Code)
		out[1]++
	}
	c.cl.Lock()
	_, err := c.link.Write(out)
	c.cl.Unlock()
	if err != nil {
		c.cl.Stop(err)
	}
}
