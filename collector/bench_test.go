package collector

import (
	"bufio"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"net"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// late is how long after its arrival a message is acknowledged: the disk's.
const late = 5 * time.Millisecond

// BenchmarkMosquitto: a flood of timed readings at QoS 1 through a real broker,
// acknowledged 5 ms late, beside a subscriber that does nothing but that, and
// beside a handler of the library's that waits. Run with -benchtime 5x and
// more: medians are printed.
func BenchmarkMosquitto(b *testing.B) {
	const n, few = 40_000, 200
	var ours, raw, blocking []float64
	lost := 0
	for range b.N {
		raw = append(raw, n/rawSubscriber(b, n).Seconds())
		took, missing := throughIntake(b, n)
		ours, lost = append(ours, n/took.Seconds()), lost+missing
		blocking = append(blocking, few/blockingHandler(b, few).Seconds())
	}
	b.ReportMetric(median(ours), "messages/s")
	b.ReportMetric(median(raw), "raw/s")
	b.ReportMetric(median(ours)/median(raw), "x-raw")
	b.ReportMetric(median(ours)/median(blocking), "x-blocking")
	b.ReportMetric(float64(lost), "lost")
}

func median(vs []float64) float64 {
	slices.Sort(vs)
	return vs[len(vs)/2]
}

// flood publishes n readings, each with a time of its own, as fast as the broker
// takes them, from the time it returns on.
func flood(b *testing.B, address string, n int) time.Time {
	b.Helper()
	c := dialRaw(b, address, "device")
	at := time.Now().Add(-time.Hour).UnixMilli()
	var stream []byte
	for k := range n {
		ms := at + int64(k)
		payload := fmt.Appendf(nil, `[{"n":"ph","u":"pH","t":%d.%03d,"v":6.58}]`, ms/1000, ms%1000)
		stream = append(stream, 0x32, byte(2+len(phTopic)+2+len(payload)), 0, byte(len(phTopic)))
		stream = append(stream, phTopic...)
		stream = binary.BigEndian.AppendUint16(stream, uint16(k%65535)+1)
		stream = append(stream, payload...)
	}
	go func() { _, _ = io.Copy(io.Discard, c) }() // its acknowledgements
	go func() { _, _ = c.Write(stream) }()
	return time.Now()
}

// dialRaw connects by the bytes of MQTT 3.1.1.
func dialRaw(b *testing.B, address, id string) net.Conn {
	b.Helper()
	c, err := net.Dial("tcp", address)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = c.Close() })
	ask(b, c, append([]byte{0x10, byte(12 + len(id)), 0, 4, 'M', 'Q', 'T', 'T', 4, 2, 0, 60, 0, byte(len(id))}, id...), 4)
	return c
}

func ask(b *testing.B, c net.Conn, packet []byte, answer int) {
	b.Helper()
	if _, err := c.Write(packet); err != nil {
		b.Fatal(err)
	}
	if _, err := io.ReadFull(c, make([]byte, answer)); err != nil {
		b.Fatal(err)
	}
}

// rawSubscriber reads, and acknowledges all that came in the last 5 ms with one
// write.
func rawSubscriber(b *testing.B, n int) time.Duration {
	address := realBroker(b)
	c := dialRaw(b, address, "subscriber")
	ask(b, c, append([]byte{0x82, 13, 0, 1, 0, 8}, "lentic/#\x01"...), 5)
	var mu sync.Mutex // guards acks
	var acks []byte
	ended := make(chan struct{})
	var writing sync.WaitGroup
	writing.Go(func() {
		for {
			select {
			case <-ended:
				return
			case <-time.After(late):
			}
			mu.Lock()
			out := acks
			acks = nil
			mu.Unlock()
			_, _ = c.Write(out)
		}
	})
	began := flood(b, address, n)
	in := bufio.NewReaderSize(c, 64<<10)
	var body [256]byte
	for range n {
		if _, err := in.ReadByte(); err != nil {
			b.Fatal(err)
		}
		size, err := binary.ReadUvarint(in)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := io.ReadFull(in, body[:size]); err != nil {
			b.Fatal(err)
		}
		at := 2 + int(binary.BigEndian.Uint16(body[:]))
		mu.Lock()
		acks = append(acks, 0x40, 2, body[at], body[at+1])
		mu.Unlock()
	}
	took := time.Since(began)
	close(ended)
	writing.Wait()
	return took
}

// throughIntake is the subscription and the intake, with a disk of 5 ms a
// commit. It counts the readings that did not come.
func throughIntake(b *testing.B, n int) (took time.Duration, missing int) {
	address := realBroker(b)
	d := &disk{takes: late}
	in := New(Options{Registry: wire.NewRegistry("", library), Sink: d})
	var done atomic.Int64
	all := make(chan struct{})
	up := make(chan bool, 10)
	s, err := NewSubscription(SubscriptionOptions{
		URL: "mqtt://" + address, ClientID: "lentic-bench", Topics: []string{"lentic/#"},
		OnState: func(is bool) { up <- is },
		Offer: func(ctx context.Context, m wire.Message, told func()) {
			in.Offer(ctx, m, func() {
				told()
				if done.Add(1) == int64(n) {
					close(all)
				}
			})
		},
	})
	if err != nil {
		b.Fatal(err)
	}
	listening, endListening := context.WithCancel(context.Background())
	storing, endStoring := context.WithCancel(context.Background())
	var listens, stores sync.WaitGroup
	stores.Go(func() { _ = in.Run(storing) })
	listens.Go(func() { _ = s.Run(listening) })
	<-up
	began := flood(b, address, n)
	select {
	case <-all:
	case <-time.After(patience):
	}
	took = time.Since(began)
	endListening()
	listens.Wait()
	endStoring()
	stores.Wait()
	seen := map[aquarium.Instant]bool{}
	for _, batch := range d.batches {
		for _, r := range batch.Readings {
			seen[r.At] = true
		}
	}
	return took, n - len(seen)
}

// blockingHandler waits for its commit in the library's handler.
func blockingHandler(b *testing.B, n int) time.Duration {
	address := realBroker(b)
	left := atomic.Int64{}
	left.Store(int64(n))
	all := make(chan struct{})
	c := paho.NewClient(paho.NewClientOptions().AddBroker("mqtt://" + address).SetClientID("blocking"))
	if t := c.Connect(); t.Wait() && t.Error() != nil {
		b.Fatal(t.Error())
	}
	defer c.Disconnect(0)
	if t := c.Subscribe("lentic/#", 1, func(paho.Client, paho.Message) {
		time.Sleep(late)
		if left.Add(-1) == 0 {
			close(all)
		}
	}); t.Wait() && t.Error() != nil {
		b.Fatal(t.Error())
	}
	began := flood(b, address, n)
	<-all
	return time.Since(began)
}
