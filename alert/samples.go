package alert

import (
	"fmt"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/measure"
)

// stretch is how much of a site's readings is held at a time while they are
// read in the order of their times: 6 h of a hundred sensors at a reading a
// minute are 36,000.
const stretch = 6 * time.Hour

// Samples calls fn with what the site's stored readings mean, from <= At < to,
// in the order of their times, until fn returns false. Readings of sensors that
// are not configured are left out.
func Samples(h History, site aquarium.Site, from, to aquarium.Instant, fn func(aquarium.Sample) bool) error {
	derivers := derivers(h, &site)
	for at := from; at < to; at = at.Add(stretch) {
		end := min(at.Add(stretch), to)
		var ss []aquarium.Sample
		for k, d := range derivers {
			err := h.Window(k, at, end, func(r aquarium.Reading) bool {
				if s, ok := d.Sample(r); ok {
					ss = append(ss, s)
				}
				return true
			})
			if err != nil {
				return fmt.Errorf("read %s from %s: %w", k, at, err)
			}
		}
		inOrder(ss)
		for _, s := range ss {
			if !fn(s) {
				return nil
			}
		}
	}
	return nil
}

// derivers makes one for each configured sensor of the site that has readings.
func derivers(h History, site *aquarium.Site) map[aquarium.SensorKey]*measure.Deriver {
	ds := map[aquarium.SensorKey]*measure.Deriver{}
	for _, k := range h.Sensors() {
		if k.Site != site.ID {
			continue
		}
		if k.Tank == aquarium.SiteWide {
			ds[k] = measure.ForGateway(k)
			continue
		}
		if t := site.Tank(k.Tank); t != nil {
			if s := t.Sensor(k.Sensor); s != nil {
				ds[k] = measure.For(k, *s)
			}
		}
	}
	return ds
}
