package web

import (
	"encoding/json"
	"net"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"lentic/collector/aquarium"
)

type heardItem struct {
	Site, Tank, Sensor string
	T                  int64
	V                  float64
	Quality            string
	NotCounted         *refusedAnswer `json:"not_counted"`
	Alarm              *struct{ ID, State string }
}

// dial opens a stream of a real server.
func dial(t *testing.T, srv *httptest.Server, query string, header http.Header) *websocket.Conn {
	t.Helper()
	c, resp, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(srv.URL, "http")+"/api/v1/live?"+query, header)
	if err != nil {
		t.Fatalf("dial: %v (%v)", err, resp)
	}
	t.Cleanup(func() { c.Close() })
	c.SetReadDeadline(time.Now().Add(20 * time.Second))
	return c
}

func next(t *testing.T, c *websocket.Conn) (items []heardItem) {
	t.Helper()
	_, b, err := c.ReadMessage()
	if err != nil {
		t.Fatalf("read the stream: %v", err)
	}
	if err := json.Unmarshal(b, &items); err != nil {
		t.Fatalf("%s: %v", b, err)
	}
	return items
}

// TestReplayJoinsLive writes while streams begin: each reading must arrive once
// whether it was stored before, after or while the replay was read.
func TestReplayJoinsLive(t *testing.T) {
	b := newBench(t, nil)
	srv := httptest.NewServer(b)
	defer srv.Close()
	const readings, streams = 400, 8
	k := key("quillmere-library", "atrium", "ph")
	start := aquarium.At(noon)
	var writer sync.WaitGroup
	writer.Go(func() {
		for i := range readings {
			at := start + aquarium.Instant(i)
			if i%7 == 3 { // out of a buffer, older than what came before
				at = start - aquarium.Instant(10*60*1000+i)
			}
			b.append(at, 6.5)
			b.Feed.Publish([]aquarium.Sample{{Sensor: k, At: at, Value: 6.5}})
		}
	})
	var readers sync.WaitGroup
	for range streams {
		c := dial(t, srv, "site=quillmere-library&tank=atrium&since="+strconv.FormatInt(int64(start)-20*60*1000, 10), nil)
		readers.Go(func() {
			seen := map[int64]int{}
			for got := 0; got < readings; {
				_, msg, err := c.ReadMessage()
				if err != nil {
					t.Errorf("after %d: %v", got, err)
					return
				}
				var items []heardItem
				if err := json.Unmarshal(msg, &items); err != nil {
					t.Error(err)
					return
				}
				for _, it := range items {
					if it.Sensor != "ph" || it.T%60000 == 0 && it.T != int64(start) {
						continue // the hour before, a reading each whole minute
					}
					if seen[it.T]++; seen[it.T] > 1 {
						t.Errorf("reading at %d came twice", it.T)
					}
					got++
				}
			}
		})
	}
	writer.Wait()
	readers.Wait()
}

func TestLiveItems(t *testing.T) {
	b := newBench(t, nil)
	srv := httptest.NewServer(b)
	defer srv.Close()
	one := dial(t, srv, "site=quillmere-library&tank=atrium", nil)
	all := dial(t, srv, "", nil)
	waitForStreams(b, 2)
	at := aquarium.At(noon)
	b.Feed.Publish([]aquarium.Sample{
		{Sensor: key("hotel-sarnbrook", "lobby", "water"), At: at, Value: 24},
		{Sensor: key("quillmere-library", "atrium", "ph"), At: at, Value: 6.6}})
	got := next(t, one)
	if len(got) != 2 || got[0].Sensor != "ph" || got[0].Tank != "" || got[1].Sensor != "co2-estimate" || got[1].V < 20 || got[1].V > 35 {
		t.Errorf("got %+v, want pH and the CO2 that follows from it", got)
	}
	if got := next(t, all); len(got) != 3 || got[0].Site != "hotel-sarnbrook" || got[0].Tank != "lobby" {
		t.Errorf("got %+v, want every tank's, with site and tank", got)
	}
	a, _ := b.desk.Alarm("q1")
	b.Feed.PublishAlarm(a)
	if got := next(t, one); len(got) != 1 || got[0].Alarm == nil || got[0].Alarm.ID != "q1" || got[0].Alarm.State != "unacknowledged" {
		t.Errorf("got %+v, want the alarm", got)
	}
}

// TestLiveNotCounted: while nothing of a sensor counts each of its readings says so,
// and no CO2 follows from it; what is replayed says what it was found to be.
func TestLiveNotCounted(t *testing.T) {
	b := inAir(t, nil)
	srv := httptest.NewServer(b)
	defer srv.Close()
	c := dial(t, srv, "site=quillmere-library&tank=atrium&since="+strconv.FormatInt(int64(minute(22)), 10), nil)
	for _, sensor := range []string{"ph", "water"} {
		want, n := map[string]string{"ph": "air"}[sensor], 0
		for _, it := range next(t, c) {
			quality := want
			if it.T < int64(minute(20)) {
				quality = ""
			}
			if n++; it.Sensor != sensor || it.Quality != quality {
				t.Errorf("replayed: %+v, want %s of quality %q", it, sensor, quality)
			}
		}
		if n != 22 {
			t.Errorf("%d readings of %s are replayed, want 22", n, sensor)
		}
	}
	if got := next(t, c); len(got) != 2 || got[0].Sensor != "co2-estimate" || got[1].T != int64(minute(21)) {
		t.Errorf("replayed: %+v, want the CO2 of the two pHs that count", got)
	}
	next(t, c) // the alarms
	b.Feed.Publish([]aquarium.Sample{{Sensor: key("quillmere-library", "atrium", "ph"), At: minute(0), Value: 8.1}, {Sensor: key("quillmere-library", "atrium", "water"), At: minute(0), Value: 24}})
	got := next(t, c)
	if len(got) != 2 || got[0].NotCounted == nil || *got[0].NotCounted != (refusedAnswer{"air", minute(20), "not counted: probe in air since 11:40"}) || got[1].NotCounted != nil {
		t.Errorf("got %+v, want a pH that does not count and a temperature that does, and no CO2", got)
	}
}

