package detect

import (
	"lentic/collector/aquarium"
)

// Silence is not normal: an alarm whose readings have stopped stands as it is,
// and what it says is the last that was known. That wakes nobody by itself, for
// the silence has an alarm of its own.

// listen follows whether what a standing alarm rests on has fallen silent: all
// of it, for as long as a sensor may say nothing, or with its whole site. Only
// readings end that, not that lentic was away meanwhile.
func (v *view) listen(s *state) {
	if !s.stands {
		s.silent = false
		return
	}
	deaf, from := v.deaf()
	if s.silent {
		from = v.w.began
	} else if deaf {
		return
	}
	sources := v.sources(s)
	s.silent = len(sources) > 0
	for _, x := range sources {
		newest := x.newest()
		if doubts(s.id.Cause) {
			newest = x.heard // it is the readings that are not right
		}
		s.silent = s.silent && v.quiet(x, newest, from)
	}
}

// quiet reports whether nothing that counts has come from a sensor for too long;
// that was not listened for before from. One that was never heard within memory
// is as silent as any.
func (v *view) quiet(x *series, newest, from aquarium.Instant) bool {
	if v.w.standing(aquarium.SiteSilent) {
		return true
	}
	limit := x.patience()
	if x.heard == 0 {
		limit = max(limit, silentLeast)
	}
	return limit > 0 && v.now.Sub(max(newest, from)) >= limit
}

// sources are the sensors that an alarm's evidence rests on. What is about
// silence itself, or about lentic's gateway, rests on none. They are given until the
// next call.
func (v *view) sources(s *state) []*series {
	switch s.id.Cause {
	case aquarium.SensorSilent:
		return nil
	case aquarium.PowerLost:
		return v.w.mainsAll
	}
	if x := v.w.series(aquarium.SensorKey{Site: s.id.Site, Tank: s.id.Tank, Sensor: s.last.evidence.Sensor}); x != nil {
		v.source[0] = x
		return v.source[:]
	}
	return nil
}

// isLastKnown reports whether what an alarm would say now is from before.
func (s *state) isLastKnown() bool { return s.silent || s.last.evidence.LastKnown }

// doubts reports whether a cause is about readings that are not right.
func doubts(c aquarium.Cause) bool {
	return c == aquarium.SensorStuck || c == aquarium.SensorImplausible || c == aquarium.UnitSuspect
}
