package alert

import (
	"context"
	"fmt"
	"slices"
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
)

// What a tank is like is learned from weeks of what is stored, where nothing was
// learned of it yet, as after an import: for fifty tanks that takes minutes, and
// nobody is to be blind for so long. So such a site is judged at once by a watch that
// knows its last day, which tells of what needs no weeks to know, and its weeks are
// learned beside that, one site after the other. Then it goes on with a watch that
// knows them, which judges again what was left out. Where something stands already, a
// watch that knows less might end it: then the weeks come first.
//
// Where something was learned, but of fewer weeks than are stored, as after an import
// into a store that was new, the site goes on as it is until the rest is learned.

// atOnce are the causes that rest on the configuration and the present alone.
var atOnce = map[aquarium.Cause]bool{
	aquarium.PowerLost: true, aquarium.TankPowerLost: true, aquarium.FloorWet: true, aquarium.RoomCO2High: true,
	aquarium.SiteSilent: true, aquarium.SensorSilent: true, aquarium.GatewayClockWrong: true,
	aquarium.CO2ValveStuck: true, aquarium.CO2Overshoot: true,
	aquarium.PHFalling: true, aquarium.PHLow: true, aquarium.PHHigh: true,
	aquarium.TemperatureHigh: true, aquarium.TemperatureLow: true, aquarium.DrainOverflow: true,
}

// waits reports whether what a watch found is not told before it knows its weeks.
func waits(t aquarium.Transition) bool { return !atOnce[t.Identity.Cause] }

// study is the learning of one site's weeks.
type study struct {
	b       *bench
	site    aquarium.Site
	journal []aquarium.Entry
	to      aquarium.Instant
	done    chan struct{} // closed when the rest is there
	learned []*detect.Learned
	err     error
}

// study begins with the next site whose weeks are to be learned, and hands over what
// it has learned of the last. It is part of a round.
func (d *Desk) study(ctx context.Context) error {
	if s := d.studied; s != nil {
		select {
		case <-s.done:
		default:
			return nil
		}
		d.studied = nil
		if err := d.teach(s); err != nil {
			return fmt.Errorf("learn the stored weeks of site %q: %w", s.b.site.ID, err)
		}
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.revise(); err != nil {
		return err
	}
	for _, b := range d.benches {
		if (b.brief != 0 || b.behind) && !b.anew {
			d.studied = &study{b: b, site: b.site, journal: d.entries(), to: b.judged, done: make(chan struct{})}
			go d.studied.learn(ctx, d) // endStudy waits for it
			return nil
		}
	}
	return nil
}

// endStudy waits for what is under way, once its ctx has ended.
func (d *Desk) endStudy() {
	if d.studied != nil {
		<-d.studied.done
	}
}

// learn learns as a start does.
func (s *study) learn(ctx context.Context, d *Desk) {
	defer close(s.done)
	w := d.o.watch(s.site)
	r := replay{watch: w, site: s.site, journal: s.journal, from: s.to, to: s.to, runUp: detect.RunUp,
		ended: func() bool { return ctx.Err() != nil }}
	r.samples = func(yield func(aquarium.Sample) bool) {
		s.err = Samples(d.o.History, s.site, s.journal, s.to.Add(-detect.RunUp), s.to+1, yield)
	}
	r.run(func(aquarium.Transition) {})
	if s.err == nil {
		s.err = ctx.Err()
	}
	s.learned = w.Learned()
}

// teach keeps what was learned, of each tank that was known for less, and has the site
// judged by a watch that knows it. What was learned of a site that means something else
// by now is learned once more.
func (d *Desk) teach(s *study) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	b := s.b
	if s.err != nil || !slices.Contains(d.benches, b) {
		return s.err
	}
	known, err := d.learnedOf(b.site.ID)
	if err != nil {
		return err
	}
	return d.update(func(c *change) error {
		for _, l := range s.learned {
			if slices.ContainsFunc(known, func(k *detect.Learned) bool { return k.Tank == l.Tank && k.Since <= l.Since }) {
				continue
			}
			if err := c.tx.Put(shelfLearned, learnedKey(b.site.ID, l.Tank), l); err != nil {
				return err
			}
		}
		c.kept = append(c.kept, func() {
			b.since = 0
			if b.brief != 0 {
				b.since = b.brief + 1
			}
			b.brief, b.behind, b.taught, b.anew = 0, false, true, true
		})
		return nil
	})
}

// Imported says that readings were stored which Take was not given: what they tell of
// the weeks before anything was learned is learned now.
func (d *Desk) Imported() {
	d.in.mu.Lock()
	defer d.in.mu.Unlock()
	d.in.imported = true
}

// revise looks, after an import, for sites that are known for less than is stored. The
// caller holds d.mu.
func (d *Desk) revise() error {
	d.in.mu.Lock()
	imported := d.in.imported
	d.in.imported = false
	d.in.mu.Unlock()
	if !imported {
		return nil
	}
	for _, b := range d.benches {
		if b.anew {
			continue // it looks for itself
		}
		learned, err := d.learnedOf(b.site.ID)
		if err == nil {
			b.behind, err = olderStored(d.o.History, b.site.ID, learned, b.judged)
		}
		if err != nil {
			return fmt.Errorf("look for older readings of site %q: %w", b.site.ID, err)
		}
	}
	return nil
}

// Learning reports whether a site's stored weeks are still being learned: until then
// nothing is told of it but what needs none to know.
func (d *Desk) Learning(site aquarium.SiteID) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	b := d.bench(site)
	return b != nil && b.brief != 0
}

// putsOff reports whether a site of which nothing was learned is to be judged before
// its weeks are.
func (g *rejudgement) putsOff(h History, past []*file) (bool, error) {
	if g.b.brief != 0 {
		return true, nil
	}
	if g.b.taught || slices.ContainsFunc(past, func(f *file) bool { return f.Alarm.Active }) {
		return false, nil
	}
	return olderStored(h, g.b.site.ID, nil, g.from)
}

// olderStored reports whether readings of a site are stored from which its tanks can
// be known for longer at a time than they are.
func olderStored(h History, site aquarium.SiteID, learned []*detect.Learned, at aquarium.Instant) (older bool, err error) {
	for _, k := range h.Sensors() {
		if k.Site != site || older {
			continue
		}
		to := at.Add(-detect.Memory)
		for _, l := range learned {
			if l.Tank == k.Tank {
				to = min(to, l.Since.Add(-24*time.Hour)) // of the first day not all need be known
			}
		}
		if from := at.Add(-detect.RunUp); from < to {
			err = h.Window(k, from, to, func(aquarium.Reading) bool {
				older = true
				return false
			})
		}
		if err != nil {
			return false, err
		}
	}
	return older, nil
}
