package alert

import (
	"sync"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// A reading is late when it arrives older than the greater of lateAfter and
// three of its sensor's intervals.
const lateAfter = 10 * time.Minute

// inbox is what has been taken in and not yet looked at.
type inbox struct {
	mu       sync.Mutex // guards what follows up to late; taken by whoever commits readings, so never held for long
	samples  []arrival
	imported bool // readings came past samples since it was last looked at

	late map[aquarium.SiteID]*arrears // by the judging goroutine only
}

type arrival struct {
	aquarium.Sample
	at aquarium.Instant
}

// arrears is a late batch on its way in.
type arrears struct {
	oldest      aquarium.Instant // of its readings
	first, last aquarium.Instant // when they arrived
}

// Take hands over samples whose readings are on disk. It never waits for the
// judging of anything.
func (d *Desk) Take(samples []aquarium.Sample) {
	now := d.now()
	d.in.mu.Lock()
	defer d.in.mu.Unlock()
	for _, s := range samples {
		d.in.samples = append(d.in.samples, arrival{s, now})
	}
}

// drain sorts what came in: to the benches what the next tick is to see, to
// the arrears what is judged for the record.
func (d *Desk) drain() {
	d.in.mu.Lock()
	arrived := d.in.samples
	d.in.samples = nil
	d.in.mu.Unlock()
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, a := range arrived {
		b := d.bench(a.Sensor.Site)
		if b == nil || b.anew && b.judged == 0 { // its first watch sees all that is stored
			continue
		}
		l := d.in.late[b.site.ID]
		// The younger part of a late batch waits for the rest of it: what
		// came and went in between is not to be told as if it stood.
		if !b.late(a) && (l == nil || a.At > b.judged) {
			b.give(a.Sample)
			continue
		}
		if l == nil {
			l = &arrears{oldest: a.At, first: a.at}
			d.in.late[b.site.ID] = l
		}
		l.oldest, l.last = min(l.oldest, a.At), a.at
	}
}

// late reports whether a sample came too late for the ticks.
func (b *bench) late(a arrival) bool {
	limit := lateAfter
	if b.watch != nil {
		limit = max(limit, 3*b.watch.Interval(a.Sensor))
	}
	return a.at.Sub(a.At) > limit
}

// unjudged is the oldest stored reading that a site's mark passes over.
type unjudged struct {
	Oldest aquarium.Instant `json:"oldest"`
	Noted  aquarium.Instant `json:"noted"` // when the last such reading was committed
}

// mark is how far a site has been judged.
type mark struct {
	Judged aquarium.Instant `json:"judged"`
}

// Note belongs into the transaction that stores readings: it remembers the
// oldest one at or before its site's mark, so that nothing acknowledged goes
// unjudged when the process ends before Take. It takes no lock of the desk.
func (d *Desk) Note(tx ledger.Tx, o aquarium.Outcome, arrived aquarium.Instant) error {
	oldest := map[aquarium.SiteID]aquarium.Instant{}
	for _, r := range o.Fresh {
		if at, ok := oldest[r.Sensor.Site]; !ok || r.At < at {
			oldest[r.Sensor.Site] = r.At
		}
	}
	for site, at := range oldest {
		var m mark
		if ok, err := tx.Get(shelfMarks, string(site), &m); err != nil {
			return err
		} else if !ok || at > m.Judged {
			continue
		}
		u := unjudged{Oldest: at}
		var had unjudged
		if ok, err := tx.Get(shelfUnjudged, string(site), &had); err != nil {
			return err
		} else if ok {
			u.Oldest = min(at, had.Oldest)
		}
		u.Noted = arrived
		if err := tx.Put(shelfUnjudged, string(site), u); err != nil {
			return err
		}
	}
	return nil
}
