package daemon

import (
	"log/slog"
	"sync"
	"time"

	"lentic/collector/aquarium"
)

// Why nothing may be heard.
const (
	noBroker = "no broker"
	noRoom   = "the disk is full"
)

// hearing is whether readings can reach lentic at all: silence proves nothing
// while they cannot, and the journal says so.
type hearing struct {
	mu      sync.Mutex // guards all below
	why     map[string]bool
	journal func(deaf bool, why string)
}

// diary is the desk as hearing needs it.
type diary interface {
	Deaf(on bool, at aquarium.Instant, why string) error
}

// begin begins the account. A deafness left over from a process that died goes
// on until a broker that is not ours is heard, and ends here where there is
// none.
func (h *hearing) begin(d diary, subscribed bool, now func() time.Time, log *slog.Logger) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.why = map[string]bool{}
	if subscribed {
		h.why[noBroker] = true
	}
	h.journal = func(deaf bool, why string) {
		if err := d.Deaf(deaf, aquarium.At(now()), why); err != nil {
			log.Error("journal", "err", err)
		}
	}
	h.journal(subscribed, noBroker)
}

// set notes one reason for hearing nothing, or its end.
func (h *hearing) set(why string, on bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if on {
		h.why[why] = true
	} else {
		delete(h.why, why)
	}
	h.journal(len(h.why) > 0, why)
}

// full reports whether it is for want of room on the disk.
func (h *hearing) full() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.why[noRoom]
}

// diskFull leaves the readings with their senders while the disk is full, and
// takes them in again by itself once there is room.
func (d *Daemon) diskFull(is bool) {
	if is {
		d.o.Log.Error("the disk is full: connections are closed and readings stay with their senders; make room and they come by themselves")
		d.hearing.set(noRoom, true)
	}
	if d.broker != nil {
		d.broker.Pause(is)
	}
	if d.link != nil {
		d.link.sub.Pause(is)
	}
	if !is {
		d.o.Log.Info("there is room on the disk again: readings are taken in")
		d.hearing.set(noRoom, false)
	}
}
