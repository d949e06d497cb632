package alert

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// reach is how far back late readings are judged for the record. What is older
// is stored and drawn.
const reach = 14 * 24 * time.Hour

// overlap is judged again at a restart: what was committed but not yet taken
// when the process ended lies in it.
const overlap = 2 * time.Minute

// rejudgement is one site judged again over (from, to] from what is stored, on
// the way to a new watch.
type rejudgement struct {
	b        *bench
	from, to aquarium.Instant

	started aquarium.Instant
	watch   watch
	found   *episodes
	read    map[reading]bool
	ahead   []aquarium.Sample // for the ticks to come
	brief   bool              // its weeks are learned afterwards
	behind  bool              // so are those from before it was known
	err     error
}

func rejudge(b *bench, from, to aquarium.Instant) *rejudgement {
	return &rejudgement{b: b, from: max(from, to.Add(-reach)).Floor(aquarium.Step), to: to}
}

// replayAll finds out what is to be found, as many sites at a time as there are
// processors: a start with a hundred tanks looks at more than a day of each, or at
// weeks where nothing was learned. When ctx ends it gives up.
func (d *Desk) replayAll(ctx context.Context, gs map[*bench]*rejudgement) error {
	var wg sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for b, g := range gs {
		free <- struct{}{}
		wg.Go(func() {
			defer func() { <-free }()
			if err := d.replay(ctx, g); err != nil {
				g.err = fmt.Errorf("judge site %q again: %w", b.site.ID, err)
			}
		})
	}
	wg.Wait()
	var errs []error
	for _, g := range gs {
		errs = append(errs, g.err)
	}
	if err := errors.Join(errs...); err != nil {
		return err
	}
	return ctx.Err()
}

// setUp says from where a bench gets its watch. A site that was judged before goes on from its
// mark, or from the oldest reading the mark passed over; a new one is warmed up
// and what stands there is seen at its next tick.
func (d *Desk) setUp(b *bench, upto aquarium.Instant) (*rejudgement, error) {
	if b.judged != 0 { // a new configuration, or a calibration
		from := b.judged
		if b.since != 0 {
			from = min(from, b.since-1)
		}
		if late := d.in.late[b.site.ID]; late != nil {
			delete(d.in.late, b.site.ID)
			from = min(from, late.oldest-1)
		}
		return rejudge(b, from, max(upto, b.judged)), nil
	}
	var m mark
	var u unjudged
	var known, passed bool
	err := d.o.Ledger.View(func(tx ledger.Tx) (err error) {
		if known, err = tx.Get(shelfMarks, string(b.site.ID), &m); err != nil {
			return err
		}
		passed, err = tx.Get(shelfUnjudged, string(b.site.ID), &u)
		return err
	})
	if err != nil {
		return nil, err
	}
	if !known || m.Judged > upto {
		return rejudge(b, upto, upto), nil
	}
	if now := d.now(); now.Sub(m.Judged) > absence {
		if err := d.missed(m.Judged, now); err != nil {
			return nil, err
		}
	}
	from := m.Judged.Add(-overlap)
	if passed {
		from = min(from, u.Oldest-1)
	}
	return rejudge(b, from, upto), nil
}

// missed notes in the journal that lentic was not listening.
func (d *Desk) missed(from, to aquarium.Instant) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, e := range d.journal { // once for all sites
		if e.Kind == aquarium.Deaf && e.At <= from && e.Until >= to.Add(-absence) {
			return nil
		}
	}
	d.o.Log.Warn("not listening", "from", from.String(), "to", to.String())
	return d.update(func(c *change) error {
		return c.enter(aquarium.Entry{Kind: aquarium.Deaf, At: from, Until: to, Note: "lentic was not running"})
	})
}

