package detect

import "time"

// Gas that a valve has let in goes on dissolving once it has shut: in a diffuser for a
// minute, in a reactor full of it for a quarter of an hour. Each tank turns as late as
// it does, and what is learned of that, by how fast the pH fell before, is how far it
// still falls. One day's turns differ by half.
const (
	underWayMost = 1.5
	// What gathered in a reactor while the filters stood still and the valve was open, or
	// had just shut, comes for so long, and is about twice what the pH shows near its
	// target, where half of the gas only makes up for what leaves. Common practice, no
	// source.
	gatheredFor   = 30 * time.Minute
	gatheredTimes = 2
)

// underWay is how far the pH may still fall from where it was when the valve shut,
// without any more gas, as far as that is known; what gathered is reckoned with where it
// came within so long.
func (t *tank) underWay(v *view, over time.Duration) (fall float64) {
	x := &t.turning
	if x.done != t.shutAt {
		return 0
	}
	if minutes, ok := t.learned.Lateness.usual(); ok {
		fall = underWayMost*minutes/60*x.rate + lateReads
	}
	if p := t.pauses.newest(); p.Until != 0 && v.now.Sub(p.Until) < gatheredFor+over {
		until := p.Until
		if _, known := t.on(t.config.Equipment.CO2.Valve, v.now); known {
			until = min(until, t.shutAt.Add(stuckMixing))
		}
		if gathered := until.Sub(p.From); gathered > 0 {
			fall = max(stuckFall, fall) + gatheredTimes*max(x.rate, lateFall)*gathered.Hours()
		}
	}
	return fall
}

// gathers reports whether within that time gas may have come that gathered while the
// filters stood still.
func (t *tank) gathers(v *view, over time.Duration) bool {
	p := t.pauses.newest()
	return p.Until != 0 && v.now.Sub(p.Until) < gatheredFor+over && p.From.Sub(t.shutAt) < stuckMixing
}

// mayHaveGathered reports whether that may be all by which the pH has fallen since the valve
// shut.
func (t *tank) mayHaveGathered(v *view, g *gas, over time.Duration) bool {
	return t.gathers(v, over) && (t.turning.done != t.shutAt || t.shutFrom-g.value <= t.underWay(v, over))
}
