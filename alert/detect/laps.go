package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A top-off that holds the level within a millimetre or two of its mark makes good
// twenty litres an hour by a few minutes' run each few minutes: no fall is long enough
// to be one, and to what is summed by the hour all of them are one run. So falls and
// rises are cut where the pump's switch turns, and not by what the level shows. Water
// leaves if the level goes down whenever the pump rests and up whenever it runs, and
// what the pump has brought since it first rested is by as much more than what stayed.
// A line that brings nothing, a float that chatters at its mark and a pump that fills in
// pulses do not do that. Common practice, no source.
const (
	lapsFor    = 45 * time.Minute
	lapsLeast  = 2   // rests, and runs
	lapsSigmas = 3.0 // of either's slope: together two in a million by chance
	lapSettles = 30 * time.Second
	lapReads   = 2
)

// laps are the runs of the top-off pump in the last minutes and the rests between them.
type laps struct {
	runs, rests pooled           // the level's slopes in them
	since       aquarium.Instant // when the first rest began; 0: none did
	ran         time.Duration    // since then
}

// lapsSince are the laps since then, as the pump's switch tells them.
func (t *tank) lapsSince(from, now aquarium.Instant) (x laps) {
	pump, level := t.parts.pump, t.level.window(now, now.Sub(from))
	ps := pump.window(now, now.Sub(from))
	began, on := aquarium.Instant(0), false
	end := func(at aquarium.Instant) {
		if began == 0 { // it may have begun long before
			return
		}
		first := within(level, began.Add(lapSettles))
		if on && x.since != 0 {
			x.ran += at.Sub(began)
		}
		var l line
		for _, p := range level[first:max(first, within(level, at-1))] {
			l.take(p)
		}
		if l.n < lapReads {
			return
		}
		if on {
			x.runs.add(&l)
		} else {
			x.rests.add(&l)
		}
	}
	for i, p := range ps {
		if is := p.v >= 0.5; i == 0 {
			on = is
		} else if is != on {
			end(p.at)
			if began, on = p.at, is; !on && x.since == 0 {
				x.since = p.at
			}
		}
	}
	end(now.Add(aquarium.Step))
	return x
}

// lostFromLaps is what leaves the tank, l/h, while its pump comes on again and again,
// and since when; false where it is not surely more than may be.
func (t *tank) lostFromLaps(v *view, may float64) (litresH float64, since aquarium.Instant, ok bool) {
	x, part := &t.vessel, t.topOff()
	if x.pumped == 0 || v.now.Sub(x.pumped) > lapsFor || part.RateLH <= 0 {
		return 0, 0, false // as nearly always
	}
	perMM, assumed := t.perMM()
	if _, known := t.parts.pump.isOn(v.now); !known || assumed || t.level.value() > part.BandMM {
		return 0, 0, false
	}
	got := t.lapsSince(max(v.now.Add(-lapsFor), x.unrest, x.busy), v.now)
	if got.runs.stretches < lapsLeast || got.rests.stretches < lapsLeast {
		return 0, 0, false
	}
	before, seen := t.level.when(got.since, v.now)
	brought := part.RateLH * got.ran.Hours()
	lost := brought - (t.level.value()-before)*perMM
	if !seen || lost < max(runLeast, runShare*brought) {
		return 0, 0, false
	}
	lostH := lost / v.now.Sub(got.since).Hours()
	noise := max(leastNoise, t.level.wave.noise(), got.rests.noise(), got.runs.noise())
	sure := func(p *pooled, sign float64) bool { return sign*p.xy/math.Sqrt(p.xx) > lapsSigmas*noise }
	if !sure(&got.runs, 1) || !sure(&got.rests, -1) {
		return 0, 0, false
	}
	litresH = -got.rests.xy / got.rests.xx * perMM
	alike := litresH < sameWater*lostH && lostH < sameWater*litresH
	return litresH, got.since, alike && min(litresH, lostH) > may
}
