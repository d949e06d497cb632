package daemon

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"lentic/collector/aquarium"
)

// fetched counts what a client would have fetched; it needs no network, so
// that a fake clock can run.
type fetched struct{ n atomic.Int32 }

func (f *fetched) RoundTrip(*http.Request) (*http.Response, error) {
	f.n.Add(1)
	w := httptest.NewRecorder()
	return w.Result(), nil
}

// TestHeartbeatOnlyWhileHealthy: one a minute while nothing is wrong, none
// while something is, and the URL is the one in force.
func TestHeartbeatOnlyWhileHealthy(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(context.Background())
		var sick, nobody atomic.Bool
		f := &fetched{}
		done := make(chan struct{})
		go func() {
			defer close(done)
			heartbeat(ctx, f, func() string {
				if nobody.Load() {
					return ""
				}
				return "https://beat.example.net/lentic"
			}, func() []string {
				if sick.Load() {
					return []string{"the disk is full"}
				}
				return nil
			}, slog.New(slog.DiscardHandler))
		}()
		want := func(n int32, when string) {
			t.Helper()
			time.Sleep(10*time.Minute + time.Second)
			synctest.Wait()
			if got := f.n.Swap(0); got != n {
				t.Errorf("%s: got %d heartbeats in ten minutes, want %d", when, got, n)
			}
		}
		want(10, "healthy")
		sick.Store(true)
		want(0, "sick")
		sick.Store(false)
		want(10, "healthy again")
		nobody.Store(true)
		want(0, "no URL in force")
		stop()
		<-done
	})
}

// unreachable is a network that answers nobody.
type unreachable struct{}

func (unreachable) RoundTrip(*http.Request) (*http.Response, error) {
	return nil, errors.New("no route to host")
}

// TestHeartbeatKeepsItsToken: the log says why, and not where to.
func TestHeartbeatKeepsItsToken(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		var said bytes.Buffer
		done := make(chan struct{})
		go func() {
			defer close(done)
			heartbeat(ctx, unreachable{}, func() string { return "https://beat.example.net/s3cr3t" },
				func() []string { return nil }, slog.New(slog.NewTextHandler(&said, nil)))
		}()
		time.Sleep(heartbeatEvery + time.Second)
		stop()
		<-done
		if s := said.String(); !strings.Contains(s, "no route to host") || strings.Contains(s, "s3cr3t") {
			t.Errorf("got %q, want the reason without the address", s)
		}
	})
}

// TestDiskIsLookedAt: the desk is told with each look, on or off.
func TestDiskIsLookedAt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(context.Background())
		var free atomic.Uint64
		var low atomic.Bool
		free.Store(50 << 30)
		done := make(chan struct{})
		go func() {
			defer close(done)
			watchDisk(ctx, func() (uint64, uint64, error) { return free.Load(), 100 << 30, nil },
				func(c aquarium.Cause, on bool, _ aquarium.Evidence) {
					if c == aquarium.DiskLow {
						low.Store(on)
					}
				}, slog.New(slog.DiscardHandler))
		}()
		for _, c := range []struct {
			free uint64
			want bool
		}{{50 << 30, false}, {10 << 30, false}, {10<<30 - 1, true}, {1 << 20, true}, {12 << 30, false}} {
			free.Store(c.free)
			time.Sleep(diskLook + time.Second)
			synctest.Wait()
			if got := low.Load(); got != c.want {
				t.Errorf("%d bytes free: disk-low %v, want %v", c.free, got, c.want)
			}
		}
		stop()
		<-done
	})
}

// TestStuck: waiting readings and no commit between two looks is a store that
// stands still; a commit or an empty queue is not.
func TestStuck(t *testing.T) {
	var s stuck
	at := time.Date(2031, 3, 2, 2, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name    string
		after   time.Duration
		waiting int
		commits uint64
		want    bool
	}{
		{"the first look", 0, 3, 7, false},
		{"soon after", 10 * time.Second, 3, 7, false},
		{"no commit", 25 * time.Second, 3, 7, true},
		{"one at last", time.Second, 3, 8, false},
		{"idle", time.Hour, 0, 8, false},
		{"busy again", 5 * time.Second, 3, 8, false},
		{"stuck again", stuckAfter, 3, 8, true},
	} {
		at = at.Add(c.after)
		if got := s.stands(c.waiting, c.commits, at); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}
