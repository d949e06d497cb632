package alert

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/store/ledger"
)

// grace is how long after a tick's own time it is judged, so that readings
// taken on the whole second have arrived.
const grace = time.Second

// Desk judges sites, keeps alarms and gets people told. Its methods may be
// called by several goroutines at once, but not from inside a transaction of
// its ledger, except Note.
type Desk struct {
	in      inbox  // has its own lock, which is never held together with mu
	studied *study // under way; of the goroutine that judges
	// electrodes are of the journal's calibrations; replaced under mu.
	electrodes atomic.Pointer[map[aquarium.SensorKey]measure.Electrode]

	mu      sync.Mutex // guards all below; held over transactions of the ledger
	o       Options
	benches []*bench                     // in the order of the configuration
	files   map[aquarium.AlarmID]*file   // what stands
	box     map[string]*OutMessage       // what has not left
	journal map[string]aquarium.Entry    // by id
	visits  map[string]bool              // open visits by entry id
	digests map[string]aquarium.Instant  // last digest by digestKey
	calming map[aquarium.AlarmID]calming // lentic's own that stand
	busy    map[aquarium.PersonID]bool   // a message is on its way to them
	slots   map[aquarium.ChannelID]int   // messages on their way by a channel
	beat    aquarium.Instant             // when the desk last finished a round
	pruned  aquarium.Instant             // when old records last went
	wake    chan struct{}                // for the courier
	stats   Stats
}

// New reads what stands from the ledger. Nothing moves before Run.
func New(o Options) (*Desk, error) {
	if o.History == nil || o.Ledger == nil {
		return nil, errors.New("alert: a history and a ledger are required")
	}
	o.defaults()
	d := &Desk{
		o:       o,
		files:   map[aquarium.AlarmID]*file{},
		box:     map[string]*OutMessage{},
		journal: map[string]aquarium.Entry{},
		visits:  map[string]bool{},
		digests: map[string]aquarium.Instant{},
		calming: map[aquarium.AlarmID]calming{},
		busy:    map[aquarium.PersonID]bool{},
		slots:   map[aquarium.ChannelID]int{},
		wake:    make(chan struct{}, 1),
		stats:   Stats{Delivered: map[aquarium.ChannelID]int{}, Failed: map[aquarium.ChannelID]int{}},
	}
	d.in.late = map[aquarium.SiteID]*arrears{}
	if err := d.load(); err != nil {
		return nil, fmt.Errorf("read alarms: %w", err)
	}
	d.readElectrodes()
	for _, s := range o.Sites {
		d.benches = append(d.benches, &bench{site: s, anew: true})
	}
	if o.Metrics != nil {
		if err := o.Metrics.Register(metrics{d}); err != nil {
			return nil, fmt.Errorf("alert: %w", err)
		}
	}
	return d, nil
}

// load reads the desk's documents.
func (d *Desk) load() error {
	return d.o.Ledger.View(func(tx ledger.Tx) error {
		return errors.Join(
			each(tx, shelfStanding, "", func(_ string, f *file) { d.files[f.Alarm.ID] = f }),
			each(tx, shelfOutbox, "", func(_ string, m *OutMessage) { d.box[m.ID] = m }),
			each(tx, shelfJournal, "", func(_ string, e *aquarium.Entry) { d.journal[e.ID] = *e }),
			each(tx, shelfVisits, "", func(k string, _ *bool) { d.visits[k] = true }),
			each(tx, shelfDigests, "", func(k string, t *aquarium.Instant) { d.digests[k] = *t }),
		)
	})
}

// Run judges and delivers until ctx ends, and returns when all it started has
// ended. An error means that the ledger could not be written: nothing was
// judged or told after it, and the process must end.
func (d *Desk) Run(ctx context.Context) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	if err := d.begin(); err != nil {
		return err
	}
	sent := make(chan error, 1)
	go func() {
		err := d.deliver(ctx)
		stop() // without its outbox the desk must not go on
		sent <- err
	}()
	err := d.judgeAll(ctx)
	stop()
	d.endStudy()
	return errors.Join(err, <-sent, d.leave())
}

// begin takes up where the last run left: what was on its way then may or may
// not have arrived.
func (d *Desk) begin() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	var lost []string
	for id, m := range d.box {
		if m.State == Sending {
			lost = append(lost, id)
		}
	}
	if len(lost) == 0 {
		return nil
	}
	return d.update(func(c *change) error {
		for _, id := range lost {
			m := c.message(id)
			m.State = Waiting
			m.lastAttempt().Err = "on its way when lentic stopped; it may have arrived, and is sent again"
		}
		return nil
	})
}

// judgeAll goes round the sites with every step of event time.
func (d *Desk) judgeAll(ctx context.Context) error {
	for {
		switch err := d.round(ctx); {
		case err == nil:
		case ctx.Err() != nil && errors.Is(err, ctx.Err()):
			return nil // judged again at the next start
		default:
			return err
		}
		now := aquarium.At(d.o.Now())
		next := now.Add(-grace).Floor(aquarium.Step).Add(aquarium.Step + grace)
		select {
		case <-ctx.Done():
			return nil
		case <-d.o.After(next.Sub(now)):
		}
	}
}

// round judges every site up to now, then does what only time brings about. Where
// ctx ends while sites are judged again, it says so, and nothing has changed.
func (d *Desk) round(ctx context.Context) error {
	d.mu.Lock()
	benches := slices.Clone(d.benches)
	d.mu.Unlock()
	now := d.now() // before the inbox is emptied: no tick runs ahead of its samples
	d.drain()
	again := map[*bench]*rejudgement{}
	for _, b := range benches {
		g, err := d.again(b, now)
		if err != nil {
			return fmt.Errorf("judge site %q: %w", b.site.ID, err)
		}
		if g != nil {
			again[b] = g
		}
	}
	if err := d.replayAll(ctx, again); err != nil {
		return err
	}
	for _, b := range benches {
		var err error
		if g := again[b]; g != nil {
			err = d.settle(g)
		} else {
			err = d.judge(b, now)
		}
		if err != nil {
			return fmt.Errorf("judge site %q: %w", b.site.ID, err)
		}
	}
	if err := d.pass(); err != nil {
		return err
	}
	return d.study(ctx)
}

// pass does what only time brings about, and says that the desk moves.
func (d *Desk) pass() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.passTime(); err != nil {
		return err
	}
	d.beat = d.now()
	return nil
}

// leave writes the marks once more, so that the next start knows how long
// nobody was listening.
func (d *Desk) leave() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.update(func(c *change) error {
		for _, b := range d.benches {
			if b.judged != 0 {
				if err := c.mark(b, b.judged); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

func (d *Desk) now() aquarium.Instant { return aquarium.At(d.o.Now()) }

// site is the configured site of that id, or nil. The caller holds d.mu.
func (d *Desk) site(id aquarium.SiteID) *aquarium.Site {
	for _, b := range d.benches {
		if b.site.ID == id {
			return &b.site
		}
	}
	return nil
}

// bench is the bench of that site, or nil. The caller holds d.mu.
func (d *Desk) bench(id aquarium.SiteID) *bench {
	for _, b := range d.benches {
		if b.site.ID == id {
			return b
		}
	}
	return nil
}
