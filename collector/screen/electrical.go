package screen

import (
	"math"
	"math/bits"
	"time"

	"lentic/collector/aquarium"
)

// A current that leaks into the water, or a ground shared with a pump, moves an
// electrode at the very moment it is switched, and back. The machine's own work
// on the water takes minutes, so only a step that is done within a reading or two
// counts, and only if it came with the last turns, both ways.

// maxLoads bounds the switches that are looked at, in the order of the
// configuration.
const maxLoads = 8

// Effect is what one load does to one sensor.
type Effect struct {
	On    uint8   `json:"on,omitempty"` // did it step with the last turns on? The newest lowest
	Off   uint8   `json:"off,omitempty"`
	Step  float64 `json:"step,omitempty"`  // mean, signed, of turning on
	Known bool    `json:"known,omitempty"` // it steps with this load

	// The turn that is being judged.
	Turned aquarium.Instant `json:"turned,omitempty"` // 0: none
	To     bool             `json:"to,omitempty"`
	Before point            `json:"before,omitzero"`
	First  point            `json:"first,omitzero"` // the first reading after; At 0: not yet
}

// recent is how many turns each way are looked at, and agreed how many of them
// must have stepped by about the same amount. A step as large as counts comes by
// chance in one turn of a hundred; three of five, both ways, then come once in
// 10^10 turns.
const (
	before  = 8                // readings of a sensor that are kept for what was before a turn
	spaced  = 10 * time.Second // at least so far apart
	recent  = 5
	agreed  = 3
	parted  = 1 // no more than so many of the last: it has been mended
	outside = 3 // times the usual step is a step
	// quick is the longest stretch in which a step and the water's own work
	// can be told apart. What the CO2 valve does may be at the electrode
	// within the minute, and a pH that is not judged while it is open is
	// dangerous: there a step must be quicker than any gas.
	quick      = 3 * time.Minute
	quickValve = 30 * time.Second
)

// turn follows a load and begins to judge its turns.
func (s *Screen) turn(i int, v Reading) {
	x := &s.sensors[i]
	last, lastAt := x.Last, x.LastAt
	x.Last, x.LastAt = v.Value, v.At
	k := s.plans[i].load
	if k < 0 || lastAt == 0 || last == v.Value {
		return
	}
	for j := range s.plans {
		if !s.plans[j].water {
			continue
		}
		w, e := &s.sensors[j], &s.effects[s.plans[j].row+k]
		*e = Effect{On: e.On, Off: e.Off, Step: e.Step, Known: e.Known, To: v.Value != 0}
		// The turn lies between the switch's last two readings; one that
		// reports on change reports at once.
		cut := lastAt
		if s.plans[i].prompt {
			cut = max(lastAt, v.At.Add(-w.pace()))
		}
		for _, b := range w.Before {
			if b.At != 0 && b.At <= cut {
				e.Before, e.Turned = b, v.At
				break
			}
		}
	}
}

// offset is what the loads that are on add to a sensor, and whether any does. It
// also judges the turns that the reading tells of.
func (s *Screen) offset(i int, v *Reading) (by float64, on bool) {
	p, x := &s.plans[i], &s.sensors[i]
	for k, l := range s.loads {
		if e := &s.effects[p.row+k]; e.Turned != 0 && v.At >= e.Turned {
			longest := quick
			if l == s.valve {
				longest = quickValve
			}
			e.judge(p, x, point{v.At, v.Value}, longest)
		}
	}
	if v.At.Sub(x.Before[0].At) >= spaced {
		copy(x.Before[1:], x.Before[:])
		x.Before[0] = point{v.At, v.Value}
	}
	return s.added(i, v.At)
}

// added is what the loads that are on add to a sensor: what the strongest of them
// does, for two that turn together look alike. A load that was on when its switch
// fell silent is not on for ever.
func (s *Screen) added(i int, at aquarium.Instant) (by float64, on bool) {
	for k, l := range s.loads {
		e := &s.effects[s.plans[i].row+k]
		if !e.Known || s.sensors[l].Last != 1 {
			continue
		}
		if x := &s.sensors[l]; s.plans[l].prompt || at.Sub(x.Heard) <= max(fresh, 3*x.pace()) {
			if on = true; math.Abs(e.Step) > math.Abs(by) {
				by = e.Step
			}
		}
	}
	return by, on
}

// Stepping is the load that a sensor steps with, and by how much in the sensor's
// unit when it is turned on: what its Electrical readings are off by. Of several
// it is the one that moves it most; false: it steps with none, as far as known.
func (s *Screen) Stepping(id aquarium.SensorID) (load aquarium.SensorID, by float64, ok bool) {
	i := s.Index(id)
	if i < 0 || !s.plans[i].water {
		return "", 0, false
	}
	for k, l := range s.loads {
		if e := s.effects[s.plans[i].row+k]; e.Known && math.Abs(e.Step) > math.Abs(by) {
			load, by, ok = s.keys[l].Sensor, e.Step, true
		}
	}
	return load, by, ok
}

// judge takes the first reading after a turn, and on a later one says whether the
// first was a step: a slope goes on.
func (e *Effect) judge(p *plan, x *Sensor, now point, longest time.Duration) {
	if e.First.At == 0 {
		if e.First = now; now.At.Sub(e.Before.At) > longest {
			e.Turned = 0
		}
		return
	}
	if now.At.Sub(e.First.At) < e.First.At.Sub(e.Before.At)/2 {
		return // too soon to tell a slope from noise
	}
	e.Turned = 0
	if now.At.Sub(e.First.At) > longest {
		return
	}
	step := e.First.V - e.Before.V
	slope := (now.V - e.First.V) * float64(e.First.At-e.Before.At) / float64(now.At-e.First.At)
	least := max(p.least/2, outside*max(x.Usual.Mean, x.Away.Noise), 2.5*x.Usual.Grain)
	stepped := math.Abs(step) >= least && math.Abs(step-slope) >= least
	if !e.To {
		step = -step
	}
	e.take(step, stepped)
}

// take notes a turn: by how much, counted as of turning on, and whether it is a
// step at all. One by another amount is none of this load's.
func (e *Effect) take(step float64, stepped bool) {
	if stepped && e.Step != 0 && math.Abs(step-e.Step) > math.Abs(e.Step)/2 {
		stepped = false
		if !e.Known {
			e.Step = step // perhaps this is the amount
		}
	}
	history := &e.Off
	if e.To {
		history = &e.On
	}
	*history = *history << 1 & (1<<recent - 1)
	if stepped {
		*history |= 1
		if e.Step == 0 {
			e.Step = step
		}
		e.Step += (step - e.Step) / 8
	}
	on, off := bits.OnesCount8(e.On), bits.OnesCount8(e.Off)
	if e.Known {
		e.Known = on > parted && off > parted
	} else {
		e.Known = on >= agreed && off >= agreed
	}
}
