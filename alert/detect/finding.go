package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// finding is what a cause has to say at a tick about one piece of equipment.
// Saying nothing means that it cannot tell: what stands then goes on standing,
// and what does not stand begins anew.
type finding struct {
	equipment aquarium.EquipmentKey
	true      bool
	since     aquarium.Instant // when what is true began, where readings tell; else the first tick
	on, off   time.Duration    // how long it must have been so
	priority  aquarium.Priority
	// worse is a measure that grows as things get worse, the evidence's
	// value or its negative; an alarm whose
	// measure has grown by step since it was last told has got worse. A
	// zero step means that it never does.
	worse, step float64
	evidence    aquarium.Evidence
	// prove, where there is one, makes the evidence: most ticks need none.
	prove func() aquarium.Evidence
}

// state is one identity between ticks.
type state struct {
	id       aquarium.Identity
	trueFrom aquarium.Instant // 0: not true
	falseAt  aquarium.Instant // 0: not false since it stood
	stands   bool             // after its delays
	since    aquarium.Instant // when what stands began
	priority aquarium.Priority
	told     float64 // worse, as of the last time it was told
	last     finding
	seen     aquarium.Instant // the last tick the cause said anything
	shown    shown            // what the world has been told
}

// shown is what was last said of an identity.
type shown uint8

const (
	nothing shown = iota
	raised
	suppressed
	withdrawn // out of service
)

// weigh moves the state by what a cause found at t.
func (s *state) weigh(t aquarium.Instant, f finding) {
	if f.prove != nil && (f.true || s.stands || s.shown != nothing) {
		f.evidence = f.prove()
	}
	s.last, s.seen = f, t
	if f.true {
		s.falseAt = 0
		if s.trueFrom == 0 {
			s.trueFrom = t
			if f.since != 0 {
				s.trueFrom = f.since
			}
		}
		if !s.stands && t.Sub(s.trueFrom) >= f.on {
			s.stands, s.since = true, s.trueFrom
		}
		return
	}
	s.trueFrom = 0
	if s.falseAt == 0 {
		s.falseAt = t
	}
	if s.stands && t.Sub(s.falseAt) >= f.off {
		s.stands = false
	}
}

// falls are the causes that get worse as their value falls.
var falls = map[aquarium.Cause]bool{
	aquarium.CO2ValveStuck: true, aquarium.CO2Overshoot: true, aquarium.PHFalling: true, aquarium.PHLow: true,
	aquarium.TemperatureLow: true,
}

// toldBy is the measure that an alarm's evidence, as of when it was last told,
// stands for. Where that was another number, as an estimate, the present one
// counts as told; and until there is one, nothing gets worse.
func (s *state) toldBy(e aquarium.Evidence) float64 {
	switch {
	case e.Unit == "mg/l" && s.seen != 0:
		return s.last.worse
	case e.Unit == "mg/l":
		return math.Inf(1)
	case falls[s.id.Cause]:
		return -e.Value
	}
	return e.Value
}

// unsure is weigh for a tick at which the cause could not tell.
func (s *state) unsure() {
	s.falseAt = 0
	if !s.stands {
		s.trueFrom = 0
	}
}
