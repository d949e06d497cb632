package web

import (
	"sync"
	"time"
)

// Limits on guessing. Common practice, no source.
const (
	loginBurst    = 10 // wrong passwords in a row for one name or address
	loginEvery    = 20 * time.Second
	missBurst     = 20 // unknown texted links from one address
	missEvery     = 5 * time.Second
	hashingAtOnce = 2 // 19 MiB and some 20 ms of a core each
	maxThrottled  = 10000
)

// throttle counts tries by key in leaky buckets: burst of them at once, then
// one every so often.
type throttle struct {
	burst int
	every time.Duration

	mu   sync.Mutex // guards full
	full map[string]time.Time
}

func newThrottle(burst int, every time.Duration) *throttle {
	return &throttle{burst: burst, every: every, full: map[string]time.Time{}}
}

// wait is how long the key must wait before it may try again; 0: it may now.
func (t *throttle) wait(now time.Time, key string) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	at, known := t.full[key]
	if !known {
		return 0
	}
	return max(0, at.Sub(now)-time.Duration(t.burst-1)*t.every)
}

// count notes a try that failed.
func (t *throttle) count(now time.Time, key string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.full) >= maxThrottled {
		t.forget(now)
	}
	at := t.full[key]
	if at.Before(now) {
		at = now
	}
	t.full[key] = at.Add(t.every)
}

// forget drops the buckets that have run empty, and all of them when that is
// not enough: memory is bounded before guessing is.
func (t *throttle) forget(now time.Time) {
	for k, at := range t.full {
		if !at.After(now) {
			delete(t.full, k)
		}
	}
	if len(t.full) >= maxThrottled {
		clear(t.full)
	}
}
