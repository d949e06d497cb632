package detect

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// A canister filter that is full of bacteria spoils its water within the hour,
// so it must be told within three minutes of standing still. Two readings
// must say so, and half of that time pass from the first: at a reading a minute
// that leaves one reading to spare.
// ISA-18.2 gives 15 s for flows (from memory); a paddle-wheel sensor sticks for
// longer. An eighth of the flow is "nearly gone": pinched hoses and dirty
// sponges stay well above. Common practice, no source.
const (
	stallShare = 0.125
	stallBack  = 0.25
	stallOn    = 90 * time.Second
	stallOff   = time.Minute
	stallTold  = 3 * time.Minute // by then
	// What a planned stop is given to end: it is told by five minutes after.
	afterStop  = 4*time.Minute + 30*time.Second
	leastFlow  = 50.0 // l/h: a filter that never gave more is no reference
	dayMinutes = aquarium.Clock(24 * 60)
)

// filterStalled: flow is gone or nearly gone. It is high if no other filter of
// the tank runs.
func filterStalled(v *view, t *tank) {
	filters := t.config.Equipment.Filters
	_, pausing := t.pausing(v)
	for i, s := range t.flows {
		f, normal := &filters[i], t.normal(i, v.now)
		if !s.current(v.now) || normal < leastFlow {
			continue
		}
		since, n := s.run(func(v float64) bool { return v < stallShare*normal })
		known := v.state(aquarium.FilterStalled, t.config.ID, f.ID)
		if n < 2 && known == nil {
			continue // as nearly always
		}
		share, low, planned := stallShare, s.value() < stallBack*normal, stopped(f, t.clock, afterStop) || pausing && !stopped(f, t.clock, pauseMost) && !t.leftByCut(v, i) || t.maybeFed(v)
		if v.stands(aquarium.FilterStalled, t.config.ID, f.ID) {
			// It stood still before, which no stop explains; what stands in a visit nobody is
			// told of, and it may run again for less than shows.
			share, planned = stallBack, planned && v.visited(t.config.ID)
		} else if known == nil || known.trueFrom == 0 {
			low = n >= 2
		} // else what has begun goes on until the flow is back: a paddle wheel turns by jerks
		others, priority, on := "stalled", t.config.Priority(aquarium.FilterStalled), time.Duration(0)
		if len(filters) == 1 {
			others = "none"
		}
		for j := range filters {
			if j != i && t.flowing(j, v.now) {
				others, priority = "running", min(priority, aquarium.Medium)
				if t.mayStop(j, v.now) {
					on = stallTold - aquarium.Step
				}
			}
		}
		v.find(aquarium.FilterStalled, t.config.ID, finding{
			equipment: f.ID, true: low && !planned, since: since,
			on: max(on, t.stallOn(s, others)), off: stallOff, priority: priority,
			prove: func() aquarium.Evidence { return t.stallEvidence(v, f, share, normal, others) },
		})
	}
}

// flowing reports whether a filter is known to run.
func (t *tank) flowing(i int, at aquarium.Instant) bool {
	s := t.flows[i]
	return s.current(at) && s.value() >= stallBack*t.normal(i, at)
}

// mayStop reports whether the newest reading of a filter that is taken to run is not
// judged yet, or says that it stands: where a reading comes each minute, it may have been
// stopped with another.
func (t *tank) mayStop(i int, at aquarium.Instant) bool {
	s := t.flows[i]
	return s.heard > max(s.latest, s.ignored) || s.points[len(s.points)-1].v < stallShare*t.normal(i, at)
}

// stallOn is for how long a filter must have stood still. Where none of the tank
// runs, somebody may be about to show himself by what else he does, and what is
// left of the three minutes is given to that: a reading and a tick may pass
// before and after.
func (t *tank) stallOn(s *series, others string) time.Duration {
	if others == "running" {
		return stallOn
	}
	return max(stallOn, stallTold-s.interval()-2*aquarium.Step)
}

// unaired is how long a tank's fish and a filter's bacteria bear it that no filter
// runs. Common practice, no source; a full tank in the dark has less.
const unaired = 60.0 // min

func (t *tank) stallEvidence(v *view, f *aquarium.Filter, share, normal float64, others string) aquarium.Evidence {
	e := aquarium.Evidence{Sensor: f.Flow, Value: t.sensor(f.Flow).value(), Unit: "l/h", Limit: of(share * normal), Expected: of(normal),
		Facts: []aquarium.Fact{num(FactNormal, normal, "l/h"), word(FactOthers, others)}}
	if others != "running" {
		e.HarmIn = of(unaired)
	}
	e.Excluded = append(e.Excluded, t.powered(v)...)
	if back := v.w.mains.back; back != 0 && v.now.Sub(back) < time.Hour {
		e.Facts = append(e.Facts, lasting(FactMains, v.now.Sub(back)))
	}
	if usual, _ := t.pausing(v); usual > 0 {
		e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookStop, Because: lasting(FactUsual, usual)})
	} else {
		e.Excluded = append(e.Excluded, t.usualAt(v, *f)...)
	}
	return e
}

// normal is the flow the i-th filter gives when all is well: the best hour within
// memory, at most what it is rated for; its rating where nothing is remembered.
func (t *tank) normal(i int, at aquarium.Instant) float64 {
	s, rated := t.flows[i], t.config.Equipment.Filters[i].RatedLH
	if s == nil {
		return 0
	}
	best := s.highest(at)
	if rated > 0 && (best == 0 || best > rated || best < rated/3) {
		return rated
	}
	return best
}

// filterOf is which filter's flow that is, -1: none's.
func (t *tank) filterOf(s *series) int { return slices.Index(t.flows, s) }

// stopped reports whether a planned stop of the filter goes on, or should have ended
// less than that long ago. What is planned goes before what is usual.
func stopped(f *aquarium.Filter, c aquarium.Clock, ago time.Duration) bool {
	for _, s := range f.Stops {
		since := (c - s.At + dayMinutes) % dayMinutes
		if time.Duration(since)*time.Minute < s.For+ago {
			return true
		}
	}
	return false
}

func blindFilters(t *aquarium.Tank) string {
	if len(t.Equipment.Filters) == 0 {
		return "no filters under equipment"
	}
	for _, f := range t.Equipment.Filters {
		if t.Sensor(f.Flow) == nil {
			return "no flow sensor on filter " + string(f.ID)
		}
	}
	return ""
}
