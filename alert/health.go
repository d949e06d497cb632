package alert

import (
	"fmt"
	"slices"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// tardy is how far judging may lag before the desk counts as standing still.
const tardy = time.Minute

// Health lists why judging or telling stands still; empty while both move.
func (d *Desk) Health() []string {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.now()
	var why []string
	if d.beat == 0 || now.Sub(d.beat) > tardy {
		why = append(why, "alarms are not being judged")
	}
	for _, m := range d.box {
		if m.State == Sending && now.Sub(m.lastAttempt().At) > tardy+d.o.Timeout {
			return append(why, "messages are not being sent")
		}
	}
	return why
}

// Alive reports whether judging and telling both move.
func (d *Desk) Alive() bool { return len(d.Health()) == 0 }

// Judged is the last tick a site was judged at; false for a site that is not
// configured or not judged yet.
func (d *Desk) Judged(site aquarium.SiteID) (aquarium.Instant, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	b := d.bench(site)
	if b == nil || b.judged == 0 {
		return 0, false
	}
	return b.judged, true
}

// Interval is a sensor's reporting interval, configured or learned; 0 while it
// is not known.
func (d *Desk) Interval(k aquarium.SensorKey) time.Duration {
	d.mu.Lock()
	defer d.mu.Unlock()
	if b := d.bench(k.Site); b != nil && b.watch != nil {
		return b.watch.Interval(k)
	}
	return 0
}

// Outbox lists messages, the newest first: those that have not left and the
// last that have, at most limit of each; 0 means all.
func (d *Desk) Outbox(limit int) ([]OutMessage, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	var ms, sent []OutMessage
	for _, m := range d.box {
		ms = append(ms, *m.clone())
	}
	err := d.o.Ledger.View(func(tx ledger.Tx) error {
		return each(tx, shelfSent, "", func(_ string, m *OutMessage) { sent = append(sent, *m) })
	})
	if err != nil {
		return nil, fmt.Errorf("read the outbox: %w", err)
	}
	newest := func(a, b OutMessage) int {
		switch {
		case a.ID > b.ID:
			return -1
		case a.ID < b.ID:
			return 1
		}
		return 0
	}
	slices.SortFunc(ms, newest)
	slices.SortFunc(sent, newest)
	if limit > 0 {
		ms, sent = ms[:min(limit, len(ms))], sent[:min(limit, len(sent))]
	}
	return append(ms, sent...), nil
}
