package detect

import (
	"math"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// A pump that runs and moves nothing must be told within three minutes; one of
// them is left for the readings. Even a small waste pump, 200 l/h from a container
// of half a metre by half a metre, lowers it by 27 mm meanwhile; what does not come
// to four is none, nor to two within the first of them. One that has lowered it and
// does so no more is up against what comes in: it is given ten. Common practice, no
// source.
const (
	pumpFailedAfter = 2 * time.Minute
	pumpStalled     = 10 * time.Minute
	pumpFailedFall  = 4.0 // mm
	pumpFailedFirst = 2.0 // mm in the first minute
	pumpFailedAbove = 1.5 // mm over where it should have come, or three times the noise
	pumpFailedBends = 60  // readings that the noise is taken from
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
	case d.known && d.on && d.outrun(v, t): // more comes than it is made for
	case d.known && d.on:
		if f.true, f.since = d.movesNothing(v, t); !f.true && d.part.StartMM > 0 {
			f.true, f.since = d.waitsInVain(v, t)
		}
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
		if d.known && d.on {
			if rose, ok := d.inflow(t); ok {
				e.Excluded = []aquarium.Excluded{{What: aquarium.LookInflow, Because: num(FactRise, rose, "mm/h")}}
			}
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
	before, ok := d.before(v, since)
	if !ok || d.value <= d.part.StopMM+aboveStart {
		return false, since
	}
	if ran < pumpFailedAfter-aquarium.Step {
		return d.level.heard.Sub(since) >= pumpFailedAfter-aquarium.Step && d.stays(since), since
	}
	if before-d.value < pumpFailedFall {
		return !d.fell(v.now, pumpFailedAfter), since // it may have risen far meanwhile
	}
	return ran > pumpStalled && !d.fell(v.now, pumpStalled) && d.value > (d.part.StopMM+max(before, d.part.StartMM))/2, v.now.Add(-pumpStalled)
}

// outrun reports whether the level rose when the pump began as nothing but a flood makes
// it, faster than any pump takes: that is told, and what the level does then says nothing
// of the pump. One that began too long ago to know is not asked while it is told.
func (d *drain) outrun(v *view, t *tank) bool {
	rate, ok := d.inflow(t)
	if !ok {
		return v.stands(aquarium.DrainOverflow, t.config.ID, "drain")
	}
	return rate >= pourRate
}

// inflow is how fast the level rose when the pump began, mm/h; false where that was too
// long ago to know.
func (d *drain) inflow(t *tank) (float64, bool) {
	since := t.sensor(d.part.Pump).since
	ps := d.level.points[:within(d.level.points, since)]
	if len(ps) < 2 {
		return 0, false
	}
	first, last := ps[min(len(ps)-2, within(ps, since.Add(-pourFor)))], ps[len(ps)-1]
	return (last.v - first.v) / last.at.Sub(first.at).Hours(), true
}

// before is how high the level was when the pump began: a container that fills may
// have been read long before that, in a gap, so that it is no lower than the first
// reading since.
func (d *drain) before(v *view, since aquarium.Instant) (mm float64, ok bool) {
	mm, ok = d.level.when(since, v.now)
	if ps := d.level.points; ok {
		if i := within(ps, since); i < len(ps) {
			mm = max(mm, ps[i].v)
		}
	}
	return mm, ok
}

// stays reports, of a level that is read once a minute and of which the newest
// reading is not yet believed, whether a minute of the pump has not lowered it: a
// pump that works would have it read lower by then, or nothing believed since.
func (d *drain) stays(since aquarium.Instant) bool {
	before, ok := d.level.at(since)
	ps := d.level.points
	last := ps[len(ps)-1]
	return ok && last.at.Sub(since) >= pumpFailedAfter/2-aquarium.Step && before-last.v < pumpFailedFirst
}

// waitsInVain reports whether the level has been where the pump should have come,
// for as long, and does not fall.
func (d *drain) waitsInVain(v *view, t *tank) (bool, aquarium.Instant) {
	start, ps := d.start(t), d.level.points
	limit := start + pumpFailedAbove
	if d.level.value() <= start || len(ps) < 2 {
		return false, 0 // as nearly always
	}
	noise := pumpFailedAbove // until it is known
	if recent := d.level.window(v.now, max(5*time.Minute, 6*d.level.interval())); len(recent) >= fallPoints {
		// A handful may lie on a line by chance, while the level fills past the start for hours.
		noise = bending(d.level.window(v.now, pumpFailedBends*d.level.interval()))
		limit = max(limit, start+3*max(scatter(recent), noise))
	}
	since, n := d.level.run(func(mm float64) bool { return mm > limit })
	if n == 1 && ps[len(ps)-1].v > ps[len(ps)-2].v { // of a level read once a minute the first over the start may be short of the limit
		if from, m := d.level.run(func(mm float64) bool { return mm > start }); m == 2 {
			since, n = from, m
		}
	}
	if n < 2 || mean(last(ps, n))-start <= overErrors*noise/math.Sqrt(float64(n)) { // it may rest at its start for hours
		return false, since
	}
	i := len(ps) - n - 1
	for i > 0 && ps[i].v > start && ps[i+1].v-ps[i].v > pumpFailedAbove { // on its way there
		i--
	}
	if i >= 0 && ps[i].v <= start && ps[i+1].at.Sub(ps[i].at) <= 2*time.Minute { // it passed that between two readings
		rose := (start - ps[i].v) / (ps[i+1].v - ps[i].v)
		since = ps[i].at.Add(time.Duration(rose * float64(ps[i+1].at.Sub(ps[i].at))))
	}
	falls := ps[len(ps)-2].v-ps[len(ps)-1].v >= pumpFailedFirst
	return v.now.Sub(since) >= pumpFailedAfter-aquarium.Step && !falls && !d.fell(v.now, pumpFailedAfter), since
}

// bending is the noise of points, one standard deviation, by the median of their second
// differences, whose own is the root of six times that for independent values: neither a
// slope nor a turn or two make a difference.
func bending(ps []point) float64 {
	if len(ps) < 3 {
		return 0
	}
	bends := make([]float64, 0, len(ps)-2)
	for i := 2; i < len(ps); i++ {
		bends = append(bends, math.Abs(ps[i].v-2*ps[i-1].v+ps[i-2].v))
	}
	return statistic.Median(bends) * statistic.Normal / math.Sqrt(6)
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
