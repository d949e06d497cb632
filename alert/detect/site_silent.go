package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Twenty minutes for a whole site, two hours until that is urgent by itself.
const (
	siteSilentFor = 20 * time.Minute
	siteUrgentFor = 2 * time.Hour
	// siteQuiet is when a site as a whole has gone quiet: a sensor's own
	// silence says nothing then, until the site is heard again.
	siteQuiet  = 3 * time.Minute
	quietShare = 4 // ... and at least that part of what the site is given
)

// siteSilentIs is how urgent that is by itself.
var siteSilentIs = aquarium.SiteSilent.Priority()

// siteSilent: nothing at all from a site. It is urgent after two hours, or at
// once while a high alarm stands there, for then nobody sees how that goes on.
func siteSilent(v *view) {
	deaf, since := v.deaf()
	if deaf || v.w.heard == 0 {
		return
	}
	quiet := v.now.Sub(max(v.w.heard, since))
	if quiet < siteSilentFor-silentAhead && v.unheard(aquarium.SiteSilent, "", "") {
		return // as nearly always
	}
	f := finding{true: quiet >= v.w.sitePatience()-silentAhead, priority: siteSilentIs, prove: func() aquarium.Evidence {
		return aquarium.Evidence{Facts: []aquarium.Fact{lasting(FactSilent, v.now.Sub(v.w.heard))}}
	}}
	if quiet >= siteUrgentFor || v.w.urgent() {
		f.priority = aquarium.High
	}
	v.find(aquarium.SiteSilent, "", f)
}

// sitePatience is twenty minutes, or three intervals of the sensor that reports
// most often where that is longer.
func (w *Watch) sitePatience() time.Duration {
	var shortest time.Duration
	for _, t := range w.tanks {
		for _, s := range t.order {
			if i := s.interval(); i > 0 && (shortest == 0 || i < shortest) {
				shortest = i
			}
		}
	}
	return max(siteSilentFor, 3*shortest)
}

// lull is how long a site may be quiet as a whole without having been away: where all
// tell their changes only, until the first of them should have told the same again.
func (w *Watch) lull() time.Duration {
	var refresh time.Duration
	lull := max(siteQuiet, w.sitePatience()/quietShare)
	for _, t := range w.tanks {
		for _, s := range t.order {
			switch {
			case s.heard == 0:
			case !s.config.OnChange:
				return lull
			case refresh == 0 || s.config.Refresh < refresh:
				refresh = s.config.Refresh
			}
		}
	}
	return max(lull, refresh)
}

// urgent reports whether a high alarm stands at the site.
func (w *Watch) urgent() bool {
	for _, s := range w.order {
		if s.stands && s.shown == raised && s.priority == aquarium.High && s.id.Cause != aquarium.SiteSilent {
			return true
		}
	}
	return false
}
