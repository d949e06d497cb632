package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// drainUsualDays is how many days say how full the container usually gets.
const drainUsualDays = 14

// drain is the waste container as it is now.
type drain struct {
	part      *aquarium.Drain
	level     *series
	value     float64 // mm above the bottom
	on, known bool    // the pump's command
}

// drainOf is false where the tank has none or its level is not known now.
func (t *tank) drainOf(v *view) (drain, bool) {
	part := t.config.Equipment.Drain
	if part == nil || !t.sensor(part.Level).current(v.now) {
		return drain{}, false
	}
	d := drain{part: part, level: t.sensor(part.Level)}
	d.value = d.level.value()
	d.on, d.known = t.on(part.Pump, v.now)
	return d, true
}

// start is the level at which the pump comes: the configured one, or the one that
// it has usually let it come to where that is higher; 0 where neither is known.
// The second highest day counts: one that went wrong makes no rule.
func (d *drain) start(t *tank) float64 {
	if d.part.StartMM <= 0 {
		return 0
	}
	var first, second float64
	for _, x := range last(t.learned.Sensors[d.part.Level].Days, drainUsualDays) {
		if x.N > 0 && x.High > first {
			first, second = x.High, first
		} else if x.N > 0 {
			second = max(second, x.High)
		}
	}
	if second > d.part.OverflowMM && d.part.OverflowMM > 0 {
		second = 0
	}
	return max(d.part.StartMM, second)
}

// rise is how fast the level has risen over the last minutes, mm/h, by the
// straight line of least squares; false for fewer than three readings.
func (d *drain) rise(at aquarium.Instant) (perHour float64, ok bool) {
	ps := d.level.window(at, max(riseWindow, 3*d.level.interval()))
	if len(ps) < 3 {
		return 0, false
	}
	h := hingeOf(ps, ps[0].at)
	return h.perHour, h.spread > 0
}

// riseWindow is what the present rate is taken from: a pump that has just stopped
// or come is soon no longer in it.
const riseWindow = 3 * time.Minute

func (d *drain) facts(v *view, t *tank) []aquarium.Fact {
	fs := []aquarium.Fact{word(FactPump, stateWord(d.on, d.known, "on", "off"))}
	if d.known && d.on {
		fs = append(fs, lasting(FactRun, v.now.Sub(t.sensor(d.part.Pump).since)))
	}
	return fs
}

// timeLeft is how many minutes there are to the rim at a rate, nil where that
// cannot be told.
func timeLeft(mm, perHour float64) *float64 {
	if perHour <= 0 {
		return nil
	}
	return of(max(0, mm) / perHour * 60)
}
