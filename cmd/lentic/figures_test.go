package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"lentic/collector/aquarium"
)

// The figures of the whole program take minutes and a quiet machine, so they
// are measured when asked for:
//
//	go test ./cmd/lentic -run TestFigures -figures -v -timeout 30m
var figures = flag.Bool("figures", false, "measure latency, memory and start-up of the whole program")

func asked(t *testing.T) {
	t.Helper()
	if !*figures {
		t.Skip("measuring takes minutes and a quiet machine: ask for it with -figures")
	}
}

// texts is a provider on loopback that notes when each text came.
type texts struct {
	url string

	mu   sync.Mutex // guards came
	came []arrival
}

type arrival struct {
	text string
	at   time.Time
}

func receiveTexts(t *testing.T) *texts {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	x := &texts{url: "http://" + l.Addr().String() + "/send"}
	srv := &http.Server{Handler: http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		at := time.Now()
		var m struct{ To, Text string }
		if err := json.NewDecoder(r.Body).Decode(&m); err != nil {
			t.Errorf("provider: %v", err)
		}
		x.mu.Lock()
		defer x.mu.Unlock()
		x.came = append(x.came, arrival{m.Text, at})
	}), ReadHeaderTimeout: 5 * time.Second}
	go srv.Serve(l)
	t.Cleanup(func() { srv.Close() })
	return x
}

func (x *texts) all() []arrival {
	x.mu.Lock()
	defer x.mu.Unlock()
	return slices.Clone(x.came)
}

// publisher connects to the fleet's broker.
func publisher(t *testing.T, port int, id string) mqtt.Client {
	t.Helper()
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(fmt.Sprintf("tcp://127.0.0.1:%d", port)).SetClientID(id))
	if tok := c.Connect(); !tok.WaitTimeout(time.Minute) || tok.Error() != nil {
		t.Fatalf("connect: %v", tok.Error())
	}
	t.Cleanup(func() { c.Disconnect(100) })
	return c
}

// waitHealthy is how long a fresh process takes until /healthz answers 200.
func waitHealthy(t *testing.T, p *process, web int, within time.Duration) time.Duration {
	t.Helper()
	began := time.Now()
	eventually(t, within, "healthy", func() bool {
		select {
		case <-p.done:
			t.Fatalf("lentic ended:\n%s", p.stderr)
		default:
		}
		return healthy(web)
	})
	return time.Since(began)
}

// memory reads a line of the kernel's account of a process, in MiB.
func memory(t *testing.T, p *process, name string) float64 {
	t.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.cmd.Process.Pid))
	if err != nil {
		t.Skipf("no account of the process's memory here: %v", err)
	}
	for l := range strings.Lines(string(b)) {
		if rest, ok := strings.CutPrefix(l, name+":"); ok {
			kib, err := strconv.ParseFloat(strings.Fields(rest)[0], 64)
			if err != nil {
				t.Fatal(err)
			}
			return kib / 1024
		}
	}
	t.Fatalf("no %s in the kernel's account", name)
	return 0
}

// processorTime is what a process has used so far, in user and system mode: on
// a machine that does other things besides, it tells more than the clock.
func processorTime(t *testing.T, p *process) time.Duration {
	t.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", p.cmd.Process.Pid))
	if err != nil {
		t.Skipf("no account of the process's time here: %v", err)
	}
	// proc_pid_stat(5): utime and stime are fields 14 and 15, in 1/100 s;
	// the second field, the name, ends with the last parenthesis.
	_, rest, _ := strings.Cut(string(b), ") ")
	f := strings.Fields(rest)
	var sum time.Duration
	for _, ticks := range f[11:13] {
		n, err := strconv.Atoi(ticks)
		if err != nil {
			t.Fatal(err)
		}
		sum += time.Duration(n) * 10 * time.Millisecond
	}
	return sum
}

// quantile of sorted durations, the nearest rank.
func quantile(ds []time.Duration, q float64) time.Duration {
	return ds[min(len(ds)-1, int(q*float64(len(ds))))]
}

// stallOnDelay is filter-stalled's own on-delay where no other filter runs, as its
// cause documents it: three minutes less a reading of ten seconds and two ticks.
const stallOnDelay = 150 * time.Second

// stallRun is the trial of one filter: what it published and when.
type stallRun struct {
	after   time.Duration // of the start of all, when its flow stops
	phase   time.Duration // of its ten seconds
	stopped time.Time     // its first publish without flow
}

// TestFiguresLatency measures from the publish of a stopped flow to the text
// at the provider, with a thousand readings a second from all the others, of a daemon
// that has heard all of them for long enough to know that mains, say, is no news.
func TestFiguresLatency(t *testing.T) {
	asked(t)
	const (
		rate    = 1000.0
		every   = 10 * time.Second // each filter reports
		settled = 6 * time.Minute  // readings as usual before the first stops: longer than any grace
		spread  = 70 * time.Second // the last stops so much later
		patient = stallOnDelay + 30*time.Second
	)
	provider := receiveTexts(t)
	f := fleet{sites: 12, tanksEach: 5, web: freePort(t), mqtt: freePort(t), provider: provider.url, dir: t.TempDir()}
	cfg := writeConfig(t, f.dir, f.config())
	p := start(t, binary(t), "run", "-c", cfg)
	waitHealthy(t, p, f.web, time.Minute)

	ctx, cancel := context.WithTimeout(t.Context(), settled+spread+patient)
	defer cancel()
	var wg sync.WaitGroup
	runs := make([]stallRun, f.tanks())
	began := time.Now()
	flows := publisher(t, f.mqtt, "flows")
	for i := range runs {
		r := &runs[i]
		r.phase = rand.N(every)
		r.after = settled + rand.N(spread)
		wg.Go(func() { r.publish(ctx, flows, f.topic(i, "flow"), began, every) })
	}
	var sent int
	back := publisher(t, f.mqtt, "background")
	wg.Go(func() { sent = background(ctx, back, f, fleetSensors[1:], began, rate) })
	wg.Wait()

	whole, rest := latencies(t, runs, provider.all())
	for _, l := range []struct {
		of string
		ds []time.Duration
	}{
		{"from the first reading without flow to its text", whole},
		{"of it beyond the first whole tick at which the on-delay has passed", rest},
	} {
		t.Logf("%s: median %s, p99 %s, most %s (%d alarms)", l.of, quantile(l.ds, 0.5).Round(time.Millisecond),
			quantile(l.ds, 0.99).Round(time.Millisecond), l.ds[len(l.ds)-1].Round(time.Millisecond), len(l.ds))
	}
	t.Logf("of it the cause's own on-delay: %s, and up to %s until the next tick; background %.0f readings a second; VmRSS %.0f MiB",
		stallOnDelay, aquarium.Step, float64(sent)/time.Since(began).Seconds(), memory(t, p, "VmRSS"))
	if status := p.stop(12 * time.Second); status != 0 {
		t.Errorf("stop: exit status %d, want 0; lentic said:\n%s", status, p.stderr)
	}
}

