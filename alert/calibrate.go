package alert

import (
	"fmt"

	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/water"
)

// Calibrate keeps what an electrode gave in buffers, which counts from at on
// (zero: now). Where readings in mV mean something else by it, what was judged
// of them since is judged again for the record. aquarium.ErrUnknownSensor, and
// aquarium.ErrNotPossible for a sensor of no pH and for readings that make no
// curve.
func (d *Desk) Calibrate(k aquarium.TankKey, c aquarium.Calibration, at aquarium.Instant, by aquarium.PersonID, note string) (aquarium.Entry, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	key := aquarium.SensorKey{Site: k.Site, Tank: k.Tank, Sensor: c.Sensor}
	if err := d.electrode(key); err != nil {
		return aquarium.Entry{}, err
	}
	former, err := water.Ideal(water.Celsius(c.Temperature))
	if err == nil {
		_, err = measure.Curve(former, c)
	}
	if err != nil {
		return aquarium.Entry{}, fmt.Errorf("%w: %w", aquarium.ErrNotPossible, err)
	}
	e := aquarium.Entry{Kind: aquarium.Calibrated, Site: k.Site, Tank: k.Tank, At: at, By: by, Note: note, Calibration: &c}
	if err := d.when(&e); err != nil {
		return aquarium.Entry{}, err
	}
	return e, d.update(func(ch *change) error {
		if err := ch.enter(e); err != nil {
			return err
		}
		ch.kept = append(ch.kept, d.readElectrodes)
		if c.Unit != "mV" {
			return nil
		}
		return ch.meansAnew(k.Site, e.At)
	})
}

// electrode checks that a configured sensor is one of pH. The caller holds
// d.mu.
func (d *Desk) electrode(k aquarium.SensorKey) error {
	if err := d.place(k.TankKey()); err != nil {
		return err
	}
	t := d.site(k.Site).Tank(k.Tank)
	if t == nil {
		return fmt.Errorf("%w %q at site %q", aquarium.ErrUnknownTank, k.Tank, k.Site)
	}
	switch s := t.Sensor(k.Sensor); {
	case s == nil:
		return fmt.Errorf("%w %q at tank %q", aquarium.ErrUnknownSensor, k.Sensor, k.TankKey())
	case s.Quantity != aquarium.PH:
		return fmt.Errorf("%w: %q measures %s: want a sensor of pH", aquarium.ErrNotPossible, k.Sensor, s.Quantity)
	}
	return nil
}

// Electrode is what the calibrations of a sensor say of it. It takes no lock
// of the desk, so that readings are never kept waiting for it.
func (d *Desk) Electrode(k aquarium.SensorKey) measure.Electrode {
	return (*d.electrodes.Load())[k]
}

// readElectrodes reads them out of the journal. The caller holds d.mu.
func (d *Desk) readElectrodes() {
	entries := d.entries()
	all := map[aquarium.SensorKey]measure.Electrode{}
	for _, e := range entries {
		if e.Calibration == nil {
			continue
		}
		k := aquarium.SensorKey{Site: e.Site, Tank: e.Tank, Sensor: e.Calibration.Sensor}
		if _, done := all[k]; !done {
			all[k] = measure.ElectrodeOf(k, entries)
		}
	}
	d.electrodes.Store(&all)
}

// meansAnew has the site judged again from at on, for readings mean something
// else since: at once, or at the next start if the process ends before that.
func (c *change) meansAnew(site aquarium.SiteID, at aquarium.Instant) error {
	u := unjudged{Oldest: at}
	var had unjudged
	if ok, err := c.tx.Get(shelfUnjudged, string(site), &had); err != nil {
		return err
	} else if ok {
		u.Oldest = min(at, had.Oldest)
	}
	u.Noted = c.now
	c.kept = append(c.kept, func() {
		for i, b := range c.d.benches {
			if b.site.ID == site {
				c.d.benches[i] = &bench{site: b.site, anew: true, judged: b.judged, marked: b.marked, brief: b.brief, since: u.Oldest}
			}
		}
	})
	return c.tx.Put(shelfUnjudged, string(site), u)
}
