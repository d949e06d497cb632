package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A level that passes its band must be told within three minutes while the
// pump runs, or nobody knows that it does not. Half of that is taken to be sure
// that it was no splash; a median of three has removed single ones already.
// With the pump off a climb is told within ten minutes: then it must be seen
// climbing. EEMUA 191 and ISA-18.2 give 60 s for levels (from memory).
const (
	runawayOn   = 90 * time.Second
	siphonOn    = 4 * time.Minute
	siphonClimb = 3.0 // mm per hour; evaporation only ever lowers a level
	runawayOff  = 2 * time.Minute
	longRunOn   = 0
	runStep     = 10.0 // mm further up is worth telling again
	// The least a run is allowed, so that a pump that only tops the last
	// millimetre is not blamed for the sensor's resolution.
	leastRun = 3 * time.Minute
	// The most a run may take where neither volume nor rate is known.
	longestRun = 30 * time.Minute
)

// run follows the top-off pump's present run.
type run struct {
	on      bool
	since   aquarium.Instant
	deficit float64 // mm to the top of the band when it began
	known   bool
}

func (r *run) follow(t *tank, at aquarium.Instant) {
	part := t.config.Equipment.TopOff
	if part == nil {
		return
	}
	on, known := t.on(part.Pump, at)
	if !known {
		return
	}
	if on && (!r.on || r.since != t.sensors[part.Pump].since) {
		r.since = t.sensors[part.Pump].since
		if s := t.sensors[part.Level]; part.Level != "" && s.current(at) {
			level, ok := s.at(r.since)
			if !ok {
				level = s.value()
			}
			r.deficit, r.known = max(0, part.BandMM-level), true
		} else {
			r.known = false
		}
	}
	r.on = on
}

// need is how long the run should take at most, with what is known.
func (r *run) need(t *tank) time.Duration {
	part := t.config.Equipment.TopOff
	perMM := t.config.Size.LitresPerMM()
	if part.RateLH <= 0 || perMM <= 0 {
		return longestRun
	}
	mm := 2 * part.BandMM
	if r.known {
		mm = r.deficit
	}
	return max(leastRun, time.Duration(mm*perMM/part.RateLH*float64(time.Hour)))
}

// topOffRunaway: the pump runs or the level climbs beyond what a top-off
// explains.
func topOffRunaway(v *view, t *tank) {
	part := t.config.Equipment.TopOff
	if part == nil {
		return
	}
	on, pumpKnown := t.on(part.Pump, v.now)
	f := finding{equipment: "top_off", on: runawayOn, off: runawayOff}
	f.evidence = aquarium.Evidence{Sensor: part.Level, Facts: []aquarium.Fact{word(FactPump, pumpWord(on, pumpKnown))}}
	seen := false
	stood := v.stands(aquarium.TopOffRunaway, t.config.ID, "top_off")

	if s := t.sensors[part.Level]; part.Level != "" && s.current(v.now) {
		seen = true
		level := s.value()
		f.evidence.Value, f.evidence.Unit, f.evidence.Limit = level, "mm", of(part.BandMM)
		f.worse, f.step = level, runStep
		climb, sloped := t.trend(s, v.now, 10*time.Minute)
		if sloped {
			f.evidence.PerHour = of(climb)
		}
		switch above := level > part.BandMM; {
		case stood: // the pump being pulled does not lower the water
			f.true = above
		case above && (on || !pumpKnown):
			f.true = true
		case above && sloped && climb >= siphonClimb:
			f.true, f.on = true, siphonOn
		}
	} else if high, known := t.on(part.High, v.now); known {
		seen = true
		f.true = high && (stood || on || !pumpKnown)
	}

	if pumpKnown && on {
		seen = true
		ran, need := v.now.Sub(t.pump.since), t.pump.need(t)
		f.evidence.Facts = append(f.evidence.Facts, num(FactRun, minutes(ran), "min"), num(FactNeed, minutes(need), "min"))
		// A level still under its mark after twice the time is a top-off
		// that brings no water, which floods nothing.
		dry := f.evidence.Unit == "mm" && f.evidence.Value < 0
		if ran > 2*need && !dry {
			f.true, f.on = true, longRunOn
		}
	}
	if seen {
		v.find(aquarium.TopOffRunaway, t.config.ID, f)
	}
}

func pumpWord(on, known bool) string {
	switch {
	case !known:
		return "unknown"
	case on:
		return "on"
	}
	return "off"
}

func blindTopOff(t *aquarium.Tank) string {
	p := t.Equipment.TopOff
	switch {
	case p == nil:
		return "no top_off under equipment"
	case p.Level == "" && p.High == "" && p.Pump == "":
		return "neither a level, a high float nor a pump switch under top_off"
	}
	return ""
}
