package alert

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
)

const (
	// markEvery bounds how much is judged again after a crash on quiet days.
	markEvery = time.Minute
	// absence is how far the clock may run away from the last tick before
	// lentic counts as not having listened: it was not running, the machine
	// slept, or the clock was put forward.
	absence = 2 * time.Minute
	// setBack is how far the clock may go back before ticks follow it.
	setBack = 30 * time.Second
	// A late batch is judged when nothing more of it has come for a while,
	// and in any case some time after its first reading.
	batchQuiet, batchLimit = 10 * time.Second, 2 * time.Minute
)

// bench is where one site is judged.
type bench struct {
	site    aquarium.Site
	watch   watch
	anew    bool             // the watch is to be set up from what is stored
	since   aquarium.Instant // anew from here on, where readings mean something else since; 0: from judged
	judged  aquarium.Instant // the last tick
	marked  aquarium.Instant // as of the ledger
	learned aquarium.Instant // the last day that the ledger has
	pending []aquarium.Sample
	// brief is since when it is judged by what needs no weeks to know, for its own are
	// still to be learned; 0: it knows what it can.
	brief  aquarium.Instant
	behind bool             // weeks are stored that are older than what was learned, and still to be
	taught bool             // they have been learned since it was set up
	read   map[reading]bool // taken from the store already, until readUntil is judged

	readUntil aquarium.Instant
}

// reading is the identity of a sample.
type reading struct {
	sensor aquarium.SensorKey
	at     aquarium.Instant
}

// give queues a sample for its tick. One that was read from the store when the
// watch was set up is not given twice, and one about to be read not at all.
func (b *bench) give(s aquarium.Sample) {
	if !b.anew && !b.read[reading{s.Sensor, s.At}] {
		b.pending = append(b.pending, s)
	}
}

// tick judges one step.
func (b *bench) tick(at aquarium.Instant) []aquarium.Transition {
	var now, later []aquarium.Sample
	for _, s := range b.pending {
		if s.At <= at {
			now = append(now, s)
		} else {
			later = append(later, s)
		}
	}
	inOrder(now)
	for _, s := range now {
		b.watch.Observe(s)
	}
	b.pending, b.judged = later, at
	if at > b.readUntil {
		b.read = nil
	}
	return b.watch.Tick(at)
}

// again says whether and over what a bench is to be judged again from what is
// stored; nil: it goes on tick by tick.
func (d *Desk) again(b *bench, now aquarium.Instant) (*rejudgement, error) {
	upto := now.Add(-grace).Floor(aquarium.Step)
	late := d.in.late[b.site.ID]
	switch {
	case b.anew:
		return d.setUp(b, upto)
	case upto.Sub(b.judged) > absence:
		if err := d.missed(b.judged, now); err != nil {
			return nil, err
		}
		return rejudge(b, b.judged, upto), nil
	case b.judged.Sub(upto) > setBack:
		d.o.Log.Warn("the clock went back: judging again from there", "site", b.site.ID, "by", b.judged.Sub(upto).String())
		return rejudge(b, upto, upto), nil
	case late != nil && (now.Sub(late.last) >= batchQuiet || now.Sub(late.first) >= batchLimit):
		delete(d.in.late, b.site.ID)
		return rejudge(b, late.oldest-1, max(upto, b.judged)), nil
	}
	return nil, nil
}

// judge brings one bench up to now, tick by tick.
func (d *Desk) judge(b *bench, now aquarium.Instant) error {
	upto := now.Add(-grace).Floor(aquarium.Step)
	for t := b.judged.Add(aquarium.Step); t <= upto; t = t.Add(aquarium.Step) {
		if err := d.tick(b, t); err != nil {
			return err
		}
	}
	return nil
}

// tick judges one step and writes what it found together with the mark.
func (d *Desk) tick(b *bench, t aquarium.Instant) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	found := b.tick(t)
	if b.brief != 0 {
		found = slices.DeleteFunc(found, waits)
	}
	d.stats.Ticks++
	d.stats.Lag = d.now().Sub(t)
	if len(found) == 0 && t.Sub(b.marked) < markEvery {
		return nil
	}
	return d.update(func(c *change) error {
		for _, f := range found {
			c.apply(f, f.At)
		}
		if err := c.keepLearned(b, b.watch); err != nil {
			return err
		}
		return c.mark(b, t)
	})
}

// mark writes how far the site is judged. A note of unjudged readings is
// cleared once it is old enough that they have all been seen by a tick.
func (c *change) mark(b *bench, t aquarium.Instant) error {
	id := string(b.site.ID)
	if err := c.tx.Put(shelfMarks, id, mark{Judged: t}); err != nil {
		return err
	}
	c.kept = append(c.kept, func() { b.marked = t })
	var u unjudged
	ok, err := c.tx.Get(shelfUnjudged, id, &u)
	if err != nil || !ok || c.now.Sub(u.Noted) < absence || c.d.in.late[b.site.ID] != nil {
		return err
	}
	return c.tx.Delete(shelfUnjudged, id)
}
