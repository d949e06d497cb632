package alert

import (
	"fmt"
	"slices"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/measure"
)

// stretch is how much of a site's readings is held at a time while they are
// read in the order of their times: 12 h of a hundred sensors at a reading every
// ten seconds are 10 MB. It is also what a store is likely to keep together, so
// stretches begin at noon and midnight.
const stretch = 12 * time.Hour

// Samples calls fn with what the site's stored readings mean, from <= At < to,
// in the order of their times, until fn returns false. Readings of sensors that
// are not configured are left out. The journal tells the calibrations of the
// site's electrodes, however old; it may hold other entries.
func Samples(h History, site aquarium.Site, journal []aquarium.Entry, from, to aquarium.Instant, fn func(aquarium.Sample) bool) error {
	return SamplesBy(h, func(k aquarium.SensorKey) *measure.Deriver { return deriver(k, &site, journal) }, from, to, fn)
}

// SamplesBy is Samples of the sensors for which meaning has a deriver, whatever
// their site; it is asked once for each sensor that has readings.
func SamplesBy(h History, meaning func(aquarium.SensorKey) *measure.Deriver, from, to aquarium.Instant, fn func(aquarium.Sample) bool) error {
	rows := rowsOf(h, meaning)
	for at := from; at < to; {
		end := min(at.Floor(stretch).Add(stretch), to)
		for _, r := range rows {
			if err := r.fill(h, at, end); err != nil {
				return fmt.Errorf("read %s from %s: %w", r.key, at, err)
			}
		}
		if !merge(rows, fn) {
			return nil
		}
		at = end
	}
	return nil
}

// row is one sensor's samples of a stretch.
type row struct {
	key     aquarium.SensorKey
	deriver *measure.Deriver
	rank    int // in the order of the keys
	held    []measured
	next    int // of held
}

// measured is a sample without its sensor.
type measured struct {
	at      aquarium.Instant
	value   float64
	quality aquarium.Quality
}

// rowsOf makes one for each sensor that has readings and a meaning.
func rowsOf(h History, meaning func(aquarium.SensorKey) *measure.Deriver) []*row {
	var rows []*row
	for _, k := range h.Sensors() {
		if d := meaning(k); d != nil {
			rows = append(rows, &row{key: k, deriver: d})
		}
	}
	slices.SortFunc(rows, func(a, b *row) int {
		if a.key.Less(b.key) {
			return -1
		}
		return 1
	})
	for i, r := range rows {
		r.rank = i
	}
	return rows
}

// deriver is nil for what is not configured at the site.
func deriver(k aquarium.SensorKey, site *aquarium.Site, journal []aquarium.Entry) *measure.Deriver {
	if k.Site != site.ID {
		return nil
	}
	if k.Tank == aquarium.SiteWide {
		return measure.ForGateway(k)
	}
	t := site.Tank(k.Tank)
	if t == nil {
		return nil
	}
	s := t.Sensor(k.Sensor)
	if s == nil {
		return nil
	}
	d := measure.For(k, *s)
	if s.Quantity == aquarium.PH {
		x := measure.ElectrodeOf(k, journal)
		d.Calibrated(func() measure.Electrode { return x })
	}
	return d
}

// fill reads from <= At < to.
func (r *row) fill(h History, from, to aquarium.Instant) error {
	r.held, r.next = r.held[:0], 0
	return h.Window(r.key, from, to, func(x aquarium.Reading) bool {
		if s, ok := r.deriver.Sample(x); ok {
			r.held = append(r.held, measured{s.At, s.Value, s.Quality})
		}
		return true
	})
}

// merge gives what the rows hold by time, then sensor, until fn returns false.
func merge(rows []*row, fn func(aquarium.Sample) bool) bool {
	var h heap
	for _, r := range rows {
		if len(r.held) > 0 {
			h = append(h, head{r.held[0].at, r})
		}
	}
	for i := len(h)/2 - 1; i >= 0; i-- {
		h.down(i)
	}
	for len(h) > 0 {
		r := h[0].row
		x := &r.held[r.next]
		if !fn(aquarium.Sample{Sensor: r.key, At: x.at, Value: x.value, Quality: x.quality}) {
			return false
		}
		if r.next++; r.next < len(r.held) {
			h[0].at = r.held[r.next].at
		} else {
			h[0] = h[len(h)-1]
			h = h[:len(h)-1]
		}
		h.down(0)
	}
	return true
}

// heap is rows by their next samples, the first one on top.
type heap []head

type head struct {
	at  aquarium.Instant
	row *row
}

func (a *head) before(b *head) bool { return a.at < b.at || a.at == b.at && a.row.rank < b.row.rank }

// down lets the head at i sink to its place.
func (h heap) down(i int) {
	for {
		c := 2*i + 1
		if c >= len(h) {
			return
		}
		if c+1 < len(h) && h[c+1].before(&h[c]) {
			c++
		}
		if !h[c].before(&h[i]) {
			return
		}
		h[i], h[c] = h[c], h[i]
		i = c
	}
}
