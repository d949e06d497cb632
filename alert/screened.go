package alert

import (
	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// Refused is the spell of readings of a sensor that do not count at the moment, as
// of the last tick; false: its newest reading counts, or its site is about to be
// judged anew.
func (d *Desk) Refused(k aquarium.SensorKey) (screen.Spell, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if b := d.bench(k.Site); b != nil && b.watch != nil {
		return b.watch.Refused(k)
	}
	return screen.Spell{}, false
}

// Spells are the stretches in which readings of a tank's sensors did not count, from
// a time on that lies about a day back. False: its site is about to be judged anew.
func (d *Desk) Spells(k aquarium.TankKey) (from aquarium.Instant, of map[aquarium.SensorID][]screen.Spell, ok bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if b := d.bench(k.Site); b != nil && b.watch != nil {
		return b.watch.Spells(k)
	}
	return 0, nil, false
}
