package daemon

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/url"
	"sync"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
)

// What lentic watches of itself: space for its database, and whether it is
// alive enough to say so to somebody else.
const (
	diskLook = 10 * time.Second
	// A heartbeat that comes each minute lets the other end tell three
	// missed ones from a slow network. Common practice, no source.
	heartbeatEvery = time.Minute
)

// watchDisk raises disk-low while writing still works, and says with each look
// how much is free: when it is over is the desk's to tell. look is as
// store.FreeSpace.
func watchDisk(ctx context.Context, look func() (free, total uint64, err error), own func(aquarium.Cause, bool, aquarium.Evidence), log *slog.Logger) {
	tick := time.NewTicker(diskLook)
	defer tick.Stop()
	for {
		if free, total, err := look(); err != nil {
			log.Error("cannot tell how much space is free", "err", err)
		} else {
			own(aquarium.DiskLow, store.SpaceLow(free, total), aquarium.Evidence{
				Value: float64(free) / (1 << 30), Unit: "GiB",
				Facts: []aquarium.Fact{{Name: "total", Value: float64(total) / (1 << 30), Unit: "GiB"}},
			})
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// stuckAfter is how long readings may wait for a commit before the store counts
// as standing still: a hundred times what a slow disk takes. Common practice,
// no source.
const stuckAfter = 30 * time.Second

// stuck tells a store that moves from one that does not.
type stuck struct {
	mu      sync.Mutex // guards all below
	commits uint64
	since   time.Time // since when that many were committed with something waiting
}

// stands reports whether something has been waiting with no commit for too
// long. Whoever never asks is never told: the first look only begins to count.
func (s *stuck) stands(waiting int, commits uint64, now time.Time) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if waiting == 0 || commits != s.commits || s.since.IsZero() {
		s.commits, s.since = commits, now
	}
	return now.Sub(s.since) > stuckAfter
}

// reason is why a request failed, without the address, which may hold a token.
func reason(err error) error {
	if u := (*url.Error)(nil); errors.As(err, &u) {
		return u.Err
	}
	return err
}

// heartbeat fetches the URL in force each minute while alive reports no
// trouble: whoever listens there learns from its absence what lentic itself
// cannot tell. An empty URL is nobody; a nil via is the network.
func heartbeat(ctx context.Context, via http.RoundTripper, address func() string, alive func() []string, log *slog.Logger) {
	client := &http.Client{Timeout: 20 * time.Second, Transport: via}
	tick := time.NewTicker(heartbeatEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		to := address()
		if to == "" {
			continue
		}
		if why := alive(); len(why) > 0 {
			log.Warn("no heartbeat", "err", why)
			continue
		}
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, to, nil)
		if err != nil {
			log.Error("heartbeat", "err", reason(err))
			continue
		}
		res, err := client.Do(req)
		if err != nil {
			log.Warn("heartbeat", "err", reason(err))
			continue
		}
		res.Body.Close()
		if res.StatusCode >= 300 {
			log.Warn("heartbeat refused", "err", res.Status)
		}
	}
}
