package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A dead heater must be told before the water is 1.5 under its target. Eight
// tenths under it, with the heater on for most of an hour and the water no
// warmer for it, is no swing of a controller, and water that has been changed
// for colder is on its way up by then. Common practice, no source.
const (
	coldUnder   = 0.8  // K under the target
	coldRise    = 0.08 // K within the time that is looked at
	coldSettle  = 45 * time.Minute
	coldUnasked = 30 * time.Minute // the heater told off though it is so cold
	coldOn      = 5 * time.Minute
	coldOff     = 20 * time.Minute
	coldBack    = 0.4
	coldLate    = 1.3              // K under: it is told then, though the water has lately been changed, or stood
	coldFresh   = 30 * time.Minute // ... but for this long after colder water came in: it takes that to show warmth
)

// heaterNotHeating: the water cools though its heater should warm it.
func heaterNotHeating(v *view, t *tank) {
	h := t.config.Equipment.Heater
	if h == nil {
		return
	}
	w, ok := v.warmthOf(t.parts.heated, h.Target)
	if !ok || w.over > -coldUnder && v.unheard(aquarium.HeaterNotHeating, t.config.ID, "heater") || t.disturbed(v, warmAgain) {
		return
	}
	w.ask(v, t.parts.heater)
	is := false
	if v.stands(aquarium.HeaterNotHeating, t.config.ID, "heater") {
		is = w.over < -coldBack
	} else if w.over <= -coldUnder && (w.over <= -coldLate && !t.freshened(v) || !t.changedWithin(v, warmAgain) && !t.stood(v)) {
		is = w.unmoved(v, t, coldRise)
	}
	v.find(aquarium.HeaterNotHeating, t.config.ID, finding{
		equipment: "heater", true: is, on: coldOn, off: coldOff, worse: -w.over, step: warmthStep,
		prove: func() aquarium.Evidence {
			e := w.evidence(v, t, "on", "off")
			e.Excluded = append(e.Excluded, t.powered(v)...)
			return e
		},
	})
}

// freshened reports whether a change lets new water in, or has just done so.
func (t *tank) freshened(v *view) bool {
	at := t.vessel.filled
	return at != 0 && v.now.Sub(at) < coldFresh
}

// stood reports whether no filter has run for longer than for a feeding, until lately:
// somebody changes water then, and water that nothing moves is not as warm everywhere.
func (t *tank) stood(v *view) bool {
	long := t.pauses.long
	return long != 0 && v.now.Sub(long) < warmAgain
}

// unmoved reports whether the water has warmed by less than rise, in K, though it
// is to, or though nobody has asked for it for long enough.
func (w *warmth) unmoved(v *view, t *tank, rise float64) bool {
	if w.known && w.on && w.since < coldSettle || w.known && !w.on && w.since < coldUnasked {
		return false
	}
	return w.moved(v, 1) < rise
}

// moved is by how much the water has become warmer (up 1) or cooler (-1) since it
// was the other way at its most within the hour, in means of ten minutes: the
// drop of a water change is behind it then.
func (w *warmth) moved(v *view, up float64) float64 {
	most := math.Inf(-1)
	now := mean(w.water.window(v.now, meanOver))
	for ago := time.Duration(0); ago <= coldSettle; ago += meanOver / 2 {
		if ps := w.water.window(v.now.Add(-ago), meanOver); len(ps) > 0 {
			most = max(most, up*(now-mean(ps)))
		}
	}
	return most
}

// meanOver takes the resolution out of a temperature.
const meanOver = 10 * time.Minute
