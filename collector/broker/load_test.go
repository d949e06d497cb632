package broker

import (
	"bufio"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"
	"go.etcd.io/bbolt"

	"lentic/collector"
	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// devices send timed SenML readings at QoS 1, one a message, as fast as they are
// read.
const devices = 50

var floodSensors = []aquarium.SensorID{"ph", "water", "level", "flow-a", "flow-b", "valve",
	"topoff", "store", "refill", "waste", "pump", "heat"}

// premises are 50 tanks of 12 sensors.
func premises() []aquarium.Site {
	s := aquarium.Site{ID: "quillmere-library"}
	for n := range devices {
		t := aquarium.Tank{ID: aquarium.TankID(fmt.Sprint("tank-", n))}
		for _, id := range floodSensors {
			t.Sensors = append(t.Sensors, aquarium.Sensor{ID: id, Quantity: aquarium.Number})
		}
		s.Tanks = append(s.Tanks, t)
	}
	return []aquarium.Site{s}
}

// TestMain is also the devices: they run in a process of their own, so that
// what they cost is not counted as the broker's.
func TestMain(m *testing.M) {
	if address := os.Getenv("LENTIC_FLOOD"); address != "" {
		each, _ := strconv.Atoi(os.Getenv("LENTIC_FLOOD_EACH"))
		if err := flooding(address, each, os.Getenv("LENTIC_FLOOD_ACKS") != ""); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// flooding connects the devices, says so, waits to be told to go, sends
// everything, and says so again once everything is acknowledged.
func flooding(address string, each int, acks bool) error {
	var conns []net.Conn
	for n := range devices {
		c, err := net.Dial("tcp", address)
		if err != nil {
			return err
		}
		defer func() { _ = c.Close() }()
		hello := frame(0x10, text("MQTT"), []byte{4, 2, 0, 60}, text(fmt.Sprint("device-", n)))
		var answer [4]byte
		if _, err := c.Write(hello); err != nil {
			return err
		}
		if _, err := io.ReadFull(c, answer[:]); err != nil {
			return err
		}
		conns = append(conns, c)
	}
	streams := make([][]byte, devices)
	at := time.Now().Add(-time.Hour).UnixMilli()
	for n := range streams {
		for k := range each {
			s := floodSensors[k%len(floodSensors)]
			ms := at + int64(k)
			streams[n] = append(streams[n], publish(fmt.Sprintf("lentic/quillmere-library/tank-%d/%s", n, s), 1, uint16(k+1),
				fmt.Appendf(nil, `[{"n":"%s","t":%d.%03d,"v":%d.%02d}]`, s, ms/1000, ms%1000, k%50, k%100))...)
		}
	}
	fmt.Println("ready")
	if _, err := bufio.NewReader(os.Stdin).ReadString('\n'); err != nil {
		return err
	}
	errs := make(chan error, 2*devices)
	for n, c := range conns {
		go func() {
			_, err := c.Write(streams[n])
			errs <- err
		}()
		go func() {
			if !acks {
				errs <- nil
				return
			}
			errs <- acknowledged(c, each)
		}()
	}
	for range 2 * devices {
		if err := <-errs; err != nil {
			return err
		}
	}
	fmt.Println("done")
	_, _ = io.Copy(io.Discard, os.Stdin) // connected until told
	return nil
}

// acknowledged wants each PUBACK once and in order.
func acknowledged(c net.Conn, each int) error {
	in := bufio.NewReaderSize(c, 64<<10)
	var a [4]byte
	for k := range each {
		if _, err := io.ReadFull(in, a[:]); err != nil {
			return fmt.Errorf("after %d acknowledgements: %w", k, err)
		}
		if a[0] != 0x40 || binary.BigEndian.Uint16(a[2:]) != uint16(k+1) {
			return fmt.Errorf("packet % x, want PUBACK %d", a, k+1)
		}
	}
	return nil
}

// load is one run of the devices against an address.
type load struct {
	rate float64 // messages a second
	cpu  float64 // of this process, in microseconds a message
}

// run floods the address with n messages; with ended, the run is over when that
// is closed, else when all is acknowledged.
func run(b *testing.B, address string, n int, ended <-chan struct{}) load {
	b.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "LENTIC_FLOOD="+address, fmt.Sprint("LENTIC_FLOOD_EACH=", n/devices))
	if ended == nil {
		cmd.Env = append(cmd.Env, "LENTIC_FLOOD_ACKS=1")
	}
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	if err != nil {
		b.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	lines := bufio.NewReader(out)
	say := func(want string) {
		if got, err := lines.ReadString('\n'); err != nil || got != want+"\n" {
			b.Fatalf("the devices say %q, %v, want %q", got, err, want)
		}
	}
	say("ready")
	cpu, began := processor(), time.Now()
	if _, err := io.WriteString(in, "\n"); err != nil {
		b.Fatal(err)
	}
	if ended != nil {
		<-ended
	} else {
		say("done")
	}
	l := load{rate: float64(n) / time.Since(began).Seconds(), cpu: (processor() - cpu) / float64(n) * 1e6}
	_ = in.Close()
	_, _ = io.Copy(io.Discard, lines)
	if err := cmd.Wait(); err != nil {
		b.Fatal(err)
	}
	return l
}

// processor is the time this process has had, in seconds.
func processor() float64 {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}

// journal is a durable disk: one record a commit in a bbolt file.
type journal struct {
	db       *bbolt.DB
	n        uint64
	readings atomic.Int64
}

var journalBucket = []byte("journal")

func newJournal(tb testing.TB) *journal {
	db, err := bbolt.Open(filepath.Join(tb.TempDir(), "journal.db"), 0o600, nil)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { _ = db.Close() })
	return &journal{db: db}
}

func (j *journal) Commit(_ context.Context, batch aquarium.Batch) error {
	record := make([]byte, 0, 20*len(batch.Readings))
	for k := range batch.Readings {
		r := &batch.Readings[k]
		record = binary.BigEndian.AppendUint64(record, uint64(r.At))
		record = binary.BigEndian.AppendUint64(record, math.Float64bits(r.Value))
		record = append(record, r.Sensor.Sensor...)
	}
	j.readings.Add(int64(len(batch.Readings)))
	return j.db.Update(func(tx *bbolt.Tx) error {
		k, err := tx.CreateBucketIfNotExists(journalBucket)
		if err != nil {
			return err
		}
		k.FillPercent = 1
		j.n++
		return k.Put(binary.BigEndian.AppendUint64(nil, j.n), record)
	})
}

// bare is the library alone: its listener, and a hook that takes each message
// and does nothing.
type bare struct {
	mqtt.HookBase
	left  atomic.Int64
	ended chan struct{}
}

func (*bare) ID() string { return "bare" }
func (*bare) Provides(b byte) bool {
	return b == mqtt.OnConnectAuthenticate || b == mqtt.OnACLCheck || b == mqtt.OnPublish
}
func (*bare) OnConnectAuthenticate(*mqtt.Client, packets.Packet) bool { return true }
func (*bare) OnACLCheck(*mqtt.Client, string, bool) bool              { return true }
func (h *bare) OnPublish(_ *mqtt.Client, pk packets.Packet) (packets.Packet, error) {
	if h.left.Add(-1) == 0 {
		close(h.ended)
	}
	return pk, packets.ErrRejectPacket
}

// library starts the library with a hook, on a free port.
func library(b *testing.B, h mqtt.Hook) (address string, stop func()) {
	b.Helper()
	c := mqtt.NewDefaultServerCapabilities()
	c.MaximumClientWritesPending = 1 << 20 // or it would drop what a subscriber has not read
	c.MaximumInflight = math.MaxUint16
	c.ReceiveMaximum = math.MaxUint16
	s := mqtt.New(&mqtt.Options{Capabilities: c, Logger: slog.New(slog.DiscardHandler), ClientNetReadBufferSize: 16 << 10})
	if err := s.AddHook(h, nil); err != nil {
		b.Fatal(err)
	}
	l := listeners.NewTCP(listeners.Config{ID: "tcp", Address: "127.0.0.1:0"})
	if err := s.AddListener(l); err != nil {
		b.Fatal(err)
	}
	if err := s.Serve(); err != nil {
		b.Fatal(err)
	}
	return l.Address(), func() { _ = s.Close() }
}

// open lets everything pass; the library then distributes it.
type open struct{ mqtt.HookBase }

func (*open) ID() string { return "open" }
func (*open) Provides(b byte) bool {
	return b == mqtt.OnConnectAuthenticate || b == mqtt.OnACLCheck
}
func (*open) OnConnectAuthenticate(*mqtt.Client, packets.Packet) bool { return true }
func (*open) OnACLCheck(*mqtt.Client, string, bool) bool              { return true }

func overBare(b *testing.B, n int) load {
	h := &bare{ended: make(chan struct{})}
	h.left.Store(int64(n))
	address, stop := library(b, h)
	defer stop()
	return run(b, address, n, h.ended)
}

// overPaho is the way round: the library's broker distributes to a subscriber
// in the same process, whose messages are decoded and brought to the disk and
// then acknowledged. What the devices are told is not durable there.
func overPaho(b *testing.B, n int) load {
	address, stop := library(b, &open{})
	defer stop()
	in := collector.New(collector.Options{Registry: wire.NewRegistry("", premises()), Sink: newJournal(b)})
	ctx, cancel := context.WithCancel(context.Background())
	var storing sync.WaitGroup
	storing.Go(func() { _ = in.Run(ctx) })
	defer storing.Wait()
	defer cancel()
	ended := make(chan struct{})
	left := n // the committer's
	c := paho.NewClient(paho.NewClientOptions().AddBroker("mqtt://" + address).SetClientID("subscriber").SetAutoAckDisabled(true))
	if t := c.Connect(); t.Wait() && t.Error() != nil {
		b.Fatal(t.Error())
	}
	defer c.Disconnect(100)
	if t := c.Subscribe("lentic/#", 1, func(_ paho.Client, m paho.Message) {
		in.Offer(ctx, wire.Message{Topic: m.Topic(), Payload: m.Payload(), QoS: m.Qos()}, func() {
			m.Ack()
			if left--; left == 0 {
				close(ended)
			}
		})
	}); t.Wait() && t.Error() != nil {
		b.Fatal(t.Error())
	}
	return run(b, address, n, ended)
}

func overLentic(b *testing.B, n int) load {
	j := newJournal(b)
	address, stop := serve(b, j, premises())
	defer stop()
	l := run(b, address, n, nil)
	if got := j.readings.Load(); got != int64(n) {
		b.Fatalf("%d readings on the disk, want %d", got, n)
	}
	return l
}