// waitForStreams waits until so many have joined the feed.
func waitForStreams(b *bench, n int) {
	for {
		b.Feed.mu.Lock()
		joined := len(b.Feed.subs)
		b.Feed.mu.Unlock()
		if joined == n {
			return
		}
		time.Sleep(time.Millisecond)
	}
}

// TestLateReadingsAreNotAHole: what came out of a buffer while a browser slept
// is older than the time it asks from.
func TestLateReadingsAreNotAHole(t *testing.T) {
	b := newBench(t, nil)
	srv := httptest.NewServer(b)
	defer srv.Close()
	k, now, old := key("quillmere-library", "atrium", "ph"), aquarium.At(noon), aquarium.At(noon.Add(-5*time.Hour))
	b.append(now, 6.5)
	b.Feed.Publish([]aquarium.Sample{{Sensor: k, At: now, Value: 6.5}})
	b.append(old, 6.4)
	b.Feed.Publish([]aquarium.Sample{{Sensor: k, At: old, Value: 6.4}})
	c := dial(t, srv, "site=quillmere-library&tank=atrium&since="+strconv.FormatInt(int64(now)-60000, 10), nil)
	for _, it := range next(t, c) {
		if it.T == int64(old) {
			return
		}
	}
	t.Error("the late reading is missing")
}

func TestSlowSubscriberIsDropped(t *testing.T) {
	f := NewFeed()
	slow, _ := f.subscribe(0, func(item) bool { return true })
	quick, _ := f.subscribe(0, func(item) bool { return true })
	n := 0
	for range 5 {
		f.Publish(make([]aquarium.Sample, 5000))
		items, err := quick.take()
		if err != nil {
			t.Fatalf("the quick one: %v", err)
		}
		n += len(items)
	}
	if n != 25000 {
		t.Errorf("the quick one got %d of 25000", n)
	}
	if items, err := slow.take(); err != errSlow || items != nil {
		t.Errorf("the slow one: got %d items and %v, want to be dropped", len(items), err)
	}
	if len(f.subs) != 1 {
		t.Errorf("%d streams are kept, want 1", len(f.subs))
	}
}

// TestSlowBrowser never reads; publishing must not wait for it, and its stream
// must end.
func TestSlowBrowser(t *testing.T) {
	b := newBench(t, nil)
	srv := httptest.NewUnstartedServer(b)
	srv.Config.ConnState = func(c net.Conn, s http.ConnState) {
		if tcp, ok := c.(*net.TCPConn); ok && s == http.StateNew {
			tcp.SetWriteBuffer(4096)
		}
	}
	srv.Start()
	defer srv.Close()
	dial(t, srv, "", nil)
	waitForStreams(b, 1)
	k := key("quillmere-library", "atrium", "water")
	for range 200 {
		b.Feed.Publish(func() (vs []aquarium.Sample) {
			for i := range 2000 {
				vs = append(vs, aquarium.Sample{Sensor: k, At: aquarium.At(noon) + aquarium.Instant(i), Value: 24.512345})
			}
			return vs
		}())
	}
	waitForStreams(b, 0)
}

func TestStreamChecksOrigin(t *testing.T) {
	b := newBench(t, nil)
	srv := httptest.NewServer(b)
	defer srv.Close()
	_, resp, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(srv.URL, "http")+"/api/v1/live", http.Header{"Origin": {"http://evil.example.net"}})
	if err == nil || resp == nil || resp.StatusCode != 403 {
		t.Errorf("got %v, want 403", resp)
	}
	dial(t, srv, "", http.Header{"Origin": {srv.URL}})
}

// TestStreamOfAlarmsOnly: a page that lists tanks follows what happens, and not
// every reading of all of them.
func TestStreamOfAlarmsOnly(t *testing.T) {
	b := newBench(t, nil)
	srv := httptest.NewServer(b)
	defer srv.Close()
	since := strconv.FormatInt(int64(aquarium.At(noon.Add(-time.Hour))), 10)
	c := dial(t, srv, "only=alarms&since="+since, nil)
	if items := next(t, c); len(items) != 3 || items[0].Alarm == nil {
		t.Fatalf("got %+v, want the three alarms that something has happened to", items)
	}
	b.Feed.Publish([]aquarium.Sample{{Sensor: key("quillmere-library", "atrium", "ph"), At: aquarium.At(noon), Value: 6}})
	b.Feed.PublishAlarm(aquarium.Alarm{ID: "q2", Identity: aquarium.Identity{Site: "quillmere-library", Tank: "atrium", Cause: aquarium.PHLow}, State: aquarium.Unacknowledged})
	if items := next(t, c); len(items) != 1 || items[0].Alarm == nil || items[0].Alarm.ID != "q2" {
		t.Errorf("got %+v, want the alarm alone", items)
	}
	if got := b.ask(http.MethodGet, "/api/v1/live?only=news", "").Code; got != http.StatusBadRequest {
		t.Errorf("only=news: got status %d, want 400", got)
	}
}
