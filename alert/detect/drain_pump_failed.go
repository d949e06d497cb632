package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A pump that runs and moves nothing must be told within three minutes; one of
// them is left for the readings. Even a small waste pump, 200 l/h from a container
// of half a metre by half a metre, lowers it by 27 mm meanwhile; what does not come
// to four is none. One that has lowered it and does so no more is up against what
// comes in: it is given ten. Common practice, no source.
const (
	pumpFailedAfter = 2 * time.Minute
	pumpStalled     = 10 * time.Minute
	pumpFailedFall  = 4.0 // mm
	pumpFailedAbove = 3.0 // mm over where it should have come
	pumpFailedOff   = time.Minute
	pumpFailedStep  = 20.0 // mm further up is worth telling again
)

// drainPumpFailed: the waste pump runs and the level stays, or the level is where
// the pump should come and it does not.
func drainPumpFailed(v *view, t *tank) {
	d, ok := t.drainOf(v)
	if !ok || d.part.Pump == "" && d.part.StartMM <= 0 {
		return
	}
	f := finding{equipment: "drain", off: pumpFailedOff, worse: d.value, step: pumpFailedStep}
	switch {
	case d.known && d.on:
		f.true, f.since = d.movesNothing(v, t)
	case d.part.StartMM > 0:
		f.true, f.since = d.waitsInVain(v, t)
	}
	if v.stands(aquarium.DrainPumpFailed, t.config.ID, f.equipment) && !f.true { // over once it has been emptied, or falls
		f.true = d.value > d.start(t) && !d.fell(v.now, pumpFailedAfter)
	}
	f.prove = func() aquarium.Evidence {
		e := aquarium.Evidence{Sensor: d.part.Level, Value: d.value, Unit: "mm", Facts: d.facts(v, t)}
		if d.part.StopMM > 0 {
			e.Expected = of(d.part.StopMM)
		}
		rate, ok := d.rise(v.now)
		if ok {
			e.PerHour = of(rate)
		}
		if d.part.OverflowMM > 0 {
			e.Limit = of(d.part.OverflowMM)
			if ok {
				e.HarmIn = timeLeft(d.part.OverflowMM-d.value, rate)
			}
		}
		return e
	}
	v.find(aquarium.DrainPumpFailed, t.config.ID, f)
}

// movesNothing reports whether the pump has run for long enough and the level is
// no lower than when it began.
func (d *drain) movesNothing(v *view, t *tank) (bool, aquarium.Instant) {
	since := t.sensor(d.part.Pump).since
	ran := d.level.newest().Sub(since) // as far as readings show
	before, ok := d.level.when(since, v.now)
	if !ok || ran < pumpFailedAfter-aquarium.Step || d.value <= d.part.StopMM+aboveStart {
		return false, since
	}
	if before-d.value < pumpFailedFall {
		return true, since
	}
	return ran > pumpStalled && !d.fell(v.now, pumpStalled) && d.value > (d.part.StopMM+max(before, d.part.StartMM))/2, v.now.Add(-pumpStalled)
}

// waitsInVain reports whether the level has been where the pump should have come,
// for as long, and does not fall.
func (d *drain) waitsInVain(v *view, t *tank) (bool, aquarium.Instant) {
	limit := d.start(t) + pumpFailedAbove
	since, n := d.level.run(func(mm float64) bool { return mm > limit })
	return n >= 2 && d.level.newest().Sub(since) >= pumpFailedAfter-aquarium.Step && !d.fell(v.now, pumpFailedAfter), since
}

// fell reports whether the level is lower than it was so long ago.
func (d *drain) fell(at aquarium.Instant, ago time.Duration) bool {
	before, ok := d.level.at(at.Add(-ago))
	return ok && before-d.value >= pumpFailedFall
}

func blindDrainPump(t *aquarium.Tank) string {
	switch d := t.Equipment.Drain; {
	case d == nil:
		return "no drain under equipment"
	case t.Sensor(d.Level) == nil:
		return "no level sensor under drain"
	case d.Pump == "" && d.StartMM <= 0:
		return "neither a pump switch nor start_mm under drain"
	}
	return ""
}
