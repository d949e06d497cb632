package alert

import (
	"fmt"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// keepLearned writes what a bench's watch, its own or the one to come, has learned
// since it was last written: a day, once a day, and weeks after a start that had to
// learn from what is stored, which the next one must not have to do again.
func (c *change) keepLearned(b *bench, w watch) error {
	if b.brief != 0 { // else its weeks would never be learned
		return nil
	}
	var through aquarium.Instant
	for _, l := range w.Learned() {
		through = max(through, l.Through)
		if l.Through <= b.learned {
			continue
		}
		if err := c.tx.Put(shelfLearned, learnedKey(b.site.ID, l.Tank), l); err != nil {
			return fmt.Errorf("keep what was learned of tank %s/%s: %w", b.site.ID, l.Tank, err)
		}
	}
	c.kept = append(c.kept, func() { b.learned = max(b.learned, through) })
	return nil
}

// learnedOf is what is known of a site's tanks. The caller holds d.mu.
func (d *Desk) learnedOf(site aquarium.SiteID) (ls []*detect.Learned, err error) {
	s := d.site(site)
	if s == nil {
		return nil, nil
	}
	err = d.o.Ledger.View(func(tx ledger.Tx) error {
		for _, t := range s.Tanks {
			l := new(detect.Learned)
			ok, err := tx.Get(shelfLearned, learnedKey(site, t.ID), l)
			if err != nil {
				// What was learned can be learned again; the daemon starts.
				d.o.Log.Warn("what was learned cannot be read: learning anew", "site", string(site), "tank", string(t.ID), "err", err.Error())
				continue
			}
			if ok {
				ls = append(ls, l)
			}
		}
		return nil
	})
	return ls, err
}

func learnedKey(site aquarium.SiteID, tank aquarium.TankID) string {
	return string(site) + "/" + string(tank)
}
