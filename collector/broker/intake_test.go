package broker

import (
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"net"
	"sync"
	"testing"
	"time"

	"lentic/collector"
	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// slow is a disk that takes 5 ms a commit and remembers what is on it.
type slow struct {
	mu     sync.Mutex // guards stored
	stored map[aquarium.Instant]int
}

func (s *slow) Commit(_ context.Context, b aquarium.Batch) error {
	time.Sleep(5 * time.Millisecond)
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, r := range b.Readings {
		s.stored[r.At]++
	}
	return nil
}

var atrium = []aquarium.Site{{ID: "quillmere-library", Tanks: []aquarium.Tank{{
	ID: "atrium", Sensors: []aquarium.Sensor{{ID: "ph", Quantity: aquarium.PH}}}}}}

// serve runs broker and intake together. stop ends the broker first, as a
// daemon does.
func serve(tb testing.TB, sink collector.Sink, sites []aquarium.Site) (address string, stop func()) {
	tb.Helper()
	in := collector.New(collector.Options{Registry: wire.NewRegistry("", sites), Sink: sink})
	b, err := New(Options{Address: "127.0.0.1:0", Offer: in.Offer})
	if err != nil {
		tb.Fatal(err)
	}
	if err := b.Listen(); err != nil {
		tb.Fatal(err)
	}
	serving, endServing := context.WithCancel(context.Background())
	storing, endStoring := context.WithCancel(context.Background())
	var served, stored sync.WaitGroup
	served.Go(func() {
		if err := b.Run(serving); err != nil {
			tb.Error(err)
		}
	})
	stored.Go(func() {
		if err := in.Run(storing); err != nil {
			tb.Error(err)
		}
	})
	return b.Addr(), sync.OnceFunc(func() {
		endServing()
		served.Wait()
		endStoring()
		stored.Wait()
	})
}

// flood publishes n timed readings at QoS 1 as fast as the broker reads them,
// and counts what is acknowledged, in order, until n are or the line ends.
func flood(address, id string, first aquarium.Instant, n int) (acknowledged int, err error) {
	c, err := net.Dial("tcp", address)
	if err != nil {
		return 0, err
	}
	defer func() { _ = c.Close() }()
	if _, err := c.Write(frame(0x10, text("MQTT"), []byte{4, 2, 0, 60}, text(id))); err != nil {
		return 0, err
	}
	var answer [4]byte
	if _, err := io.ReadFull(c, answer[:]); err != nil {
		return 0, err
	}
	go func() { // ends with the connection
		for k := range n {
			at := first + aquarium.Instant(k)
			_, err := c.Write(publish(topic, 1, uint16(k%65535+1), fmt.Appendf(nil, `[{"u":"pH","t":%d.%03d,"v":6.58}]`, at/1000, at%1000)))
			if err != nil {
				return
			}
		}
	}()
	for k := range n {
		_ = c.SetReadDeadline(time.Now().Add(patience))
		if _, err := io.ReadFull(c, answer[:]); err != nil {
			return k, err
		}
		if got, want := binary.BigEndian.Uint16(answer[2:]), uint16(k%65535+1); answer[0] != 0x40 || got != want {
			return k, fmt.Errorf("packet % x, want PUBACK %d", answer, want)
		}
	}
	return n, nil
}

// TestStoppedUnderLoad: with the broker told to stop at full speed, what was
// acknowledged is on the disk, once.
func TestStoppedUnderLoad(t *testing.T) {
	s := &slow{stored: map[aquarium.Instant]int{}}
	address, stop := serve(t, s, atrium)
	defer stop()
	first := aquarium.At(time.Now().Add(-24 * time.Hour))
	const devices, each = 3, 200_000
	got := make([]int, devices)
	var all sync.WaitGroup
	for d := range devices {
		all.Go(func() {
			got[d], _ = flood(address, fmt.Sprint("device", d), first+aquarium.Instant(d*each), each)
		})
	}
	time.Sleep(300 * time.Millisecond) // of real load, over a real network
	stop()
	all.Wait()
	total := 0
	for d, n := range got {
		total += n
		for k := range n {
			if times := s.stored[first+aquarium.Instant(d*each+k)]; times != 1 {
				t.Fatalf("device %d: reading %d of %d acknowledged is on the disk %d times, want once", d, k, n, times)
			}
		}
	}
	if total == 0 || total == devices*each {
		t.Fatalf("%d of %d were acknowledged: the test stopped nothing", total, devices*each)
	}
	t.Logf("%d acknowledged and on the disk, %d on the disk in all", total, len(s.stored))
}
