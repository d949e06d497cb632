package broker

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

const topic = "lentic/quillmere-library/atrium/ph"

func TestAcknowledgedOnlyWhenOnDisk(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer})
	dev := dial(t, b.Addr(), login{id: "gw1"})
	dev.send(publish(topic, 1, 7, []byte("6.58")))
	m := d.await(t, 1)[0]
	if m.Topic != topic || string(m.Payload) != "6.58" || m.QoS != 1 || m.Retained || m.Arrived == 0 || m.Source != `client "gw1" at 127.0.0.1` {
		t.Errorf("message %+v", m)
	}
	dev.wantPong() // and no PUBACK before it: a slow disk does not hold pings up either
	d.commit(1)
	dev.want(0x40, 7)
}

func TestAcknowledgedInOrder(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer})
	dev := dial(t, b.Addr(), login{id: "gw1"})
	for id := uint16(1); id <= 5; id++ {
		dev.send(publish(topic, 1, id, []byte("6.58")))
	}
	d.await(t, 5)
	d.mu.Lock() // told in the wrong order, as two committers might
	done := d.done
	d.done = nil
	d.mu.Unlock()
	for _, i := range []int{4, 2, 1, 3} {
		done[i]()
	}
	dev.wantPong()
	done[0]()
	for id := uint16(1); id <= 5; id++ {
		dev.want(0x40, id)
	}
}

// A message handed over with QoS 2 is taken once, however often its parts are
// sent again (MQTT 3.1.1, section 4.3.3).
func TestExactlyOnce(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer})
	who := login{id: "gw1", keepSession: true}
	dev := dial(t, b.Addr(), who)
	dev.send(publish(topic, 2, 9, []byte("6.58")))
	d.await(t, 1)
	dev.wantPong()
	_ = dev.c.Close()

	// The line was lost before PUBREC: the message comes again, while the
	// first is still on its way to the disk.
	dev = dial(t, b.Addr(), who)
	again := publish(topic, 2, 9, []byte("6.58"))
	again[0] |= 0x08 // DUP
	dev.send(again)
	dev.wantPong()
	d.commit(1)
	dev.want(0x50, 9)

	// And again after it.
	dev.send(again)
	dev.want(0x50, 9)
	dev.send(frame(0x62, []byte{0, 9}))
	dev.want(0x70, 9)

	// Released, the id is free for the next message.
	dev.send(publish(topic, 2, 9, []byte("6.59")))
	if m := d.await(t, 1)[0]; string(m.Payload) != "6.59" {
		t.Errorf("payload %q, want 6.59", m.Payload)
	}
	d.commit(1)
	dev.want(0x50, 9)
	dev.send(frame(0x62, []byte{0, 9}))
	dev.want(0x70, 9)
	if n := len(d.more); n != 0 {
		t.Errorf("%d more messages were offered, want none", n)
	}
}

func TestWill(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{
		Gateways: []Gateway{{ID: "gw1", Site: "quillmere-library", Password: "p"}},
		May:      func(s aquarium.SiteID, topic string) bool { return strings.HasPrefix(topic, "lentic/"+string(s)+"/") },
		Offer:    d.offer,
	})
	for _, tt := range []struct {
		name, topic string
		refuse      aquarium.Reason
	}{
		{"its own", "lentic/quillmere-library/-/gw1", ""},
		{"of another site", "lentic/hotel-sarnbrook/-/gw1", aquarium.ReasonForeign},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dev := dial(t, b.Addr(), login{id: "x", user: "gw1", password: "p", willTopic: tt.topic, willWord: "absent"})
			_ = dev.c.Close()
			m := d.await(t, 1)[0]
			if m.Topic != tt.topic || string(m.Payload) != "absent" || m.Gateway != "gw1" || m.Refuse != tt.refuse || m.Retained {
				t.Errorf("message %+v, want refusal %q", m, tt.refuse)
			}
		})
	}
	t.Run("not after a proper goodbye", func(t *testing.T) {
		dev := dial(t, b.Addr(), login{id: "x", user: "gw1", password: "p", willTopic: "lentic/quillmere-library/-/gw1", willWord: "absent"})
		dev.send([]byte{0xe0, 0})
		dev.wantClosed()
		if n := len(d.more); n != 0 {
			t.Errorf("%d messages, want none", n)
		}
	})
	t.Run("before what its successor says", func(t *testing.T) {
		who := login{id: "x", user: "gw1", password: "p", willTopic: "lentic/quillmere-library/-/gw1", willWord: "absent"}
		dial(t, b.Addr(), who)
		dev := dial(t, b.Addr(), who)
		dev.send(publish(who.willTopic, 1, 1, []byte("present")))
		got := d.await(t, 2)
		if string(got[0].Payload) != "absent" || string(got[1].Payload) != "present" {
			t.Errorf("got %q, %q, want absent, present", got[0].Payload, got[1].Payload)
		}
	})
}

