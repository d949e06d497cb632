package detect

import (
	"math"
	"time"
)

// A leak that the top-off makes good within minutes, where a switch tells of its pump:
// it runs again and again, what it brings stays nowhere, and in a run or a rest there
// are too few readings for the slopes of laps.go. Twice within twenty minutes, which
// are what 20 l/h has, the top-off has stopped by itself, for the level was at its mark;
// air asks for that in hours, and a bucket that somebody takes leaves at once. That water
// is brought at all shows in the level, which moves by the pump's rate more per hour
// while it runs than while it does not, whatever leaves: a third of that is more than
// noise where a reading comes each minute. Common practice, no source.
const (
	roundsFor   = 18 * time.Minute
	roundsStops = 2
	roundsRun   = 30 * time.Second // at the least, or a float chatters
	roundsLeast = 3.0              // l: four times what a reading of the switch a minute is wrong by, in two runs
	roundsKept  = 1. / 4           // of what came in, the most by which the level may have changed
	roundsMoves = 1. / 3           // of the pump's rate
	roundsLeap  = 1. / 2           // of what the level falls by between runs, and two standard deviations, the most that lies between two readings
)

// rounds is what the top-off has done lately.
type rounds struct {
	stops    int
	on, off  float64 // h
	up, down float64 // mm by which the level rose, while it was on and while it was not
	leap     float64 // mm, the most that it fell by from one reading to the next while it was not
}

// lostInRounds is what has left while the top-off kept the level, l/h.
func (t *tank) lostInRounds(v *view) (litresH float64, ok bool) {
	pump, s, rate := t.parts.pump, t.level, t.topOff().RateLH
	if rate <= 0 || pump == nil || pump.wasOn < v.now.Add(-roundsFor) || !pump.current(v.now) {
		return 0, false // as nearly always
	}
	perMM, assumed := t.perMM()
	if assumed || v.now < t.vessel.stirred.Add(roundsFor) || s.value() > t.topOff().BandMM || t.unpowered(v) {
		return 0, false
	}
	r := roundsOf(s.window(v.now, roundsFor), pump)
	brought, kept := rate*r.on, (r.up+r.down)*perMM
	if r.stops < roundsStops || r.on < float64(r.stops)*roundsRun.Hours() || brought < roundsLeast || math.Abs(kept) > roundsKept*brought {
		return 0, false
	}
	if r.off <= 0 || r.up/r.on-r.down/r.off < roundsMoves*rate/perMM || r.leap > 2*s.wave.noise()-roundsLeap*r.down {
		return 0, false
	}
	return (brought - kept) / (r.on + r.off), true
}

// roundsOf is what the readings of a level and of the pump's switch show.
func roundsOf(ps []point, pump *series) (r rounds) {
	i, on := 0, false
	for k, p := range ps {
		was := on
		for i < len(pump.points) && pump.points[i].at <= p.at {
			on = pump.points[i].v >= 0.5
			i++
		}
		if k == 0 {
			continue
		}
		hours, mm := p.at.Sub(ps[k-1].at).Hours(), p.v-ps[k-1].v
		if was {
			r.on, r.up = r.on+hours, r.up+mm
		} else {
			r.off, r.down, r.leap = r.off+hours, r.down+mm, max(r.leap, -mm)
		}
		if was && !on {
			r.stops++
		}
	}
	return r
}
