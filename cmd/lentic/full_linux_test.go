package main

import (
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// The disk fills up under a running lentic, is fuller still, sees lentic die
// and come back, and has room again. Nothing acknowledged is missing, nothing
// came twice, alarms go out all the while, and nobody has to lend a hand.

func TestFullDiskThroughOwnBroker(t *testing.T) {
	t.Parallel()
	d := newSmallDisk(t)
	web, port := freePort(t), freePort(t)
	fillUp(t, d, web, port, fmt.Sprintf("listen: { web: \"127.0.0.1:%d\", mqtt: \"127.0.0.1:%d\" }", web, port), false)
}

func TestFullDiskBehindMosquitto(t *testing.T) {
	t.Parallel()
	d := newSmallDisk(t)
	web, port := freePort(t), freePort(t)
	broker := mosquitto(t, t.TempDir(), port)
	fillUp(t, d, web, port, fmt.Sprintf("listen: { web: \"127.0.0.1:%d\" }\nbroker: { url: \"mqtt://127.0.0.1:%d\" }", web, port), true)
	select {
	case <-broker.done:
		t.Fatalf("mosquitto ended early:\n%s", broker.stderr)
	default:
	}
}

// smallDisk is a file system of 160 MiB, somebody else's file on it, and the
// data directory.
type smallDisk struct{ dir, other string }

func newSmallDisk(t *testing.T) smallDisk {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=160m,mode=0700"); err != nil {
		t.Skipf("a full disk was not tried: no small file system can be mounted here (that takes root and CAP_SYS_ADMIN): %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(dir, syscall.MNT_DETACH) })
	return smallDisk{dir, filepath.Join(dir, "somebody-else")}
}

// leave lets somebody else's file take all but so many MiB.
func (d smallDisk) leave(t *testing.T, mib int64) {
	t.Helper()
	if err := os.RemoveAll(d.other); err != nil {
		t.Fatal(err)
	}
	var s syscall.Statfs_t
	if err := syscall.Statfs(d.dir, &s); err != nil {
		t.Fatal(err)
	}
	take := int64(s.Bavail)*s.Bsize - mib<<20
	if take <= 0 {
		return
	}
	f, err := os.Create(d.other)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := syscall.Fallocate(int(f.Fd()), 0, 0, take); err != nil {
		t.Fatal(err)
	}
}

func fillUp(t *testing.T, d smallDisk, web, port int, listen string, relayed bool) {
	provider := receiveTexts(t)
	yaml := strings.NewReplacer("email: keeper@example.net", `phone: "+447700900101"`, "by: mail", "by: texts",
		"{ id: mail, kind: smtp, host: 127.0.0.1, port: 9, from: watch@example.net }",
		fmt.Sprintf(`{ id: texts, kind: http, url: %q, body: '{"to":{{json .To}},"text":{{json .Text}}}' }`, provider.url)).
		Replace(crashConfig(d.dir, web, listen))
	cfg := writeConfig(t, t.TempDir(), yaml)
	arrives := func(words string) {
		t.Helper()
		eventually(t, patience, "a text: "+words, func() bool {
			for _, a := range provider.all() {
				if strings.Contains(a.text, words) {
					return true
				}
			}
			return false
		})
	}

	// While writing still works: the alarm about the disk leaves.
	p := watching(t, cfg, web)
	arrives("Disk nearly full")
	if !healthy(web) {
		t.Error("a low disk is not a full one: want 200 from /healthz")
	}

	// Readings come until there is no room for them.
	pub := newPacks(t, port)
	d.leave(t, 24)
	go pub.run()
	full := func(when string) {
		t.Helper()
		eventually(t, 2*time.Minute, "/healthz says that the disk is full "+when, func() bool {
			select {
			case <-p.done:
				t.Fatalf("lentic ended:\n%s", p.stderr)
			default:
			}
			return strings.Contains(unhealthy(t, web), "disk is full")
		})
	}
	full("at last")
	eventually(t, patience, "the log says so, and what to do", func() bool {
		return strings.Contains(p.stderr.String(), "the disk is full: connections are closed") && strings.Contains(p.stderr.String(), "make room")
	})
	if !relayed {
		letsNobodyIn(t, port)
	}
	// Whatever else is stored while others fill the disk up: alarms go out,
	// from the reserve.
	d.leave(t, 1)
	writeConfig(t, filepath.Dir(cfg), strings.Replace(yaml, "quantity: number", "quantity: numbre", 1))
	fails(t, 78, "reload", "-c", cfg)
	arrives("New configuration refused")
	if _, err := os.Stat(filepath.Join(d.dir, "data", "lentic.db.reserve")); !os.IsNotExist(err) {
		t.Errorf("the reserve is still there (%v), with 1 MiB free and an alarm to write", err)
	}
	d.leave(t, 6)
	full("without the reserve")

	// It dies, and comes back to a disk that is still full.
	p.kill()
	p = start(t, binary(t), "run", "-c", cfg)
	full("after a restart")
	if status := p.stop(12 * time.Second); status != 0 {
		t.Errorf("stop on a full disk: exit status %d, want 0; lentic said:\n%s", status, p.stderr)
	}
	p = start(t, binary(t), "run", "-c", cfg)
	full("after another restart")
	before := pub.acked.Load()
	time.Sleep(2 * time.Second)
	if now := pub.acked.Load(); !relayed && now != before {
		t.Errorf("%d messages were acknowledged on a full disk, want none", now-before)
	}

	// Room again: everything resumes by itself.
	os.RemoveAll(d.other)
	eventually(t, patience, "healthy by itself", func() bool { return healthy(web) })
	pub.finish(t)
	compareExport(t, cfg, pub, p)
	if status := p.stop(12 * time.Second); status != 0 {
		t.Errorf("stop: exit status %d, want 0; lentic said:\n%s", status, p.stderr)
	}
}

// unhealthy is what /healthz says with 503; empty when it says anything else.
func unhealthy(t *testing.T, web int) string {
	t.Helper()
	c, err := net.DialTimeout("tcp", fmt.Sprintf("127.0.0.1:%d", web), time.Second)
	if err != nil {
		return ""
	}
	c.Close()
	status, body := get(t, fmt.Sprintf("http://127.0.0.1:%d/healthz", web), nil)
	if status != 503 {
		return ""
	}
	return body
}

// letsNobodyIn fails unless a device's connection is closed without an answer.
func letsNobodyIn(t *testing.T, port int) {
	t.Helper()
	c, err := net.Dial("tcp", fmt.Sprintf("127.0.0.1:%d", port))
	if err != nil {
		return // refused: as good
	}
	defer c.Close()
	// CONNECT, MQTT 3.1.1, client id "x".
	c.Write([]byte{0x10, 13, 0, 4, 'M', 'Q', 'T', 'T', 4, 2, 0, 60, 0, 1, 'x'})
	c.SetReadDeadline(time.Now().Add(5 * time.Second))
	n, err := c.Read(make([]byte, 4))
	if e, ok := err.(net.Error); n > 0 || ok && e.Timeout() {
		t.Errorf("a device was let in on a full disk: %d bytes came, %v", n, err)
	}
}

// packs publishes timed readings, a hundred a message, at QoS 1, with a window
// of unacknowledged messages like a gateway's.
type packs struct {
	client mqtt.Client
	base   int64
	done   chan struct{}
	stop   atomic.Bool
	sent   int // messages; read after done
	values []float64
	acked  atomic.Int64
}

const packOf = 100

func newPacks(t *testing.T, port int) *packs {
	t.Helper()
	p := &packs{base: time.Now().Add(-48 * time.Hour).UnixMilli(), done: make(chan struct{})}
	p.client = mqtt.NewClient(mqtt.NewClientOptions().
		AddBroker(fmt.Sprintf("tcp://127.0.0.1:%d", port)).SetClientID("gateway").
		SetStore(newResent()).SetCleanSession(false).SetAutoReconnect(true).SetConnectRetry(true).
		SetMaxReconnectInterval(200 * time.Millisecond).SetConnectRetryInterval(100 * time.Millisecond))
	if tok := p.client.Connect(); !tok.WaitTimeout(time.Minute) || tok.Error() != nil {
		t.Fatalf("connect: %v", tok.Error())
	}
	t.Cleanup(func() { p.client.Disconnect(100) })
	return p
}

func (p *packs) run() {
	defer close(p.done)
	slots := make(chan struct{}, 50)
	for ; !p.stop.Load(); p.sent++ {
		slots <- struct{}{}
		time.Sleep(2 * time.Millisecond) // a relaying broker would take all there is
		topic := fmt.Sprintf("lentic/quillmere-library/atrium/n%d", p.sent%crashSensors)
		var b strings.Builder
		fmt.Fprintf(&b, `[{"bt":%d`, (p.base+int64(p.sent)*packOf)/1000)
		for k := range packOf {
			v := rand.Float64() // sixteen digits: they take room
			p.values = append(p.values, v)
			if k > 0 {
				b.WriteString(",{")
			} else {
				b.WriteString(",")
			}
			fmt.Fprintf(&b, `"t":%.3f,"v":%s}`, float64(k)/1000+float64((p.base+int64(p.sent)*packOf)%1000)/1000, strconv.FormatFloat(v, 'g', -1, 64))
		}
		b.WriteString("]")
		payload := b.String()
		tok := p.client.Publish(topic, 1, false, payload)
		go func() {
			for tok.Wait(); tok.Error() != nil; tok.Wait() {
				time.Sleep(20 * time.Millisecond)
				tok = p.client.Publish(topic, 1, false, payload)
			}
			p.acked.Add(1)
			<-slots
		}()
	}
	for range cap(slots) {
		slots <- struct{}{}
	}
}

// finish stops publishing and waits for every receipt.
func (p *packs) finish(t *testing.T) {
	t.Helper()
	p.stop.Store(true)
	select {
	case <-p.done:
	case <-time.After(2 * time.Minute):
		t.Fatalf("%d messages acknowledged two minutes after there was room again", p.acked.Load())
	}
}

// compareExport holds what was acknowledged against what `lentic export` gives.
func compareExport(t *testing.T, cfg string, pub *packs, p *process) {
	t.Helper()
	want := pub.sent * packOf
	kept := stored(t, cfg, pub.base)
	for deadline := time.Now().Add(2 * time.Minute); len(kept.rows) < want && time.Now().Before(deadline); {
		time.Sleep(500 * time.Millisecond) // a broker in between has to hand over first
		kept = stored(t, cfg, pub.base)
	}
	missing := 0
	for i, v := range pub.values {
		key := fmt.Sprintf("n%d %d", i/packOf%crashSensors, pub.base+int64(i))
		if got, ok := kept.rows[key]; !ok || got != strconv.FormatFloat(v, 'g', -1, 64) {
			missing++
		}
		delete(kept.rows, key)
	}
	t.Logf("%d messages with %d readings acknowledged: missing %d, doubled %d, invented %d", pub.acked.Load(), want, missing, kept.doubled, len(kept.rows))
	if int(pub.acked.Load()) != pub.sent || missing+kept.doubled+len(kept.rows) > 0 {
		t.Errorf("got acknowledged %d, missing %d, doubled %d, invented %d; want %d, 0, 0, 0; lentic said:\n%s",
			pub.acked.Load(), missing, kept.doubled, len(kept.rows), pub.sent, p.stderr)
	}
}
