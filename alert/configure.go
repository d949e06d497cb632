package alert

import (
	"reflect"
	"slices"

	"lentic/collector/aquarium"
)

// Configure puts another configuration in force and enters that in the
// journal. Alarms of tanks and parts that are gone return with a note; sites
// that changed are judged with their new watch from the next tick on.
func (d *Desk) Configure(s Setup) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	var benches []*bench
	for _, site := range s.Sites {
		b := d.bench(site.ID)
		switch {
		case b == nil:
			b = &bench{site: site, anew: true}
		case !reflect.DeepEqual(b.site, site):
			b = &bench{site: site, anew: true, judged: b.judged, marked: b.marked, brief: b.brief}
		}
		benches = append(benches, b)
	}
	var gone []aquarium.AlarmID
	for id, f := range d.files {
		if !f.Alarm.Cause.Own() && !configured(s.Sites, f.Alarm.Identity) {
			gone = append(gone, id)
		}
	}
	slices.Sort(gone)
	return d.update(func(c *change) error {
		for _, id := range gone {
			c.close(c.open(id), c.now, "no longer configured")
		}
		c.kept = append(c.kept, func() { d.benches, d.o.Setup = benches, s })
		return c.enter(aquarium.Entry{Kind: aquarium.Configured, At: c.now})
	})
}

// configured reports whether what an alarm is about is still there.
func configured(sites []aquarium.Site, i aquarium.Identity) bool {
	n := slices.IndexFunc(sites, func(s aquarium.Site) bool { return s.ID == i.Site })
	if n < 0 {
		return false
	}
	if i.Tank == "" || i.Tank == aquarium.SiteWide {
		return true
	}
	t := sites[n].Tank(i.Tank)
	return t != nil && has(t, i.Equipment)
}

// has reports whether the tank has a part, a filter, a doser or a sensor of
// that key.
func has(t *aquarium.Tank, k aquarium.EquipmentKey) bool {
	e := &t.Equipment
	parts := map[aquarium.EquipmentKey]bool{
		"": true, "co2": e.CO2 != nil, "top_off": e.TopOff != nil, "reservoir": e.Reservoir != nil,
		"drain": e.Drain != nil, "heater": e.Heater != nil, "cooling": e.Cooling != nil,
		"lights": e.Lights != nil, "power": e.Power != nil, "floor": e.Floor != nil,
		"room": e.Room != nil, "water_change": e.WaterChange != nil,
	}
	return parts[k] || t.Sensor(aquarium.SensorID(k)) != nil ||
		slices.ContainsFunc(e.Filters, func(f aquarium.Filter) bool { return f.ID == k }) ||
		slices.ContainsFunc(e.Dosers, func(x aquarium.Doser) bool { return x.ID == k })
}
