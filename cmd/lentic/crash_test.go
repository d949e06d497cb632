package main

import (
	"encoding/csv"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// The promise: acknowledged means on disk. `make test` runs a sample; the whole
// is -crash.readings=100000 -crash.kills=10.
var (
	crashReadings = flag.Int("crash.readings", 20000, "readings published while lentic is killed")
	crashKills    = flag.Int("crash.kills", 4, "how often it is killed")
)

const (
	crashSensors = 10
	// relayedRate is how many readings a second go through another broker.
	// It would take all of them before lentic has woken up, and the kills
	// would then meet one backlog again and again. Through its own broker
	// lentic itself sets the pace.
	relayedRate = 4000
)

func TestKilledThroughOwnBroker(t *testing.T) {
	dir, web, port := t.TempDir(), freePort(t), freePort(t)
	cfg := writeConfig(t, dir, crashConfig(dir, web, fmt.Sprintf("listen: { web: \"127.0.0.1:%d\", mqtt: \"127.0.0.1:%d\" }", web, port)))
	crash(t, cfg, web, port, false)
}

func TestKilledBehindMosquitto(t *testing.T) {
	dir, web, port := t.TempDir(), freePort(t), freePort(t)
	broker := mosquitto(t, dir, port)
	cfg := writeConfig(t, dir, crashConfig(dir, web, fmt.Sprintf("listen: { web: \"127.0.0.1:%d\" }\nbroker: { url: \"mqtt://127.0.0.1:%d\" }", web, port)))
	crash(t, cfg, web, port, true)
	select {
	case <-broker.done:
		t.Fatalf("mosquitto ended early:\n%s", broker.stderr)
	default:
	}
}

// mosquitto runs a real broker with the settings of deploy; only its port and
// its folder are the test's own.
func mosquitto(t *testing.T, dir string, port int) *process {
	t.Helper()
	program := onPath("mosquitto")
	if program == "" {
		t.Skip("mosquitto is not installed: the run behind a real broker was not made")
	}
	conf, err := os.ReadFile(filepath.Join("..", "..", "deploy", "mosquitto.conf"))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, l := range strings.Split(string(conf), "\n") {
		switch word, _, _ := strings.Cut(strings.TrimSpace(l), " "); word {
		case "listener":
			fmt.Fprintf(&b, "listener %d 127.0.0.1\n", port)
		case "persistence_location":
			fmt.Fprintf(&b, "persistence_location %s/\n", dir)
		case "log_dest", "password_file", "acl_file", "user", "pid_file":
		case "allow_anonymous":
			b.WriteString("allow_anonymous true\n")
		default:
			b.WriteString(l + "\n")
		}
	}
	b.WriteString("user root\nallow_anonymous true\n")
	path := filepath.Join(dir, "mosquitto.conf")
	if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return start(t, program, "-c", path)
}

func crashConfig(dir string, web int, listen string) string {
	var sensors strings.Builder
	for i := range crashSensors {
		fmt.Fprintf(&sensors, "          n%d: { quantity: number }\n", i)
	}
	return fmt.Sprintf(`data: %q
%s
people: [ { id: keeper, name: Keeper, email: keeper@example.net } ]
channels: [ { id: mail, kind: smtp, host: 127.0.0.1, port: 9, from: watch@example.net } ]
call_out:
  high: [ { tell: keeper, by: mail } ]
  medium: [ { tell: keeper, by: mail } ]
  low: [ { tell: keeper, by: mail } ]
sites:
  - id: quillmere-library
    name: Quillmere Library
    timezone: Europe/London
    tanks:
      - id: atrium
        name: Atrium island
        sensors:
%s`, filepath.Join(dir, "data"), listen, sensors.String())
}

// crash publishes timed readings, one a message, at QoS 1, kills lentic at
// random moments with messages unacknowledged, and then asks what it kept.
// relayed says that another broker stands between the two.
func crash(t *testing.T, cfg string, web, port int, relayed bool) {
	run := func() *process {
		p := start(t, binary(t), "run", "-c", cfg)
		return p
	}
	p := run()
	eventually(t, patience, "first start", func() bool {
		select {
		case <-p.done:
			t.Fatalf("lentic ended at once:\n%s", p.stderr)
		default:
		}
		return healthy(web)
	})
	client := mqtt.NewClient(mqtt.NewClientOptions().
		AddBroker(fmt.Sprintf("tcp://127.0.0.1:%d", port)).SetClientID("crash-test").
		SetStore(newResent()).SetCleanSession(false).SetAutoReconnect(true).SetConnectRetry(true).
		SetMaxReconnectInterval(200 * time.Millisecond).SetConnectRetryInterval(100 * time.Millisecond).
		SetOrderMatters(true))
	if tok := client.Connect(); !tok.WaitTimeout(time.Minute) || tok.Error() != nil {
		t.Fatalf("connect: %v", tok.Error())
	}
	defer client.Disconnect(100)

	total := *crashReadings
	base := time.Now().Add(-8 * time.Minute).UnixMilli()
	var acked, sent atomic.Int64
	slots := make(chan struct{}, 400) // unacknowledged at most
	ackedAt := make([]atomic.Bool, total)
	began := time.Now()
	finished := make(chan struct{})
	go func() {
		defer close(finished)
		for i := range total {
			slots <- struct{}{}
			if due := time.Duration(i) * time.Second / relayedRate; relayed {
				time.Sleep(due - time.Since(began))
			}
			topic := fmt.Sprintf("lentic/quillmere-library/atrium/n%d", i%crashSensors)
			payload := fmt.Sprintf(`[{"bt":%.3f,"v":%d}]`, float64(base+int64(i/crashSensors))/1000, i)
			tok := client.Publish(topic, 1, false, payload)
			sent.Add(1)
			go func() {
				// What the client could not even take while its
				// connection went is published again, as any device
				// must that was told of no receipt.
				for tok.Wait(); tok.Error() != nil; tok.Wait() {
					time.Sleep(20 * time.Millisecond)
					tok = client.Publish(topic, 1, false, payload)
				}
				ackedAt[i].Store(true)
				acked.Add(1)
				<-slots
			}()
		}
		for range cap(slots) {
			slots <- struct{}{}
		}
	}()

	kills, during := 0, 0
	rnd := rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), 1))
	for i := range *crashKills {
		// Somewhere in the i-th stretch of the readings, with messages
		// under way.
		at := int64(total)*int64(i)/int64(*crashKills) + rnd.Int64N(max(1, int64(total / *crashKills * 8 / 10)))
		for deadline := time.Now().Add(2 * time.Minute); sent.Load() < at; time.Sleep(time.Millisecond) {
			select {
			case <-p.done:
				t.Fatalf("lentic ended by itself after %d kills:\n%s", kills, p.stderr)
			default:
			}
			if time.Now().After(deadline) {
				t.Fatalf("%d sent and %d acknowledged two minutes after kill %d; lentic said:\n%s", sent.Load(), acked.Load(), kills, p.stderr)
			}
		}
		for sent.Load() == acked.Load() && sent.Load() < int64(total) {
			time.Sleep(100 * time.Microsecond)
		}
		open := sent.Load() - acked.Load()
		p.kill()
		kills++
		if relayed {
			// The broker has taken what lentic may not have: those count.
			taken := int(acked.Load())
			open = int64(taken - len(stored(t, cfg, base).rows))
		}
		if open > 0 {
			during++
		}
		t.Logf("kill %d after %d sent, %d of them unacknowledged", kills, sent.Load(), open)
		p = run()
	}
	select {
	case <-finished:
	case <-time.After(5 * time.Minute):
		t.Fatalf("%d of %d acknowledged after five minutes; lentic said:\n%s", acked.Load(), total, p.stderr)
	}
	took := time.Since(began)

	// A broker in between has acknowledged before lentic has: it must hand
	// over all of it in bounded time.
	deadline := time.Now().Add(2 * time.Minute)
	kept := stored(t, cfg, base)
	for len(kept.rows) < int(acked.Load()) && time.Now().Before(deadline) {
		time.Sleep(500 * time.Millisecond)
		kept = stored(t, cfg, base)
	}
	settled := time.Since(began)
	rows, doubled := kept.rows, kept.doubled
	missing, invented := 0, 0
	for i := range total {
		key := fmt.Sprintf("n%d %d", i%crashSensors, base+int64(i/crashSensors))
		v, ok := rows[key]
		if ackedAt[i].Load() && (!ok || v != strconv.Itoa(i)) {
			missing++
		}
		delete(rows, key)
	}
	invented = len(rows)
	t.Logf("%d readings in %s (%.0f a second; all stored and exported after %s), killed %d times, %d of them with messages unacknowledged: acknowledged %d, missing %d, doubled %d, invented %d",
		total, took.Round(time.Millisecond), float64(total)/took.Seconds(), settled.Round(time.Millisecond), kills, during,
		acked.Load(), missing, doubled, invented)
	if during == 0 {
		t.Errorf("got no kill with messages unacknowledged; want at least one, or nothing was tried")
	}
	if int(acked.Load()) != total || missing+doubled+invented > 0 {
		t.Errorf("got acknowledged %d, missing %d, doubled %d, invented %d; want %d, 0, 0, 0", acked.Load(), missing, doubled, invented, total)
	}
	if status := p.stop(12 * time.Second); status != 0 {
		t.Errorf("stop: exit status %d, want 0; lentic said:\n%s", status, p.stderr)
	}
}