func (r *stallRun) publish(ctx context.Context, c mqtt.Client, topic string, began time.Time, every time.Duration) {
	for due := r.phase; ; due += every {
		select {
		case <-ctx.Done():
			return
		case <-time.After(due - time.Since(began)):
		}
		now, v := time.Now(), jitter("flow", 1000)
		if due >= r.after {
			v = 0
			if r.stopped.IsZero() {
				r.stopped = now
			}
		}
		c.Publish(topic, 1, false, timed(now, v))
	}
}

var tankNumber = regexp.MustCompile(`Tank (\d+)\b`)

// latencies finds each filter's text and sorts how long it took: in all, and
// beyond the tick that could raise the alarm at the earliest. The cause counts
// its delay from the first reading without flow.
func latencies(t *testing.T, runs []stallRun, came []arrival) (whole, rest []time.Duration) {
	t.Helper()
	found := map[int]bool{}
	for _, c := range came {
		m := tankNumber.FindStringSubmatch(c.text)
		if m == nil || !strings.Contains(strings.ToLower(c.text), "filter") {
			t.Errorf("a text that no stopped filter explains: %q", c.text)
			continue
		}
		i, _ := strconv.Atoi(m[1])
		if found[i] {
			t.Errorf("told twice: %q", c.text)
			continue
		}
		found[i] = true
		raised := aquarium.At(runs[i].stopped).Add(stallOnDelay).Ceil(aquarium.Step).Time()
		if runs[i].stopped.IsZero() || c.at.Before(raised) {
			t.Errorf("told before its delay had passed: %q at %s", c.text, c.at)
			continue
		}
		whole = append(whole, c.at.Sub(runs[i].stopped))
		rest = append(rest, c.at.Sub(raised))
	}
	if len(found) != len(runs) {
		t.Errorf("got %d of %d stopped filters told", len(found), len(runs))
	}
	if len(whole) == 0 {
		t.FailNow()
	}
	slices.Sort(whole)
	slices.Sort(rest)
	return whole, rest
}

// TestFiguresStart measures memory and start-up with a hundred tanks of twelve
// sensors and fourteen days of them stored at a reading a minute, and with fifty
// and the day that is judged before it is ready at one every ten seconds.
func TestFiguresStart(t *testing.T) {
	asked(t)
	t.Run("hundred", func(t *testing.T) { figuresStart(t, fleet{sites: 20, tanksEach: 5}, 14*24*time.Hour, time.Minute) })
	t.Run("fifty", func(t *testing.T) { figuresStart(t, fleet{sites: 10, tanksEach: 5}, 27*time.Hour, 10*time.Second) })
}

func figuresStart(t *testing.T, f fleet, past, every time.Duration) {
	provider := receiveTexts(t)
	f.web, f.mqtt, f.provider, f.dir = freePort(t), freePort(t), provider.url, t.TempDir()
	cfg := writeConfig(t, f.dir, f.config())
	n, took := f.fill(t, past, every)
	info, err := os.Stat(filepath.Join(f.dir, "data", "lentic.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d readings stored in %s: %.0f MiB, %.1f bytes a reading", n, took.Round(time.Second),
		float64(info.Size())/(1<<20), float64(info.Size())/float64(n))

	// The first start has no mark and warms every site up; the second goes
	// on from its mark.
	for _, which := range []string{"first start", "next start"} {
		p := start(t, binary(t), "run", "-c", cfg)
		ready := waitHealthy(t, p, f.web, 5*time.Minute)
		t.Logf("%s: healthy after %s with %s of processor time, VmRSS %.0f MiB, at most %.0f MiB", which, ready.Round(time.Millisecond), processorTime(t, p), memory(t, p, "VmRSS"), memory(t, p, "VmHWM"))
		if which == "next start" {
			ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
			sent := background(ctx, publisher(t, f.mqtt, "gateways"), f, fleetSensors, time.Now(), float64(f.tanks()*len(fleetSensors))/10)
			cancel()
			t.Logf("after a minute of all tanks reporting, %d readings: VmRSS %.0f MiB, of it anonymous %.0f MiB", sent, memory(t, p, "VmRSS"), memory(t, p, "RssAnon"))
		}
		if status := p.stop(12 * time.Second); status != 0 {
			t.Errorf("%s: exit status %d, want 0; lentic said:\n%s", which, status, p.stderr)
		}
	}
	for _, c := range provider.all() {
		t.Logf("text: %s", c.text)
	}
}