func TestNoWillBecauseLenticStops(t *testing.T) {
	d := newDisk()
	b, stop := start(t, Options{Offer: d.offer})
	dial(t, b.Addr(), login{id: "x", willTopic: "lentic/quillmere-library/-/gw1", willWord: "absent"})
	if err := stop(); err != nil {
		t.Error(err)
	}
	if n := len(d.more); n != 0 {
		t.Errorf("%d messages, want none", n)
	}
}

func TestRefusedAndAcknowledged(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{
		Gateways: []Gateway{{ID: "gw1", Site: "quillmere-library", Password: "p"}},
		May: func(s aquarium.SiteID, topic string) bool {
			return strings.HasPrefix(topic, "lentic/"+string(s)+"/") || topic == "plant/7/flow"
		},
		Offer: d.offer,
	})
	registry := wire.NewRegistry("lentic", []aquarium.Site{{ID: "quillmere-library"}})
	dev := dial(t, b.Addr(), login{id: "x", user: "gw1", password: "p"})
	for i, tt := range []struct {
		name, topic string
		payload     []byte
		want        aquarium.Reason
	}{
		{"its own site", topic, []byte("6.58"), ""},
		{"a topic its sensors name", "plant/7/flow", []byte("6.58"), ""},
		{"another site", "lentic/hotel-sarnbrook/lobby/ph", []byte("6.58"), aquarium.ReasonForeign},
		{"dots", "lentic/quillmere-library/../ph", []byte("6.58"), aquarium.ReasonTopic},
		{"a wildcard", "lentic/quillmere-library/#", []byte("6.58"), aquarium.ReasonTopic},
		{"the broker's own", "$SYS/broker", []byte("6.58"), aquarium.ReasonTopic},
		{"1 MiB", topic, bytes.Repeat([]byte("1"), wire.MaxTaken), aquarium.ReasonSize},
	} {
		for qos := byte(1); qos <= 2; qos++ {
			t.Run(fmt.Sprintf("%s at QoS %d", tt.name, qos), func(t *testing.T) {
				id := uint16(10*i + int(qos))
				dev.send(publish(tt.topic, qos, id, tt.payload))
				m := d.await(t, 1)[0]
				got := aquarium.Reason("")
				if found := registry.Decode(m); len(found.Refused) > 0 {
					got = found.Refused[0].Reason
				}
				if got != tt.want {
					t.Errorf("refused for %q, want %q", got, tt.want)
				}
				d.commit(1)
				if qos == 1 {
					dev.want(0x40, id)
				} else {
					dev.want(0x50, id)
				}
				dev.wantPong()
			})
		}
	}
}

func TestClosedAndCounted(t *testing.T) {
	for _, tt := range []struct {
		name   string
		packet []byte
		want   aquarium.Reason
	}{
		{"just over 1 MiB", publish(topic, 1, 3, make([]byte, wire.MaxTaken+1)), aquarium.ReasonSize},
		{"2 MiB", publish(topic, 1, 3, make([]byte, 2<<20)), aquarium.ReasonSize},
		{"NUL in the topic", publish("lentic/quillmere-library/atrium/p\x00", 1, 3, []byte("6.58")), aquarium.ReasonTopic},
	} {
		t.Run(tt.name, func(t *testing.T) {
			d := newDisk()
			metrics := prometheus.NewRegistry()
			b, _ := start(t, Options{Offer: d.offer, Metrics: metrics})
			dev := dial(t, b.Addr(), login{id: "x"})
			go func() { _, _ = dev.c.Write(tt.packet) }() // the broker need not read it all
			dev.wantClosed()
			m := d.await(t, 1)[0]
			if m.Refuse != tt.want || m.Source == "" {
				t.Errorf("message refused for %q from %q, want %q", m.Refuse, m.Source, tt.want)
			}
			if n := counted(t, metrics, "lentic_broker_closed_total"); n != 1 {
				t.Errorf("counted %v, want 1", n)
			}
			dial(t, b.Addr(), login{id: "y"}) // nobody else is disturbed
		})
	}
}

// counted is the sum of one metric over its labels.
func counted(t *testing.T, g prometheus.Gatherer, name string) (sum float64) {
	t.Helper()
	families, err := g.Gather()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range families {
		if f.GetName() != name {
			continue
		}
		for _, m := range f.GetMetric() {
			sum += m.GetCounter().GetValue()
		}
	}
	return sum
}