// export is what `lentic export` gives, by "sensor ms".
type export struct {
	rows    map[string]string
	doubled int
}

// stored asks for all of the tank, of a running daemon or of its file.
func stored(t *testing.T, cfg string, base int64) export {
	t.Helper()
	out, errs, status := lentic(t, "export", "-c", cfg, "--site", "quillmere-library", "--tank", "atrium",
		"--from", time.UnixMilli(base).UTC().Format(time.RFC3339Nano), "--to", time.Now().UTC().Add(time.Hour).Format(time.RFC3339))
	if status != 0 {
		t.Fatalf("export: status %d: %s", status, errs)
	}
	rows, doubled := exported(t, out)
	return export{rows, doubled}
}

// exported reads an export into "sensor ms" -> value, and counts doubled rows.
func exported(t *testing.T, out string) (map[string]string, int) {
	t.Helper()
	rs, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rows, doubled := make(map[string]string, len(rs)), 0
	for _, r := range rs[1:] {
		at, err := time.Parse(time.RFC3339Nano, r[0])
		if err != nil {
			t.Fatal(err)
		}
		key := fmt.Sprintf("%s %d", r[3], at.UnixMilli())
		if _, ok := rows[key]; ok {
			doubled++
		}
		rows[key] = r[4]
	}
	return rows, doubled
}
