package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A top-off line that is nearly blocked holds the level at the lower end of its band,
// and lifts it in hours where minutes should do: it is never below for long. A pump
// whose switch is known is told by how long it runs. Where none tells, a level that
// came up from there for an hour, steadily and by less than a twentieth of what the
// pump brings, is fed by one that fails; a reading a minute needs some more. Common
// practice, no source.
const (
	dripNear  = 1.0 // mm over the lower end, where it began
	dripShare = 1.0 / 20
	dripLong  = 85 * time.Minute
	dripOn    = 5 * time.Minute // readings that come late may yet say otherwise
)

// dripping asks for less certainty than water that runs in, of a slower rise that takes
// all of the time: 3e-5 by chance, of the two or three looks apart that a level spends near
// its lower end in a day, so once in forty years.
var dripping = proof{sigmas: 4.2, still: 1.6, flicker: 0.5, least: 0.5, whole: true}

// drips reports whether the top-off brings a trickle.
func (t *tank) drips(v *view, s *series, stood bool) bool {
	part, perMM := t.topOff(), t.config.Size.LitresPerMM()
	if _, known := t.on(part.Pump, v.now); known || perMM <= 0 || part.RateLH <= 0 || part.BandMM <= 0 || s.value() > 0 && !stood {
		return false
	}
	for _, d := range [...]time.Duration{failedLong, dripLong} {
		ps := s.window(v.now, d)
		n := len(ps) / 3
		if n < siphonPoints || v.now.Sub(t.vessel.unrest) < d || ps[len(ps)-1].at.Sub(ps[0].at) < d-2*s.interval()-aquarium.Step {
			return false
		}
		first := mean(ps[:n])
		if rose := mean(ps[len(ps)-n:]) - first; stood { // it goes on as long as it comes up so slowly
			return rose > 0 && rose*perMM < dripShare*part.RateLH*d.Hours() && s.value() < part.BandMM/2
		}
		if mean(ps[len(ps)-n:])-first < dripping.least/2 || first > t.lowerEnd()+dripNear {
			continue // as nearly always
		}
		if h, ok := dripping.of(s).climb(s.interval(), 0, ps); ok && h.perHour*perMM < dripShare*part.RateLH {
			return true
		}
	}
	return false
}
