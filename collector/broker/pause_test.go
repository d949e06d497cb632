package broker

import (
	"context"
	"net"
	"slices"
	"testing"
	"time"

	"lentic/collector/wire"
)

// A pause closes what is connected, takes no Will, and lets nobody in. After it
// devices are let in, and what they had no receipt for is taken like the first
// time, at QoS 2 as well.
func TestPause(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer})
	const topic = "lentic/quillmere-library/atrium/ph"
	gw := login{id: "gw1", keepSession: true, willTopic: "lentic/quillmere-library/-/gw1", willWord: "absent"}
	dev := dial(t, b.Addr(), gw)
	dev.send(publish(topic, 1, 7, []byte("6.57")))
	dev.send(publish(topic, 2, 8, []byte("6.58")))
	d.await(t, 2)

	b.Pause(true)
	dev.wantClosed()
	late := wrap(t, mustDial(t, b.Addr()))
	late.wantClosed()

	b.Pause(false)
	dev = dial(t, b.Addr(), gw)
	dev.send(publish(topic, 1, 7, []byte("6.57")))
	dev.send(publish(topic, 2, 8, []byte("6.58")))
	var got []string
	for _, m := range d.await(t, 2) {
		got = append(got, string(m.Payload))
	}
	if want := []string{"6.57", "6.58"}; !slices.Equal(got, want) {
		t.Errorf("after the pause: got %v, want %v", got, want)
	}
	d.commit(4) // the first two go nowhere
	dev.want(0x40, 7)
	dev.want(0x50, 8)
}

// A Will that comes only when the pause is over is still of a connection that we
// closed, and not taken.
func TestPauseEnds(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer})
	gw := login{id: "gw1", keepSession: true, willTopic: "lentic/quillmere-library/-/gw1", willWord: "absent"}
	dev := dial(t, b.Addr(), gw)
	b.listener.pause(true) // one that is over before the connection's end is noticed
	b.hangUp()
	b.listener.pause(false)
	dev.wantClosed()
	dial(t, b.Addr(), gw).wantPong() // what the older connection left has been dealt with
	if n := len(d.more); n > 0 {
		t.Error("the Will was taken of a connection that a pause closed")
	}
}

// A message that comes while a pause begins, after sessions have been gone
// through and before its connection is closed, is taken when it comes again.
func TestPauseBegins(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer})
	dev := dial(t, b.Addr(), login{id: "gw1"})
	again := publish(topic, 2, 8, []byte("6.58"))
	b.paused.Store(true)
	dev.send(again)
	dev.wantPong()
	b.paused.Store(false)
	dev.send(again)
	d.await(t, 1)
	d.commit(1)
	dev.want(0x50, 8)
}

// A pause may begin while connections come and messages are on their way.
func TestPauseUnderLoad(t *testing.T) {
	b, stop := start(t, Options{Offer: func(_ context.Context, _ wire.Message, done func()) {
		if done != nil {
			done()
		}
	}})
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for n := range 200 {
			c, err := net.Dial("tcp", b.Addr())
			if err != nil {
				continue
			}
			dev := &device{t: t, c: c}
			_, _ = c.Write(frame(0x10, text("MQTT"), []byte{4, 2, 0, 60}, text("gw1")))
			_, _ = c.Write(publish("lentic/quillmere-library/atrium/ph", 1, uint16(n+1), []byte("6.58")))
			if n%3 == 0 {
				_ = dev.c.Close()
			}
			defer c.Close()
		}
	}()
	for n := range 20 {
		b.Pause(n%2 == 0)
		time.Sleep(time.Millisecond)
	}
	<-ended
	if err := stop(); err != nil {
		t.Error(err)
	}
}

func mustDial(t *testing.T, addr string) net.Conn {
	t.Helper()
	c, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
