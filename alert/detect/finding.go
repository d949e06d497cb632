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
	// worse is a measure that grows as things get worse: an alarm whose
	// measure has grown by step since it was last told has got worse. A
	// zero step means that it never does.
	worse, step float64
	projected   aquarium.Instant // the day something is expected, where one is
	beyond      bool             // a visit that is only guessed at does not explain it
	// prove, where there is one, makes the evidence. Most ticks need none, and
	// it is not kept, so that it costs no memory.
	prove func() aquarium.Evidence
}

// said is what of a finding is kept.
type said struct {
	priority    aquarium.Priority
	worse, step float64
	projected   aquarium.Instant
	beyond      bool
	evidence    aquarium.Evidence
}

// state is one identity between ticks: what the readings say of it, and what
// the world has been told, which nothing takes back.
type state struct {
	id aquarium.Identity
	verdict
	since     aquarium.Instant // when what stands began
	shown     shown
	priority  aquarium.Priority
	told      float64          // worse, as of the last time it was told
	lastKnown bool             // said of its evidence
	pageOnly  bool             // shown and told to nobody
	ended     aquarium.Instant // when its return was told; 0: never
}

// verdict is what the readings so far say of an identity.
type verdict struct {
	trueFrom aquarium.Instant // 0: not true
	falseAt  aquarium.Instant // 0: not false since it stood
	stands   bool             // after its delays
	last     said
	seen     aquarium.Instant // the last tick the cause said anything
	silent   bool             // what it rests on has fallen silent
	over     aquarium.Instant // when it last ceased to stand; 0: never
	returns  bool             // it stood again soon after that
}

// What is so again within a quarter of an hour of when it was over was not over: it then
// is once it has not been so for half an hour. A keeper is called once to what comes and
// goes, and not each time. Common practice, no source.
const (
	returnsWithin = 15 * time.Minute
	returnsOver   = 30 * time.Minute
)

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
	var e aquarium.Evidence
	if f.prove != nil && (f.true || s.stands || s.shown != nothing) {
		e = f.prove()
	}
	s.last, s.seen = said{f.priority, f.worse, f.step, f.projected, f.beyond, e}, t
	if f.true {
		s.falseAt = 0
		if s.trueFrom == 0 {
			s.trueFrom = t
			if f.since != 0 {
				s.trueFrom = f.since
			}
		}
		if !s.stands && t.Sub(s.trueFrom) >= f.on {
			s.stands, s.returns = true, s.over != 0 && t.Sub(s.over) < returnsWithin
			if s.shown == nothing {
				s.since = s.trueFrom
			}
		}
		return
	}
	s.trueFrom = 0
	if s.falseAt == 0 {
		s.falseAt = t
	}
	off := f.off
	if s.returns {
		off = max(off, returnsOver)
	}
	if s.stands && t.Sub(s.falseAt) >= off {
		s.stands, s.over = false, t
	}
}

// toldBy is the measure as of when an alarm was last told, from its evidence.
// Where that has none, the present one counts as told; and until there is one,
// nothing gets worse.
func (s *state) toldBy(e aquarium.Evidence) float64 {
	if f, ok := e.Fact(FactTold); ok {
		return f.Value
	}
	if s.seen != 0 {
		return s.last.worse
	}
	return math.Inf(1)
}

// staysTrue is how long what was told to be over, for a visit explains it, is taken to
// be true still by a cause that cannot tell.
const staysTrue = 10 * time.Minute

// unsure is weigh for a tick at which the cause could not tell. What a visit explains
// is not told again after it by what was read before it: the cause begins anew.
func (s *state) unsure(t aquarium.Instant) {
	if !s.returns { // a cause that looks now and then would never see it over
		s.falseAt = 0
	}
	if s.stands && s.shown != raised && s.ended != 0 && s.ended >= s.since && t.Sub(s.seen) >= staysTrue {
		s.stands = false
	}
	if !s.stands {
		s.trueFrom = 0
	}
}
