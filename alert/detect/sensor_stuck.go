package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A probe has a noise of its own, and so says the same for only so long. Where
// the stretches of one value have an exponential tail, the longest of n of them
// is about ln n times what the tail falls by a factor of e in; of the N stretches
// of a day one is longer than ln(N/p) times that on a share p of the days. So
// the limit is the longest of the days that are known, times ln(N/p)/ln(n), and
// a quarter more, for the tail is that of the hours in which the value lies in the
// middle of a step, and those are fewer. p is once in 270 years, for each sensor.
//
// It must be told within two hours: once a week is known, that is the limit of a
// sensor whose longest stretch is under an hour, as the trade's are. One that
// stands still for longer, being coarse or quiet, cannot be told from a stuck one,
// and is left alone.
const (
	stuckRate  = 1e-5 // p, a day
	stuckSure  = 1.25
	stuckLeast = time.Hour // the shortest that is told
	stuckMost  = 115 * time.Minute
	stuckWeek  = 7 // days
	// A sensor that tells its changes smooths its noise away: for how long it says the
	// same is how long the water stays as it is, which is of no such law. A week must have
	// shown it; and what neither gas, pumps nor a heater move is given until the other half
	// of the day has been.
	stuckSlow = 12 * time.Hour
	// A heater of a watt a litre warms by a quarter of a degree in that time.
	stuckWarmed = 20 * time.Minute
	stuckQuiet  = time.Hour
	stillOff    = 10 * time.Minute
)

// stuckLimit is how long a sensor may say the same that has stood so still on the
// days that are known; known is false where none are or it stands still anyway.
func stuckLimit(days []Stillness) (limit time.Duration, known bool) {
	longest, perDay := stillness(days)
	n := perDay * float64(len(days))
	if n < 3 || longest > stuckQuiet {
		return 0, false
	}
	times := stuckSure * math.Log(perDay/stuckRate) / math.Log(n)
	limit = max(stuckLeast, time.Duration(times*float64(longest)))
	if len(days) >= stuckWeek {
		limit = min(limit, stuckMost)
	}
	return limit, true
}

// sensorStuck: a sensor has said one and the same value for longer than its own
// noise allows.
func sensorStuck(v *view, t *tank) {
	for _, s := range t.order {
		if s.still.lasted() < stuckLeast && s.refused.since == 0 && s != t.level && !s.spoken(ofStuck) {
			continue // as nearly always
		}
		is := s.stays() && s.still.lasted() >= stuckLeast && t.stuck(s, 1) && t.shouldMove(s, s.still.lasted()) && !t.slackFlow(v, s)
		since := s.still.since
		if _, why := s.refusedSince(); why == aquarium.Frozen { // the screen has seen it
			is = s.stays() && v.now.Sub(since) >= stuckLeast && t.shouldMove(s, v.now.Sub(since)) && !t.slackFlow(v, s)
		}
		f := finding{equipment: aquarium.EquipmentKey(s.config.ID), off: stillOff}
		if is && v.stands(aquarium.SensorImplausible, t.config.ID, f.equipment) && !v.stands(aquarium.SensorStuck, t.config.ID, f.equipment) {
			is = false // one that is shorted says the same too: that has been told
		}
		if x := &t.vessel.hung; s == t.level && !is {
			if is, since = x.is(t), x.since; is {
				f.priority = aquarium.Low
			} else if v.stands(aquarium.SensorStuck, t.config.ID, f.equipment) && x.moved == 0 {
				continue // as of before a start
			}
		}
		if !is && (!s.spoken(ofStuck) || !s.current(v.now)) {
			continue
		}
		s.speak(ofStuck, is)
		if is {
			s.still.told = v.now
		}
		f.true, f.since = is, since
		f.prove = func() aquarium.Evidence { return t.stuckEvidence(v, s, f) }
		v.find(aquarium.SensorStuck, t.config.ID, f)
	}
}

func (t *tank) stuckEvidence(v *view, s *series, f finding) aquarium.Evidence {
	e := aquarium.Evidence{Sensor: s.config.ID, Value: s.still.v, Unit: s.config.Quantity.Unit(),
		Facts: []aquarium.Fact{lasting(FactFor, v.now.Sub(f.since))}}
	if f.priority == aquarium.Low { // a level that the air does not lower
		e.Value = s.value()
		e.Expected = of(digits(e.Value - t.vessel.hung.missing(t)))
		air, _ := t.evaporation(v)
		e.Facts = append(e.Facts, num(FactAir, digits(air), "l/h"))
		return e
	}
	longest, _ := stillness(t.learned.Still[s.config.ID])
	e.Facts = append(e.Facts, lasting(FactLongest, longest))
	return e
}

// stuck reports whether a sensor has stood still for that share of its limit.
func (t *tank) stuck(s *series, share float64) bool {
	if s.still.since == 0 || s.still.lasted() < time.Duration(share*float64(stuckLeast)) {
		return false // as nearly always: no limit is less
	}
	days := t.learned.Still[s.config.ID]
	limit, known := stuckLimit(days)
	if !known {
		return false
	}
	if s.config.OnChange && len(days) < stuckWeek {
		return false
	}
	return s.still.lasted() >= time.Duration(share*float64(limit))
}

// shouldMove reports whether a sensor that has stood still for so long should have
// moved: one that tells its changes says nothing as long as what it measures stays.
func (t *tank) shouldMove(s *series, stood time.Duration) bool {
	q := s.config.Quantity
	return !s.config.OnChange || q == aquarium.PH || q == aquarium.Flow || stood >= stuckSlow ||
		s.still.told > s.still.since || t.heated(s)
}

// heated reports whether a heater is known to have warmed what the sensor measures since
// it stands still.
func (t *tank) heated(s *series) bool {
	h := t.config.Equipment.Heater
	if h == nil || h.Temperature != s.config.ID {
		return false
	}
	heater := t.sensor(h.Switch)
	if heater == nil {
		return false
	}
	warmed := time.Duration(0)
	ps := heater.points
	for i, p := range ps {
		until := s.still.held
		if i+1 < len(ps) {
			until = min(until, ps[i+1].at)
		}
		if from := max(p.at, s.still.since); p.v >= 0.5 && until > from {
			warmed += until.Sub(from)
		}
	}
	return warmed >= stuckWarmed
}

// stays reports whether standing still says anything of the sensor: water that
// does not flow has no noise.
func (s *series) stays() bool {
	return s.still.since != 0 && !(s.config.Quantity == aquarium.Flow && s.still.v == 0)
}

// slackFlow reports whether the sensor is a flow whose filter is told to stand still:
// what is left of it has no noise.
func (t *tank) slackFlow(v *view, s *series) bool {
	i := t.filterOf(s)
	return i >= 0 && v.stands(aquarium.FilterStalled, t.config.ID, t.config.Equipment.Filters[i].ID)
}

// stillable reports whether standing still tells anything of a sensor: one that neither
// tells by the clock nor repeats itself says nothing whether it works or not.
func stillable(c aquarium.Sensor) bool {
	return c.Quantity != aquarium.Switch && (!c.OnChange || c.Refresh > 0)
}

func blindStuck(t *aquarium.Tank) string {
	for _, s := range t.Sensors {
		if stillable(s) {
			return ""
		}
	}
	return "no sensor that reports by the clock or repeats itself"
}