// A device with too much unacknowledged waits; nothing is dropped and the
// connection stands.
func TestWaitsToRead(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer, MaxPending: 10})
	dev := dial(t, b.Addr(), login{id: "x"})
	other := dial(t, b.Addr(), login{id: "y"})
	for id := uint16(1); id <= 30; id++ {
		dev.send(publish(topic, 1, id, []byte("6.58")))
	}
	d.await(t, 10)
	other.wantPong() // only the one that is too far ahead waits
	select {
	case <-d.more:
		t.Error("an eleventh message was taken with ten unacknowledged")
	case <-time.After(50 * time.Millisecond): // that something does not happen cannot be waited for
	}
	for id := uint16(1); id <= 30; id++ {
		d.commit(1)
		dev.want(0x40, id)
		if id <= 20 {
			d.await(t, 1)
		}
	}
}

func TestStopDrains(t *testing.T) {
	d := newDisk()
	b, stop := start(t, Options{Offer: d.offer})
	dev := dial(t, b.Addr(), login{id: "x"})
	dev.send(publish(topic, 1, 7, []byte("6.58")))
	d.await(t, 1)
	ended := make(chan error, 1)
	go func() { ended <- stop() }()
	<-b.stopping
	d.commit(1)
	dev.want(0x40, 7)
	if err := <-ended; err != nil {
		t.Error(err)
	}
	dev.wantClosed()
}

// Told when the device has gone: nothing to write to, and nothing breaks.
func TestToldTooLate(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer})
	dev := dial(t, b.Addr(), login{id: "x"})
	for id := uint16(1); id <= 100; id++ {
		dev.send(publish(topic, 1, id, []byte("6.58")))
	}
	d.await(t, 100)
	c := b.listener.conns()[0]
	_ = dev.c.Close()
	<-c.gone
	d.commit(100)
	dial(t, b.Addr(), login{id: "x"}).wantPong()
}

func TestNobodyMaySubscribe(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer})
	dev := dial(t, b.Addr(), login{id: "x"})
	dev.send(frame(0x82, []byte{0, 1}, text("lentic/#"), []byte{1}))
	if h, body := dev.read(); h != 0x90 || body[2] != 0x80 {
		t.Errorf("SUBACK % x % x, want failure 80", h, body)
	}
}

func TestLogin(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer, Gateways: []Gateway{{ID: "gw1", Site: "quillmere-library", Password: "right"}}})
	for _, tt := range []struct {
		name, user, password string
		accepted             bool
	}{
		{"right", "gw1", "right", true},
		{"wrong password", "gw1", "wrong", false},
		{"unknown", "gw2", "right", false},
		{"no password", "gw1", "", false},
		{"anonymous", "", "", false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dev := connect(t, b.Addr(), login{id: "x", user: tt.user, password: tt.password})
			if h, body := dev.read(); h != 0x20 || (body[1] == 0) != tt.accepted {
				t.Errorf("CONNACK % x % x, want accepted %v", h, body, tt.accepted)
			}
			if !tt.accepted {
				dev.wantClosed()
			}
		})
	}
}

func TestOptionsRefused(t *testing.T) {
	d := newDisk()
	for _, tt := range []struct {
		name string
		o    Options
		want string
	}{
		{"open to others", Options{Address: "0.0.0.0:1883", Offer: d.offer}, "can be reached by other machines"},
		{"no port", Options{Address: "127.0.0.1", Offer: d.offer}, "want host:port"},
		{"no password", Options{Address: "127.0.0.1:0", Offer: d.offer, Gateways: []Gateway{{ID: "gw1"}}}, `gateway "gw1" has no password`},
		{"nowhere to go", Options{Address: "127.0.0.1:0"}, "Offer is missing"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := New(tt.o); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want %q in it", err, tt.want)
			}
		})
	}
}

func TestPortInUse(t *testing.T) {
	d := newDisk()
	b, _ := start(t, Options{Offer: d.offer})
	other, err := New(Options{Address: b.Addr(), Offer: d.offer})
	if err != nil {
		t.Fatal(err)
	}
	if err := other.Listen(); err == nil || !strings.Contains(err.Error(), "is in use") {
		t.Errorf("error %v, want it to say that the port is in use", err)
	}
}

// A device may be quiet for longer than a write may take, and then ask whether
// anybody is there: the limit of the last write is not that of the answer.
func TestAnsweredAfterSilence(t *testing.T) {
	d := newDisk()
	b, err := New(Options{Address: "127.0.0.1:0", Offer: d.offer})
	if err != nil {
		t.Fatal(err)
	}
	b.listener.writeMost = 50 * time.Millisecond
	runs(t, b)
	dev := dial(t, b.Addr(), login{id: "gw1"})
	dev.send(publish(topic, 1, 7, []byte("6.58")))
	d.await(t, 1)
	d.commit(1)
	dev.want(0x40, 7)
	time.Sleep(2 * b.listener.writeMost) // the network's clock is the real one
	dev.wantPong()
}
