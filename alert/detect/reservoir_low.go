package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A tenth of the reservoir, or two days of what the tank uses where that is more,
// is time enough for somebody to come. A store that is known to refill by itself once
// it has come down to its float runs out only below that. Common practice, no source.
const (
	lowShare   = 0.1
	lowDays    = 2.0
	lowUnknown = 10.0 // l, where neither is known
	lowOn      = 5 * time.Minute
	lowBack    = 0.05 // of the capacity
	lowOff     = 10 * time.Minute
	lowStep    = 5.0 // l less are worth telling again
)

// reservoirLow: the stored water runs out.
func reservoirLow(v *view, t *tank) {
	part := t.config.Equipment.Reservoir
	if part == nil || !t.parts.stored.current(v.now) {
		return
	}
	s := t.parts.stored
	if s.value() >= max(part.CapacityL/2, lowUnknown) && v.unheard(aquarium.ReservoirLow, t.config.ID, "reservoir") {
		return // no limit is higher
	}
	use, learned := t.evaporation(v)
	limit := lowShare * part.CapacityL
	if learned {
		days := min(lowDays*24*use, part.CapacityL/2)
		if r := &t.vessel.refill; len(t.learned.Vessel.Refills) >= slowLearned {
			days = min(days, r.lastStart(t)-belowStart*part.CapacityL)
		}
		limit = max(limit, days)
	}
	if limit == 0 {
		limit = lowUnknown
	}
	margin := 0.0
	if v.stands(aquarium.ReservoirLow, t.config.ID, "reservoir") {
		margin = max(1, lowBack*part.CapacityL)
	}
	f := finding{equipment: "reservoir", true: s.value() < limit+margin && !t.vessel.refill.comes(t, v), on: t.lowFor(v), off: lowOff, worse: -s.value(), step: lowStep}
	f.prove = func() aquarium.Evidence {
		e := aquarium.Evidence{Sensor: part.Volume, Value: s.value(), Unit: "l", Limit: of(limit)}
		if p, ok := t.trend(s, v.now, time.Hour); ok {
			e.PerHour = of(p)
		}
		fastest := 0.0 // l/h that leave
		if learned {
			fastest = use
		}
		if e.PerHour != nil {
			fastest = max(fastest, -*e.PerHour)
		}
		if fastest > 0 {
			lasts := time.Duration(s.value() / fastest * float64(time.Hour))
			e.Facts = append(e.Facts, lasting(FactLasts, lasts))
			e.HarmIn = of(lasts.Minutes()) // then nothing makes good what evaporates
		}
		on, known := t.on(part.Refill, v.now)
		e.Facts = append(e.Facts, word(FactRefill, stateWord(on, known, "on", "off")))
		if before, ok := s.at(v.now.Add(-time.Hour)); ok && known && on {
			e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookRefill, Because: num(FactMoved, s.value()-before, "l")})
		}
		return e
	}
	v.find(aquarium.ReservoirLow, t.config.ID, f)
}

// lowFor is how long the store must have been low: where only what is stored tells of a
// unit's filling, that has to show first which the top-off has just called for.
func (t *tank) lowFor(v *view) time.Duration {
	usual, _ := t.usualRefill(v.now)
	if t.config.Equipment.Reservoir.Refill != "" || usual <= 0 {
		return lowOn
	}
	spans := t.refillSpans(v.now)
	shows := max(spans[0], spans[1])
	if drew := t.vessel.pumped; drew == 0 || v.now >= drew.Add(shows) {
		return lowOn
	}
	return shows + lowOn
}

func blindReservoir(t *aquarium.Tank) string {
	switch r := t.Equipment.Reservoir; {
	case r == nil:
		return "no reservoir under equipment"
	case t.Sensor(r.Volume) == nil:
		return "no volume sensor under reservoir"
	}
	return ""
}
