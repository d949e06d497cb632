package daemon

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"lentic/collector/aquarium"
)

// What lentic watches of itself: space for its database, and whether it is
// alive enough to say so to somebody else.
const (
	diskLook  = 10 * time.Second
	diskShare = 0.10    // of the file system
	diskBytes = 1 << 30 // 1 GiB
	// A heartbeat that comes each minute lets the other end tell three
	// missed ones from a slow network. Common practice, no source.
	heartbeatEvery = time.Minute
)

// space is what a file system has, in bytes.
type space struct{ free, total uint64 }

func (s space) low() bool {
	return s.free < diskBytes || float64(s.free) < diskShare*float64(s.total)
}

// watchDisk raises disk-low while writing still works.
func watchDisk(ctx context.Context, look func() (space, error), own func(aquarium.Cause, bool, aquarium.Evidence), log *slog.Logger) {
	tick := time.NewTicker(diskLook)
	defer tick.Stop()
	for {
		if s, err := look(); err != nil {
			log.Error("cannot tell how much space is free", "err", err)
		} else {
			own(aquarium.DiskLow, s.low(), aquarium.Evidence{
				Value: float64(s.free) / (1 << 30), Unit: "GiB",
				Facts: []aquarium.Fact{{Name: "total", Value: float64(s.total) / (1 << 30), Unit: "GiB"}},
			})
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// heartbeat fetches url each minute while alive reports no trouble: whoever
// listens there learns from its absence what lentic itself cannot tell.
func heartbeat(ctx context.Context, url string, alive func() []string, log *slog.Logger) {
	if url == "" {
		return
	}
	client := &http.Client{Timeout: 20 * time.Second}
	tick := time.NewTicker(heartbeatEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if why := alive(); len(why) > 0 {
			log.Warn("no heartbeat", "err", why)
			continue
		}
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
		if err != nil {
			log.Error("heartbeat", "err", err)
			return
		}
		res, err := client.Do(req)
		if err != nil {
			log.Warn("heartbeat", "err", err)
			continue
		}
		res.Body.Close()
		if res.StatusCode >= 300 {
			log.Warn("heartbeat refused", "err", res.Status)
		}
	}
}
