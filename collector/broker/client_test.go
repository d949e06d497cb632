package broker

import (
	"bufio"
	"context"
	"encoding/binary"
	"io"
	"net"
	"sync"
	"testing"
	"time"

	"lentic/collector/wire"
)

// device speaks MQTT 3.1.1 byte by byte, so that a test sees what a device
// would see and can misbehave.
type device struct {
	t  *testing.T
	c  net.Conn
	in *bufio.Reader
}

// patience bounds every wait of a test; nothing here takes a tenth of it.
const patience = 10 * time.Second

func text(s string) []byte {
	return append(binary.BigEndian.AppendUint16(nil, uint16(len(s))), s...)
}

// frame is a packet with its length (MQTT 3.1.1, section 2.2.3).
func frame(first byte, body ...[]byte) []byte {
	var all []byte
	for _, b := range body {
		all = append(all, b...)
	}
	out := []byte{first}
	n := len(all)
	for {
		b := byte(n % 128)
		if n /= 128; n > 0 {
			out = append(out, b|0x80)
			continue
		}
		return append(append(out, b), all...)
	}
}

type login struct {
	id, user, password  string
	keepSession         bool
	willTopic, willWord string
}

func dial(t *testing.T, addr string, l login) *device {
	t.Helper()
	d := connect(t, addr, l)
	if head, body := d.read(); head != 0x20 || body[1] != 0 {
		t.Fatalf("CONNACK % x % x, want accepted", head, body)
	}
	return d
}

func connect(t *testing.T, addr string, l login) *device {
	t.Helper()
	c, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	d := wrap(t, c)
	d.hello(l)
	return d
}

func wrap(t *testing.T, c net.Conn) *device {
	t.Cleanup(func() { _ = c.Close() })
	return &device{t: t, c: c, in: bufio.NewReader(c)}
}

// hello is CONNECT (MQTT 3.1.1, section 3.1).
func (d *device) hello(l login) {
	d.t.Helper()
	flags, tail := byte(0), text(l.id)
	if !l.keepSession {
		flags |= 0x02
	}
	if l.willTopic != "" {
		flags |= 0x2c // Will, QoS 1, retained
		tail = append(append(tail, text(l.willTopic)...), text(l.willWord)...)
	}
	if l.user != "" {
		flags |= 0xc0
		tail = append(append(tail, text(l.user)...), text(l.password)...)
	}
	d.send(frame(0x10, text("MQTT"), []byte{4, flags, 0, 60}, tail))
}

func (d *device) send(b []byte) {
	d.t.Helper()
	if _, err := d.c.Write(b); err != nil {
		d.t.Fatal(err)
	}
}

func publish(topic string, qos byte, id uint16, payload []byte) []byte {
	body := text(topic)
	if qos > 0 {
		body = binary.BigEndian.AppendUint16(body, id)
	}
	return frame(0x30|qos<<1, body, payload)
}

func (d *device) read() (byte, []byte) {
	d.t.Helper()
	head, body, err := d.next()
	if err != nil {
		d.t.Fatal(err)
	}
	return head, body
}

func (d *device) next() (byte, []byte, error) {
	_ = d.c.SetReadDeadline(time.Now().Add(patience))
	head, err := d.in.ReadByte()
	if err != nil {
		return 0, nil, err
	}
	n, err := binary.ReadUvarint(d.in) // MQTT's lengths are LEB128 too
	if err != nil {
		return 0, nil, err
	}
	body := make([]byte, n)
	_, err = io.ReadFull(d.in, body)
	return head, body, err
}

// want reads one packet with an id.
func (d *device) want(head byte, id uint16) {
	d.t.Helper()
	h, body := d.read()
	if h != head || len(body) < 2 || binary.BigEndian.Uint16(body) != id {
		d.t.Fatalf("got packet % x % x, want % x with id %d", h, body, head, id)
	}
}

// wantPong proves that the broker has read everything sent so far and has
// nothing else to say.
func (d *device) wantPong() {
	d.t.Helper()
	d.send([]byte{0xc0, 0})
	if h, body := d.read(); h != 0xd0 {
		d.t.Fatalf("got packet % x % x, want the answer to a ping", h, body)
	}
}

// wantClosed reads until the broker closes the connection.
func (d *device) wantClosed() {
	d.t.Helper()
	for {
		if _, _, err := d.next(); err != nil {
			if e, ok := err.(net.Error); ok && e.Timeout() {
				d.t.Fatal("the connection is still open")
			}
			return
		}
	}
}

// disk stands for all that follows the broker: it holds what was offered until
// the test lets it be on disk.
type disk struct {
	mu   sync.Mutex // guards what follows
	got  []wire.Message
	done []func()
	more chan struct{}
	full chan struct{} // not nil: Offer waits for it
}

func newDisk() *disk { return &disk{more: make(chan struct{}, 1<<16)} }

func (d *disk) offer(ctx context.Context, m wire.Message, done func()) {
	d.mu.Lock()
	full := d.full
	d.mu.Unlock()
	if full != nil {
		select {
		case <-full:
		case <-ctx.Done():
			return
		}
	}
	if done == nil {
		done = func() {}
	}
	d.mu.Lock()
	d.got, d.done = append(d.got, m), append(d.done, done)
	d.mu.Unlock()
	d.more <- struct{}{}
}

// await is the n messages offered next.
func (d *disk) await(t *testing.T, n int) []wire.Message {
	t.Helper()
	limit := time.After(patience)
	for i := range n {
		select {
		case <-d.more:
		case <-limit:
			t.Fatalf("%d messages came, want %d", i, n)
		}
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	got := d.got
	d.got = nil
	return got
}

// commit lets the next n messages be on disk.
func (d *disk) commit(n int) {
	d.mu.Lock()
	done := d.done[:n]
	d.done = d.done[n:]
	d.mu.Unlock()
	for _, f := range done {
		f()
	}
}

// start builds a broker on a free port and lets it run until the test ends.
func start(t *testing.T, o Options) (b *Broker, stop func() error) {
	t.Helper()
	if o.Address == "" {
		o.Address = "127.0.0.1:0"
	}
	b, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return b, runs(t, b)
}

// runs lets a broker run until the test ends, and waits for it.
func runs(t *testing.T, b *Broker) (stop func() error) {
	t.Helper()
	if err := b.Listen(); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- b.Run(ctx) }()
	stop = sync.OnceValue(func() error {
		cancel()
		select {
		case err := <-ended:
			return err
		case <-time.After(patience):
			t.Error("the broker does not end")
			return nil
		}
	})
	t.Cleanup(func() { _ = stop() })
	return stop
}
