package measure

import (
	"math"

	"lentic/collector/aquarium"
)

// counter is the last reading of a counter.
type counter struct {
	at    aquarium.Instant
	count float64
	known bool
}

// rate is the mean rate per hour since the counter's last reading. A reading
// that is not newer than the last says nothing; nor does one after a reset,
// for what was counted before it is lost.
func (d *Deriver) rate(r aquarium.Reading) (float64, bool) {
	last := d.counter
	if last.known && r.At <= last.at {
		return 0, false
	}
	d.counter = counter{at: r.At, count: r.Value, known: true}
	if !last.known {
		return 0, false
	}
	counts, ok := passed(last.count, r.Value)
	if !ok {
		return 0, false
	}
	per, ok := d.unitsPerCount(r.Unit)
	if !ok {
		return 0, false
	}
	return d.linear(counts * per / r.At.Sub(last.at).Hours()), true
}

// unitsPerCount is how much one count stands for: a pulse its share of a unit,
// a litre of a flow's running total a litre.
func (d *Deriver) unitsPerCount(u aquarium.Unit) (float64, bool) {
	per := 1.0
	if d.sensor.PerUnit != 0 {
		per = 1 / d.sensor.PerUnit
	}
	if u == "" || u == "count" {
		return per, true
	}
	if d.sensor.Quantity == aquarium.Flow && aquarium.Volume.Accepts(u) {
		litres, err := aquarium.Volume.Convert(1, u)
		return litres * per, err == nil
	}
	return per, u == d.sensor.Unit
}

// The widths in bits that counters have in pulse inputs and meters. Common
// practice, no source.
var widths = []int{8, 16, 24, 32}

// passed is what a counter counted from last to now. A counter that falls has
// wrapped, if it stood in the last quarter of a usual width and stands in its
// first: then the rest is known. Otherwise it was reset, and is not.
func passed(last, now float64) (float64, bool) {
	if now >= last {
		return now - last, true
	}
	for _, w := range widths {
		full := math.Ldexp(1, w)
		if last < full && last >= full*3/4 && now >= 0 && now < full/4 {
			return full - last + now, true
		}
	}
	return 0, false
}