// replay judges the site again and finds what stands and what came and went. It
// changes nothing, so that several sites may be replayed at once. What is found is
// not all where ctx has ended.
func (d *Desk) replay(ctx context.Context, g *rejudgement) error {
	g.started = d.now()
	d.mu.Lock()
	site := g.b.site
	journal := d.entries()
	past, err := d.recordOf(site.ID)
	learned, err2 := d.learnedOf(site.ID)
	d.mu.Unlock()
	if err := errors.Join(err, err2); err != nil {
		return fmt.Errorf("read its alarms: %w", err)
	}
	g.watch = d.o.watch(site)
	for _, l := range learned {
		g.watch.Recall(l)
	}
	warm, runUp := detect.Memory, time.Duration(0)
	g.found = newEpisodes(past, g.from)
	switch {
	case len(learned) == 0: // what was never learned is learned from what is stored
		if g.brief, err = g.putsOff(d.o.History, past); !g.brief {
			warm, runUp = detect.RunUp, detect.RunUp
		}
	case !g.b.taught:
		g.behind, err = olderStored(d.o.History, site.ID, learned, g.to)
	}
	if err != nil {
		return err
	}
	g.read = map[reading]bool{}
	var broken error
	r := replay{watch: g.watch, site: site, journal: journal, standing: g.found.standing(), from: g.from, to: g.to, runUp: runUp,
		ended: func() bool { return ctx.Err() != nil }}
	r.samples = func(yield func(aquarium.Sample) bool) {
		end := max(g.to, g.started).Add(aquarium.Ahead) + 1
		broken = Samples(d.o.History, site, journal, g.from.Add(-warm), end, func(s aquarium.Sample) bool {
			if g.to.Sub(s.At) < absence {
				g.read[reading{s.Sensor, s.At}] = true
			}
			if s.At > g.to {
				g.ahead = append(g.ahead, s)
				return true
			}
			return yield(s)
		})
	}
	r.run(func(t aquarium.Transition) {
		if !g.brief || !waits(t) {
			g.found.see(t)
		}
	})
	return broken
}

// settle compares what was found with the ledger and goes on with the new
// watch.
func (d *Desk) settle(g *rejudgement) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	b := g.b
	note(g.watch, b.site.ID, d.entries()) // what was entered meanwhile
	err := d.update(func(c *change) error {
		g.found.settle(c, g.to)
		if err := c.mark(b, g.to); err != nil {
			return err
		}
		if !g.brief {
			if err := c.keepLearned(b, g.watch); err != nil {
				return err
			}
		}
		return c.judgedFrom(b.site.ID, g.from, g.started)
	})
	if err != nil {
		return err
	}
	b.watch, b.judged, b.anew, b.since, b.behind = g.watch, g.to, false, 0, g.behind
	if !g.brief {
		b.brief = 0
	} else if b.brief == 0 {
		b.brief = g.from
	}
	b.read, b.readUntil = g.read, max(g.to, g.started).Add(aquarium.Ahead)
	pending := b.pending
	b.pending = g.ahead
	for _, s := range pending {
		b.give(s)
	}
	return nil
}

// judgedFrom clears the note of unjudged readings where all of them were read.
func (c *change) judgedFrom(site aquarium.SiteID, from, started aquarium.Instant) error {
	var u unjudged
	ok, err := c.tx.Get(shelfUnjudged, string(site), &u)
	if err != nil || !ok || u.Oldest <= from && from > started.Add(-reach) || u.Noted >= started {
		return err
	}
	return c.tx.Delete(shelfUnjudged, string(site))
}

// recordOf is every alarm the ledger has of what is configured at a site. The caller holds d.mu.
func (d *Desk) recordOf(site aquarium.SiteID) ([]*file, error) {
	var fs []*file
	sites := []aquarium.Site{}
	if s := d.site(site); s != nil {
		sites = append(sites, *s)
	}
	take := func(f *file) {
		if f.Alarm.Site == site && configured(sites, f.Alarm.Identity) {
			fs = append(fs, f)
		}
	}
	for _, f := range d.files {
		take(f)
	}
	err := d.o.Ledger.View(func(tx ledger.Tx) error {
		return each(tx, shelfPast, "", func(_ string, f *file) { take(f) })
	})
	return fs, err
}
